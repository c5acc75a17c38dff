"""Comma-separated values for spreadsheets: UTF-8 with a byte-order mark.

A text that a spreadsheet would take for a formula gets a tab before it; numbers stay numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import msgspec

from checker.outcome.report import DesignReport
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import ReportText, WholeReport
from checker.reports.tables import OF_ALL, RESULT, Cell, Row, cells, of, rows, troubles
from checker.words import visible

if TYPE_CHECKING:
    from checker.reports import FormatOptions

MARK = b"\xef\xbb\xbf"
"""The byte-order mark by which spreadsheets recognise UTF-8."""
EDITION = "rules_edition"
"""The last column, because a table by itself must say by which rules, and has no metadata."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""Characters at which a spreadsheet may take a text for a formula; OWASP's list, from memory."""
_END = b",\x1e"
"""Ends a row of a piece; no cell has this character (`visible`), so the edition can replace it."""
_MOST_KEPT = 10_000


class Writer(WholeReport):
    """Writes one table as CSV: results as they come, loops when all their columns are known."""

    def __init__(self, chosen: FormatOptions) -> None:
        self.gathers = self.needs_given = chosen.table == "computed"
        self._texts = _Texts()

    def head(self, run: Run) -> bytes:
        """The heading, where it is already known.

        Args:
            run: not used.

        Returns:
            The byte-order mark and the heading of the table of results; nothing for the table of
            loops, whose columns depend on the designs.
        """
        return b"" if self.gathers else MARK + _line((*OF_ALL, *RESULT, EDITION))

    def piece(self, design: DesignReport) -> bytes:
        """One design's rows.

        Args:
            design: its report.

        Returns:
            Rows of results, still without the edition of the rules; for the table of loops, rows as
            JSON with their columns' names.
        """
        if self.gathers:
            return msgspec.json.encode(rows(design))
        # Most texts occur in many results, and are encoded once.
        texts = self._texts
        if len(texts) > _MOST_KEPT:
            texts.clear()
        begin = b"".join([_written(cell) + b"," for cell in of(design)])
        made = []
        for result in design.results:
            row = [
                texts[cell] if type(cell) is str else _written(cell)
                for cell in cells(result, design)
            ]
            made.append(begin + b",".join(row) + _END)
        return b"".join(made)

    def with_run(self, piece: bytes, run: Run) -> bytes:
        """The rows with the edition of the rules.

        Args:
            piece: rows of results; the table of loops is not completed here.
            run: has the edition.

        Returns:
            The same rows with their last column.
        """
        return bytes(piece).replace(_END, b"," + _written(run.edition) + b"\n")

    def tail(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """A row for each problem that is not a result.

        Args:
            run: adds what the program failed on, and settings that are ignored.
            totals: adds problems with waivers.
            unreadable: a row each.

        Returns:
            The rows; nothing for the table of loops.
        """
        if self.gathers:
            return b""
        return b"".join(_line((*row, run.edition)) for row in troubles(run, totals, unreadable))

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The table of loops, the heading first.

        Args:
            run: has the edition of the rules.
            pieces: rows as JSON; they are read twice, first for their columns.
            totals: not used.
            unreadable: not used: a loop's table has no place for them.

        Returns:
            The file, row by row; only a heading where no design has a loop.
        """
        names = {name: None for row in _rows(pieces) for name in row}
        full = ({**row, EDITION: run.edition} for row in _rows(pieces))
        return ReportText(table([*(names or OF_ALL), EDITION], full))


def _rows(pieces: Iterable[bytes]) -> Iterator[Row]:
    for piece in pieces:
        yield from msgspec.json.decode(piece, type=list[Row])


def table(names: Sequence[str], rows: Iterable[Mapping[str, Cell]]) -> Iterator[bytes]:
    """Rows as a file, the heading first.

    Args:
        names: the columns, in order.
        rows: cells by column; a column that a row lacks is empty, and cells under other names are
            left out.

    Returns:
        The file's parts, a row each, from the byte-order mark on.
    """
    yield MARK + _line(names)
    for row in rows:
        yield _line([row.get(name) for name in names])


def _line(cells: Iterable[Cell]) -> bytes:
    return b",".join(map(_written, cells)) + b"\n"


def _written(cell: Cell) -> bytes:
    """A cell: a quoted text, so that no spreadsheet computes it and no invisible character
    misleads.
    """
    if cell is None:
        return b'""'
    if not isinstance(cell, str):
        return repr(cell).encode()
    text = visible(cell, "\t\n\u00a0").replace('"', '""')
    guard = "\t" if text.lstrip(" ").startswith(_FORMULA) else ""
    return f'"{guard}{text}"'.encode()


class _Texts(dict[str, bytes]):
    """Cells with texts, each written once."""

    def __missing__(self, text: str) -> bytes:
        made = self[text] = _written(text)
        return made
