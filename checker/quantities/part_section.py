"""Quantities of a part of a loop: its floor in section, by two-dimensional conduction. SI and °C,
one a row.

Which section a part has, and the values of that section. Where the floor is given by its layers,
and beyond the ends of the tables of EN 1264-2, the floor is judged by the section
(`part_by_section`); elsewhere it is a second opinion, computed only on request.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from checker.arrays import Array, Mask
from checker.compute.numbered import Numbered
from checker.compute.registry import quantities_of
from checker.physics import en_1264
from checker.physics.arrays import BORDER_TOLERANCE
from checker.physics.build_up import ROOM
from checker.physics.mixed_section import Valued, flows
from checker.quantities.floor_layers import LAYERED
from checker.quantities.numbered_sections import (
    NO_SECTION,
    at_tables_end,
    numbers_at_end,
    on_limit_curves,
    section_numbers,
    solved_columns,
    upward_coefficient,
    warmest_surface,
)
from checker.quantities.part import FEED, OWN
from checker.quantities.part_floor import HEATED, TESTED, UNHEATED, WET
from checker.quantities.section_in_words import described
from checker.quantities.sources import CONDUCTION, FILM

quantity = quantities_of("part")

SECTION = "solved by finite elements through half a spacing"


def _beyond(value: Array, ends: tuple[float, float]) -> Mask:
    """Whether the value is beyond the ends; not where it is missing."""
    low, high = ends
    slack = BORDER_TOLERANCE * np.abs(value)
    found: Mask = (value < low - slack) | (value > high + slack)
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
        _beyond(spacing, en_1264.SPACING_RANGE)
        | _beyond(floor_screed_cover, en_1264.COVER_RANGE)
        | _beyond(room_covering_resistance, en_1264.COVERING_RANGE)
        | _beyond(pipe_outside, en_1264.PIPE_OUTSIDE_RANGE)
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
    optional=("spacing", "floor_screed_cover", "floor_screed_conductivity", "limit_factor"),
    shown=False,
)
def surface_stands_in(
    stands_in: Array,
    floor_construction: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
    limit_factor: Array,
) -> Array:
    """1 where the section's surface is judged by, else 0."""
    known = ~np.isnan(spacing + floor_screed_cover + floor_screed_conductivity)
    outside = (floor_construction == WET) & known & np.isnan(limit_factor)
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
    """Resistance below the screed or the lowest layer, m²·K/W; over a room with its ceiling's
    surface.
    """
    own = np.where(
        (floor_construction == LAYERED) & np.isnan(floor_given_insulation),
        0.0,
        floor_given_insulation,
    )
    over_room = (floor_below == HEATED) | (floor_below == UNHEATED)
    found = own + np.where(over_room, en_1264.CEILING_SURFACE_RESISTANCE, 0.0)
    return np.where(np.isnan(floor_below), np.nan, found)


@quantity(
    unit="1",
    title="Section",
    symbol="n_S",
    formula="is what is given of the floor, the pipe and the covering",
    source="design; screed under the pipe that is not given counts as none",
    described_by=described,
    optional=("floor_screed_below_pipe", "surface_stands_in"),
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
    """The number of the loop's section in `sections`; NaN where it is not needed."""
    asked = (surface_stands_in == 1) | (second_opinion & (floor_construction != TESTED))
    return section_numbers(
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
    described_by=described,
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
    return numbers_at_end(
        things,
        stands_in,
        floor_construction,
        at_tables_end(spacing, floor_screed_cover, room_covering_resistance, pipe_outside),
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
    described_by=described,
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
    ends = at_tables_end(spacing, floor_screed_cover, room_covering_resistance, pipe_outside)
    return numbers_at_end(
        things,
        surface_stands_in,
        floor_construction,
        on_limit_curves(*ends, floor_screed_conductivity),
        floor_screed_conductivity,
        pipe_wall,
        pipe_wall_conductivity,
        under_layers,
        floor_screed_below_pipe,
    )


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
    return upward_coefficient(things, section)


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

    def up(floors: Sequence[Valued], _: Array, excess: Array, room: Array, below: Array) -> Array:
        temperatures = np.stack((room + excess, room, below), axis=1)
        return np.asarray(-(flows(floors)[:, ROOM] * temperatures).sum(axis=1))

    return solved_columns(
        things, section, up, loop_film, excess, room_temperature, below_temperature
    )


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
    return warmest_surface(
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
    """As `section_surface_max`, °C; −inf for a feed."""
    return np.where(feed == FEED, -np.inf, section_surface_max)


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
    """1 where both values exist, else 0."""
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
    """1 for a wet floor that is judged by its section, 0 for one known to be within the tables."""
    beyond = (surface_stands_in == 1) & (floor_construction == WET)
    needed = spacing + floor_screed_cover + floor_screed_conductivity + pipe_outside
    unknown = np.isnan(surface_stands_in + needed + room_covering_resistance)
    return np.where(unknown & (floor_construction != LAYERED), np.nan, beyond.astype(float))
