"""Consecutive whole numbers, for members of sorted groups."""

from __future__ import annotations

import numpy as np

from checker.arrays import Index


def runs(starts: Index, ends: Index) -> tuple[Index, Index]:
    """All whole numbers from each start up to its end, and the number of their pair.

    Args:
        starts: shape (n,).
        ends: exclusive, shape (n,).

    Returns:
        For each number the place of its pair, and the number itself, in the order of the pairs.
    """
    counts = ends - starts
    which = np.repeat(np.arange(len(starts)), counts)
    within = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    return which, starts[which] + within
