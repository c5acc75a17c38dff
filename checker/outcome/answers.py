"""What people answered who looked: in the place of the question, as long as it is the same one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from msgspec import UNSET
from msgspec.structs import replace

from checker.compute.graph import Graph, Names
from checker.outcome.columns import Findings
from checker.outcome.phrasing import Shown
from checker.outcome.results import Answer, Result
from checker.outcome.whatever import Judged
from checker.rulebook.loading import literal
from checker.rulebook.model import Rule, Rulebook
from checker.words import choices

AS_WANTED, NOT_AS_WANTED = "as wanted", "not as wanted"
BY_A_TEST = frozenset(("test-tight",))
"""Rules that only a further test answers, never a look."""


def answers(judged: Judged, book: Rulebook) -> list[tuple[str, ...]]:
    """Put each design's answers in the place of what they answer; what could not be used, why."""
    rules = {rule.id: number for number, rule in enumerate(book.rules)}
    asides = []
    for row, design in enumerate(judged.tables.designs):
        own = []
        for number, stated in enumerate(design.document.get("seen") or ()):
            why = _one(judged, book, rules, row, stated)
            if why:
                own.append(f"seen[{number + 1}]: {why}")
        asides.append(tuple(own))
    return asides


def _one(
    judged: Judged, book: Rulebook, rules: dict[str, int], design: int, stated: dict[str, Any]
) -> str:
    """Use one answer; why it cannot be used, empty where it can."""
    number = rules.get(stated["rule"])
    if number is None:
        return f"there is no rule '{stated['rule']}'; {choices(stated['rule'], rules)}"
    rule, findings = book.rules[number], judged.findings.get(number)
    row = None if findings is None else _row(findings, design, stated["subject"])
    if findings is None or row is None:
        return f"{rule.id} judges no '{stated['subject']}' in this design"
    before = findings.result(row)
    if before.kind != "review":
        return (
            f"{rule.id} has nothing to look at for {before.subject}; it came out as {before.kind}"
        )
    if rule.id in BY_A_TEST:
        return f"{rule.id} is answered by a further test, with its readings"
    again = " and ".join(_differing(judged.graph, rule, row, stated.get("values") or {}))
    answer = Answer(
        stated["result"], stated["by"], stated["on"], stated.get("what", ""), again or UNSET
    )
    findings.put(row, _answered(before, answer))
    return ""


def _row(findings: Findings, design: int, subject: str) -> int | None:
    start, end = findings.subjects.ends_of(design)
    names = findings.subjects.names
    return next((row for row in range(start, end) if names[row] == subject), None)


def _answered(before: Result, answer: Answer) -> Result:
    told = f"{answer.by}, {answer.on}: {answer.result}"
    told += f" ({answer.what})." if answer.what else "."
    if answer.again is not UNSET:
        message = f"{before.message} To be looked at again: {answer.again}. Before, {told}"
        return replace(before, answer=answer, message=message)
    if answer.result == NOT_AS_WANTED:
        return replace(before, kind="fail", answer=answer, message=f"Looked at by {told}")
    message = f"{before.message} Looked at by {told}"
    return replace(before, answer=answer, message=message, remedy="")


def _differing(graph: Graph, rule: Rule, row: int, values: dict[str, str]) -> Iterator[str]:
    """What is not as it was when it was looked at."""
    for name, text in values.items():
        column = rule.value if name == "value" else name
        described = Names().describe(rule.subject, column)
        if described is None:
            yield f"'{name}' is no value of a {rule.subject}"
            continue
        try:
            then = literal(text, described)
        except ValueError as error:
            yield f"{name}: {error}"
            continue
        now = graph.column(rule.subject, column).values[row]
        if np.isnan(now):
            yield f"{name} was {text} and is not known now"
            continue
        shown = Shown(described)
        was, is_now = map(shown.words, shown.numbers(np.array([then, now])))
        if was != is_now:
            yield f"{name} was {was} and is {is_now}"
