"""Results and computed values as rows for a spreadsheet or a data frame."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from checker.outcome.results import DesignReport, Limit, Measure, Result
from checker.reports.sentences import bounded, magnitude, told

if TYPE_CHECKING:
    from pandas import DataFrame

Row = dict[str, str | float | None]
"""One row: a result, or a loop."""

_STATED = ("header", "port", "room", "floor", "pipe", "spacing", "area", "length", "feeds")


def rows(design: DesignReport, table: str) -> list[Row]:
    """A design's rows of a table."""
    if table == "computed":
        return _loops(design)
    return [_of(design) | _result(result) for result in design.results]


def frame(found: list[Row]) -> DataFrame:
    """The rows as a data frame: texts as strings, numbers as floats, what is missing as such."""
    import pandas

    names = [*dict.fromkeys(name for row in found for name in row)] or [*_OF]
    made: dict[str, Any] = {}
    array: Any = pandas.array  # its stubs want each kind on its own
    for name in names:
        values = [row.get(name) for row in found]
        made[name] = array(values, dtype=_kind(name, values))
    return pandas.DataFrame(made)


def _kind(name: str, values: list[str | float | None]) -> str:
    if name in _WORDS or any(isinstance(value, str) for value in values):
        return "string"
    return "Int64" if name in ("port", "line", "column") else "Float64"


_WORDS = frozenset(
    (
        "design",
        "path",
        "verdict",
        "judged_by",
        "rule",
        "title",
        "subject",
        "kind",
        "severity",
        "words",
        "unit",
        "limit",
        "margin_unit",
        "source",
        "clause",
        "edition",
        "standing",
        "seen",
        "message",
        "remedy",
        "missing",
        "fingerprint",
        "waived_by",
        "waived_until",
        "waived_for",
        "state",
        "loop",
        "header",
        "room",
        "floor",
        "pipe",
    )
)
"""Columns of text, though all of a run may be empty."""


_OF = ("design", "path", "verdict", "judged_by")
"""Columns that every table has, if there is a row or not."""


def _of(design: DesignReport) -> Row:
    held = (design.name, design.path, design.verdict, design.judged_by or None)
    return dict(zip(_OF, held, strict=True))


def _result(result: Result) -> Row:
    value, margin, source = result.value, result.margin, result.source
    least, most = _range(result.limit or Limit())
    return {
        "rule": result.rule,
        "title": result.title,
        "subject": result.subject,
        "kind": result.kind,
        "severity": result.severity,
        "value": magnitude(value),
        "unit": value.unit if isinstance(value, Measure) else None,
        "words": told(value) or None,
        "limit": bounded(result.limit) if result.limit else None,
        "least": least,
        "most": most,
        "margin": magnitude(margin),
        "margin_unit": margin.unit if margin else None,
        "source": source.title if source else None,
        "clause": source.clause or None if source else None,
        "edition": source.edition or None if source else None,
        "standing": source.standing if source else None,
        "seen": source.seen if source else None,
        "message": result.message,
        "remedy": result.remedy or None,
        "missing": result.missing or None,
        "line": float(result.line),
        "column": float(result.column),
        "fingerprint": result.fingerprint,
        "waived_by": result.waived.by if result.waived else None,
        "waived_until": result.waived.until if result.waived else None,
        "waived_for": result.waived.reason if result.waived else None,
        "state": result.state or None,
    }


def _range(limit: Limit) -> tuple[float | None, float | None]:
    if limit.between:
        least, most = limit.between
        return magnitude(least), magnitude(most)
    return magnitude(limit.at_least), magnitude(limit.at_most)


def _loops(design: DesignReport) -> list[Row]:
    """One row a loop: what is stated of it, then what was computed, units in the columns' names."""
    found = []
    for subject, values in design.computed.items():
        table, _, name = subject.partition(".")
        if table != "loops":
            continue
        stated = design.given.get(subject, {})
        row = _of(design) | {"loop": name}
        for key in _STATED:
            value = stated.get(key)
            if isinstance(value, Measure):
                row[_column(key, value.unit)] = value.magnitude
            elif isinstance(value, str):
                row[key] = value
        row |= {_column(key, value.unit): value.magnitude for key, value in values.items()}
        found.append(row)
    return found


def _column(name: str, unit: str) -> str:
    return name if unit == "1" else f"{name} [{unit}]"
