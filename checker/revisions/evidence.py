"""How strongly a value that two records share, or in which they differ, suggests that they are one.

All results are natural logarithms of odds, shape (old records, new records).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from checker.arrays import Mask
from checker.revisions.contents import Key

Floats = NDArray[np.float32]
"""Single precision, because 3,000 loops make nine million pairs."""

MOST, MOST_AGAINST = 4.0, -3.0
"""The most that one value may count for a pair, and against it."""
EQUAL, NEAR = 0.002, 0.15
"""Relative differences up to which two sizes count as equal (they are rounded), and as similar."""
LEAST_CHANCE = 0.05
"""Least probability of a match by chance, because designs are small."""


def id_vote(was: list[Key], now: list[Key], kept: float, most: float = 2.0) -> Floats:
    """The evidence of two equal ids.

    Args:
        was: the old records.
        now: the new records.
        kept: the share of ids that are kept from one revision to the next.
        most: the largest value that it may have.

    Returns:
        Shape (old, new), from -1 to `most`.
    """
    evidence = words_evidence([key[1] for key in was], [key[1] for key in now], kept)
    return np.clip(evidence, -1.0, most, out=evidence)


def agreeing(was: Iterable[object], now: Iterable[object]) -> Floats:
    """Where two values are equal and known.

    Args:
        was: the values of the old records, None where one is unknown.
        now: the values of the new records.

    Returns:
        1 there, else 0, shape (old, new).
    """
    codes: dict[object, int] = {None: -1}
    before, after = (
        np.array([codes.setdefault(value, len(codes)) for value in side]) for side in (was, now)
    )
    same: Mask = (before[:, None] == after[None, :]) & (before[:, None] >= 0)
    return same.astype(np.float32)


def words_evidence(was: Iterable[object], now: Iterable[object], kept: float) -> Floats:
    """The evidence of equal or different words.

    Args:
        was: the values of the old records, None where one is unknown.
        now: the values of the new records.
        kept: the share of such values that are kept from one revision to the next.

    Returns:
        Shape (old, new); 0 where one of the two is unknown.
    """
    codes: dict[object, int] = {None: -1}
    before, after = (
        np.array([codes.setdefault(value, len(codes)) for value in side]) for side in (was, now)
    )
    known = (before[:, None] >= 0) & (after[None, :] >= 0)
    same = (before[:, None] == after[None, :]) & known
    agree, differ = _weights(same, kept)
    agree[~same] = differ
    agree[~known] = 0.0
    return agree


def sizes_evidence(
    was: list[float | None], now: list[float | None], kept: float, near: float
) -> Floats:
    """The evidence of equal, similar or different sizes.

    Args:
        was: the sizes of the old records, in any one unit, None where one is unknown.
        now: the sizes of the new records.
        kept: the share of sizes that are kept from one revision to the next.
        near: the share that change only a little.

    Returns:
        Shape (old, new); 0 where one of the two is unknown.
    """
    before, after = (
        np.array([np.nan if v is None else v for v in side], np.float32) for side in (was, now)
    )
    larger = np.maximum(np.abs(before)[:, None], np.abs(after)[None, :])
    apart = np.abs(before[:, None] - after[None, :])
    known = np.isfinite(apart)
    same = known & (apart <= EQUAL * larger)
    alike = known & ~same & (apart <= NEAR * larger)
    for_same, for_far = _weights(same, kept)
    chance = max(float(alike.mean()), LEAST_CHANCE)
    for_alike = float(np.clip(np.log(near / chance), -1.0, 1.0))
    far = 1 - kept - near
    elsewhere = max(1 - float((same | alike).mean()), LEAST_CHANCE)
    for_far = float(np.clip(np.log(far / elsewhere), MOST_AGAINST, 0.0))
    for_same[~same] = for_far
    for_same[alike] = for_alike
    for_same[~known] = 0.0
    return for_same


def _weights(same: Mask, kept: float) -> tuple[Floats, float]:
    """The weight of an equal value for each pair, and that of a different one."""
    rows, columns = same.sum(axis=1)[:, None], same.sum(axis=0)[None, :]
    chance = np.maximum(rows, columns).astype(np.float32)
    chance /= max(same.shape) + 3
    agree = np.clip(np.log(kept / np.maximum(chance, 1e-9)), 0.0, MOST).astype(np.float32)
    elsewhere = max(1 - float(same.mean()), LEAST_CHANCE)
    differ = float(np.clip(np.log((1 - kept) / elsewhere), MOST_AGAINST, 0.0))
    return agree, differ
