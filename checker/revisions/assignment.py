"""Pairs rows with columns so that the sum of gains is largest.

The Hungarian method by shortest augmenting paths: H. W. Kuhn, Naval Research Logistics Quarterly 2
(1955) 83; in the form of R. Jonker and A. Volgenant, Computing 38 (1987) 325 (both from memory).
SciPy has a tested implementation, but would be 100 MB to install for these few lines; the tests
compare the two.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from checker.arrays import Index

Floats = NDArray[np.floating]


def assigned(gain: Floats) -> Index:
    """Pair each row with a column.

    Args:
        gain: shape (rows, columns); 0 or less makes no pair.

    Returns:
        For each row its column, -1 where no pair would gain anything.
    """
    rows, columns = gain.shape
    if not rows or not columns:
        return np.full(rows, -1, np.intp)
    if rows > columns:
        by_column = assigned(gain.T)
        found = np.full(rows, -1, np.intp)
        taken = np.flatnonzero(by_column >= 0)
        found[by_column[taken]] = taken
        return found
    chosen = _cheapest(-np.maximum(gain, 0.0))
    chosen[gain[np.arange(rows), chosen] <= 0] = -1
    return chosen


def _cheapest(cost: Floats) -> Index:
    """A different column for each row, at the least total cost; no more rows than columns."""
    rows, columns = cost.shape
    row_price, column_price = cost.min(axis=1), np.zeros(columns)
    row_of = np.full(columns, -1, np.intp)
    waiting = []
    for row, column in enumerate(cost.argmin(axis=1)):
        # Most rows get the column that is best for them: nothing has to make way.
        if row_of[column] < 0:
            row_of[column] = row
        else:
            waiting.append(row)
    for first in waiting:
        length = np.full(columns, np.inf)
        came_from = np.full(columns, -1, np.intp)
        done = np.zeros(columns, bool)
        row, last, reached = first, -1, 0.0
        path_rows = []
        while True:
            path_rows.append((row, reached))
            reduced = reached + cost[row] - row_price[row] - column_price
            shorter = ~done & (reduced < length)
            length[shorter] = reduced[shorter]
            came_from[shorter] = last
            column = int(np.where(done, np.inf, length).argmin())
            reached = float(length[column])
            done[column] = True
            if row_of[column] < 0:
                break
            row, last = int(row_of[column]), column
        for one, at in path_rows:
            row_price[one] += reached - at
        column_price[done] += length[done] - reached
        while column >= 0:
            before = int(came_from[column])
            row_of[column] = first if before < 0 else row_of[before]
            column = before
    found = np.empty(rows, np.intp)
    taken = np.flatnonzero(row_of >= 0)
    found[row_of[taken]] = taken
    return found
