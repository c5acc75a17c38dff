"""Steady conduction in two dimensions, by finite elements on a grid of four-sided cells.

The grid is rows times columns of cells of any four-sided shape, so that it can follow a pipe, a
plate and layers; bilinear elements, whose heat balance is exact whatever the size of the cells
(the elements' functions add up to one). Rows are eliminated one after the other as blocks, for
all grids of one size at once. Method: O. C. Zienkiewicz and R. L. Taylor, The Finite Element
Method, isoparametric elements; from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

import numpy as np

from checker.arrays import Array, Index, Mask

_GAUSS = 1 / np.sqrt(3)
_CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]])
"""The corners of a cell in its own coordinates, across and down: this row left and right, then the
next.
"""
_PLACES = ((0, 0), (0, 1), (1, 0), (1, 1))
"""The same corners by their row and column from the cell's first."""
_LUMP = np.array([[2.0, 1.0], [1.0, 2.0]]) / 6


class Step(NamedTuple):
    """How the temperatures of a line of corners follow from the line above it and from the
    terminals.

    columns: of its corners that are free, above: of those of the line above; shares: shape (grids,
    corners, those above and terminals as they are ordered).
    """

    columns: Index
    above: Index
    shares: Array


class Line(NamedTuple):
    """The top line of grids after everything below it is eliminated, whatever is above it.

    matrix, load: shapes (grids, corners, corners) and (grids, corners, terminals); outer: of the
    terminals with one another; exchange, beyond, whole: of the line with what is above it, for
    1 W/(m²·K): with itself, with what is there, and in all.
    """

    matrix: Array
    load: Array
    outer: Array
    exchange: Array
    beyond: Array
    whole: Array


class Reduced(NamedTuple):
    """Grids of one size of which everything but the top line is eliminated.

    columns: of the line's corners that are free; size: how many corners a line has; order: of the
    terminals in the line, what is above being the last; steps: the way back down, if it was kept.
    """

    line: Line
    columns: Index
    size: int
    order: Index
    steps: tuple[Step, ...] = ()

    def apart(self) -> list[Reduced]:
        """Each grid alone, without the way back.

        Returns:
            One for each grid, in order.
        """
        return [
            Reduced(
                Line(*[part[n : n + 1] for part in self.line]), self.columns, self.size, self.order
            )
            for n in range(len(self.line.whole))
        ]

    @staticmethod
    def together(those: Sequence[Reduced]) -> Reduced:
        """Grids of one size as one, without the way back.

        Args:
            those: of one size.

        Returns:
            All of them, in order.
        """
        lines = zip(*(one.line for one in those), strict=True)
        whole = Line(*(np.concatenate(parts) for parts in lines))
        return Reduced(whole, those[0].columns, those[0].size, those[0].order)


class Response(NamedTuple):
    """What a section does between its terminals: the held nodes, what is above, what is below.

    conductance: shape (sections, terminals, terminals), W/(m·K): times the terminals' temperatures
    it is the heat that goes in at each. Its rows add up to zero. top: shape (sections, columns
    + 1, terminals): the top's temperatures for one kelvin at each terminal alone.
    """

    conductance: Array
    top: Array

    def temperatures(self, reduced: Reduced, terminals: Array) -> Array:
        """Temperatures of the corners that are not held; zero where they are.

        Args:
            reduced: what this is the response of, with the way back.
            terminals: their temperatures, °C, shape (grids, terminals).

        Returns:
            °C, shape (grids, rows + 1, columns + 1).

        Source:
            The method of this module.
        """
        row = np.einsum("bnt,bt->bn", self.top, terminals)
        rows = [row]
        ordered = terminals[:, reduced.order]
        for columns, above, shares in reversed(reduced.steps):
            known = len(above)
            hangs = np.einsum("bnm,bm->bn", shares[..., :known], row[:, above])
            count = shares.shape[2] - known
            hangs += np.einsum("bnt,bt->bn", shares[..., known:], ordered[:, :count])
            row = np.zeros((len(row), reduced.size))
            row[:, columns] = -hangs
            rows.append(row)
        return np.stack(rows, axis=1)


def respond(reduced: Reduced, above: Array) -> Response:
    """What grids do between their terminals, with what is above them.

    Args:
        reduced: grids of one size.
        above: exchange there, W/(m²·K), shape (grids,).

    Returns:
        Heat and temperatures for one kelvin at each terminal.

    Raises:
        ValueError: a corner of the top is held, and the top exchanges heat.

    Source:
        The method of this module.
    """
    line, place = reduced.line, np.argsort(reduced.order)
    if above.any() and len(reduced.columns) < reduced.size:
        raise ValueError("what is held must lie under a top that exchanges heat")
    matrix = line.matrix + above[:, None, None] * line.exchange
    load, outer = line.load.copy(), line.outer.copy()
    load[..., -1] -= above[:, None] * line.beyond
    outer[:, -1, -1] += above * line.whole
    found = -np.linalg.solve(matrix, load)
    outer += np.swapaxes(load, 1, 2) @ found
    top = np.zeros((len(found), reduced.size, len(place)))
    top[:, reduced.columns] = found[..., place]
    return Response(np.asarray(outer[:, place[:, None], place]), top)


def reduce(
    x: Array, y: Array, conductivity: Array, below: Array, held: Index, *, inside: bool = False
) -> Reduced:
    """Eliminate all lines of corners but the uppermost, from the lowest up.

    The sides pass no heat.

    Args:
        x: of the grids' corners, across, m, shape (grids, rows + 1, columns + 1).
        y: likewise, downwards.
        conductivity: of their cells, W/(m·K), shape (grids, rows, columns); zero where there is
            nothing.
        below: exchange at the bottom, W/(m²·K), shape (grids,).
        held: row and column of the corners that are terminals, the same in all grids, shape (2, n).
        inside: keep the way back to the temperatures inside.

    Returns:
        The uppermost line of each grid, with the terminals.

    Source:
        The method of this module.
    """
    grids, lines, size = x.shape
    near = _assembled(x, y, conductivity)
    # Terminals in the order in which lines meet them, so that those met are the first ones.
    order = np.argsort(-held[0], kind="stable")
    rows, columns = held[:, order]
    count = len(rows)
    own, beyond, whole = _exchanged(x[:, -1], y[:, -1])
    near[1, :, :, -1] += below[:, None] * own
    outer = np.zeros((grids, count + 2, count + 2))
    outer[:, 0, 0] = below * whole

    free = _corners_of(np.asarray((conductivity > 0).any(axis=0)))
    free[rows, columns] = False
    kept = [np.flatnonzero(line) for line in free]
    place = np.cumsum(free, axis=1) - 1
    met = 1 + np.searchsorted(-rows, 1 - np.arange(lines), side="right")
    met[0] = count + 2
    loads = [np.zeros((grids, len(own), some)) for own, some in zip(kept, met, strict=True)]
    under = -below[:, None] * beyond
    loads[-1][..., 0] = under[:, kept[-1]]
    corners = list(zip(rows.tolist(), columns.tolist(), strict=True))
    numbers = {corner: number for number, corner in enumerate(corners, 1)}
    for (row, column), number in numbers.items():
        if row == lines - 1:
            outer[:, 0, number] = outer[:, number, 0] = under[:, column]
        for down, across in product((-1, 0, 1), repeat=2):
            there = row + down, column + across
            if there in numbers:
                outer[:, number, numbers[there]] += near[1 + down, 1 + across, :, row, column]
            elif 0 <= there[0] < lines and 0 <= there[1] < size and free[there]:
                value = near[1 + down, 1 + across, :, row, column]
                loads[there[0]][:, place[there], number] = value

    along, down_to = _blocks(near)
    steps = []
    matrix, load = _part(along[:, -1], kept[-1], kept[-1]), loads[-1]
    for line in range(lines - 2, -1, -1):
        known, so_far = len(kept[line]), load.shape[2]
        coupling = _part(down_to[:, line], kept[line], kept[line + 1])
        step = np.linalg.solve(matrix, np.concatenate((np.swapaxes(coupling, 1, 2), load), axis=2))
        outer[:, :so_far, :so_far] -= np.swapaxes(load, 1, 2) @ step[..., known:]
        behind = coupling @ step
        matrix = _part(along[:, line], kept[line], kept[line]) - behind[..., :known]
        load = loads[line]
        load[..., :so_far] -= behind[..., known:]
        if inside:
            steps.append(Step(kept[line + 1], kept[line], step))
    own, beyond, whole = _exchanged(x[:, 0], y[:, 0])
    exchange, _ = _blocks(np.stack((np.zeros_like(own), own, np.zeros_like(own)))[..., None, :])
    uppermost = Line(
        matrix,
        load,
        outer,
        _part(exchange[:, 0], kept[0], kept[0]),
        beyond[:, kept[0]],
        whole,
    )
    # As `Response` has them, what is above is the last but one, and what is below the last.
    places = np.concatenate(([count + 1], order, [count]))
    return Reduced(uppermost, kept[0], size, places, tuple(steps))


def _part(block: Array, rows: Index, columns: Index) -> Array:
    """Some rows and columns of matrices, shape (grids, rows, columns)."""
    if (len(rows), len(columns)) == block.shape[1:]:
        return block
    return np.asarray(block[:, rows[:, None], columns])


def _blocks(near: Array) -> tuple[Array, Array]:
    """What corners are to those near them as matrices: of each line with itself, and with the next
    line."""
    _, _, grids, lines, size = near.shape
    along = np.zeros((grids, lines, size, size))
    down = np.zeros((grids, lines - 1, size, size))
    here, left, right = (np.arange(size)[part] for part in (slice(None), slice(1, None), slice(-1)))
    for block, of in ((along, near[1]), (down, near[2][:, :, :-1])):
        block[:, :, here, here] = of[1]
        block[:, :, right, left] = of[2][..., :-1]
        block[:, :, left, right] = of[0][..., 1:]
    return along, down


def _exchanged(x: Array, y: Array) -> tuple[Array, Array, Array]:
    """Exchange of 1 W/(m²·K) along a line of corners: of each corner with the one before it,
    itself and the one after it, shape (3, grids, corners), of each with what is beyond, and of
    the whole line."""
    length = np.hypot(np.diff(x), np.diff(y))
    own, beyond = np.zeros((3, *x.shape)), np.zeros(x.shape)
    for i, j in _PLACES:
        own[1 + j - i, :, i : i + length.shape[1]] += length * _LUMP[i, j]
    beyond[:, :-1] += length / 2
    beyond[:, 1:] += length / 2
    return own, beyond, np.asarray(length.sum(axis=1))


def _corners_of(cells: Mask) -> Mask:
    """Corners that touch at least one of these cells."""
    rows, columns = cells.shape
    corners = np.zeros((rows + 1, columns + 1), dtype=bool)
    for down, across in _PLACES:
        corners[down : rows + down, across : columns + across] |= cells
    return corners


def _assembled(x: Array, y: Array, conductivity: Array) -> Array:
    """The matrix of conduction by where the other corner lies from each: the line before, the same
    and the next, and the column before, the same and the next, shape (3, 3, grids, rows + 1,
    columns + 1)."""
    rows, columns = conductivity.shape[1:]
    near = np.zeros((3, 3, *x.shape))
    for cells, (one, other) in zip(_elements(x, y), _PAIRS, strict=True):
        cells *= conductivity
        for (row, column), (line, place) in {(one, other), (other, one)}:
            own = near[1 + line - row, 1 + place - column]
            own[:, row : row + rows, column : column + columns] += cells
    return near


def _elements(x: Array, y: Array) -> Array:
    """For each cell, the couplings of its corners at 1 W/(m·K), shape (pairs, …, rows, columns)."""
    xs, ys = (
        [a[:, i : a.shape[1] - 1 + i, j : a.shape[2] - 1 + j] for i, j in _PLACES] for a in (x, y)
    )
    metric = np.empty((len(x), 3 * len(_CORNERS), *xs[0].shape[1:]))
    for number, (across, down) in enumerate(_SLOPES):
        (xa, xd), (ya, yd) = (
            [sum(w * c for w, c in zip(slope, corners, strict=True)) for slope in (across, down)]
            for corners in (xs, ys)
        )
        area = xa * yd - xd * ya
        # Inside the pipe there is nothing, and its corners may coincide.
        over = 1 / np.where(area == 0, np.inf, area)
        metric[:, 3 * number] = (xd * xd + yd * yd) * over
        metric[:, 3 * number + 1] = (xa * xd + ya * yd) * over
        metric[:, 3 * number + 2] = (xa * xa + ya * ya) * over
    # Grid by grid, so that each comes out the same in any company.
    pairs = _WEIGHTS @ metric.reshape(*metric.shape[:2], -1)
    return np.moveaxis(pairs.reshape(len(x), len(_PAIRS), *xs[0].shape[1:]), 1, 0)


def _slopes() -> Array:
    """How the corners' functions rise across and down at the points of Gauss, shape (points, 2,
    corners)."""
    across, down = _CORNERS.T
    return np.array(
        [(across * (1 + down * v) / 4, down * (1 + across * u) / 4) for u, v in _CORNERS * _GAUSS]
    )


_SLOPES = _slopes()
_PAIRS = [(_PLACES[i], _PLACES[j]) for i in range(4) for j in range(i, 4)]
_WEIGHTS = np.array(
    [
        [
            weight
            for across, down in _SLOPES
            for weight in (
                across[i] * across[j],
                -across[i] * down[j] - down[i] * across[j],
                down[i] * down[j],
            )
        ]
        for i in range(4)
        for j in range(i, 4)
    ]
)
"""What a cell's metric at each point gives to each pair of its corners."""
