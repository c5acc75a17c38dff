"""What can be computed of a loop. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.design.schema import design_format
from checker.graph import Array, Index, quantities_of
from checker.physics import balance, floor, fluid, friction
from checker.quantities.sources import CONTINUITY, EN_1264_2, EN_1264_3, GEOMETRY, SUM

quantity = quantities_of("loop")

_code = design_format().code
BATHROOM = _code("rooms", "use", "bathroom")
NOT_BATHROOM = tuple(
    float(use)
    for use in range(len(design_format().leaf("rooms", "use").options))
    if use != BATHROOM
)
PERIMETER = _code("loops", "zone", "perimeter")
SERPENTINE = _code("loops", "pattern", "serpentine")
TIMBER = _code("rooms", "covering.material", "timber")
LAMINATE = _code("rooms", "covering.material", "laminate")
WET = _code("floors", "construction", "wet")
TESTED = _code("floors", "construction", "tested")
HEATED = _code("floors", "below", "heated")
UNHEATED = _code("floors", "below", "unheated")
GROUND = _code("floors", "below", "ground")

FLUID = "IAPWS SR6-08(2011); glycol: Melinder (2010)"
GLYCOLS = (float(fluid.PROPYLENE_GLYCOL), float(fluid.ETHYLENE_GLYCOL))
GROUND_TEMPERATURE = 10.0
"""°C, under a floor on the ground where the design states none; common practice, no source."""


@quantity(unit="mm", title="Bore", symbol="d", formula="{pipe_bore}", source=GEOMETRY)
def bore(pipe_bore: Array) -> Array:
    """Inside diameter of the loop's pipe, m."""
    return pipe_bore


@quantity(
    unit="°C",
    title="Supply temperature",
    symbol="θ_V",
    formula=("{supply}", "{header_supply}", "{plant_supply}"),
    source="design",
    optional=("supply", "header_supply"),
)
def supply_temperature(supply: Array, header_supply: Array, plant_supply: Array) -> Array:
    """Water to the loop, °C: the loop's own, else its header's, else the plant's."""
    return np.where(
        np.isnan(supply), np.where(np.isnan(header_supply), plant_supply, header_supply), supply
    )


@quantity(
    unit="°C",
    title="Temperature below the floor",
    symbol="θ_u",
    formula=("{floor_below_temperature}", "{room_temperature}", "{10 °C}"),
    source="design; 10 °C on ground is common practice, no source",
    optional=("floor_below_temperature",),
    matters={"room_temperature": ("floor_below", (HEATED,))},
    fails="below_temperature is needed where it is unheated or open air below",
    shown=False,
)
def below_temperature(
    floor_below_temperature: Array, floor_below: Array, room_temperature: Array
) -> Array:
    """As given, °C; else the room's over a heated room, and 10 on ground."""
    assumed = np.where(
        floor_below == HEATED,
        room_temperature,
        np.where(floor_below == GROUND, GROUND_TEMPERATURE, np.nan),
    )
    return np.where(np.isnan(floor_below_temperature), assumed, floor_below_temperature)


WITHIN = {
    "spacing": (*floor.SPACING_RANGE, "spacing is outside 50 mm to 1 m, as EN 1264-2 has it"),
    "floor_screed_cover": (
        *floor.COVER_RANGE,
        "the floor's screed.cover is under 10 mm, where the tables of EN 1264-2 begin",
    ),
    "room_covering_resistance": (
        *floor.COVERING_RANGE,
        "the room's covering.resistance is over 0.15 m²·K/W, where the tables of EN 1264-2 end",
    ),
    "pipe_outside": (
        *floor.PIPE_OUTSIDE_RANGE,
        "the pipe's outside is not within 8 to 30 mm, as EN 1264-2 has it",
    ),
}
"""Of inputs to the heat coefficient, the range of the tables, and the words that name it."""


def _within(*names: str) -> dict[str, tuple[float | None, float | None, str]]:
    return {name: WITHIN[name] for name in names}


@quantity(
    unit="1",
    title="Factor for the screed and the covering",
    symbol="a_B",
    formula=(
        "(1 / {10.8 W/(m²·K)} + {45 mm} / {1 W/(m·K)}) "
        "/ (1 / {10.8 W/(m²·K)} + {45 mm} / {floor_screed_conductivity} "
        "+ {room_covering_resistance})"
    ),
    source=f"{EN_1264_2} Annex A",
    within=_within("room_covering_resistance"),
    shown=False,
)
def screed_factor(floor_screed_conductivity: Array, room_covering_resistance: Array) -> Array:
    """What the screed and the covering let through, against a bare reference screed."""
    return floor.screed_factor(floor_screed_conductivity, room_covering_resistance)


@quantity(
    unit="1",
    title="Factor for the spacing",
    symbol="a_T",
    formula="read from table A.1 at {room_covering_resistance}",
    source=f"{EN_1264_2} Table A.1",
    within=_within("room_covering_resistance"),
    shown=False,
)
def spacing_factor(room_covering_resistance: Array) -> Array:
    """Factor for the pipes' spacing, from the covering."""
    return floor.spacing_factor(room_covering_resistance)


@quantity(
    unit="1",
    title="Factor for the screed over the pipes",
    symbol="a_u",
    formula="read from table A.2 at {spacing} and {room_covering_resistance}",
    source=f"{EN_1264_2} Table A.2",
    within=_within("spacing", "room_covering_resistance"),
    shown=False,
)
def cover_factor(spacing: Array, room_covering_resistance: Array) -> Array:
    """Factor for the cover, from spacing and covering."""
    return floor.cover_factor(spacing, room_covering_resistance)


@quantity(
    unit="1",
    title="Factor for the pipe's diameter",
    symbol="a_D",
    formula="read from table A.3 at {spacing} and {room_covering_resistance}",
    source=f"{EN_1264_2} Table A.3",
    within=_within("spacing", "room_covering_resistance"),
    shown=False,
)
def diameter_factor(spacing: Array, room_covering_resistance: Array) -> Array:
    """Factor for the outside diameter, from spacing and covering."""
    return floor.diameter_factor(spacing, room_covering_resistance)


@quantity(
    unit="1",
    title="Product of powers",
    symbol="Π",
    formula=(
        "{screed_factor} · {spacing_factor}^(1 − {spacing} / {75 mm}) "
        "· {cover_factor}^(({45 mm} − {floor_screed_cover}) / {10 mm}) "
        "· {diameter_factor}^(({pipe_outside} − {20 mm}) / {4 mm})",
        "as for {spacing} up to 375 mm, and {floor_screed_cover} up to 100 mm or half the spacing",
    ),
    source=f"{EN_1264_2} Annex A, types A and C",
    within=_within("spacing", "floor_screed_cover", "pipe_outside"),
    shown=False,
)
def power_product(
    spacing: Array,
    floor_screed_cover: Array,
    screed_factor: Array,
    spacing_factor: Array,
    cover_factor: Array,
    diameter_factor: Array,
    pipe_outside: Array,
) -> Array:
    """The factors, each to its power."""
    return floor.power_product(
        spacing,
        floor_screed_cover,
        pipe_outside,
        screed_factor,
        spacing_factor,
        cover_factor,
        diameter_factor,
    )


@quantity(
    unit="W/(m²·K)",
    title="Factor for the pipe and its wall",
    symbol="B",
    formula=(
        "1 / (1 / {6.7 W/(m²·K)} + 1.1 / π · {power_product} · {spacing} "
        "· (ln({pipe_outside} / ({pipe_outside} − 2 · {pipe_wall})) "
        "/ (2 · {pipe_wall_conductivity}) "
        "− ln({pipe_outside} / ({pipe_outside} − {4 mm})) / (2 · {0.35 W/(m·K)})))",
        "as for a spacing of 375 mm",
    ),
    source=f"{EN_1264_2} Annex A, correction for the pipe wall",
    fails="the wall leaves no bore",
    shown=False,
)
def wall_factor(
    power_product: Array,
    spacing: Array,
    pipe_outside: Array,
    pipe_wall: Array,
    pipe_wall_conductivity: Array,
) -> Array:
    """Heat coefficient for a product of one, W/(m²·K)."""
    return floor.wall_factor(
        power_product, spacing, pipe_outside, pipe_wall, pipe_wall_conductivity
    )


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient of a floor with pipes in the screed",
    symbol="K_H",
    formula=(
        "{wall_factor} · {power_product}",
        "{wall_factor} · {power_product} · {375 mm} / {spacing}",
        "1 / (1 / ({wall_factor} · {power_product}) "
        "+ ({floor_screed_cover} − {100 mm}) / {floor_screed_conductivity})",
        "by the rules for spacings over 375 mm and for thick screed, from {wall_factor} "
        "and {power_product}",
    ),
    source=f"{EN_1264_2} Annex A, types A and C",
    shown=False,
)
def wet_heat_coefficient(
    power_product: Array,
    wall_factor: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
) -> Array:
    """Heat output per kelvin of excess by EN 1264-2, W/(m²·K)."""
    return floor.product_coefficient(
        power_product, wall_factor, spacing, floor_screed_cover, floor_screed_conductivity
    )


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient",
    symbol="K_H",
    formula=("{floor_heat_coefficient}", "{wet_heat_coefficient}"),
    source=f"{EN_1264_2} Annex A, types A and C; for a tested floor its test report",
    matters={
        "floor_heat_coefficient": ("floor_construction", (TESTED,)),
        "wet_heat_coefficient": ("floor_construction", (WET,)),
    },
)
def heat_coefficient(
    floor_construction: Array, floor_heat_coefficient: Array, wet_heat_coefficient: Array
) -> Array:
    """Heat output per kelvin of excess, W/(m²·K): by EN 1264-2, or as declared in a test report."""
    return _by_construction(floor_construction, floor_heat_coefficient, wet_heat_coefficient)


def _by_construction(construction: Array, tested: Array, wet: Array) -> Array:
    return np.where(construction == TESTED, tested, np.where(construction == WET, wet, np.nan))


CURVES = (
    "outside the limit curves of EN 1264-2 (cover over conductivity from 0.01 m²·K/W, "
    "and above 0.0792 m²·K/W a cover of at least 0.173 times the spacing)"
)


@quantity(
    unit="W/m²",
    title="Factor of the limit curve",
    symbol="B_G",
    formula=(
        "read from table A.4 or A.5 at {spacing} and {floor_screed_cover} "
        "/ {floor_screed_conductivity}"
    ),
    source=f"{EN_1264_2} Tables A.4 and A.5",
    fails=CURVES,
    shown=False,
)
def limit_factor(
    spacing: Array, floor_screed_cover: Array, floor_screed_conductivity: Array
) -> Array:
    """Factor of the limit curve, W/m² for an excess in kelvin."""
    return floor.limit_curve(spacing, floor_screed_cover, floor_screed_conductivity)[0]


@quantity(
    unit="1",
    title="Exponent of the limit curve",
    symbol="n_G",
    formula=(
        "read from table A.6 or A.7 at {spacing} and {floor_screed_cover} "
        "/ {floor_screed_conductivity}"
    ),
    source=f"{EN_1264_2} Tables A.6 and A.7",
    fails=CURVES,
    shown=False,
)
def limit_exponent(
    spacing: Array, floor_screed_cover: Array, floor_screed_conductivity: Array
) -> Array:
    """Exponent of the limit curve."""
    return floor.limit_curve(spacing, floor_screed_cover, floor_screed_conductivity)[1]


@quantity(
    unit="K",
    title="Excess at which the warmest spot over pipes in screed is 9 K above the room",
    symbol="Δθ_G",
    formula=(
        "({limit_factor} / {wet_heat_coefficient})^(1 / (1 − {limit_exponent}))",
        "8.92 · 9^1.1 / {wet_heat_coefficient}",
        "by the rule for spacings over 375 mm, from {limit_factor} and {limit_exponent}",
    ),
    source=f"{EN_1264_2} Annex A, limit curves",
    fails=CURVES,
    shown=False,
)
def wet_unit_limit_excess(
    limit_factor: Array,
    limit_exponent: Array,
    wet_heat_coefficient: Array,
    spacing: Array,
    floor_screed_cover: Array,
) -> Array:
    """Excess by the limit curves, K."""
    return floor.curve_excess(
        limit_factor, limit_exponent, spacing, floor_screed_cover, wet_heat_coefficient
    )


@quantity(
    unit="K",
    title="Excess at which the warmest spot is 9 K above the room",
    symbol="Δθ_G",
    formula=("{floor_excess_limit}", "{wet_unit_limit_excess}"),
    source=f"{EN_1264_2} Annex A, limit curves; for a tested floor its test report",
    matters={
        "floor_excess_limit": ("floor_construction", (TESTED,)),
        "wet_unit_limit_excess": ("floor_construction", (WET,)),
    },
    shown=False,
)
def unit_limit_excess(
    floor_construction: Array, floor_excess_limit: Array, wet_unit_limit_excess: Array
) -> Array:
    """Excess, K: from the limit curves, or as declared in a test report."""
    return _by_construction(floor_construction, floor_excess_limit, wet_unit_limit_excess)


@quantity(
    unit="m²·K/W",
    title="Heat resistance upwards",
    symbol="R_o",
    formula=(
        "1 / {10.8 W/(m²·K)} + {room_covering_resistance} + {floor_screed_cover} "
        "/ {floor_screed_conductivity}"
    ),
    source=EN_1264_3,
    shown=False,
)
def upward_resistance(
    room_covering_resistance: Array, floor_screed_cover: Array, floor_screed_conductivity: Array
) -> Array:
    """From the pipes to the room, m²·K/W."""
    return floor.upward_resistance(
        room_covering_resistance, floor_screed_cover, floor_screed_conductivity
    )


@quantity(
    unit="m²·K/W",
    title="Heat resistance downwards",
    symbol="R_u",
    formula=("{floor_insulation}", "{floor_insulation} + {0.17 m²·K/W}"),
    source=EN_1264_3,
    fails="a floor with no resistance at all below the pipes has no downward balance",
    shown=False,
)
def downward_resistance(floor_insulation: Array, floor_below: Array) -> Array:
    """From the pipes down, m²·K/W; a ceiling's surface counts, ground and air do not."""
    over_room = (floor_below == HEATED) | (floor_below == UNHEATED)
    surface = np.where(over_room, floor.CEILING_SURFACE_RESISTANCE, 0.0)
    resistance = floor.downward_resistance(floor_insulation, surface)
    return np.where((resistance > 0) & ~np.isnan(floor_below), resistance, np.nan)


@quantity(
    unit="W/m²",
    title="Share of the room's heat load",
    symbol="q_N",
    formula="{room_heat_load} / {room_loop_area}",
    source="design, shared among the room's loops by area",
    fails="the areas of the room's loops are not all given",
    shown=False,
)
def load_flux(room_heat_load: Array, room_loop_area: Array) -> Array:
    """Heat load of the room over the area of its loops, W/m²."""
    return np.where(room_loop_area > 0, room_heat_load / room_loop_area, np.nan)


@quantity(
    unit="kJ/(kg·K)",
    title="Specific heat of the water at the plant's drop",
    symbol="c",
    formula="of the fluid, at {supply_temperature} − {plant_drop} / 2",
    source=FLUID,
    fails="the fluid is outside its known range",
    shown=False,
)
def asked_specific_heat(
    plant_fluid_kind: Array, fluid_fraction: Array, supply_temperature: Array, plant_drop: Array
) -> Array:
    """Specific heat at the mean of the supply and a return lower by the drop, J/(kg·K)."""
    mean = supply_temperature - plant_drop / 2
    return fluid.specific_heat(plant_fluid_kind, fluid_fraction, mean)


@quantity(
    unit="W/m²",
    title="Heat loss downwards at the load",
    symbol="q_u,N",
    formula=(
        "({upward_resistance} · {load_flux} + {room_temperature} − {below_temperature}) "
        "/ {downward_resistance}"
    ),
    source=EN_1264_2,
    shown=False,
)
def asked_down_loss(
    load_flux: Array,
    room_temperature: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
) -> Array:
    """Heat flux down while the floor gives its share of the load, W/m²."""
    return floor.down_loss(
        load_flux, room_temperature, upward_resistance, downward_resistance, below_temperature
    )


@quantity(
    unit="kg/s",
    title="Mass flow that the load or the drop asks for",
    symbol="ṁ",
    formula=(
        "{area} · ({load_flux} + {asked_down_loss}) / ({asked_specific_heat} · {plant_drop})",
        "{area} · (q + q_u) / (c · {plant_drop}), "
        "where the floor returns the water at {supply_temperature} − {plant_drop}",
    ),
    source=EN_1264_3,
    optional=("load_flux", "asked_down_loss", "room_heat_load"),
    fails="the supply is not so much warmer than the room that it can fall by the drop",
    shown=False,
)
def asked_mass_flow(
    load_flux: Array,
    asked_down_loss: Array,
    asked_specific_heat: Array,
    plant_drop: Array,
    supply_temperature: Array,
    room_temperature: Array,
    area: Array,
    heat_coefficient: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
    plant_fluid_kind: Array,
    fluid_fraction: Array,
    room_heat_load: Array,
) -> Array:
    """Mass flow, kg/s: carries the share of the load at the plant's drop, or gives that drop.

    A load that is known but not how it is shared leaves the flow unknown.
    """
    by_load = balance.flow_for_load(
        area, load_flux, asked_down_loss, asked_specific_heat, plant_drop
    )
    by_drop = balance.flow_at_drop(
        supply_temperature,
        room_temperature,
        plant_drop,
        area,
        heat_coefficient,
        upward_resistance,
        downward_resistance,
        below_temperature,
        plant_fluid_kind,
        fluid_fraction,
    )
    return np.where(np.isnan(load_flux) & np.isnan(room_heat_load), by_drop, by_load)


@quantity(
    unit="1",
    title="Mass fraction of antifreeze",
    symbol="w",
    formula=("{plant_fluid_mass_fraction}", "0"),
    source="design",
    matters={"plant_fluid_mass_fraction": ("plant_fluid_kind", GLYCOLS)},
    shown=False,
)
def fluid_fraction(plant_fluid_mass_fraction: Array, plant_fluid_kind: Array) -> Array:
    """Mass fraction of glycol in the water; nought for water."""
    return np.where(plant_fluid_kind == fluid.WATER, 0.0, plant_fluid_mass_fraction)


@quantity(
    unit="°C",
    title="Return temperature",
    symbol="θ_R",
    formula=(
        "where {area} · (q + q_u) = ṁ · c · ({supply_temperature} − θ_R), with q "
        "= {heat_coefficient} · Δθ_H"
    ),
    source=f"heat balance with {EN_1264_2} and {EN_1264_3}",
    optional=("given_flow", "asked_mass_flow"),
    fails="no return temperature balances: the supply is not warmer than the room, the flow is too "
    "small for the loss downwards, or the fluid is outside its known range",
)
def return_temperature(
    asked_mass_flow: Array,
    given_flow: Array,
    supply_temperature: Array,
    room_temperature: Array,
    area: Array,
    heat_coefficient: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
    plant_fluid_kind: Array,
    fluid_fraction: Array,
) -> Array:
    """Water back from the loop, °C, with its flow fixed and its supply at the design value."""
    place = (
        supply_temperature,
        room_temperature,
        area,
        heat_coefficient,
        upward_resistance,
        downward_resistance,
        below_temperature,
        plant_fluid_kind,
        fluid_fraction,
    )
    found = balance.return_at_mass_flow(asked_mass_flow, *place)
    stated = ~np.isnan(given_flow)
    if stated.any():
        found = np.where(stated, balance.return_at_volume_flow(given_flow, *place), found)
    return found


@quantity(
    unit="°C",
    title="Mean water temperature",
    symbol="θ_m",
    formula="({supply_temperature} + {return_temperature}) / 2",
    source="mean of supply and return",
    shown=False,
)
def water_temperature(supply_temperature: Array, return_temperature: Array) -> Array:
    """Mean of supply and return, °C."""
    return (supply_temperature + return_temperature) / 2


@quantity(
    unit="kg/m³",
    title="Density of the water",
    symbol="ρ",
    formula="of the fluid, at {water_temperature}",
    source=FLUID,
    fails="the fluid is outside its known range",
    shown=False,
)
def density(plant_fluid_kind: Array, fluid_fraction: Array, water_temperature: Array) -> Array:
    """Density at the mean water temperature, kg/m³."""
    return fluid.density(plant_fluid_kind, fluid_fraction, water_temperature)


@quantity(
    unit="l/min",
    title="Flow",
    symbol="V̇",
    formula=("{given_flow}", "{asked_mass_flow} / {density}"),
    source=CONTINUITY,
    optional=("given_flow", "asked_mass_flow"),
)
def flow(asked_mass_flow: Array, given_flow: Array, density: Array) -> Array:
    """Volume flow at the mean water temperature, m³/s: as stated, else as the load or drop asks."""
    return np.where(np.isnan(given_flow), asked_mass_flow / density, given_flow)


@quantity(
    unit="K",
    title="Excess of the water over the room",
    symbol="Δθ_H",
    formula=(
        "({supply_temperature} − {return_temperature}) / ln(({supply_temperature} "
        "− {room_temperature}) / ({return_temperature} − {room_temperature}))"
    ),
    source=EN_1264_2,
)
def excess(supply_temperature: Array, return_temperature: Array, room_temperature: Array) -> Array:
    """Logarithmic mean excess, K."""
    return floor.excess(supply_temperature, return_temperature, room_temperature)


@quantity(
    unit="K",
    title="Temperature drop",
    symbol="σ",
    formula="{supply_temperature} − {return_temperature}",
    source="supply less return",
    shown=False,
)
def drop(supply_temperature: Array, return_temperature: Array) -> Array:
    """What the water loses on its way, K."""
    return supply_temperature - return_temperature


@quantity(
    unit="W/m²",
    title="Heat output",
    symbol="q",
    formula="{heat_coefficient} · {excess}",
    source=f"{EN_1264_2} q = K_H·Δθ_H",
)
def output(heat_coefficient: Array, excess: Array) -> Array:
    """Heat flux up into the room, W/m²."""
    return heat_coefficient * excess


@quantity(
    unit="W/m²",
    title="Heat loss downwards",
    symbol="q_u",
    formula=(
        "({upward_resistance} · {output} + {room_temperature} − {below_temperature}) "
        "/ {downward_resistance}"
    ),
    source=EN_1264_2,
)
def down_loss(
    output: Array,
    room_temperature: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
) -> Array:
    """Heat flux down, W/m²."""
    return floor.down_loss(
        output, room_temperature, upward_resistance, downward_resistance, below_temperature
    )


@quantity(
    unit="°C",
    title="Supply temperature that the load needs",
    symbol="θ_V,N",
    formula=(
        "{room_temperature} + {plant_drop} / (1 − exp(−{plant_drop} · {heat_coefficient} "
        "/ {load_flux}))"
    ),
    source=f"{EN_1264_3}, exact form",
    fails="the load is nought",
)
def needed_supply(
    room_temperature: Array, plant_drop: Array, heat_coefficient: Array, load_flux: Array
) -> Array:
    """Supply temperature, °C, at which the floor gives exactly its load at the plant's drop."""
    return floor.needed_supply(room_temperature, plant_drop, heat_coefficient, load_flux)


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
    unit="m/s",
    title="Water speed",
    symbol="v",
    formula="{flow} / (π/4 · {bore}²)",
    source=CONTINUITY,
)
def velocity(flow: Array, bore: Array) -> Array:
    """Mean speed of the water in the pipe, m/s."""
    return flow / (np.pi / 4 * bore**2)


@quantity(
    unit="mPa·s",
    title="Viscosity of the water",
    symbol="μ",
    formula="of the fluid, at {water_temperature}",
    source=FLUID,
    fails="the fluid is outside its known range",
    shown=False,
)
def viscosity(plant_fluid_kind: Array, fluid_fraction: Array, water_temperature: Array) -> Array:
    """Dynamic viscosity at the mean water temperature, Pa·s."""
    return fluid.viscosity(plant_fluid_kind, fluid_fraction, water_temperature)


@quantity(
    unit="1",
    title="Reynolds number",
    symbol="Re",
    formula="{velocity} · {bore} · {density} / {viscosity}",
    source="definition, Re = v·d·ρ/μ",
)
def reynolds(velocity: Array, bore: Array, density: Array, viscosity: Array) -> Array:
    """Reynolds number of the loop's flow."""
    return friction.reynolds(velocity, bore, density, viscosity)


@quantity(
    unit="mm",
    title="Roughness of the bore",
    symbol="k",
    formula=("{pipe_roughness}", "{0.0015 mm}"),
    source="design; 0.0015 mm is common practice, no source",
    optional=("pipe_roughness",),
    shown=False,
)
def roughness(pipe_roughness: Array) -> Array:
    """As given, m; else that of extruded plastic and drawn copper pipe."""
    return np.where(np.isnan(pipe_roughness), friction.ROUGHNESS, pipe_roughness)


@quantity(
    unit="1",
    title="Friction factor",
    symbol="f",
    formula=(
        "64 / {reynolds}",
        "from 1/√f = −2 · lg({roughness} / (3.7 · {bore}) + 2.51 / ({reynolds} · √f)),"
        " from Re 4000; below it on a line from 64/2300",
    ),
    source="Hagen-Poiseuille up to Re 2300, Colebrook-White from 4000",
    fails="the flow or the roughness is outside the chart of friction factors",
    shown=False,
)
def friction_factor(reynolds: Array, roughness: Array, bore: Array) -> Array:
    """Darcy friction factor."""
    return friction.friction_factor(reynolds, roughness / bore)


@quantity(
    unit="kPa",
    title="Pressure loss",
    symbol="Δp",
    formula="{friction_factor} · {length} / {bore} · {density} · {velocity}² / 2",
    source="Darcy-Weisbach",
)
def pressure_drop(
    length: Array, bore: Array, velocity: Array, density: Array, friction_factor: Array
) -> Array:
    """Friction over the loop's full length, Pa."""
    return friction.pressure_drop(length, bore, velocity, density, friction_factor)


@quantity(
    unit="m",
    title="Length that area and spacing ask for",
    symbol="L_exp",
    formula="{area} / {spacing} + {feeds}",
    source=GEOMETRY,
)
def expected_length(area: Array, spacing: Array, feeds: Array) -> Array:
    """Area over spacing, and the feeds, m."""
    return area / spacing + feeds


@quantity(
    unit="%",
    title="Stated length against area over spacing and feeds",
    symbol="δ_L",
    formula="|{length} − {expected_length}| / {expected_length}",
    source=GEOMETRY,
    shown=False,
)
def length_deviation(length: Array, expected_length: Array) -> Array:
    """How far the stated length is from the expected one, as a share of it, without a sign."""
    return np.abs(length - expected_length) / expected_length


@quantity(
    unit="l", title="Water content", symbol="V", formula="{length} · π/4 · {bore}²", source=GEOMETRY
)
def content(length: Array, bore: Array) -> Array:
    """Water in the loop, m³."""
    return length * np.pi / 4 * bore**2


@quantity(
    unit="W",
    title="Heat given to the room",
    symbol="Q̇",
    formula="{area} · {output}",
    source=SUM,
    shown=False,
)
def heat(area: Array, output: Array) -> Array:
    """Heat flow up, W."""
    return area * output


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


@quantity(
    unit="1",
    title="Radius of the loop's turns in outside diameters of its pipe",
    symbol="r/d_a",
    formula=("{spacing} / {pipe_outside}", "{spacing} / 2 / {pipe_outside}"),
    source=GEOMETRY,
    fails="pattern is not given",
    shown=False,
)
def turn_ratio(spacing: Array, pattern: Array, pipe_outside: Array) -> Array:
    """Radius of the tightest turn over the pipe's outside diameter.

    A serpentine turns back within one spacing, so by half of it; a counterflow spiral turns
    back in its middle within two.
    """
    radius = np.where(pattern == SERPENTINE, spacing / 2, spacing)
    return np.where(np.isnan(pattern), np.nan, radius / pipe_outside)


@quantity(
    unit="%",
    title="Length against the longest loop of the header",
    symbol="L/L_max",
    formula="{length} / {header_longest_loop}",
    source=GEOMETRY,
    shown=False,
)
def length_share(length: Array, header_longest_loop: Array) -> Array:
    """Length over that of the longest loop on the same header."""
    return length / header_longest_loop


@quantity(
    unit="K",
    title="Temperature drop at the room's load",
    symbol="σ_N",
    formula=(
        "{plant_drop}",
        "{plant_drop} · {asked_mass_flow} / ({given_flow} · {density})",
        "{drop}",
    ),
    source=EN_1264_3,
    optional=("given_flow", "load_flux", "asked_mass_flow", "drop", "density"),
    shown=False,
)
def design_drop(
    given_flow: Array,
    plant_drop: Array,
    load_flux: Array,
    asked_mass_flow: Array,
    density: Array,
    drop: Array,
) -> Array:
    """Supply less return while the loop carries its share of the load, K.

    The plant's drop where the flow follows from it. A stated flow carries the same heat at a
    drop that is larger as the flow is smaller; with no load known, what the floor itself does.
    """
    stated = plant_drop * asked_mass_flow / (given_flow * density)
    stated = np.where(np.isnan(load_flux), drop, stated)
    return np.where(np.isnan(given_flow), plant_drop, stated)


@quantity(
    unit="%",
    title="Flow measured on site against the design flow",
    symbol="δ_V",
    formula="|{balance_flow} − {flow}| / {flow}",
    source="balance",
    fails="the design flow is nought",
    shown=False,
)
def flow_deviation(balance_flow: Array, flow: Array) -> Array:
    """How far the measured flow is from the design flow, as a share of it, without a sign."""
    return np.where(flow > 0, np.abs(balance_flow - flow) / flow, np.nan)


@quantity(
    unit="1",
    title="Loops on the same port",
    symbol="n_p",
    formula="loops with this header and port, counted",
    source="count",
    fails="another loop of the design does not say on which header and port it is",
    shown=False,
)
def port_sharers(header: Array, port: Array, job: Index) -> Array:
    """How many loops stand on this loop's port of its header, itself among them.

    Missing for a loop that is alone there as far as is known, while another of its design may be
    on that port too.
    """
    known = ~(np.isnan(header) | np.isnan(port))
    found = np.full(len(port), np.nan)
    pairs = np.stack((header[known], port[known]))
    _, which, counts = np.unique(pairs, axis=1, return_inverse=True, return_counts=True)
    found[known] = counts[which.reshape(-1)]
    anywhere = np.isin(job, job[np.isnan(header)])
    on_header = np.isin(header, header[np.isnan(port) & ~np.isnan(header)])
    return np.where((found == 1) & (anywhere | on_header), np.nan, found)


@quantity(unit="1", title="One", symbol="n", formula="1", source="count", shown=False)
def number(size: int) -> Array:
    """One for each loop, to be counted."""
    return np.ones(size)
