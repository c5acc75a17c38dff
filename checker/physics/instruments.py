"""Gauges and thermometers of a pressure test: the step in which they are read, and its
uncertainty.
"""

import numpy as np

from checker.arrays import Array
from checker.physics.tightness import HALF_WIDTH, Positions

READING_SPREAD = 0.5
"""Standard uncertainty of a reading, as a share of the step that it is read to: 0.29 of a step for
rounding and 0.41 for the instrument's repeatability, in quadrature; no source."""

GAUGE_STEPS = 1e5 * np.array([0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 0.0005])
"""Steps in Pa in which a gauge in bar or kPa may be read. The coarsest step that fits all readings
counts; the coarsest of all, 0.1 bar, is the usual scale of a test gauge: common practice, no
source."""
GAUGE_STEPS_PSI = 6894.757293168362 * np.array([1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01])
"""The same for a gauge in psi."""
THERMOMETER_STEPS = np.array([1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01])
"""Steps in K or in °F."""
_ZERO_FAHRENHEIT = 32.0


def gauge_step(pressure: Array, test: Positions, tests: int) -> Array:
    """Coarsest step of a pressure gauge that all readings of a test fit.

    Args:
        pressure: gauge, Pa, shape (readings,).
        test: position of its test, shape (readings,).
        tests: how many tests.

    Returns:
        Pa, shape (tests,).

    Source:
        GAUGE_STEPS.
    """
    metric = _coarsest(pressure, test, tests, GAUGE_STEPS)
    imperial = _coarsest(pressure, test, tests, GAUGE_STEPS_PSI)
    return np.where(np.isnan(metric), _else(imperial, GAUGE_STEPS[-1]), metric)


def thermometer_step(temperature: Array, test: Positions, tests: int) -> Array:
    """Coarsest step of a thermometer that all readings of a test fit.

    Args:
        temperature: °C, shape (readings,).
        test: position of its test, shape (readings,).
        tests: how many tests.

    Returns:
        K, shape (tests,).

    Source:
        THERMOMETER_STEPS.
    """
    celsius = _coarsest(temperature, test, tests, THERMOMETER_STEPS)
    degrees = temperature * 1.8 + _ZERO_FAHRENHEIT
    fahrenheit = _coarsest(degrees, test, tests, THERMOMETER_STEPS) / 1.8
    return np.where(np.isnan(celsius), _else(fahrenheit, THERMOMETER_STEPS[-1]), celsius)


def _coarsest(values: Array, test: Positions, tests: int, steps: Array) -> Array:
    """The largest step of which every value of a test is a multiple; NaN where there is none."""
    off = np.abs(values[:, None] / steps - np.rint(values[:, None] / steps))
    misfits = np.zeros((tests, len(steps)))
    np.add.at(misfits, test, off > 1e-5)
    fits = misfits == 0
    return np.where(fits.any(axis=1), steps[np.argmax(fits, axis=1)], np.nan)


def _else(values: Array, other: float) -> Array:
    return np.where(np.isnan(values), other, values)


def reading_uncertainty(gauge_step: Array, thermometer_step: Array, warming: Array) -> Array:
    """Standard uncertainty of one pressure reading after correction for its temperature.

    Args:
        gauge_step: Pa, shape (tests,).
        thermometer_step: K, shape (tests,).
        warming: Pa/K, shape (tests,).

    Returns:
        Pa, shape (tests,).

    Source:
        READING_SPREAD.
    """
    gauge, thermometer = READING_SPREAD * gauge_step, READING_SPREAD * thermometer_step
    return np.asarray(np.hypot(gauge, warming * thermometer))


def hidden_drift(thermometer_step: Array, warming: Array) -> Array:
    """Standard uncertainty of the pressure drift that a thermometer read in steps cannot show.

    Args:
        thermometer_step: K, shape (tests,).
        warming: Pa/K, shape (tests,).

    Returns:
        Pa, shape (tests,).

    Source:
        An even distribution, JCGM 100:2008, 4.3.7, from memory.
    """
    return np.asarray(READING_SPREAD * thermometer_step * np.abs(warming) / HALF_WIDTH)
