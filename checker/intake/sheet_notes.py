"""One sheet while it is read: which cells were used, and the remarks about the others."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from checker.intake.maps import Part
from checker.intake.sheets import Remark, Sheet, Turned, Value, letters, quoted

if TYPE_CHECKING:
    from checker.intake.assembling import _Assembly

MOST_LISTED = 12
"""At most this many single unread cells are listed by address; the others are only counted."""


class SheetNotes:
    """A sheet that is being read into a design, with the remarks about it.

    used: cells that were dealt with in any way; taken: those whose value was read; heads: the text
    above each column; filled: for each column the number of cells that say "no value"; marked:
    cells whose decimal mark is ambiguous; others: for these the factor by which the other reading
    is larger; repeated: for each column the records that have the same value in several rows;
    fractions: columns of ids that hold decimal numbers.
    """

    def __init__(self, assembly: _Assembly, sheet: Sheet, part: Part) -> None:
        self.assembly = assembly
        self.out = assembly.out
        self.sheet = Turned(sheet) if part.transposed else sheet
        self.part = part
        self.used: set[tuple[int, int]] = set()
        self.taken: set[tuple[int, int]] = set()
        self.heads: dict[int, str] = {}
        self.filled: Counter[int] = Counter()
        self.marked: dict[int, list[str]] = {}
        self.others: dict[tuple[int, int], float] = {}
        self.repeated: dict[int, dict[str, None]] = {}
        self.fractions: set[int] = set()

    def named(self, at: int) -> str:
        """A column by its letters and heading: C 'Length'; in a transposed sheet a row: 3 'Length'.

        Args:
            at: the column, from 0; in a transposed sheet the row as it was sent.

        Returns:
            The letters or number alone where no heading is known.
        """
        head = self.heads.get(at, "")
        lane = str(at + 1) if isinstance(self.sheet, Turned) else letters(at)
        return f"{lane} '{head}'" if head else lane

    def lane(self, at: int) -> str:
        """The same with its noun: column C 'Length', row 3 'Length'."""
        return f"{'row' if isinstance(self.sheet, Turned) else 'column'} {self.named(at)}"

    def mistake(self, row: int, at: int, value: Value, words: str) -> None:
        """Refuse a cell: its value is left out, and the report says why."""
        text = quoted(value) if value != "" else ""
        # Most words of a refused value start with the value itself.
        if text and words.startswith(text[:-1]):
            text = ""
        spot = self.sheet.spot(row, at)
        self.out.refused.append(
            Remark(self.out.path, words, self.sheet.name, spot.row, self.at_cell(row, at), text)
        )

    def at_cell(self, row: int, at: int) -> str:
        """The column that a cell is in, with the heading of what it holds."""
        column = letters(self.sheet.spot(row, at).column - 1)
        head = self.heads.get(at, "")
        return f"{column} '{head}'" if head else column

    def slip(self, row: int, at: int, words: str, value: Value = "") -> None:
        """Note a value that was read but looks wrong."""
        spot = self.sheet.spot(row, at)
        shown = quoted(value) if value != "" else ""
        self.out.slips.append(
            Remark(self.out.path, words, spot.sheet, spot.row, letters(spot.column - 1), shown)
        )

    def look(self) -> None:
        """Note hidden rows and columns that were read, and comments on cells."""
        sheet, name = self.sheet, self.sheet.name
        for places, what in ((sheet.hidden_rows, "row"), (sheet.hidden_columns, "column")):
            read = sorted(n for n in places if any(at[what == "column"] == n for at in self.taken))
            shown = [str(sheet.number(n)) if what == "row" else letters(n) for n in read]
            if isinstance(sheet, Turned):
                shown = [letters(n) if what == "row" else str(n + 1) for n in read]
            if shown:
                several = "s" if len(shown) > 1 else ""
                words = f"{what}{several} {', '.join(shown)} hidden in the sheet, and read"
                self.out.slips.append(Remark(self.out.path, words, name))
        for (row, column), text in sorted(sheet.comments.items()):
            spot = sheet.spot(row, column)
            self.out.slips.append(
                Remark(self.out.path, f"has a comment: {quoted(text, 200)}", name, spot.row,
                       letters(spot.column - 1))
            )  # fmt: skip

    def leftovers(self, first: int) -> None:
        """Note every cell that nothing was read from, and what was assumed of each column.

        Args:
            first: the first row of the first table, from 0; cells from there on under a heading are
                counted by column, others named one by one. 0 where there is no table.
        """
        under: Counter[int] = Counter()
        alone: list[tuple[int, int]] = []
        for row, column in self.sheet.filled():
            if (row, column) in self.used:
                continue
            if first and row >= first and column in self.heads:
                under[column] += 1
            else:
                alone.append((row, column))
        self.out.cells_unused += len(alone) + under.total()
        name = self.sheet.name
        for column, count in sorted(under.items()):
            noun = "cell" if count == 1 else "cells"
            self.out.unused.append(f"Sheet '{name}', {self.lane(column)}: {count} {noun}.")
        for row, column in alone[:MOST_LISTED]:
            value = quoted(self.sheet.value(row, column))
            self.out.unused.append(f"Sheet '{name}', {self.sheet.address(row, column)}: {value}.")
        if len(alone) > MOST_LISTED:
            self.out.unused.append(
                f"Sheet '{name}': {len(alone) - MOST_LISTED} more cells outside the table."
            )
        for column, count in sorted(self.filled.items()):
            self.out.assumed.append(
                f"Sheet '{name}', {self.lane(column)}: {count} cells say that there is no value."
            )
        for column, read in sorted(self.marked.items()):
            number = f"{len(read)} numbers" if len(read) > 1 else "1 number"
            self.out.assumed.append(
                f"Sheet '{name}', {self.lane(column)}: {number} whose mark could be read "
                f"in two ways ({', '.join(read[:MOST_LISTED])}), read as the map's marks say."
            )
        for column, names in sorted(self.repeated.items()):
            self.out.assumed.append(
                f"Sheet '{name}', {self.lane(column)}: several rows of one record have a value, "
                f"which counts once and is not added up ({', '.join([*names][:MOST_LISTED])})."
            )
        for column in sorted(self.fractions):
            self.out.assumed.append(
                f"Sheet '{name}', {self.lane(column)}: names that are numbers in the sheet, where "
                "1.10 is the same as 1.1; write them as text if both are meant."
            )
