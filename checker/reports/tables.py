"""Results and computed values as the cells of a table."""

from __future__ import annotations

from checker.outcome.report import DesignReport
from checker.outcome.results import Limit, Measure, Result
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports.loop_parts import named
from checker.reports.sentences import bounded, magnitude, value_text

Cell = str | int | float | None
Row = dict[str, Cell]
"""One row of the table of computed values: a loop."""

_STATED = ("header", "port", "room", "floor", "pipe", "spacing", "area", "length", "feeds")


def rows(design: DesignReport) -> list[Row]:
    """One row for each loop: what it states, then what was computed.

    Args:
        design: its report, made with what it states.

    Returns:
        Cells by column, in units of reports; the columns' names include units. A column is missing
        where a loop has nothing for it.
    """
    found = []
    of_all = dict(zip(OF_ALL, of(design), strict=True))
    for subject, values in design.computed.items():
        table, _, name = subject.partition(".")
        if table != "loops":
            continue
        stated = design.given.get(subject, {})
        row: Row = {**of_all, "loop": name}
        for key in _STATED:
            value = stated.get(key)
            if isinstance(value, Measure):
                number = value.magnitude
                whole = number is not None and kind_of(key) is int
                row[_column(key, value.unit)] = int(number or 0) if whole else number
            elif isinstance(value, str):
                row[key] = value
        for key in ("room", "floor"):
            if "loop_parts" in stated:
                row[key] = ", ".join(named(stated, key)) or None
        row |= {_column(key, value.unit): value.magnitude for key, value in values.items()}
        row["remarks"] = _remarks(design)
        found.append(row)
    return found


def kind_of(name: str) -> type:
    """The type of a column.

    Args:
        name: of the column, with its unit where it has one.

    Returns:
        `str`, `int` or `float`; `float` for a name that is not known.
    """
    if name in _WHOLE:
        return int
    return str if name in _TEXTS else float


OF_ALL = ("design", "path", "verdict", "judged_by")
"""Columns that every table has, with or without rows."""
RESULT = (
    "rule",
    "title",
    "subject",
    "kind",
    "severity",
    "value",
    "unit",
    "words",
    "limit",
    "least",
    "most",
    "margin",
    "margin_unit",
    "source",
    "clause",
    "edition",
    "standing",
    "seen",
    "message",
    "remedy",
    "missing",
    "line",
    "column",
    "fingerprint",
    "waived_by",
    "waived_until",
    "waived_for",
    "state",
    "remarks",
)
"""The columns of a result; the last is what a reader must know about the design's codes and day."""
_WHOLE = frozenset(("port", "line", "column"))
_TEXTS = {*OF_ALL, *RESULT, "loop", "header", "room", "floor", "pipe"} - {
    *("value", "least", "most", "margin"),
    *_WHOLE,
}


def of(design: DesignReport) -> tuple[Cell, ...]:
    """What every row of a design begins with.

    Args:
        design: its report.

    Returns:
        The cells of OF_ALL.
    """
    return design.name, design.path, design.verdict, design.judged_by or None


def cells(result: Result, design: DesignReport) -> tuple[Cell, ...]:
    """One result as a row, behind the cells of its design.

    Args:
        result: one of the design's results.
        design: its report.

    Returns:
        The cells of RESULT: numbers in units of reports, words as the design's reader has them.
    """
    speech = design.speech
    value, margin, source, waived = result.value, result.margin, result.source, result.waived
    least, most = _range(result.limit) if result.limit else (None, None)
    return (
        result.rule,
        result.title,
        result.subject,
        result.kind,
        result.severity,
        magnitude(value),
        value.unit if isinstance(value, Measure) else None,
        value_text(value, speech) or None,
        bounded(result.limit, speech) if result.limit else None,
        least,
        most,
        magnitude(margin),
        margin.unit if margin else None,
        *(
            (source.title, source.clause or None, source.edition or None)
            if source
            else (None, None, None)
        ),
        source.standing if source else None,
        source.seen if source else None,
        result.message,
        result.remedy or None,
        result.missing or None,
        result.line,
        result.column,
        result.fingerprint,
        *((waived.by, waived.until, waived.reason) if waived else (None, None, None)),
        result.state or None,
        _remarks(design),
    )


def troubles(run: Run, totals: Totals, unreadable: list[Unreadable]) -> list[tuple[Cell, ...]]:
    """Rows after the results for what is not a result, so that the table has it too.

    Their `kind` is `unreadable` or `crashed` (a file that was not judged), `waiver` (one that
    expired, is unused or does not count) or `policy` (a setting that is ignored, or that a change
    alters).

    Args:
        run: has what the program failed on, and the policy.
        totals: has problems with waivers.
        unreadable: what could not be read.

    Returns:
        Cells as OF_ALL and RESULT name them.
    """
    found: list[dict[str, Cell]] = [
        {"kind": kind, "path": one.path, "line": one.line, "column": one.column, "message": said}
        for kind, several in (("unreadable", unreadable), ("crashed", run.crashed))
        for one in several
        for said in (one.message,)
    ]
    found += [
        {
            "kind": "waiver",
            "path": use.path,
            "line": use.line,
            "rule": use.rule,
            "subject": use.subject,
            "message": problem,
        }
        for use in totals.waivers
        for problem in use.problems
    ]
    found += [{"kind": "policy", "message": note} for note in run.policy.not_held]
    found += [
        {"kind": "policy", "message": f"The change alters the policy: {line}"}
        for line in run.policy.altered
    ]
    return [tuple(row.get(name) for name in (*OF_ALL, *RESULT)) for row in found]


def _remarks(design: DesignReport) -> str | None:
    return "; ".join(design.remarks) or None


def _range(limit: Limit) -> tuple[float | None, float | None]:
    if limit.between:
        least, most = limit.between
        return magnitude(least), magnitude(most)
    return magnitude(limit.at_least), magnitude(limit.at_most)


def _column(name: str, unit: str) -> str:
    return name if unit == "1" else f"{name} [{unit}]"
