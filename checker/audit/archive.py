"""Writes an archive of jobs as one Parquet table, which data frames and SQL engines read.

Each row is one record; the column `record` says of what: `design`, `loop`, `result`, `computed` or
`reading` (of a visit or of a pressure test, see `pressure_tests.ID`). Every row names its job
(folder, path, job, stage, day, designer, contractor), so that no query needs a join for them.
Numbers of loops and readings are in SI, temperatures in °C; those of results and computed values
are in the unit in their column `unit`. Rules that do not apply have no row.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator
from datetime import date
from importlib.util import find_spec
from typing import Any

from msgspec import UNSET

from checker import units
from checker.audit import jobs
from checker.audit.jobs import FILLED_IN, READINGS
from checker.audit.papers import JudgedDesign
from checker.outcome.results import SEVERITIES, Limit, Measure, Result
from checker.reading import bounded
from checker.reading.mistakes import Unreadable
from checker.run import batch
from checker.run.batch import BY_THE_DESIGN, Plan
from checker.words.extras import needs

Row = dict[str, Any]

RECORDS = ("design", "loop", "result", "computed", "reading")
JOB = ("record", "folder", "path", "job", "stage", "region", "designer", "contractor", "verdict")
WORDS = (
    "subject",
    "rule",
    "kind",
    "severity",
    "name",
    "text",
    "complaint",
    "unit",
    "source",
    "clause",
    "edition",
    "message",
    "missing",
    "header",
    "room",
    "floor",
    "pipe",
    "pattern",
    "pipe_material",
    "covering_material",
    "screed_material",
)
NUMBERS = ("value", "least", "most", "margin")
READ = {"outside": "°C", "after": "s"}
"""Columns of readings: the air outside on the visit, and the time since the pressure test began."""
LOOP_NUMBERS = {
    "area": "area",
    "spacing": "spacing",
    "length": "length",
    "feeds": "feeds",
    "pipe_outside": "pipe.outside",
    "screed_cover": "floor.screed.cover",
    "insulation": "floor.insulation",
    "covering_resistance": "room.covering.resistance",
    "supply": "supply_temperature",
    "measured_flow": "balance.flow",
}
"""The columns of loops, and the fields or quantities they are taken from; SI."""
LOOP_UNITS = {
    "area": "m²",
    "spacing": "m",
    "length": "m",
    "feeds": "m",
    "pipe_outside": "m",
    "screed_cover": "m",
    "insulation": "m²·K/W",
    "covering_resistance": "m²·K/W",
    "supply": "°C",
    "measured_flow": "m³/s (as recorded when it was balanced)",
}
"""The units of the columns of loops, which are written into the file's schema."""

QUERIES = {
    "Which findings are most frequent, by contractor and year": """\
select contractor, year(designed_on) as year, rule, count(distinct folder) as jobs
from 'archive.parquet'
where record = 'result' and kind = 'fail'
group by all order by jobs desc, contractor, year, rule limit 20""",
    "Which loops get less water than computed, the shortest first": """\
select l.folder, l.subject, round(l.measured_flow * 60000, 3) as balanced_l_min,
  round(c.value, 3) as computed_l_min, round(100 * l.measured_flow * 60000 / c.value) as percent
from 'archive.parquet' l join 'archive.parquet' c using (path, subject)
where l.record = 'loop' and c.record = 'computed' and c.name = 'flow'
  and l.measured_flow * 60000 < c.value
order by percent, l.folder, l.subject limit 20""",
    "Which jobs have the same pipe, screed and contractor as a job that is in trouble": """\
with own as (select * from 'archive.parquet' where record = 'loop' and job = 'Lantern Way 7')
select distinct other.job, other.folder, other.designed_on
from 'archive.parquet' other
join own using (pipe_material, pipe_outside, screed_material, contractor)
where other.record = 'loop' and other.job <> own.job
  and abs(date_diff('day', other.designed_on, own.designed_on)) < 730
order by other.designed_on""",
}
"""Three queries of the table in DuckDB's SQL, which reads the file directly."""


class NotInstalled(Exception):
    """A library that is needed is not installed; the message says what to install."""


def write(
    folder: str,
    output: str,
    plan: Plan = BY_THE_DESIGN,
    excluded: Callable[[str], bool] = lambda path: False,
    workers: int = 1,
) -> tuple[int, list[Unreadable]]:
    """Write every job under a folder as a Parquet file.

    Only a few designs are in memory at a time.

    Args:
        folder: where to look for jobs.
        output: the file to write.
        plan: how the designs are judged.
        excluded: whether the policy excludes a path.
        workers: how many processes judge.

    Returns:
        The number of designs, and the files that could not be read.

    Raises:
        NotInstalled: pyarrow is missing.
        BadRules: the rules cannot be used.
        OSError: the file cannot be written.
    """
    if find_spec("pyarrow") is None:
        raise NotInstalled(f"the archive {needs('parquet')}")
    import pyarrow as arrow
    from pyarrow.parquet import ParquetWriter

    schema = _schema(arrow)
    unreadable: list[Unreadable] = []
    count = 0
    known: dict[str, Row] = {}
    with ParquetWriter(output, schema, compression="zstd") as writer:
        for tables, some, refused in jobs.under(folder, _tables, plan, excluded, workers):
            unreadable += refused
            count += some
            for table in tables:
                writer.write_table(table)
            if tables:
                designs = tables[RECORDS.index("design")].select((*JOB, "designed_on"))
                _remember(known, designs.to_pylist())
        read, refused = _readings(folder, known)
        unreadable += refused
        writer.write_table(_table(arrow, schema, read))
    return count, unreadable


def _tables(papers: list[JudgedDesign]) -> list[Any]:
    """One table for each kind of record; none where there are no designs."""
    import pyarrow as arrow

    schema = _schema(arrow)
    rows = [row for paper in papers for row in _rows(paper)]
    each = ([row for row in rows if row["record"] == record] for record in RECORDS)
    return [_table(arrow, schema, own) for own in each] if rows else []


def _table(arrow: Any, schema: Any, rows: list[Row]) -> Any:
    """Rows of one kind as a table; a column that none of them has takes no memory."""
    used = set().union(*rows)
    columns = [
        arrow.array([row.get(field.name) for row in rows], field.type)
        if field.name in used
        else arrow.nulls(len(rows), field.type)
        for field in schema
    ]
    return arrow.Table.from_arrays(columns, schema=schema)


def _schema(arrow: Any) -> Any:
    """The columns of the table, with their types and units."""
    words = [(name, arrow.string()) for name in (*JOB, *WORDS)]
    numbers = [(name, arrow.float64()) for name in (*NUMBERS, *READ, *LOOP_NUMBERS)]
    counts = [(name, arrow.int32()) for name in (*SEVERITIES, "open", "line")]
    days = [(n, arrow.date32()) for n in ("designed_on", "on", "complaint_on", "handed_over")]
    fields = [*words, *days, *numbers, *counts]
    units = {
        **LOOP_UNITS,
        **READ,
        **dict.fromkeys(NUMBERS, "see the column 'unit'; a reading's is SI, °C"),
    }
    return arrow.schema(
        [
            arrow.field(name, kind, metadata={"unit": units[name]} if name in units else None)
            for name, kind in fields
        ]
    )


def _rows(paper: JudgedDesign) -> Iterator[Row]:
    """Every record of one design."""
    job = _job(paper)
    results = paper.report.results_of("fail", "open", "review", "pass")
    fails = [result.severity for result in results if result.kind == "fail"]
    opened = sum(result.kind == "open" for result in results)
    counts = {severity: fails.count(severity) for severity in SEVERITIES}
    yield job | counts | {"record": "design", "subject": "design", "open": opened}
    for loop in paper.ids("loops"):
        yield job | _loop(paper, loop)
    for result in results:
        yield job | _result(result)
    for reading in _tested(paper):
        yield job | reading
    for subject, values in paper.report.computed.items():
        for name, measure in values.items():
            yield job | {"record": "computed", "subject": subject, "name": name} | _value(measure)


def _job(paper: JudgedDesign) -> Row:
    """The columns that name the job, which every record has."""
    design = paper.design
    return {
        "folder": os.path.dirname(design.path),
        "path": design.path,
        "job": paper.report.name,
        "stage": paper.stage,
        "region": design.text("project", "region") or None,
        "designer": design.text("project", "designer") or None,
        "contractor": design.text("project", "contractor") or None,
        "verdict": paper.report.verdict,
        "designed_on": paper.day("project.designed_on"),
    }


def _loop(paper: JudgedDesign, loop: str) -> Row:
    """The record of one loop, without its job."""
    parts = {key: paper.named(loop, key) for key in ("header", "room", "floor", "pipe")}
    numbers = {column: paper.value("loop", name, loop) for column, name in LOOP_NUMBERS.items()}
    return {
        "record": "loop",
        "subject": f"loops.{loop}",
        "pattern": paper.text("loops", loop, "pattern") or None,
        "pipe_material": _texts(paper, "pipes", parts["pipe"], "material"),
        "covering_material": _texts(paper, "rooms", parts["room"], "covering.material"),
        "screed_material": _texts(paper, "floors", parts["floor"], "screed.material"),
        **{key: ", ".join(names) or None for key, names in parts.items()},
        **{name: None if math.isnan(number) else number for name, number in numbers.items()},
    }


def _tested(paper: JudgedDesign) -> Iterator[Row]:
    """The readings of each pressure test as the design states them; SI, °C."""
    tests: Any = paper.design.document.get("pressure_tests", {})
    for name, test in tests.items():
        day = test.get("tested_on")
        for read in test.get("readings") or ():
            known = {
                key: units.parse(read[key], kind) for key, kind in TESTED.items() if key in read
            }
            after = known.pop("at", None)
            for key, value in known.items():
                yield {
                    "record": "reading",
                    "subject": f"pressure_tests.{name}",
                    "name": key,
                    "value": value,
                    "after": after,
                    "on": date.fromisoformat(day) if day else None,
                }


TESTED = {"at": "duration", "pressure": "pressure", "temperature": "temperature"}
"""What a reading of a pressure test has, and the kind of its unit."""


def _texts(paper: JudgedDesign, section: str, names: list[str], key: str) -> str | None:
    """The different texts that these records state under a key, joined; None where there are
    none.
    """
    texts = dict.fromkeys(paper.text(section, name, key) for name in names)
    return ", ".join(text for text in texts if text) or None


def _value(measure: Measure) -> Row:
    missing = measure.missing or None
    return {"value": measure.magnitude, "unit": measure.unit, "missing": missing}


def _result(result: Result) -> Row:
    """The record of one result, without its job."""
    row: Row = {
        "record": "result",
        "subject": result.subject,
        "rule": result.rule,
        "kind": result.kind,
        "severity": result.severity,
        "message": result.message,
        "missing": result.missing or None,
        "line": result.line,
    }
    if isinstance(result.value, Measure):
        row |= {"value": result.value.magnitude, "unit": result.value.unit}
    elif result.value is not UNSET:
        row["text"] = str(result.value)
    if result.margin is not UNSET:
        row["margin"] = result.margin.magnitude
    if result.source is not UNSET:
        source = result.source
        row |= {"source": source.id, "clause": source.clause, "edition": source.edition}
    return row | _bounds(result.limit or Limit())


def _bounds(limit: Limit) -> Row:
    """The ends of a limit, as far as it has them."""
    if limit.between is not UNSET:
        least, most = limit.between
        return {"least": least.magnitude, "most": most.magnitude}
    row: Row = {}
    if limit.at_least is not UNSET:
        row["least"] = limit.at_least.magnitude
    if limit.at_most is not UNSET:
        row["most"] = limit.at_most.magnitude
    return row


def _remember(known: dict[str, Row], designs: list[Row]) -> None:
    """Keep the job of each folder for its readings, preferring the design as it was laid."""
    for row in designs:
        if row["stage"] == jobs.INSTALLED or row["folder"] not in known:
            known[row["folder"]] = row


def _job_of(known: dict[str, Row], folder: str) -> Row:
    """The job of a file in this folder: that of the nearest folder above it with a design."""
    while folder not in known:
        above = os.path.dirname(folder)
        if above == folder:
            return {}
        folder = above
    return known[folder]


def _readings(folder: str, known: dict[str, Row]) -> tuple[list[Row], list[Unreadable]]:
    """The records of all readings under a folder, and what could not be read."""
    rows: list[Row] = []
    unreadable: list[Unreadable] = []
    for here, folders, names in os.walk(folder):
        folders.sort()
        for name in sorted(names):
            if not name.endswith((READINGS, FILLED_IN)) or name.startswith("."):
                continue
            path = batch.shown(os.path.join(here, name))
            try:
                taken = jobs.readings_of(path, jobs.content_of_readings(os.path.join(here, name)))
            except OSError as error:
                words = f"The file cannot be read: {bounded.why(error)}."
                unreadable.append(Unreadable(path, 1, 1, words))
                continue
            except jobs.NoJob as refused:
                unreadable += refused.problems
                continue
            job = _job_of(known, os.path.dirname(path))
            where = job | {"record": "reading", "folder": os.path.dirname(path), "path": path}
            where |= {
                "complaint": taken.complaint or None,
                "complaint_on": taken.events.get("complaint"),
                "handed_over": taken.events.get("handed_over"),
            }
            rows += [
                where
                | {
                    "subject": r.subject,
                    "name": r.name,
                    "value": r.value,
                    "on": r.on.date(),
                    "outside": taken.outside.get(r.on),
                }
                for r in taken.taken
            ]
    return rows, unreadable
