"""A difference between the program and something that nobody here made, and what is allowed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True)
class Figure:
    """Ours less theirs, over all cases that were compared.

    what: the quantity and the range of the cases; against: the source; least, greatest: the
    differences with their sign, in the unit; allowed: the two ends they must stay within; why:
    what justifies the two ends; noise: differences below it are rounding, in the unit, and are
    not printed digit by digit, because they are not the same on every machine.
    """

    what: str
    against: str
    least: float
    greatest: float
    unit: str
    allowed: tuple[float, float]
    why: str
    noise: float = 1e-7

    @property
    def holds(self) -> bool:
        """False also where a difference is NaN."""
        low, high = self.allowed
        return low <= self.least and self.greatest <= high

    @property
    def row(self) -> str:
        """A row of the Markdown table."""
        cells = (self.what, self.against, self._differences, self._allowed, self.why)
        return "| " + " | ".join(cells) + " |"

    @property
    def _differences(self) -> str:
        if max(abs(self.least), abs(self.greatest)) < self.noise:
            return f"under {self.noise:g} {self.unit}"
        ends = dict.fromkeys((self._signed(self.least), self._signed(self.greatest)))
        return f"{' … '.join(ends)} {self.unit}"

    def _signed(self, number: float) -> str:
        return "0" if abs(number) < self.noise else f"{number:+.3g}".replace("-", "−")

    @property
    def _allowed(self) -> str:
        low, high = self.allowed
        both = f"±{high:g}" if low == -high else f"{low:+g} … {high:+g}".replace("-", "−")
        return f"{both} {self.unit}"


_HEADING = (
    "| what | against | ours less theirs | allowed | why so much |",
    "|---|---|---|---|---|",
)


def relative(
    what: str,
    against: str,
    ours: ArrayLike,
    theirs: ArrayLike,
    allowed: float | tuple[float, float],
    why: str,
    noise: float = 1e-7,
) -> Figure:
    """The figure of values of one shape, differences and what is allowed in % of theirs."""
    share = 100 * (np.asarray(ours, dtype=float) / np.asarray(theirs, dtype=float) - 1)
    return _figure(what, against, share, "%", allowed, why, noise)


def absolute(
    what: str,
    against: str,
    ours: ArrayLike,
    theirs: ArrayLike,
    unit: str,
    allowed: float | tuple[float, float],
    why: str,
    noise: float = 1e-7,
) -> Figure:
    """The figure of values of one shape, differences and what is allowed in their own unit."""
    difference = np.asarray(ours, dtype=float) - np.asarray(theirs, dtype=float)
    return _figure(what, against, difference, unit, allowed, why, noise)


def _figure(
    what: str,
    against: str,
    differences: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    unit: str,
    allowed: float | tuple[float, float],
    why: str,
    noise: float,
) -> Figure:
    ends = allowed if isinstance(allowed, tuple) else (-allowed, allowed)
    least, greatest = float(np.min(differences)), float(np.max(differences))
    return Figure(what, against, least, greatest, unit, ends, why, noise)


def table(figures: Sequence[Figure]) -> str:
    """The figures as a Markdown table."""
    return "\n".join((*_HEADING, *(figure.row for figure in figures)))
