"""Quantities of a loop: what sets its flow, and its return temperature. SI and °C, one a row."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.physics import balance, fluid
from checker.quantities.design import BY_DROP
from checker.quantities.sources import BALANCE, CONTINUITY, EN_1264_3, FLUID

quantity = quantities_of("loop")

NO_WATER = "the load is zero, so no water runs"
STATED, DROPPED, BY_ROOM = 0.0, 1.0, 2.0
BY_LOAD = (DROPPED, BY_ROOM)


@quantity(
    unit="1",
    title="Where the flow comes from",
    symbol="f",
    formula="is 0 where it is stated, 1 where it follows from the plant's drop, else 2",
    source="design",
    optional=("given_flow", "plant_flows"),
    shown=False,
)
def flow_from(given_flow: Array, plant_flows: Array) -> Array:
    """What sets the flow: STATED, DROPPED or BY_ROOM."""
    by_load = np.where(plant_flows == BY_DROP, DROPPED, BY_ROOM)
    return np.where(np.isnan(given_flow), by_load, STATED)


# ---- the open point


@quantity(
    unit="°C",
    title="Return at the stated flow",
    symbol="θ_R",
    formula=(
        "where Σ A · (q + q_u) = ρ · {given_flow} · c · ({supply_temperature} − θ_R), with q "
        "= K_H · Δθ_H of each part"
    ),
    source=BALANCE,
    missing_because="no return temperature balances: the supply is not warmer than the room, the "
    "flow is too small for the loss downwards, or the fluid is outside its known range",
    shown=False,
)
def stated_return(
    given_flow: Array,
    supply_temperature: Array,
    plant_fluid_kind: Array,
    fluid_fraction: Array,
    parts_area: Grouped,
    parts_working_coefficient: Grouped,
    parts_upward_resistance: Grouped,
    parts_downward_resistance: Grouped,
    parts_held_back: Grouped,
    parts_below_temperature: Grouped,
    parts_room_temperature: Grouped,
    parts_feed: Grouped,
) -> Array:
    """Return of the loop at its stated flow, °C; NaN where it states none."""
    found = np.full(len(given_flow), np.nan)
    wanted = given_flow > 0
    if wanted.any():
        found[wanted] = _parts_return(
            wanted,
            lambda rows, mean: (
                given_flow[rows]
                * fluid.density(plant_fluid_kind[rows], fluid_fraction[rows], mean)
                * fluid.specific_heat(plant_fluid_kind[rows], fluid_fraction[rows], mean)
            ),
            supply_temperature,
            parts_area,
            parts_working_coefficient,
            parts_upward_resistance,
            parts_downward_resistance,
            parts_held_back,
            parts_below_temperature,
            parts_room_temperature,
            parts_feed,
        )
    return found


def _parts_return(
    wanted: Mask,
    rate: Callable[[Index, Array], Array],
    supply_temperature: Array,
    area: Grouped,
    heat_coefficient: Grouped,
    upward_resistance: Grouped,
    downward_resistance: Grouped,
    held_back: Grouped,
    below_temperature: Grouped,
    room_temperature: Grouped,
    feed: Grouped,
) -> Array:
    """The return of the wanted loops, °C; rate: returns ṁ·c of some rows at their mean
    temperatures.
    """
    rows = np.flatnonzero(wanted)
    kept = wanted[area.group]
    place = np.cumsum(wanted) - 1
    return balance.parts_return(
        lambda some, mean: rate(rows[some], mean),
        supply_temperature[rows],
        place[area.group[kept]],
        feed.values[kept] == 1,
        room_temperature.values[kept],
        *balance.taken_from_water(
            area.values[kept],
            heat_coefficient.values[kept],
            upward_resistance.values[kept],
            downward_resistance.values[kept],
            room_temperature.values[kept],
            below_temperature.values[kept],
            held_back.values[kept],
        ),
    )


@quantity(
    unit="°C",
    title="Return temperature, open",
    symbol="θ_R,o",
    formula=("{supply_temperature} − {plant_drop}", "{stated_return}"),
    source="plant's drop; at a stated flow the heat balance",
    needed_when={"stated_return": ("flow_from", (STATED,)), "plant_drop": ("flow_from", BY_LOAD)},
    shown=False,
)
def open_return(
    supply_temperature: Array, plant_drop: Array, flow_from: Array, stated_return: Array
) -> Array:
    """Return of the loop at its open point, °C."""
    return np.where(flow_from == STATED, stated_return, supply_temperature - plant_drop)


@quantity(
    unit="1",
    title="Whether water runs",
    symbol="w",
    formula="is 0 where the stated flow is zero, or where none is stated and the load of every "
    "room of the loop is, else 1",
    source="design",
    optional=("given_flow",),
    shown=False,
)
def runs(given_flow: Array, parts_asks: Grouped) -> Array:
    """1 where water flows, 0 where the load, or the stated flow, is zero."""
    return np.where(np.isnan(given_flow), parts_asks.largest(), (given_flow > 0).astype(float))


@quantity(
    unit="kJ/(kg·K)",
    title="Specific heat of the water at the plant's drop",
    symbol="c",
    formula="of the fluid, at {supply_temperature} − {plant_drop} / 2",
    source=FLUID,
    missing_because="the fluid is outside its known range",
    shown=False,
)
def dropped_specific_heat(
    plant_fluid_kind: Array, fluid_fraction: Array, supply_temperature: Array, plant_drop: Array
) -> Array:
    """Specific heat at the mean of the supply and a return lower by the drop, J/(kg·K)."""
    mean = supply_temperature - plant_drop / 2
    return fluid.specific_heat(plant_fluid_kind, fluid_fraction, mean)


@quantity(
    unit="kg/m³",
    title="Density of the water at the plant's drop",
    symbol="ρ",
    formula="of the fluid, at {supply_temperature} − {plant_drop} / 2",
    source=FLUID,
    missing_because="the fluid is outside its known range",
    shown=False,
)
def dropped_density(
    plant_fluid_kind: Array, fluid_fraction: Array, supply_temperature: Array, plant_drop: Array
) -> Array:
    """Density at the mean of the supply and a return lower by the drop, kg/m³."""
    mean = supply_temperature - plant_drop / 2
    return fluid.density(plant_fluid_kind, fluid_fraction, mean)


@quantity(
    unit="kg/s",
    title="Mass flow at the plant's drop",
    symbol="ṁ_σ",
    formula=("Σ{parts_dropped} / ({dropped_specific_heat} · {plant_drop})", "0"),
    source=EN_1264_3,
    missing_because="the heat to be carried is not above zero",
    shown=False,
)
def dropped_mass_flow(
    parts_dropped: Grouped, dropped_specific_heat: Array, plant_drop: Array, load_runs: Array
) -> Array:
    """Mass flow that carries the loop's load at the plant's drop, kg/s."""
    heat = parts_dropped.sum()
    found = np.where(heat > 0, heat, np.nan) / (dropped_specific_heat * plant_drop)
    return np.where(load_runs == 0, 0.0, found)


@quantity(
    unit="1",
    title="Whether a load asks for water",
    symbol="w",
    formula="is 0 where the load of every room of the loop is zero, else 1",
    source="design",
    shown=False,
)
def load_runs(parts_asks: Grouped) -> Array:
    """1 where the load of a room of the loop is above zero or not known, else 0."""
    return parts_asks.largest()


@quantity(
    unit="l/min",
    title="Flow at the plant's drop",
    symbol="V̇_σ",
    formula=("{dropped_mass_flow} / {dropped_density}", "0"),
    source=CONTINUITY,
)
def flow_at_drop(dropped_mass_flow: Array, dropped_density: Array) -> Array:
    """Volume flow that carries the loop's load at the plant's drop, m³/s."""
    return dropped_mass_flow / dropped_density


@quantity(
    unit="°C",
    title="Return at the flow for the plant's drop",
    symbol="θ_R",
    formula=(
        "where Σ A · (q + q_u) = {dropped_mass_flow} · c · ({supply_temperature} − θ_R), with q "
        "= K_H · Δθ_H of each part"
    ),
    source=BALANCE,
    needed_when={"dropped_mass_flow": ("flow_from", (DROPPED,))},
    missing_because="no return temperature balances: the supply is not warmer than the room, the "
    "flow is too small for the loss downwards, or the fluid is outside its known range",
    shown=False,
)
def dropped_return(
    dropped_mass_flow: Array,
    flow_from: Array,
    supply_temperature: Array,
    plant_fluid_kind: Array,
    fluid_fraction: Array,
    parts_area: Grouped,
    parts_working_coefficient: Grouped,
    parts_upward_resistance: Grouped,
    parts_downward_resistance: Grouped,
    parts_held_back: Grouped,
    parts_below_temperature: Grouped,
    parts_room_temperature: Grouped,
    parts_feed: Grouped,
) -> Array:
    """Return of the loop where the plant's drop sets its flow, °C; NaN where it does not."""
    found = np.full(len(dropped_mass_flow), np.nan)
    wanted = (flow_from == DROPPED) & (dropped_mass_flow > 0)
    if wanted.any():
        found[wanted] = _parts_return(
            wanted,
            lambda rows, mean: (
                dropped_mass_flow[rows]
                * fluid.specific_heat(plant_fluid_kind[rows], fluid_fraction[rows], mean)
            ),
            supply_temperature,
            parts_area,
            parts_working_coefficient,
            parts_upward_resistance,
            parts_downward_resistance,
            parts_held_back,
            parts_below_temperature,
            parts_room_temperature,
            parts_feed,
        )
    return found


@quantity(
    unit="°C",
    title="Return temperature",
    symbol="θ_R",
    formula=("{stated_return}", "{dropped_return}", "max({parts_wanted_return})"),
    source=f"{EN_1264_3}: each room's own drop at the common supply",
    needed_when={
        "stated_return": ("flow_from", (STATED,)),
        "dropped_return": ("flow_from", (DROPPED,)),
    },
    missing_because=NO_WATER,
)
def return_temperature(
    flow_from: Array,
    stated_return: Array,
    dropped_return: Array,
    runs: Array,
    parts_wanted_return: Grouped,
) -> Array:
    """Return of the loop at its set point, °C; NaN where no water flows."""
    found = np.where(flow_from == DROPPED, dropped_return, parts_wanted_return.largest())
    found = np.where(flow_from == STATED, stated_return, found)
    return np.where(runs == 0, np.nan, found)
