"""The answer of a run: its exit status and the reason, in a sentence."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from checker.outcome.results import SEVERITIES
from checker.outcome.runs import Totals
from checker.words import how_many

CLEAR, FOUND, UNUSABLE, FAILED = 0, 1, 2, 3
"""0: nothing that counts; 1: something does; 2: the call or a design cannot be used; 3: the program
failed.
"""


class Answer(Struct, frozen=True):
    """An exit status, and the reason for it."""

    status: int = CLEAR
    why: str = ""

    @property
    def line(self) -> str:
        """The first and the last line of a report for people."""
        return f"exit {self.status}: {self.why}"


class GateCounts(Struct, frozen=True):
    """The counts of designs with the same policy, and what counts among them.

    Attributes:
        totals: the counts.
        threshold: the mildest severity that counts, or 'never'.
        demanded: rules that must not be open.
        allow_unproven: whether designs with only open or unanswered results pass, except where
            these were judged before.
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
    groups: Iterable[GateCounts],
    *,
    unreadable: int = 0,
    crashed: int = 0,
    nothing: str = "",
    nothing_to_do: str = "",
) -> Answer:
    """Give the exit status of a run, the highest that applies, with all reasons for it.

    Args:
        groups: the counts of the designs, those under one policy together.
        unreadable: the number of files that cannot be read.
        crashed: the number of files on which the program failed.
        nothing: why nothing was judged, where that is a mistake; empty otherwise.
        nothing_to_do: why nothing was judged, where that is no mistake; empty otherwise.

    Returns:
        The status, and its reasons in one sentence without a full stop.
    """
    counted = list(groups)
    found = _found(counted)
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
    return Answer(CLEAR, _clear(counted))


def _found(counted: list[GateCounts]) -> list[str]:
    """The findings that count, gravest first."""
    counts: dict[tuple[str, str], int] = {}
    designs = 0
    for group in counted:
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
    said += _unproven(counted)
    opened = {
        rule: sum(group.totals.open_of.get(rule, 0) for group in counted if rule in group.demanded)
        for group in counted
        for rule in group.demanded
    }
    if any(opened.values()):
        each = [f"{rule} ({count})" for rule, count in sorted(opened.items()) if count]
        said.append(f"open because data are missing: {', '.join(each)}")
    return said


def _unproven(counted: list[GateCounts]) -> list[str]:
    """What is open or unanswered and counts, and designs without a loop."""
    asked: dict[str, int] = {}
    loopless = unread = 0
    for group in counted:
        totals = group.totals
        for severity in group.severities:
            count = (totals.worse if group.allow_unproven else totals.asked).get(severity, 0)
            asked[severity] = asked.get(severity, 0) + count
        loopless += totals.loopless * bool(group.severities)
        unread += totals.unread * bool(group.severities)
    each = [f"{count} {severity}" for severity, count in asked.items() if count]
    said = [f"{' and '.join(each)} open or not reviewed"] if each else []
    said += [f"{how_many(loopless, 'design')} without a loop"] if loopless else []
    return said + ([f"cells not read in {how_many(unread, 'design')}"] if unread else [])


def _clear(counted: list[GateCounts]) -> str:
    """The reason of a run in which nothing counts."""
    designs = sum(group.totals.designs for group in counted)
    thresholds = list(dict.fromkeys(group.threshold for group in counted))
    if thresholds == ["never"]:
        return f"{how_many(designs, 'design')}; no fail counts (fail-on never)"
    named = " or ".join(one for one in thresholds if one != "never") or "major"
    known = sum(sum(group.totals.known.values()) for group in counted)
    beside = f"; {known} known and no worse" if known else ""
    return f"nothing at or above {named} in {how_many(designs, 'design')}{beside}"
