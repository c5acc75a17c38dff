"""Answers of people to reviews: each replaces its question while what was judged is unchanged."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any, NamedTuple

import numpy as np
from msgspec import UNSET
from msgspec.json import encode
from msgspec.structs import replace

from checker.compute.meanings import Names
from checker.design.tables import Design
from checker.outcome.applicable import JudgingOptions
from checker.outcome.columns import Findings
from checker.outcome.dated import recorded_days
from checker.outcome.phrasing import Shown
from checker.outcome.results import Answer, Result
from checker.outcome.whatever import Judged
from checker.reading.digests import sha256
from checker.reading.documents import column_of, line_of
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Rule
from checker.words import choices

AS_WANTED, NOT_AS_WANTED = "as wanted", "not as wanted"
NOT_ACCEPTED = "who reviews this has not accepted the answer"
OLDER = "it is older than the design ({}), and has no 'values' that say what it was about"
MUCH_OLDER = (
    "it is more than half a year older than all else that has a date here ({}), and neither "
    "'values' nor 'designed_on' of the project says what it was about"
)
HALF_A_YEAR = timedelta(days=180)
"""How long before all other records an answer may have been given; common practice, no source."""
AHEAD = "its day is after that of this check"
BY_A_TEST = frozenset(("test-tight",))
"""Rules that only a further test can answer, never an inspection."""


class _Stated(NamedTuple):
    """One answer as it was typed.

    Attributes:
        design: the row of its design.
        where: its path in the file.
        place: of it in the file: path, line and column, from 1.
        says: its keys and values.
    """

    design: int
    where: str
    place: tuple[str, int, int]
    says: dict[str, Any]


def digest(says: dict[str, Any]) -> str:
    """Give the digest of an answer, by which a register accepts it.

    Args:
        says: the answer as it was typed, as plain data; the order of its keys does not matter.

    Returns:
        64 hexadecimal digits.
    """
    return sha256(encode(says, order="sorted")).hexdigest()


def digests(design: Design) -> dict[tuple[str, str], str]:
    """Give the digests of the answers that would count for a design.

    Args:
        design: as it was read, with the answers in it and beside it.

    Returns:
        By rule and subject ('loops.L1'), the digest of the answer with the latest day; of one day
        the last of a file in the order of days (`_in_turn`).
    """
    stated = _in_turn(design)
    return {(one.says["rule"], one.says["subject"]): digest(one.says) for one in stated}


def answers(judged: Judged, book: Rulebook, judging: JudgingOptions) -> list[tuple[str, ...]]:
    """Replace reviews by the answers to them.

    Of several answers to one question the one with the latest day counts, of one day the last one
    of a file whose answers are in the order of their days, and else one that is not as wanted
    (`_in_turn`). An "as wanted" dated after the day of the check does not count.

    Args:
        judged: the designs with their results; these are changed.
        book: the rules.
        judging: has the answers that count, and the day of the check.

    Returns:
        For each design, why answers could not be used.
    """
    rules = {rule.id: number for number, rule in enumerate(book.rules)}
    today = None if judging.today is None else judging.today.isoformat()
    asides = []
    for design in judged.tables.designs:
        own = []
        stated = _in_turn(design)
        before: dict[tuple[int, int], Result] = {}
        for one in stated:
            counts = judging.accepted is None or digest(one.says) in judging.accepted
            ahead = today is not None and one.says["on"] > today
            why = _use(judged, book, rules, one, before, counts=counts, ahead=ahead)
            if why:
                path, line, column = one.place
                own.append(f"{path}:{line}:{column}: {one.where}: {why}")
        asides.append(tuple(own))
    return asides


def _in_turn(design: Design) -> list[_Stated]:
    """The answers in the order of their days.

    Of one day nobody knows which came last, but where a file has its answers in the order of their
    days. Otherwise, and between two files, those come last that are not as wanted.
    """
    stated = [*_stated(design)]
    days: dict[str, list[str]] = {}
    for one in stated:
        days.setdefault(one.place[0], []).append(one.says["on"])
    in_order = {path for path, own in days.items() if own == sorted(own)}
    ends: dict[tuple[str, ...], bool] = {}
    for number, one in enumerate(stated):
        ends[_same(one, in_order, number)] = one.says["result"] == NOT_AS_WANTED
    keys = [
        (one.says["on"], ends[_same(one, in_order, number)]) for number, one in enumerate(stated)
    ]
    return [stated[number] for number in sorted(range(len(stated)), key=keys.__getitem__)]


def _same(stated: _Stated, in_order: set[str], number: int) -> tuple[str, ...]:
    """What answers to one question on one day share, where their order says which is the last."""
    path, says = stated.place[0], stated.says
    if path not in in_order:
        return (path, str(number))
    return (path, says["rule"], says["subject"], says["on"])


def _stated(design: Design) -> Iterator[_Stated]:
    """The answers to a design: its own, then those in the file beside it."""
    files = [(design.path, design.document.get("seen") or ())]
    if design.beside is not None:
        files.append((design.beside.path, design.beside.seen))
    for path, seen in files:
        for number, says in enumerate(seen):
            place = path, line_of(says.place), column_of(says.place)
            yield _Stated(design.row, f"seen[{number + 1}]", place, says)


def _use(
    judged: Judged,
    book: Rulebook,
    rules: dict[str, int],
    stated: _Stated,
    asked: dict[tuple[int, int], Result],
    *,
    counts: bool,
    ahead: bool,
) -> str:
    """Use one answer.

    Args:
        judged: the designs with their results; these are changed.
        book: the rules.
        rules: the number of each rule, by id.
        stated: the answer.
        asked: the results before any answer, by rule and row; added to.
        counts: whether the answer is accepted.
        ahead: whether it is dated after the day of the check.

    Returns:
        Why it cannot be used; empty where it is.
    """
    says = stated.says
    number = rules.get(says["rule"])
    if number is None:
        return f"there is no rule '{says['rule']}'; {choices(says['rule'], rules)}"
    rule, findings = book.rules[number], judged.findings.get(number)
    row = None if findings is None else _row(findings, stated.design, says["subject"])
    if findings is None or row is None:
        return f"{rule.id} judges no '{says['subject']}' in this design"
    earlier = asked.get((number, row)) and findings.result(row).answer
    before = asked.setdefault((number, row), findings.result(row))
    if before.kind != "review":
        return f"{rule.id} has nothing to review for {before.subject}; its result is {before.kind}"
    if rule.id in BY_A_TEST:
        return f"{rule.id} is answered by a further test, with its readings"
    if ahead and says["result"] == AS_WANTED:
        return AHEAD
    values = says.get("values") or {}
    again = " and ".join(_differing(judged, stated.design, rule, row, values))
    designed_on = judged.tables.designs[stated.design].text("project", "designed_on")
    if not values and says["on"] < designed_on:
        again = OLDER.format(designed_on)
    if not values and not designed_on:
        recorded = recorded_days(judged.tables, stated.design)
        first = date.fromordinal(int(recorded.min())) if len(recorded) else None
        if first is not None and says["on"] < (first - HALF_A_YEAR).isoformat():
            again = MUCH_OLDER.format(first)
    path, line, column = stated.place
    answer = Answer(
        says["result"],
        says["by"],
        says["on"],
        says.get("what", ""),
        again or (UNSET if counts else NOT_ACCEPTED),
        path,
        line,
        column,
    )
    findings.put(row, _answered(before, answer, earlier or None))
    return ""


def _row(findings: Findings, design: int, subject: str) -> int | None:
    start, end = findings.subjects.ends_of(design)
    names = findings.subjects.names
    return next((row for row in range(start, end) if names[row] == subject), None)


def _answered(asked: Result, answer: Answer, earlier: Answer | None) -> Result:
    """A result with its answer; earlier: the answer that this one replaces."""
    words = _in_words(answer)
    past = f" Before, {_in_words(earlier)}" if earlier else ""
    if answer.again is not UNSET:
        message = f"{asked.message} To be reviewed again: {answer.again}. Before, {words}{past}"
        return replace(asked, answer=answer, message=message)
    if answer.result == NOT_AS_WANTED:
        return replace(asked, kind="fail", answer=answer, message=f"Reviewed by {words}{past}")
    message = f"{asked.message} Reviewed by {words}{past}"
    return replace(asked, answer=answer, message=message, remedy="")


def _in_words(answer: Answer) -> str:
    what = f" ({answer.what})" if answer.what else ""
    return f"{answer.by}, {answer.on}: {answer.result}{what}."


def _differing(
    judged: Judged, design: int, rule: Rule, row: int, values: dict[str, str]
) -> Iterator[str]:
    """What has changed since the answer was given."""
    from checker.rulebook.literals import literal  # imports what most runs do not need

    for name, text in values.items():
        column = rule.value if name == "value" else name
        described = Names().describe(rule.subject, column)
        if described is None:
            yield f"'{name}' is not a value of a {rule.subject}"
            continue
        try:
            then = literal(text, described)
        except ValueError as error:
            yield f"{name}: {error}"
            continue
        now = judged.graph.column(rule.subject, column).values[row]
        if np.isnan(now):
            yield f"{name} was {text} and is not known now"
            continue
        shown = Shown(described, judged.speech[design])
        was, is_now = map(shown.words, shown.numbers(np.array([then, now])))
        if was != is_now:
            yield f"{name} was {was} and is {is_now}"
