"""How strongly a value that two records share, or do not, suggests that they are one.

All is in natural logarithms of odds, one number for each pair of records (old ones by new ones).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from checker.revisions.contents import Key

Floats = NDArray[np.float32]
"""Single precision: of 3,000 loops the pairs are nine million."""
Flags = NDArray[np.bool_]

MOST, MOST_AGAINST = 4.0, -3.0
"""Most that one value may count for a pair, and against it."""
EQUAL, NEAR = 0.002, 0.15
"""Relative differences up to which two sizes count as equal (they are rounded), and as alike."""
LEAST_CHANCE = 0.05
"""Least probability of a match by chance: designs are small."""


def id_vote(was: list[Key], now: list[Key], kept: float, most: float = 2.0) -> Floats:
    """How much two equal ids count; never more than other values may."""
    evidence = words_evidence([key[1] for key in was], [key[1] for key in now], kept)
    return np.clip(evidence, -1.0, most, out=evidence)


def agreeing(was: Iterable[object], now: Iterable[object]) -> Floats:
    """1 where two values are the same and known, else 0."""
    codes: dict[object, int] = {None: -1}
    before, after = (
        np.array([codes.setdefault(value, len(codes)) for value in side]) for side in (was, now)
    )
    same: Flags = (before[:, None] == after[None, :]) & (before[:, None] >= 0)
    return same.astype(np.float32)


def words_evidence(was: Iterable[object], now: Iterable[object], kept: float) -> Floats:
    """How much two equal or different values count; nothing where one is unknown."""
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
    """The same for sizes, which can also be alike."""
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


def _weights(same: Flags, kept: float) -> tuple[Floats, float]:
    """For each pair what a value that both have says, and what one says that differs."""
    rows, columns = same.sum(axis=1)[:, None], same.sum(axis=0)[None, :]
    chance = np.maximum(rows, columns).astype(np.float32)
    chance /= max(same.shape) + 3
    agree = np.clip(np.log(kept / np.maximum(chance, 1e-9)), 0.0, MOST).astype(np.float32)
    elsewhere = max(1 - float(same.mean()), LEAST_CHANCE)
    differ = float(np.clip(np.log((1 - kept) / elsewhere), MOST_AGAINST, 0.0))
    return agree, differ
