"""Of a loop: what it is made of, and what its records say. Values in SI, one a row."""

from __future__ import annotations

import numpy as np

from checker.compute.graph import Array, Index, quantities_of
from checker.design.schema import design_format
from checker.quantities.sources import GEOMETRY

quantity = quantities_of("loop")

_code = design_format().code
SERPENTINE = _code("loops", "pattern", "serpentine")


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
    unit="1",
    title="Radius of the loop's turns in outside diameters of its pipe",
    symbol="r/d_a",
    formula=("{spacing} / {pipe_outside}", "{spacing} / 2 / {pipe_outside}"),
    source=GEOMETRY,
    fails="pattern is not given",
    shown=False,
)
def spacing_turn_ratio(spacing: Array, pattern: Array, pipe_outside: Array) -> Array:
    """Radius of the tightest turn over the pipe's outside diameter, by spacing and pattern.

    A serpentine turns back within one spacing, so by half of it; a counterflow spiral turns
    back in its middle within two.
    """
    radius = np.where(pattern == SERPENTINE, spacing / 2, spacing)
    return np.where(np.isnan(pattern), np.nan, radius / pipe_outside)


@quantity(
    unit="1",
    title="Radius of the tightest bend on the plan in outside diameters of its pipe",
    symbol="r_z/d_a",
    formula="{drawn_bend} / {pipe_outside}",
    source=GEOMETRY,
    shown=False,
)
def drawn_turn_ratio(drawn_bend: Array, pipe_outside: Array) -> Array:
    """Radius of the tightest bend on the plan over the pipe's outside diameter."""
    return drawn_bend / pipe_outside


@quantity(
    unit="1",
    title="Radius of the loop's turns in outside diameters of its pipe",
    symbol="r/d_a",
    formula=("{drawn_turn_ratio}", "{spacing_turn_ratio}"),
    source=GEOMETRY,
    optional=("spacing_turn_ratio", "drawn_turn_ratio"),
    shown=False,
)
def turn_ratio(spacing_turn_ratio: Array, drawn_turn_ratio: Array) -> Array:
    """That of the plan where it gives one, else that which spacing and pattern ask for."""
    return np.where(np.isnan(drawn_turn_ratio), spacing_turn_ratio, drawn_turn_ratio)


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
