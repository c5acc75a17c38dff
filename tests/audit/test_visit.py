"""The form of a visit: what it asks, in the order of the round, and how it comes back."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path

import pytest
from msgspec.structs import replace

from checker.audit.auditing import Asked, audit
from checker.audit.complaints import complaints
from checker.audit.jobs import NoJob, from_texts, open_job
from checker.audit.papers import JudgedDesign
from checker.audit.visit import deciding, known_records, visit_form
from checker.cli import main
from checker.forms.model import Record
from checker.forms.writing import workbook
from checker.intake import workbooks
from tests.example import DESIGN

READ: Mapping[tuple[str, str], Mapping[str, str]] = {
    ("visit", ""): {
        "on": "2027-01-15",
        "at": "09:30",
        "outside": "-1.5 °C",
        "meter": "heat 10412 kWh",
        "notes": "smells of glycol at the header",
        "job.complaint": "no heat",
        "events.complaint": "2027-01-14",
    },
    ("accuracy", ""): {"accuracy.flow": "5 %"},
    ("rooms", "kitchen"): {
        "rooms.set": "21 °C",
        "rooms.temperature": "65 degF",
        "rooms.notes": "camera: near wall cold",
    },
    ("headers", "H1"): {"headers.supply": "38.5 °C", "headers.return": "33 °C"},
    ("loops", "L1"): {
        "loops.valve": "open a quarter",
        "loops.flow": "1.4 l/min",
        "loops.supply": "38 °C",
        "loops.return": "33.7 °C",
        "loops.surface": "-0.5 °C",
    },
}
"""What somebody writes into the form: by block and record, the answer to each question."""


@pytest.fixture(scope="module")
def paper() -> JudgedDesign:
    return from_texts("job", [("house.yaml", DESIGN.encode())]).current


def _filled(paper: JudgedDesign, block: str = "", name: str = "", **other: str) -> bytes:
    """The form as somebody fills it in; other: answers of one record instead."""
    records = known_records(paper)
    for (section, record), values in READ.items():
        if (section, record) == (block, name):
            values = {key: value for key, value in {**values, **other}.items() if value}
        own = {one.name: one for one in records.get(section, [])}
        own[record] = Record(record, values)
        records[section] = [*own.values()]
    made = io.BytesIO()
    workbook(made, visit_form(paper, "cold-room"), records)
    return made.getvalue()


def _job(folder: Path, form: bytes, name: str = "visit.readings.xlsx") -> str:
    (folder / "house.yaml").write_text(DESIGN, "utf-8")
    (folder / name).write_bytes(form)
    return str(folder)


def test_what_is_filled_in_is_read_as_readings_are(paper: JudgedDesign, tmp_path: Path) -> None:
    found = open_job(_job(tmp_path, _filled(paper))).readings
    (on,) = found.visits
    assert on.isoformat() == "2027-01-15T09:30:00"
    assert found.outside == {on: -1.5}
    assert found.accuracy == replace(found.accuracy, flow=0.05)
    assert found.of("loops.L1", "flow")[on] == pytest.approx(1.4 / 6e4)
    assert found.of("loops.L1", "surface") == {on: -0.5}
    assert found.of("rooms.kitchen", "temperature")[on] == pytest.approx((65 - 32) / 1.8)
    assert found.of("headers.H1", "supply") == {on: 38.5}
    assert {words for _, _, words in found.notes} == {
        "meter heat 10412 kWh",
        "smells of glycol at the header",
        "camera: near wall cold",
        "valve open a quarter",
    }
    assert str(found.events["complaint"]) == "2027-01-14"
    assert found.complaint == "cold-room"
    said = audit(str(tmp_path), Asked("cold-room", "rooms.kitchen"))
    assert said.readings.endswith("visit.readings.xlsx")
    assert any("smells of glycol" in line for line in said.as_read)


def test_visits_of_a_text_and_of_forms_stand_side_by_side(
    paper: JudgedDesign, tmp_path: Path
) -> None:
    path = _job(tmp_path, _filled(paper))
    text = "readings: 1\nvisits:\n- on: 2027-01-20\n  loops: {L1: {flow: 1.5 l/min}}\n"
    (tmp_path / "site.readings.yaml").write_text(text, "utf-8")
    found = open_job(path).readings
    assert [on.day for on in found.visits] == [15, 20]
    assert len(found.of("loops.L1", "flow")) == 2
    (tmp_path / "again.readings.xlsx").write_bytes(_filled(paper))
    with pytest.raises(NoJob, match="2027-01-15 09:30 is in"):
        open_job(path)


@pytest.mark.parametrize(
    ("block", "name", "to", "value", "words"),
    [
        ("loops", "L1", "loops.flow", "much", "Flow"),
        ("loops", "L1", "loops.supply", "20 °C", "warmer than the supply"),
        ("visit", "", "on", "", "'on' is missing"),
        ("loops", "L1", "loops.flow", "90 l/min", "impossible reading"),
    ],
)
def test_a_cell_that_cannot_be_taken_is_told(
    paper: JudgedDesign, tmp_path: Path, block: str, name: str, to: str, value: str, words: str
) -> None:
    form = _filled(paper, block, name, **{to: value})
    with pytest.raises(NoJob) as refused:
        open_job(_job(tmp_path, form))
    assert any(words in one.message for one in refused.value.problems)


def test_another_workbook_is_no_visit(tmp_path: Path) -> None:
    with pytest.raises(NoJob):
        open_job(_job(tmp_path, b"PK nothing"))


def test_the_round_goes_from_rooms_to_header_to_loops(paper: JudgedDesign) -> None:
    form = visit_form(paper)
    assert [page.name for page in form.pages] == ["Visit", "Rooms", "Headers", "Loops"]
    assert [one.name for one in known_records(paper)["loops"]] == [*paper.ids("loops")]


def test_it_says_of_a_reading_what_it_decides(paper: JudgedDesign) -> None:
    known = complaints()
    of_cold = deciding(known, "cold-room")
    titles = {known.causes[name].title for name in known.causes_of("cold-room")}
    assert {one for those in of_cold.values() for one in those} <= titles
    assert known.causes["loop-starved"].title in of_cold["loops.flow"]
    assert known.causes["wrong-fluid"].title in of_cold["headers.glycol"]
    asked = {
        one.to: one for block in visit_form(paper, "cold-room").blocks for one in block.questions
    }
    assert "decides on: " in asked["loops.flow"].note
    assert known.causes["leak-in-loop"].title in deciding(known)["headers.pressure"]


def test_the_command_writes_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    target = tmp_path / "out.xlsx"
    assert main(["audit", str(tmp_path), "--complaint", "no heat", "--visit", str(target)]) == 0
    sheets = workbooks.read(str(target), target.read_bytes()).sheets
    assert [one.name for one in sheets][:4] == ["Visit", "Rooms", "Headers", "Loops"]
    assert main(["audit", str(tmp_path), "--visit", str(tmp_path / "out.pdf")]) == 2
    assert "should end in .xlsx" in capsys.readouterr().err
