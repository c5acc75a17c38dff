"""What a sheet's XML says about its cells besides the values, and how far a sheet may reach."""

from __future__ import annotations

import re
from typing import Any

from checker.intake.sheets import MOST_ROWS, TOO_LONG, Area, BadSheet, letters

MOST_CELLS = 2_000_000
"""Cells of the rectangle that a sheet's contents span."""
MOST_SHEETS = 1000
"""Sheets of a workbook; a large project has some dozens."""

UNWORKED = (
    "holds a formula without a stored result; open the file in a spreadsheet program, "
    "let it work out, and save"
)
ELSEWHERE = "takes its value from another file, which is not opened; write the value itself"


class Look:
    """What a sheet's XML says about its cells."""

    def __init__(self) -> None:
        self.faults: dict[tuple[int, int], str] = {}
        self.merged: list[Area] = []
        self.hidden_rows: set[int] = set()
        self.hidden_columns: set[int] = set()
        self.struck: set[tuple[int, int]] = set()
        self.comments: dict[tuple[int, int], str] = {}
        self.units: dict[tuple[int, int], str] = {}
        """Cells whose number format shows a unit behind the number."""
        self.texts: dict[tuple[int, int], str] = {}
        """Cells whose text has raised signs, with the signs that are raised by themselves."""
        self.rows = self.columns = 0

    def reach(self, row: int, column: int) -> None:
        if row >= MOST_ROWS:
            raise BadSheet(f"a sheet reaches to {letters(column)}{row + 1}; {TOO_LONG}")
        self.rows = max(self.rows, row + 1)
        self.columns = max(self.columns, column + 1)

    def hold(self, name: str) -> Look:
        if self.rows * self.columns > MOST_CELLS:
            last = f"{letters(self.columns - 1)}{self.rows}"
            raise BadSheet(f"sheet '{name}' reaches to {last}; delete what is far from the table")
        return self


def hold_sheets(count: int) -> None:
    """Refuse a workbook of too many sheets; raises BadSheet."""
    if count > MOST_SHEETS:
        raise BadSheet(
            f"the file has more than {MOST_SHEETS:,} sheets; split it, or delete those without a "
            "table"
        )


def local(element: Any) -> str:
    """An element's name without its namespace."""
    return str(element.tag).rsplit("}", 1)[-1]


def without_links(formula: str) -> str:
    """A formula without the places that HYPERLINK only offers to go to and takes no value from."""
    return re.sub(r'HYPERLINK\(\s*"(?:[^"]|"")*"', "HYPERLINK(", formula)
