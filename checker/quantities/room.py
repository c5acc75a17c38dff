"""What can be computed of a room. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.graph import Array, Members, quantities_of
from checker.quantities.sources import SUM

quantity = quantities_of("room")


@quantity(unit="m²", title="Area of the room's loops", source=SUM, shown=False)
def loop_area(loops_area: Members) -> Array:
    """Heated area, m²."""
    return loops_area.sum()


@quantity(unit="1", title="Loops", source="count", shown=False)
def loop_count(loops_number: Members) -> Array:
    """How many loops heat the room."""
    return loops_number.count()


@quantity(unit="W", title="Heat output", source=SUM)
def output(loops_heat: Members) -> Array:
    """Heat that the room's loops give it, W."""
    return loops_heat.sum()


@quantity(
    unit="%",
    title="Heat output against heat load",
    source="output over load",
    fails="the load is nought",
)
def coverage(output: Array, heat_load: Array) -> Array:
    """Output over load, 1 where they are equal."""
    return np.where(heat_load > 0, output / heat_load, np.nan)
