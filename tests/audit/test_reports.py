"""The audit as a command: text, JSON and a page, for a person who types it."""

from __future__ import annotations

import json
import re
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from checker.audit import jobs
from checker.audit.auditing import Asked, audit
from checker.audit.complaints import complaints
from checker.audit.on_site import Site
from checker.audit.ranking import AGAINST, NOTHING_FOR
from checker.audit.records import encoded
from checker.cli import main
from tests.audit.audit_schema import FILE, schema
from tests.cli.calling import prescreed
from tests.example import DESIGN, changed

JOBS = Path(__file__).parents[2] / "example_designs" / "past_jobs"
COLD = str(JOBS / "lantern-way-2-cold-bathroom")
CALL = [
    "audit",
    COLD,
    "--complaint",
    "cold-room",
    "--subject",
    "rooms.bath",
    "--today",
    "2026-11-25",
]


def _printed(capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> str:
    assert main([*CALL, *words]) == status
    return capsys.readouterr().out


@pytest.fixture(scope="module")
def siblings() -> dict[str, str]:
    """The audit with its siblings in each format, as the command prints it 80 columns wide."""
    words = (*CALL, "--siblings", "--format")
    return {form: prescreed(*words, form, COLUMNS="80").stdout for form in ("text", "json", "html")}


def test_the_text_tells_the_whole_story(siblings: dict[str, str]) -> None:
    text = siblings["text"]
    order = [
        text.index(heading)
        for heading in (
            "TIMELINE",
            "IN SHORT",
            "CAUSES, by evidence",
            "NEXT",
            "WHAT THE READINGS SAY",
            "DESIGNED, LAID, MEASURED",
            "BY THE RULES OF 2021-05-10 AND OF 2026-11-25",
            "OTHER JOBS THAT MAY SHARE IT",
            "NOT KNOWN",
            "SOURCES",
            "CAUTION",
        )
    ]
    assert order == sorted(order)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "4 other jobs under" in text
    assert re.search(r"loops\.L1 covering\.resistance: 0\.1\d+ m²·K/W", text)


def _tier(cause: dict[str, Any]) -> int:
    """0 where evidence speaks for a cause, 2 where it speaks against it and hardly for, else 1."""
    if cause["support"] not in (NOTHING_FOR, AGAINST):
        return 0
    best = max((piece["points"] for piece in cause["speaks_for"]), default=0.0)
    return 2 if cause["support"] == AGAINST and best < 1 else 1


def test_the_json_is_one_numbered_object(siblings: dict[str, str]) -> None:
    found = json.loads(siblings["json"])
    written = json.loads(FILE.read_text("utf-8"))
    Draft202012Validator.check_schema(written)
    Draft202012Validator(written).validate(found)
    assert found["audit"] == 1
    assert found["causes"][0]["id"] == "covering-too-resistive"
    order = [(_tier(cause), -cause["points"]) for cause in found["causes"]]
    assert order == sorted(order)
    assert [event["name"] for event in found["timeline"]] == [
        "designed",
        "laid",
        "tested",
        "screeded",
        "heated up",
        "handed over",
        "complaint",
    ]
    assert found["timeline"][6]["on"] == "2023-01-12"


def test_the_schema_is_that_of_the_types() -> None:
    assert FILE.read_text("utf-8") == schema()


def test_the_same_call_gives_the_same_bytes(siblings: dict[str, str]) -> None:
    for form, first in siblings.items():
        assert prescreed(*CALL, "--siblings", "--format", form, COLUMNS="80").stdout == first


def test_the_page_stands_alone(siblings: dict[str, str]) -> None:
    page = siblings["html"]
    assert not re.findall(r"(?:src|href)=\"(?!data:)", page)
    assert "<script" not in page
    assert page.count("<svg") >= 5
    for heading in ("What happened when", "What is not known", "Sources", "Cautions"):
        assert heading in page


def test_what_was_typed_is_text_on_the_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name = "<script>alert(1)</script>"
    text = changed(
        ("Test House", f'"{name}"'),
        ("  L1:", '  "<b>&L1":'),
        ("balance: {L1", 'balance: {"<b>&L1"'),
    )
    (tmp_path / "house.yaml").write_text(text, "utf-8")
    assert main(["audit", str(tmp_path), "--complaint", "cold-room", "--format", "html"]) == 0
    page = capsys.readouterr().out
    assert "<script" not in page
    assert "<b>" not in page
    assert "&lt;script&gt;" in page
    assert "&lt;b&gt;&amp;L1" in page


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--complaint", "cold-rom"], "there is no 'cold-rom'; did you mean 'cold-room'?"),
        (["--subject", "rooms.bat"], "the job has no 'rooms.bat'; did you mean 'rooms.bath'?"),
        (["--output", "/no/such/folder/x.html"], "cannot be written"),
        (["--codes", "EN-1265"], "there is no code 'EN-1265'; did you mean 'EN-1264'?"),
    ],
)
def test_a_call_that_cannot_be_carried_out_says_why(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*CALL, *words]) == 2
    assert says in capsys.readouterr().err


def test_a_folder_without_a_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["audit", str(tmp_path)]) == 2
    assert "There is no design under this folder" in capsys.readouterr().err
    assert main(["audit", str(tmp_path / "none")]) == 2
    assert "There is no such file or folder." in capsys.readouterr().err


def test_without_a_complaint_the_job_is_laid_open(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    assert main(["audit", str(tmp_path), "--today", "2026-11-25"]) == 0
    text = capsys.readouterr().out
    assert "CAUSES" not in text
    assert "TIMELINE" in text
    assert "Nothing was read on site" in text


def test_the_complaints_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["audit", "--complaints"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 10
    assert lines[0].startswith("cold-room")


def test_no_cause_supported_means_no_siblings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    says = "No other jobs were looked for: no cause is supported."
    call = ["audit", str(tmp_path), "--complaint", "slow-room", "--siblings"]
    for form in ("text", "html"):
        assert main([*call, "--format", form]) == 0
        assert says in capsys.readouterr().out


def test_an_archive_that_is_not_there_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*CALL, "--siblings", "--archive", "/no/such/folder"]) == 2
    assert "there is no folder '/no/such/folder'" in capsys.readouterr().err


def test_days_out_of_order_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    days = "readings: 1\nevents: {handed_over: 2026-09-30, complaint: 2025-01-14}\n"
    (tmp_path / "a.readings.yaml").write_text(days, "utf-8")
    says = "complaint 2025-01-14 is before handed over 2026-09-30"
    assert main(["audit", str(tmp_path)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert text.count(says) == 2
    assert says in text[text.index("NOT KNOWN") :]
    assert main(["audit", str(tmp_path), "--format", "html"]) == 0
    assert capsys.readouterr().out.count(says) == 2


def test_nothing_of_a_sibling_is_folded_on_paper(siblings: dict[str, str]) -> None:
    page = siblings["html"]
    table = page[page.index("What its papers show") : page.index("What is not known")]
    assert "<details" not in table
    assert table.count("Alike in: ") == table.count('class="sibling"') > 0
    assert "Designer, contractor" in page


def test_what_was_noted_and_how_well_it_was_read_is_told(
    capsys: pytest.CaptureFixture[str],
) -> None:
    job = str(JOBS / "quarry-side-4-falling-gauge")
    assert main(["audit", job, "--complaint", "leak"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    off = "flow ±10 %, temperature ±0.5 K, surface ±1 K, pressure ±1 kPa, content ±3 %."
    how = "not declared; common practice, no source"
    assert f"- Instruments, two standard deviations, {how}: {off}" in text
    # Every reading of every visit stands there, with its place.
    assert "headers.H1: pressure 1.3 bar ±0.01 bar, temperature 22 °C ±0.5 K [site" in text
    assert "readings.yaml:" in text
    assert "2024-10-10 09:00, design: header shut off at its valves, pump off, floor warm" in text


def test_the_paper_names_its_files_by_digest_its_visits_and_what_it_speaks_against(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = JOBS / "quarry-side-4-falling-gauge"
    found = audit(str(job), Asked("pressure-falling", "headers.H1"))
    files = sorted(job.rglob("*.yaml"))
    digests = [f"sha256:{sha256(one.read_bytes()).hexdigest()}" for one in files]
    assert sorted(one.digest for one in found.inputs) == sorted(digests)
    assert found.every_reading[-1].subject == "headers.H1"
    visits = {one.visit for one in found.every_reading}
    assert {"2024-10-10 09:00", "2024-10-10 10:00"} <= visits
    against = [one.title for one in found.causes if one.support == AGAINST and one.against]
    assert [line.split(", by ")[0] for line in found.spoken_against] == against
    for form in ("text", "html"):
        assert main(["audit", str(job), "--complaint", "leak", "--format", form]) == 0
        told = "".join(capsys.readouterr().out.split())
        assert all(digest in told for digest in digests)


@pytest.mark.long
@pytest.mark.parametrize("job", sorted(p.name for p in JOBS.iterdir() if p.is_dir()))
def test_every_example_under_every_complaint_is_by_the_schema(
    job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The job is opened, and its readings solved, once for all complaints."""
    monkeypatch.setattr(jobs, "open_job", cache(jobs.open_job))
    monkeypatch.setattr("checker.audit.auditing.Site", cache(Site))
    written = Draft202012Validator(json.loads(FILE.read_text("utf-8")))
    for complaint in complaints().trouble:
        found = audit(str(JOBS / job), Asked(complaint, "design"))
        written.validate(json.loads(encoded(found)))


@pytest.mark.parametrize("accuracy", ["", "accuracy: {flow: 0.1 %, temperature: 0.01 K}\n"])
@pytest.mark.parametrize(
    "own",
    [
        # A covering inferred so little above the stated one that its sign is there in part.
        "flow: 1.7 l/min, supply: 45 °C, return: 36.4 °C",
        "flow: 1.7 l/min, supply: 45 °C, return: 36.8 °C, surface: 26 °C, surface_max: 31 °C",
        "flow: 1.7 l/min, supply: 45 °C, return: 44.9 °C, pressure_drop: 0 kPa, content: 0.1 l",
        "flow: 0 l/min, supply: 40 °C, return: 20 °C",
        "flow: 0.01 l/min, supply: 20 °C, return: -3 °C",
        "flow: 9 l/min, supply: 110 °C, return: 109 °C, pressure_drop: 500 kPa",
    ],
)
def test_odd_readings_are_by_the_schema(tmp_path: Path, own: str, accuracy: str) -> None:
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    text = f"readings: 1\n{accuracy}visits:\n- {{on: 2027-01-15, outside: 3 °C, loops: {{L1: {{{own}}}}}}}\n"
    (tmp_path / "a.readings.yaml").write_text(text, "utf-8")
    found = audit(str(tmp_path), Asked("cold-room"))
    Draft202012Validator(json.loads(FILE.read_text("utf-8"))).validate(json.loads(encoded(found)))
