"""Pressure tests: how much the readings let leak, and how surely.

The model. Of the volume V of closed pipes a fall of one pascal sets free the share g, their give:
κ of the water and its trapped air, and C of the stretched pipe. So the pressure goes

    p(t) = p₀ + w·(T(t) − T₀) − s·P·ln(1 + t/τ) − f·t

w what a kelvin of warming does (`checker.physics.leak`); P the gauge pressure; s how fast the pipe
settles; τ the time for which it had been under pressure when the readings began; f the fall that
a leak causes at the start, and V·g·f is the leak. As the pressure falls the leak slackens with
its root (an orifice), so t is the time that would have let as much flow at p₀; readings after the
first that is below half of p₀ do not count. A pipe that the pressure lets go of creeps back, the
longer the more: of a steady fall over a time t the pipe has given back not C but
C·(1 + t/1 min)^n/(1 + n) (Boltzmann's superposition of a power law; from memory), and so much more
has leaked for the same fall.

Settling. Under load the modulus of a plastic falls as t^-n, and what the water gives back is
small beside the stretch of the pipe, so the pressure falls as a straight line over the logarithm
of time. Water UK, Information and Guidance Note 4-01-03, Guide to pressure testing of pressure
pipes and fittings, issues of 2011 and 2015: relaxation governs the fall for the first 24 to 36
hours (as reported), with a slope n of 0.08 to 0.10, and 0.04 to 0.05 where soil holds the pipe
(from memory). How long the pipe had stood before is not in the record, so five times from a minute
to half a day, as likely one as the other, stand for it, each with a share of its own.

The fit. Least squares with a prior for what is not known well (settling, warming), by normal
equations: a linear model with Gaussian errors, so that its covariance is the answer's. Two fits
bound the leak: with settling, which explains as much of the fall as is plausible, the least; and
without, since settling can only make a fall look larger, the most. Where four readings or more
scatter more than their gauge allows, the uncertainty grows by the Birge ratio (R. T. Birge, The
calculation of errors by the method of least squares, Physical Review 40, 1932; from memory).
Spreads that are half-widths become standard uncertainties by √3; the most that may leak carries
twice its standard uncertainty, and the least, on which pipe is torn out, three times (JCGM
100:2008, 4.3.7 and 6.3, from memory).

Limits. One temperature stands for all the water; recovery after an earlier, higher pressure is left
out (it lifts the pressure and so hides a leak). Air trapped beyond the share taken here makes every
leak look smaller.
"""

from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from checker.physics import fluid
from checker.physics.arrays import Floats, Numbers, elementwise, positive
from checker.physics.leak import ATMOSPHERE

Positions: TypeAlias = NDArray[np.int64]

COVERAGE = 2.0
"""Standard uncertainties on either side of an answer, about 95 %; JCGM 100:2008, 6.3."""
SURE = 3.0
"""The same for what must be sure, about 99 %."""

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
"""Lengths of test that a person may be told to hold, s."""
FEWEST = 4.0
"""Readings of a test that is told to be held: enough to tell settling from a leak."""
HALF_WIDTH = np.sqrt(3.0)
"""An even distribution's half-width over its standard uncertainty; JCGM 100:2008, 4.3.7."""


class Readings(NamedTuple):
    """Readings of several tests, each of shape (readings,).

    at: s; pressure: gauge, Pa; temperature: °C; test: position in the arrays of the tests.
    """

    at: Floats
    pressure: Floats
    temperature: Floats
    test: Positions


class Vessel(NamedTuple):
    """How the closed pipes of each test answer, each of shape (tests,).

    warming: Pa/K, with its standard uncertainty; settling: fall of the pressure, as a share of it,
    for each unit of the logarithm of time; stretch: the pipe's share of the give; creep: exponent
    of its modulus' fall with time; stood: how many times longer than STOOD it was under pressure.
    """

    warming: Floats
    warming_uncertainty: Floats
    settling: Floats
    stretch: Floats
    creep: Floats
    stood: Floats


class Fall(NamedTuple):
    """A fall that a leak explains, Pa/s, and its standard uncertainty, each of shape (tests,)."""

    rate: Floats
    uncertainty: Floats


@elementwise
def give(
    air: Numbers, compliance: Numbers, pressure: Numbers, temperature: Numbers, softness: Numbers
) -> Numbers:
    """Share of their volume that the filled pipes set free per fall of a pascal.

    Shapes broadcast.

    Args:
        air: 1 where the test is made with air, 0 with water.
        compliance: of the pipes' bore, 1/Pa.
        pressure: gauge, Pa.
        temperature: °C.
        softness: 0 for what is likely, −1 for the stiffest pipe and no air in the water, 1 for the
            softest and most air.

    Returns:
        1/Pa.

    Source:
        Water: IAPWS SR6-08(2011); air: ideal gas, isothermal, 1/p.
    """
    gas = 1 / positive(pressure + ATMOSPHERE)
    water = fluid.compressibility(temperature) + MOST_AIR * (1 + softness) / 2 * gas
    return np.where(air == 1, gas, water) + compliance / (1 - MODULUS_SPREAD * softness)


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
def warming(gain: Numbers, least_give: Numbers, most_give: Numbers) -> Numbers:
    """What a kelvin of warming does to the pressure of closed pipes.

    Shapes broadcast. It is halfway between what the least and the most give make of it, since a
    metal pipe's give may be mostly that of the trapped air.

    Args:
        gain: expansion of the filling less that of the pipes' bore, 1/K.
        least_give: 1/Pa.
        most_give: 1/Pa.

    Returns:
        Pa/K.

    Source:
        The model of this module.
    """
    return gain / 2 * (1 / least_give + 1 / most_give)


@elementwise
def warming_uncertainty(
    warming: Numbers, expansion: Numbers, give: Numbers, least_give: Numbers, most_give: Numbers
) -> Numbers:
    """Standard uncertainty of what a kelvin of warming does to the pressure.

    Shapes broadcast.

    Args:
        warming: Pa/K.
        expansion: of the pipes' bore, 1/K.
        give: 1/Pa.
        least_give: 1/Pa.
        most_give: 1/Pa.

    Returns:
        Pa/K: half-widths from the pipe's expansion, the give, and what the thermometer misses,
        added in quadrature.

    Source:
        JCGM 100:2008, 4.3.7 and 5.1.2, from memory.
    """
    of_expansion = expansion * EXPANSION_SPREAD / give
    of_give = warming * (most_give - least_give) / (most_give + least_give)
    of_thermometer = warming * THERMOMETER_SPREAD
    return np.asarray(np.sqrt(of_expansion**2 + of_give**2 + of_thermometer**2) / HALF_WIDTH)


def fall(readings: Readings, vessel: Vessel, uncertainty: Floats, *, settles: bool) -> Fall:
    """The fall of pressure that a leak explains, by least squares.

    Args:
        readings: of all tests.
        vessel: of each test.
        uncertainty: of one reading, Pa, shape (tests,).
        settles: whether the pipe may have been settling; else all of the fall counts.

    Returns:
        Pa/s, shape (tests,); NaN for a test with fewer than two times, or with a value missing.

    Source:
        The fit of this module.
    """
    tests = len(uncertainty)
    (since, fallen, warmer, test), first, flowed = _counted(readings, vessel.warming)
    count = np.bincount(test, minlength=tests)
    length = np.full(tests, -np.inf)
    np.maximum.at(length, test, since)
    known = length > 0
    for needed in (np.bincount(test, warmer + fallen, tests), uncertainty, *vessel):
        known &= np.isfinite(needed)
    length = np.where(known, length, np.nan)
    amplitude = (vessel.settling * first if settles else np.zeros(tests))[test]
    rows = np.column_stack(
        [
            np.ones(len(test)),
            flowed / length[test] / crept(since, vessel.stretch[test], vessel.creep[test]),
            -warmer * vessel.warming_uncertainty[test],
            amplitude[:, None] * np.log1p(since[:, None] / (STOOD * vessel.stood[test, None])),
        ]
    )
    return _solved(rows, fallen, uncertainty, test, known, count, length)


def crept(since: Floats, stretch: Floats, creep: Floats) -> Floats:
    """How many times the short-term give a slow fall has set free.

    Shapes broadcast.

    Args:
        since: time since the fall began, s.
        stretch: the pipe's share of the give.
        creep: exponent n of its modulus' fall with time.

    Returns:
        A pure number, at least about 1.

    Source:
        Boltzmann's superposition of a power law; from memory.
    """
    return 1 + stretch * ((1 + since / SHORT_TERM) ** creep / (1 + creep) - 1)


def _counted(readings: Readings, warming: Floats) -> tuple[Readings, Floats, Floats]:
    """The readings that count, as they go into the fit, by test and time.

    Returns for each reading the time since the first, s; how far the pressure has fallen since,
    without what warming did, Pa; the kelvins since; and its test; then the first pressure of each
    test, Pa; and for each reading the time that would have let as much flow at that pressure, s:
    the integral of √(p/p₀), by trapezoids, which are exact for a leak alone.
    """
    order = np.lexsort((readings.at, readings.test))
    at, pressure, temperature = (column[order] for column in readings[:3])
    test = readings.test[order]
    opening = np.flatnonzero(np.diff(test, prepend=-1))
    opened = np.repeat(opening, np.diff(opening, append=len(test)))
    first = np.full(len(warming), np.nan)
    first[test[opening]] = pressure[opening]
    warmer = temperature - temperature[opened]
    with np.errstate(invalid="ignore", divide="ignore"):
        root = np.sqrt(np.maximum(pressure, 0.0) / first[test])
        low = pressure < first[test] / 2
    steps = np.diff(at, prepend=0.0) * (root + np.roll(root, 1)) / 2
    steps[opening] = 0.0
    flowed = _running(steps, opened)
    fallen = first[test] + warming[test] * warmer - pressure
    used = _running(low.astype(float), opened) - low == 0
    return (
        Readings((at - at[opened])[used], fallen[used], warmer[used], test[used]),
        first,
        flowed[used],
    )


def _running(steps: Floats, opened: Positions) -> Floats:
    """Running total of each test, from the reading that opens it."""
    total = np.cumsum(np.nan_to_num(steps))
    return np.where(np.isnan(steps), np.nan, total - total[opened] + steps[opened])


def _solved(
    rows: Floats,
    values: Floats,
    uncertainty: Floats,
    test: Positions,
    known: NDArray[np.bool_],
    count: NDArray[np.int64],
    length: Floats,
) -> Fall:
    """The second unknown of each test's normal equations, over the length of the test."""
    used = known[test]
    rows, values, test = rows[used], values[used], test[used]
    weight = (1 / uncertainty[test]) ** 2
    guess, precision = _prior()
    normal = np.tile(precision, (len(known), 1, 1))
    right = np.tile(precision @ guess, (len(known), 1))
    np.add.at(normal, test, weight[:, None, None] * rows[:, :, None] * rows[:, None, :])
    np.add.at(right, test, (weight * values)[:, None] * rows)
    normal[~known] = np.eye(len(guess))
    covariance = np.linalg.inv(normal)
    unknowns = np.einsum("tij,tj->ti", covariance, right)
    residuals = values - np.einsum("ri,ri->r", rows, unknowns[test])
    off = unknowns - guess
    squares = np.bincount(test, weight * residuals**2, len(known)).astype(float)
    squares = squares + np.einsum("ti,ij,tj->t", off, precision, off)
    birge = np.where(count >= 4, np.sqrt(squares / np.maximum(count - 2, 1)), 1.0)
    spread = np.sqrt(covariance[:, 1, 1]) * np.maximum(birge, 1.0)
    return Fall(unknowns[:, 1] / length, spread / length)


def _prior() -> tuple[Floats, Floats]:
    """What is known beforehand of the unknowns: their means, and the inverse of their covariance.

    First the pressure and the fall, of which nothing is known; then the error of the warming, in
    its standard uncertainties; then the shares of the times that the pipe had stood. One of
    these is the true one: mean 1/J each, covariance that of one in J, times the spread of n.
    """
    times = len(STOOD)
    spread = (SETTLING_SPREAD / HALF_WIDTH) ** 2
    shares = np.eye(times) * (1 + spread) / times - 1 / times**2
    precision = np.zeros((3 + times, 3 + times))
    precision[2, 2] = 1.0
    precision[3:, 3:] = np.linalg.inv(shares)
    return np.concatenate([np.zeros(3), np.full(times, 1 / times)]), precision


def band(fall: Fall, least_give: Floats, give: Floats, most_give: Floats) -> tuple[Floats, Floats]:
    """Between which two falls the leak lies in about 95 % of cases, never below zero.

    The fall's own uncertainty, and that of the give, from which the leak follows: softer and
    stiffer pipe than assumed, each to its own side, in quadrature.

    Args:
        fall: by `fall`.
        least_give: 1/Pa, shape (tests,).
        give: 1/Pa, shape (tests,).
        most_give: 1/Pa, shape (tests,).

    Returns:
        Lower and upper end, Pa/s, each of shape (tests,).

    Source:
        JCGM 100:2008, 5.1.2, from memory.
    """
    rate = np.maximum(fall.rate, 0.0)
    of_fall = COVERAGE * fall.uncertainty
    softer = COVERAGE * rate * (most_give / give - 1) / HALF_WIDTH
    stiffer = COVERAGE * rate * (1 - least_give / give) / HALF_WIDTH
    low, high = rate - np.hypot(of_fall, stiffer), rate + np.hypot(of_fall, softer)
    return np.maximum(low, 0.0), high


def least(fall: Fall) -> Floats:
    """The least leak that the readings allow, by a fit with settling; never below zero.

    Args:
        fall: by `fall`, with settling.

    Returns:
        Pa/s, shape (tests,).

    Source:
        SURE standard uncertainties below; JCGM 100:2008, 6.3.
    """
    return np.maximum(fall.rate - SURE * fall.uncertainty, 0.0)


def most(fall: Fall) -> Floats:
    """The most that the readings allow, by a fit without settling.

    Where the pressure rises by more than the readings' uncertainty, something acts that the model
    does not know (a warmer place, a valve that lets water in), and nothing bounds a leak.

    Args:
        fall: by `fall`, without settling.

    Returns:
        Pa/s, shape (tests,); NaN where nothing bounds it.

    Source:
        COVERAGE standard uncertainties above; JCGM 100:2008, 6.3.
    """
    highest = fall.rate + COVERAGE * fall.uncertainty
    return np.where(highest >= 0, highest, np.nan)


@elementwise
def deciding_hold(
    uncertainty: Numbers, readings: Numbers, settling: Numbers, fall: Numbers, allowed: Numbers
) -> Numbers:
    """How long a test must be held to show that tight pipes are tight, at an even temperature.

    Shapes broadcast.

    Args:
        uncertainty: of one reading, Pa.
        readings: how many, evenly spread, taken as FEWEST at least.
        settling: fall of the pressure for each unit of the logarithm of time, Pa.
        fall: what falls now, of the fit without settling, Pa/s; settling slows, so it is no more
            than this.
        allowed: fall of pipes that count as tight, Pa/s.

    Returns:
        s, the first of HOLDS at which what tight pipes still settle and twice the uncertainty of
        the slope together are no more than `allowed`; NaN where none is.

    Source:
        Slope of a straight line through n even points: σ·√(12·(n − 1)/(n·(n + 1)))/length.
    """
    count = np.maximum(readings, FEWEST)
    slope = uncertainty * np.sqrt(12 * (count - 1) / (count * (count + 1)))
    settled = np.log1p(HOLDS[:, None] / STOOD).mean(axis=1)
    found = np.full(np.broadcast(slope, settling, fall, allowed).shape, np.nan)
    for hold, share in zip(HOLDS[::-1], settled[::-1], strict=True):
        settles = np.minimum(settling * share / hold, np.maximum(fall, 0.0))
        enough = settles + COVERAGE * slope / hold <= allowed
        found = np.where(enough, hold, found)
    return found
