"""The few ways in which a rule came out, and what the results of each have in common."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import UNSET, UnsetType

from checker.outcome.phrasing import NEAREST, NO_LIMIT, Shown, bare, limit, limit_words, told_apart
from checker.outcome.results import (
    BOUND_GAPS,
    GAP_MARGIN,
    GAP_MISSING,
    GAP_TEXT,
    GAP_VALUE,
    GAP_WORD,
    GAP_WORDS,
    KINDS,
    BoundGap,
    Judged,
    Measure,
    Pattern,
    Result,
)
from checker.rulebook.evaluation import (
    ABSENT,
    FAIL,
    NOT_APPLICABLE,
    OPEN,
    PASS,
    REVIEW,
    Held,
    Outcome,
)
from checker.rulebook.model import Rule

MOST_WAYS = 1 << 40
"""So many ways leave room in a number for one more column to tell them apart by."""


class _Bound(NamedTuple):
    """A bound as results tell it, in the unit shown; NO_LIMIT where it is missing.

    numbers: of each row, or one for all of them; gap: what stands for it in a pattern where it
    differs from row to row; apart: for each row a number, the same where one pattern will do:
    with a gap, whether it is missing, else which bound it is.
    """

    numbers: list[float]
    gap: BoundGap | None
    apart: npt.NDArray[Any] | None

    def of(self, row: int) -> int:
        """Where in `numbers` this row's stands."""
        return row if len(self.numbers) > 1 else 0

    def at(self, row: int) -> float:
        """The bound of this row."""
        return self.numbers[self.of(row)]


class Patterns:
    """The patterns of all rows of an outcome.

    broken: a fail in words, with gaps for value, limit and bound.
    """

    def __init__(self, outcome: Outcome, shown: Shown, broken: str) -> None:
        self.outcome = outcome
        self.rule = outcome.rule
        self.shown = shown
        self.broken = broken
        lacks = (outcome.kinds == REVIEW) | (outcome.reasons >= 0)
        self._early = lacks & ~outcome.due & np.isin(outcome.kinds, (REVIEW, NOT_APPLICABLE))
        """Rows that the job's stage does not ask for yet."""
        gaps = iter(BOUND_GAPS)
        self._bounds = [_bounds_told(held, shown, gaps) for held in outcome.held]
        self._ways = self._numbered()

    def ways(self) -> Iterator[list[int]]:
        """For each way in which the rule came out, its rows."""
        for way in np.unique(self._ways).tolist():
            yield np.flatnonzero(self._ways == way).tolist()

    def _numbered(self) -> npt.NDArray[np.int64]:
        """For each row a number; rows of one came out alike but for numbers and reasons.

        That is: in kind, governing limit, whether the value is missing, and for each limit in its
        kind and its bounds (`_Bound.apart`).
        """
        outcome = self.outcome
        columns: list[npt.NDArray[Any]] = [
            outcome.kinds,
            outcome.governing + 1,
            np.isnan(outcome.values),
            self._early,
        ]
        for held, bounds in zip(outcome.held, self._bounds, strict=True):
            if held.anywhere:
                columns.append(held.kinds)
                columns += [bound.apart for bound in bounds if bound.apart is not None]
        ways = np.zeros(len(outcome.kinds), dtype=np.int64)
        for column in columns:
            if ways.max() > MOST_WAYS:  # before they are too many for a number
                ways = np.unique(ways, return_inverse=True)[1]
            ways = (int(column.max()) + 1) * ways + column
        return ways

    def of_way(self, rows: list[int]) -> list[Pattern]:
        """The pattern of each of these rows, which are those of one way."""
        first = rows[0]
        differing = [
            (bound.gap, bound.numbers)
            for held, bounds in zip(self.outcome.held, self._bounds, strict=True)
            if held.kinds[first] != ABSENT
            for bound in bounds
            if bound.gap is not None and bound.at(first) != NO_LIMIT
        ]
        pattern = self._pattern(first, gapped=True)
        if not differing:
            return [pattern] * len(rows)
        gaps = [gap for gap, _ in differing]
        columns = [[numbers[row] for row in rows] for _, numbers in differing]
        bounds = list(zip(*columns, strict=True))
        made = {own: pattern.bounded(zip(gaps, own, strict=True)) for own in set(bounds)}
        return [made[own] for own in bounds]

    def told_apart(
        self, rows: list[int], numbers: list[float], words: list[bytes]
    ) -> Iterator[tuple[int, bytes, Pattern]]:
        """Fails of one way whose value reads like the limit: row, value and pattern that tell more.

        numbers and words: the values of all rows.
        """
        governing = self.outcome.governing[rows[0]]
        comparison = self.outcome.held[governing].limit.comparison
        if not self.shown.plain or comparison not in ("at_most", "at_least"):
            return
        (bound,) = self._bounds[governing]
        figures = self.shown.in_words(bound.numbers)
        for row in rows:
            if words[row] == figures[bound.of(row)]:
                value, limit = told_apart(comparison, numbers[row], bound.at(row), self.shown)
                yield row, value.encode(), self._pattern(row, broken_limit=limit)

    def _pattern(self, row: int, *, gapped: bool = False, broken_limit: str = "") -> Pattern:
        """What this row and those that came out like it have in common.

        gapped: bounds that differ from row to row are gaps.
        """
        rule, shown, outcome = self.rule, self.shown, self.outcome
        kind, governing = outcome.kinds[row], outcome.governing[row]
        told = [tuple([_told(bound, row, gapped) for bound in own]) for own in self._bounds]
        prototype: dict[str, Any] = {"severity": rule.severity}
        if governing >= 0:
            held = outcome.held[governing].limit
            words = broken_limit or limit_words(held.comparison, told[governing], shown)
            prototype["severity"] = held.severity
            prototype["source"] = held.source
            prototype["limit"] = limit(held.comparison, told[governing], shown)
            if kind in (PASS, FAIL) and held.comparison != "one_of":
                prototype["margin"] = Measure(GAP_MARGIN, shown.difference_unit)
        message = GAP_WORDS
        if kind == PASS:
            message = f"{GAP_WORDS}{shown.end}; {words}."
        elif kind == FAIL:
            value, bound = f"{GAP_WORDS}{shown.end}", bare(held.comparison, words)
            message = self.broken.format(value=value, limit=words, bound=bound)
            prototype["remedy"] = rule.remedy
        elif kind == OPEN:
            message = f"Cannot be judged: {GAP_WORDS}."
            prototype["remedy"] = "State what is missing, or correct what is out of range."
            prototype["missing"] = GAP_MISSING
            if governing < 0:  # whether the rule applies at all is what is not known
                prototype["caution"] = UNSET
        elif kind == REVIEW:
            prototype["remedy"] = rule.remedy
        if not np.isnan(outcome.values[row]):
            plain = Measure(GAP_VALUE, shown.unit)
            prototype["value"] = plain if shown.plain else GAP_WORD
        if self._early[row]:
            prototype["due"] = rule.stage
            if kind == NOT_APPLICABLE:
                prototype["caution"] = UNSET
        if kind != NOT_APPLICABLE:
            prototype["also"] = self._also(row, told)
        return Pattern.of(result_of(rule, KINDS[kind], message, **prototype))

    def _also(self, row: int, told: list[tuple[float, ...]]) -> tuple[Judged, ...] | UnsetType:
        """The limits that count for this row besides the governing one."""
        others = []
        for number, (held, bounds) in enumerate(zip(self.outcome.held, told, strict=True)):
            own = held.kinds[row]
            if number == self.outcome.governing[row] or own == ABSENT:
                continue
            comparison = held.limit.comparison
            review = held.limit.words if held.limit.review else ""
            words = review or limit_words(comparison, bounds, self.shown)
            others.append(
                Judged(
                    KINDS[own],
                    held.limit.severity,
                    held.limit.source,
                    words if own == REVIEW else f"{words}: {_CAME_OUT[own]}.",
                    limit(comparison, bounds, self.shown) if bounds else UNSET,
                )
            )
        return tuple(others) or UNSET


_CAME_OUT = {PASS: "kept", FAIL: "not kept", OPEN: "cannot be judged"}


def result_of(rule: Rule, kind: str, message: str, **members: Any) -> Result:
    """A result of the rule; a prototype where its subject and place are not given."""
    given = {
        "subject": GAP_TEXT,
        "line": 0,
        "column": 0,
        "fingerprint": "",
        "severity": rule.severity,
        "caution": rule.caution or UNSET,
    }
    return Result(
        rule=rule.id, kind=kind, title=rule.title, message=message, **{**given, **members}
    )


def _bounds_told(held: Held, shown: Shown, gaps: Iterator[BoundGap]) -> list[_Bound]:
    """The bounds of a limit; of several that a value must all keep, only the one it meets first."""
    bounds = held.bounds
    nearest = NEAREST.get(held.limit.comparison)
    if nearest is not None and len(bounds) > 1:
        bounds = (nearest.reduce(bounds),)
    in_gaps = shown.plain and held.limit.comparison != "one_of"
    return [_bound(bound, shown, gaps if in_gaps else iter(())) for bound in bounds]


def _bound(bound: npt.NDArray[np.float64], shown: Shown, gaps: Iterator[BoundGap]) -> _Bound:
    """A bound, with the next gap where it differs from row to row and there is a gap left."""
    if (bound == bound[0]).all():
        return _Bound(_numbers(bound[:1], shown), None, None)
    gap = next(gaps, None)
    apart = np.unique(bound, return_inverse=True)[1] if gap is None else np.isnan(bound)
    return _Bound(_numbers(bound, shown), gap, apart)


def _numbers(bound: npt.NDArray[np.float64], shown: Shown) -> list[float]:
    return [NO_LIMIT if number != number else number for number in shown.numbers(bound)]


def _told(bound: _Bound, row: int, gapped: bool) -> float:
    number = bound.at(row)
    return bound.gap.number if gapped and bound.gap is not None and number != NO_LIMIT else number
