"""Apache Parquet, for whoever looks at many designs with a data frame.

The schema's metadata holds, under `prescreed`, by what the run judged, as JSON.
"""

from __future__ import annotations

import io
from importlib.util import find_spec
from typing import TYPE_CHECKING

import msgspec

from checker import __version__
from checker.outcome.results import DesignReport, Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import Gathered, Gatherer, NotInstalled
from checker.reports.tables import Row, frame, rows

if TYPE_CHECKING:
    from checker.reports import Chosen


class Writer(Gatherer):
    """Writes one table as Parquet; NotInstalled where pyarrow is not there."""

    separator = b""

    def __init__(self, chosen: Chosen) -> None:
        if find_spec("pyarrow") is None:
            raise NotInstalled("parquet needs pyarrow; install it with 'prescreed[parquet]'")
        self.table = chosen.table
        self.needs_given = chosen.table == "computed"

    def piece(self, design: DesignReport) -> bytes:
        """One design's rows."""
        return msgspec.json.encode(rows(design, self.table))

    def whole(
        self, run: Run, pieces: list[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> Gathered:
        """The file."""
        found = [row for piece in pieces for row in msgspec.json.decode(piece, type=list[Row])]
        import pyarrow
        from pyarrow import parquet

        table = pyarrow.Table.from_pandas(frame(found), preserve_index=False)
        held = {**(table.schema.metadata or {}), b"prescreed": _provenance(run)}
        stream = io.BytesIO()
        parquet.write_table(table.replace_schema_metadata(held), stream)
        return Gathered(stream.getvalue())


def _provenance(run: Run) -> bytes:
    return msgspec.json.encode(
        {
            "version": __version__,
            "rules": {"edition": run.edition, "digest": run.digest},
            "settings": run.settings,
            "settings_digest": run.settings_digest,
            "today": run.today,
        }
    )
