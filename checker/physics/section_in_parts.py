"""A floor of one material around its pipe, solved in two parts: what is over it, and the rest.

What a material conducts is a factor of all that its floor does, so a part is worked out once for
1 W/(m·K). The part over the pipe depends on the cover but not on what is below, the other, from the
pipe's crown down, on neither but where the exchange below comes in: floors that differ in
conductivity, cover or insulation share parts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from checker.arrays import Array, Index
from checker.physics.build_up import Layer, Section
from checker.physics.conduction import Line, Reduced, reduce, respond
from checker.physics.section_grid import conductivities, mesh, rows

UNDER_DIGITS = 9
"""Decimals of a metre with which thicknesses under the pipe are compared."""


class Part(NamedTuple):
    """One part on one grid; held: row and column of the circle's corners, row 0 being the crown's;
    angles: theirs from the top; across: of the top's corners, m."""

    reduced: Reduced
    held: Index
    angles: Array
    across: Array


_MOST_PARTS = 500
"""Parts that are kept, of 10 to 35 kB each."""
_parts: dict[tuple[Section, float], Part] = {}


def forget() -> None:
    """Drop all parts that this process keeps."""
    _parts.clear()


def parted(section: Section) -> bool:
    """Whether a floor can be put together from parts.

    Args:
        section: the floor.

    Returns:
        Whether it is of one material, and its grid that of its parts.
    """
    one = len(section.layers) == 1 and section.plate is None and not section.joist
    return one and _rows_under(_under(section)) == _rows_under(section)


def _rows_under(section: Section) -> int:
    """How many rows of cells are under the pipe of such a floor."""
    return rows(section)[-1]


def _over(section: Section) -> Section:
    """A floor with the same part over the pipe, whatever is below."""
    return _plain(section, section.axis, section.outside / 2)


def _under(section: Section) -> Section:
    """A floor with the same part from the crown down, whatever the cover."""
    under = section.layers[0].thickness - section.axis
    return _plain(section, section.outside, round(under, UNDER_DIGITS))


def _plain(section: Section, axis: float, under: float) -> Section:
    layer = Layer(axis + under, 1.0)
    return Section(section.spacing, 0.0, (layer,), 0, axis, section.outside, 0.0, 1.0, 0.0)


def put_together(
    sections: Sequence[Section], fineness: float, below: Array
) -> list[tuple[Part, Reduced]]:
    """Floors of one material and one size, as `conduction.reduce` gives each.

    Args:
        sections: the floors, `parted`.
        fineness: of the grid, as a multiple of the usual divisions.
        below: exchange at the bottom, W/(m²·K), shape (sections,).

    Returns:
        For each floor its part over the pipe, and the uppermost line with the terminals.

    Source:
        The method of `conduction`; the parts' corners at the height of the crown are one.
    """
    upper = _worked(list(map(_over, sections)), fineness, _of_over)
    lower = _worked(list(map(_under, sections)), fineness, _of_under)
    conductivity = np.array([section.layers[0].conductivity for section in sections])
    over = Reduced.together([part.reduced for part in upper])
    under = Reduced.together([part.reduced for part in lower])
    # Seen from below, what the lower part calls above is what is below the floor.
    rest = respond(under, below / conductivity).conductance
    held = lower[0].held
    circle = held.shape[1]
    corners = over.size
    on_crown = np.flatnonzero(held[0] == 0)
    columns = held[1, on_crown]
    between = _others(corners, columns)
    crown = np.arange(circle, circle + len(between))
    known = np.r_[:circle, circle + len(between)]
    # What remains: the top's corners, the circle's, what is below.
    count = corners + circle + 1
    whole = np.zeros((len(sections), count, count))
    whole[:, :corners, :corners] = over.line.matrix
    whole[:, corners:, corners:] = rest[:, known[:, None], known]
    at = corners + on_crown
    load = over.line.load[:, :, 1:-1]
    outer = over.line.outer[:, 1:-1, 1:-1]
    whole[:, :corners, at] = load[:, :, columns]
    whole[:, at, :corners] = np.swapaxes(load[:, :, columns], 1, 2)
    whole[:, at[:, None], at] += outer[:, columns[:, None], columns]
    hangs = np.zeros((len(sections), len(between), count))
    hangs[:, :, :corners] = np.swapaxes(load[:, :, between], 1, 2)
    hangs[:, :, corners:] = rest[:, crown[:, None], known]
    hangs[:, :, at] += outer[:, between[:, None], columns]
    own = rest[:, crown[:, None], crown] + outer[:, between[:, None], between]
    whole -= np.swapaxes(hangs, 1, 2) @ np.linalg.solve(own, hangs)
    whole *= conductivity[:, None, None]

    # As `conduction.reduce` orders them: what is below, the circle's corners, what is above.
    order = np.argsort(-held[0], kind="stable")
    inward = np.r_[corners + circle, corners + order]
    matrix = whole[:, :corners, :corners].copy()  # a copy, so that the rest can be freed
    line = Line(
        matrix,
        np.pad(whole[:, :corners, inward], ((0, 0), (0, 0), (0, 1))),
        np.pad(whole[:, inward[:, None], inward], ((0, 0), (0, 1), (0, 1))),
        *over.line[3:],
    )
    places = np.r_[circle + 1, order, circle]
    found = Reduced(line, over.columns, corners, places).apart()
    return list(zip(upper, found, strict=True))


def _worked(
    sections: list[Section], fineness: float, of: Callable[[Sequence[Section], float], list[Part]]
) -> list[Part]:
    """The part of each of these floors; those that are not kept are computed at once."""
    new = [one for one in dict.fromkeys(sections) if (one, fineness) not in _parts]
    made = dict(zip(new, of(new, fineness) if new else [], strict=True))
    found = [made[one] if one in made else _parts[one, fineness] for one in sections]
    if len(_parts) + len(made) > _MOST_PARTS:
        _parts.clear()
    _parts.update({(one, fineness): part for one, part in made.items()})
    return found


def _of_over(sections: Sequence[Section], fineness: float) -> list[Part]:
    """All over the height of the crown; its corners there are terminals."""
    grids = [mesh(section, fineness) for section in sections]
    first = int(grids[0].held[0, 0])
    x = np.stack([grid.x[: first + 1] for grid in grids])
    y = np.stack([grid.y[: first + 1] for grid in grids])
    columns = np.arange(x.shape[2])
    held = np.stack((np.full(len(columns), first), columns))
    cells = np.ones((len(grids), first, len(columns) - 1))
    reduced = reduce(x, y, cells, np.zeros(len(grids)), held).apart()
    return [
        Part(own, grid.held, grid.angles, grid.x[0].copy())
        for own, grid in zip(reduced, grids, strict=True)
    ]


def _of_under(sections: Sequence[Section], fineness: float) -> list[Part]:
    """All from the height of the crown down, seen from below, so that the bottom is the uppermost
    line; terminals: the circle's corners, then those beside it at the height of the crown."""
    grids = [mesh(section, fineness) for section in sections]
    circle = grids[0].held - [[grids[0].held[0, 0]], [0]]
    first = int(grids[0].held[0, 0])
    x = np.stack([grid.x[first:][::-1] for grid in grids])
    y = np.stack([-grid.y[first:][::-1] for grid in grids])
    cells = np.stack(
        [
            np.array(conductivities(section))[grid.materials[first:][::-1]]
            for section, grid in zip(sections, grids, strict=True)
        ]
    )
    beside = _others(x.shape[2], circle[1, circle[0] == 0])
    held = np.concatenate((circle, np.stack((np.zeros_like(beside), beside))), axis=1)
    turned = np.stack((x.shape[1] - 1 - held[0], held[1]))
    reduced = reduce(x, y, cells, np.zeros(len(grids)), turned).apart()
    return [
        Part(own, circle, grid.angles, grid.x[0].copy())
        for own, grid in zip(reduced, grids, strict=True)
    ]


def _others(count: int, some: Index) -> Index:
    """The numbers below `count` that are not among some, without NumPy's masked arrays, which its
    own difference of sets imports."""
    other = np.ones(count, dtype=bool)
    other[some] = False
    return np.flatnonzero(other)
