"""What can be computed of a whole design. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

from checker.graph import Array, Members, quantities_of
from checker.quantities.sources import SUM

quantity = quantities_of("design")


@quantity(unit="m", title="Pipe", source=SUM)
def pipe_length(loops_length: Members) -> Array:
    """Length of all loops, m."""
    return loops_length.sum()


@quantity(unit="l", title="Water content", source=SUM)
def content(loops_content: Members) -> Array:
    """Water in all loops, m³."""
    return loops_content.sum()


@quantity(unit="W", title="Heat output", source=SUM)
def output(loops_heat: Members) -> Array:
    """Heat that all loops give their rooms, W."""
    return loops_heat.sum()
