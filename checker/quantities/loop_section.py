"""Quantities of a loop: its water films, and its floor in section over all its parts. SI, one a
row.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.physics import fluid
from checker.physics.film import film_coefficient
from checker.quantities.loop_means import OVER_PARTS, mean_over_parts, over_parts
from checker.quantities.sources import CONDUCTION, FILM

quantity = quantities_of("loop")

NUSSELT = "Nusselt 4.36 below Re 2300, Gnielinski above 4000, linear between"


@quantity(
    unit="W/(m²·K)",
    title="Heat transfer from the water to the bore",
    symbol="α_w",
    formula="Nu · λ_w / {bore}, with Nu by {reynolds}",
    source=NUSSELT,
    shown=False,
)
def film(
    reynolds: Array,
    viscosity: Array,
    water_temperature: Array,
    plant_fluid_kind: Array,
    fluid_fraction: Array,
    bore: Array,
) -> Array:
    """Heat transfer from the water to the bore at the set flow, W/(m²·K)."""
    water = plant_fluid_kind, fluid_fraction, water_temperature
    return film_coefficient(
        reynolds, viscosity, fluid.specific_heat(*water), fluid.conductivity(*water), bore
    )


@quantity(
    unit="W/(m²·K)",
    title="Heat transfer from the water to the bore, open",
    symbol="α_w,o",
    formula="Nu · λ_w / {bore}, with Nu by the flow that carries {parts_open_radiated} while the "
    "water falls from {supply_temperature} to {open_return}",
    source=NUSSELT,
    missing_because="the water does not fall at the open point",
    shown=False,
)
def open_film(
    parts_open_radiated: Grouped,
    supply_temperature: Array,
    open_return: Array,
    plant_fluid_kind: Array,
    fluid_fraction: Array,
    bore: Array,
) -> Array:
    """Heat transfer from the water to the bore at the open point's flow, W/(m²·K)."""
    water = plant_fluid_kind, fluid_fraction, (supply_temperature + open_return) / 2
    specific_heat, viscosity = fluid.specific_heat(*water), fluid.viscosity(*water)
    heat, fall = parts_open_radiated.sum(), supply_temperature - open_return
    flow = np.where((heat > 0) & (fall > 0), heat / (specific_heat * fall), np.nan)
    reynolds = 4 * flow / (np.pi * bore * viscosity)
    return film_coefficient(reynolds, viscosity, specific_heat, fluid.conductivity(*water), bore)


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient by the section",
    symbol="K_S",
    formula=over_parts("section_coefficient"),
    source=f"{CONDUCTION}; {OVER_PARTS}",
)
def section_coefficient(parts_section_coefficient: Grouped, parts_own_area: Grouped) -> Array:
    """Heat flux upwards over the water's mean excess, W/(m²·K)."""
    return mean_over_parts(parts_section_coefficient, parts_own_area)


@quantity(
    unit="W/m²",
    title="Heat output by the section",
    symbol="q_S",
    formula=over_parts("section_output"),
    source=f"{FILM}; {OVER_PARTS}",
)
def section_output(parts_section_output: Grouped, parts_own_area: Grouped) -> Array:
    """Heat flux up at the set point, W/m²."""
    return mean_over_parts(parts_section_output, parts_own_area)


@quantity(
    unit="°C",
    title="Highest surface temperature by the section",
    symbol="θ_F,S",
    formula="max({parts_own_section_surface})",
    source=f"{FILM}; the highest of the loop's parts",
)
def section_surface_max(parts_own_section_surface: Grouped) -> Array:
    """Temperature of the warmest spot of the loop's floor at the open point, °C."""
    return parts_own_section_surface.largest()
