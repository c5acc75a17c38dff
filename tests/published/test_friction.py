"""Friction against an independent library and a chart."""

import fluids
import numpy as np
import pytest

from checker.physics import fluid, friction

REYNOLDS = np.geomspace(500.0, 50_000.0, 40)


@pytest.mark.parametrize("bore", [0.008, 0.010, 0.012, 0.016, 0.020])
def test_factor_against_fluids(bore: float) -> None:
    """Library fluids: Hagen–Poiseuille, and Colebrook solved to the last digit. The stretch
    between 2300 and 4000 is a convention of ours and has no reference."""
    roughness = friction.ROUGHNESS / bore
    settled = REYNOLDS[(REYNOLDS <= 2300) | (REYNOLDS >= 4000)]
    expected = [
        fluids.friction_laminar(x) if x <= 2300 else fluids.Colebrook(x, roughness) for x in settled
    ]
    assert len(settled) > 30
    np.testing.assert_allclose(friction.friction_factor(settled, roughness), expected, rtol=1e-12)


@pytest.mark.parametrize("bore", [0.008, 0.012, 0.020])
def test_factor_against_explicit_formulas(bore: float) -> None:
    """Library fluids: Haaland 1983, good to 2 %, and Swamee–Jain 1976, good to 3 %."""
    roughness = friction.ROUGHNESS / bore
    for reynolds in (5e3, 2e4, 5e4):
        factor = friction.friction_factor(reynolds, roughness)
        for name, tolerance in (("Haaland", 0.02), ("Swamee_Jain_1976", 0.03)):
            expected = fluids.friction_factor(reynolds, roughness, Method=name)
            np.testing.assert_allclose(factor, expected, rtol=tolerance)


@pytest.mark.parametrize("bore", [0.008, 0.012, 0.020])
@pytest.mark.parametrize("velocity", [0.05, 0.4, 0.6])
def test_pressure_drop_against_fluids(bore: float, velocity: float) -> None:
    """Library fluids: one-phase pressure drop of 100 m, water of 40 °C."""
    density = float(fluid.density(fluid.WATER, np.nan, 40.0))
    viscosity = float(fluid.viscosity(fluid.WATER, np.nan, 40.0))
    reynolds = friction.reynolds(velocity, bore, density, viscosity)
    np.testing.assert_allclose(reynolds, fluids.Reynolds(velocity, bore, density, viscosity))
    assert not 2300 < reynolds < 4000
    factor = friction.friction_factor(reynolds, friction.ROUGHNESS / bore)
    expected = fluids.dP_from_K(
        fluids.K_from_f(float(factor), 100.0, bore), rho=density, V=velocity
    )
    drop = friction.pressure_drop(100.0, bore, velocity, density, factor)
    np.testing.assert_allclose(drop, expected, rtol=1e-12)


def test_smooth_pipe_against_prandtl() -> None:
    """Prandtl's law of the smooth pipe, 1/√f = 2·log10(Re·√f) − 0.8: Colebrook without roughness,
    to the rounding of 0.8 (2·log10 2.51 = 0.7993)."""
    factor = friction.friction_factor(REYNOLDS[REYNOLDS >= 4000], 0.0)
    prandtl = 2 * np.log10(REYNOLDS[REYNOLDS >= 4000] * np.sqrt(factor)) - 0.8
    np.testing.assert_allclose(1 / np.sqrt(factor), prandtl, atol=1e-3)
