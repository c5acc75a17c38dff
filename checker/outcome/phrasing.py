"""Values and limits in a reader's units and words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np
import numpy.typing as npt
from msgspec import UNSET, UnsetType
from msgspec.json import encode

from checker import units
from checker.outcome.results import Limit, Measure, Value
from checker.rulebook.model import Described
from checker.words import apart, measure

DECIMALS = 9
"""Decimals kept when SI turns back into the unit shown, so that 0.15 m is 150 mm, no digit more."""

NO_LIMIT = -1e300
"""Stands for a bound that is missing where bounds are compared with one another."""

Numbers = npt.NDArray[np.float64]


class Shown:
    """How the values of one description are shown."""

    def __init__(self, described: Described) -> None:
        self.described = described
        self.unit = described.unit if described.kind == "quantity" else "1"
        self.scale, self.offset = 1.0, 0.0
        if described.kind == "quantity" and described.measure != "ratio":
            self.scale, self.offset = units.factor(described.unit, described.measure)
        self.plain = described.kind in ("quantity", "integer")
        """Whether a value is a number with a unit, rather than a word, a day, or yes and no."""

    def numbers(self, values: Numbers) -> list[float]:
        """The values in the unit shown."""
        shown: list[float] = ((values - self.offset) / self.scale).round(DECIMALS).tolist()
        return shown

    def differences(self, values: Numbers) -> list[float]:
        """Differences of values in the unit shown."""
        shown: list[float] = (values / self.scale).round(DECIMALS).tolist()
        return shown

    @property
    def difference_unit(self) -> str:
        """The unit of a difference: kelvin for temperatures, days for dates."""
        if self.described.kind == "date":
            return "day"
        return "K" if self.described.measure == "temperature" else self.unit

    def measured(self, number: float) -> Measure:
        """A number as a report carries it."""
        return Measure(number, self.unit)

    def value(self, number: float) -> Value:
        """A value as a report carries it."""
        if self.plain:
            return self.measured(number)
        if self.described.kind == "boolean":
            return number == 1.0
        if self.described.kind == "date":
            return date.fromordinal(int(number)).isoformat()
        return self.described.options[int(number)]

    def words(self, number: float) -> str:
        """The value as a sentence has it."""
        if self.plain:
            return measure(number, self.unit)
        value = self.value(number)
        if isinstance(value, bool):
            return "yes" if value else "no"
        return str(value)

    def written(self, numbers: list[float]) -> list[bytes]:
        """The values as the gaps of a pattern take them; empty where one is missing."""
        if self.plain:
            return written(numbers)
        return _each(numbers, lambda number: encode(self.value(number)))

    def in_words(self, numbers: list[float]) -> list[bytes]:
        """The values as a sentence has them, but for the unit."""
        if self.plain:
            return written(figures(numbers), whole=True)
        return _each(numbers, lambda number: self.words(number).encode())

    @property
    def end(self) -> str:
        """What follows a value in a sentence: a space and its unit."""
        return "" if self.unit == "1" or not self.plain else f" {self.unit}"


def _each(numbers: list[float], text_of: Callable[[float], bytes]) -> list[bytes]:
    """The texts of words, days, or yes and no, which are few; empty where one is missing."""
    texts = {number: text_of(number) for number in set(numbers) if number == number}
    return [texts.get(number, b"") for number in numbers]


def written(numbers: list[float], *, whole: bool = False) -> list[bytes]:
    """Numbers as JSON has them, all at once; empty where one is missing.

    whole: without the '.0' of a whole number.
    """
    if not numbers:
        return []
    text = encode(numbers)[1:-1].replace(b"null", b"") + b","
    return (text.replace(b".0,", b",") if whole else text)[:-1].split(b",")


_STEPS = np.array([*(10.0**power for power in range(-12, 2)), 1000.0])
"""From each of these sizes on a number is shown with one decimal less; three figures below 1."""
_SCALES = np.array([1e14, *(10.0 ** (2 - power) for power in range(-12, 0)), 1e2, 1e1, 1.0])


def figures(numbers: list[float]) -> list[float]:
    """Numbers rounded as `wording.number` writes them, all at once."""
    values = np.array(numbers)
    scales = _SCALES[np.searchsorted(_STEPS, np.abs(values), "right")]
    # Adding nought turns -0 into 0.
    shown: list[float] = (np.rint(values * scales) / scales + 0.0).tolist()
    return shown


NEAREST = {"at_most": np.fmin, "before": np.fmin, "at_least": np.fmax, "after": np.fmax}
"""Which of several bounds that a value must all keep it meets first."""

_LIMIT_WORDS = {"at_most": "at most", "at_least": "at least", "before": "by", "after": "from"}


def limit(comparison: str, bounds: tuple[float, ...], shown: Shown) -> Limit | UnsetType:
    """A limit as a report carries it; bounds in the unit shown, NO_LIMIT where one is missing."""
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


def limit_words(comparison: str, bounds: tuple[float, ...], shown: Shown) -> str:
    """A limit as a sentence has it: 'at most 100 m'."""
    known = [bound for bound in bounds if bound != NO_LIMIT]
    if comparison == "between":
        return " to ".join(shown.words(bound) for bound in known)
    if comparison == "one_of":
        return " or ".join(shown.words(bound) for bound in known)
    if not known:
        return "unknown"
    return f"{_LIMIT_WORDS[comparison]} {shown.words(_nearest(comparison, known))}"


def _nearest(comparison: str, known: list[float]) -> float:
    return float(NEAREST[comparison].reduce(known))


def bare(comparison: str, words: str) -> str:
    """The limit of a sentence without its 'at most' or the like: '100 m'."""
    return words.removeprefix(_LIMIT_WORDS.get(comparison, "")).lstrip()


def told_apart(comparison: str, number: float, bound: float, shown: Shown) -> tuple[str, str]:
    """A value beyond its limit, without its unit, and the limit, in enough digits to see it."""
    value, limit_value = apart(number, bound)
    return value, f"{_LIMIT_WORDS[comparison]} {limit_value}{shown.end}"
