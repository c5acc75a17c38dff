"""Finds areas that add up: a loop or room that was split into several, or several that were
merged.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from checker.revisions.contents import Key
from checker.revisions.sides import Side, number_of

ADDS_UP = 0.01
"""Areas may differ from the whole by this share of it."""
MOST_PARTS = 4


def area(side: Side, key: Key) -> float | None:
    """The area of a record.

    Args:
        side: the revision that the record is in.
        key: a room, or a loop, whose parts count together.

    Returns:
        m²; None where the design does not state it.
    """
    if key[0] == "loops":
        return side.loops[key].sizes.get("area")
    text = side.content[key].get("area")
    return None if text is None else number_of(key[0], "area", text)


def less(one: float | None, other: float) -> bool:
    """Whether the first is known and smaller than the second."""
    return one is not None and 0 < one < (1 - ADDS_UP) * other


def apart(wholes: Side, whole: Key, parts: Side, several: tuple[Key, ...]) -> float:
    """How much parts differ from their whole in anything but area.

    Args:
        wholes: the revision that the whole is in.
        whole: the whole; only loops are compared.
        parts: the revision that the parts are in.
        several: the parts.

    Returns:
        0 where nothing differs, and for rooms; else the more, the less alike they are, with 1 for a
        property in which every part differs.
    """
    if whole[0] != "loops":
        return 0.0
    loop, pieces = wholes.loops[whole], [parts.loops[key] for key in several]
    differing = [
        float(loop.words.get(field) != piece.words.get(field))
        for piece in pieces
        for field in ("spacing", "pattern", "zone")
    ]
    differing += [float(loop.refers.get("headers") != one.refers.get("headers")) for one in pieces]
    same_port = any(loop.words.get("port") == piece.words.get("port") for piece in pieces)
    same_id = any(whole[1] == key[1] for key in several)
    runs = [one.sizes.get("length", 0.0) - one.sizes.get("feeds", 0.0) for one in (loop, *pieces)]
    length = abs(sum(runs[1:]) - runs[0]) / max(runs[0], 1.0)
    votes = (not same_port) / 4 + (not same_id) / 4
    return sum(differing) / len(pieces) + min(4 * length, 2.0) + votes


def adding_up(
    first: tuple[Key, ...], near: list[Key], whole: float, side: Side
) -> Iterator[tuple[Key, ...]]:
    """Combinations of parts whose areas add up to the whole, the smallest combinations first.

    Args:
        first: parts that every combination contains.
        near: the other parts that it may contain.
        whole: the area of the whole, m².
        side: the revision of the parts.

    Returns:
        Combinations of up to `MOST_PARTS`, each in the order of the design.
    """
    for count in range(2 - len(first), MOST_PARTS + 1 - len(first)):
        for more in combinations(near, count):
            several = (*first, *more)
            areas = sum(area(side, key) or 0.0 for key in several)
            if abs(areas - whole) <= ADDS_UP * whole:
                order = list(side.content)
                yield tuple(sorted(several, key=order.index))
