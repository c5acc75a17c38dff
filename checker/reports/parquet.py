"""Apache Parquet, for whoever looks at many designs with a data frame."""

from __future__ import annotations

import io
from importlib.util import find_spec
from typing import TYPE_CHECKING

import msgspec

from checker.reports import Gathered, NotInstalled
from checker.reports.tables import Row, frame, rows
from checker.results import DesignReport, Run, Totals, Unreadable

if TYPE_CHECKING:
    from checker.reports import Chosen


class Writer:
    """Writes one table as Parquet; NotInstalled where pyarrow is not there."""

    separator = b""

    def __init__(self, chosen: Chosen) -> None:
        if find_spec("pyarrow") is None:
            raise NotInstalled("parquet needs pyarrow; install it with 'prescreed[parquet]'")
        self.table = chosen.table
        self.needs_given = chosen.table == "computed"

    def head(self, run: Run) -> bytes:
        """Nothing: the file is written whole."""
        return b""

    def piece(self, design: DesignReport) -> bytes:
        """One design's rows."""
        return msgspec.json.encode(rows(design, self.table))

    def tail(self, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """Nothing, likewise."""
        return b""

    def whole(
        self, run: Run, pieces: list[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> Gathered:
        """The file."""
        found = [row for piece in pieces for row in msgspec.json.decode(piece, type=list[Row])]
        stream = io.BytesIO()
        frame(found).to_parquet(stream, engine="pyarrow", index=False)
        return Gathered(stream.getvalue())
