"""Water against the formulations of the IAPWS."""

from functools import cache

import numpy as np
import pytest
from iapws import IAPWS95, IAPWS97

from checker.physics import fluid
from tests.published.figures import Figure, absolute, relative

# IAPWS-95 (R6-95) and viscosity R12-08, liquid at 0.101325 MPa; IAPWS-IF97 (R7-97) agrees within
# the last digit but one of c_p: °C, kg/m³, kJ/(kg·K), mPa·s.
TABLE = np.array(
    [
        (10, 999.70, 4.1952, 1.3059),
        (20, 998.21, 4.1841, 1.0016),
        (25, 997.05, 4.1813, 0.8900),
        (30, 995.65, 4.1798, 0.7972),
        (35, 994.03, 4.1793, 0.7191),
        (40, 992.22, 4.1794, 0.6527),
        (45, 990.21, 4.1801, 0.5958),
        (50, 988.04, 4.1813, 0.5465),
        (55, 985.69, 4.1830, 0.5036),
        (60, 983.20, 4.1850, 0.4660),
    ]
)


def test_table_to_its_last_digit() -> None:
    celsius, density, specific_heat, viscosity = TABLE.T
    computed = fluid.density(fluid.WATER, np.nan, celsius)
    np.testing.assert_allclose(computed, density, atol=0.006)
    computed = fluid.specific_heat(fluid.WATER, np.nan, celsius)
    np.testing.assert_allclose(computed, 1e3 * specific_heat, atol=0.2)
    computed = fluid.viscosity(fluid.WATER, np.nan, celsius)
    np.testing.assert_allclose(computed, 1e-3 * viscosity, atol=1e-7)


# Worst relative differences seen, 5 to 70 °C. At 0.3 MPa they are the effect of the pressure.
#                        density  c_p     viscosity
DIFFERENCES = {
    (IAPWS95, 0.101325): (7e-7, 3.5e-5, 3e-5),
    (IAPWS97, 0.101325): (1.6e-5, 5.2e-4, 3e-5),
    (IAPWS95, 0.3): (1e-4, 1.9e-4, 2.1e-4),
    (IAPWS97, 0.3): (1.1e-4, 6.2e-4, 2.1e-4),
}


@pytest.mark.parametrize(("formulation", "pressure"), DIFFERENCES)
def test_heating_range_against_iapws(formulation: type[IAPWS95], pressure: float) -> None:
    """Library iapws, 5 to 70 °C."""
    celsius = np.linspace(5.0, 70.0, 14)
    states = [formulation(T=temperature + 273.15, P=pressure) for temperature in celsius]
    density, specific_heat, viscosity = DIFFERENCES[formulation, pressure]
    np.testing.assert_allclose(
        fluid.density(fluid.WATER, np.nan, celsius),
        [state.rho for state in states],
        rtol=density,
    )
    np.testing.assert_allclose(
        fluid.specific_heat(fluid.WATER, np.nan, celsius),
        [1e3 * state.cp for state in states],
        rtol=specific_heat,
    )
    np.testing.assert_allclose(
        fluid.viscosity(fluid.WATER, np.nan, celsius),
        [state.mu for state in states],
        rtol=viscosity,
    )


def test_expansion_and_compressibility_against_iapws_95() -> None:
    """Library iapws; expansion within 2e-8 1/K, compressibility within 1e-5 of itself."""
    celsius = np.linspace(1.0, 70.0, 15)
    states = [IAPWS95(T=temperature + 273.15, P=0.1) for temperature in celsius]
    expansion = [state.alfav for state in states]
    np.testing.assert_allclose(fluid.expansion(celsius), expansion, rtol=0, atol=2e-8)
    compressibility = [state.kappa / 1e6 for state in states]
    np.testing.assert_allclose(fluid.compressibility(celsius), compressibility, rtol=1e-5)


def test_water_is_densest_at_4_degrees() -> None:
    """Temperature of maximum density at 0.1 MPa: 3.98 °C (IAPWS-95)."""
    before, after = fluid.expansion(np.array([3.96, 4.0]))
    assert before < 0 < after


PROPERTIES = {
    "density": (fluid.density, "rho", 1.0),
    "specific heat": (fluid.specific_heat, "cp", 1e3),
    "viscosity": (fluid.viscosity, "mu", 1.0),
}
"""Ours; theirs, and its unit in ours."""

# At 0.3 MPa the differences are the effect of the pressure, which the program leaves out.
ALLOWED = {
    ("IAPWS-95", 0.101325): (1e-4, 5e-3, 5e-3),
    ("IAPWS-95", 0.3): (0.015, 0.025, 0.025),
    ("IAPWS-IF97", 0.101325): (2e-3, 0.06, 5e-3),
}
WHY = {
    ("IAPWS-95", 0.101325): "IAPWS SR6-08 is fitted to it at 0.1 MPa, and says so closely",
    ("IAPWS-95", 0.3): "a heating system's 0.3 MPa, which we leave out",
    ("IAPWS-IF97", 0.101325): "the industrial formulation's own distance from IAPWS-95",
}


@cache
def figures() -> tuple[Figure, ...]:
    celsius = np.linspace(5.0, 70.0, 14)
    formulations = {"IAPWS-95": IAPWS95, "IAPWS-IF97": IAPWS97}
    found = []
    for (name, pressure), ends in ALLOWED.items():
        states = [formulations[name](T=t + 273.15, P=pressure) for t in celsius]
        for (what, (ours, theirs, unit)), end in zip(PROPERTIES.items(), ends, strict=True):
            found.append(
                relative(
                    f"{what}, 5 to 70 °C",
                    f"{name} at {pressure} MPa (library iapws)",
                    ours(fluid.WATER, np.nan, celsius),
                    [unit * getattr(state, theirs) for state in states],
                    end,
                    WHY[name, pressure],
                )
            )
    states = [IAPWS95(T=t + 273.15, P=0.1) for t in celsius]
    found.append(
        absolute(
            "thermal expansion, 5 to 70 °C",
            "IAPWS-95 at 0.1 MPa (library iapws)",
            1e6 * fluid.expansion(celsius),
            [1e6 * state.alfav for state in states],
            "10⁻⁶/K",
            0.02,
            "a slope of the same fit",
        )
    )
    found.append(
        relative(
            "compressibility, 5 to 70 °C",
            "IAPWS-95 at 0.1 MPa (library iapws)",
            fluid.compressibility(celsius),
            [state.kappa / 1e6 for state in states],
            1e-3,
            "a slope of the same fit",
        )
    )
    return tuple(found)


def test_conductivity_against_the_library() -> None:
    """Library iapws, SR6-08 as it has it and IAPWS-95 with R15-11: within 0.1 and 0.6 %."""
    celsius = np.array([10.0, 25.0, 40.0, 60.0])
    computed = fluid.conductivity(fluid.WATER, np.nan, celsius)
    full = [IAPWS95(T=temperature + 273.15, P=0.101325).k for temperature in celsius]
    np.testing.assert_allclose(computed, full, rtol=6e-3)
    np.testing.assert_allclose(computed[1], 0.6065, rtol=2e-3)
