"""Steady conduction in two dimensions, by finite elements on a grid of four-sided cells.

The grid is rows times columns of cells of any four-sided shape, so that it can follow a pipe, a
plate and layers; bilinear elements, whose heat balance is exact whatever the size of the cells
(the elements' functions add up to one). Rows are eliminated one after the other as blocks, for
all sections of one size at once. Method: O. C. Zienkiewicz and R. L. Taylor, The Finite Element
Method, isoparametric elements; from memory.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from checker.physics.arrays import Floats

Index = NDArray[np.intp]

_GAUSS = 1 / np.sqrt(3)
_CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]])
"""Of a cell in its own coordinates, across and down: this row left and right, the next row's."""
_LUMP = np.array([[2.0, 1.0], [1.0, 2.0]]) / 6


class Response(NamedTuple):
    """What a section does between its terminals: the held nodes, what is above, what is below.

    conductance: shape (sections, terminals, terminals), W/(m·K): times the terminals' temperatures
    it is the heat that goes in at each. Its rows add up to nought. top: shape (sections, columns
    + 1, terminals): the top's temperatures for one kelvin at each terminal alone. steps: of the
    elimination, from the lowest row upwards, to find the temperatures inside, of each grid; grid:
    that of each section, shape (sections,).
    """

    conductance: Floats
    top: Floats
    steps: tuple[Floats, ...]
    grid: Index

    def temperatures(self, terminals: Floats) -> Floats:
        """Of the corners that are not held, shape (sections, rows + 1, columns + 1).

        terminals: their temperatures, shape (sections, terminals).
        """
        size = self.top.shape[1]
        row = np.einsum("bnt,bt->bn", self.top, terminals)
        rows = [row]
        for step in reversed(self.steps):
            above, held = step[self.grid, :, :size], step[self.grid, :, size:]
            row = -np.einsum("bnm,bm->bn", above, row) - np.einsum("bnt,bt->bn", held, terminals)
            rows.append(row)
        return np.stack(rows, axis=1)


def respond(
    x: Floats,
    y: Floats,
    conductivity: Floats,
    above: Floats,
    below: Floats,
    held: Index,
    grid: Index | None = None,
    shape: Index | None = None,
) -> Response:
    """Solve sections of one size.

    x, y: of the corners, m, y downwards, shape (shapes, rows + 1, columns + 1); conductivity: of
    a grid's cells, W/(m·K), shape (grids, rows, columns), nought where there is nothing; below:
    exchange at the bottom, W/(m²·K), shape (grids,); held: row and column of the corners that are
    terminals, shape (2, n); above: exchange at the top, W/(m²·K), shape (sections,), and grid, the
    same shape, on which grid that is; left out, each has its own. shape: which corners a grid has,
    shape (grids,); left out, each its own. What is above a floor comes in at the last step of the
    elimination, so all else is worked once a grid. The sides pass no heat.
    """
    grid = np.arange(len(conductivity)) if grid is None else grid
    shape = np.arange(len(x)) if shape is None else shape
    grids, lines, size = len(shape), *x.shape[1:]
    along, down = _assembled(_elements(x, y)[shape], conductivity)
    count = held.shape[1]
    terminals = count + 2
    load = np.zeros((grids, lines, size, terminals))
    outer = np.zeros((grids, terminals, terminals))
    top, top_load, whole = _exchanged(x[shape, 0], y[shape, 0])
    bottom, bottom_load, outer[:, -1, -1] = (
        below.reshape(-1, *[1] * (part.ndim - 1)) * part
        for part in _exchanged(x[shape, -1], y[shape, -1])
    )
    along[:, -1] += bottom
    load[:, -1, :, -1] -= bottom_load
    rows, columns = held
    for number, (row, column) in enumerate(zip(rows.tolist(), columns.tolist(), strict=True)):
        load[:, row, :, number] = along[:, row, :, column]
        if row:
            load[:, row - 1, :, number] = down[:, row - 1, :, column]
        if row < lines - 1:
            load[:, row + 1, :, number] = down[:, row, column, :]
    if (rows == 0).any() and above.any():
        raise ValueError("what is held must lie under a top that exchanges heat")
    outer[:, :count] += load[:, rows, columns]
    outer[:, count:, :count] = np.swapaxes(outer[:, :count, count:], 1, 2)

    free = _corners_of(np.asarray((conductivity > 0).any(axis=0)))
    free[rows, columns] = False
    along *= free[:, :, None] & free[:, None, :]
    along += np.eye(size) * ~free[:, :, None]
    top *= free[0][:, None] & free[0]
    top_load *= free[0]
    down *= free[:-1, :, None] & free[1:, None, :]
    load *= free[:, :, None]

    steps = []
    matrix, loads = along[:, -1], load[:, -1]
    for line in range(lines - 2, -1, -1):
        coupling = down[:, line]
        step = np.linalg.solve(matrix, np.concatenate((np.swapaxes(coupling, 1, 2), loads), axis=2))
        outer -= np.swapaxes(loads, 1, 2) @ step[..., size:]
        behind = coupling @ step
        matrix = along[:, line] - behind[..., :size]
        loads = load[:, line] - behind[..., size:]
        steps.append(step)
    matrix = matrix[grid] + above[:, None, None] * top[grid]
    loads, outer = loads[grid], outer[grid]
    loads[:, :, count] -= above[:, None] * top_load[grid]
    outer[:, count, count] += above * whole[grid]
    temperatures = np.asarray(-np.linalg.solve(matrix, loads), dtype=np.float64)
    outer += np.swapaxes(loads, 1, 2) @ temperatures
    return Response(outer, temperatures, tuple(steps), grid)


def _exchanged(x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
    """Exchange of 1 W/(m²·K) along a line of corners: of the corners with themselves, of each with
    what is beyond, and of the whole line."""
    length = np.hypot(np.diff(x), np.diff(y))
    size = x.shape[1]
    own, beyond = np.zeros((len(x), size, size)), np.zeros((len(x), size))
    place = np.arange(size - 1)
    for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)):
        own[:, place + i, place + j] += length * _LUMP[i, j]
    beyond[:, :-1] += length / 2
    beyond[:, 1:] += length / 2
    return own, beyond, np.asarray(length.sum(axis=1))


def _corners_of(cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Corners that touch at least one of these cells."""
    corners = np.zeros((cells.shape[0] + 1, cells.shape[1] + 1), dtype=bool)
    for down in (0, 1):
        for across in (0, 1):
            corners[down : cells.shape[0] + down, across : cells.shape[1] + across] |= cells
    return corners


def _assembled(elements: Floats, conductivity: Floats) -> tuple[Floats, Floats]:
    """The matrix of conduction: each line of corners with itself, and with the next line."""
    sections, rows, columns = conductivity.shape
    lines, size = rows + 1, columns + 1
    cells = elements * conductivity[..., None, None]
    along = np.zeros((sections, lines, size, size))
    down = np.zeros((sections, lines - 1, size, size))
    place = np.arange(size - 1)
    for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)):
        along[:, :-1, place + i, place + j] += cells[..., i, j]
        along[:, 1:, place + i, place + j] += cells[..., 2 + i, 2 + j]
        down[:, :, place + i, place + j] += cells[..., i, 2 + j]
    return along, down


def _elements(x: Floats, y: Floats) -> Floats:
    """Of each cell, the four corners' matrix at 1 W/(m·K), shape (…, rows, columns, 4, 4)."""
    corners = [
        np.stack((a[:, :-1, :-1], a[:, :-1, 1:], a[:, 1:, :-1], a[:, 1:, 1:]), axis=-1)
        for a in (x, y)
    ]
    total = np.zeros((*corners[0].shape, 4))
    for point in _CORNERS * _GAUSS:
        across = _CORNERS[:, 0] * (1 + _CORNERS[:, 1] * point[1]) / 4
        downward = _CORNERS[:, 1] * (1 + _CORNERS[:, 0] * point[0]) / 4
        (xa, xd), (ya, yd) = ((c @ across, c @ downward) for c in corners)
        area = xa * yd - xd * ya
        slope_x = yd[..., None] * across - ya[..., None] * downward
        slope_y = xa[..., None] * downward - xd[..., None] * across
        product = (
            slope_x[..., :, None] * slope_x[..., None, :]
            + slope_y[..., :, None] * slope_y[..., None, :]
        )
        # Inside the pipe there is nothing, and its corners may coincide.
        total += product / np.where(area == 0, np.inf, area)[..., None, None]
    return total
