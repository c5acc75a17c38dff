"""The grid of a section: rows and columns of cells that follow layers, plate, joist and pipe.

Rows run along layers, and over and under the pipe they bend to end on its circle (with the
plate's ring, where there is one); columns run down, and beside the pipe they bend likewise. So
every cell is of one material, and every corner on the circle is a corner of the grid.
"""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from msgspec import Struct

from checker.arrays import Array, Index
from checker.physics.build_up import Section

# Divisions, even, for they are halved: of the arcs over and under the pipe, of the one beside it,
# of the plate's thickness, across to the next pipe or to where something ends, and beyond that.
_ARC, _SIDE, _STRIP, _ACROSS, _FAR_ACROSS, _BEYOND = 6, 14, 2, 18, 26, 8
_NOTHING, _PLATE, _LAYERS = 0, 1, 2
"""Places in what `conductivities` gives: of the first layer the last."""
_FAR = 20.0
"""In radii of the pipe: beyond this, the way across gets more divisions."""
_GROWTH = 0.35
"""Growth of a layer's rows going away from the pipe."""
_CLEARANCE = 1e-5  # m; a pipe that touches what is over or under it stays this far away
_QUARTER, _HALF = np.pi / 4, np.pi / 2


class Mesh(Struct, frozen=True):
    """x and y of the corners, m, y from the uppermost layer's top down, shape (rows + 1, columns
    + 1); materials: of the cells, places in what `conductivities` gives; held: row and column of
    the corners on the circle, from over the pipe round to under it, and their angles from the
    top."""

    x: Array
    y: Array
    materials: Index
    held: Index
    angles: Array


@lru_cache(4096)
def size(section: Section) -> tuple[object, ...]:
    """What sections have in common whose grids have the same rows and columns.

    Args:
        section: the floor.

    Returns:
        Comparable and hashable.
    """
    plain = section.plate is None
    return plain, section.pipe_layer, (*_across(section),), rows(section)


def shape(section: Section) -> tuple[object, ...]:
    """All of a section that its grid depends on: sections of one shape have the same grid.

    Args:
        section: the floor.

    Returns:
        Comparable and hashable.
    """
    thick = tuple(layer.thickness for layer in section.layers)
    strip = section.plate and (section.plate.thickness, section.plate.width)
    pipe = section.pipe_layer, section.axis, section.outside
    return section.spacing, section.joist, *pipe, strip, *thick


def conductivities(section: Section) -> list[float]:
    """Conductivities by the numbers in `Mesh.materials`.

    Args:
        section: the floor.

    Returns:
        Of the pipe's inside, the plate, each layer, and each layer's joist, W/(m·K).
    """
    layers = [layer.conductivity for layer in section.layers]
    joists = [layer.joist or layer.conductivity for layer in section.layers]
    return [0.0, section.plate.conductivity if section.plate else 0.0, *layers, *joists]


def mesh(section: Section, fineness: float) -> Mesh:
    """The grid of a section.

    A fineness of a half gives every second corner of a fineness of one.

    Args:
        section: the floor.
        fineness: as a multiple of the usual divisions.

    Returns:
        Its corners and cells.
    """
    arcs = _arcs(section, fineness)
    y, materials = _lines(section, arcs, fineness)
    first, last = arcs.rows(materials)
    x = _columns(section, arcs, len(y), first, last, fineness)
    cells = _materials(section, x, materials)
    over = len(arcs.over) - 1
    if section.plate:
        strip = cells[first : first + round(_STRIP * fineness)]
        strip[_middle(x)[first : first + len(strip)] < section.plate.width / 2] = _PLATE
    cells[first:last, :over] = _NOTHING
    held = [(first, column) for column in range(over)]
    held += [(row, over) for row in range(first, last + 1)]
    held += [(last, column) for column in range(over - 1, -1, -1)]
    angles = np.concatenate((arcs.over, arcs.beside, arcs.under[-2::-1]))
    return Mesh(x, y, cells, np.array(held, dtype=np.intp).T, angles)


class _Arcs(Struct, frozen=True):
    """The circle's corners by their angle from the top: over the pipe and under it, each from the
    middle outwards, and beside it from the one's end to the other's."""

    over: Array
    beside: Array
    under: Array

    def rows(self, materials: list[int]) -> tuple[int, int]:
        """The lines on which what is beside the pipe begins and ends; they carry layer −1."""
        first = materials.index(-1)
        return first, first + len(self.beside)


def _arcs(section: Section, fineness: float) -> _Arcs:
    if section.plate is None:
        return _arcs_of(_QUARTER, None, fineness)
    # The strip's upper side meets the ring at `meets`, its underside leaves it at `leaves`.
    meets = float(np.arccos(min(section.axis / section.radius, 1.0)))
    leaves = float(np.arccos((section.axis - section.plate.thickness) / section.radius))
    return _arcs_of(max(meets, leaves / 2), leaves, fineness)


@lru_cache(64)
def _arcs_of(corner: float, leaves: float | None, fineness: float) -> _Arcs:
    """corner: where what is over the pipe ends; leaves: where a plate does."""
    end, stretches = 3 * _QUARTER, []
    if leaves is not None:
        stretches.append(np.linspace(corner, leaves, round(_STRIP * fineness) + 1)[1:])
    start = stretches[-1][-1] if stretches else corner
    stretches.append(np.linspace(start, end, round(_SIDE * fineness) + 1)[1:])
    count = round(_ARC * fineness) + 1
    return _Arcs(
        np.linspace(0, corner, count),
        np.concatenate(stretches),
        np.linspace(2 * _HALF, end, count),
    )


def _bands(section: Section) -> tuple[list[tuple[int, float, float]], ...]:
    """Over the pipe and under it, outwards: layer, distance from the pipe, thickness.

    The pipe's own layer comes twice, but over the pipe only where no plate lies on it.
    """
    heights, depth, own = section.heights, section.depth, section.pipe_layer
    over, under = [], [(own, 0.0, heights[own + 1] - depth)]
    if section.plate is None:
        over.append((own, 0.0, section.axis))
    for number in range(own - 1, -1, -1):
        near = max(depth - section.radius - heights[number + 1], 0.0)
        over.append((number, near, section.layers[number].thickness))
    for number in range(own + 1, len(section.layers)):
        near = max(heights[number] - depth - section.radius, 0.0)
        under.append((number, near, section.layers[number].thickness))
    return over, under


def _first(section: Section, near: float) -> float:
    """Height of the cells at this distance from the pipe, m."""
    return max(section.radius * _QUARTER / _ARC, near * _GROWTH / 2)


def _count(section: Section, near: float, thickness: float) -> int:
    """Rows of cells in a band, even."""
    steps = np.log1p(_GROWTH * thickness / _first(section, near)) / np.log1p(_GROWTH)
    return 2 * max(int(steps / 2), 1) + (2 if near == 0 else 0)


@lru_cache(4096)
def rows(section: Section) -> tuple[int, ...]:
    """How many rows of cells a section has for a fineness of one.

    Args:
        section: the floor.

    Returns:
        Over the pipe and then under it, of each layer outwards, what is beside the pipe left out.
    """
    return tuple(
        _count(section, near, thickness)
        for bands in _bands(section)
        for _, near, thickness in bands
    )


def _lines(section: Section, arcs: _Arcs, fineness: float) -> tuple[Array, list[int]]:
    """y of all corners, and the layer of each row of cells, −1 beside the pipe."""
    plate, radius, depth, heights = section.plate, section.radius, section.depth, section.heights
    over, under = _bands(section)
    columns = len(arcs.over) + sum(round(count * fineness) for count in _across(section))
    pipe = len(arcs.over)
    top = heights[section.pipe_layer]

    beside = np.repeat((depth - radius * np.cos(arcs.beside))[:, None], columns, axis=1)
    if plate:
        strip = round(_STRIP * fineness)
        share = np.arange(1, strip + 1) / strip
        beside[:strip, pipe:] = top + plate.thickness * share[:, None]
    beside[-1, :pipe] = depth - radius * np.cos(arcs.under)

    corner = arcs.over[-1]
    crown = np.full(columns, top if plate else depth - radius * np.cos(corner))
    crown[:pipe] = depth - radius * np.cos(arcs.over)
    blocks, materials = [crown[None], beside], [-1] * len(beside)
    line = crown
    for number, near, thickness in over:
        far = np.minimum(heights[number], line - _CLEARANCE)
        count = _count(section, near, thickness)
        curve = _graded(count, fineness, _first(section, near), float(line[-1] - far[-1]))
        blocks.insert(0, (line + (far - line) * curve[:, None])[:0:-1])
        materials[:0] = [number] * (len(curve) - 1)
        line = far
    line = beside[-1]
    for number, near, thickness in under:
        far = np.maximum(heights[number + 1], line + _CLEARANCE)
        count = _count(section, near, thickness)
        curve = _graded(count, fineness, _first(section, near), float(far[-1] - line[-1]))
        blocks.append((line + (far - line) * curve[:, None])[1:])
        materials += [number] * (len(curve) - 1)
        line = far
    return np.concatenate(blocks), materials


def _across(section: Section) -> list[int]:
    """Divisions of each stretch on the way from the pipe to the middle between two."""
    first, *rest = section.ends
    return [_FAR_ACROSS if first > _FAR * section.radius else _ACROSS, *([_BEYOND] * len(rest))]


def _columns(
    section: Section, arcs: _Arcs, lines: int, first: int, last: int, fineness: float
) -> Array:
    """x of all corners."""
    radius = section.radius
    start = np.full(lines, radius * np.sin(arcs.over[-1]))
    start[first + 1 : last + 1] = radius * np.sin(arcs.beside)
    start[last + 1 :] = radius * np.sin(arcs.under[-1])
    # Between first and last there is nothing over the pipe; corners there may lie anywhere.
    pipe = np.repeat(start[:, None], len(arcs.over), axis=1)
    pipe[: first + 1] = radius * np.sin(arcs.over)
    pipe[last:] = radius * np.sin(arcs.under)
    parts, ends = [pipe], section.ends
    near = radius * _QUARTER / _ARC
    for end, count in zip(ends, _across(section), strict=True):
        curve = _graded(count, fineness, near, end - float(start.max()), both=end != ends[-1])
        parts.append((start[:, None] + (end - start)[:, None] * curve)[:, 1:])
        start = np.full(lines, end)
    return np.concatenate(parts, axis=1)


def _materials(section: Section, x: Array, layers: list[int]) -> Index:
    """Which layer, or joist in it, each cell is of; layers: as of `_lines`."""
    own = np.array([number if number >= 0 else section.pipe_layer for number in layers])
    plain = np.repeat(_LAYERS + own[:, None], x.shape[1] - 1, axis=1)
    if not section.joist:
        return plain
    wood = _middle(x) > (section.spacing - section.joist) / 2
    joists: Index = plain + len(section.layers) * wood
    return joists


def _middle(x: Array) -> Array:
    """Of each cell, across."""
    middle: Array = (x[:-1, 1:] + x[1:, 1:] + x[:-1, :-1] + x[1:, :-1]) / 4
    return middle


_RATES = np.linspace(0.01, 30, 3000)
_ONE_SIDED, _TWO_SIDED = -_RATES / np.expm1(_RATES), -_RATES / np.sinh(_RATES)
"""First step over an even one, with its sign turned so that it grows with the rate."""


@cache
def _even(steps: int) -> Array:
    """Shares of a stretch in even steps, from 0 to 1."""
    return np.linspace(0, 1, steps + 1)


def _graded(
    count: int, fineness: float, first: float, length: float, *, both: bool = False
) -> Array:
    """A stretch in `count` steps times the fineness that grow from the first, m, on (or from both
    ends to the middle): shares of the stretch, from 0 to 1, on one curve whatever the fineness."""
    even = first * count / length
    share = _even(round(count * fineness))
    if even >= 0.99:
        return share
    rate = float(np.interp(-even, _TWO_SIDED if both else _ONE_SIDED, _RATES))
    curve: Array = np.expm1(rate * share) / np.expm1(rate)
    if both:
        curve = (1 + np.tanh(rate / 2 * (2 * share - 1)) / np.tanh(rate / 2)) / 2
    return curve
