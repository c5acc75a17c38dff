"""Heating water: glycol mixtures against an independent program, and the ranges."""

from collections.abc import Callable

import numpy as np
import pytest

from checker.arrays import Array
from checker.physics import fluid

NAMES = {fluid.PROPYLENE_GLYCOL: "MPG", fluid.ETHYLENE_GLYCOL: "MEG"}
"""Melinder's mixtures as CoolProp calls them; letters below are its properties."""
PROPERTIES: dict[Callable[..., Array], str] = {
    fluid.density: "D",
    fluid.specific_heat: "C",
    fluid.viscosity: "V",
}


def coolprop(letter: str, name: str, fraction: float, celsius: float) -> float:
    from CoolProp.CoolProp import PropsSI  # 3 s, which every worker would wait for at its start

    fluid_name = f"INCOMP::{name}[{fraction}]"
    return float(PropsSI(letter, "T", celsius + 273.15, "P", 3e5, fluid_name))


@pytest.mark.parametrize("kind", NAMES)
@pytest.mark.parametrize("fraction", [0.0, 0.1, 0.25, 0.4, 0.6])
def test_glycol_agrees_with_coolprop(kind: int, fraction: float) -> None:
    """CoolProp, its own port of Melinder 2010: density and specific heat to 1e-12, viscosity to
    1e-6 (it rounds ln 1000). Both have the same source, so this shows that its coefficients are
    copied without a slip, not that they are right."""
    celsius = np.linspace(1.0, 99.0, 8)
    for function, letter in PROPERTIES.items():
        expected = [coolprop(letter, NAMES[kind], fraction, one) for one in celsius]
        tolerance = 1e-6 if function is fluid.viscosity else 1e-12
        np.testing.assert_allclose(function(kind, fraction, celsius), expected, rtol=tolerance)


@pytest.mark.parametrize("kind", NAMES)
def test_freezing_point_agrees_with_coolprop(kind: int) -> None:
    fractions = np.linspace(0.05, 0.6, 12)
    expected = [
        coolprop("T_freeze", NAMES[kind], fraction, 30.0) - 273.15 for fraction in fractions
    ]
    np.testing.assert_allclose(fluid.freezing_point(kind, fractions), expected, atol=1e-9)


ASHRAE = {
    fluid.PROPYLENE_GLYCOL: ("APG", (0.007, 0.003, 0.055)),
    fluid.ETHYLENE_GLYCOL: ("AEG", (0.012, 0.022, 0.076)),
}
"""CoolProp's name of the tables, and how far they are off Melinder's density, specific heat and
viscosity: the largest relative difference seen, since neither is the truth."""


@pytest.mark.parametrize("kind", ASHRAE)
@pytest.mark.parametrize("fraction", [0.1, 0.2, 0.3, 0.4, 0.5])
def test_glycol_is_near_other_tables(kind: int, fraction: float) -> None:
    """ASHRAE Handbook, Fundamentals, 2001, tables of aqueous glycols as fitted in CoolProp: other
    measurements than Melinder's, 20 to 60 °C."""
    name, tolerances = ASHRAE[kind]
    celsius = np.linspace(20.0, 60.0, 9)
    for (function, letter), tolerance in zip(PROPERTIES.items(), tolerances, strict=True):
        expected = [coolprop(letter, name, fraction, one) for one in celsius]
        np.testing.assert_allclose(function(kind, fraction, celsius), expected, rtol=tolerance)


@pytest.mark.parametrize("kind", NAMES)
def test_glycol_without_glycol_is_water(kind: int) -> None:
    """Melinder 2010 at mass fraction 0 against IAPWS SR6-08: two independent correlations, as far
    apart as they are seen to be."""
    celsius = np.linspace(5.0, 90.0, 18)
    for function, tolerance in (
        (fluid.density, 1e-3),
        (fluid.specific_heat, 1.5e-3),
        (fluid.viscosity, 1.7e-2),
    ):
        water = function(fluid.WATER, np.nan, celsius)
        np.testing.assert_allclose(function(kind, 0.0, celsius), water, rtol=tolerance)


def test_kinds_mix_in_one_column_and_water_needs_no_fraction() -> None:
    kind = np.array([fluid.WATER, fluid.PROPYLENE_GLYCOL, fluid.ETHYLENE_GLYCOL, np.nan, 7])
    column = fluid.density(kind, np.array([np.nan, 0.25, 0.25, 0.25, 0.25]), 35.0)
    assert column[0] == fluid.density(fluid.WATER, 0.0, 35.0)
    assert column[1] == fluid.density(fluid.PROPYLENE_GLYCOL, 0.25, 35.0)
    assert column[2] == fluid.density(fluid.ETHYLENE_GLYCOL, 0.25, 35.0)
    assert column[0] < column[1] < column[2]
    assert np.isnan(column[3:]).all()


@pytest.mark.parametrize("function", PROPERTIES)
def test_nothing_outside_the_range(function: Callable[..., Array]) -> None:
    water = function(fluid.WATER, np.nan, np.array([-0.1, 0.0, 100.0, 100.1]))
    np.testing.assert_array_equal(np.isfinite(water), [False, True, True, False])
    hot = function(fluid.PROPYLENE_GLYCOL, 0.3, np.array([100.0, 100.1]))
    np.testing.assert_array_equal(np.isfinite(hot), [True, False])
    fractions = function(fluid.PROPYLENE_GLYCOL, np.array([-0.01, 0.6, 0.61]), 40.0)
    np.testing.assert_array_equal(np.isfinite(fractions), [False, True, False])


@pytest.mark.parametrize("kind", NAMES)
def test_nothing_below_the_freezing_point(kind: int) -> None:
    freezing = fluid.freezing_point(kind, 0.3)
    for function in (*PROPERTIES, fluid.conductivity):
        around = function(kind, 0.3, freezing + np.array([-0.01, 0.01]))
        np.testing.assert_array_equal(np.isfinite(around), [False, True])


def test_water_has_no_freezing_point_here() -> None:
    assert np.isnan(fluid.freezing_point(fluid.WATER, 0.3))
