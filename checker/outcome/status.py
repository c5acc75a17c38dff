"""The gate's answer: a run's exit status and why, in a sentence."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from checker.outcome.results import SEVERITIES
from checker.outcome.runs import Totals
from checker.words import how_many

CLEAR, FOUND, UNUSABLE, FAILED = 0, 1, 2, 3
"""Nothing that counts; something does; the call or a design cannot be used; the program failed."""


class Answer(Struct, frozen=True):
    """An exit status, and what makes it so."""

    status: int = CLEAR
    why: str = ""

    @property
    def line(self) -> str:
        """The first and the last line of a report for people."""
        return f"exit {self.status}: {self.why}"


class Held(Struct, frozen=True):
    """The counts of designs that are held to the same, and what counts among them.

    threshold: the mildest severity that counts, or 'never'; demanded: rules that must not be open;
    allow_unproven: whether what is only open or unanswered passes, but for what was judged before.
    """

    totals: Totals
    threshold: str
    demanded: tuple[str, ...] = ()
    allow_unproven: bool = False

    @property
    def severities(self) -> tuple[str, ...]:
        """The severities that count."""
        if self.threshold == "never":
            return ()
        return SEVERITIES[: SEVERITIES.index(self.threshold) + 1]


def answer(
    groups: Iterable[Held],
    *,
    unreadable: int = 0,
    crashed: int = 0,
    nothing: str = "",
    nothing_to_do: str = "",
) -> Answer:
    """The highest of 3, 2 and 1 that something asks for, and all that does.

    unreadable, crashed: how many files; nothing: why nothing was judged where that is a mistake;
    nothing_to_do: why, where it is none.
    """
    held = list(groups)
    found = _found(held)
    said = []
    if crashed:
        said.append(f"the program itself failed on {how_many(crashed, 'design')}")
    if unreadable:
        said.append(f"{how_many(unreadable, 'file')} could not be read")
    if nothing:
        said.append(f"nothing was judged: {nothing}")
    said += found
    status = FAILED if crashed else UNUSABLE if unreadable or nothing else FOUND if found else CLEAR
    if said:
        return Answer(status, "; ".join(said))
    if nothing_to_do:
        return Answer(CLEAR, f"nothing to judge: {nothing_to_do}")
    return Answer(CLEAR, _clear(held))


def _found(held: list[Held]) -> list[str]:
    """What was found that counts, gravest first."""
    counts: dict[tuple[str, str], int] = {}
    designs = 0
    for group in held:
        for severity in group.severities:
            for state, of_severity in group.totals.standing.items():
                if severity in of_severity:
                    key = (state, severity)
                    counts[key] = counts.get(key, 0) + of_severity[severity]
        designs += sum(group.totals.gravest.get(severity, 0) for severity in group.severities)
    said = []
    if counts:
        each = [
            f"{counts[state, severity]} {f'{state} {severity}'.strip()}"
            for severity in SEVERITIES
            for state in ("", "new", "worse")
            if (state, severity) in counts
        ]
        said.append(f"{', '.join(each)} in {how_many(designs, 'design')}")
    said += _unproven(held)
    opened = {
        rule: sum(group.totals.open_of.get(rule, 0) for group in held if rule in group.demanded)
        for group in held
        for rule in group.demanded
    }
    if any(opened.values()):
        each = [f"{rule} ({count})" for rule, count in sorted(opened.items()) if count]
        said.append(f"open for want of data: {', '.join(each)}")
    return said


def _unproven(held: list[Held]) -> list[str]:
    """What is open or unanswered and counts, and designs without a loop."""
    asked: dict[str, int] = {}
    loopless = unread = 0
    for group in held:
        totals = group.totals
        for severity in group.severities:
            count = (totals.worse if group.allow_unproven else totals.asked).get(severity, 0)
            asked[severity] = asked.get(severity, 0) + count
        loopless += totals.loopless * bool(group.severities)
        unread += totals.unread * bool(group.severities)
    each = [f"{count} {severity}" for severity, count in asked.items() if count]
    said = [f"{' and '.join(each)} open or not looked at"] if each else []
    said += [f"{how_many(loopless, 'design')} without a loop"] if loopless else []
    return said + ([f"cells not read in {how_many(unread, 'design')}"] if unread else [])


def _clear(held: list[Held]) -> str:
    designs = sum(group.totals.designs for group in held)
    thresholds = list(dict.fromkeys(group.threshold for group in held))
    if thresholds == ["never"]:
        return f"{how_many(designs, 'design')}; no fail counts (fail-on never)"
    named = " or ".join(one for one in thresholds if one != "never") or "major"
    known = sum(sum(group.totals.known.values()) for group in held)
    beside = f"; {known} known and no worse" if known else ""
    return f"nothing at or above {named} in {how_many(designs, 'design')}{beside}"
