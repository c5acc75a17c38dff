"""Pressure tests: what a change of temperature does to the pressure of closed, filled pipes.

Warmed from the cold of a building site, a pipe of plastic makes more room than its water needs, so
the pressure falls; a pipe of metal makes less, so it rises. The pipe is taken as elastic and held
along its length (it is fixed to the floor, and its bends leave it no way to grow). Left out here:
creep, which lets the pressure of a plastic pipe fall for hours after it is first filled and makes
the pipe yield more to slow changes, and trapped air, which yields too. So the change per kelvin
computed here is the largest to be expected; `checker.physics.tightness` reckons with both.
"""

import numpy as np
from msgspec import Struct

from checker.arrays import Array
from checker.physics import fluid
from checker.physics.arrays import Numbers, elementwise, positive, within

# Standard atmosphere, ISO 2533.
ATMOSPHERE = 101_325.0  # Pa


class Elasticity(Struct, frozen=True):
    """How a pipe material stretches and expands at room temperature."""

    modulus: float  # Young's, short-term, Pa
    poisson: float
    expansion: float  # linear, 1/K
    creep: float = 0.0  # exponent n of the modulus' fall with the time under load, E ~ t^-n


# All from memory. The moduli of the plastics vary by a third with grade, temperature and duration
# of load, their expansions by a third from one trade table to the next (PE-X 0.15 to 0.20 mm/(m·K),
# as reported). A multilayer pipe has no entry: its metal carries nearly all of the pressure, and
# `layered` has the modulus of the whole wall from that layer's thickness. The exponent is that of
# polyethylene mains without constraint, 0.08 to 0.10 (Water UK, Information and Guidance Note
# 4-01-03, test type II; the figures from memory), taken for all plastics.
ELASTICITY = {
    "PB": Elasticity(modulus=450e6, poisson=0.46, expansion=1.3e-4, creep=0.08),
    "PP": Elasticity(modulus=850e6, poisson=0.42, expansion=1.5e-4, creep=0.08),
    "PE-X": Elasticity(modulus=650e6, poisson=0.46, expansion=1.5e-4, creep=0.08),
    "PE-RT": Elasticity(modulus=600e6, poisson=0.46, expansion=1.8e-4, creep=0.08),
    "steel": Elasticity(modulus=210e9, poisson=0.30, expansion=1.2e-5),
    "copper": Elasticity(modulus=120e9, poisson=0.34, expansion=1.7e-5),
}

METAL = Elasticity(modulus=70e9, poisson=0.33, expansion=2.3e-5)
"""For the aluminium in a multilayer pipe; from memory."""
LINING = ELASTICITY["PE-RT"]
"""For the plastic on both sides of it."""

SOFTENS = 0.013
"""1/K by which the modulus of polyethylenes falls near room temperature; from memory (of PE 100,
some 1,100 MPa at 20 °C and 650 at 60 °C), taken for all plastics."""
ROOM_TEMPERATURE = 20.0
"""°C that the moduli are for."""


def layered(metal: Array, wall: Array) -> tuple[Array, Array, Array, Array]:
    """How the wall of a multilayer pipe stretches and grows, as if it were of one material.

    Only the plastic's share of the load creeps. Three shells solved one by one yield 10 to 40 %
    more to pressure, which the spread of the modulus (`tightness.MODULUS_SPREAD`) covers.

    Args:
        metal: thickness of the metal layer, m, shape (n,).
        wall: thickness of the whole wall, m, shape (n,).

    Returns:
        Modulus (Pa), Poisson's ratio, expansion (1/K) and creep exponent, each of shape (n,); NaN
        where the metal is not thinner than the wall.

    Source:
        Layers that stretch together share the load by their stiffness (rule of mixtures, W. Voigt
        1889; from memory): E = Σ f·E, and what else each brings counts by f·E.
    """
    share = np.where((metal > 0) & (metal < wall), metal / wall, np.nan)
    stiff, soft = share * METAL.modulus, (1 - share) * LINING.modulus
    whole = stiff + soft

    def shared(of_metal: float, of_lining: float) -> Array:
        return np.asarray((stiff * of_metal + soft * of_lining) / whole)

    return (
        whole,
        shared(METAL.poisson, LINING.poisson),
        shared(METAL.expansion, LINING.expansion),
        shared(METAL.creep, LINING.creep),
    )


@elementwise
def bore_compliance(outside: Numbers, wall: Numbers, modulus: Numbers, poisson: Numbers) -> Numbers:
    """Relative growth of the bore's volume per rise of the pressure in it.

    Shapes broadcast.

    Args:
        outside: diameter, m.
        wall: m.
        modulus: Young's, Pa.
        poisson: Poisson's ratio, 0 to 0.5.

    Returns:
        1/Pa.

    Source:
        Lamé's thick-walled cylinder at constant length (plane strain), S. Timoshenko and J. N.
        Goodier, Theory of Elasticity; from memory, and derived: 2·(1 + ν)/E·((1 − 2ν)·r² + R²)/(R²
        − r²), r and R the inner and outer radius.
    """
    outer = positive(outside) / 2
    inner = positive(outer - positive(wall))
    poisson = within(poisson, (0.0, 0.5))
    shape = ((1 - 2 * poisson) * inner**2 + outer**2) / (outer**2 - inner**2)
    return 2 * (1 + poisson) / positive(modulus) * shape


@elementwise
def softened(compliance: Numbers, creep: Numbers, temperature: Numbers) -> Numbers:
    """The growth of a bore with pressure at another temperature than the moduli are for.

    Shapes broadcast.

    Args:
        compliance: at ROOM_TEMPERATURE, 1/Pa.
        creep: exponent of the wall's modulus; its share of the plastic's own is the share of the
            load that plastic carries.
        temperature: °C.

    Returns:
        1/Pa.

    Source:
        SOFTENS.
    """
    share = creep / LINING.creep
    return compliance * np.exp(SOFTENS * share * (temperature - ROOM_TEMPERATURE))


@elementwise
def bore_expansion(expansion: Numbers, poisson: Numbers) -> Numbers:
    """Relative growth of the bore's volume per rise of the pipe's temperature.

    Shapes broadcast.

    Args:
        expansion: linear, 1/K.
        poisson: Poisson's ratio, 0 to 0.5.

    Returns:
        1/K.

    Source:
        2·(1 + ν)·α, derived: what the held pipe may not grow in length goes sideways. A pipe free
        to move would give 3·α, at most 3 % more for a plastic (ν about 0.46).
    """
    return 2 * (1 + within(poisson, (0.0, 0.5))) * expansion


@elementwise
def pressure_per_kelvin(
    volume: Numbers,
    bore_expansion: Numbers,
    bore_compliance: Numbers,
    test: Numbers,
    temperature: Numbers,
) -> Numbers:
    """Change of pressure in closed, water-filled pipes for each kelvin of warming.

    Loops that share a header share its pressure, so their volumes add.

    Args:
        volume: m³, shape (loops,).
        bore_expansion: 1/K, shape (loops,).
        bore_compliance: 1/Pa, shape (loops,).
        test: of each loop, position of its test in `temperature`, shape (loops,).
        temperature: mean of the readings, °C, shape (tests,).

    Returns:
        Pa/K, shape (tests,), below 0 where the pipes make more room than the water needs; NaN for a
        test without loops.

    Source:
        Derived: ΣV·(β_w − β_pipe)/ΣV·(κ_w + C_pipe); water by IAPWS SR6-08(2011).
    """
    means = np.atleast_1d(temperature)
    position = np.atleast_1d(test).astype(np.int64)
    celsius = means[position]
    gain = volume * (fluid.expansion(celsius) - bore_expansion)
    give = volume * (fluid.compressibility(celsius) + bore_compliance)
    total = np.bincount(position, gain, len(means)) / np.bincount(position, give, len(means))
    return np.asarray(total.reshape(np.shape(temperature)))


@elementwise
def corrected_drop(
    first_pressure: Numbers,
    last_pressure: Numbers,
    first_temperature: Numbers,
    last_temperature: Numbers,
    pressure_per_kelvin: Numbers,
) -> Numbers:
    """What is left of a water test's fall in pressure without the change of temperature.

    Shapes broadcast.

    Args:
        first_pressure: Pa, gauge or absolute as `last_pressure`.
        last_pressure: Pa.
        first_temperature: °C.
        last_temperature: °C.
        pressure_per_kelvin: Pa/K.

    Returns:
        Pa, above 0 for a loss; NaN without temperatures.

    Source:
        p₁ + dp/dT·(T₂ − T₁) − p₂.
    """
    expected = first_pressure + pressure_per_kelvin * (last_temperature - first_temperature)
    return expected - last_pressure


@elementwise
def corrected_drop_air(
    first_pressure: Numbers,
    last_pressure: Numbers,
    first_temperature: Numbers,
    last_temperature: Numbers,
) -> Numbers:
    """What is left of an air test's fall in pressure without the change of temperature.

    Shapes broadcast.

    Args:
        first_pressure: gauge, Pa.
        last_pressure: gauge, Pa.
        first_temperature: °C.
        last_temperature: °C.

    Returns:
        Pa, above 0 for a loss; NaN without temperatures.

    Source:
        Ideal gas in a constant volume: the absolute pressure follows the absolute temperature.
    """
    warmer = (last_temperature + fluid.ZERO_CELSIUS) / (first_temperature + fluid.ZERO_CELSIUS)
    return (first_pressure + ATMOSPHERE) * warmer - (last_pressure + ATMOSPHERE)
