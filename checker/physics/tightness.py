"""Pressure tests: how closed pipes answer, with limits, priors, and how long to hold a test.

What the readings make of it is `checker.physics.leak_fit`, where the model stands.
"""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from checker.physics import fluid
from checker.physics.arrays import Numbers, elementwise, positive
from checker.physics.leak import ATMOSPHERE

Positions: TypeAlias = NDArray[np.int64]

COVERAGE = 2.0
"""Standard uncertainties on either side of an answer, about 95 %; JCGM 100:2008, 6.3."""
SURE = 2.4
"""The same for what must be sure, about 98 %, and that for whichever share of air and kind of hole
leaves the least."""

ALLOWED_FALL = 20e3 / 3600
"""Pa/s. EN 805:2000, 11.3.3.4, pressure loss method: 20 kPa in the hour; from memory."""
ALLOWED_LOSS = 1e-3 / (7 * 86400)
"""m³/s, the most that a buried pipe may lose and count as tight: a litre in a week, 52 l in a year.
Ours: no source states a loss for pipe under screed, and EN 805's lets 100 to 400 l a year pass."""
SHORT_TERM = 60.0
"""s for which the short-term modulus holds; from memory."""
IN_SERVICE = 1440.0
"""Times longer than before a site test that pipes have stood under pressure which heat a house:
days to years; no source."""

MODULUS_SPREAD = 1 / 3
"""Half-width of the pipe's modulus, as a share of it; see `leak.ELASTICITY`."""
EXPANSION_SPREAD = 1 / 3
"""Half-width of the pipe's thermal growth, as a share of it; see `leak.ELASTICITY`."""
SETTLING_SPREAD = 0.6
"""Half-width of the settling, as a share of it: n from 0.03 to 0.13; from memory."""
MOST_AIR = 0.002
"""Share of the bore that air may fill in a water test, from none to this, at the pressure of the
test; purged until the stream carries no bubbles: common practice, no source."""
THERMOMETER_SPREAD = 1 / 5
"""Half-width of what a thermometer at the pipe misses of the water's change; no source."""
STOOD = 60.0 * np.array([1.0, 5.0, 25.0, 125.0, 625.0])
"""Times under pressure before the first reading, s; no source."""

HOLDS = 3600.0 * np.array([0.5, 1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24, 36, 48, 72])
"""Lengths of test that may be recommended, s."""
FEWEST = 4.0
"""Readings of a recommended test: enough to tell settling from a leak."""
HALF_WIDTH = np.sqrt(3.0)
"""An even distribution's half-width over its standard uncertainty; JCGM 100:2008, 4.3.7."""


@elementwise
def filling_give(air: Numbers, pressure: Numbers, temperature: Numbers) -> Numbers:
    """Share of its volume that what fills the pipes, without trapped air, frees per pascal.

    Shapes broadcast.

    Args:
        air: 1 where the test is made with air, which the leak itself then takes; 0 with water.
        pressure: gauge, at the first reading, Pa.
        temperature: °C.

    Returns:
        1/Pa.

    Source:
        Water: IAPWS SR6-08(2011); air: ideal gas, isothermal, 1/p.
    """
    gas = 1 / positive(pressure + ATMOSPHERE)
    return np.where(air == 1, gas, fluid.compressibility(temperature))


@elementwise
def filling_expansion(air: Numbers, temperature: Numbers) -> Numbers:
    """Relative growth of what fills the pipes, per kelvin.

    Shapes broadcast.

    Args:
        air: 1 where the test is made with air, 0 with water.
        temperature: °C.

    Returns:
        1/K.

    Source:
        Water: IAPWS SR6-08(2011); air: ideal gas.
    """
    return np.where(air == 1, 1 / (temperature + fluid.ZERO_CELSIUS), fluid.expansion(temperature))


@elementwise
def gain_uncertainty(gain: Numbers, expansion: Numbers) -> Numbers:
    """Standard uncertainty of what a kelvin of warming gains, a share of the volume.

    Shapes broadcast.

    Args:
        gain: growth of the filling less that of the pipes' bore, 1/K.
        expansion: of the pipes' bore, 1/K.

    Returns:
        1/K: half-widths from the bore's expansion and from what the thermometer misses, added in
        quadrature.

    Source:
        JCGM 100:2008, 4.3.7 and 5.1.2, from memory.
    """
    of_bore, of_thermometer = expansion * EXPANSION_SPREAD, gain * THERMOMETER_SPREAD
    return np.asarray(np.hypot(of_bore, of_thermometer) / HALF_WIDTH)


@elementwise
def deciding_hold(
    uncertainty: Numbers,
    drift: Numbers,
    readings: Numbers,
    settling: Numbers,
    fall: Numbers,
    allowed: Numbers,
) -> Numbers:
    """How long a test must be held to show that tight pipes are tight, at an even temperature.

    Shapes broadcast.

    Args:
        uncertainty: of one reading, Pa.
        drift: of the pressure that the thermometer's step may hide from the first reading to the
            last, standard uncertainty, Pa.
        readings: how many, evenly spread, taken as FEWEST at least.
        settling: fall of the pressure for each unit of the logarithm of time, Pa.
        fall: what falls now, of the fit without settling, Pa/s; settling slows, so it is no more
            than this.
        allowed: fall of pipes that count as tight, Pa/s.

    Returns:
        s, the first of HOLDS at which what tight pipes still settle and twice the uncertainty of
        the slope together are no more than what is allowed; NaN where none is.

    Source:
        Slope of a straight line through n even points: σ·√(12·(n − 1)/(n·(n + 1)))/length.
    """
    count = np.maximum(readings, FEWEST)
    slope = np.hypot(uncertainty * np.sqrt(12 * (count - 1) / (count * (count + 1))), drift)
    settled = np.log1p(HOLDS[:, None] / STOOD).mean(axis=1)
    found = np.full(np.broadcast(slope, settling, fall, allowed).shape, np.nan)
    for hold, share in zip(HOLDS[::-1], settled[::-1], strict=True):
        settles = np.minimum(settling * share / hold, np.maximum(fall, 0.0))
        enough = settles + COVERAGE * slope / hold <= allowed
        found = np.where(enough, hold, found)
    return found
