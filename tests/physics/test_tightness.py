"""The fit of a pressure test's readings: closed forms, the uncertainty, what must not decide."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from checker.physics import fluid, instruments, tightness
from checker.physics.arrays import Floats
from checker.physics.tightness import Fall, Readings, Vessel

FIRST = 4e5
EVEN = np.linspace(0.0, 7200.0, 9)
Pressures = Callable[[Floats], Floats]


def vessel(warming: float = 0.0, uncertainty: float = 0.0, settling: float = 0.0) -> Vessel:
    rest = (np.zeros(1), np.zeros(1), np.ones(1))
    return Vessel(np.array([warming]), np.array([uncertainty]), np.array([settling]), *rest)


EN_805 = tightness.ALLOWED_FALL


def readings(at: Any, pressure: Any, temperature: Any = 15.0) -> Readings:
    at = np.asarray(at, dtype=float)
    test = np.zeros(len(at), dtype=np.int64)
    return Readings(
        at,
        np.broadcast_to(np.asarray(pressure, dtype=float), at.shape),
        np.broadcast_to(np.asarray(temperature, dtype=float), at.shape),
        test,
    )


def fitted(
    record: Readings, pipes: Vessel, *, settles: bool, sigma: float = 500.0
) -> tuple[float, float]:
    found = tightness.fall(record, pipes, np.array([sigma]), settles=settles)
    return float(found.rate[0]), float(found.uncertainty[0])


def orifice(fall: float) -> Floats:
    """dp/dt = −f·√(p/p₀) solved: p = p₀·(1 − f·t/(2·p₀))²."""
    return FIRST * (1 - fall * EVEN / (2 * FIRST)) ** 2


def settled(settling: float, stood: float) -> Floats:
    return FIRST * (1 - settling * np.log1p(EVEN / stood))


@pytest.mark.parametrize("fall", [0.0, 2.0, 20.0])
def test_a_pure_leak_comes_back_whole(fall: float) -> None:
    record = readings(EVEN, orifice(fall))
    assert fitted(record, vessel(), settles=False)[0] == pytest.approx(fall, rel=1e-9, abs=1e-9)
    assert fitted(record, vessel(), settles=True)[0] == pytest.approx(fall, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("warming", [-3e4, 8e4])
def test_a_pure_change_of_temperature_is_no_leak(warming: float) -> None:
    temperature = 15.0 + np.sin(EVEN / 3000.0)
    record = readings(EVEN, FIRST + warming * (temperature - 15.0), temperature)
    rate, uncertainty = fitted(record, vessel(warming, abs(warming) / 5), settles=False)
    assert rate == pytest.approx(0.0, abs=1e-9)
    assert uncertainty > 0


@pytest.mark.parametrize("stood", [60.0, 400.0, 3000.0, 4e4])
@pytest.mark.parametrize("settling", [0.03, 0.08, 0.12])
def test_pure_settling_is_no_sure_leak(settling: float, stood: float) -> None:
    record = readings(EVEN, settled(settling, stood))
    found = tightness.fall(record, vessel(settling=0.08), np.array([500.0]), settles=True)
    assert tightness.least(found) == 0.0


def test_settling_counts_as_a_fall_where_it_is_left_out() -> None:
    """Two readings, 5 min after pumping and 15 min later, s 0.08: 4 bar·0.08·ln 4 = 0.444 bar."""
    last = FIRST * (1 - 0.08 * np.log(4.0))
    rate, _ = fitted(readings([0.0, 900.0], [FIRST, last]), vessel(settling=0.08), settles=False)
    # A leak would have slackened to the root of the pressure: the mean of 1 and √(p/p₀).
    assert rate * 900.0 * (1 + np.sqrt(last / FIRST)) / 2 == pytest.approx(0.4436e5, rel=1e-3)


def test_a_leak_is_told_from_settling() -> None:
    """A fall of 1 bar, half of it each."""
    record = readings(EVEN, settled(0.08, 1800.0) - FIRST + orifice(8.0))
    found = tightness.fall(record, vessel(settling=0.08), np.array([300.0]), settles=True)
    assert 0 < tightness.least(found)[0] < 8.0
    assert abs(found.rate[0] - 8.0) < tightness.COVERAGE * found.uncertainty[0]


@pytest.mark.parametrize("count", [2, 3, 5, 12])
def test_uncertainty_of_a_straight_line(count: int) -> None:
    """Slope through n even points: σ·√(12·(n − 1)/(n·(n + 1)))/length; two points: σ·√2/length."""
    record = readings(np.linspace(0.0, 3600.0, count), FIRST)
    _, uncertainty = fitted(record, vessel(), settles=False, sigma=700.0)
    by_hand = 700.0 * np.sqrt(12 * (count - 1) / (count * (count + 1))) / 3600.0
    assert uncertainty == pytest.approx(by_hand, rel=1e-9)
    if count == 2:
        assert by_hand == pytest.approx(700.0 * np.sqrt(2.0) / 3600.0)


def test_uncertainty_of_the_warming_counts_with_the_change() -> None:
    """Two readings: √(2·σ² + (u(w)·ΔT)²)/length, the length less as a leak slackens meanwhile."""
    record = readings([0.0, 1200.0], [FIRST, FIRST - 3e4], [15.0, 16.0])
    _, uncertainty = fitted(record, vessel(-3e4, 9e3), settles=False, sigma=500.0)
    length = 1200.0 * (1 + np.sqrt(3.7 / 4.0)) / 2
    assert uncertainty == pytest.approx(np.sqrt(2 * 500.0**2 + 9e3**2) / length, rel=1e-9)


def test_settling_widens_what_a_leak_may_be() -> None:
    record = readings(EVEN, FIRST)
    without = fitted(record, vessel(settling=0.08), settles=False)[1]
    assert fitted(record, vessel(settling=0.08), settles=True)[1] > 2 * without
    assert fitted(record, vessel(settling=0.0), settles=True)[1] == pytest.approx(without)


def test_scatter_beyond_the_gauge_widens_it_from_four_readings_on() -> None:
    """Birge ratio: √(χ²/(n − 2))."""
    scatter = 2e3 * np.array([1.0, -1.0, -1.0, 1.0])
    at = np.linspace(0.0, 3600.0, 4)
    quiet = fitted(readings(at, FIRST), vessel(), settles=False)[1]
    loud = fitted(readings(at, FIRST + scatter), vessel(), settles=False)[1]
    # The scatter also moves the time in which a leak slackens, by a quarter of a percent.
    assert loud / quiet == pytest.approx(np.sqrt(4 * 2e3**2 / 500.0**2 / 2), rel=5e-3)
    three = readings(at[:3], FIRST + scatter[:3])
    assert fitted(three, vessel(), settles=False)[1] == pytest.approx(
        fitted(readings(at[:3], FIRST), vessel(), settles=False)[1], rel=5e-3
    )


def test_pipes_that_ran_empty_show_the_leak_that_emptied_them() -> None:
    """Readings after the first below half of the pressure say nothing more of the leak."""
    pressure = np.concatenate([orifice(80.0)[:5], np.zeros(4)])
    whole = fitted(readings(EVEN, pressure), vessel(), settles=False)
    below = int(np.argmax(pressure < FIRST / 2))
    part = fitted(readings(EVEN[: below + 1], pressure[: below + 1]), vessel(), settles=False)
    assert whole == pytest.approx(part)
    assert below == 4
    assert whole[0] == pytest.approx(80.0, rel=1e-9)


def test_tests_do_not_touch_one_another_and_order_is_free() -> None:
    one, other = readings(EVEN, orifice(5.0)), readings(EVEN[:2], [4e5, 3.9e5], [15.0, np.nan])
    at = np.concatenate([other.at, [0.0], one.at])
    both = Readings(
        at,
        np.concatenate([other.pressure, [4e5], one.pressure]),
        np.concatenate([other.temperature, [15.0], one.temperature]),
        np.array([0, 0, 1, *[2] * len(one.at)], dtype=np.int64),
    )
    shuffled = np.random.default_rng(7).permutation(len(at))
    mixed = Readings(
        at[shuffled], both.pressure[shuffled], both.temperature[shuffled], both.test[shuffled]
    )
    pipes = Vessel(*(np.full(3, one) for one in (-3e4, 6e3, 0.07, 0.0, 0.0, 1.0)))
    found = tightness.fall(mixed, pipes, np.full(3, 500.0), settles=True)
    # A temperature is missing; there is one reading; and the third is as if it were alone.
    assert np.isnan(found.rate[:2]).all()
    assert np.isnan(found.uncertainty[:2]).all()
    alone = fitted(one, vessel(-3e4, 6e3, 0.07), settles=True)
    assert (found.rate[2], found.uncertainty[2]) == pytest.approx(alone, rel=1e-9)


@pytest.mark.parametrize("field", range(3))
def test_nothing_is_known_of_pipes_that_are_not(field: int) -> None:
    pipes = Vessel(*(np.array([np.nan if at == field else float(at == 5)]) for at in range(6)))
    found = tightness.fall(readings(EVEN, FIRST), pipes, np.array([500.0]), settles=True)
    assert np.isnan(found.rate).all()


def test_no_readings_at_all() -> None:
    nothing = Readings(np.empty(0), np.empty(0), np.empty(0), np.empty(0, dtype=np.int64))
    found = tightness.fall(nothing, vessel(), np.array([500.0]), settles=True)
    assert np.isnan(found.rate).all()
    assert np.isnan(instruments.gauge_step(nothing.pressure, nothing.test, 1)).sum() == 0


def test_bounds_of_a_leak() -> None:
    rate = np.array([10.0, 10.0, -1.0, -10.0])
    fall = Fall(rate, np.array([2.0, 5.0, 1.0, 1.0]))
    assert tightness.least(fall).tolist() == [4.0, 0.0, 0.0, 0.0]
    # The last rises by more than twice its uncertainty.
    np.testing.assert_array_equal(tightness.most(fall), [14.0, 20.0, 1.0, np.nan])


BAR, PSI = 1e5, 6894.757293168362


@pytest.mark.parametrize(
    ("pressure", "step"),
    [
        ([4.05 * BAR, 4.04 * BAR], 0.01 * BAR),
        ([4.0 * BAR, 4.0 * BAR], 0.1 * BAR),
        ([4.05 * BAR, 4.0 * BAR], 0.05 * BAR),
        ([402e3, 401.5e3], 500.0),
        ([60 * PSI, 59 * PSI], PSI),
        ([60.5 * PSI, 59 * PSI], 0.5 * PSI),
        ([np.pi * BAR, 3 * BAR], 50.0),
    ],
)
def test_the_step_of_a_gauge(pressure: list[float], step: float) -> None:
    found = instruments.gauge_step(np.array(pressure), np.array([0, 0]), 1)
    assert found[0] == pytest.approx(step)


@pytest.mark.parametrize(
    ("temperature", "step"),
    [
        ([15.0, 15.0], 1.0),
        ([15.0, 15.5], 0.5),
        ([15.2, 15.3], 0.1),
        ([(61 - 32) / 1.8, (60 - 32) / 1.8], 1 / 1.8),
        ([15.123, 15.0], 0.01),
    ],
)
def test_the_step_of_a_thermometer(temperature: list[float], step: float) -> None:
    found = instruments.thermometer_step(np.array(temperature), np.array([0, 0]), 1)
    assert found[0] == pytest.approx(step)


def test_one_reading_by_hand() -> None:
    """Gauge to 0.1 bar, thermometer to 1 K, −30 kPa/K: √(5² + 15²) kPa."""
    found = instruments.reading_uncertainty(np.array(1e4), np.array(1.0), np.array(-3e4))
    assert found == pytest.approx(np.hypot(5e3, 15e3))


def test_give_by_hand() -> None:
    """C 12e-9/Pa, E a third up or down: 9 and 18; with air at 5 bar absolute: 2e-6/Pa; and in
    water 0, 0.1 and 0.2 % of that."""
    gauge, water = 5e5 - 101_325.0, float(fluid.compressibility(15.0))
    softness = np.array([-1.0, 0.0, 1.0])
    found = tightness.give(0.0, 12e-9, gauge, 15.0, softness)
    np.testing.assert_allclose(found, [9e-9 + water, 14e-9 + water, 22e-9 + water], rtol=1e-12)
    found = tightness.give(1.0, 12e-9, gauge, 15.0, softness)
    np.testing.assert_allclose(found, [2.009e-6, 2.012e-6, 2.018e-6], rtol=1e-12)


def test_what_fills_the_pipes_grows() -> None:
    found = tightness.filling_expansion(np.array([1.0, 0.0]), 15.0)
    np.testing.assert_allclose(found, [1 / 288.15, float(fluid.expansion(15.0))])


def test_warming_by_hand() -> None:
    """Gain −4.2e-4/K; give 10 to 20, likely 14 in 1e-9/Pa: halfway between −42 and −21 kPa/K."""
    warming = tightness.warming(-4.2e-4, 10e-9, 20e-9)
    assert warming == pytest.approx(-31.5e3)
    uncertainty = tightness.warming_uncertainty(warming, 5.4e-4, 14e-9, 10e-9, 20e-9)
    parts = (5.4e-4 / 3 / 14e-9, 10.5e3, 31.5e3 / 5)
    assert uncertainty == pytest.approx(np.sqrt(sum(part**2 for part in parts) / 3))


def test_the_hold_that_would_tell_by_hand() -> None:
    """Four readings: σ·√(36/20)·2/length ≤ 20 kPa/h, so σ = 5 kPa needs 0.67 h, the next hold 1 h."""
    assert tightness.deciding_hold(5e3, 4, 0.0, 0.0, EN_805) == 3600.0
    assert tightness.deciding_hold(5e3, 2, 0.0, 0.0, EN_805) == 3600.0  # four are told to be read
    assert tightness.deciding_hold(5e3, 40, 0.0, 0.0, EN_805) == 1800.0
    assert tightness.deciding_hold(5e4, 4, 0.0, 0.0, EN_805) == 8 * 3600.0
    # What settles, 30 kPa for each unit of ln t, needs six hours by itself, unless it is known
    # to fall less.
    assert tightness.deciding_hold(500.0, 4, 3e4, 100.0, EN_805) == 6 * 3600.0
    assert tightness.deciding_hold(500.0, 4, 3e4, 1.0, EN_805) == 1800.0
    assert np.isnan(tightness.deciding_hold(1e6, 4, 0.0, 0.0, EN_805))
    assert np.isnan(tightness.deciding_hold(np.nan, 4, 0.0, 0.0, EN_805))


def test_a_pipe_that_creeps_gives_back_more_of_a_slow_fall() -> None:
    """Boltzmann: a fall at a steady rate f lets C·f·∫((1 + s/τ)^n)ds go, by many small steps."""
    n, length, steps = 0.08, 86400.0, 200_000
    middle = (np.arange(steps) + 0.5) * length / steps
    summed = np.sum((1 + middle / 60.0) ** n) * (length / steps) / length
    found = tightness.crept(np.array([length]), np.array([1.0]), np.array([n]))
    assert found[0] == pytest.approx(summed, rel=1e-3)
    assert tightness.crept(np.array([length]), np.array([0.0]), np.array([n]))[0] == 1.0


def test_the_band_is_wider_where_the_give_is_unsure() -> None:
    fall = tightness.Fall(np.array([10.0]), np.array([1.0]))
    same, less, more = np.array([2.0]), np.array([1.5]), np.array([3.0])
    assert np.array(tightness.band(fall, same, same, same)).ravel() == pytest.approx([8.0, 12.0])
    low, high = (float(end[0]) for end in tightness.band(fall, less, same, more))
    assert low == pytest.approx(10 - np.hypot(2, 2 * 10 * 0.25 / np.sqrt(3)))
    assert high == pytest.approx(10 + np.hypot(2, 2 * 10 * 0.5 / np.sqrt(3)))
