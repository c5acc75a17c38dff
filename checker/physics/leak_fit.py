"""Pressure tests: how much the readings let leak, and how surely.

The model. Of the volume V of closed pipes that a fall of the pressure to p sets free, the water's
κ and the stretched pipe's C give a share (κ + C)·(p₁ − p), and trapped air that fills a share a at
the first pressure p₁ gives a·(p₁ − p)/(p + 1 atm) (Boyle's law: p·V is constant), ever more for
each pascal. What is free is what leaked, what cooling took, and what the pipe has grown:

    F(p) = q·t − (β_w − β_R)·(T(t) − T₁) + C·n·p₁·ln(1 + t/τ)

q what leaks at the first pressure, a share of V in a second; β the growth with temperature of
water and bore; n how fast the pipe settles; τ the time for which it had been under pressure when
the readings began. As the pressure falls the leak slackens, with its root (an opening that is
fixed) or with itself, so t is the time that would have let as much flow at p₁; readings after the
first that is below a tenth of p₁ do not count. A pipe that the pressure lets go of creeps back,
the longer the more: of a steady fall over a time t the pipe has given back not C but
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
equations: a linear model with Gaussian errors, so that its covariance is the answer's. It is made
for each of a few shares of air with each way that a leak may slacken, and the answer is their mean,
weighed by how likely each makes the readings; a bound is that of whichever way reaches
farthest, those that are a hundred times less likely than the likeliest left out. Two fits
bound the leak: with settling, which explains as much of the fall as is plausible, the least; and
without, since settling can only make a fall look larger, the most. Where four readings or more
scatter more than their gauge allows, the uncertainty grows by the Birge ratio (R. T. Birge, The
calculation of errors by the method of least squares, Physical Review 40, 1932; from memory).
Spreads that are half-widths become standard uncertainties by √3; the most that may leak carries
twice its standard uncertainty (JCGM 100:2008, 4.3.7 and 6.3, from memory), and the least, on which
pipe is torn out, somewhat more.

Limits. One temperature stands for all the water; recovery after an earlier, higher pressure is left
out (it lifts the pressure and so hides a leak). Air trapped beyond the share taken here makes every
leak look smaller.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from checker.arrays import Array, Mask
from checker.physics.slackening import crept, freed, slackened
from checker.physics.tightness import (
    COVERAGE,
    HALF_WIDTH,
    MODULUS_SPREAD,
    SETTLING_SPREAD,
    STOOD,
    SURE,
    Positions,
)

LOWEST = 0.1
"""Share of the first pressure; later readings below it do not count; our convention."""
MODEL = 0.1
"""Of a loss, by which the model may be off (a standard uncertainty): shares of air between those
that are tried, lag of the thermometer, pipe that is not held along its length; ours."""
PLAUSIBLE = 0.01
"""Likelihood relative to the likeliest way, from which a way counts as possible; our convention."""


class Way(NamedTuple):
    """One way that a leak and trapped air may be: air as a share of the most, and how it weighs."""

    exponent: float
    air: float
    share: float


EXPONENTS = {0.5: 2 / 3, 1.0: 1 / 3}
"""Of the pressure, that a leak goes with: an opening that is fixed, and one that the pressure
spreads or water seeps through; J. May, Pressure dependent leakage, 1994, has 0.5 to 1.5 (from
memory). The first is taken as twice as likely as the second: no source."""
_AIR = ((0.0, 1 / 8), (0.25, 1 / 4), (0.5, 1 / 4), (0.75, 1 / 4), (1.0, 1 / 8))
WAYS = tuple(
    Way(exponent, air, share * often)
    for exponent, often in EXPONENTS.items()
    for air, share in _AIR
)
"""Five shares of the most air that stand for all, each with its weight, with both exponents."""


class Readings(NamedTuple):
    """Readings of several tests, each of shape (readings,).

    at: s; pressure: gauge, Pa; temperature: °C; test: position in the arrays of the tests.
    """

    at: Array
    pressure: Array
    temperature: Array
    test: Positions


class Vessel(NamedTuple):
    """The response of the closed pipes of each test, each of shape (tests,).

    filling: give of what fills them, without trapped air, 1/Pa; compliance: growth of the bore,
    1/Pa; relaxation: the same for each unit of the logarithm of time, 1/Pa; creep: exponent of the
    modulus' fall with time; gain: growth of the filling less that of the bore, 1/K, with its
    standard uncertainty; air: most of the bore that trapped air may fill; stood: how many times
    longer than STOOD they were under pressure.
    """

    filling: Array
    compliance: Array
    relaxation: Array
    creep: Array
    gain: Array
    gain_uncertainty: Array
    air: Array
    stood: Array


class Loss(NamedTuple):
    """The leak, as a share of the volume per second, each of shape (tests,).

    rate and its standard uncertainty; least: what it is at least, whatever the air and the hole;
    low, most: between what it lies for each of them; by COVERAGE, the least by SURE.
    """

    rate: Array
    uncertainty: Array
    least: Array
    low: Array
    most: Array


def lost(
    readings: Readings,
    vessel: Vessel,
    gauge: Array,
    thermometer: Array,
    *,
    settles: bool,
    ways: Sequence[Way] = WAYS,
) -> Loss:
    """What a leak takes, by least squares for each way that it may leak, weighed by likelihood.

    Args:
        readings: of all tests.
        vessel: of each test.
        gauge: standard uncertainty of one pressure read, Pa, shape (tests,).
        thermometer: of one temperature, K, shape (tests,).
        settles: whether the pipe may have been settling; else all of the fall counts.
        ways: in which a leak may go that are tried.

    Returns:
        1/s, shape (tests,); NaN for a test with fewer than two times, or with a value missing.

    Source:
        The fit of this module.
    """
    tests = len(gauge)
    counted = _counted(readings, tests)
    known = counted.length > 0
    test = counted.test
    read = np.bincount(test, counted.warmer + counted.pressure, tests)
    for needed in (read, gauge, thermometer, *vessel):
        known &= np.isfinite(needed)
    counted = counted._replace(length=np.where(known, counted.length, np.nan))
    # All ways of all tests in one go: each way has the tests over again.
    many = len(ways)
    each = Vessel(*(np.tile(column, many) for column in vessel))
    each = each._replace(air=each.air * np.repeat([way.air for way in ways], tests))
    exponent = np.repeat([way.exponent for way in ways], tests)
    errors = np.tile(gauge, many), np.tile(thermometer, many)
    found = _fitted(
        _repeated(counted, many, tests), each, errors, exponent, np.tile(known, many), settles
    )
    rates, spreads, squares = (column.reshape(many, tests) for column in found)
    # Scatter beyond the instruments' makes every way less sure, and tells them apart less.
    count = np.bincount(test, minlength=tests)
    birge = np.where(count >= 4, squares.min(axis=0) / np.maximum(count - 2, 1), 1.0)
    birge = np.maximum(birge, 1.0)
    scattered = spreads * np.sqrt(birge)
    spreads = np.hypot(scattered, MODEL * rates)
    likely = np.log([[way.share] for way in ways]) - squares / 2 / birge
    weight = np.exp(likely - likely.max(axis=0))
    plausible = weight >= PLAUSIBLE
    weight = weight / weight.sum(axis=0)
    rate = np.sum(weight * rates, axis=0)
    variance = np.sum(weight * (spreads**2 + (rates - rate) ** 2), axis=0)

    def least_of(values: Array) -> Array:
        return np.asarray(np.where(plausible, values, np.inf).min(axis=0))

    # What the model may be off, a share, makes no leak of none.
    sure = least_of(rates - SURE * scattered)
    low = least_of(rates - COVERAGE * spreads)
    most = -least_of(-rates - COVERAGE * spreads)
    answer = (rate, np.sqrt(variance), sure, low, most)
    return Loss(*(np.where(known, one, np.nan) for one in answer))


class _Counted(NamedTuple):
    """The readings that count, by test and time, and the first of their test beside each."""

    since: Array
    pressure: Array
    warmer: Array
    first: Array
    test: Positions
    opened: Positions
    length: Array


def _counted(readings: Readings, tests: int) -> _Counted:
    """since: s from the first; warmer: K; first: Pa; opened: position of the first; length: s."""
    order = np.lexsort((readings.at, readings.test))
    at, pressure, temperature = (column[order] for column in readings[:3])
    test = readings.test[order]
    opened = _opened(test)
    with np.errstate(invalid="ignore"):
        low = pressure < LOWEST * pressure[opened]
    used = _running(low.astype(float), opened) - low == 0
    since, warmer, first = at - at[opened], temperature - temperature[opened], pressure[opened]
    length = np.full(tests, -np.inf)
    np.maximum.at(length, test[used], since[used])
    kept = (since[used], np.maximum(pressure, 0.0)[used], warmer[used], first[used], test[used])
    return _Counted(*kept, _opened(test[used]), length)


def _repeated(counted: _Counted, many: int, tests: int) -> _Counted:
    """Copies of the readings, each copy as those of further tests."""
    size = len(counted.test)
    later = np.repeat(np.arange(many), size)
    return _Counted(
        np.tile(counted.since, many),
        np.tile(counted.pressure, many),
        np.tile(counted.warmer, many),
        np.tile(counted.first, many),
        np.tile(counted.test, many) + later * tests,
        np.tile(counted.opened, many) + later * size,
        np.tile(counted.length, many),
    )


def _opened(test: Positions) -> Positions:
    """For each reading the index of the first reading of its test."""
    opening = np.flatnonzero(np.diff(test, prepend=-1))
    return np.repeat(opening, np.diff(opening, append=len(test)))


def _running(steps: Array, opened: Positions) -> Array:
    """Running total of each test, from the reading that opens it."""
    total = np.cumsum(np.nan_to_num(steps))
    return np.where(np.isnan(steps), np.nan, total - total[opened] + steps[opened])


def _fitted(
    counted: _Counted,
    vessel: Vessel,
    errors: tuple[Array, Array],
    exponent: Array,
    known: Mask,
    settles: bool,
) -> tuple[Array, Array, Array]:
    """What each test loses, 1/s, its standard uncertainty, and the sum of squares.

    errors: of gauge and thermometer; exponent: of the pressure, that its leak goes with.
    """
    gauge, thermometer = errors
    since, pressure, warmer, first, test, opened, length = counted
    used = Vessel(*(column[test] for column in vessel))
    soft, air = used.filling + used.compliance, used.air
    free, slope = freed(pressure, first, soft, air)
    # A seam takes for ever to empty; what the gauge does not show is none.
    shown = np.maximum(pressure, gauge[test])
    mean = slackened(np.roll(shown, 1), shown, first, soft, air, exponent[test])
    steps = np.diff(since, prepend=0.0) * mean
    steps[opened] = 0.0
    flowed = _running(steps, opened)
    give = slope[opened]
    settled = used.relaxation / give * first
    spread = np.hypot(slope * gauge[test], used.gain * thermometer[test]) / give
    rows = np.column_stack(
        [
            spread[opened],
            flowed / length[test] / crept(since, used.compliance / give, used.creep),
            -warmer * used.gain_uncertainty / give,
            used.gain * thermometer[test] / HALF_WIDTH / give * since / length[test],
            settled[:, None] * np.log1p(since[:, None] / (STOOD * used.stood[:, None])),
        ]
    )
    fall, uncertainty, squares = _solved(
        rows if settles else rows[:, :4], (free + used.gain * warmer) / give, spread, test, known
    )
    by_test = np.ones(len(known))
    by_test[test] = give
    return fall * by_test / length, uncertainty * by_test / length, squares


def _solved(
    rows: Array, values: Array, spread: Array, test: Positions, known: Mask
) -> tuple[Array, Array, Array]:
    """The second unknown of each test's normal equations, its deviation, and the sum of squares."""
    used = known[test]
    rows, values, test = rows[used], values[used], test[used]
    weight = spread[used] ** -2
    guess, precision = _prior(rows.shape[1])
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
    return unknowns[:, 1], np.sqrt(covariance[:, 1, 1]), squares


def _prior(unknowns: int) -> tuple[Array, Array]:
    """The prior of the unknowns: their means, and the inverse of their covariance.

    First the pressure and the loss, of which nothing is known; then the error of what a kelvin does
    and a drift that the thermometer's step hides, in their standard uncertainties; then the shares
    of the times that the pipe had stood. One of these is the true one: mean 1/J each, covariance
    that of one in J, times the spread of n.
    """
    precision = np.zeros((unknowns, unknowns))
    precision[2, 2] = precision[3, 3] = 1.0
    times = unknowns - 4
    if times:
        spread = (SETTLING_SPREAD / HALF_WIDTH) ** 2
        shares = np.eye(times) * (1 + spread) / times - 1 / times**2
        precision[4:, 4:] = np.linalg.inv(shares)
    return np.concatenate([np.zeros(4), np.full(times, 1 / times if times else 0.0)]), precision


def band(loss: Loss, stretch: Array) -> tuple[Array, Array]:
    """Between what the leak lies in about 95 % of cases, never below zero.

    The loss' own uncertainty, within the ways that it may come about, and that of the pipe's
    modulus, each to its own side, in quadrature.

    Args:
        loss: by `lost`.
        stretch: the pipe's share of the give, shape (tests,).

    Returns:
        Lower and upper end, 1/s, each of shape (tests,).

    Source:
        JCGM 100:2008, 5.1.2, from memory.
    """
    rate = np.maximum(loss.rate, 0.0)
    below = np.minimum(COVERAGE * loss.uncertainty, rate - np.minimum(loss.low, rate))
    above = np.minimum(COVERAGE * loss.uncertainty, np.maximum(loss.most, rate) - rate)
    softer, stiffer = _of_modulus(rate, stretch)
    return np.maximum(rate - np.hypot(below, stiffer), 0.0), rate + np.hypot(above, softer)


def _of_modulus(rate: Array, stretch: Array) -> tuple[Array, Array]:
    """How much more and less the loss is where the pipe is softer or stiffer than assumed."""
    more, less = 1 / (1 - MODULUS_SPREAD) - 1, 1 - 1 / (1 + MODULUS_SPREAD)
    share = COVERAGE * rate * stretch / HALF_WIDTH
    return share * more, share * less


def least(loss: Loss) -> Array:
    """The least leak that the readings allow, by a fit with settling; never below zero.

    Args:
        loss: by `lost`, with settling.

    Returns:
        1/s, shape (tests,).

    Source:
        SURE standard uncertainties below; JCGM 100:2008, 6.3.
    """
    return np.maximum(loss.least, 0.0)


def most(loss: Loss, stretch: Array) -> Array:
    """The most that the readings allow, by a fit without settling.

    Where the pressure rises by more than the readings' uncertainty, something acts that the model
    does not know (a warmer place, a valve that lets water in), and nothing bounds a leak.

    Args:
        loss: by `lost`, without settling.
        stretch: the pipe's share of the give, shape (tests,).

    Returns:
        1/s, shape (tests,); NaN where nothing bounds it.

    Source:
        COVERAGE standard uncertainties above; JCGM 100:2008, 6.3.
    """
    rate = np.maximum(loss.rate, 0.0)
    highest = rate + np.hypot(loss.most - rate, _of_modulus(rate, stretch)[0])
    return np.where(loss.most >= 0, highest, np.nan)
