"""What a design states and what was found about it, in its reader's units."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple, TypeVar

from msgspec import UNSET
from msgspec.structs import replace

from checker.outcome.results import Given, Limit, Measure, Result, Value
from checker.words.speech import Speech

Before = TypeVar("Before")
After = TypeVar("After")


class ReaderUnits(NamedTuple):
    """Converts values in units of reports into a reader's; texts and days stay as they are."""

    speech: Speech

    def measure(self, value: Measure) -> Measure:
        """A measure; one that could not be computed keeps its unit of reports.

        Args:
            value: in a unit of reports.

        Returns:
            The measure in the reader's unit.
        """
        if value.magnitude is None:
            return value
        unit = value.unit
        return Measure(self.speech.converted(value.magnitude, unit), self.speech.unit(unit))

    def given(self, value: Given) -> Given:
        """What a design states in a field.

        Args:
            value: a text, a measure, or the rows of a list.

        Returns:
            The same in the reader's units.
        """
        if isinstance(value, tuple):
            return tuple({name: self._value(one) for name, one in row.items()} for row in value)
        return self._value(value)

    def _value(self, value: Value) -> Value:
        return self.measure(value) if isinstance(value, Measure) else value

    def result(self, result: Result) -> Result:
        """A result with its value, limit and margin converted; its message already is.

        Args:
            result: as a check makes it.

        Returns:
            A new result.
        """
        return replace(
            result,
            value=UNSET if result.value is UNSET else self._value(result.value),
            limit=UNSET if result.limit is UNSET else self._limit(result.limit),
            margin=UNSET if result.margin is UNSET else self.measure(result.margin),
        )

    def _limit(self, limit: Limit) -> Limit:
        return Limit(
            at_most=UNSET if limit.at_most is UNSET else self.measure(limit.at_most),
            at_least=UNSET if limit.at_least is UNSET else self.measure(limit.at_least),
            between=UNSET
            if limit.between is UNSET
            else (self.measure(limit.between[0]), self.measure(limit.between[1])),
            one_of=UNSET if limit.one_of is UNSET else tuple(map(self._value, limit.one_of)),
            before=limit.before,
            after=limit.after,
        )


def of_all(
    found: Mapping[str, Mapping[str, Before]], made: Callable[[Before], After]
) -> dict[str, dict[str, After]]:
    """Each value by subject and name, converted.

    Args:
        found: values by subject, then name.
        made: converts one of them.

    Returns:
        The converted values, by the same subjects and names.
    """
    return {
        subject: {name: made(value) for name, value in own.items()}
        for subject, own in found.items()
    }
