"""What a sheet's XML says about its cells besides their values, and limits on a sheet's size."""

from __future__ import annotations

import re
from typing import Any

from checker.intake.sheets import MOST_ROWS, TOO_LONG, Area, BadSheet, letters

MOST_CELLS = 2_000_000
"""Largest number of cells in the rectangle that a sheet's contents span."""
MOST_SHEETS = 1000
"""Most sheets of a workbook; a large project has some dozens."""

UNWORKED = (
    "holds a formula without a stored result; open the file in a spreadsheet program, "
    "let it work out, and save"
)
ELSEWHERE = "takes its value from another file, which is not opened; write the value itself"


class Look:
    """What a sheet's XML says about its cells: faults, merged areas, hidden rows, comments."""

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
        """Extend the sheet's used area to a cell.

        Args:
            row: from 0.
            column: from 0.

        Raises:
            BadSheet: the sheet has too many rows.
        """
        if row >= MOST_ROWS:
            raise BadSheet(f"a sheet reaches to {letters(column)}{row + 1}; {TOO_LONG}")
        self.rows = max(self.rows, row + 1)
        self.columns = max(self.columns, column + 1)

    def bounded(self, name: str) -> Look:
        """The same look, once the area that the sheet uses is known not to be too large.

        Args:
            name: the sheet's name, for the message.

        Returns:
            This object itself.

        Raises:
            BadSheet: the area has too many cells.
        """
        if self.rows * self.columns > MOST_CELLS:
            last = f"{letters(self.columns - 1)}{self.rows}"
            raise BadSheet(f"sheet '{name}' reaches to {last}; delete what is far from the table")
        return self


def refuse_too_many(count: int) -> None:
    """Refuse a workbook with too many sheets.

    Args:
        count: how many it has, at least.

    Raises:
        BadSheet: they are too many.
    """
    if count > MOST_SHEETS:
        raise BadSheet(
            f"the file has more than {MOST_SHEETS:,} sheets; split it, or delete those without a "
            "table"
        )


def local(element: Any) -> str:
    """An XML element's name without its namespace."""
    return str(element.tag).rsplit("}", 1)[-1]


def without_links(formula: str) -> str:
    """A formula without the targets of HYPERLINK, which are offered to the reader and never
    read.
    """
    return re.sub(r'HYPERLINK\(\s*"(?:[^"]|"")*"', "HYPERLINK(", formula)
