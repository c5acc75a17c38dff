"""What is missing goes out as a form, and comes back into register and design."""

from __future__ import annotations

import json
import re
import zipfile
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from python_calamine import CalamineWorkbook

from checker.reading import cells, yaml_reader
from tests.cli.calling import Calling, Done, calling, put
from tests.example import changed
from tests.intake.workbooks import FOLDER
from tests.revisions.filled import Values, filled
from tests.revisions.register_schema import schema

__all__ = ["calling"]

SENT = changed(
    ("region: GB-ENG", "region: GB-ENG, contractor: Sub D Ltd, revision: A"),
    ("stage: installed", "stage: design"),
    ("  drop: 7 K\n", ""),
    (" wall_gap: 100 mm, joints: 0}\n  L2", " joints: 0}\n  L2"),
    ("    edge_strip: 8 mm\n", ""),
    ("balance: {L1: {flow: 1.5 l/min}}\n", ""),
)
FORM = "out/sub-d-ltd-missing.xlsx"


def reviewed(call: Calling, day: str = "2026-03-20", *paths: str) -> Done:
    words = ("--register", "register.json", "--output", "out", "--today", day)
    return call("review", *(paths or ("in",)), *words)


def register() -> Any:
    found = json.loads(Path("register.json").read_text("utf-8"))
    Draft202012Validator(schema()).validate(found)
    return found


def state(about: str) -> str:
    (one,) = [p for p in register()["points"] if (p["about"], p["kind"]) == (about, "datum")]
    return str(one["state"])


def letter() -> str:
    return Path("out/sub-d-ltd.md").read_text("utf-8").replace("\\", "")


def queries() -> str:
    return "\n".join(one["about"] for one in register()["queries"])


def sheets(file: str) -> dict[str, list[list[Any]]]:
    book = CalamineWorkbook.from_path(file)
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def cell(file: str, sheet: str, title: str, record: str = "") -> str:
    """The address of an answer."""
    rows = sheets(file)[sheet]
    if not record:
        return f"C{next(n for n, row in enumerate(rows, 1) if row[0] == title)}"
    heads = next(row for row in rows if title in row)
    row = next(n for n, row in enumerate(rows, 1) if row[0] == record)
    return f"{chr(65 + heads.index(title))}{row}"


def open_cells(file: str) -> set[str]:
    """The cells of a form that are not locked, by sheet and address."""
    with zipfile.ZipFile(file) as book:
        styles = book.read("xl/styles.xml").decode()
        kinds = re.findall(r"<xf [^>]*?(?:/>|>.*?</xf>)", styles.split("<cellXfs")[1])
        free = {str(n) for n, kind in enumerate(kinds) if 'locked="0"' in kind}
        names = re.findall(r'<sheet name="([^"]+)"', book.read("xl/workbook.xml").decode())
        found = set()
        for number, name in enumerate(names[:-1], 1):
            text = book.read(f"xl/worksheets/sheet{number}.xml").decode()
            assert "<sheetProtection" in text, name
            found |= {f"{name} {at}" for at, style in re.findall(r'<c r="(\w+)" s="(\d+)"', text)
                      if style in free}  # fmt: skip
        return found


def test_only_what_is_missing_is_open_in_the_senders_words_and_units(call: Calling) -> None:
    for name in ("haus-am-hang-4.xlsx", "haus-am-hang-4.map.yaml", "ridge-lane-12.xlsx",
                 "ridge-lane-12.map.yaml"):  # fmt: skip
        put(f"in/{name}", (FOLDER / name).read_bytes())
    assert reviewed(call).status == 0
    german, feet = (
        "out/invented-hillside-floors-missing.xlsx",
        "out/invented-ridge-radiant-missing.xlsx",
    )
    told = sheets(german)
    assert told["Loops"][3:5] == [
        ["Verteiler.Kreis", "Verteiler", "Kreis", "Raum", "Heizfläche [m²]", "Rohrlänge [m]", "Wall gap"],
        ["", "", "", "", "m²", "m", "mm"],
    ]  # fmt: skip
    assert told["Loops"][5] == ["HKV 1.1", "HKV 1", 1.0, "Wohnen", 11.8, 88.5, ""]
    gaps = {f"Loops G{row}" for row in range(6, 14)}
    free = {one for one in open_cells(german) if one.startswith("Loops")}
    assert free == {*gaps, "Loops G5"}  # and the unit of what is asked
    told = sheets(feet)
    assert told["Rooms"][3:5] == [["Space", "Use", "Area"], ["", "", "ft²"]]
    with zipfile.ZipFile(feet) as book:
        every = "".join(book.read(one).decode() for one in book.namelist() if "sheets/sheet" in one)
    assert "living,bedroom" in every.replace("&quot;", "")
    letters = Path("out/invented-hillside-floors.md").read_text("utf-8")
    assert "invented-hillside-floors-missing.xlsx" in letters


@pytest.fixture(name="answered")
def answered_form(call: Calling) -> bytes:
    """The form of the first round, filled in."""
    put("in/a.yaml", SENT)
    assert reviewed(call).status == 0
    strip, gap = cell(FORM, "Floors", "Edge strip", "slab"), cell(FORM, "Loops", "Wall gap", "L1")
    drop = cell(FORM, "Job", "Plant, drop")
    return filled(
        Path(FORM).read_bytes(),
        {"Floors": {strip: 8}, "Loops": {gap: "4 in"}, "Job": {drop: 7}},
    )


def test_answers_count_and_are_kept_until_a_revision_says_otherwise(
    call: Calling, answered: bytes
) -> None:
    assert state("wall_gap") == state("edge_strip") == "asked"
    put("in/back.xlsx", answered)
    assert reviewed(call, "2026-03-27").status == 0
    assert state("wall_gap") == state("edge_strip") == state("plant.drop") == "answered"
    assert "Known now, and in order: " in letter()
    assert "Mended" not in letter()
    kept = "Taken from your forms, until a revision of yours says otherwise"
    assert kept in letter()
    assert {(g["subject"], g["field"], g["text"]) for g in register()["given"]} == {
        ("design", "plant.drop", "7 K"), ("floors.slab", "edge_strip", "8 mm"),
        ("loops.L1", "wall_gap", "4 in"),
    }  # fmt: skip
    # The same once more, in any order of days, changes nothing.
    before = Path("register.json").read_bytes()
    assert reviewed(call, "2026-04-01").status == 0
    assert Path("register.json").read_bytes() == before
    # The next revision lacks them as the first did, and calls the loop otherwise.
    put("in/a.yaml", changed(("revision: A", "revision: B"), ("  L1: {", "  K7: {"), text=SENT))
    assert reviewed(call, "2026-04-10").status == 0
    assert state("wall_gap") == "answered"
    assert {g["subject"] for g in register()["given"]} >= {"loops.K7", "floors.slab"}
    assert "wall gap" not in letter().partition("What we ask you for")[2].partition("What was")[0]
    # One that says otherwise counts, and it is told.
    put("in/a.yaml", changed(("revision: A", "revision: C"), ("  L1: {", "  K7: {"),
                             ("joints: 0}\n  L2", "wall_gap: 10 mm, joints: 0}\n  L2"), text=SENT))  # fmt: skip
    assert reviewed(call, "2026-04-20").status == 0
    assert "form 1 said '4 in', revision C says '10 mm': the revision counts" in queries()
    ended = {g["field"]: g.get("ended", "") for g in register()["given"]}
    assert ended == {
        "wall_gap": "revision C states it",
        "edge_strip": "",
        "plant.drop": "",
    }


def test_a_form_alone_answers_for_what_the_register_has(call: Calling, answered: bytes) -> None:
    put("back/f.xlsx", answered)
    assert reviewed(call, "2026-03-27", "back").status == 0
    assert state("wall_gap") == "answered"
    # A loop that went meanwhile is not answered for, nor one that two may be.
    put("in/a.yaml", changed(("revision: A", "revision: B"), text=SENT).replace(
        next(one for one in SENT.splitlines(keepends=True) if one.startswith("  L1:")), ""))  # fmt: skip
    assert reviewed(call, "2026-04-01").status == 0
    assert "which record of revision B that is cannot be said" in queries()


def test_a_late_form_follows_the_loops_that_were_numbered_anew(
    call: Calling, answered: bytes
) -> None:
    swapped = changed(("  L1: {", "  LX: {"), ("  L2: {", "  L1: {"), ("  LX: {", "  L2: {"),
                      ("revision: A", "revision: B"), text=SENT)  # fmt: skip
    put("in/a.yaml", swapped)
    assert reviewed(call, "2026-03-25").status == 0
    put("in/back.xlsx", answered)
    assert reviewed(call, "2026-03-27").status == 0
    assert ("loops.L2", "4 in") in {(g["subject"], g["text"]) for g in register()["given"]}
    assert state("wall_gap") == "answered"


def test_two_forms_that_differ_count_for_nothing_and_a_later_one_counts(
    call: Calling, answered: bytes
) -> None:
    form = Path(FORM).read_bytes()
    strip = cell(FORM, "Floors", "Edge strip", "slab")
    put("in/1.xlsx", answered)
    put("in/2.xlsx", filled(form, {"Floors": {strip: 5}}))
    assert reviewed(call, "2026-03-27").status == 0
    assert state("edge_strip") == "asked"
    assert state("wall_gap") == "answered"
    assert "two forms differ about the edge strip of floor slab" in queries()
    put("in/3.xlsx", filled(form, {"Floors": {strip: 10}}))
    assert reviewed(call, "2026-03-28").status == 0
    assert state("edge_strip") == "answered"


def test_what_a_form_cannot_say_is_told_and_the_rest_counts(call: Calling, answered: bytes) -> None:
    strip = cell(FORM, "Floors", "Edge strip", "slab")
    gap = cell(FORM, "Loops", "Wall gap", "L1")
    put(
        "in/1.xlsx", filled(Path(FORM).read_bytes(), {"Floors": {strip: "abc"}, "Loops": {gap: 90}})
    )
    put("in/2.xlsx", b"PK no workbook")
    assert reviewed(call, "2026-03-27").status == 0
    assert (state("edge_strip"), state("wall_gap")) == ("asked", "answered")
    assert f"1.xlsx: Floors {strip}: 'abc' is not a number" in letter()
    # A check judges designs alone, and says what it passed over.
    done = call("check", "in/1.xlsx")
    assert (done.status, "a form for what is missing" in done.out) == (2, True)
    # A register that has no such design says so.
    Path("register.json").unlink()
    Path("in/a.yaml").unlink()
    assert "answers for a design that this register does not have" in reviewed(call).err


def test_answers_leave_the_cells_that_a_sheet_names(call: Calling) -> None:
    before = b"# Read from a.xlsx by the map m\ndesign: 1\nloops:\n  A B: {area: 3 m\xc2\xb2, length: 9 m}  # S, row 7: A B C8\n"
    after = before.replace(b", length", b", wall_gap: 80 mm, length")
    told = cells.carried_over(yaml_reader.read(before), before, yaml_reader.read(after), after)
    assert told.endswith(b"  # S, row 7: A B - C8\n")


def test_a_datum_that_cannot_stand_in_the_design_costs_no_other(call: Calling) -> None:
    put("in/a.yaml", changed((" port: 2,", ""), (" pipe: p16, pattern: counterflow, zone: occupied, "
        "spacing: 100 mm", " pattern: counterflow, zone: occupied, spacing: 100 mm"), text=SENT))  # fmt: skip
    assert reviewed(call).status == 0
    port, pipe = cell(FORM, "Loops", "Port", "L2"), cell(FORM, "Loops", "Pipe", "L2")
    strip = cell(FORM, "Floors", "Edge strip", "slab")
    given: Values = {"Loops": {port: 700, pipe: "p99"}, "Floors": {strip: 8}}
    put("in/1.xlsx", filled(Path(FORM).read_bytes(), given))
    done = reviewed(call, "2026-03-27")
    assert done.status == 0
    assert (state("edge_strip"), state("port"), state("pipe")) == ("answered", "asked", "asked")
    # The form still open for it asks again, and the letter says why.
    told = letter() + queries()
    assert "700" in told
    assert "p99" in told
