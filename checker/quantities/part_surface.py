"""Quantities of a part of a loop: the surface over it. Temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.registry import quantities_of
from checker.design.schema import design_format
from checker.physics import floor_surface
from checker.quantities.part import FEED, OWN, SERPENTINE
from checker.quantities.sources import EN_1264_2

quantity = quantities_of("part")

_code = design_format().code
BATHROOM = _code("rooms", "use", "bathroom")
NOT_BATHROOM = tuple(
    float(use)
    for use in range(len(design_format().leaf("rooms", "use").options))
    if use != BATHROOM
)
PERIMETER = _code("loops", "zone", "perimeter")
WET = _code("floors", "construction", "wet")
TESTED = _code("floors", "construction", "tested")
TIMBER = _code("rooms", "covering.material", "timber")
LAMINATE = _code("rooms", "covering.material", "laminate")
OCCUPIED_LIMIT, PERIMETER_LIMIT = 29.0, 35.0
"""Highest surface temperature where people stay and in the perimeter zone, °C; EN 1264-2."""


@quantity(
    unit="°C",
    title="Highest surface temperature that EN 1264 takes",
    symbol="θ_F,max",
    formula=("{room_temperature} + {9 K}", "{29 °C}", "{35 °C}"),
    source=f"{EN_1264_2}: 29 °C, 35 °C in the perimeter zone, room + 9 K in bathrooms",
    needed_when={"zone": ("room_use", NOT_BATHROOM)},
    shown=False,
)
def surface_limit(room_use: Array, room_temperature: Array, zone: Array) -> Array:
    """Limit of the surface, °C; in a bathroom the zone does not matter. For a room whose use is not
    known, only where it is the same for a bathroom.
    """
    limit = np.where(zone == PERIMETER, PERIMETER_LIMIT, OCCUPIED_LIMIT)
    by_zone = np.where(np.isnan(zone), np.nan, limit)
    bathroom = room_temperature + 9.0
    either = np.where(bathroom == by_zone, by_zone, np.nan)
    other = np.where(np.isnan(room_use), either, by_zone)
    return np.where(room_use == BATHROOM, bathroom, other)


@quantity(
    unit="W/m²",
    title="Largest heat output within the surface limit",
    symbol="q_G",
    formula=(
        "{heat_coefficient} · (({surface_limit} − {room_temperature}) / {9 K})^1.1 "
        "· min({unit_limit_excess}, 8.92 · 9^1.1 / {heat_coefficient})",
        "{heat_coefficient} · {section_limit_excess}",
    ),
    source=f"{EN_1264_2} Annex A, limit curves; where the section stands in, the section",
    optional=("surface_stands_in",),
    needed_when={
        "section_limit_excess": ("surface_stands_in", (1.0,)),
        "unit_limit_excess": ("floor_construction", (WET, TESTED)),
    },
    missing_because="the room is as warm as its surface may be",
    shown=False,
)
def output_limit(
    unit_limit_excess: Array,
    heat_coefficient: Array,
    room_temperature: Array,
    surface_limit: Array,
    surface_stands_in: Array,
    section_limit_excess: Array,
    floor_construction: Array,
) -> Array:
    """Heat flux at which the warmest spot is at its limit, W/m²."""
    curves = floor_surface.limit_output(
        unit_limit_excess, heat_coefficient, room_temperature, surface_limit
    )
    return np.where(surface_stands_in == 1, heat_coefficient * section_limit_excess, curves)


@quantity(
    unit="°C",
    title="Mean surface temperature",
    symbol="θ_F,m",
    formula="{room_temperature} + ({largest_output} / 8.92)^(1/1.1)",
    source=f"{EN_1264_2} basic curve",
    shown=False,
)
def surface_mean(room_temperature: Array, largest_output: Array) -> Array:
    """Mean temperature of the floor's surface at the open point, °C."""
    return floor_surface.surface_mean(room_temperature, largest_output)


@quantity(
    unit="K",
    title="Excess of the water under the warmest spot",
    symbol="Δθ_w",
    formula=("{open_excess}", "{supply_temperature} − {room_temperature}"),
    source="of a serpentine its inlet run, of any other the mean",
    missing_because="pattern is not given",
    shown=False,
)
def warmest_excess(
    open_excess: Array,
    supply_temperature: Array,
    room_temperature: Array,
    loop_pattern: Array,
    feed: Array,
) -> Array:
    """Excess of the water at the open point where it heats most, K.

    A serpentine has its warmest water along one edge; in a counterflow spiral, and in feeds, supply
    and return are side by side.
    """
    inlet = supply_temperature - room_temperature + 0 * open_excess
    found = np.where(loop_pattern == SERPENTINE, inlet, open_excess)
    found = np.where(np.isnan(loop_pattern), np.nan, found)
    return np.where(feed == FEED, open_excess, found)


@quantity(
    unit="°C",
    title="Highest surface temperature",
    symbol="θ_F",
    formula=(
        "{room_temperature} + {9 K} · ({warmest_excess} / min({unit_limit_excess}, 8.92 · 9^1.1 "
        "/ {heat_coefficient}))^(1/1.1)",
        "{standing_surface}",
    ),
    source=f"{EN_1264_2} limit curve solved for the surface; where the section stands in, it",
    optional=("surface_stands_in",),
    needed_when={
        "standing_surface": ("surface_stands_in", (1.0,)),
        "unit_limit_excess": ("floor_construction", (WET, TESTED)),
    },
    shown=False,
)
def surface_max(
    room_temperature: Array,
    warmest_excess: Array,
    heat_coefficient: Array,
    unit_limit_excess: Array,
    surface_stands_in: Array,
    standing_surface: Array,
    floor_construction: Array,
) -> Array:
    """Temperature of the warmest spot at the open point, °C."""
    curves = floor_surface.surface_max(
        room_temperature, warmest_excess, heat_coefficient, unit_limit_excess
    )
    return np.where(surface_stands_in == 1, standing_surface, curves)


@quantity(
    unit="°C",
    title="Highest surface temperature of a floor",
    symbol="θ_F",
    formula="{surface_max}",
    source=EN_1264_2,
    needed_when={"surface_max": ("feed", (OWN,))},
    shown=False,
)
def own_surface(surface_max: Array, feed: Array) -> Array:
    """As `surface_max`, °C; −inf for a feed."""
    return np.where(feed == FEED, -np.inf, surface_max)


@quantity(
    unit="°C",
    title="Temperature of the covering",
    symbol="θ_B",
    formula=(
        "{surface_max}",
        "{surface_max} + 8.92 · ({surface_max} − {room_temperature})^1.1 "
        "· {room_covering_resistance}",
    ),
    source=f"{EN_1264_2}: warmest spot of the surface, the heat there by the basic curve, and the "
    "covering's resistance",
    shown=False,
)
def covering_temperature(
    surface_max: Array,
    room_temperature: Array,
    room_covering_resistance: Array,
    room_covering_material: Array,
) -> Array:
    """Temperature at the place of the covering's own limit, over the warmest spot, °C.

    Timber and laminate: on top, so the surface itself. Others are glued down: at the underside,
    which is warmer by the temperature drop in the covering. That follows from the heat at the
    warmest spot, which is more than the mean: in a serpentine, by a quarter and more.
    """
    heat = floor_surface.basic_output(np.maximum(surface_max - room_temperature, 0.0))
    under = surface_max + heat * room_covering_resistance
    on_top = np.isin(room_covering_material, (TIMBER, LAMINATE))
    known = ~np.isnan(room_covering_material)
    return np.where(known, np.where(on_top, surface_max, under), np.nan)
