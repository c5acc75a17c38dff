"""What can be computed of a pipe. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.compute.graph import Array, quantities_of
from checker.design.schema import design_format
from checker.physics import floor, leak
from checker.quantities.sources import EN_1264_2, GEOMETRY

quantity = quantities_of("pipe")

_MATERIALS = design_format().leaf("pipes", "material").options


LAYERED = "; that of a multilayer pipe depends on its metal layer, of which nothing is stated"


def _family(material: str) -> str:
    """The material that a grade of it has its figures from: PE-Xa is a PE-X."""
    return "PE-X" if material.startswith("PE-X") else material


def _by_material(table: dict[str, float]) -> Array:
    return np.array([table.get(_family(material), np.nan) for material in _MATERIALS])


_CONDUCTIVITY = _by_material(floor.PIPE_CONDUCTIVITY)
_MODULUS = _by_material({name: e.modulus for name, e in leak.ELASTICITY.items()})
_POISSON = _by_material({name: e.poisson for name, e in leak.ELASTICITY.items()})
_EXPANSION = _by_material({name: e.expansion for name, e in leak.ELASTICITY.items()})
_CREEP = _by_material({name: e.creep for name, e in leak.ELASTICITY.items()})


def _of_material(material: Array, figures: Array) -> Array:
    known = ~np.isnan(material)
    return np.where(known, figures[np.where(known, material, 0).astype(int)], np.nan)


@quantity(
    unit="mm",
    title="Bore",
    symbol="d",
    formula="{outside} − 2 · {wall}",
    source=GEOMETRY,
    fails="the wall leaves no bore",
    shown=False,
)
def bore(outside: Array, wall: Array) -> Array:
    """Inside diameter, m."""
    inside = outside - 2 * wall
    return np.where(inside > 0, inside, np.nan)


@quantity(
    unit="W/(m·K)",
    title="Conductivity of the pipe wall",
    symbol="λ_R",
    formula=("{given_conductivity}", "by the material, from table A.13"),
    source=f"{EN_1264_2} Table A.13",
    optional=("given_conductivity",),
    fails="EN 1264-2 Table A.13 has no value for this material; state the pipe's conductivity",
    shown=False,
)
def wall_conductivity(given_conductivity: Array, material: Array) -> Array:
    """As declared, else by material."""
    return np.where(
        np.isnan(given_conductivity), _of_material(material, _CONDUCTIVITY), given_conductivity
    )


@quantity(
    unit="1",
    title="Bend radius in outside diameters",
    symbol="r_b/d_a",
    formula="{bend_radius} / {outside}",
    source=GEOMETRY,
    shown=False,
)
def bend_ratio(bend_radius: Array, outside: Array) -> Array:
    """The smallest radius the pipe may be bent to, over its outside diameter."""
    return bend_radius / outside


@quantity(
    unit="1/Pa",
    title="Growth of the bore with pressure",
    symbol="C_R",
    formula=(
        "2 · (1 + ν) / E · ((1 − 2 · ν) · r² + R²) / (R² − r²), r and R the radii, E "
        "and ν by the material"
    ),
    source="Lamé's thick tube; moduli from memory",
    fails=f"the stiffness of this material is not known{LAYERED}",
    shown=False,
)
def bore_compliance(outside: Array, wall: Array, material: Array) -> Array:
    """Relative growth of the bore's volume per rise of the pressure in it, 1/Pa."""
    return leak.bore_compliance(
        outside, wall, _of_material(material, _MODULUS), _of_material(material, _POISSON)
    )


@quantity(
    unit="1/K",
    title="Growth of the bore with temperature",
    symbol="β_R",
    formula="2 · (1 + ν) · α, by the material",
    source="thermal expansion; coefficients from memory",
    fails=f"the thermal expansion of this material is not known{LAYERED}",
    shown=False,
)
def bore_expansion(material: Array) -> Array:
    """Relative growth of the bore's volume per rise of its temperature, 1/K."""
    return leak.bore_expansion(_of_material(material, _EXPANSION), _of_material(material, _POISSON))


@quantity(
    unit="1",
    title="Exponent of the modulus' fall with time",
    symbol="n",
    formula="by the material",
    source="Water UK IGN 4-01-03 for polyethylene mains; from memory",
    fails=f"the settling under pressure of this material is not known{LAYERED}",
    shown=False,
)
def creep(material: Array) -> Array:
    """n in E ~ t^-n of the pipe's material under load; 0 for a metal."""
    return _of_material(material, _CREEP)


EVERYDAY = (0.015, 0.022, 0.025, 0.026, 0.032)
"""m; everyday sizes for which no length of loop is handed down; common practice, no source."""


@quantity(
    unit="1",
    title="Whether nothing tells how long its loops may be",
    symbol="u",
    formula="is 1 for {outside} of 15, 22, 25, 26 or 32 mm without max_length, else 0",
    source="design",
    optional=("max_length",),
    shown=False,
)
def untold_length(outside: Array, max_length: Array) -> Array:
    """1 for an everyday size that has no length handed down and states none, else 0."""
    everyday = (np.abs(outside[:, None] - np.array(EVERYDAY)) < 1e-6).any(axis=1)
    found = (everyday & np.isnan(max_length)).astype(float)
    return np.where(np.isnan(outside), np.nan, found)
