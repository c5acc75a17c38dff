"""A sheet as it was sent: its values by address, and the cells that cannot be trusted."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from checker.reading.cells import Spot

Value = str | float | bool | date | datetime | time | timedelta
"""What a cell holds; an empty cell holds an empty text."""
Area = tuple[int, int, int, int]
"""First row, first column, last row and last column of an area, counted from 0."""


MOST_ROWS = 50_000
"""Most rows of a sheet: a hundred times what a large project has."""
TOO_LONG = f"a sheet may have {MOST_ROWS:,}: split it, or delete what is far from the table"
ERROR = "shows the error {}; mend it in the sheet, or write the value"
"""The message for a cell that holds an error instead of a value."""


class BadSheet(Exception):
    """A file cannot be read as sheets; the message is for the user."""


@dataclass(frozen=True)
class Remark:
    """A remark about a cell, a column or a file: where it is, what it holds, and the message."""

    path: str
    message: str
    sheet: str = ""
    row: int = 0
    column: str = ""
    value: str = ""

    @property
    def cell(self) -> str:
        """The sheet and the cell, as far as they are known: `Loops C7`."""
        letters = self.column.partition(" ")[0]
        at = f"{letters}{self.row or ''}" if letters else f"row {self.row}" if self.row else ""
        return f"{self.sheet} {at}".strip()

    @property
    def words(self) -> str:
        """The message with the cell's content, without its place."""
        end = "" if self.message.endswith((".", "?")) else "."
        value = f"{self.value} " if self.value else ""
        return f"{value}{self.message}{end}"

    def __str__(self) -> str:
        where = [self.path]
        if self.sheet:
            where.append(f"sheet '{self.sheet}'")
        if self.row:
            where.append(f"row {self.row}")
        if self.column:
            where.append(f"column {self.column}")
        return f"{', '.join(where)}: {self.words}"


@dataclass
class Sheet:
    """One sheet: its rows from the very first, and each row's values from column A.

    faults: for (row, column) why the cell must not be read; merged: areas that show one value;
    lines: the number that the user sees for each row, where it is not simply the next.
    """

    name: str
    rows: list[list[Value]]
    faults: dict[tuple[int, int], str] = field(default_factory=dict)
    merged: list[Area] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    hidden: bool = False
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    struck: set[tuple[int, int]] = field(default_factory=set)
    """Cells whose text is struck through."""
    comments: dict[tuple[int, int], str] = field(default_factory=dict)

    def value(self, row: int, column: int) -> Value:
        """What a cell holds, a text without spaces around it.

        Args:
            row: from 0.
            column: from 0.

        Returns:
            An empty text for an empty cell, and beyond the end of the sheet.
        """
        if 0 <= row < len(self.rows) and 0 <= column < len(self.rows[row]):
            found = self.rows[row][column]
            return found.strip() if isinstance(found, str) else found
        return ""

    def number(self, row: int) -> int:
        """A row's number as a spreadsheet program shows it.

        Args:
            row: from 0.

        Returns:
            From 1. In a CSV file a row with line breaks in a cell is one, and a first line `sep=`
            none.
        """
        return self.lines[row] if self.lines else row + 1

    def line(self, row: int) -> str:
        """A row in words.

        Args:
            row: from 0.

        Returns:
            For example `row 7`.
        """
        return f"row {self.number(row)}"

    def address(self, row: int, column: int) -> str:
        """A cell's address as a spreadsheet program writes it.

        Args:
            row: from 0.
            column: from 0.

        Returns:
            For example `B7`.
        """
        return f"{letters(column)}{self.number(row)}"

    def spot(self, row: int, column: int) -> Spot:
        """The cell as reports name it."""
        return Spot(self.name, self.number(row), column + 1, self.address(row, column))

    def filled(self) -> Iterator[tuple[int, int]]:
        """Row and column of every cell that has content or must not be trusted."""
        for row, values in enumerate(self.rows):
            for column in range(len(values)):
                if self.value(row, column) != "" or (row, column) in self.faults:
                    yield row, column

    def cell_of(self, address: str) -> tuple[int, int]:
        """The cell at an address.

        Args:
            address: as a spreadsheet program writes it, such as `B7`.

        Returns:
            Row and column, from 0; they may lie beyond the end of the sheet.

        Raises:
            ValueError: it is not an address.
        """
        head = address.rstrip("0123456789")
        digits = address[len(head) :]
        if not (head.isascii() and head.isalpha() and digits):
            raise ValueError(f"'{address}' is not the address of a cell, such as B7")
        number = int(digits)
        row = self.lines.index(number) if number in self.lines else number - 1
        return row, column_of(head)


class Turned(Sheet):
    """A transposed sheet: its columns are read as rows, and cells keep their addresses."""

    def __init__(self, other: Sheet) -> None:
        wide = max((len(row) for row in other.rows), default=0)
        super().__init__(
            other.name,
            [
                [other.value(row, column) for row in range(len(other.rows))]
                for column in range(wide)
            ],
            {(column, row): why for (row, column), why in other.faults.items()},
            [(left, top, right, bottom) for top, left, bottom, right in other.merged],
            [],
            other.hidden,
            other.hidden_columns,
            other.hidden_rows,
            {(column, row) for row, column in other.struck},
            {(column, row): text for (row, column), text in other.comments.items()},
        )
        self.other = other

    def number(self, row: int) -> int:
        """The number of a column of the sheet as it was sent.

        Args:
            row: that column, from 0.

        Returns:
            From 1.
        """
        return row + 1

    def line(self, row: int) -> str:
        """A column of the sheet as it was sent, in words.

        Args:
            row: that column, from 0.

        Returns:
            For example `column C`.
        """
        return f"column {letters(row)}"

    def address(self, row: int, column: int) -> str:
        """The cell's address in the sheet as it was sent.

        Args:
            row: its column there, from 0.
            column: its row there, from 0.

        Returns:
            For example `B7`, for row 1 and column 6.
        """
        return self.other.address(column, row)

    def spot(self, row: int, column: int) -> Spot:
        """The cell as reports name it."""
        return self.other.spot(column, row)


@dataclass
class Book:
    """All sheets of one file; notes: what was assumed or passed over to read them."""

    path: str
    sheets: list[Sheet]
    notes: list[str] = field(default_factory=list)
    data: bytes = b""
    """The bytes of a CSV file, which may have to be read again with other settings."""
    single: bool = False
    """Whether the file is of a kind without named sheets (CSV)."""


def letters(column: int) -> str:
    """The letters of a column.

    Args:
        column: from 0.

    Returns:
        `A` for 0, `AA` for 26.
    """
    text = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(65 + rest) + text
    return text


def column_of(name: str) -> int:
    """The number of a column.

    Args:
        name: its letters, large or small.

    Returns:
        From 0, for A.
    """
    number = 0
    for sign in name.upper():
        number = number * 26 + ord(sign) - 64
    return number - 1


def plain(value: Value) -> str:
    """A cell's value as text.

    Args:
        value: what the cell holds.

    Returns:
        For example `88` for 88.0, `2026-03-12` for a date, `true` for a truth value; a text without
        spaces around it.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float | int):
        return figure(value)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ")
    if isinstance(value, date | time):
        return value.isoformat()
    return value.strip() if isinstance(value, str) else str(value)


def figure(value: float) -> str:
    """A number as text without an exponent.

    Args:
        value: the number.

    Returns:
        Its first fifteen digits, as many as spreadsheets keep, without zeros at the end.
    """
    text = f"{value:.15g}"
    if "e" in text:
        text = f"{value:.20f}".rstrip("0").rstrip(".") if abs(value) < 1 else f"{value:.0f}"
    return text


def quoted(value: Value, longest: int = 40) -> str:
    """A cell's value in quotation marks, for a message.

    Args:
        value: what the cell holds.
        longest: the most characters of it; an ellipsis replaces the rest.

    Returns:
        In one line.
    """
    text = " ".join(plain(value).split())
    return f"'{text if len(text) <= longest else text[:longest] + '…'}'"


def alike(text: str) -> str:
    """A heading in the form in which headings are compared.

    Args:
        text: the heading as the sheet or the map has it.

    Returns:
        In small letters, with single spaces, and common letters for their special forms (such as a
        ligature's).
    """
    return " ".join(unicodedata.normalize("NFKC", text).split()).casefold()
