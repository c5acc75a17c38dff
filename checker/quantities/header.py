"""What can be computed of a header. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.graph import Array, Members, quantities_of
from checker.physics import header
from checker.quantities.sources import CONTINUITY, GEOMETRY, SUM

quantity = quantities_of("header")


@quantity(unit="1", title="Loops", source="count")
def loop_count(loops_number: Members) -> Array:
    """How many loops the header has."""
    return loops_number.count()


@quantity(unit="l/min", title="Flow", source=CONTINUITY)
def flow(loops_flow: Members) -> Array:
    """Flow of all loops together, m³/s."""
    return loops_flow.sum()


@quantity(unit="kPa", title="Pressure loss", source="largest loop and the header's own loss")
def pressure_drop(loops_pressure_drop: Members, own_loss: Array) -> Array:
    """What the pump must overcome, Pa."""
    return loops_pressure_drop.largest() + own_loss


@quantity(unit="m/s", title="Water speed in the header", source=CONTINUITY)
def velocity(flow: Array, bore: Array) -> Array:
    """Speed of the header's whole flow in its bore, m/s."""
    return flow / (np.pi / 4 * bore**2)


@quantity(
    unit="kPa",
    title="Pump head at the header's flow",
    source="pump curve, straight between its points",
    fails="the flow is outside the pump curve",
)
def pump_head(flow: Array, pump_curve_flow: Members, pump_curve_head: Members) -> Array:
    """What the pump gives at the header's flow, Pa."""
    return header.pump_head(
        flow, pump_curve_flow.values, pump_curve_head.values, pump_curve_flow.group.astype(float)
    )


@quantity(unit="l", title="Water content", source=SUM)
def content(loops_content: Members) -> Array:
    """Water in the header's loops, m³."""
    return loops_content.sum()


@quantity(unit="W", title="Heat output", source=SUM)
def output(loops_heat: Members) -> Array:
    """Heat that the header's loops give their rooms, W."""
    return loops_heat.sum()


@quantity(unit="m", title="Longest loop", source=GEOMETRY, shown=False)
def longest_loop(loops_length: Members) -> Array:
    """Length of the header's longest loop, m."""
    return loops_length.largest()


@quantity(
    unit="m",
    title="Pipe that no pump of the header's own serves",
    source=SUM,
    shown=False,
)
def unpumped_length(loops_length: Members, pump_curve_flow: Members) -> Array:
    """Length of the header's loops where the design states no pump for it, else nought, m."""
    return np.where(pump_curve_flow.count() > 0, 0.0, loops_length.sum())


@quantity(
    unit="K",
    title="Spread of supply temperatures on the header",
    source="largest less smallest",
    shown=False,
)
def supply_spread(loops_supply_temperature: Members) -> Array:
    """Warmest less coolest supply that the header's loops ask for, K."""
    return loops_supply_temperature.largest() - loops_supply_temperature.smallest()


@quantity(
    unit="1",
    title="Pressure tests",
    source="count",
    fails="no pressure test is given",
    shown=False,
)
def test_count(tests_number: Members, design_test_count: Array) -> Array:
    """How many pressure tests name the header; missing where the design has none at all."""
    return np.where(design_test_count > 0, tests_number.count(), np.nan)
