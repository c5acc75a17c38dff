"""Comma-separated values for spreadsheets: UTF-8 with the mark that spreadsheets know it by.

A text that a spreadsheet would take for a formula gets a tab before it; numbers stay numbers.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import msgspec

from checker.outcome.results import DesignReport, Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import Gathered, Gatherer
from checker.reports.tables import Row, frame, rows
from checker.words import visible

if TYPE_CHECKING:
    from checker.reports import Chosen

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""What a spreadsheet may take for the start of a formula; OWASP's list of them, from memory."""


class Writer(Gatherer):
    """Writes one table as CSV."""

    separator = b""

    def __init__(self, chosen: Chosen) -> None:
        self.table = chosen.table
        self.needs_given = chosen.table == "computed"

    def piece(self, design: DesignReport) -> bytes:
        """One design's rows."""
        return msgspec.json.encode(rows(design, self.table))

    def whole(
        self, run: Run, pieces: list[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> Gathered:
        """The table, a heading first."""
        found = [row for piece in pieces for row in msgspec.json.decode(piece, type=list[Row])]
        # A table on its own must still say by which rules; metadata it cannot hold.
        return Gathered(written([{**row, "rules_edition": run.edition} for row in found]))


def written(rows: Sequence[Mapping[str, str | float | None]]) -> bytes:
    """The rows as a file, a heading first; the first row names the columns."""
    guarded = [{name: _guarded(value) for name, value in row.items()} for row in rows]
    text = frame(guarded).to_csv(index=False, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\n")
    return text.encode("utf-8-sig")


def _guarded(value: Any) -> Any:
    """The value, a text so that no spreadsheet computes it and nobody is misled by hidden signs."""
    if not isinstance(value, str):
        return value
    text = visible(value, "\t\n\r\u00a0")
    return f"\t{text}" if text.lstrip(" ").startswith(_FORMULA) else text
