"""Quantities of a part of a loop whose floor is judged by its section: heat and surface. SI and °C,
one a row.

That is where the floor is given by its layers, and beyond the ends of the tables of EN 1264-2.
There the section's values are scaled so that they meet the standard's at the tables' end.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.numbered import Numbered
from checker.compute.registry import Output, quantities_of
from checker.physics import floor_coefficient, floor_surface
from checker.quantities.floor_layers import LAYERED
from checker.quantities.numbered_sections import (
    Ends,
    at_tables_end,
    conductances,
    on_limit_curves,
    upward_coefficient,
    warmest_surface,
)
from checker.quantities.part_floor import WET
from checker.quantities.part_section import SECTION
from checker.quantities.sources import CONDUCTION, FILM

quantity = quantities_of("part")


def _rated(ends: Ends, conductivity: Array, wall: Array, pipe_conductivity: Array) -> Array:
    spacing, cover, covering, outside = ends
    return floor_coefficient.heat_coefficient(
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
    """Factor of the section's coefficient; 1 for a floor given by its layers."""
    ends = at_tables_end(spacing, floor_screed_cover, room_covering_resistance, pipe_outside)
    rated = _rated(ends, floor_screed_conductivity, pipe_wall, pipe_wall_conductivity)
    ratio = rated / upward_coefficient(things, end_section)
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
    """The section's coefficient, scaled to the standard's at the tables' end, W/(m²·K)."""
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
    """The water film where the section is used, W/(m²·K); infinite in the first round, but unknown
    where the water or the bore is: otherwise nothing later would say how much the film takes.
    """
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
    """Conductances for the balance where the section is used, W/(m²·K)."""
    where = _where(stands_in, section)
    up, down, past = conductances(things, where, working_film).T
    return up, down, past


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient with the water film",
    symbol="K_H",
    formula=("{heat_coefficient}", "{working_up} · {end_ratio}"),
    source="the section of a floor given by its layers or beyond the tables' ends; else the heat "
    "coefficient",
    optional=("stands_in",),
    needed_when={"working_up": ("stands_in", (1.0,)), "end_ratio": ("stands_in", (1.0,))},
    shown=False,
)
def working_coefficient(
    heat_coefficient: Array, stands_in: Array, working_up: Array, end_ratio: Array
) -> Array:
    """The coefficient for the balance, W/(m²·K)."""
    return np.where(stands_in == 1, working_up * end_ratio, heat_coefficient)


@quantity(
    unit="W/m²",
    title="Heat from the room to what is below, past the pipes",
    symbol="q_x",
    formula=(
        "0",
        "{working_past} · {end_ratio} · ({room_temperature} − {below_temperature})",
    ),
    source="the section of a floor given by its layers or beyond the tables' ends; EN 1264-2 "
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
    """The amount subtracted from the heat upwards, W/m²."""
    passed = working_past * end_ratio * (room_temperature - below_temperature)
    none = np.where(np.isnan(floor_construction), np.nan, 0.0)
    return np.where(stands_in == 1, passed, none)


def _where(stands_in: Array, section: Array) -> Array:
    """The section where the floor is judged by it, so that a second opinion changes nothing."""
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
    """Excess at which the surface is at its limit, with the room's temperature on both sides and no
    water film, K.
    """
    left = surface_limit - room_temperature
    none = np.zeros(len(section))
    highest = warmest_surface(things, section, none + np.inf, none + 1.0, none, none)
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
    """The section's surface, its excess multiplied by standard over section at the end, at least 1;
    °C.
    """
    ends = at_tables_end(spacing, floor_screed_cover, room_covering_resistance, pipe_outside)
    ends = on_limit_curves(*ends, floor_screed_conductivity)
    rated = _rated(ends, floor_screed_conductivity, pipe_wall, pipe_wall_conductivity)
    unit = floor_surface.unit_limit_excess(ends[0], ends[1], floor_screed_conductivity, rated)
    standard = (
        floor_surface.surface_max(room_temperature, warmest_excess, rated, unit) - room_temperature
    )
    own = warmest_surface(
        things, curve_section, loop_open_film, warmest_excess, room_temperature, below_temperature
    )
    ratio = np.maximum(standard / (own - room_temperature), 1.0)
    ratio = np.where(floor_construction == LAYERED, 1.0, ratio)
    found = room_temperature + (section_surface_max - room_temperature) * ratio
    return np.maximum(
        found, floor_surface.surface_mean(room_temperature, heat_coefficient * open_excess)
    )
