"""What can be computed of a pipe. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.registry import quantities_of
from checker.design.schema import design_format
from checker.physics import en_1264, leak
from checker.quantities.sources import EN_1264_2, GEOMETRY

quantity = quantities_of("pipe")

_MATERIALS = design_format().leaf("pipes", "material").options


MULTILAYER = float(design_format().code("pipes", "material", "multilayer"))
BY_METAL = {"metal": ("material", (MULTILAYER,))}
"""A metal layer counts only in a multilayer pipe."""


PLASTIC = [
    design_format().code("pipes", "material", name)
    for name in ("PE-X", "PE-Xa", "PE-Xb", "PE-Xc", "PE-RT", "PB", "PP")
]


def _family(material: str) -> str:
    """The material whose figures a grade of it has: PE-Xa is a PE-X."""
    return "PE-X" if material.startswith("PE-X") else material


def _by_material(table: dict[str, float]) -> Array:
    return np.array([table.get(_family(material), np.nan) for material in _MATERIALS])


_CONDUCTIVITY = _by_material(en_1264.PIPE_CONDUCTIVITY)
_UNTABLED = tuple(np.flatnonzero(np.isnan(_CONDUCTIVITY)).astype(float).tolist())
"""Materials without a conductivity in the table."""
_ELASTIC = tuple(
    _by_material({name: getattr(e, part) for name, e in leak.ELASTICITY.items()})
    for part in ("modulus", "poisson", "expansion", "creep")
)
"""Modulus, Poisson's ratio, expansion and creep exponent by material."""


def _of_material(material: Array, figures: Array) -> Array:
    known = ~np.isnan(material)
    return np.where(known, figures[np.where(known, material, 0).astype(int)], np.nan)


@quantity(
    unit="mm",
    title="Bore",
    symbol="d",
    formula="{outside} − 2 · {wall}",
    source=GEOMETRY,
    missing_because="the wall leaves no bore",
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
    needed_when={"given_conductivity": ("material", _UNTABLED)},
    missing_because="EN 1264-2 Table A.13 has no value for this material; state the pipe's "
    "conductivity",
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
    """The smallest bend radius of the pipe, over its outside diameter."""
    return bend_radius / outside


def _elastic(material: Array, wall: Array, metal: Array) -> tuple[Array, ...]:
    """Modulus, Poisson's ratio, expansion and creep exponent of each pipe."""
    alike = (_of_material(material, figures) for figures in _ELASTIC)
    layered = leak.layered(metal, wall)
    of_layers = material == MULTILAYER
    return tuple(
        np.where(of_layers, layers, one) for one, layers in zip(alike, layered, strict=True)
    )


@quantity(
    unit="1/Pa",
    title="Growth of the bore with pressure",
    symbol="C_R",
    formula=(
        "2 · (1 + ν) / E · ((1 − 2 · ν) · r² + R²) / (R² − r²), r and R the radii, E "
        "and ν by the material, in a multilayer pipe by {metal} of {wall}"
    ),
    source="Lamé's thick tube; moduli from memory",
    needed_when=BY_METAL,
    missing_because="the stiffness of this material is not known, or the metal is thicker than the "
    "wall",
    shown=False,
)
def bore_compliance(outside: Array, wall: Array, material: Array, metal: Array) -> Array:
    """Relative growth of the bore's volume per rise of the pressure in it, 1/Pa."""
    modulus, poisson, _, _ = _elastic(material, wall, metal)
    return leak.bore_compliance(outside, wall, modulus, poisson)


@quantity(
    unit="1/K",
    title="Growth of the bore with temperature",
    symbol="β_R",
    formula="2 · (1 + ν) · α, by the material, in a multilayer pipe by {metal} of {wall}",
    source="thermal expansion; coefficients from memory",
    needed_when={**BY_METAL, "wall": ("material", (MULTILAYER,))},
    missing_because="the thermal expansion of this material is not known",
    shown=False,
)
def bore_expansion(material: Array, wall: Array, metal: Array) -> Array:
    """Relative growth of the bore's volume per rise of its temperature, 1/K."""
    _, poisson, expansion, _ = _elastic(material, wall, metal)
    return leak.bore_expansion(expansion, poisson)


@quantity(
    unit="1",
    title="Exponent of the modulus' fall with time",
    symbol="n",
    formula="by the material, in a multilayer pipe by {metal} of {wall}",
    source="Water UK IGN 4-01-03 for polyethylene mains; from memory",
    needed_when={**BY_METAL, "wall": ("material", (MULTILAYER,))},
    missing_because="the settling under pressure of this material is not known",
    shown=False,
)
def creep(material: Array, wall: Array, metal: Array) -> Array:
    """n in E ~ t^-n of the pipe's material under load; 0 for a metal."""
    return _elastic(material, wall, metal)[3]


EVERYDAY = (0.015, 0.022, 0.025, 0.026, 0.032)
"""m; everyday sizes without a usual longest length of loop; common practice, no source."""


@quantity(
    unit="1",
    title="Whether its loops have a longest length, stated or usual for the size",
    symbol="u",
    formula="is 0 for {outside} of 15, 22, 25, 26 or 32 mm without max_length, else 1",
    source="design",
    optional=("max_length",),
    shown=False,
)
def has_length_limit(outside: Array, max_length: Array) -> Array:
    """0 for an everyday size without a usual longest length that states none either, else 1."""
    everyday = (np.abs(outside[:, None] - np.array(EVERYDAY)) < 1e-6).any(axis=1)
    limited = np.where(everyday & np.isnan(max_length), 0.0, 1.0)
    return np.where(np.isnan(outside), np.nan, limited)


@quantity(
    unit="1",
    title="Outside over wall of a pipe of plastic",
    symbol="d_a/s",
    formula="{outside} / {wall}, of a pipe all of plastic",
    source=GEOMETRY,
    optional=("material", "outside", "wall"),
    shown=False,
)
def plastic_ratio(material: Array, outside: Array, wall: Array) -> Array:
    """Outside diameter over wall, as pipe series are called; missing for other pipes."""
    return np.where(np.isin(material, PLASTIC) & (wall > 0), outside / wall, np.nan)
