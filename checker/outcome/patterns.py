"""Groups the outcomes of a rule by their wording: the few ways, and what the results of each
share.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import UNSET

from checker.arrays import Array, Index
from checker.outcome.columns import StatedLimit, StatedOther, Way
from checker.outcome.phrasing import (
    NEAREST,
    NO_LIMIT,
    Bound,
    Phrase,
    Shown,
    Telling,
    bound_phrase,
    limit_phrase,
)
from checker.outcome.results import KINDS, SEVERITIES, Judged, Kind, Pattern, Result, fingerprint_of
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import (
    ABSENT,
    FAIL,
    NOT_APPLICABLE,
    OPEN,
    PASS,
    REVIEW,
    LimitOutcome,
    Outcome,
)

_KINDS = ABSENT + 1

MOST_WAYS = 1 << 40
"""Groups are renumbered before their combined index could exceed this and overflow 64 bits."""


class _StatedBound(NamedTuple):
    """A bound as results state it, in the unit shown; NO_LIMIT where it is missing.

    Attributes:
        numbers: for each row, or one for all.
        differs: the same where it varies by row and is a plain number.
        apart: for each row a number, and how many there are; rows with equal ones can share a way:
            whether the bound is missing, where it varies, else which bound it is. None where all
            rows have the same bound.
    """

    numbers: list[float]
    differs: Bound | None
    apart: tuple[npt.NDArray[Any], int] | None

    def number(self, row: int) -> float:
        """The bound of this row."""
        return self.numbers[row if len(self.numbers) > 1 else 0]

    def at(self, row: int) -> float | Bound:
        """The bound as the way of this row states it."""
        number = self.number(row)
        return number if self.differs is None or number == NO_LIMIT else self.differs


class Ways:
    """The ways of all rows of an outcome.

    Attributes:
        outcome: of one rule.
        rule: the rule.
        telling: how each row's values are shown.
        broken: the words of a fail, with placeholders for value, limit and bound.
        placed: whether the words of a failing value include its unit, because a place follows.
    """

    def __init__(
        self, outcome: Outcome, telling: Telling, broken: str, *, placed: bool = False
    ) -> None:
        self.outcome = outcome
        self.rule = outcome.rule
        self.telling = telling
        self.broken = broken
        self.placed = placed
        none = np.zeros(len(outcome.kinds), dtype=bool)
        self._early = none
        """Rows that the job's stage does not ask for yet."""
        undue = ~outcome.due
        if np.count_nonzero(undue):
            lacking = (outcome.kinds == NOT_APPLICABLE) & (outcome.reasons >= 0)
            self._early = undue & ((outcome.kinds == REVIEW) | lacking)
        self._near = none
        """Fails by less than the method can tell."""
        for number, one in enumerate(outcome.limits):
            if one.near is not None:
                self._near = self._near | (one.near & (outcome.governing == number))
        self._bounds = [_stated_bounds(limit_outcome, telling) for limit_outcome in outcome.limits]

    def rows(self) -> Iterator[Index]:
        """For each way its rows."""
        if len(self.outcome.kinds) == 1:
            yield np.zeros(1, dtype=np.intp)
            return
        ways = self._numbered()
        if np.count_nonzero(ways == ways[:1]) == len(ways):
            if len(ways):
                yield np.arange(len(ways))
            return
        order = np.argsort(ways, kind="stable")
        borders = np.flatnonzero(np.diff(ways[order])) + 1
        yield from np.split(order, borders)

    def _numbered(self) -> npt.NDArray[np.int64]:
        """The index of each row's way: rows with the same index differ only in numbers and reasons.

        They have the same kind, the same governing limit, a value or none, and for each limit the
        same kind and bounds (`_StatedBound.apart`).
        """
        outcome = self.outcome
        masks = np.isnan(outcome.values), self._early, self._near
        columns: list[tuple[npt.NDArray[Any], int]] = [
            (outcome.kinds, _KINDS),
            (outcome.governing + 1, len(outcome.limits) + 1),
            *((mask, 2) for mask in masks if np.count_nonzero(mask)),
        ]
        if self.telling.which is not None:
            columns.append((self.telling.which, len(self.telling.shown)))
        for limit_outcome, bounds in zip(outcome.limits, self._bounds, strict=True):
            if limit_outcome.applies_anywhere:
                columns.append((limit_outcome.kinds, _KINDS))
                columns += [bound.apart for bound in bounds if bound.apart is not None]
        ways = np.zeros(len(outcome.kinds), dtype=np.int64)
        most = 1
        for column, values in columns:
            if most > MOST_WAYS:  # before they are too many for a number
                ways = np.unique(ways, return_inverse=True)[1]
                most = len(ways)
            ways = values * ways + column
            most *= values
        return ways

    def with_more_digits(
        self, rows: list[int], numbers: list[float], words: Any
    ) -> Iterator[tuple[int, str, Way]]:
        """Find fails whose value would read like the limit, and word them with more digits.

        Args:
            rows: all rows of one way, which is a fail.
            numbers: the values of all rows of the outcome, in the unit of reports.
            words: the same in words.

        Returns:
            Row, value in more digits, and a way whose limit has more digits too.
        """
        governing = self.outcome.governing[rows[0]]
        comparison = self.outcome.limits[governing].limit.comparison
        shown = self.telling.of(rows[0])
        if not shown.plain or comparison not in ("at_most", "at_least", "between"):
            return
        for bound in self._bounds[governing]:
            figures = shown.in_words(bound.numbers)
            for row in rows:
                if words[row] == figures[row if len(figures) > 1 else 0]:
                    value, limit = shown.distinguishable(numbers[row], bound.number(row))
                    # Of two limits, both keep their usual digits.
                    yield row, value, self.of(row, limit="" if comparison == "between" else limit)

    def of(self, row: int, *, limit: str = "") -> Way:
        """Make the way in which a row came out.

        Args:
            row: of the rule's subject; the first row of a group stands for all of it.
            limit: the governing limit's number in more digits, for a fail whose value would
                otherwise read like the limit; empty for the usual digits.

        Returns:
            A new way, also where an equal one was made before.
        """
        rule, shown, outcome = self.rule, self.telling.of(row), self.outcome
        speech = shown.speech
        kind, governing = outcome.kinds[row], outcome.governing[row]
        stated = [tuple([bound.at(row) for bound in own]) for own in self._bounds]
        members: dict[str, Any] = {"severity": rule.severity}
        words: Phrase = ()
        bound: Phrase = ()
        own: StatedLimit | None = None
        if governing >= 0:
            governing_limit = outcome.limits[governing].limit
            members["severity"] = governing_limit.severity
            members["source"] = governing_limit.source
            if governing_limit.caution:
                members["caution"] = governing_limit.caution
            own = StatedLimit(governing_limit.comparison, stated[governing], shown)
            words = limit_phrase(governing_limit.comparison, stated[governing], shown)
            bound = bound_phrase(governing_limit.comparison, stated[governing], shown)
            if limit:
                bound = (f"{limit}{shown.end}",)
                words = (words[0], *bound)
        message: Phrase = (None,)
        if kind == PASS:
            one_word = own is not None and own.comparison == "one_of" and len(own.bounds) == 1
            kept = (f"{shown.end}, as wanted.",) if one_word else (f"{shown.end}; ", *words, ".")
            message = (None, *kept)
            if rule.of_remedy:
                members["caution"] = UNSET
        elif kind == FAIL:
            end = "" if self.placed else shown.end
            broken = speech.words(self.broken)
            message = _filled(broken, value=(None, end), limit=words, bound=bound)
            members["remedy"] = speech.words(rule.remedy)
            if self._near[row] and rule.uncertainty is not None:
                members["severity"] = max(members["severity"], "minor", key=SEVERITIES.index)
                message = (*message, NEAR.format(speech.words(rule.uncertainty.words)))
        elif kind == OPEN:
            message = ("Cannot be judged: ", None, ".")
            members["remedy"] = "State what is missing, or correct what is out of range."
            if governing < 0:  # whether the rule applies at all is what is not known
                members["caution"] = UNSET
        elif kind == REVIEW:
            members["remedy"] = speech.words(rule.remedy)
        if self._early[row]:
            members["due"] = rule.stage
            members["caution"] = UNSET
        also = () if kind == NOT_APPLICABLE else tuple(self._also(row, stated))
        common = result_of(rule, KINDS[kind], **members)
        differing = [*(own.bounds if own else ())]
        differing += [bound for other in also for bound in other.limit.bounds]
        return Way(
            Pattern.of(common),
            common,
            message,
            own,
            also,
            None if np.isnan(outcome.values[row]) else shown,
            tuple(dict.fromkeys(bound for bound in differing if isinstance(bound, Bound))),
            missing=kind == OPEN,
            spelled={},
        )

    def _also(self, row: int, stated: list[tuple[float | Bound, ...]]) -> Iterator[StatedOther]:
        """The limits that count for this row besides the governing one."""
        shown = self.telling.of(row)
        for number, (limit_outcome, bounds) in enumerate(
            zip(self.outcome.limits, stated, strict=True)
        ):
            own = limit_outcome.kinds[row]
            if number == self.outcome.governing[row] or own == ABSENT:
                continue
            limit = limit_outcome.limit
            words: Phrase = (shown.speech.words(limit.words),)
            if not limit.review:
                words = limit_phrase(limit.comparison, bounds, shown)
            yield StatedOther(
                Judged(KINDS[own], limit.severity, limit.source, ""),
                words if own == REVIEW else (*words, f": {_CAME_OUT[own]}."),
                StatedLimit(limit.comparison, bounds, shown),
            )


NEAR = " That is within the {} that the method can tell, so it counts as minor."
_CAME_OUT = {PASS: "met", FAIL: "not met", OPEN: "cannot be judged"}


_fingerprint = lru_cache(maxsize=1024)(fingerprint_of)


def result_of(rule: Rule, kind: Kind, **members: Any) -> Result:
    """Make a result of a rule.

    Args:
        rule: what it is a result of.
        kind: how it came out.
        **members: further members of `Result`; those left out are what all results of the rule
            have, with no subject and no place.

    Returns:
        The result, with the rule's half of a fingerprint.
    """
    given = {
        "line": 0,
        "column": 0,
        "subject": "",
        "fingerprint": _fingerprint(rule.id),
        "severity": rule.severity,
        "caution": rule.caution or UNSET,
    }
    return Result(rule=rule.id, kind=kind, title=rule.title, **{**given, **members})


def _filled(words: str, **gaps: Phrase) -> Phrase:
    """A rule's words with a phrase for each placeholder."""
    phrase: list[str | Bound | None] = []
    for number, part in enumerate(_GAP.split(words)):
        phrase += gaps[part] if number % 2 else (part.replace("{{", "{").replace("}}", "}"),)
    return tuple(phrase)


_GAP = re.compile(r"(?<!\{)\{(value|limit|bound)\}")


def _stated_bounds(limit_outcome: LimitOutcome, telling: Telling) -> list[_StatedBound]:
    """The bounds of a limit; of several that a value must keep, only the one that it reaches
    first.
    """
    bounds = limit_outcome.bounds
    if not bounds:
        return []
    nearest = NEAREST.get(limit_outcome.limit.comparison)
    if nearest is not None and len(bounds) > 1:
        bounds = (nearest.reduce(bounds),)
    plain = telling.plain.plain and limit_outcome.limit.comparison != "one_of"
    return [_bound(bound, telling, plain) for bound in bounds]


def _bound(bound: Array, telling: Telling, plain: bool) -> _StatedBound:
    """A bound as results state it; plain: whether it is a number with a unit."""
    if np.count_nonzero(bound == bound[0]) == len(bound):
        return _StatedBound([_one_number(float(bound[0]), telling.plain)], None, None)
    numbers = _numbers(bound, telling.plain)
    if plain:
        return _StatedBound(
            numbers, Bound(numbers, telling.in_words(numbers)), (np.isnan(bound), 2)
        )
    each, which = np.unique(bound, return_inverse=True)
    return _StatedBound(numbers, None, (which, len(each)))


@lru_cache(maxsize=4096)
def _one_number(bound: float, shown: Shown) -> float:
    """The number of a bound that is one for all rows, which is often the rule's own."""
    return _numbers(np.array([bound]), shown)[0]


def _numbers(bound: Array, shown: Shown) -> list[float]:
    return [NO_LIMIT if number != number else number for number in shown.numbers(bound)]
