"""Quantities of a loop's floor, as means over its parts. SI and °C, one a row.

A loop has one water, but its parts may be in several rooms, zones and spacings. The values are
means over the parts' area, the highest surface that of the warmest part; feeds are left out.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.quantities.sources import EN_1264_2, EN_1264_3

quantity = quantities_of("loop")

OVER_PARTS = "mean over the area of the loop's parts"


def over_parts(name: str) -> tuple[str, str]:
    """The formula of a mean over the parts; with one part, that part's own value."""
    return f"Σ{{parts_{name}}}", f"mean of {{parts_{name}}}, weighted by {{parts_own_area}}"


def mean_over_parts(values: Grouped, own_area: Grouped) -> Array:
    """The mean over a loop's parts, weighted by area; feeds left out.

    Returns shape (loops,); NaN where a part's value or area is missing.
    """
    counts = own_area.values != 0
    group, size = own_area.group[counts], own_area.size
    weights = own_area.values[counts]
    # A loop of one part has its value to the last digit.
    single = np.bincount(group, minlength=size) == 1
    only = np.full(size, np.nan)
    only[group] = values.values[counts] + 0 * weights
    whole = np.bincount(group, weights, size)
    total = np.bincount(group, values.values[counts] * weights, size)
    return np.where(single, only, np.where(whole > 0, total / whole, np.nan))


@quantity(
    unit="W/m²",
    title="Largest heat output",
    symbol="q_o",
    formula=over_parts("largest_output"),
    source=f"{EN_1264_2} q = K_H·Δθ_H at the open point; {OVER_PARTS}",
)
def largest_output(parts_largest_output: Grouped, parts_own_area: Grouped) -> Array:
    """Heat flux up at the open point, W/m²: the most that the design can give."""
    return mean_over_parts(parts_largest_output, parts_own_area)


@quantity(
    unit="K",
    title="Excess of the water over the room",
    symbol="Δθ_H",
    formula=over_parts("excess"),
    source=f"{EN_1264_2}; {OVER_PARTS}",
)
def excess(parts_excess: Grouped, parts_own_area: Grouped) -> Array:
    """Logarithmic mean excess, K."""
    return mean_over_parts(parts_excess, parts_own_area)


@quantity(
    unit="W/m²",
    title="Heat output",
    symbol="q",
    formula=over_parts("output"),
    source=f"{EN_1264_2} q = K_H·Δθ_H; {OVER_PARTS}",
)
def output(parts_output: Grouped, parts_own_area: Grouped) -> Array:
    """Heat flux up into the rooms at the set point, W/m²."""
    return mean_over_parts(parts_output, parts_own_area)


@quantity(
    unit="W/m²",
    title="Heat loss downwards",
    symbol="q_u",
    formula=over_parts("down_loss"),
    source=f"{EN_1264_2}; {OVER_PARTS}",
)
def down_loss(parts_down_loss: Grouped, parts_own_area: Grouped) -> Array:
    """Heat flux down at the set point, W/m²."""
    return mean_over_parts(parts_down_loss, parts_own_area)


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient",
    symbol="K_H",
    formula=over_parts("heat_coefficient"),
    source=f"{EN_1264_2} Annex A; {OVER_PARTS}",
)
def heat_coefficient(parts_heat_coefficient: Grouped, parts_own_area: Grouped) -> Array:
    """Heat output per kelvin of excess, W/(m²·K)."""
    return mean_over_parts(parts_heat_coefficient, parts_own_area)


@quantity(
    unit="W/m²",
    title="Share of the rooms' heat load",
    symbol="q_N",
    formula=over_parts("load_flux"),
    source=f"{EN_1264_3}; {OVER_PARTS}",
    shown=False,
)
def load_flux(parts_load_flux: Grouped, parts_own_area: Grouped) -> Array:
    """Heat flux that the loop must give for the load, W/m²."""
    return mean_over_parts(parts_load_flux, parts_own_area)


@quantity(
    unit="W/m²",
    title="Largest heat output within the surface limit",
    symbol="q_G",
    formula=over_parts("output_limit"),
    source=f"{EN_1264_2} Annex A, limit curves; {OVER_PARTS}",
)
def output_limit(parts_output_limit: Grouped, parts_own_area: Grouped) -> Array:
    """Heat flux at which the warmest spot of each part is at its limit, W/m²."""
    return mean_over_parts(parts_output_limit, parts_own_area)


@quantity(
    unit="°C",
    title="Mean surface temperature",
    symbol="θ_F,m",
    formula=over_parts("surface_mean"),
    source=f"{EN_1264_2} basic curve at the open point; {OVER_PARTS}",
)
def surface_mean(parts_surface_mean: Grouped, parts_own_area: Grouped) -> Array:
    """Mean temperature of the floor's surface at the open point, °C."""
    return mean_over_parts(parts_surface_mean, parts_own_area)


@quantity(
    unit="°C",
    title="Highest surface temperature",
    symbol="θ_F",
    formula="max({parts_own_surface})",
    source=f"{EN_1264_2} limit curve solved for the surface; the highest of the loop's parts",
)
def surface_max(parts_own_surface: Grouped) -> Array:
    """Temperature of the warmest spot of the loop's floor, °C."""
    return parts_own_surface.largest()


@quantity(
    unit="°C",
    title="Supply temperature that the load needs",
    symbol="θ_V,N",
    formula="{needed_supply}",
    source=f"{EN_1264_3}, exact form",
    needed_when={"needed_supply": ("load_runs", (1.0,))},
    shown=False,
)
def asked_supply(needed_supply: Array, load_runs: Array) -> Array:
    """As needed_supply, °C; −inf where the load is zero."""
    return np.where(load_runs == 0, -np.inf, needed_supply)
