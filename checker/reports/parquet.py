"""Apache Parquet, for data frames of many designs.

The schema's metadata holds, under `prescreed`, the rules and settings of the run, as JSON.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from importlib.util import find_spec
from itertools import chain, islice
from typing import TYPE_CHECKING, Any

import msgspec

from checker import __version__
from checker.outcome.report import DesignReport
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import NotInstalled, ReportText, WholeReport
from checker.reports.tables import OF_ALL, RESULT, Cell, Row, cells, kind_of, of, rows, troubles
from checker.words.extras import needs

if TYPE_CHECKING:
    from checker.reports import FormatOptions

ROW_GROUP = 20_000
"""Rows that are written at once: enough to compress well, few enough for constant memory."""

AS_CELLS = 1_000
"""Rows that are kept as cells; as columns they take a tenth of the memory."""


class Writer(WholeReport):
    """Writes one table as Parquet; raises NotInstalled without pyarrow."""

    def __init__(self, chosen: FormatOptions) -> None:
        if find_spec("pyarrow") is None:
            raise NotInstalled(f"parquet {needs('parquet')}")
        self.table = chosen.table
        self.needs_given = chosen.table == "computed"

    def piece(self, design: DesignReport) -> bytes:
        """One design's rows.

        Args:
            design: its report; for the table of loops with what it states.

        Returns:
            JSON: rows of results as lists of cells, rows of loops with their columns' names.
        """
        if self.table == "computed":
            return msgspec.json.encode(rows(design))
        whole = of(design)
        return msgspec.json.encode([whole + cells(result, design) for result in design.results])

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The file.

        Args:
            run: goes into the metadata of the schema, and adds rows to the table of results.
            pieces: the rows; those of loops are read twice, first for their columns.
            totals: adds problems with waivers to the table of results.
            unreadable: rows of the table of results.

        Returns:
            The file, part by part as row groups become full.
        """
        if self.table != "computed":
            found = (row for piece in pieces for row in msgspec.json.decode(piece))
            more = troubles(run, totals, unreadable)
            return ReportText(_file([*OF_ALL, *RESULT], chain(found, more), run))
        decode = msgspec.json.Decoder(list[Row]).decode
        names = [*{name: None for piece in pieces for row in decode(piece) for name in row}]
        found = ([row.get(name) for name in names] for piece in pieces for row in decode(piece))
        return ReportText(_file(names or [*OF_ALL], found, run))


def _file(names: list[str], rows: Iterator[Sequence[Cell]], run: Run) -> Iterator[bytes]:
    """The file, as row groups become full; rows: cells in the order of the names."""
    import pyarrow
    from pyarrow import parquet

    schema = _schema(names, run)
    sink = _Sink()
    with parquet.ParquetWriter(pyarrow.PythonFile(sink, "w"), schema) as writer:
        while group := [*islice(_tables(rows, schema), ROW_GROUP // AS_CELLS)]:
            writer.write_table(pyarrow.concat_tables(group))
            yield sink.taken()
    yield sink.taken()


def _tables(rows: Iterator[Sequence[Cell]], schema: Any) -> Iterator[Any]:
    """The rows as tables, some rows each."""
    import pyarrow

    while some := [*islice(rows, AS_CELLS)]:
        columns = zip(*some, strict=True)
        arrays = [
            pyarrow.array(column, field.type) for column, field in zip(columns, schema, strict=True)
        ]
        yield pyarrow.Table.from_arrays(arrays, schema=schema)


def _schema(names: list[str], run: Run) -> Any:
    """The columns with their types, also as data frames know them, and what the run judged by."""
    import pandas
    import pyarrow

    kinds = {str: "string", int: "Int64", float: "Float64"}
    array: Any = pandas.array  # its stubs want each kind on its own
    frame = pandas.DataFrame({name: array([], dtype=kinds[kind_of(name)]) for name in names})
    schema = pyarrow.Schema.from_pandas(frame, preserve_index=False)
    return schema.with_metadata({**(schema.metadata or {}), b"prescreed": _provenance(run)})


class _Sink(io.RawIOBase):
    """Collects what is written, so that it can be passed on in parts."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []
        self._end = 0

    def writable(self) -> bool:
        """Always true."""
        return True

    def write(self, data: Any) -> int:
        """Take the next bytes."""
        self._parts.append(bytes(data))
        self._end += len(self._parts[-1])
        return len(self._parts[-1])

    def tell(self) -> int:
        """The number of bytes so far."""
        return self._end

    def taken(self) -> bytes:
        """What was written since the last call."""
        parts, self._parts = self._parts, []
        return b"".join(parts)


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
