"""Which of many candidates are tried first, so that few of them need to be judged."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TypeVar

from checker.remedies.candidates import Candidate

T = TypeVar("T")

MOST_PAIRED = 8
"""Values tried of each change, where two are tried together."""
FEW = 9
"""Up to this many values, all are screened, because a larger pipe or scale need not clear more
findings.
"""


def sides(group: Sequence[Candidate]) -> list[list[Candidate]]:
    """Part the values of a change by the side of the stated value that they are on.

    Args:
        group: candidates of one change at one place.

    Returns:
        For each side its candidates, the nearest to the stated value first.
    """
    found: dict[int, list[Candidate]] = {}
    for one in sorted(group, key=lambda one: one.distance):
        found.setdefault(one.side, []).append(one)
    return [*found.values()]


def stride(own: Sequence[Candidate]) -> int:
    """Say how far apart the values are that are screened first.

    Args:
        own: candidates on one side.

    Returns:
        The square root of their number, so that two rounds screen as few as can be; 1, all of them,
        for up to FEW.
    """
    return math.isqrt(len(own)) if len(own) > FEW else 1


def wider(count: int) -> list[int]:
    """Choose some of many places, in growing steps.

    Args:
        count: the number of places, one at least.

    Returns:
        Places from 1 on, the last one included.
    """
    return sorted({*(2**n for n in range((count - 1).bit_length())), count - 1})


def between(own: Sequence[T], known: Callable[[T], object], does: Callable[[T], bool]) -> list[T]:
    """Find the values among which clearing begins.

    Args:
        own: candidates, the nearest to the stated value first.
        known: whether a candidate was judged.
        does: whether it does what is wanted.

    Returns:
        Those between the first that is known to do it and the last before it that is known not to;
        empty where none is known to do it.
    """
    last = -1
    for place, one in enumerate(own):
        if known(one):
            if does(one):
                return [*own[last + 1 : place]]
            last = place
    return []


def spread(own: list[Candidate]) -> list[Candidate]:
    """Choose some of a change's values, to try them together with others.

    Args:
        own: candidates of one change.

    Returns:
        Up to MOST_PAIRED of them, the nearest to the stated value first.
    """
    own = sorted(own, key=lambda one: one.distance)
    if len(own) <= MOST_PAIRED:
        return own
    step = len(own) / MOST_PAIRED
    return [own[int(nth * step)] for nth in range(MOST_PAIRED)]


def together(one: Candidate, other: Candidate, *, wide: bool) -> Candidate | None:
    """Make one candidate of two.

    Args:
        one: a candidate.
        other: one of another kind of change.
        wide: whether the pair is tried first.

    Returns:
        Both changes; None where they change the same value.
    """
    paths = {words.partition("=")[0] for words in one.changes}
    if paths & {words.partition("=")[0] for words in other.changes}:
        return None
    return Candidate(
        one.lever,
        (*one.changes, *other.changes),
        f"{one.what}, and {other.what}",
        one.distance + other.distance,
        f"{one.group} and {other.group}",
        other=other.lever,
        wide=wide,
    )
