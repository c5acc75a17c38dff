"""Of a part of a loop: the floor in section, by two-dimensional conduction. SI and °C, one a row.

The section is judged by where the floor is given by its layers, and beyond the ends of the tables
of EN 1264-2; elsewhere it is a second opinion, and only worked out where that is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast

import numpy as np
import numpy.typing as npt

from checker.compute.graph import Array, Output, quantities_of
from checker.compute.numbered import Numbered
from checker.design.schema import design_format
from checker.physics import floor
from checker.physics.arrays import BORDER_TOLERANCE
from checker.physics.build_up import wet_section
from checker.physics.carried import Kind
from checker.physics.mixed_section import Filmed, Layering, Mixed, flows, prepare, solved, surface
from checker.physics.section import BELOW, ROOM, WATER, bounds
from checker.quantities.floor_layers import LAYERED
from checker.quantities.part import FEED, OWN

quantity = quantities_of("part")

_code = design_format().code
WET = _code("floors", "construction", "wet")
TESTED = _code("floors", "construction", "tested")
HEATED = _code("floors", "below", "heated")
UNHEATED = _code("floors", "below", "unheated")

CONDUCTION = "two-dimensional conduction in the floor's section"
SECTION = "solved by finite elements through half a spacing"
NO_SECTION = (
    "the section cannot be solved: the pipe has no bore, or its neighbours leave it no room"
)
FILM = f"{CONDUCTION}; film: Nusselt 4.36 below Re 2300, Gnielinski above 4000"

CROWDED = 1.1
"""Times the pipe's outside, with its plate's ring: the least spacing of a section."""


def _beyond(value: Array, ends: tuple[float, float]) -> npt.NDArray[np.bool_]:
    """Whether the value is beyond the ends; not where it is missing."""
    low, high = ends
    slack = BORDER_TOLERANCE * np.abs(value)
    found: npt.NDArray[np.bool_] = (value < low - slack) | (value > high + slack)
    return found


@quantity(
    unit="1",
    title="Whether the section stands in for the tables' heat coefficient",
    symbol="s",
    formula="is 1 for a floor given by its layers, and beyond an end of the tables, else 0",
    source="EN 1264-2, ranges of the tables",
    optional=("spacing", "floor_screed_cover", "room_covering_resistance", "pipe_outside"),
    shown=False,
)
def stands_in(
    floor_construction: Array,
    spacing: Array,
    floor_screed_cover: Array,
    room_covering_resistance: Array,
    pipe_outside: Array,
) -> Array:
    """1 where the section is judged by, else 0."""
    beyond = (
        _beyond(spacing, floor.SPACING_RANGE)
        | _beyond(floor_screed_cover, floor.COVER_RANGE)
        | _beyond(room_covering_resistance, floor.COVERING_RANGE)
        | _beyond(pipe_outside, floor.PIPE_OUTSIDE_RANGE)
    )
    wet = (floor_construction == WET) & beyond
    found = (wet | (floor_construction == LAYERED)).astype(float)
    return np.where(np.isnan(floor_construction), np.nan, found)


@quantity(
    unit="1",
    title="Whether the section stands in for the limit curves",
    symbol="s_G",
    formula="is 1 where it does for the heat coefficient, and outside the limit curves, else 0",
    source="EN 1264-2, ranges of the tables",
    optional=("spacing", "floor_screed_cover", "floor_screed_conductivity"),
    shown=False,
)
def surface_stands_in(
    stands_in: Array,
    floor_construction: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
) -> Array:
    """1 where the section's surface is judged by, else 0."""
    factor, _ = floor.limit_curve(spacing, floor_screed_cover, floor_screed_conductivity)
    known = ~np.isnan(spacing + floor_screed_cover + floor_screed_conductivity)
    outside = (floor_construction == WET) & known & np.isnan(factor)
    return np.where(outside, 1.0, stands_in)


@quantity(
    unit="m²·K/W",
    title="Resistance of what lies under the layers",
    symbol="R_b",
    formula=(
        "{floor_given_insulation}",
        "{floor_given_insulation} + {0.17 m²·K/W}",
        "{0.17 m²·K/W}",
        "0",
    ),
    source="as in R_u of EN 1264-3",
    optional=("floor_given_insulation",),
    shown=False,
)
def under_layers(
    floor_given_insulation: Array, floor_below: Array, floor_construction: Array
) -> Array:
    """Under the screed or the lowest layer, m²·K/W; over a room with its ceiling's surface."""
    own = np.where(
        (floor_construction == LAYERED) & np.isnan(floor_given_insulation),
        0.0,
        floor_given_insulation,
    )
    over_room = (floor_below == HEATED) | (floor_below == UNHEATED)
    found = own + np.where(over_room, floor.CEILING_SURFACE_RESISTANCE, 0.0)
    return np.where(np.isnan(floor_below), np.nan, found)


def section_told(things: Numbered, number: float) -> tuple[str, ...]:
    """Of a section its layers with their resistances, the grid, its error, the balance of heat for
    one kelvin, and between what it must lie."""
    mixed = things.thing(number)
    (floors,) = solved([mixed])  # type: ignore[list-item]  # it is a section
    lines: list[str] = []
    for solution, share in floors:
        one = solution.section
        if len(floors) > 1:
            lines.append(f"{100 * share:.0f} % of the floor, {_with_joist(one.joist)}:")
        lines.append(f"covering {_measured(one.covering, 'm²·K/W')}, and 1/10.8 to the room")
        for place, layer in enumerate(one.layers):
            timber = f" ({layer.joist:.3g} in the joist)" if one.joist and layer.joist else ""
            line = (
                f"{1000 * layer.thickness:.4g} mm of {layer.conductivity:.3g} W/(m·K){timber}: "
                f"{_measured(layer.thickness / layer.conductivity, 'm²·K/W')}"
            )
            if place == one.pipe_layer:
                line += f"; pipe's axis {1000 * one.axis:.4g} mm under its top"
            lines.append(line)
        if one.plate:
            lines.append(
                f"plate {1000 * one.plate.thickness:.3g} × {1000 * one.plate.width:.4g} mm of "
                f"{one.plate.conductivity:.3g} W/(m·K)"
            )
        lines.append(f"under the layers {_measured(one.below, 'm²·K/W')}")
        values, (least, most) = solution.values(), bounds(one)
        rows, columns = solution.fine.mesh.materials.shape
        lines.append(
            f"on {rows} × {columns} cells, and on half as many each way; error by refinement "
            f"{100 * values.coefficient_error / values.coefficient:.2f} % of the coefficient"
        )
        up, down = values.coefficient, values.downward_coefficient
        lines.append(
            f"1 K of excess over both sides: {up:.3f} up + {down:.3f} down = {up + down:.3f} W/m² "
            f"from the water; by hand between {least:.2f} (straight from the bore alone) and "
            f"{most:.2f} (the whole plane as warm as the pipe)"
        )
    return tuple(lines)


def _with_joist(joist: float) -> str:
    return (
        f"with a joist of {1000 * joist:.0f} mm between two pipes" if joist else "without a joist"
    )


def _measured(value: float, unit: str) -> str:
    return f"{value:.3g} {unit}"


@quantity(
    unit="1",
    title="Section",
    symbol="n_S",
    formula="is what is given of the floor, the pipe and the covering",
    source="design; screed under the pipe that is not given counts as none",
    told=section_told,
    optional=("floor_screed_below_pipe", "stands_in", "surface_stands_in"),
    needed_when={
        "floor_layering": ("floor_construction", (LAYERED,)),
        "floor_screed_cover": ("floor_construction", (WET,)),
        "floor_screed_conductivity": ("floor_construction", (WET,)),
    },
    missing_because=NO_SECTION,
    shown=False,
)
def section(
    floor_construction: Array,
    floor_layering: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
    room_covering_resistance: Array,
    pipe_outside: Array,
    pipe_wall: Array,
    pipe_wall_conductivity: Array,
    under_layers: Array,
    floor_screed_below_pipe: Array,
    surface_stands_in: Array,
    second_opinion: bool,
    things: Numbered,
) -> Array:
    """The number of the loop's section in `sections`; NaN where it is not asked for."""
    asked = (surface_stands_in == 1) | (second_opinion & (floor_construction != TESTED))
    return _sections(
        things,
        asked,
        floor_construction,
        floor_layering,
        spacing,
        floor_screed_cover,
        floor_screed_conductivity,
        room_covering_resistance,
        pipe_outside,
        pipe_wall,
        pipe_wall_conductivity,
        under_layers,
        np.nan_to_num(floor_screed_below_pipe),
    )


END_OF_TABLES = "is the floor as it would be at the nearest end of the tables"


@quantity(
    unit="1",
    title="Section at the tables' end",
    symbol="n_E",
    formula=END_OF_TABLES,
    told=section_told,
    source="EN 1264-2, ranges of the tables",
    optional=("floor_screed_below_pipe", "stands_in"),
    missing_because=NO_SECTION,
    shown=False,
)
def end_section(
    floor_construction: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
    room_covering_resistance: Array,
    pipe_outside: Array,
    pipe_wall: Array,
    pipe_wall_conductivity: Array,
    under_layers: Array,
    floor_screed_below_pipe: Array,
    stands_in: Array,
    things: Numbered,
) -> Array:
    """The number in `sections` of a wet floor brought back to the ranges of the tables."""
    return _end_sections(
        things,
        stands_in,
        floor_construction,
        _at_end(spacing, floor_screed_cover, room_covering_resistance, pipe_outside),
        floor_screed_conductivity,
        pipe_wall,
        pipe_wall_conductivity,
        under_layers,
        floor_screed_below_pipe,
    )


@quantity(
    unit="1",
    title="Section at the limit curves' end",
    symbol="n_E",
    formula=END_OF_TABLES,
    told=section_told,
    source="EN 1264-2, ranges of the limit curves",
    optional=("floor_screed_below_pipe", "surface_stands_in"),
    missing_because=NO_SECTION,
    shown=False,
)
def curve_section(
    floor_construction: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
    room_covering_resistance: Array,
    pipe_outside: Array,
    pipe_wall: Array,
    pipe_wall_conductivity: Array,
    under_layers: Array,
    floor_screed_below_pipe: Array,
    surface_stands_in: Array,
    things: Numbered,
) -> Array:
    """The number in `sections` of a wet floor brought back to the ranges of the limit curves."""
    ends = _at_end(spacing, floor_screed_cover, room_covering_resistance, pipe_outside)
    return _end_sections(
        things,
        surface_stands_in,
        floor_construction,
        _on_curves(*ends, floor_screed_conductivity),
        floor_screed_conductivity,
        pipe_wall,
        pipe_wall_conductivity,
        under_layers,
        floor_screed_below_pipe,
    )


Ends = tuple[Array, Array, Array, Array]
"""Spacing, cover, covering and the pipe's outside."""


def _at_end(spacing: Array, cover: Array, covering: Array, outside: Array) -> Ends:
    """Each brought back to the nearest end of the tables."""
    return (
        np.clip(spacing, *floor.SPACING_RANGE),
        np.clip(cover, *floor.COVER_RANGE),
        np.clip(covering, *floor.COVERING_RANGE),
        np.clip(outside, *floor.PIPE_OUTSIDE_RANGE),
    )


def _on_curves(
    spacing: Array, cover: Array, covering: Array, outside: Array, conductivity: Array
) -> Ends:
    """The same with a cover that the limit curves have too: they begin at a resistance of it, and
    where it has much at a share of the spacing."""
    thick = np.maximum(cover, floor.COVER_RESISTANCE_RANGE[0] * conductivity)
    share = floor.COVER_TO_SPACING_RANGE[0] * np.minimum(spacing, floor.WIDEST_TABLED_SPACING)
    outside_curves = np.isnan(floor.limit_curve(spacing, thick, conductivity)[0])
    return spacing, np.where(outside_curves, np.maximum(thick, share), thick), covering, outside


def _end_sections(
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
    return _sections(
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


def _sections(
    things: Numbered, asked: Array, construction: Array, layering: Array, *columns: Array
) -> Array:
    """The number of each row's section; columns: those of `wet_section`, in its order but for
    covering, which stands fourth there too."""
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
    distinct, which = np.unique(table, axis=0, return_inverse=True)
    numbers = [_number(things, *row) for row in distinct.tolist()]
    found[rows] = np.array(numbers)[which.reshape(-1)]
    return found


def _carried_numbers(things: Numbered, table: Array) -> Array:
    """The numbers that sections of a run of draws have; NaN where neighbours leave no room."""
    carried = things.carried
    assert carried is not None
    distinct, which = np.unique(table[:, [0, 5, 6, 7, 8, 9]], axis=0, return_inverse=True)
    kinds = [
        Kind(cast(Layering, things.thing(own[0])) if own[0] >= 0 else None, *own[1:])
        for own in distinct.tolist()
    ]
    which = which.reshape(-1)
    ring = np.array(
        [2 * one.layering.plate.thickness if one.layering and one.layering.plate else 0.0
         for one in kinds]
    )  # fmt: skip
    places, outside = table[:, 1:5], table[:, 5]
    roomy = np.flatnonzero(places[:, 0] > CROWDED * (outside + ring[which]))
    ends = places.copy()
    wet = table[:, 0] < 0
    spacing, cover, covering, _ = _at_end(places[:, 0], places[:, 1], places[:, 3], outside)
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


def _of_sections(
    things: Numbered, numbers: Array, of: Callable[..., Array], *columns: Array, several: int = 0
) -> Array:
    """of(floors, *values) for the rows with a section, alike ones once, shape (n,); where it gives
    several numbers, shape (n, several). floors: each with its film of water, W/(m²·K), the first of
    the columns; without any there is none."""
    found = np.full((len(numbers), several) if several else len(numbers), np.nan)
    rows = np.flatnonzero(~np.isnan(sum((numbers, *columns))))
    if not len(rows):
        return found
    table = np.stack((numbers, *columns), axis=1)[rows]
    distinct, which = np.unique(table, axis=0, return_inverse=True)
    own, more = distinct[:, 0].tolist(), distinct[:, 1:].T
    films = more[0].tolist() if len(more) else [np.inf] * len(own)
    once = {*own}
    made = [cast(Mixed, things.thing(number)) for number in once]
    floors = dict(zip(once, solved(made), strict=True))
    filmed = [(floors[number], film) for number, film in zip(own, films, strict=True)]
    prepare(filmed)
    found[rows] = of(filmed, *more)[which.reshape(-1)]
    return found


def _from_water(floors: Sequence[Filmed], _: Array) -> Array:
    return np.asarray(-flows(floors)[:, (ROOM, BELOW, ROOM), (WATER, WATER, BELOW)])


def _conductances(things: Numbered, numbers: Array, film: Array) -> Array:
    """From the water to the room and to below, and from the room to below past the pipes, shape
    (n, 3), W/(m²·K)."""
    if things.carried is None:
        return _of_sections(things, numbers, _from_water, film, several=3)
    found = np.full((len(numbers), 3), np.nan)
    rows = np.flatnonzero(~np.isnan(numbers + film))
    if len(rows):
        found[rows] = things.carried.conductances(numbers[rows], film[rows])
    return found


def _upward(things: Numbered, numbers: Array) -> Array:
    """Heat coefficient without a film of water, W/(m²·K)."""
    found: Array = _conductances(things, numbers, np.full(len(numbers), np.inf))[:, 0]
    return found


def _warmest(
    things: Numbered, numbers: Array, film: Array, excess: Array, room: Array, below: Array
) -> Array:
    """The highest surface temperature, °C."""
    if things.carried is None:
        return _of_sections(things, numbers, _warmest_of, film, excess, room, below)
    columns = film, excess, room, below
    found = np.full(len(numbers), np.nan)
    rows = np.flatnonzero(~np.isnan(sum((numbers, *columns))))
    if len(rows):
        given = (one[rows] for one in columns)
        found[rows] = things.carried.warmest(numbers[rows], *given)
    return found


def _warmest_of(
    floors: Sequence[Filmed], _: Array, excess: Array, room: Array, below: Array
) -> Array:
    temperatures = np.stack((room + excess, room, below), axis=1)
    return np.array([surface(*one, *own) for one, own in zip(floors, temperatures, strict=True)])


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient by the section",
    symbol="K_S",
    formula=SECTION + ", with the room's temperature on both sides and no water film",
    source=CONDUCTION,
    shown=False,
)
def section_coefficient(section: Array, things: Numbered) -> Array:
    """Heat flux upwards over the water's mean excess, W/(m²·K)."""
    return _upward(things, section)


@quantity(
    unit="W/m²",
    title="Heat output by the section",
    symbol="q_S",
    formula=SECTION + ", with the water {excess} above the room and its film of {loop_film}",
    source=FILM,
    shown=False,
)
def section_output(
    section: Array,
    loop_film: Array,
    excess: Array,
    room_temperature: Array,
    below_temperature: Array,
    things: Numbered,
) -> Array:
    """Heat flux up at the loop's own excess, W/m²."""

    def up(floors: Sequence[Filmed], _: Array, excess: Array, room: Array, below: Array) -> Array:
        temperatures = np.stack((room + excess, room, below), axis=1)
        return np.asarray(-(flows(floors)[:, ROOM] * temperatures).sum(axis=1))

    return _of_sections(things, section, up, loop_film, excess, room_temperature, below_temperature)


@quantity(
    unit="°C",
    title="Highest surface temperature by the section",
    symbol="θ_F,S",
    formula=SECTION + ", with the water {warmest_excess} above the room and its film of "
    "{loop_open_film}",
    source=FILM,
    shown=False,
)
def section_surface_max(
    section: Array,
    loop_open_film: Array,
    warmest_excess: Array,
    room_temperature: Array,
    below_temperature: Array,
    things: Numbered,
) -> Array:
    """Temperature of the warmest spot at the open point, °C."""
    return _warmest(
        things, section, loop_open_film, warmest_excess, room_temperature, below_temperature
    )


@quantity(
    unit="°C",
    title="Highest surface temperature of a floor by the section",
    symbol="θ_F,S",
    formula="{section_surface_max}",
    source=CONDUCTION,
    needed_when={"section_surface_max": ("feed", (OWN,))},
    shown=False,
)
def own_section_surface(section_surface_max: Array, feed: Array) -> Array:
    """As `section_surface_max`, °C; −inf of a feed."""
    return np.where(feed == FEED, -np.inf, section_surface_max)


# ---- where the section is judged by


def _rated(ends: Ends, conductivity: Array, wall: Array, pipe_conductivity: Array) -> Array:
    spacing, cover, covering, outside = ends
    return floor.heat_coefficient(
        spacing, cover, conductivity, covering, outside, wall, pipe_conductivity
    )


@quantity(
    unit="1",
    title="Standard over section at the tables' end",
    symbol="κ",
    formula=(
        "1",
        "the heat coefficient of EN 1264-2 at the tables' end over the section's, at most 1",
    ),
    source="so that nothing jumps where the tables end",
    needed_when={"end_section": ("floor_construction", (WET,))},
    shown=False,
)
def end_ratio(
    end_section: Array,
    floor_construction: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
    room_covering_resistance: Array,
    pipe_outside: Array,
    pipe_wall: Array,
    pipe_wall_conductivity: Array,
    things: Numbered,
) -> Array:
    """What the section's coefficient is multiplied by; 1 for a floor given by its layers."""
    ends = _at_end(spacing, floor_screed_cover, room_covering_resistance, pipe_outside)
    rated = _rated(ends, floor_screed_conductivity, pipe_wall, pipe_wall_conductivity)
    ratio = rated / _upward(things, end_section)
    return np.where(floor_construction == LAYERED, 1.0, np.minimum(ratio, 1.0))


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient where the section stands in",
    symbol="K_H",
    formula=("{section_coefficient}", "{section_coefficient} · {end_ratio}"),
    source=f"{CONDUCTION}, carried on from the tables' end",
    shown=False,
)
def standing_coefficient(section_coefficient: Array, end_ratio: Array) -> Array:
    """The section's, brought to the standard's at the tables' end, W/(m²·K)."""
    return section_coefficient * end_ratio


@quantity(
    unit="W/(m²·K)",
    title="Heat transfer from the water to the bore that the balance is worked with",
    symbol="α_w",
    formula="by the flow that the balance itself gives",
    source=FILM,
    optional=("earlier_working_film",),
    missing_because="only the balance of a floor that the section is judged by has one",
    shown=False,
)
def working_film(
    earlier_working_film: Array,
    stands_in: Array,
    plant_fluid_kind: Array,
    loop_fluid_fraction: Array,
    loop_bore: Array,
) -> Array:
    """Where the section stands in, W/(m²·K); infinite in the first round, whatever the water and
    the bore, but unknown where they are: nothing later would say how much the film takes."""
    found = np.where(np.isnan(earlier_working_film), np.inf, earlier_working_film)
    known = ~np.isnan(plant_fluid_kind + loop_fluid_fraction + loop_bore)
    return np.where((stands_in == 1) & known, found, np.nan)


@quantity(
    outputs=(
        Output(
            "working_up",
            "W/(m²·K)",
            "Conductance from the water to the room",
            "K_W",
            SECTION + ", with a water film of {working_film}",
            shown=False,
        ),
        Output(
            "working_down",
            "W/(m²·K)",
            "Conductance from the water to what is below",
            "G_W",
            SECTION + ", with a water film of {working_film}",
            shown=False,
        ),
        Output(
            "working_past",
            "W/(m²·K)",
            "Conductance from the room to what is below, past the pipes",
            "X_W",
            SECTION + ", with a water film of {working_film}",
            shown=False,
        ),
    ),
    source=CONDUCTION,
)
def working_conductances(
    stands_in: Array, section: Array, working_film: Array, things: Numbered
) -> tuple[Array, Array, Array]:
    """What the balance is worked with, where the section stands in, W/(m²·K)."""
    where = _where(stands_in, section)
    up, down, past = _conductances(things, where, working_film).T
    return up, down, past


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient with the water film",
    symbol="K_H",
    formula=("{heat_coefficient}", "{working_up} · {end_ratio}"),
    source="of a floor given by its layers, and beyond the tables' ends, its section; else as "
    "without",
    optional=("stands_in",),
    needed_when={"working_up": ("stands_in", (1.0,)), "end_ratio": ("stands_in", (1.0,))},
    shown=False,
)
def working_coefficient(
    heat_coefficient: Array, stands_in: Array, working_up: Array, end_ratio: Array
) -> Array:
    """What the balance is worked with, W/(m²·K)."""
    return np.where(stands_in == 1, working_up * end_ratio, heat_coefficient)


@quantity(
    unit="W/m²",
    title="Heat from the room to what is below, past the pipes",
    symbol="q_x",
    formula=(
        "0",
        "{working_past} · {end_ratio} · ({room_temperature} − {below_temperature})",
    ),
    source="of a floor given by its layers, and beyond the tables' ends, its section; EN 1264-2 "
    "counts none",
    optional=("stands_in",),
    needed_when={
        "working_past": ("stands_in", (1.0,)),
        "below_temperature": ("stands_in", (1.0,)),
        "end_ratio": ("stands_in", (1.0,)),
    },
    shown=False,
)
def held_back(
    floor_construction: Array,
    stands_in: Array,
    working_past: Array,
    end_ratio: Array,
    room_temperature: Array,
    below_temperature: Array,
) -> Array:
    """Taken off the heat upwards, W/m²."""
    passed = working_past * end_ratio * (room_temperature - below_temperature)
    none = np.where(np.isnan(floor_construction), np.nan, 0.0)
    return np.where(stands_in == 1, passed, none)


def _where(stands_in: Array, section: Array) -> Array:
    """The section where it is judged by, so that a second opinion changes nothing."""
    return np.where(stands_in == 1, section, np.nan)


# With the section's conductances from water to room K, water to below G, and room to below X,
# q = K·Δθ − X·(θ_i − θ_u) and q_u = G·Δθ + (G + X)·(θ_i − θ_u); so R_u = 1/(G + X + G·X/K) and
# R_o = G·R_u/K make EN 1264-2's (R_o·q + θ_i − θ_u)/R_u of it. Where a factor carries q on from the
# tables' end, R_o over that factor gives the same heat downwards.


@quantity(
    unit="m²·K/W",
    title="Heat resistance upwards by the section",
    symbol="R_o",
    formula="{working_down} · {section_downward_resistance} / ({working_up} · {end_ratio})",
    source="what gives the section's heat downwards in EN 1264-2's formula for it",
    shown=False,
)
def section_upward_resistance(
    working_up: Array, working_down: Array, section_downward_resistance: Array, end_ratio: Array
) -> Array:
    """R_o, m²·K/W."""
    return working_down * section_downward_resistance / (working_up * end_ratio)


@quantity(
    unit="m²·K/W",
    title="Heat resistance downwards by the section",
    symbol="R_u",
    formula=(
        "1 / ({working_down} + {working_past} + {working_down} · {working_past} / {working_up})"
    ),
    source="what gives the section's heat downwards in EN 1264-2's formula for it",
    shown=False,
)
def section_downward_resistance(
    working_up: Array, working_down: Array, working_past: Array
) -> Array:
    """R_u, m²·K/W."""
    return 1 / (working_down + working_past + working_down * working_past / working_up)


@quantity(
    unit="K",
    title="Excess at which the section's warmest spot is at the surface's limit",
    symbol="Δθ_G",
    formula="({surface_limit} − {room_temperature}) over the section's surface excess a kelvin",
    source=CONDUCTION,
    missing_because="the room is as warm as its surface may be",
    shown=False,
)
def section_limit_excess(
    section: Array, surface_limit: Array, room_temperature: Array, things: Numbered
) -> Array:
    """With the room's temperature on both sides and no water film, K."""
    left = surface_limit - room_temperature
    none = np.zeros(len(section))
    highest = _warmest(things, section, none + np.inf, none + 1.0, none, none)
    return np.where(left > 0, left, np.nan) / highest


@quantity(
    unit="°C",
    title="Highest surface temperature where the section stands in",
    symbol="θ_F",
    formula=("{section_surface_max}", "{section_surface_max}, carried on from the tables' end"),
    source=f"{CONDUCTION}, carried on from the tables' end, and never below the mean",
    needed_when={"curve_section": ("floor_construction", (WET,))},
    shown=False,
)
def standing_surface(
    section_surface_max: Array,
    curve_section: Array,
    floor_construction: Array,
    loop_open_film: Array,
    warmest_excess: Array,
    heat_coefficient: Array,
    open_excess: Array,
    room_temperature: Array,
    below_temperature: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
    room_covering_resistance: Array,
    pipe_outside: Array,
    pipe_wall: Array,
    pipe_wall_conductivity: Array,
    things: Numbered,
) -> Array:
    """The section's, its excess times standard over section at the end, at least 1; °C."""
    ends = _at_end(spacing, floor_screed_cover, room_covering_resistance, pipe_outside)
    ends = _on_curves(*ends, floor_screed_conductivity)
    rated = _rated(ends, floor_screed_conductivity, pipe_wall, pipe_wall_conductivity)
    unit = floor.unit_limit_excess(ends[0], ends[1], floor_screed_conductivity, rated)
    standard = floor.surface_max(room_temperature, warmest_excess, rated, unit) - room_temperature
    own = _warmest(
        things, curve_section, loop_open_film, warmest_excess, room_temperature, below_temperature
    )
    ratio = np.maximum(standard / (own - room_temperature), 1.0)
    ratio = np.where(floor_construction == LAYERED, 1.0, ratio)
    found = room_temperature + (section_surface_max - room_temperature) * ratio
    return np.maximum(found, floor.surface_mean(room_temperature, heat_coefficient * open_excess))


@quantity(
    unit="%",
    title="Standard's heat coefficient over the section's",
    symbol="δ_K",
    formula="{wet_heat_coefficient} / {section_coefficient} − 1",
    source=CONDUCTION,
    shown=False,
)
def standard_surplus(wet_heat_coefficient: Array, section_coefficient: Array) -> Array:
    """By how much the standard is above the section, as a share of it."""
    return wet_heat_coefficient / section_coefficient - 1


@quantity(
    unit="1",
    title="Whether standard and section are both worked out",
    symbol="b",
    formula="is 1 where both are, else 0",
    source=CONDUCTION,
    optional=("wet_heat_coefficient", "section_coefficient"),
    shown=False,
)
def compared(wet_heat_coefficient: Array, section_coefficient: Array) -> Array:
    """1 where both are, else 0."""
    return np.where(np.isnan(wet_heat_coefficient + section_coefficient), 0.0, 1.0)


@quantity(
    unit="1",
    title="Whether the floor lies beyond the standard's tables",
    symbol="s",
    formula="is 1 for pipes in screed where the section stands in, else 0",
    source="EN 1264-2, ranges of the tables",
    shown=False,
)
def beyond_tables(
    surface_stands_in: Array,
    floor_construction: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
    room_covering_resistance: Array,
    pipe_outside: Array,
) -> Array:
    """1 for a wet floor that the section is judged by, 0 for one known to lie in the tables."""
    beyond = (surface_stands_in == 1) & (floor_construction == WET)
    needed = spacing + floor_screed_cover + floor_screed_conductivity + pipe_outside
    unknown = np.isnan(surface_stands_in + needed + room_covering_resistance)
    return np.where(unknown & (floor_construction != LAYERED), np.nan, beyond.astype(float))
