"""Of a loop: the surface over it. Temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.compute.graph import Array, quantities_of
from checker.design.schema import design_format
from checker.physics import floor
from checker.quantities.sources import EN_1264_2

quantity = quantities_of("loop")

_code = design_format().code
BATHROOM = _code("rooms", "use", "bathroom")
NOT_BATHROOM = tuple(
    float(use)
    for use in range(len(design_format().leaf("rooms", "use").options))
    if use != BATHROOM
)
PERIMETER = _code("loops", "zone", "perimeter")
TIMBER = _code("rooms", "covering.material", "timber")
LAMINATE = _code("rooms", "covering.material", "laminate")


@quantity(
    unit="°C",
    title="Highest surface temperature that EN 1264 takes",
    symbol="θ_F,max",
    formula=("{room_temperature} + {9 K}", "{29 °C}", "{35 °C}"),
    source=f"{EN_1264_2}: 29 °C, 35 °C in the perimeter zone, room + 9 K in bathrooms",
    matters={"zone": ("room_use", NOT_BATHROOM)},
    shown=False,
)
def surface_limit(room_use: Array, room_temperature: Array, zone: Array) -> Array:
    """Limit of the surface, °C; in a bathroom the zone does not matter."""
    by_zone = np.where(np.isnan(zone), np.nan, np.where(zone == PERIMETER, 35.0, 29.0))
    return np.where(room_use == BATHROOM, room_temperature + 9.0, by_zone)


@quantity(
    unit="W/m²",
    title="Largest heat output within the surface limit",
    symbol="q_G",
    formula=(
        "{heat_coefficient} · (({surface_limit} − {room_temperature}) / {9 K})^1.1 "
        "· min({unit_limit_excess}, 8.92 · 9^1.1 / {heat_coefficient})"
    ),
    source=f"{EN_1264_2} Annex A, limit curves",
    fails="the room is as warm as its surface may be",
)
def output_limit(
    unit_limit_excess: Array, heat_coefficient: Array, room_temperature: Array, surface_limit: Array
) -> Array:
    """Heat flux at which the warmest spot is at its limit, W/m²."""
    return floor.limit_output(unit_limit_excess, heat_coefficient, room_temperature, surface_limit)


@quantity(
    unit="°C",
    title="Mean surface temperature",
    symbol="θ_F,m",
    formula="{room_temperature} + ({output} / 8.92)^(1/1.1)",
    source=f"{EN_1264_2} basic curve",
)
def surface_mean(room_temperature: Array, output: Array) -> Array:
    """Mean temperature of the floor's surface, °C."""
    return floor.surface_mean(room_temperature, output)


@quantity(
    unit="°C",
    title="Highest surface temperature",
    symbol="θ_F",
    formula=(
        "{room_temperature} + {9 K} · ({excess} / min({unit_limit_excess}, 8.92 · 9^1.1 "
        "/ {heat_coefficient}))^(1/1.1)"
    ),
    source=f"{EN_1264_2} limit curve solved for the surface",
)
def surface_max(
    room_temperature: Array, excess: Array, heat_coefficient: Array, unit_limit_excess: Array
) -> Array:
    """Temperature of the warmest spot, °C."""
    return floor.surface_max(room_temperature, excess, heat_coefficient, unit_limit_excess)


@quantity(
    unit="°C",
    title="Temperature of the covering",
    symbol="θ_B",
    formula=("{surface_max}", "{surface_max} + {output} · {room_covering_resistance}"),
    source=f"{EN_1264_2}: warmest spot of the surface, and the covering's resistance",
    fails="room.covering.material is not one that is judged",
    shown=False,
)
def covering_temperature(
    surface_max: Array,
    output: Array,
    room_covering_resistance: Array,
    room_covering_material: Array,
) -> Array:
    """Where the covering's own limit is measured over the warmest spot, °C.

    Timber and laminate: on top, so the surface itself. Others are glued down: at the underside,
    which is warmer by what the heat loses on its way through the covering.
    """
    under = surface_max + output * room_covering_resistance
    on_top = np.isin(room_covering_material, (TIMBER, LAMINATE))
    known = ~np.isnan(room_covering_material)
    return np.where(known, np.where(on_top, surface_max, under), np.nan)
