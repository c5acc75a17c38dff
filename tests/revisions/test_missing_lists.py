"""Lists and parts of loops that a design lacks: asked by a form, read back, kept by what they are."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import Calling, calling, put
from tests.example import changed
from tests.revisions.filled import Values, filled
from tests.revisions.test_missing import (
    FORM,
    letter,
    open_cells,
    queries,
    register,
    reviewed,
    sheets,
)

__all__ = ["calling"]

PARTS = """  L9:
    header: H1
    port: 3
    pipe: p16
    pattern: counterflow
    length: 60 m
    feeds: 8 m
    parts:
      - {room: kitchen, floor: slab, zone: perimeter, area: 2 m²}
      - {room: bath, floor: slab, zone: occupied, spacing: 150 mm, area: 5 m²}
"""
FIRST, SECOND = PARTS.splitlines(keepends=True)[-2:]
SENT = changed(
    ("region: GB-ENG", "region: GB-ENG, contractor: Sub D Ltd, revision: A"),
    ("    pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}\n", ""),
    ("    readings:\n"
     "      - {at: 0 min, pressure: 4.02 bar, temperature: 17 °C}\n"
     "      - {at: 20 min, pressure: 4.00 bar, temperature: 17 °C}\n", ""),
    ("pressure_tests:", PARTS + "pressure_tests:"),
)  # fmt: skip


def at(sheet: str, title: str, row: int, file: str = FORM) -> str:
    """The address under a title of the form, rows counted from 1 below the units."""
    rows = sheets(file)[sheet]
    head = next(number for number, own in enumerate(rows) if title in own)
    return f"{chr(65 + rows[head].index(title))}{head + 2 + row}"


def curve(*points: tuple[float | str, float | str]) -> dict[str, float | str]:
    """The cells of a curve."""
    found: dict[str, float | str] = {}
    for row, point in enumerate(points, 1):
        for title, value in zip(("Flow", "Head"), point, strict=True):
            if value != "":
                found[at("Pump curves", title, row)] = value
    return found


def given() -> dict[tuple[str, str], str]:
    return {
        (g["subject"], g["field"]): g["text"] for g in register()["given"] if not g.get("ended")
    }


def states() -> dict[tuple[str, str], str]:
    """The state of each place of what is missing."""
    return {
        (place["subject"], point["about"]): place["state"]
        for point in register()["points"]
        if point["kind"] == "datum"
        for place in point["places"]
    }


@pytest.fixture(name="form")
def form_of_first_round(call: Calling) -> bytes:
    put("in/a.yaml", SENT)
    assert reviewed(call).status == 0
    return Path(FORM).read_bytes()


def back(call: Calling, form: bytes, values: Values, day: str = "2026-03-27") -> None:
    put("in/back.xlsx", filled(form, values))
    assert reviewed(call, day).status == 0


def test_lists_have_rows_of_their_own_and_parts_name_what_is_known(form: bytes) -> None:
    told = sheets(FORM)
    assert told["Pump curves"][3:7] == [
        ["Header", "Point", "Flow", "Head"], ["", "", "l/min", "kPa"],
        ["H1", 1.0, "", ""], ["H1", 2.0, "", ""],
    ]  # fmt: skip
    assert told["Readings of tests"][3] == ["Test", "Reading", "At", "Pressure", "Temperature"]
    # Of the part only the spacing is open, and the part that lacks nothing is not there.
    assert told["Parts of loops"][3:] == [
        ["Loop", "Part", "Room", "Floor", "Zone", "Spacing", "Area"],
        ["", "", "", "", "", "mm", "m²"],
        ["L9", 1.0, "kitchen", "slab", "perimeter", "", 2.0],
    ]
    free = open_cells(FORM)
    assert {one for one in free if one.startswith("Parts")} == {
        "Parts of loops F5",  # and its unit
        "Parts of loops F6",
    }
    assert {f"Pump curves {column}{row}" for column in "CD" for row in range(5, 14)} == {
        one for one in free if one.startswith("Pump")
    }
    # The letter names it as the form does, and says that nothing is left out.
    assert "part 1 of loop L9" in letter()
    assert "pump, curve" in letter()
    assert "has a cell for each of them" in letter()


def test_a_curve_readings_and_a_part_come_back_into_register_and_design(
    call: Calling, form: bytes
) -> None:
    readings = {
        at("Readings of tests", title, row): value
        for row, own in enumerate(((0, 4.02), (20, 4.0)), 1)
        for title, value in zip(("At", "Pressure"), own, strict=True)
    }
    values: Values = {
        "Pump curves": curve((0, 60), (20, 45), ("2400 l/h", 10)),
        "Readings of tests": readings,
        "Parts of loops": {at("Parts of loops", "Spacing", 1): 100},
    }
    back(call, form, values)
    assert given() == {
        ("headers.H1", "pump.curve"): "[[0 l/min, 60 kPa], [20 l/min, 45 kPa], [2400 l/h, 10 kPa]]",
        ("pressure_tests.first", "readings"):
            '[{at: 0 min, pressure: 4.02 bar}, {at: 20 min, pressure: 4 bar}]',
        ("loops.L9", "parts[1].spacing"): "100 mm",
    }  # fmt: skip
    now = states()
    assert now["headers.H1", "pump.curve"] == now["loops.L9.parts[1]", "spacing"] == "answered"
    told = letter()
    assert "Taken from your forms" in told
    assert "pump, curve (H1)" in told
    steps = json.dumps([p["steps"] for p in register()["points"] if p["about"] == "pump.curve"])
    assert "[[0 l/min, 60 kPa]" in steps
    # The same once more changes nothing.
    before = Path("register.json").read_bytes()
    assert reviewed(call, "2026-04-01").status == 0
    assert Path("register.json").read_bytes() == before


def test_a_part_is_followed_by_what_it_is_and_a_stated_list_counts(
    call: Calling, form: bytes
) -> None:
    values: Values = {
        "Pump curves": curve((0, 60), (40, 10)),
        "Parts of loops": {at("Parts of loops", "Spacing", 1): 100},
    }
    back(call, form, values)
    # The loop goes by another name, and its parts stand the other way round.
    turned = SENT.replace(FIRST + SECOND, SECOND + FIRST).replace("  L9:", "  K9:")
    put("in/a.yaml", changed(("revision: A", "revision: B"), text=turned))
    assert reviewed(call, "2026-04-01").status == 0
    assert given()["loops.K9", "parts[2].spacing"] == "100 mm"
    assert "asked" not in [state for (_, about), state in states().items() if about == "spacing"]
    # A part that is another by now is asked about again, and a curve that is stated counts.
    other = FIRST.replace("kitchen", "bath").replace("2 m²", "3 m²")
    stated = turned.replace(FIRST, other).replace(
        "own_loss: 8 kPa",
        "own_loss: 8 kPa\n    pump: {curve: [[0 l/min, 50 kPa], [40 l/min, 10 kPa]]}",
    )
    put("in/a.yaml", changed(("revision: A", "revision: C"), text=stated))
    assert reviewed(call, "2026-04-10").status == 0
    assert given() == {}
    assert states()["loops.K9.parts[2]", "spacing"] == "asked"
    assert "which of the parts of revision C that is cannot be said" in queries()
    assert "form 1 said '[[0 l/min, 60 kPa], [40 l/min, 10 kPa]]', revision C says" in queries()


def test_a_late_form_does_not_answer_for_another_part(call: Calling, form: bytes) -> None:
    turned = SENT.replace(FIRST + SECOND, SECOND + FIRST)
    put("in/a.yaml", changed(("revision: A", "revision: B"), text=turned))
    assert reviewed(call, "2026-03-25").status == 0
    back(call, form, {"Parts of loops": {at("Parts of loops", "Spacing", 1): 100}})
    assert given() == {}
    assert "part 1 of loop L9 may be another by now" in letter()
    assert states()["loops.L9.parts[2]", "spacing"] == "asked"


@pytest.mark.parametrize(
    ("points", "said"),
    [
        (((0, 60), (20, "")), "row 7: 'Head' is not stated"),
        (((0, 60), (20, "abc"), (40, 10)), "Pump curves D7: 'abc' is not a number"),
        ((("", 60), (20, 45), (40, 10)), "row 6: 'Flow' is not stated"),
    ],
)
def test_a_list_that_is_not_whole_or_cannot_be_counts_for_nothing_and_is_told(
    call: Calling, form: bytes, points: Any, said: str
) -> None:
    strip = {at("Parts of loops", "Spacing", 1): 100}
    back(call, form, {"Pump curves": curve(*points), "Parts of loops": strip})
    assert given() == {("loops.L9", "parts[1].spacing"): "100 mm"}
    assert states()["headers.H1", "pump.curve"] == "asked"
    assert said in letter() + queries()


def test_two_forms_with_other_curves_count_for_nothing(call: Calling, form: bytes) -> None:
    put("in/1.xlsx", filled(form, {"Pump curves": curve((0, 60), (40, 10))}))
    put("in/2.xlsx", filled(form, {"Pump curves": curve((0, 60), (20, 45), (40, 10))}))
    assert reviewed(call, "2026-03-27").status == 0
    assert given() == {}
    assert "two forms differ about the pump, curve of header H1" in queries()


def test_cells_beside_a_list_are_told(call: Calling, form: bytes) -> None:
    text = filled(form, {"Pump curves": curve((0, 60), (40, 10))})
    put("in/back.xlsx", _with_row(text))
    assert reviewed(call, "2026-03-27").status == 0
    assert given() == {}  # a point without its header could belong to any
    assert "has no name, but 'Flow' is '50'" in letter()


def _with_row(form: bytes) -> bytes:
    """The form with a further row under the curve: a point without a header."""
    import io
    import re
    import zipfile

    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(form)) as before, zipfile.ZipFile(made, "w") as after:
        names = re.findall(r'<sheet name="([^"]+)"', before.read("xl/workbook.xml").decode())
        file = f"xl/worksheets/sheet{names.index('Pump curves') + 1}.xml"
        for item in before.namelist():
            data = before.read(item)
            if item == file:
                row = (
                    '<row r="40"><c r="C40"><v>50</v></c><c r="D40"><v>5</v></c></row></sheetData>'
                )
                data = data.replace(b"</sheetData>", row.encode())
            after.writestr(item, data)
    return made.getvalue()
