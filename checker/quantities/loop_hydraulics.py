"""Of a loop: speed and pressure loss of its water. Values in SI, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.physics import fluid, friction, network
from checker.quantities.loop_return import NO_WATER
from checker.quantities.sources import CONTINUITY, FLUID

quantity = quantities_of("loop")

BAR = 1e5
"""Pa."""


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
    unit="m/s",
    title="Water speed while the loop is purged alone",
    symbol="v_purge",
    formula="{header_purge_flow} / (π/4 · {bore}²)",
    source=CONTINUITY,
    shown=False,
)
def purge_velocity(header_purge_flow: Array, bore: Array) -> Array:
    """Mean speed at the purge flow through this loop only, m/s."""
    return header_purge_flow / (np.pi / 4 * bore**2)


@quantity(
    unit="mPa·s",
    title="Viscosity of the water",
    symbol="μ",
    formula="of the fluid, at {water_temperature}",
    source=FLUID,
    missing_because="the fluid is outside its known range",
    shown=False,
)
def viscosity(plant_fluid_kind: Array, fluid_fraction: Array, water_temperature: Array) -> Array:
    """Dynamic viscosity at the mean water temperature, Pa·s."""
    return fluid.viscosity(plant_fluid_kind, fluid_fraction, water_temperature)


@quantity(
    unit="1",
    title="Reynolds number",
    symbol="Re",
    formula=("{velocity} · {bore} · {density} / {viscosity}", "0"),
    source="definition, Re = v·d·ρ/μ",
    needed_when={"density": ("runs", (1.0,)), "viscosity": ("runs", (1.0,))},
)
def reynolds(velocity: Array, bore: Array, density: Array, viscosity: Array, runs: Array) -> Array:
    """Reynolds number of the loop's flow; zero where no water flows."""
    found = friction.reynolds(velocity, bore, density, viscosity)
    return np.where(runs == 0, 0.0, found)


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
    missing_because="the flow or the roughness is outside the chart of friction factors",
    shown=False,
)
def friction_factor(reynolds: Array, roughness: Array, bore: Array) -> Array:
    """Darcy friction factor."""
    return friction.friction_factor(reynolds, roughness / bore)


@quantity(
    unit="kPa",
    title="Pressure loss",
    symbol="Δp",
    formula=("{friction_factor} · {length} / {bore} · {density} · {velocity}² / 2", "0"),
    source="Darcy-Weisbach",
    needed_when=dict.fromkeys(("length", "bore", "density", "friction_factor"), ("runs", (1.0,))),
)
def pressure_drop(
    length: Array,
    bore: Array,
    velocity: Array,
    density: Array,
    friction_factor: Array,
    runs: Array,
) -> Array:
    """Friction over the loop's full length, Pa; zero where no water flows."""
    found = friction.pressure_drop(length, bore, velocity, density, friction_factor)
    return np.where(runs == 0, 0.0, found)


@quantity(
    unit="1",
    title="Whether its flow is laminar",
    symbol="z_lam",
    formula="1 where {reynolds} is under 2300, else 0",
    source="friction factor of laminar flow below Re 2300",
    needed_when={"reynolds": ("runs", (1.0,))},
    shown=False,
    leaps=True,
)
def laminar(reynolds: Array, runs: Array) -> Array:
    """1 where water flows at a Reynolds number under 2300, else 0."""
    found = np.where(np.isnan(reynolds), np.nan, reynolds < friction.LAMINAR_REYNOLDS)
    return np.where(runs == 0, 0.0, found)


@quantity(
    unit="%",
    title="By how much the standard's coefficient overstates the heat in laminar flow",
    symbol="ε_Nu",
    formula="max({parts_film_share})",
    source="conduction with the film, Nusselt number 4.36 of laminar flow at even heat flux "
    "(Shah and London 1978, from memory); water's conductivity by IAPWS SR6-08(2011)",
    shown=False,
)
def laminar_overstatement(parts_film_share: Grouped) -> Array:
    """Share by which the coefficient is too high where `laminar`; the largest of the parts."""
    return parts_film_share.largest()


# ---- valves


@quantity(
    unit="kPa",
    title="What its valve takes",
    symbol="Δp_V",
    formula="{header_index_drop} − {pressure_drop}",
    source="every loop of the header made to lose what the index loop does",
    missing_because=NO_WATER,
)
def valve_drop(header_index_drop: Array, pressure_drop: Array, runs: Array) -> Array:
    """Pressure loss of the loop's valve at the set flows, Pa; zero for the index loop."""
    return np.where(runs == 0, np.nan, header_index_drop - pressure_drop)


@quantity(
    unit="m³/h",
    title="Flow coefficient of its valve",
    symbol="k_v",
    formula="{flow} / √({valve_drop} / {1 bar})",
    source="definition, m³/h at 1 bar",
    missing_because="no water runs, or its valve takes nothing",
)
def valve_kv(flow: Array, valve_drop: Array) -> Array:
    """Volume flow through the valve at a loss of 1 bar, m³/s."""
    return np.where(valve_drop > 0, flow / np.sqrt(valve_drop / BAR), np.nan)


@quantity(
    unit="kPa",
    title="What its valve takes, where it has water",
    symbol="Δp_V",
    formula=("{valve_drop}", "0"),
    source="as valve_drop",
    needed_when={"valve_drop": ("runs", (1.0,))},
    shown=False,
)
def valve_pressure(valve_drop: Array, runs: Array) -> Array:
    """As valve_drop, Pa; zero where no water flows."""
    return np.where(runs == 0, 0.0, valve_drop)


@quantity(
    unit="kg/m³",
    title="Density, where it has water",
    symbol="ρ",
    formula=("{density}", "0"),
    source=FLUID,
    needed_when={"density": ("runs", (1.0,))},
    shown=False,
)
def running_density(density: Array, runs: Array) -> Array:
    """As density, kg/m³; zero where no water flows."""
    return np.where(runs == 0, 0.0, density)


@quantity(
    unit="mPa·s",
    title="Viscosity, where it has water",
    symbol="μ",
    formula=("{viscosity}", "0"),
    source=FLUID,
    needed_when={"viscosity": ("runs", (1.0,))},
    shown=False,
)
def running_viscosity(viscosity: Array, runs: Array) -> Array:
    """As viscosity, Pa·s; zero where no water flows."""
    return np.where(runs == 0, 0.0, viscosity)


@quantity(
    unit="l/min",
    title="Flow where the pump settles",
    symbol="V̇_s",
    formula=("where pipe and valve lose {header_settled_drop}", "0"),
    source="Darcy-Weisbach; the valve as flow squared",
    shown=False,
)
def settled_flow(
    header_settled_drop: Array,
    flow: Array,
    valve_pressure: Array,
    length: Array,
    bore: Array,
    roughness: Array,
    running_density: Array,
    running_viscosity: Array,
) -> Array:
    """The loop's flow with all valves as set, m³/s."""
    loops = network.Loops(
        flow, valve_pressure, length, bore, roughness, running_density, running_viscosity
    )
    return np.where(flow == 0, 0.0, loops.flow_at(header_settled_drop))
