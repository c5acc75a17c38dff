"""Reads points from text: `13700 800, 1200 800`, two numbers a point, with commas between
points.
"""

from __future__ import annotations

import re

import numpy as np

from checker.arrays import Array

FARTHEST = 1e7
"""Largest coordinate, m, as far as map coordinates reach."""
_TOKENS = re.compile(r"[^\s,]+|,")
_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?")


class BadPoints(ValueError):
    """A text is not a line of points; `start` is the index of the fault in it."""

    def __init__(self, words: str, start: int) -> None:
        super().__init__(words)
        self.start = start


def points(text: str, metre: float, least: int = 2) -> Array:
    """The points that a text of a design states.

    Args:
        text: two numbers a point, commas between points, as in `13700 800, 1200 800`.
        metre: one unit of its numbers in metres.
        least: the least number of points that make sense.

    Returns:
        The points, m, shape (n, 2).

    Raises:
        BadPoints: the text is not a line of points, has fewer than `least`, or one lies more than
            `FARTHEST` from the origin; the message is for the user.
    """
    # The plain case first: nothing but numbers and commas, two numbers a point.
    found = [part.split() for part in text.split(",")]
    try:
        values = np.array(found, dtype=np.float64)
    except ValueError:
        values = np.empty(0)
    if values.ndim != 2 or values.shape[1] != 2 or not np.isfinite(values).all() or "_" in text:
        raise _fault(text)
    values = values * metre
    if np.abs(values).max() > FARTHEST:
        raise BadPoints("a point lies more than 10,000 km from the origin; look at the unit", 0)
    if len(values) < least:
        raise BadPoints(f"{len(values)} points are too few; {least} are expected here", 0)
    return values


def _fault(text: str) -> BadPoints:
    """What is wrong with a text that is not a line of points, and where."""
    count, start = 0, 0
    for token in _TOKENS.finditer(text):
        word = token[0]
        if word == ",":
            if count != 2:
                return _not_two(count, start if count else token.start())
            count = 0
            continue
        if not _NUMBER.fullmatch(word) or not np.isfinite(float(word)):
            return BadPoints(
                f"'{word[:40]}' is not a number; write points such as '0 0, 4200 0', without units",
                token.start(),
            )
        start = token.start() if count == 0 else start
        count += 1
        if count > 2:
            return BadPoints(
                "a comma is missing before this third number of a point", token.start()
            )
    return _not_two(count, start if count else len(text))


def _not_two(count: int, start: int) -> BadPoints:
    if count == 0:
        return BadPoints("a point is missing here; write two numbers between commas", start)
    return BadPoints("a point has two numbers, x and y; this one has one", start)
