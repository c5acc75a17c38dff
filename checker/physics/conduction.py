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
    elimination, from the lowest row upwards, to find the temperatures inside.
    """

    conductance: Floats
    top: Floats
    steps: tuple[Floats, ...]

    def one(self, number: int) -> Response:
        """That of one of the sections."""
        chosen = slice(number, number + 1)
        steps = tuple(step[chosen] for step in self.steps)
        return Response(self.conductance[chosen], self.top[chosen], steps)

    def temperatures(self, terminals: Floats) -> Floats:
        """Of the corners that are not held, shape (sections, rows + 1, columns + 1).

        terminals: their temperatures, shape (sections, terminals).
        """
        size = self.top.shape[1]
        row = np.einsum("bnt,bt->bn", self.top, terminals)
        rows = [row]
        for step in reversed(self.steps):
            above, held = step[..., :size], step[..., size:]
            row = -np.einsum("bnm,bm->bn", above, row) - np.einsum("bnt,bt->bn", held, terminals)
            rows.append(row)
        return np.stack(rows, axis=1)


def respond(
    x: Floats, y: Floats, conductivity: Floats, above: Floats, below: Floats, held: Index
) -> Response:
    """Solve sections of one size.

    x, y: of the grid's corners, m, y downwards, shape (sections, rows + 1, columns + 1);
    conductivity: of its cells, W/(m·K), shape (sections, rows, columns), nought where there is
    nothing; above, below: exchange at the top and at the bottom, W/(m²·K), shape (sections,);
    held: row and column of the corners that are terminals, shape (2, n). The sides pass no heat.
    """
    sections, lines, size = x.shape
    along, down = _assembled(x, y, conductivity)
    count = held.shape[1]
    terminals = count + 2
    load = np.zeros((sections, lines, size, terminals))
    outer = np.zeros((sections, terminals, terminals))
    for line, exchange, terminal in ((0, above, count), (lines - 1, below, count + 1)):
        length = np.hypot(np.diff(x[:, line]), np.diff(y[:, line])) * exchange[:, None]
        for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)):
            place = np.arange(size - 1)
            along[:, line, place + i, place + j] += length * _LUMP[i, j]
        load[:, line, :-1, terminal] -= length / 2
        load[:, line, 1:, terminal] -= length / 2
        outer[:, terminal, terminal] = length.sum(axis=1)
    rows, columns = held
    for number, (row, column) in enumerate(zip(rows.tolist(), columns.tolist(), strict=True)):
        load[:, row, :, number] = along[:, row, :, column]
        if row:
            load[:, row - 1, :, number] = down[:, row - 1, :, column]
        if row < lines - 1:
            load[:, row + 1, :, number] = down[:, row, column, :]
    outer[:, :count] += load[:, rows, columns]
    outer[:, count:, :count] = np.swapaxes(outer[:, :count, count:], 1, 2)

    free = _corners_of(np.asarray((conductivity > 0).any(axis=0)))
    free[rows, columns] = False
    along *= free[:, :, None] & free[:, None, :]
    along += np.eye(size) * ~free[:, :, None]
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
    top = np.asarray(-np.linalg.solve(matrix, loads), dtype=np.float64)
    outer += np.swapaxes(loads, 1, 2) @ top
    return Response(outer, top, tuple(steps))


def _corners_of(cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Corners that touch at least one of these cells."""
    corners = np.zeros((cells.shape[0] + 1, cells.shape[1] + 1), dtype=bool)
    for down in (0, 1):
        for across in (0, 1):
            corners[down : cells.shape[0] + down, across : cells.shape[1] + across] |= cells
    return corners


def _assembled(x: Floats, y: Floats, conductivity: Floats) -> tuple[Floats, Floats]:
    """The matrix of conduction: each line of corners with itself, and with the next line."""
    sections, lines, size = x.shape
    cells = _elements(x, y) * conductivity[..., None, None]
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
