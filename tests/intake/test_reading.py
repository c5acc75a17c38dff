"""Files of several designs, and files of kinds that cannot be read."""

from __future__ import annotations

from pathlib import Path

import pytest
import xlsxwriter

from checker.intake.maps import load
from tests.intake.taken import take

MAP = b"""\
map: 1
sheets:
  - sheet: House *
    each: true
    ids: {loops: "{Loop}"}
    columns: [{heading: Length, field: loops.length, unit: m}]
  - sheet: Cover
    cells: [{at: B1, field: project.contractor}]
"""


def workbook(path: Path) -> str:
    book = xlsxwriter.Workbook(str(path))
    book.add_worksheet("Cover").write_row(0, 0, ["By", "Invented Floors"])
    for name, length in (("House 1", 88), ("House ..2", 77), ("Notes", 0)):
        sheet = book.add_worksheet(name)
        sheet.write_row(0, 0, ["Loop", "Length"])
        sheet.write_row(1, 0, ["L1", length])
    book.close()
    return str(path)


def test_a_sheet_a_house_is_a_design_a_sheet(tmp_path: Path) -> None:
    one, two = take(workbook(tmp_path / "row.xlsx"), load("m", MAP))
    assert [one.name, two.name] == ["row-House-1", "row-House-..2"]
    for taken, length in ((one, "88 m"), (two, "77 m")):
        assert taken.read.mistakes == []
        assert taken.read.tree["loops"]["L1"]["length"] == length
        assert taken.read.tree["project"] == {"contractor": "Invented Floors"}
        assert "Sheet 'Notes': 4 cells." in taken.read.unused


@pytest.mark.parametrize("name", ["a.xlsb", "a.pdf", "a", "a.yaml"])
def test_a_file_of_another_kind_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"x")
    (taken,) = take(str(tmp_path / name), load("m", MAP))
    assert "save it as .xlsx, .ods or .csv" in str(taken.read.mistakes[0])
