"""Friction against an independent library, a chart, and worked examples of books.

The stretch between Re 2300 and 4000 is a convention of ours and has no reference: flow is neither
laminar nor turbulent there. What a network library makes of it is in `test_water_network`.
"""

from functools import cache
from typing import NamedTuple

import fluids
import numpy as np
import pytest

from checker.physics import fluid, friction
from tests.published.figures import Figure, relative

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


FOOT, INCH, POUND, POUND_FORCE = 0.3048, 0.0254, 0.45359237, 4.4482216152605  # NIST SP 811


class Example(NamedTuple):
    """A worked example: what is given, in SI, and what the book finds, in its own digits.

    factor: Darcy; loss: Pa; figures found to so many digits are good to half of the last one.
    """

    source: str
    velocity: float
    bore: float
    density: float
    viscosity: float
    roughness: float
    length: float
    reynolds: tuple[float, float]
    factor: tuple[float, float]
    loss: tuple[float, float] | None = None


# Each finding with what the book rounds it to.
EXAMPLES = (
    Example(
        # The bore is that of 2 inch schedule 40; smooth.
        "Crane TP-410 (metric), Example 7-1, smooth plastic pipe, water of 30 °C, 200 l/min; "
        "as reported",
        0.2 / 60 / (np.pi / 4 * 0.05248**2),
        0.05248,
        995.65,
        0.7972e-3,
        0.0,
        20.0,
        (100_600, 500),  # the book reads the viscosity from a chart: 0.80 mPa·s
        (0.0179, 0.0001),
    ),
    Example(
        "Çengel and Cimbala, Fluid Mechanics, 1st ed. 2006, Example 8-2, water of 40 °F in a pipe "
        "of 0.12 in, laminar; from memory",
        3.0 * FOOT,
        0.12 * INCH,
        62.42 * POUND / FOOT**3,
        1.038e-3 * POUND / FOOT,
        0.0,
        30 * FOOT,
        (1803, 1.5),
        (0.0355, 0.00005),
        (929 * POUND_FORCE / FOOT**2, 2 * POUND_FORCE / FOOT**2),
    ),
    Example(
        "the same, Example 8-4, water of 60 °F in stainless steel of 2 in, 0.2 ft³/s; from memory",
        0.2 * FOOT**3 / (np.pi / 4 * (2 * INCH) ** 2),
        2 * INCH,
        62.36 * POUND / FOOT**3,
        7.536e-4 * POUND / FOOT,
        0.000007 * FOOT,
        200 * FOOT,
        (126_400, 100),
        (0.0174, 0.00005),
        (1700 * POUND_FORCE / FOOT**2, 10 * POUND_FORCE / FOOT**2),
    ),
    Example(
        "the same, solutions to Chapter 8, water of 15 °C in 30 m of stainless steel of 4 cm, "
        "8 l/s; from memory",
        8e-3 / (np.pi / 4 * 0.04**2),
        0.04,
        999.1,
        1.138e-3,
        2e-6,
        30.0,
        (2.236e5, 100),
        (0.0157, 0.00005),
        (239e3, 1e3),
    ),
)


class Found(NamedTuple):
    reynolds: float
    factor: float
    loss: float


def worked(example: Example) -> Found:
    reynolds = friction.reynolds(example.velocity, example.bore, example.density, example.viscosity)
    factor = friction.friction_factor(reynolds, example.roughness / example.bore)
    loss = friction.pressure_drop(
        example.length, example.bore, example.velocity, example.density, factor
    )
    return Found(float(reynolds), float(factor), float(loss))


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.source[:40])
def test_worked_example(example: Example) -> None:
    """To the digits that the book gives."""
    found = worked(example)
    assert found.reynolds == pytest.approx(example.reynolds[0], abs=example.reynolds[1])
    assert found.factor == pytest.approx(example.factor[0], abs=example.factor[1])
    if example.loss:
        assert found.loss == pytest.approx(example.loss[0], abs=example.loss[1])


@cache
def figures() -> tuple[Figure, ...]:
    bores = np.array([0.008, 0.010, 0.012, 0.016, 0.020])
    laminar, turbulent = np.geomspace(100, 2300, 15), np.geomspace(4000, 1e5, 25)
    rough = friction.ROUGHNESS / bores
    both = "general library fluids, "
    losses = [example for example in EXAMPLES if example.loss]
    return (
        relative(
            "friction factor, Re 100 to 2300",
            both + "Hagen–Poiseuille",
            friction.friction_factor(laminar, 0.0001),
            [fluids.friction_laminar(x) for x in laminar],
            1e-7,
            "the same formula",
        ),
        relative(
            "friction factor, Re 4000 to 100 000, bores 8 to 20 mm",
            both + "Colebrook to the last digit",
            friction.friction_factor(turbulent, rough[:, None]),
            [[fluids.Colebrook(x, r) for x in turbulent] for r in rough],
            1e-7,
            "the same equation",
        ),
        relative(
            "the same",
            both + "Haaland 1983",
            friction.friction_factor(turbulent, rough[:, None]),
            [[fluids.friction_factor(x, r, Method="Haaland") for x in turbulent] for r in rough],
            2.0,
            "Haaland's own statement of accuracy",
        ),
        *(
            relative(
                "friction factor of a worked example",
                example.source,
                worked(example).factor,
                example.factor[0],
                round(100 * example.factor[1] / example.factor[0], 2),
                "the digits that the book gives",
            )
            for example in EXAMPLES
        ),
        *(
            relative(
                "pressure loss of a worked example",
                example.source,
                worked(example).loss,
                example.loss[0],
                round(100 * example.loss[1] / example.loss[0], 2),
                "the digits that the book gives",
            )
            for example in losses
            if example.loss
        ),
    )
