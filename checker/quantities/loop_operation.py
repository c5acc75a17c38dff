"""Quantities of a loop: its flow, temperatures and heat at its two operating points. SI and °C, one
a row.

`part_operation` explains the two points. For a loop in parts the values of its floor are means over
its parts' area, feeds left out.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.physics import fluid
from checker.quantities.sources import BALANCE, CONTINUITY, EN_1264_3, FLUID, SUM

quantity = quantities_of("loop")

GLYCOLS = (float(fluid.PROPYLENE_GLYCOL), float(fluid.ETHYLENE_GLYCOL))


@quantity(
    unit="1",
    title="Mass fraction of antifreeze",
    symbol="w",
    formula=("{plant_fluid_mass_fraction}", "0"),
    source="design",
    needed_when={"plant_fluid_mass_fraction": ("plant_fluid_kind", GLYCOLS)},
    shown=False,
)
def fluid_fraction(plant_fluid_mass_fraction: Array, plant_fluid_kind: Array) -> Array:
    """Mass fraction of glycol in the water; zero for water."""
    return np.where(plant_fluid_kind == fluid.WATER, 0.0, plant_fluid_mass_fraction)


@quantity(
    unit="m²",
    title="Heated area",
    symbol="A",
    formula="Σ{parts_own_area}",
    source=SUM,
    shown=False,
)
def area(parts_own_area: Grouped) -> Array:
    """Floor that the loop heats, feeds left out, m²."""
    return parts_own_area.sum()


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
    missing_because="the fluid is outside its known range",
    shown=False,
)
def density(plant_fluid_kind: Array, fluid_fraction: Array, water_temperature: Array) -> Array:
    """Density at the mean water temperature, kg/m³."""
    return fluid.density(plant_fluid_kind, fluid_fraction, water_temperature)


@quantity(
    unit="kJ/(kg·K)",
    title="Specific heat of the water",
    symbol="c",
    formula="of the fluid, at {water_temperature}",
    source=FLUID,
    missing_because="the fluid is outside its known range",
    shown=False,
)
def specific_heat(
    plant_fluid_kind: Array, fluid_fraction: Array, water_temperature: Array
) -> Array:
    """Specific heat at the mean water temperature, J/(kg·K)."""
    return fluid.specific_heat(plant_fluid_kind, fluid_fraction, water_temperature)


@quantity(
    unit="K",
    title="Temperature drop",
    symbol="σ",
    formula="{supply_temperature} − {return_temperature}",
    source="supply less return",
)
def drop(supply_temperature: Array, return_temperature: Array) -> Array:
    """Supply minus return, K."""
    return supply_temperature - return_temperature


@quantity(
    unit="W",
    title="Heat taken from the water",
    symbol="Q̇_W",
    formula="Σ{parts_radiated}",
    source=SUM,
    shown=False,
)
def radiated(parts_radiated: Grouped) -> Array:
    """Heat flow up and down of all parts and feeds, W."""
    return parts_radiated.sum()


@quantity(
    unit="kg/s",
    title="Mass flow",
    symbol="ṁ",
    formula="{radiated} / ({specific_heat} · {drop})",
    source=BALANCE,
    missing_because="the heat to be carried is not above zero",
    shown=False,
)
def mass_flow(radiated: Array, specific_heat: Array, drop: Array) -> Array:
    """Mass flow at the set point, kg/s."""
    return np.where(radiated > 0, radiated / (specific_heat * drop), np.nan)


@quantity(
    unit="l/min",
    title="Flow",
    symbol="V̇",
    formula=("{given_flow}", "{mass_flow} / {density}", "0"),
    source=CONTINUITY,
    optional=("given_flow",),
    needed_when={"mass_flow": ("runs", (1.0,)), "density": ("runs", (1.0,))},
)
def flow(mass_flow: Array, given_flow: Array, density: Array, runs: Array) -> Array:
    """Volume flow at the mean water temperature, m³/s: as stated, else as its rooms need."""
    found = np.where(np.isnan(given_flow), mass_flow / density, given_flow)
    return np.where(runs == 0, 0.0, found)


@quantity(
    unit="°C",
    title="Supply temperature that the load needs",
    symbol="θ_V,N",
    formula="max({parts_needed_supply})",
    source=f"{EN_1264_3}, exact form; the highest of the loop's parts",
    missing_because="the load is zero",
)
def needed_supply(parts_needed_supply: Grouped) -> Array:
    """Supply temperature, °C, at which the loop gives its load at the plant's drop."""
    return parts_needed_supply.largest()


@quantity(
    unit="W",
    title="Heat given to the rooms",
    symbol="Q̇",
    formula="Σ{parts_heat}",
    source=SUM,
    shown=False,
)
def heat(parts_heat: Grouped) -> Array:
    """Heat flow up of all parts and feeds, W."""
    return parts_heat.sum()


@quantity(
    unit="K",
    title="Temperature drop at the room's load",
    symbol="σ_N",
    formula=(
        "{plant_drop}",
        "{plant_drop} · {dropped_mass_flow} / ({given_flow} · {density})",
        "{drop}",
    ),
    source=EN_1264_3,
    optional=("given_flow", "load_flux", "dropped_mass_flow", "drop", "density"),
    shown=False,
)
def design_drop(
    given_flow: Array,
    plant_drop: Array,
    load_flux: Array,
    dropped_mass_flow: Array,
    density: Array,
    drop: Array,
    parts_room_heat_load: Grouped,
) -> Array:
    """Supply minus return while the loop carries its share of the load, K.

    The plant's drop where the flow follows from the load. A stated flow carries the same heat with
    a drop that is larger the smaller the flow is; where no load is stated, the drop of the floor
    itself. A load whose share is not known gives no drop, because the floor's own may be far
    smaller.
    """
    stated = plant_drop * dropped_mass_flow / (given_flow * density)
    without = np.isnan(load_flux) & np.isnan(parts_room_heat_load.sum())
    stated = np.where(without, drop, stated)
    return np.where(np.isnan(given_flow), plant_drop, stated)


@quantity(
    unit="W",
    title="Heat taken from the water, open",
    symbol="Q̇_W,o",
    formula="Σ{parts_open_radiated}",
    source=SUM,
    shown=False,
)
def open_radiated(parts_open_radiated: Grouped) -> Array:
    """Heat flow up and down of all parts and feeds at the open point, W."""
    return parts_open_radiated.sum()


@quantity(
    unit="l/min",
    title="Flow, open",
    symbol="V̇_o",
    formula=(
        "{given_flow}",
        "{open_radiated} / ({dropped_specific_heat} · {plant_drop} · {dropped_density})",
    ),
    source=BALANCE,
    optional=("given_flow",),
    shown=False,
)
def open_flow(
    given_flow: Array,
    open_radiated: Array,
    dropped_specific_heat: Array,
    dropped_density: Array,
    plant_drop: Array,
) -> Array:
    """Volume flow at the open point, m³/s: as stated, else the one that cools by the plant's
    drop.
    """
    carried = open_radiated / (dropped_specific_heat * plant_drop) / dropped_density
    return np.where(np.isnan(given_flow), carried, given_flow)


@quantity(
    unit="1",
    title="Whether only the opened valve reaches the flow setter's scale",
    symbol="r",
    formula="is 1 where {flow} is under the scale and {open_flow} is not, else 0",
    source="flow setter's scale against the two operating points",
    optional=("open_flow", "header_flow_setters_least"),
    shown=False,
)
def setter_reached(flow: Array, open_flow: Array, header_flow_setters_least: Array) -> Array:
    """1 where the set flow is under the setter's least and that at the open point is not."""
    least = header_flow_setters_least
    found = (flow < least) & (open_flow >= least)
    return np.where(np.isnan(flow), np.nan, found.astype(float))
