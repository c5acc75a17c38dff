"""The pressure test: the signs, the elastic pipe, and the fall that is left."""

import numpy as np
import numpy.typing as npt
import pytest
from iapws import IAPWS95
from scipy.optimize import brentq

from checker.physics import fluid, leak
from checker.physics.tightness import MODULUS_SPREAD

PLASTICS = ("PB", "PP", "PE-X", "PE-RT")
METALS = ("steel", "copper")


def compliance(material: str, outside: float = 0.016, wall: float = 0.002) -> float:
    elasticity = leak.ELASTICITY[material]
    return float(leak.bore_compliance(outside, wall, elasticity.modulus, elasticity.poisson))


def expansion(material: str) -> float:
    elasticity = leak.ELASTICITY[material]
    return float(leak.bore_expansion(elasticity.expansion, elasticity.poisson))


def per_kelvin(material: str, temperature: float = 15.0) -> float:
    return float(
        leak.pressure_per_kelvin(1e-2, expansion(material), compliance(material), 0, temperature)
    )


@pytest.mark.parametrize("material", PLASTICS)
def test_warming_a_plastic_pipe_lowers_the_pressure(material: str) -> None:
    assert -1e5 < per_kelvin(material) < 0


@pytest.mark.parametrize("material", METALS)
def test_warming_a_metal_pipe_raises_the_pressure(material: str) -> None:
    assert 0 < per_kelvin(material) < 5e5


def test_compliance_of_one_pipe_by_hand() -> None:
    """16 × 2 mm, E 600 MPa, ν 0.46: 2·1.46/6e8·(0.08·36 + 64)/(64 − 36)."""
    by_hand = 2 * 1.46 / 6e8 * 66.88 / 28
    np.testing.assert_allclose(leak.bore_compliance(0.016, 0.002, 6e8, 0.46), by_hand, rtol=1e-12)


def test_thin_wall_answers_like_a_hoop() -> None:
    """Thin-walled cylinder at constant length: 2·r·(1 − ν²)/(E·s)."""
    thin = leak.bore_compliance(2.0, 1e-4, 1e9, 0.4)
    np.testing.assert_allclose(thin, 2 * (1 - 0.4**2) / (1e9 * 1e-4), rtol=1e-3)


def test_a_bore_in_endless_matter_answers_by_shear_alone() -> None:
    """Lamé, cavity in an infinite body: 1/G = 2·(1 + ν)/E, whatever ν does to the rest."""
    thick = leak.bore_compliance(2.0, 0.999, 1e9, 0.4)
    np.testing.assert_allclose(thick, 2 * 1.4 / 1e9, rtol=1e-5)


def test_no_compliance_without_bore_or_beyond_incompressible() -> None:
    assert np.isnan(leak.bore_compliance(0.016, np.array([0.0, 0.008]), 6e8, 0.46)).all()
    assert np.isnan(leak.bore_compliance(0.016, 0.002, 6e8, np.array([-0.1, 0.51]))).all()


@pytest.mark.parametrize("material", PLASTICS)
def test_holding_a_plastic_pipe_matters_little(material: str) -> None:
    free = 3 * leak.ELASTICITY[material].expansion
    np.testing.assert_allclose(expansion(material), free, rtol=0.06)


@pytest.mark.parametrize("material", [*PLASTICS, "steel"])
@pytest.mark.parametrize("warming", [-2.0, 2.0])
def test_the_mass_of_water_is_kept(material: str, warming: float) -> None:
    """IAPWS-95 density (library iapws) times the bore's volume, solved for the pressure. What is
    left is the water's expansion at the pressure of the test instead of 0.1 MPa."""
    first_pressure, first, last = 4e5 + 101_325.0, 15.0 - warming / 2, 15.0 + warming / 2
    wall = 0.002 if material != "steel" else 0.0012
    slack, growth = compliance(material, wall=wall), expansion(material)
    kept = IAPWS95(T=first + 273.15, P=first_pressure / 1e6).rho

    def surplus(pressure: float) -> float:
        volume = 1 + growth * warming + slack * (pressure - first_pressure)
        return float(IAPWS95(T=last + 273.15, P=pressure / 1e6).rho * volume - kept)

    last_pressure = brentq(surplus, 1e4, 2e6, xtol=1.0)
    slope = leak.pressure_per_kelvin(1e-2, growth, slack, 0, 15.0)
    drop = leak.corrected_drop(first_pressure, last_pressure, first, last, slope)
    assert abs(drop) < 0.015 * abs(last_pressure - first_pressure)


def test_loops_of_one_test_share_their_pressure_by_volume() -> None:
    volume = np.array([8e-3, 2e-3, 5e-3])
    growth = np.array([expansion("PE-X"), expansion("copper"), expansion("PB")])
    slack = np.array([compliance("PE-X"), compliance("copper"), compliance("PB")])
    test = np.array([0.0, 0.0, 1.0])
    both = leak.pressure_per_kelvin(volume, growth, slack, test, np.array([15.0, 15.0]))
    water, squeeze = fluid.expansion(15.0), fluid.compressibility(15.0)
    gain = 0.8 * (water - growth[0]) + 0.2 * (water - growth[1])
    give = 0.8 * (squeeze + slack[0]) + 0.2 * (squeeze + slack[1])
    np.testing.assert_allclose(both, [gain / give, per_kelvin("PB")], rtol=1e-12)


def test_a_missing_number_takes_only_its_own_test() -> None:
    test, temperature = np.array([0.0, 0.0, 1.0]), np.array([15.0, 15.0, 15.0])
    volume = np.array([8e-3, np.nan, 5e-3])
    slopes = leak.pressure_per_kelvin(volume, 5e-4, 1e-8, test, temperature)
    np.testing.assert_array_equal(np.isnan(slopes), [True, False, True])
    slopes = leak.pressure_per_kelvin(np.full(3, 5e-3), 5e-4, 1e-8, test, [np.nan, 15.0])  # type: ignore[arg-type]
    np.testing.assert_array_equal(np.isnan(slopes), [True, False])


def test_what_temperature_explains_is_no_loss() -> None:
    """−30 kPa/K over +1 K explains 30 of the 50 kPa that are gone; over −1 K it hides 30 more."""
    drops = leak.corrected_drop(4e5, 3.5e5, 17.0, np.array([17.0, 18.0, 16.0]), -3e4)
    np.testing.assert_allclose(drops, [5e4, 2e4, 8e4])


def test_air_follows_the_absolute_temperature() -> None:
    """Ideal gas: 300 K to 303 K lifts 4 bar absolute by 1 %."""
    first = 4e5 - leak.ATMOSPHERE
    drops = leak.corrected_drop_air(first, first, 26.85, np.array([26.85, 29.85, 23.85]))
    np.testing.assert_allclose(drops, [0.0, 4e3, -4e3], atol=1e-6)


def test_no_verdict_without_temperatures() -> None:
    missing = np.array([np.nan, 17.0])
    assert np.isnan(leak.corrected_drop(4e5, 3.9e5, missing, missing[::-1], -3e4)).all()
    assert np.isnan(leak.corrected_drop_air(3e5, 2.9e5, missing, missing[::-1])).all()


def three_shells(outside: float, wall: float, metal: float) -> float:
    """Relative growth of the bore's volume per pascal, of plastic, metal in the middle, plastic.

    In each shell u = A·r + B/r (Lamé, plane strain); displacement and radial stress go on from one
    to the next. S. Timoshenko and J. N. Goodier, Theory of Elasticity; from memory.
    """
    inner, outer = outside / 2 - wall, outside / 2
    middle = (inner + outer) / 2
    radii = (inner, middle - metal / 2, middle + metal / 2, outer)
    shells = (leak.ELASTICITY["PE-RT"], leak.METAL, leak.ELASTICITY["PE-RT"])
    equations, right = np.zeros((6, 6)), np.array([-1.0, 0, 0, 0, 0, 0])

    def moved(radius: float, shell: int) -> npt.NDArray[np.float64]:
        row = np.zeros(6)
        row[2 * shell : 2 * shell + 2] = radius, 1 / radius
        return row

    def stressed(radius: float, shell: int) -> npt.NDArray[np.float64]:
        own, row = shells[shell], np.zeros(6)
        shear = own.modulus / (2 * (1 + own.poisson))
        other = own.modulus * own.poisson / ((1 + own.poisson) * (1 - 2 * own.poisson))
        row[2 * shell : 2 * shell + 2] = 2 * (other + shear), -2 * shear / radius**2
        return row

    equations[0], equations[5] = stressed(radii[0], 0), stressed(radii[3], 2)
    for shell in (0, 1):
        meets = radii[shell + 1]
        equations[2 * shell + 1] = moved(meets, shell) - moved(meets, shell + 1)
        equations[2 * shell + 2] = stressed(meets, shell) - stressed(meets, shell + 1)
    scale = np.abs(equations).max(axis=1)
    found = np.linalg.solve(equations / scale[:, None], right / scale)
    return float(2 * (moved(inner, 0) @ found) / inner)


@pytest.mark.parametrize("outside", [0.014, 0.016, 0.020, 0.026])
@pytest.mark.parametrize("metal", [0.15e-3, 0.2e-3, 0.3e-3, 0.5e-3])
def test_a_layered_wall_is_as_stiff_as_its_shells_to_the_stated_spread(
    outside: float, metal: float
) -> None:
    modulus, poisson, expansion, creep = leak.layered(np.array([metal]), np.array([2e-3]))
    ours = float(leak.bore_compliance(outside, 2e-3, modulus, poisson)[0])
    softest = ours / (1 - MODULUS_SPREAD)
    assert ours < three_shells(outside, 2e-3, metal) < softest
    assert leak.METAL.expansion < expansion[0] < leak.ELASTICITY["PE-RT"].expansion / 3
    assert 0 < creep[0] < leak.ELASTICITY["PE-RT"].creep / 5


def test_metal_as_thick_as_the_wall_is_no_layer() -> None:
    assert np.isnan(leak.layered(np.array([2e-3, 3e-3, 0.0]), np.full(3, 2e-3))[0]).all()


def test_plastic_softens_when_warm_and_metal_does_not() -> None:
    """From 20 to 60 °C PE 100 keeps some 650 of 1,100 MPa (from memory): 1.69 times the growth."""
    assert leak.softened(1e-8, 0.08, 60.0) == pytest.approx(1e-8 * 1100 / 650, rel=0.02)
    assert leak.softened(1e-8, 0.0, 60.0) == 1e-8
    # A wall whose plastic carries half of the load softens by the root of that.
    assert leak.softened(1e-8, 0.04, 60.0) == pytest.approx(1e-8 * (1100 / 650) ** 0.5, rel=0.02)
