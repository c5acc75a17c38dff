"""What the readings of a pressure test say about a leak. SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Index
from checker.compute.columns import Grouped
from checker.compute.registry import Output, quantities_of
from checker.physics import instruments, leak_fit, tightness
from checker.physics.leak_fit import Loss, Readings, Vessel
from checker.quantities.test import WATER

quantity = quantities_of("test")

FIT = "least squares with what is known beforehand of settling and warming"
FEW = "there are fewer than two readings at different times"
RISES = "the pressure rises by more than is known to lift it"


def _lost(
    settles: bool,
    readings: tuple[Grouped, Grouped, Grouped],
    steps: tuple[Array, Array],
    vessel: Vessel,
) -> Loss:
    at, pressure, temperature = readings
    gauge, thermometer = (instruments.READING_SPREAD * step for step in steps)
    read = Readings(at.values, pressure.values, temperature.values, at.group)
    return leak_fit.lost(read, vessel, gauge, thermometer, settles=settles)


@quantity(
    source=FIT,
    outputs=(
        Output(
            "unsettled_leak_rate",
            "ml/h",
            "Leak rate, were all of the fall a leak's",
            "Q_a",
            "V times what the fit loses without settling",
            FEW,
            shown=False,
        ),
        Output(
            "largest_leak_rate",
            "ml/h",
            "Most that the readings let leak",
            "Q_max",
            "V times what the fit loses without settling and twice its uncertainty",
            f"{FEW}, or {RISES}",
        ),
    ),
)
def unsettled_fit(
    readings_at: Grouped,
    readings_pressure: Grouped,
    readings_temperature: Grouped,
    gauge_step: Array,
    thermometer_step: Array,
    filling_give: Array,
    pipes_compliance: Array,
    pipes_relaxation: Array,
    creep: Array,
    gain: Array,
    gain_uncertainty: Array,
    trapped_air: Array,
    stood: Array,
    stretch: Array,
    header_content: Array,
) -> tuple[Array, ...]:
    """Leak of the fit in which settling explains none of the fall, and its upper bound, m³/s.

    The first is below zero where the pressure rises.
    """
    found = _lost(
        False,
        (readings_at, readings_pressure, readings_temperature),
        (gauge_step, thermometer_step),
        Vessel(
            filling_give,
            pipes_compliance,
            pipes_relaxation,
            creep,
            gain,
            gain_uncertainty,
            trapped_air,
            stood,
        ),
    )
    return header_content * found.rate, header_content * leak_fit.most(found, stretch)


@quantity(
    source=FIT,
    missing_because=FEW,
    outputs=(
        Output(
            "settled_leak_rate",
            "ml/h",
            "Leak rate of the fit with settling",
            "Q_b",
            "V times what the fit loses with settling",
            shown=False,
        ),
        Output(
            "least_leak_rate",
            "ml/h",
            "Least that the readings let leak",
            "Q_min",
            "V times what the fit loses with settling less 2.4 times its uncertainty, or 0",
            shown=False,
        ),
        Output(
            "leak_rate_low",
            "ml/h",
            "Leak rate, low end",
            "Q_1",
            "V times what the fit loses with settling, less twice what it and C may be off",
        ),
        Output(
            "fitted_leak_rate_high",
            "ml/h",
            "Leak rate, high end of the fit with settling",
            "Q_2",
            "V times what the fit loses with settling and twice what it and C may be off",
            shown=False,
        ),
    ),
)
def settled_fit(
    readings_at: Grouped,
    readings_pressure: Grouped,
    readings_temperature: Grouped,
    gauge_step: Array,
    thermometer_step: Array,
    filling_give: Array,
    pipes_compliance: Array,
    pipes_relaxation: Array,
    creep: Array,
    gain: Array,
    gain_uncertainty: Array,
    trapped_air: Array,
    stood: Array,
    stretch: Array,
    header_content: Array,
) -> tuple[Array, ...]:
    """Leak of the fit in which settling explains what is plausible, its certain minimum, and its
    range, m³/s.

    The first is below zero where settling explains more than the fall.
    """
    found = _lost(
        True,
        (readings_at, readings_pressure, readings_temperature),
        (gauge_step, thermometer_step),
        Vessel(
            filling_give,
            pipes_compliance,
            pipes_relaxation,
            creep,
            gain,
            gain_uncertainty,
            trapped_air,
            stood,
        ),
    )
    low, high = leak_fit.band(found, stretch)
    settled, least = found.rate, leak_fit.least(found)
    return tuple(header_content * one for one in (settled, least, low, high))


@quantity(
    unit="ml/h",
    title="Leak rate",
    symbol="Q",
    formula="{settled_leak_rate}, but from 0 to {largest_leak_rate}",
    source="least squares with bounds",
)
def leak_rate(settled_leak_rate: Array, largest_leak_rate: Array) -> Array:
    """The leak at the pressure of the test, m³/s of that pressure."""
    return np.clip(settled_leak_rate, 0.0, largest_leak_rate)


@quantity(
    unit="ml/h",
    title="Leak rate, high end",
    symbol="Q_h",
    formula="max({fitted_leak_rate_high}, {leak_rate})",
    source="JCGM 100:2008, 6.3, twice the standard uncertainty",
)
def leak_rate_high(fitted_leak_rate_high: Array, leak_rate: Array) -> Array:
    """The leak is above this in about one case of forty, m³/s."""
    return np.maximum(fitted_leak_rate_high, leak_rate)


@quantity(
    unit="ml/h",
    title="Uncertainty of the leak rate",
    symbol="U(Q)",
    formula="max({leak_rate_high} − {leak_rate}, {leak_rate} − {leak_rate_low})",
    source="JCGM 100:2008, 6.3, twice the standard uncertainty",
)
def leak_rate_uncertainty(leak_rate: Array, leak_rate_low: Array, leak_rate_high: Array) -> Array:
    """Expanded uncertainty of the leak rate (about 95 %), m³/s; the longer side of its range."""
    return np.maximum(leak_rate_high - leak_rate, leak_rate - leak_rate_low)


@quantity(
    unit="ml/h",
    title="Leak that settling, warming and the instruments may feign",
    symbol="Q_0",
    formula="{leak_rate} − {least_leak_rate}",
    source=FIT,
    shown=False,
)
def explained_leak_rate(leak_rate: Array, least_leak_rate: Array) -> Array:
    """The part of the leak rate that need not be a leak, m³/s."""
    return leak_rate - least_leak_rate


@quantity(
    unit="ml/h",
    title="Leak rate of pipes that count as tight",
    symbol="Q_t",
    formula=(
        "{header_content} · {give} · {0.2 bar} / {1 h}",
        "{1 l} / {168 h}",
    ),
    source="EN 805:2000, 11.3.3.4, 20 kPa in the hour, from memory; a litre a week: no source",
    shown=False,
)
def allowed_leak_rate(header_content: Array, give: Array, medium: Array) -> Array:
    """The leak with which the pressure falls by 20 kPa an hour; for water at most a litre a week,
    m³/s.
    """
    by_fall = header_content * give * tightness.ALLOWED_FALL
    most = np.where(medium == WATER, tightness.ALLOWED_LOSS, np.inf)
    return np.minimum(by_fall, most)


@quantity(
    unit="1",
    title="Whether the readings show a leak",
    symbol="l",
    formula="1 where {least_leak_rate} is above 0, else 0",
    source="comparison",
    shown=False,
)
def leaking(least_leak_rate: Array) -> Array:
    """1 where settling, warming and the instruments together do not explain the fall; else 0."""
    known = ~np.isnan(least_leak_rate)
    return np.where(known, (least_leak_rate > 0).astype(float), np.nan)


LEAST_RISE = 10e3
"""A rise between two readings, Pa, that reading the gauge itself may cause; our convention, no
source.
"""
MISREAD = 1.5
"""Steps of the gauge by which two readings together may be wrong; our convention, no source."""
HIDDEN = 0.5
"""Steps of the thermometer that two equal readings may hide, as in `hidden_drift`."""


@quantity(
    unit="1",
    title="Whether the pressure was lifted between two readings",
    symbol="u",
    formula="1 where a reading is above the one before by more than warming and gauge explain",
    source="comparison",
    shown=False,
)
def lifted(
    readings_at: Grouped,
    readings_pressure: Grouped,
    readings_temperature: Grouped,
    gauge_step: Array,
    thermometer_step: Array,
    gain: Array,
    gain_uncertainty: Array,
    filling_give: Array,
    pipes_compliance: Array,
) -> Array:
    """1 where somebody pumped between two readings, or a valve let water in; else 0.

    A leak before such a rise is hidden by it.
    """
    at = readings_at.values
    before, after = _in_turn(readings_at)
    own = readings_at.group[after]
    warmed = readings_temperature.values[after] - readings_temperature.values[before]
    # Without trapped air a kelvin lifts the pressure most; in plastic a fall of temperature does.
    give = filling_give + pipes_compliance
    by_kelvin, most = np.abs(gain) / give, (np.abs(gain) + 2.0 * gain_uncertainty) / give
    hidden = HIDDEN * by_kelvin * thermometer_step
    misread = np.hypot(hidden, np.maximum(LEAST_RISE, MISREAD * gauge_step))
    explained = most[own] * np.abs(warmed) + misread[own]
    rise = readings_pressure.values[after] - readings_pressure.values[before]
    found = np.zeros(readings_at.size)
    found[own[(at[after] > at[before]) & (rise > explained)]] = 1.0
    return found


FULL, EMPTY = 0.5, leak_fit.LOWEST
"""Of the first pressure: from above the one to below the other between two readings, the pipes
emptied at some time between them; ours, no source."""


@quantity(
    unit="ml/h",
    title="Least that leaks, where the pressure was gone between two readings",
    symbol="Q_e",
    formula="{leak_rate}, where a reading above half of the first is followed by one below a tenth",
    source="comparison",
    optional=("first_pressure",),
    missing_because="the pressure was not gone between two readings",
    shown=False,
)
def emptied_leak_rate(
    readings_at: Grouped, readings_pressure: Grouped, leak_rate: Array, first_pressure: Array
) -> Array:
    """What leaks at least, m³/s: the pipes may have emptied long before they were read again.

    NaN where the pressure was followed down.
    """
    pressure = readings_pressure.values
    before, after = _in_turn(readings_at)
    own = readings_at.group[after]
    first = first_pressure[own]
    gone = (pressure[before] >= FULL * first) & (pressure[after] < EMPTY * first)
    found = np.full(readings_at.size, np.nan)
    found[own[gone]] = leak_rate[own[gone]]
    return found


def _in_turn(readings_at: Grouped) -> tuple[Index, Index]:
    """Each reading of a test but its last, and the one that follows it."""
    order = np.lexsort((readings_at.values, readings_at.group))
    before, after = order[:-1], order[1:]
    same = readings_at.group[before] == readings_at.group[after]
    return before[same], after[same]


@quantity(
    unit="1",
    title="Whether the readings show the loops tight",
    symbol="t",
    formula="1 where they show no leak, none were {lifted}, and {largest_leak_rate} is at most "
    "{allowed_leak_rate}",
    source="comparison",
    optional=("largest_leak_rate",),
    shown=False,
)
def tight(
    leaking: Array, lifted: Array, largest_leak_rate: Array, allowed_leak_rate: Array
) -> Array:
    """1 where no more can leak than tight loops may; else 0, also where the pressure rises."""
    found = (leaking == 0) & (lifted == 0) & (largest_leak_rate <= allowed_leak_rate)
    return np.where(np.isnan(leaking), np.nan, found.astype(float))


@quantity(
    unit="1",
    title="Whether the pressure rises beyond what is known to lift it",
    symbol="r",
    formula="1 where {largest_leak_rate} would be below 0, or where {lifted} is 1, else 0",
    source="comparison",
    optional=("largest_leak_rate",),
    shown=False,
)
def rising(unsettled_leak_rate: Array, lifted: Array, largest_leak_rate: Array) -> Array:
    """1 where the readings rise by more than warming and the instruments explain; else 0."""
    known = ~np.isnan(unsettled_leak_rate)
    found = np.isnan(largest_leak_rate) | (lifted == 1)
    return np.where(known, found.astype(float), np.nan)
