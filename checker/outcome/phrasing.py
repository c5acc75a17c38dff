"""Words for values and limits in a reader's units."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from msgspec import UNSET, Struct, UnsetType

from checker import units
from checker.arrays import Array, Index
from checker.outcome.results import Limit, Measure, Value
from checker.words import apart
from checker.words.speech import PLAIN, Speech

if TYPE_CHECKING:
    from checker.rulebook.model import Described

DECIMALS = 9
"""Decimals that are kept when SI is converted into the unit shown, so that 0.15 m is exactly 150
mm.
"""

NO_LIMIT = -1e300
"""Replaces a missing bound where bounds are compared with one another."""

Numbers = Array


class Bound(Struct, frozen=True, eq=False):
    """A bound that varies by row.

    Attributes:
        numbers: of each row, in the unit of reports.
        words: of each row, in the reader's units, without the unit.
    """

    numbers: list[float]
    words: list[str]


Phrase = tuple["str | Bound | None", ...]
"""Words with placeholders for what varies by row: None is the place of the value's own words."""


class Shown:
    """How the values of one description are shown to a reader.

    Numbers are in the unit of reports; words are in the reader's.
    """

    def __init__(self, described: Described, speech: Speech = PLAIN) -> None:
        self.described = described
        self.speech = speech
        self.unit = described.unit if described.kind == "quantity" else "1"
        self.scale, self.offset = 1.0, 0.0
        if described.kind == "quantity" and described.measure != "ratio":
            self.scale, self.offset = units.factor(described.unit, described.measure)
        self.plain = described.kind in ("quantity", "integer")
        """Whether a value is a number with a unit, rather than a word, a day, or yes and no."""
        bare = self.unit in ("1", "day") or not self.plain
        self.end = "" if bare else f" {speech.unit(self.unit)}"
        """What follows a value in a sentence: a space and its unit, unless it is days."""

    def numbers(self, values: Numbers) -> list[float]:
        """Convert values into the unit of reports.

        Args:
            values: SI, shape (n,), NaN where missing.

        Returns:
            The numbers, rounded to DECIMALS; NaN stays NaN.
        """
        return self.differences(values - self.offset if self.offset else values)

    def differences(self, values: Numbers) -> list[float]:
        """Convert differences of values into the unit of reports; of temperatures into kelvin.

        Args:
            values: SI, shape (n,), NaN where missing.

        Returns:
            The numbers, rounded to DECIMALS; NaN stays NaN.
        """
        scaled = values / self.scale if self.scale != 1.0 else values
        shown: list[float] = scaled.round(DECIMALS).tolist()
        return shown

    @property
    def difference_unit(self) -> str:
        """The unit of a difference: kelvin for temperatures, days for dates."""
        if self.described.kind == "date":
            return "day"
        return "K" if self.described.measure == "temperature" else self.unit

    def measured(self, number: float) -> Measure:
        """Give a number with its unit, for a report.

        Args:
            number: in the unit of reports, as `numbers` gives it.

        Returns:
            The number with that unit; '1' for what has none.
        """
        return Measure(number, self.unit)

    def value(self, number: float) -> Value:
        """Give a value as reports state it.

        Args:
            number: in the unit of reports, as `numbers` gives it; never NaN.

        Returns:
            A number with its unit, True or False, a day (ISO 8601), or a word, by what is
            described.
        """
        if self.plain:
            return self.measured(number)
        if self.described.kind == "boolean":
            return number == 1.0
        if self.described.kind == "date":
            return date.fromordinal(int(number)).isoformat()
        return self.described.options[int(number)]

    def words(self, number: float) -> str:
        """Word a value for a sentence.

        Args:
            number: in the unit of reports, as `numbers` gives it; never NaN.

        Returns:
            The value with its unit, in the reader's units and decimal mark.
        """
        if self.plain:
            return self.speech.measure(number, self.unit)
        value = self.value(number)
        if isinstance(value, bool):
            return "yes" if value else "no"
        return str(value)

    def in_words(self, values: list[float]) -> list[str]:
        """Word many values for sentences; each sentence adds `end`, the unit.

        Args:
            values: in the unit of reports, as `numbers` gives them, NaN where missing.

        Returns:
            The words of each, in the reader's units and decimal mark; empty where it is missing.
        """
        if self.unit == "day":
            return [self.words(value) if value == value else "" for value in values]
        if self.plain:
            return self.speech.numbers(values, self.unit)
        texts = {value: self.words(value) for value in {*values} if value == value}
        return [texts.get(value, "") for value in values]

    def reason(self, sentence: str) -> str:
        """Word why something is missing, in the reader's units.

        Args:
            sentence: the reason in metric units; what is before its last colon says about whom it
                is, and stays as it is.

        Returns:
            The sentence with its quantities in the reader's units.
        """
        about, colon, why = sentence.rpartition(": ")
        return f"{about}{colon}{self.speech.words(why)}"

    def distinguishable(self, value: float, limit: float) -> tuple[str, str]:
        """Word a value and its limit with enough digits to differ.

        Args:
            value: in the unit of reports.
            limit: likewise.

        Returns:
            Both numbers in the reader's unit, without it, but for days.
        """
        own = (self.speech.converted(one, self.unit) for one in (value, limit))
        first, second = map(self.speech.marked, apart(*own))
        return (f"{first} days", f"{second} days") if self.unit == "day" else (first, second)


@lru_cache(maxsize=2048)
def shown_as(described: Described, speech: Speech = PLAIN) -> Shown:
    """The same for equal descriptions, made once: every check shows the values of every rule.

    Args:
        described: what the values are.
        speech: the reader's units and decimal mark.

    Returns:
        How they are shown.
    """
    return Shown(described, speech)


class Speaking:
    """How values are shown to the reader of each row of a table."""

    def __init__(self, speeches: Sequence[Speech]) -> None:
        """Gather the readers of a table.

        Args:
            speeches: how values are shown to the reader of each row.
        """
        self.known = [*dict.fromkeys(speeches)] or [PLAIN]
        self.which: Index | None = None
        """For each row the number of its speech, None where all rows have the same."""
        if len(self.known) > 1:
            order = {speech: number for number, speech in enumerate(self.known)}
            self.which = np.array([order[speech] for speech in speeches], dtype=np.intp)


class Telling:
    """How each row of a rule's values is shown."""

    def __init__(self, described: Described, speaking: Speaking) -> None:
        self.plain = shown_as(described)
        self.which, self.speeches = speaking.which, speaking.known
        self.shown = [
            self.plain if speech.plain else shown_as(described, speech) for speech in speaking.known
        ]

    def of(self, row: int) -> Shown:
        """Give how the values of one row are shown.

        Args:
            row: of the rule's subject.

        Returns:
            The same object for all rows whose readers use the same units and decimal mark.
        """
        return self.shown[0 if self.which is None else self.which[row]]

    def reasons(self, rows: Index, sentences: list[str]) -> list[str]:
        """Word why something is missing, each row in the units of its reader.

        Args:
            rows: the number of the row for each sentence, shape (n,).
            sentences: n reasons in metric units.

        Returns:
            The sentences in the same order.
        """
        if self.which is None and self.shown[0].speech.plain:
            return sentences
        return [self.of(row).reason(one) for row, one in zip(rows.tolist(), sentences, strict=True)]

    def in_words(self, values: list[float]) -> list[str]:
        """Word the values of all rows, each in the units of its reader.

        Args:
            values: one for each row, in the unit of reports, NaN where missing.

        Returns:
            The words of each without the unit; empty where it is missing.
        """
        texts = [shown.in_words(values) for shown in self.shown]
        if self.which is None:
            return texts[0]
        return [texts[number][row] for row, number in enumerate(self.which.tolist())]


NEAREST = {"at_most": np.fmin, "before": np.fmin, "at_least": np.fmax, "after": np.fmax}
"""Which of several bounds that a value must keep it reaches first."""

_LIMIT_WORDS = {"at_most": "at most", "at_least": "at least", "before": "by", "after": "from"}


def limit(comparison: str, bounds: tuple[float, ...], shown: Shown) -> Limit | UnsetType:
    """Give a limit as reports state it.

    Args:
        comparison: how value and bounds are compared ('at_most').
        bounds: in the unit of reports, NO_LIMIT where one is missing.
        shown: how values of this kind are shown.

    Returns:
        The limit, of several bounds the one that a value reaches first; UNSET where none is known,
        or only one of two that a value must lie between.
    """
    known = [bound for bound in bounds if bound != NO_LIMIT]
    if not known or (comparison == "between" and len(known) < 2):
        return UNSET
    if comparison == "between":
        return Limit(between=(shown.measured(known[0]), shown.measured(known[1])))
    if comparison == "one_of":
        return Limit(one_of=tuple([shown.value(bound) for bound in known]))
    bound = _nearest(comparison, known)
    if comparison == "at_most":
        return Limit(at_most=shown.measured(bound))
    if comparison == "at_least":
        return Limit(at_least=shown.measured(bound))
    if comparison == "before":
        return Limit(before=str(shown.value(bound)))
    return Limit(after=str(shown.value(bound)))


def limit_phrase(comparison: str, bounds: Sequence[float | Bound], shown: Shown) -> Phrase:
    """Word a limit for a sentence: 'at most 100 m'.

    Args:
        comparison: how value and bounds are compared ('at_most').
        bounds: in the unit of reports, NO_LIMIT where one is missing, or one that varies by row.
        shown: how values of this kind are shown to the reader.

    Returns:
        The words, with a placeholder for each bound that varies.
    """
    if comparison in _LIMIT_WORDS and any(bound != NO_LIMIT for bound in bounds):
        return (f"{_LIMIT_WORDS[comparison]} ", *bound_phrase(comparison, bounds, shown))
    return bound_phrase(comparison, bounds, shown)


def bound_phrase(comparison: str, bounds: Sequence[float | Bound], shown: Shown) -> Phrase:
    """Word the bounds of a limit without 'at most' and the like: '100 m'.

    Args:
        comparison: how value and bounds are compared ('at_most').
        bounds: in the unit of reports, NO_LIMIT where one is missing, or one that varies by row.
        shown: how values of this kind are shown to the reader.

    Returns:
        The words, with a placeholder for each bound that varies; 'unknown' where a comparison has
        no bound.
    """
    known = [bound for bound in bounds if bound != NO_LIMIT]
    if comparison in _LIMIT_WORDS:
        if not known:
            return ("unknown",)
        if len(known) > 1:
            known = [_nearest(comparison, [bound for bound in known if isinstance(bound, float)])]
    phrase: list[str | Bound | None] = []
    for bound in known:
        if phrase:
            phrase.append(" to " if comparison == "between" else " or ")
        phrase += (bound, shown.end) if isinstance(bound, Bound) else (shown.words(bound),)
    return tuple(phrase)


def limit_words(comparison: str, bounds: tuple[float, ...], shown: Shown) -> str:
    """Word a limit: 'at most 100 m'.

    Args:
        comparison: how value and bounds are compared ('at_most').
        bounds: in the unit of reports, NO_LIMIT where one is missing.
        shown: how values of this kind are shown to the reader.

    Returns:
        A phrase in the reader's units; 'unknown' where no bound is known.
    """
    return spoken(limit_phrase(comparison, bounds, shown), 0)


def spoken(phrase: Phrase, row: int) -> str:
    """Put the words of one row into a phrase.

    Args:
        phrase: of a limit; it has no place for the value's own words.
        row: of the rule's subject.

    Returns:
        The words.
    """
    parts = [part.words[row] if isinstance(part, Bound) else part for part in phrase if part]
    return "".join(parts)


def _nearest(comparison: str, known: list[float]) -> float:
    return float(NEAREST[comparison].reduce(known))
