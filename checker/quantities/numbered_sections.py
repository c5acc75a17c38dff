"""Sections by number: columns hold a number for each row's section, and are computed from it.

One row a part of a loop. `Numbered` keeps the sections of a run by these numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast

import numpy as np

from checker.arrays import Array, Index
from checker.compute.numbered import Numbered
from checker.physics import en_1264, floor_surface
from checker.physics.build_up import BELOW, ROOM, WATER, wet_section
from checker.physics.mixed_section import Layering, Mixed, Valued, flows, solved, surface, valued
from checker.quantities.floor_layers import LAYERED
from checker.quantities.part_floor import WET

NO_SECTION = (
    "the section cannot be solved: the pipe has no bore, or its neighbours leave it no room"
)

CROWDED = 1.1
"""The smallest spacing of a section, as a multiple of the outside diameter of pipe and plate
ring.
"""

Ends = tuple[Array, Array, Array, Array]
"""Spacing, cover, covering and the pipe's outside."""


def at_tables_end(spacing: Array, cover: Array, covering: Array, outside: Array) -> Ends:
    """A floor's sizes brought back to the nearest end of the tables of EN 1264-2.

    Args:
        spacing: m, shape (n,).
        cover: m, shape (n,).
        covering: resistance, m²·K/W, shape (n,).
        outside: diameter of the pipe, m, shape (n,).

    Returns:
        The same four, each within its table.
    """
    return (
        np.clip(spacing, *en_1264.SPACING_RANGE),
        np.clip(cover, *en_1264.COVER_RANGE),
        np.clip(covering, *en_1264.COVERING_RANGE),
        np.clip(outside, *en_1264.PIPE_OUTSIDE_RANGE),
    )


def on_limit_curves(
    spacing: Array, cover: Array, covering: Array, outside: Array, conductivity: Array
) -> Ends:
    """As `at_tables_end`, with a cover for which the limit curves are tabled too.

    The curves begin at a resistance of the cover and, where that is large, at a share of the
    spacing.

    Args:
        spacing: m, shape (n,).
        cover: m, shape (n,).
        covering: resistance, m²·K/W, shape (n,).
        outside: diameter of the pipe, m, shape (n,).
        conductivity: of the screed, W/(m·K), shape (n,).

    Returns:
        The first four, the cover made thicker where it must be.
    """
    thick = np.maximum(cover, en_1264.COVER_RESISTANCE_RANGE[0] * conductivity)
    share = en_1264.COVER_TO_SPACING_RANGE[0] * np.minimum(spacing, en_1264.WIDEST_TABLED_SPACING)
    outside_curves = np.isnan(floor_surface.limit_curve(spacing, thick, conductivity)[0])
    return spacing, np.where(outside_curves, np.maximum(thick, share), thick), covering, outside


def numbers_at_end(
    things: Numbered,
    asked: Array,
    construction: Array,
    ends: Ends,
    conductivity: Array,
    wall: Array,
    pipe_conductivity: Array,
    under: Array,
    below_pipe: Array,
) -> Array:
    spacing, cover, covering, outside = ends
    return section_numbers(
        things,
        (asked == 1) & (construction == WET),
        construction,
        np.full(len(spacing), np.nan),
        spacing,
        cover,
        conductivity,
        covering,
        outside,
        wall,
        pipe_conductivity,
        under,
        np.nan_to_num(below_pipe),
    )


def section_numbers(
    things: Numbered, asked: Array, construction: Array, layering: Array, *columns: Array
) -> Array:
    """Give each row's section a number.

    Args:
        things: keeps the sections by number.
        asked: whether a row's section is wanted, shape (n,).
        construction: of the floor, shape (n,).
        layering: number of the floor's layers in `things`, shape (n,).
        *columns: spacing, cover, conductivity, covering, outside, wall, pipe conductivity, below
            and screed below the pipe, as for `wet_section`.

    Returns:
        Shape (n,); NaN where no section is wanted, a size is missing, or neighbouring pipes touch.
    """
    found = np.full(len(construction), np.nan)
    spacing, _, _, _, outside, wall, *_ = columns
    roomy = (outside > 2 * wall) & (wall > 0) & (spacing > CROWDED * outside)
    layered = construction == LAYERED
    known = ~np.isnan(np.where(layered, layering, sum(columns)))
    known &= ~np.isnan(spacing + outside + wall + columns[3] + columns[6] + columns[7])
    rows = np.flatnonzero(np.asarray(asked, dtype=bool) & roomy & known)
    if not len(rows):
        return found
    table = np.stack((np.where(layered, layering, -1.0), *columns), axis=1)[rows]
    table[layered[rows], 2:4] = 0.0
    if things.carried is not None:
        found[rows] = _carried_numbers(things, table)
        return found
    distinct, which = _distinct(table)
    numbers = [_number(things, *row) for row in distinct.tolist()]
    found[rows] = np.array(numbers)[which]
    return found


def _distinct(table: Array) -> tuple[Array, Index]:
    """The rows of a table that differ, and for each of its rows which of these it is."""
    if len(table) == 1:
        return table, np.zeros(1, dtype=np.intp)
    found, which = np.unique(table, axis=0, return_inverse=True)
    return found, which.reshape(-1)


def _carried_numbers(things: Numbered, table: Array) -> Array:
    """The numbers of sections in a run of draws; NaN where neighbouring pipes leave no room."""
    from checker.physics.carried import Kind  # only a run of very many draws needs it

    carried = things.carried
    assert carried is not None
    distinct, which = _distinct(table[:, [0, 5, 6, 7, 8, 9]])
    kinds = [
        Kind(cast(Layering, things.thing(own[0])) if own[0] >= 0 else None, *own[1:])
        for own in distinct.tolist()
    ]
    ring = np.array(
        [2 * one.layering.plate.thickness if one.layering and one.layering.plate else 0.0
         for one in kinds]
    )  # fmt: skip
    places, outside = table[:, 1:5], table[:, 5]
    roomy = np.flatnonzero(places[:, 0] > CROWDED * (outside + ring[which]))
    ends = places.copy()
    wet = table[:, 0] < 0
    spacing, cover, covering, _ = at_tables_end(places[:, 0], places[:, 1], places[:, 3], outside)
    ends[wet] = np.stack([spacing, cover, places[:, 2], covering], axis=1)[wet]
    found = np.full(len(table), np.nan)
    found[roomy] = carried.numbers(kinds, which[roomy], places[roomy], ends[roomy])
    return found


def _number(
    things: Numbered,
    layering: float,
    spacing: float,
    cover: float,
    conductivity: float,
    covering: float,
    outside: float,
    wall: float,
    pipe_conductivity: float,
    below: float,
    below_pipe: float,
) -> float:
    pipe = covering, outside, wall, pipe_conductivity, below
    made: Mixed
    if layering >= 0:
        layers = things.thing(layering)
        assert isinstance(layers, Layering)
        plate = layers.plate.thickness if layers.plate else 0.0
        if spacing <= CROWDED * (outside + 2 * plate):
            return np.nan
        made = layers.section(spacing, *pipe)
    else:
        made = ((wet_section(spacing, cover, conductivity, *pipe, below_pipe), 1.0),)
    return things.number(made)


def solved_columns(
    things: Numbered, numbers: Array, of: Callable[..., Array], *columns: Array, several: int = 0
) -> Array:
    """A value of each row's section, each section solved once.

    Args:
        things: keeps the sections by number.
        numbers: of the sections, shape (n,).
        of: gives values from floors with their film worked out, and from the other columns.
        *columns: the first is the film of water, W/(m²·K); without any, there is no film.
        several: how many values `of` gives a floor; 0 for one.

    Returns:
        Shape (n,), or (n, several); NaN where a number or a column is missing.
    """
    found = np.full((len(numbers), several) if several else len(numbers), np.nan)
    rows = np.flatnonzero(~np.isnan(sum((numbers, *columns))))
    if not len(rows):
        return found
    table = np.stack((numbers, *columns), axis=1)[rows]
    distinct, which = _distinct(table)
    own, more = distinct[:, 0].tolist(), distinct[:, 1:].T
    films = more[0].tolist() if len(more) else [np.inf] * len(own)
    new = [number for number in {*own} if number not in things.solved]
    made = solved([cast(Mixed, things.thing(number)) for number in new])
    things.solved.update(zip(new, made, strict=True))
    floors = valued([(things.solved[one], film) for one, film in zip(own, films, strict=True)])
    found[rows] = of(floors, *more)[which]
    return found


def _from_water(floors: Sequence[Valued], _: Array) -> Array:
    return np.asarray(-flows(floors)[:, (ROOM, BELOW, ROOM), (WATER, WATER, BELOW)])


def conductances(things: Numbered, numbers: Array, film: Array) -> Array:
    """Conductances of each row's section.

    Args:
        things: keeps the sections by number.
        numbers: of the sections, shape (n,).
        film: of water, W/(m²·K), infinite for none, shape (n,).

    Returns:
        From the water to the room and to below, and from the room to below past the pipes,
        W/(m²·K), shape (n, 3).
    """
    if things.carried is None:
        return solved_columns(things, numbers, _from_water, film, several=3)
    found = np.full((len(numbers), 3), np.nan)
    rows = np.flatnonzero(~np.isnan(numbers + film))
    if len(rows):
        found[rows] = things.carried.conductances(numbers[rows], film[rows])
    return found


def upward_coefficient(things: Numbered, numbers: Array) -> Array:
    """Heat coefficient of each row's section, without a film of water.

    Args:
        things: keeps the sections by number.
        numbers: of the sections, shape (n,).

    Returns:
        W/(m²·K), shape (n,).
    """
    found: Array = conductances(things, numbers, np.full(len(numbers), np.inf))[:, 0]
    return found


def warmest_surface(
    things: Numbered, numbers: Array, film: Array, excess: Array, room: Array, below: Array
) -> Array:
    """Highest surface temperature of each row's section.

    Args:
        things: keeps the sections by number.
        numbers: of the sections, shape (n,).
        film: of water, W/(m²·K), shape (n,).
        excess: of the water over the room, K, shape (n,).
        room: °C, shape (n,).
        below: °C, shape (n,).

    Returns:
        °C, shape (n,).
    """
    if things.carried is None:
        return solved_columns(things, numbers, _warmest_of, film, excess, room, below)
    columns = film, excess, room, below
    found = np.full(len(numbers), np.nan)
    rows = np.flatnonzero(~np.isnan(sum((numbers, *columns))))
    if len(rows):
        given = (one[rows] for one in columns)
        found[rows] = things.carried.warmest(numbers[rows], *given)
    return found


def _warmest_of(
    floors: Sequence[Valued], _: Array, excess: Array, room: Array, below: Array
) -> Array:
    temperatures = np.stack((room + excess, room, below), axis=1)
    return np.array([surface(one, *own) for one, own in zip(floors, temperatures, strict=True)])
