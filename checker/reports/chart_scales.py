"""The scales of charts, and the values at which they have ticks."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import count
from typing import NamedTuple

MOST_TICKS = 7
"""Most ticks of a scale."""


class Scale(NamedTuple):
    """Maps values onto positions in a drawing.

    Attributes:
        low: the lowest value.
        high: the highest; above `low`.
        first: the position of the lowest, in units of the drawing.
        last: that of the highest; before `first` where the scale runs upwards.
    """

    low: float
    high: float
    first: float
    last: float

    def at(self, value: float) -> float:
        """The position of a value.

        Args:
            value: in the unit of `low` and `high`; beyond them the scale goes on.

        Returns:
            Units of the drawing.
        """
        return self.first + (value - self.low) / (self.high - self.low) * (self.last - self.first)


class TickStep(NamedTuple):
    """The distance between ticks: 1, 2 or 5 times a power of ten."""

    times: int
    power: int

    def value(self, place: int) -> float:
        """The value of a tick.

        Args:
            place: its number, counted from the tick at zero, negative below.

        Returns:
            The value in the unit of the scale.
        """
        # Dividing by a power of ten gives the number nearest to what is read, multiplying not.
        whole = place * self.times
        return whole * 10.0**self.power if self.power >= 0 else whole / 10.0**-self.power

    def below(self, value: float) -> float:
        """The tick at or below a value.

        Args:
            value: in the unit of the scale; a billionth of a step above it counts as at it.

        Returns:
            The tick's value.
        """
        return self.value(math.floor(value / self.value(1) + 1e-9))

    def above(self, value: float) -> float:
        """The tick at or above a value.

        Args:
            value: in the unit of the scale; a billionth of a step below it counts as at it.

        Returns:
            The tick's value.
        """
        return self.value(math.ceil(value / self.value(1) - 1e-9))

    def ticks(self, low: float, high: float) -> list[tuple[float, str]]:
        """Each tick from one value to another, with its label.

        Args:
            low: in the unit of the scale; also a tick where one is there.
            high: likewise.

        Returns:
            Values and labels, from low to high; labels have a decimal point.
        """
        first = math.ceil(low / self.value(1) - 1e-9)
        last = math.floor(high / self.value(1) + 1e-9)
        places = [self.value(place) for place in range(first, last + 1)]
        return [(value, f"{value:.{max(0, -self.power)}f}") for value in places]


def tick_step(
    low: float,
    high: float,
    length: float,
    room: Callable[[str], float],
    counted: bool = False,
) -> TickStep:
    """The smallest step at which every label has enough room.

    Args:
        low: the lowest value of the scale.
        high: the highest; above `low`.
        length: of the scale in the drawing.
        room: returns the room that a label needs, in units of the drawing.
        counted: whether only whole numbers have a meaning.

    Returns:
        The step, with seven ticks at most.
    """
    least = math.floor(math.log10((high - low) / MOST_TICKS))
    for power in count(max(0, least) if counted else least):
        for times in (1, 2, 5):
            step = TickStep(times, power)
            ticks = step.ticks(low, high)
            if len(ticks) > MOST_TICKS:
                continue
            needs = max((room(label) for _, label in ticks), default=0.0)
            if needs <= step.value(1) / (high - low) * length:
                return step
    raise AssertionError  # some step is as long as the scale


def set_apart(low: float, high: float) -> tuple[float, float]:
    """The two ends of a scale; equal ones are moved apart.

    Args:
        low: the lowest value.
        high: the highest.

    Returns:
        Both; where they are equal, the upper one a tenth of its size higher, or by 1 from 0.
    """
    return (low, high) if high > low else (low, low + (abs(low) / 10 or 1.0))
