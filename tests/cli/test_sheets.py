"""Workbooks and CSV files straight into the commands that judge."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from checker.forms.declaring import house
from checker.forms.model import Record
from checker.forms.writing import workbook
from tests.cli.calling import Calling, put
from tests.cli.calling import calling as calling
from tests.example import SOUND

SCHEDULE = """Loop;Room;Manifold;Port;Length [m];Spacing [mm];Area [m²]
L1;hall;H1;1;88;150;12
L2;bath;H1;2;55x;100;5
"""
MAP = """map: 1
design:
  plant: {supply: 42 °C, drop: 7 K}
sheets:
  - ids: {loops: "{Loop}", rooms: "{Room}", headers: "{Manifold}"}
    columns:
      - {heading: Port, field: loops.port}
      - {heading: 'Length [m]', field: loops.length, unit: m}
      - {heading: 'Spacing [mm]', field: loops.spacing, unit: mm}
      - {heading: 'Area [m²]', field: loops.area, unit: m²}
"""


def form(path: Path, **changes: str) -> None:
    """The example of the house form, one loop's answers changed."""
    records: dict[str, Any] = dict(house().example)
    first, *others = records["loops"]
    own = {f"loops.{key}": text for key, text in changes.items()}
    records["loops"] = (Record(first.name, {**first.values, **own}), *others)
    with path.open("wb") as file:
        workbook(file, house(), records)


def checked(call: Calling, *words: str) -> tuple[int, Any]:
    done = call("check", *words, "--format", "json", "--no-cache")
    return done.status, done.json


def test_the_programs_own_form_is_read_directly_and_findings_name_its_cells(call: Calling) -> None:
    form(Path("house.xlsx"), length="128 m")
    status, report = checked(call, "house.xlsx")
    (design,) = report["designs"]
    assert (status, design["verdict"], design["path"]) == (1, "hold", "house.xlsx")
    found = {r["rule"]: r for r in design["results"] if r["subject"] == "loops.L1"}
    assert (found["loop-length"]["kind"], found["loop-length"]["cell"]) == (
        "fail", "Rooms and loops M6",
    )  # fmt: skip
    assert (found["loop-length"]["line"], found["loop-length"]["column"]) == (6, 13)
    text = call("check", "house.xlsx").out
    assert "Rooms and loops M6 · loop-length" in text


def test_every_judging_command_takes_the_form(call: Calling) -> None:
    form(Path("house.xlsx"), length="128 m")
    done = call("explain", "house.xlsx", "loop-length", "loops.L1")
    assert done.status == 0
    assert "Rooms and loops M6" in done.out
    done = call("site-sheet", "house.xlsx")
    assert done.status == 0
    assert "Example house" in done.out
    done = call("review", "house.xlsx", "--output", "letters")
    assert done.status == 0
    letter = Path("letters/invented-contractor.md").read_text("utf-8")
    assert "Rooms and loops M6" in letter


def test_a_foreign_sheet_is_read_by_the_map_beside_it(call: Calling) -> None:
    put("mill-12.csv", SCHEDULE)
    put("mill-12.map.yaml", MAP)
    _, report = checked(call, "mill-12.csv")
    (design,) = report["designs"]
    assert "expected_length" not in design["computed"]["loops.L1"]
    assert design["verdict"] == "unproven"
    assert any("E3" in r.get("cell", "") or "row 3" in r.get("cell", "") or
               r.get("cell", "").startswith("mill-12 ") for r in design["results"])  # fmt: skip


@pytest.mark.parametrize("name", ["mill.map.yaml", "given.yaml"])
def test_a_map_of_the_sender_and_one_that_is_named(call: Calling, name: str) -> None:
    put("mill-12.csv", SCHEDULE)
    put(name, MAP)
    more = () if name.startswith("mill") else ("--map", name)
    _, report = checked(call, "mill-12.csv", *more)
    assert [one["path"] for one in report["designs"]] == ["mill-12.csv"]


def test_one_bad_cell_leaves_its_datum_open_and_the_design_unproven(call: Calling) -> None:
    put("mill-12.csv", SCHEDULE)
    put("mill-12.map.yaml", MAP)
    status, report = checked(call, "mill-12.csv", "--allow-unproven")
    (design,) = report["designs"]
    assert status == 1
    assert report["totals"]["unread"] == 1
    assert report["answer"].endswith("cells not read in 1 design")
    (line,) = design["sheet"]["not_read"]
    assert "row 3, column E 'Length [m]'" in line
    assert "'55x'" in line
    (result,) = [r for r in design["results"]
                 if (r["rule"], r["subject"]) == ("loop-length", "loops.L2")]  # fmt: skip
    assert result["kind"] == "open"
    text = call("check", "mill-12.csv").out
    assert "NOT READ" in text
    assert "1 cell of its sheet could not be read" in " ".join(text.split())


def test_a_sheet_that_nobody_knows_is_answered_with_a_proposal(call: Calling) -> None:
    put("loops.csv", SCHEDULE)
    done = call("check", "loops.csv")
    assert done.status == 2
    assert "field: loops.length" in done.err
    assert "save it as 'loops.map.yaml'" in " ".join(done.out.split())
    assert "UTF-8" not in done.out + done.err


def test_in_a_folder_sheets_with_a_map_are_judged_and_others_are_counted(call: Calling) -> None:
    form(Path("house.xlsx"))
    put("mill-12.csv", SCHEDULE)
    put("mill-12.map.yaml", MAP)
    put("other.csv", SCHEDULE)
    put("report.csv", b'\xef\xbb\xbf"design","path"\n')
    put("damaged.xlsx", b"PK\x03\x04 broken")
    _, report = checked(call, ".")
    assert [one["path"] for one in report["designs"]] == ["./house.xlsx", "./mill-12.csv"]
    why = {one["path"]: one["why"] for one in report["files"] if one["state"] == "passed over"}
    assert why["./other.csv"] == "a sheet without a map"
    assert why["./report.csv"] == "own report"
    assert why["./damaged.xlsx"].startswith("no workbook: ")


def test_a_sheet_that_a_design_beside_it_was_read_from_is_not_judged_twice(call: Calling) -> None:
    put("mill-12.csv", SCHEDULE)
    put("mill-12.map.yaml", MAP)
    call("intake", "mill-12.csv", "--map", "mill-12.map.yaml", "--output", ".")
    _, report = checked(call, ".")
    (design,) = report["designs"]
    assert design["path"] == "./mill-12.yaml"
    found = [
        r for r in design["results"] if (r["rule"], r["subject"]) == ("loop-length", "loops.L2")
    ]
    line = Path("mill-12.yaml").read_text("utf-8").splitlines()[found[0]["line"] - 1]
    assert line.startswith("  L2:")  # the line of the design, and the cell of the sheet
    assert found[0]["cell"] == "mill-12 A3"


def houses(file: Path, its_map: Path) -> None:
    """A workbook with two houses, a sheet each, and its map."""
    book = xlsxwriter.Workbook(str(file))
    for name in ("House 1", "House 2"):
        sheet = book.add_worksheet(name)
        for number, line in enumerate(SCHEDULE.replace("55x", "55").splitlines()):
            sheet.write_row(number, 0, line.split(";"))
    book.close()
    each = MAP.replace("  - ids", "  - sheet: House *\n    each: true\n    ids")
    its_map.write_text(each, "utf-8")


def test_a_workbook_of_many_houses_is_as_many_designs(call: Calling) -> None:
    houses(Path("row.xlsx"), Path("row.map.yaml"))
    _, report = checked(call, "row.xlsx")
    assert [one["path"] for one in report["designs"]] == ["row.xlsx#House-1", "row.xlsx#House-2"]
    _, report = checked(call, "row.xlsx", "--exclude", "*#House-1")
    assert [one["path"] for one in report["designs"]] == ["row.xlsx#House-2"]
    assert report["files"][0]["why"] == "excluded: by '*#House-1'"
    done = call("explain", "row.xlsx#House-2", "loop-spacing", "loops.L1")
    assert done.status == 0
    assert "House 2 F2" in done.out


@pytest.mark.parametrize(
    ("name", "content"),
    [("a.xlsx", b"PK\x03\x04"), ("a.xlsx", b""), ("a.ods", b"nothing"), ("a.csv", b"\x00\x01")],
)
def test_a_file_that_is_no_workbook_is_told_in_one_line(
    call: Calling, name: str, content: bytes
) -> None:
    put(name, content)
    done = call("check", name)
    assert done.status == 2
    assert f"{name}: " in done.err
    assert "Traceback" not in done.err


def comments(path: str) -> str:
    """All comments of a workbook, and the sheet that lists what was found."""
    with zipfile.ZipFile(path) as archive:
        names = [n for n in archive.namelist() if "comments" in n or "sharedStrings" in n]
        return "".join(archive.read(name).decode() for name in names)


def test_a_workbook_on_which_the_program_fails_costs_that_file_alone(
    call: Calling, monkeypatch: pytest.MonkeyPatch
) -> None:
    put("house.yaml", SOUND)
    put("bad.csv", SCHEDULE)
    put("bad.map.yaml", MAP)

    def fails(*_: object) -> None:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr("checker.run.sheets.designs_in", fails)
    done = call("check", ".", "--format", "json")
    assert done.status == 3
    report = done.json
    assert [one["path"] for one in report["designs"]] == ["./house.yaml"]
    assert [one["path"] for one in report["crashed"]] == ["./bad.csv"]
    assert {one["path"]: one["state"] for one in report["files"]}["./bad.csv"] == "crashed"
    assert call("remedy", ".").status == 3


def test_a_workbook_in_an_unknown_encoding_is_damaged(call: Calling) -> None:
    form(Path("house.xlsx"))
    with zipfile.ZipFile("house.xlsx") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile("odd.xlsx", "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content.replace(b'encoding="UTF-8"', b'encoding="odd-8"'))
    done = call("check", "odd.xlsx")
    assert done.status == 2
    assert "damaged" in done.out


def test_a_marked_copy_tells_each_cells_finding_and_can_be_checked_again(call: Calling) -> None:
    form(Path("house.xlsx"), length="128 m", area="12x m")
    before = Path("house.xlsx").read_bytes()
    assert call("check", "house.xlsx", "--mark", "marked.xlsx").status == 1
    assert Path("house.xlsx").read_bytes() == before
    said = comments("marked.xlsx")
    assert 'ref="M6"' in said  # the length of loop L1
    assert "Loop longer than its pipe can feed" in said
    assert "'12x m'" in said
    first, again = (checked(call, name)[1]["designs"][0] for name in ("house.xlsx", "marked.xlsx"))
    assert first["results"] == again["results"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("mill-12.csv", "--mark", "m.ods"), "should end in .xlsx"),
        (("mill-12.csv", "other.csv", "--mark", "m.xlsx"), "the call has 2"),
        (("house.yaml", "--mark", "m.xlsx"), "the call has none"),
        (("mill-12.csv", "--mark", "mill-12.csv.xlsx", "--map", "gone.yaml"), "gone.yaml"),
    ],
)
def test_a_marked_copy_is_of_one_sheet(call: Calling, words: tuple[str, ...], message: str) -> None:
    for name in ("mill-12.csv", "other.csv"):
        put(name, SCHEDULE)
        put(name.replace(".csv", ".map.yaml"), MAP)
    put("house.yaml", "design: 1\n")
    done = call("check", *words)
    assert done.status == 2
    assert message in done.err


def test_the_page_of_a_report_is_opened(call: Calling, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    form(Path("house.xlsx"))
    done = call("check", "house.xlsx", "--open")
    (address,) = opened
    page = Path(address.removeprefix("file://"))
    assert "Example house" in page.read_text("utf-8")
    assert "RELEASE" in done.out
    call("check", "house.xlsx", "--format", "html", "--output", "own.html", "--open")
    assert opened[1].endswith("own.html")


def test_two_revisions_of_a_sheet_are_compared(call: Calling) -> None:
    form(Path("old.xlsx"))
    form(Path("new.xlsx"), length="128 m")
    done = call("compare", "old.xlsx", "new.xlsx")
    assert done.status == 1
    assert "Loop longer than its pipe can feed" in done.out
    assert "only in the new designs" not in done.out


def test_a_sheet_that_changed_is_read_anew(call: Calling) -> None:
    form(Path("house.xlsx"))
    assert checked(call, "house.xlsx")[1]["designs"][0]["verdict"] == "release"
    form(Path("house.xlsx"), length="128 m")
    assert checked(call, "house.xlsx")[1]["designs"][0]["verdict"] == "hold"


def test_a_cell_of_nothing_but_a_space_is_no_word(call: Calling) -> None:
    put("odd.csv", "Loop;Room;Length [m];Area [m²]\n ;kitchen;x;\nL1;hall;88;12\n")
    done = call("intake", "odd.csv", "--suggest")
    assert done.status in (0, 2)
    assert "itself failed" not in done.err
