"""Verdicts in words and colours, shared by all reports for people."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from checker.outcome.report import DesignReport
from checker.outcome.results import Question, Result, Severity, Verdict
from checker.outcome.runs import Totals

ASKS = {
    "design": "May it be laid?",
    "laid": "May the screed be poured?",
    "screeded": "May it be heated?",
    "heated": "May it be covered?",
    "installed": "May it be handed over?",
}
"""The question of each stage."""

STYLES = {"hold": "bold red", "unproven": "bold blue", "release": "bold green"}
"""The style of each verdict, as rich names it."""

ORDER: tuple[Verdict, ...] = ("hold", "unproven", "release")
"""From the gravest down."""


def worst(totals: Totals) -> str:
    """The worst verdict of a run.

    Args:
        totals: the counts over all designs.

    Returns:
        `hold`, `unproven` or `release`; that nothing was judged where there is no design.
    """
    if totals.held:
        return "hold"
    if totals.unproven:
        return "unproven"
    return "release" if totals.designs else "nothing judged"


_ANSWERS = {
    "hold": "Not as it is.",
    "unproven": "That is not proven.",
    "release": "Nothing was found against it.",
}


def sentence(design: DesignReport) -> str:
    """The stage's question, the answer, and how many rules it is based on.

    Args:
        design: its report.

    Returns:
        Two or more sentences; also that there is no loop, and how many cells could not be read.
    """
    done = design.judged
    rules = f"{done.done} of {done.of} rules judged."
    loops = " The design has no loop." if design.loopless else ""
    if design.unread:
        count = len(design.unread)
        loops += f" {count} cell{'s' * (count > 1)} of its sheet could not be read."
    return f"{ASKS[design.stage]} {_ANSWERS[design.verdict]} {rules}{loops}"


def to_look_at(results: Iterable[Result]) -> list[Result]:
    """Reviews that the stage asks for and nobody has answered.

    Args:
        results: of one design.

    Returns:
        Those reviews, in the same order.
    """
    return [r for r in results if r.kind == "review" and not r.due and not answered(r)]


def looked_at(results: Iterable[Result]) -> list[Result]:
    """Reviews that somebody answered.

    Args:
        results: of one design.

    Returns:
        Those reviews, in the same order, whatever the answer was.
    """
    return [r for r in results if r.kind == "review" and answered(r)]


def answered(result: Result) -> bool:
    """Whether somebody looked, and what it was about has not changed since.

    Args:
        result: of any kind.

    Returns:
        False also where it must be looked at once more.
    """
    return bool(result.answer) and not result.answer.again  # type: ignore[union-attr]


def later(results: Iterable[Result]) -> list[str]:
    """Reviews that a later stage asks for.

    Args:
        results: of one design.

    Returns:
        A line for each stage, in their order, with its rules.
    """
    found: dict[str, dict[str, None]] = {}
    for result in results:
        if result.kind == "review" and result.due and not answered(result):
            found.setdefault(result.due, {})[result.rule] = None
    order = sorted(found.items(), key=lambda one: [*ASKS].index(one[0]))
    return [f"from stage {stage} on: {', '.join(rules)}" for stage, rules in order]


class Turn(NamedTuple):
    """Results of one rule that change at the same value of one datum.

    Attributes:
        field: the path of the datum.
        rule: its id.
        title: of the rule.
        subjects: whose results, as reports name them.
        words: where they pass, such as `up to 0.13 m²·K/W`.
    """

    field: str
    rule: str
    title: str
    subjects: tuple[str, ...]
    words: str


def turns(results: Iterable[Result]) -> list[Turn]:
    """Where results that depend on one datum change; those that change alike are joined.

    Args:
        results: of one design.

    Returns:
        One for each datum, rule and value, in the order of the results; none for results that
        depend on more than one datum.
    """
    together: dict[tuple[str, str, str], list[Result]] = {}
    for one in results:
        if one.turns_at:
            words = one.message.rpartition(" It passes ")[2].rstrip(".")
            together.setdefault((one.turns_at.field, one.rule, words), []).append(one)
    return [
        Turn(field, rule, own[0].title, tuple(one.subject for one in own), words)
        for (field, rule, words), own in together.items()
    ]


def turning(results: Iterable[Result]) -> list[str]:
    """Where results that depend on one datum change, a line for each datum.

    Args:
        results: of one design.

    Returns:
        Lines without a full stop, each with all rules and subjects that its datum decides.
    """
    found: dict[str, list[str]] = {}
    for one in turns(results):
        words = f"{one.rule} of {', '.join(one.subjects)} passes {one.words}"
        found.setdefault(one.field, []).append(words)
    return [f"{field}: {'; '.join(words)}" for field, words in found.items()]


class Asked(NamedTuple):
    """Questions about the same field of several records, joined.

    Attributes:
        datum: a field, or a section with the fields of each record.
        subjects: whose (`loops.L1`); none where it is the design's own.
        who: would know it.
        severity: of the gravest result that it decides.
        decides: how many results.
        rules: of which rules.
    """

    datum: str
    subjects: tuple[str, ...]
    who: str
    severity: Severity
    decides: int
    rules: tuple[str, ...]

    @property
    def what(self) -> str:
        """The datum and its subjects."""
        if not self.subjects:
            return self.datum
        tables = {subject.partition(".")[0] for subject in self.subjects}
        (table,) = tables
        ids = ", ".join(subject.removeprefix(f"{table}.") for subject in self.subjects)
        return f"{self.datum} of {table}.{ids}"


def asked(questions: Iterable[Question]) -> list[Asked]:
    """Questions, where those about the same field of several records are joined.

    Args:
        questions: of one design, in the order of how much they decide.

    Returns:
        The joined questions, each at the place of its first; only those of one severity are joined.
    """
    together: dict[tuple[str, str, str], list[Question]] = {}
    for one in questions:
        together.setdefault((*_parted(one.field), one.severity), []).append(one)
    return [_asked(table, field, own) for (table, field, _), own in together.items()]


def _parted(path: str) -> tuple[str, str]:
    """A datum's table and field; no table for the design's own."""
    found = _OF_A_RECORD.match(path)
    return (found[1], found[2]) if found else ("", path)


_OF_A_RECORD = re.compile(
    r"(pipes|floors|rooms|headers|loops|pressure_tests|balance)\..+?\."
    r"((?:screed|covering|flow_setters|pump)\.[a-z_]+|[a-z_]+)$"
)


def _asked(table: str, field: str, own: list[Question]) -> Asked:
    datum, subjects = field, tuple(one.field.removesuffix(f".{field}") for one in own)
    if not table:
        fields = ", ".join(own[0].fields)
        datum, subjects = f"{field} ({fields} of each)" if fields else field, ()
    rules = tuple(sorted({rule for one in own for rule in one.rules}))
    severity, decides = own[0].severity, sum(one.decides for one in own)
    return Asked(datum, subjects, own[0].who, severity, decides, rules)
