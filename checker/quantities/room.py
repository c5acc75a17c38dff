"""What can be computed of a room. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.compute.graph import Array, Members, quantities_of
from checker.quantities.sources import SUM

quantity = quantities_of("room")


@quantity(
    unit="m²",
    title="Area of the room's loops",
    symbol="A_F",
    formula="Σ{loops_area}",
    source=SUM,
    shown=False,
)
def loop_area(loops_area: Members) -> Array:
    """Heated area, m²."""
    return loops_area.sum()


@quantity(
    unit="1",
    title="Loops",
    symbol="n_L",
    formula="the room's loops, counted",
    source="count",
    shown=False,
)
def loop_count(loops_number: Members, design_loop_count: Array) -> Array:
    """How many loops heat the room; missing where the design has none at all."""
    return np.where(design_loop_count > 0, loops_number.count(), np.nan)


@quantity(
    unit="1",
    title="Whether the floor heats the room",
    symbol="h",
    formula="is 1 where a loop is in the room or its heat load is above 0, else 0",
    source="design",
    optional=("loop_count", "heat_load"),
    shown=False,
)
def heated(loop_count: Array, heat_load: Array) -> Array:
    """1 where a loop is in the room or its load is above nought, else 0: a cupboard, say."""
    known = np.where(np.isnan(loop_count), np.nan, 0.0)
    return np.where((loop_count > 0) | (heat_load > 0), 1.0, known)


@quantity(
    unit="1",
    title="Whether the floor is to heat the room",
    symbol="h_N",
    formula="is 1 where a loop is in the room or its heat load is above 0, 0 where the load is 0",
    source="design",
    shown=False,
)
def to_be_heated(heated: Array, heat_load: Array) -> Array:
    """As `heated`, but unknown for a room without loops whose load is not given."""
    return np.where(heated == 1, heated, np.where(np.isnan(heat_load), np.nan, heated))


@quantity(unit="W", title="Heat output", symbol="Q̇_R", formula="Σ{loops_heat}", source=SUM)
def output(loops_heat: Members) -> Array:
    """Heat that the room's loops give it, W."""
    return loops_heat.sum()


@quantity(
    unit="%",
    title="Heat output against heat load",
    symbol="Q̇_R/Q̇_N",
    formula="{output} / {heat_load}",
    source="output over load",
    fails="the load is nought",
)
def coverage(output: Array, heat_load: Array) -> Array:
    """Output over load, 1 where they are equal."""
    return np.where(heat_load > 0, output / heat_load, np.nan)
