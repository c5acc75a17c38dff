"""Of a loop: its operating point, flow, temperatures and heat. SI and °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.compute.graph import Array, quantities_of
from checker.design.schema import design_format
from checker.physics import balance, floor, fluid
from checker.quantities.sources import CONTINUITY, EN_1264_2, EN_1264_3, SUM

quantity = quantities_of("loop")

_code = design_format().code
HEATED = _code("floors", "below", "heated")
GROUND = _code("floors", "below", "ground")
FLUID = "IAPWS SR6-08(2011); glycol: Melinder (2010)"
GLYCOLS = (float(fluid.PROPYLENE_GLYCOL), float(fluid.ETHYLENE_GLYCOL))
GROUND_TEMPERATURE = 10.0
"""°C, under a floor on the ground where the design states none; common practice, no source."""


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
