"""What can be computed of a header. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.physics import header, network
from checker.quantities.design import DAY
from checker.quantities.sources import CONTINUITY, GEOMETRY, SUM

quantity = quantities_of("header")


@quantity(
    unit="1", title="Loops", symbol="n_L", formula="the header's loops, counted", source="count"
)
def loop_count(loops_number: Grouped) -> Array:
    """How many loops the header has."""
    return loops_number.count()


@quantity(unit="l/min", title="Flow", symbol="V̇_H", formula="Σ{loops_flow}", source=CONTINUITY)
def flow(loops_flow: Grouped) -> Array:
    """Flow of all loops together, m³/s."""
    return loops_flow.sum()


@quantity(
    unit="kPa",
    title="Pressure loss",
    symbol="Δp_H",
    formula="max({loops_pressure_drop}) + {own_loss}",
    source="largest loop and the header's own loss",
)
def pressure_drop(loops_pressure_drop: Grouped, own_loss: Array) -> Array:
    """What the pump must overcome, Pa."""
    return loops_pressure_drop.largest() + own_loss


@quantity(
    unit="l/min",
    title="Flow of all headers on its pump",
    symbol="V̇_P",
    formula="Σ{pumped_flow}",
    source=SUM,
    shown=False,
)
def pump_flow(pumped_flow: Grouped) -> Array:
    """Flow of all headers that the header's pump serves, m³/s."""
    return pumped_flow.sum()


@quantity(
    unit="kPa",
    title="Pressure loss of the worst header on its pump",
    symbol="Δp_P,N",
    formula="max({pumped_pressure_drop})",
    source="the header on the pump that loses most",
    shown=False,
)
def pump_loss(pumped_pressure_drop: Grouped) -> Array:
    """What the pump must overcome for the worst of its headers, Pa."""
    return pumped_pressure_drop.largest()


@quantity(
    unit="1",
    title="Whether its pump serves other headers too",
    symbol="n_P",
    formula="is 1 where its pump serves several headers, else 0",
    source="design",
    shown=False,
)
def shares_pump(pump_owner: Index) -> Array:
    """1 where the header's pump serves several headers, else 0."""
    return (np.bincount(pump_owner, minlength=len(pump_owner))[pump_owner] > 1).astype(float)


@quantity(
    unit="m/s",
    title="Water speed in the header",
    symbol="v_H",
    formula="{flow} / (π/4 · {bore}²)",
    source=CONTINUITY,
)
def velocity(flow: Array, bore: Array) -> Array:
    """Speed of the header's whole flow in its bore, m/s."""
    return flow / (np.pi / 4 * bore**2)


@quantity(
    unit="kPa",
    title="Pump head at the set flow",
    symbol="Δp_P",
    formula="read from the pump curve at {pump_flow}, straight between its points",
    source="pump curve, straight between its points, at the flow of all headers on the pump",
    missing_because="the flow is outside the pump curve, which takes two points or more",
)
def pump_head(pump_flow: Array, pump_curve_flow: Grouped, pump_curve_head: Grouped) -> Array:
    """What the pump gives at the set flow of all headers on it, Pa."""
    curve = pump_curve_flow.values, pump_curve_head.values, pump_curve_flow.group.astype(float)
    return header.pump_head(pump_flow, *curve)


@quantity(
    unit="kPa",
    title="Head by which the pump is judged",
    symbol="Δp_P",
    formula=(
        "{pump_head}",
        "is the head at the end of the curve, or at the part of the flow that is known, where it "
        "is too little already: a pump's head only falls with more flow",
    ),
    source="pump curve, straight between its points; beyond its ends it only falls",
    optional=("pump_head",),
    missing_because="the flow is outside the pump curve, whose end does not decide it",
    shown=False,
)
def duty_head(
    pump_head: Array,
    pump_flow: Array,
    pumped_flow: Grouped,
    pressure_drop: Array,
    pump_curve_flow: Grouped,
    pump_curve_head: Grouped,
) -> Array:
    """Head of the pump at the set flow, Pa.

    Beyond the curve: the head at its end, where that decides. Where a loop's flow is not known: the
    head at the sum of the others, if it is too little already, because more flow lowers it.
    """
    curve = pump_curve_flow.values, pump_curve_head.values, pump_curve_flow.group.astype(float)
    found = header.bounded_head(pump_flow, pressure_drop, *curve)
    flows = np.nan_to_num(pumped_flow.values)
    least = np.bincount(pumped_flow.group, flows, pumped_flow.size).astype(np.float64)
    most = header.bounded_head(least, pressure_drop, *curve)
    return np.where(np.isnan(pump_flow) & (most < pressure_drop), most, found)


@quantity(
    unit="kPa",
    title="Pressure loss of the index loop",
    symbol="Δp_max",
    formula=(
        "max({loops_pressure_drop})",
        "max({loops_pressure_drop}) + {pump_loss} − {pressure_drop}",
    ),
    source="largest loop, and the excess of the worst header on its pump",
    needed_when={
        "pump_loss": ("shares_pump", (1.0,)),
        "pressure_drop": ("shares_pump", (1.0,)),
    },
    shown=False,
)
def index_drop(
    loops_pressure_drop: Grouped, pump_loss: Array, pressure_drop: Array, shares_pump: Array
) -> Array:
    """What every loop of the header takes with its valve, Pa."""
    more = np.where(shares_pump == 1, pump_loss - pressure_drop, 0.0)
    return loops_pressure_drop.largest() + more


SETTLED = "pump curve, straight between its points; loops by their friction, valves as flow squared"


@quantity(
    unit="kPa",
    title="Pressure across the loops where the pump settles",
    symbol="Δp_s",
    formula="where the pump's head less {own_loss} · (V̇/{flow})² is what every loop loses",
    source=SETTLED,
    missing_because="the pump does not settle within its curve, of two points or more",
    shown=False,
)
def settled_drop(
    pump_flow: Array,
    pump_loss: Array,
    flow: Array,
    own_loss: Array,
    pump_owner: Index,
    pump_curve_flow: Grouped,
    pump_curve_head: Grouped,
    loops_flow: Grouped,
    loops_valve_pressure: Grouped,
    loops_length: Grouped,
    loops_bore: Grouped,
    loops_roughness: Grouped,
    loops_running_density: Grouped,
    loops_running_viscosity: Grouped,
) -> Array:
    """What each loop of the header loses, with its valve set, where the pump settles, Pa."""
    runs = loops_flow.values != 0
    loops = network.Loops(
        *(
            members.values[runs]
            for members in (
                loops_flow,
                loops_valve_pressure,
                loops_length,
                loops_bore,
                loops_roughness,
                loops_running_density,
                loops_running_viscosity,
            )
        )
    )
    return network.settled_pressure(
        loops,
        loops_flow.group[runs],
        flow,
        own_loss + 0 * (pump_flow + pump_loss),
        pump_owner,
        pump_curve_flow.values,
        pump_curve_head.values,
        pump_curve_flow.group,
    )


@quantity(
    unit="l/min",
    title="Flow where the pump settles",
    symbol="V̇_met",
    formula="Σ{loops_settled_flow}",
    source=SETTLED,
    missing_because="the pump does not settle within its curve, of two points or more",
)
def met_flow(loops_settled_flow: Grouped) -> Array:
    """Flow that settles with the valves as set, m³/s."""
    return loops_settled_flow.sum()


@quantity(
    unit="kPa",
    title="Pressure where the pump settles",
    symbol="Δp_met",
    formula="{settled_drop} + {own_loss} · ({met_flow} / {flow})²",
    source=SETTLED,
    shown=False,
)
def met_head(settled_drop: Array, own_loss: Array, met_flow: Array, flow: Array) -> Array:
    """Head of the pump at that flow, Pa."""
    return settled_drop + own_loss * (met_flow / flow) ** 2


@quantity(
    unit="%",
    title="Flow where the pump settles over the set one",
    symbol="V̇_met/V̇",
    formula="{met_flow} / {flow}",
    source=SETTLED,
    missing_because="no water runs",
    shown=False,
)
def met_share(met_flow: Array, flow: Array) -> Array:
    """Flow that settles over the set flow, 1 where they are equal."""
    return np.where(flow > 0, met_flow / flow, np.nan)


@quantity(
    unit="kPa",
    title="Head that the pump gives above the loss",
    symbol="Δp_over",
    formula="{pump_head} − {pump_loss}",
    source="pump head less loss, of several headers on one pump that of the worst",
    shown=False,
)
def pump_surplus(pump_head: Array, pump_loss: Array) -> Array:
    """Head at the set flow less the loss there, Pa."""
    return pump_head - pump_loss


@quantity(unit="l", title="Water content", symbol="V_H", formula="Σ{loops_content}", source=SUM)
def content(loops_content: Grouped) -> Array:
    """Water in the header's loops, m³."""
    return loops_content.sum()


@quantity(unit="W", title="Heat output", symbol="Q̇_H", formula="Σ{loops_heat}", source=SUM)
def output(loops_heat: Grouped) -> Array:
    """Heat that the header's loops give their rooms, W."""
    return loops_heat.sum()


@quantity(
    unit="m",
    title="Longest loop",
    symbol="L_max",
    formula="max({loops_length})",
    source=GEOMETRY,
    shown=False,
)
def longest_loop(loops_length: Grouped) -> Array:
    """Length of the header's longest loop, m."""
    return loops_length.largest()


@quantity(
    unit="m",
    title="Pipe that no pump of the header's own serves",
    symbol="ΣL",
    formula=(
        "0",
        "Σ{loops_length}",
    ),
    source=SUM,
    shown=False,
)
def unpumped_length(loops_length: Grouped, pump_stated: Mask) -> Array:
    """Length of the header's loops where the design states no pump for it, else zero, m."""
    return np.where(pump_stated, 0.0, loops_length.sum())


@quantity(
    unit="K",
    title="Spread of supply temperatures on the header",
    symbol="δθ_V",
    formula="max({loops_supply_temperature}) − min({loops_supply_temperature})",
    source="largest less smallest",
    shown=False,
)
def supply_spread(loops_supply_temperature: Grouped) -> Array:
    """Warmest less coolest supply that the header's loops ask for, K."""
    return loops_supply_temperature.largest() - loops_supply_temperature.smallest()


@quantity(
    unit="1",
    title="Pressure tests",
    symbol="n_T",
    formula="the header's pressure tests, counted",
    source="count",
    missing_because="no pressure test is given",
    shown=False,
)
def test_count(tests_number: Grouped, design_test_count: Array) -> Array:
    """How many pressure tests name the header; missing where the design has none at all."""
    return np.where(design_test_count > 0, tests_number.count(), np.nan)


@quantity(
    unit="day",
    title="Day of the header's last pressure test",
    symbol="t_T",
    formula="max({tests_tested_on})",
    source="dates of the design",
    shown=False,
)
def last_test(tests_tested_on: Grouped) -> Array:
    """Day of the last pressure test that names the header, s, days counted as in a date."""
    return tests_tested_on.largest() * DAY


@quantity(
    unit="day",
    title="Days from the screed to the last pressure test",
    symbol="t_s",
    formula="{last_test} − max({loops_last_screed})",
    source="dates of the design",
    shown=False,
)
def days_after_screed(last_test: Array, loops_last_screed: Grouped) -> Array:
    """From the last screed over the header's loops to its last test, s; below zero if before."""
    return last_test - loops_last_screed.largest()


@quantity(
    unit="1",
    title="Pressure tests before the screed",
    symbol="n_T,v",
    formula="the header's pressure tests but those after the screed, counted",
    source="count",
    optional=("tests_before_screed",),
    missing_because="no pressure test is given",
    shown=False,
)
def first_tests(test_count: Array, tests_before_screed: Grouped) -> Array:
    """How many tests before the screed name the header; missing where `test_count` is."""
    counted = np.where(test_count == 0, 0.0, tests_before_screed.sum())
    return np.where(np.isnan(test_count), np.nan, counted)
