"""The fit of a pressure test's readings: closed forms, the uncertainty, what must not decide."""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from checker.arrays import Array
from checker.physics import fluid, instruments, leak_fit, slackening, tightness
from checker.physics.leak import ATMOSPHERE
from checker.physics.leak_fit import Loss, Readings, Vessel, Way

FIRST = 4e5
EVEN = np.linspace(0.0, 7200.0, 9)
Pressures = Callable[[Array], Array]
HOLE = (Way(0.5, 0.5, 1.0),)
"""An opening that is fixed, and one share of air."""


def vessel(
    gain: float = 0.0, uncertainty: float = 0.0, settling: float = 0.0, air: float = 0.0
) -> Vessel:
    """Pipes that free a share of 1 for a pascal, so that a loss reads as a fall of pressure."""
    values = (1.0, 0.0, settling, 0.0, gain, uncertainty, air, 1.0)
    return Vessel(*(np.array([one]) for one in values))


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


def lost(
    record: Readings,
    pipes: Vessel,
    *,
    settles: bool,
    sigma: float = 500.0,
    ways: Sequence[Way] = HOLE,
) -> Loss:
    count = len(pipes.gain)
    return leak_fit.lost(
        record, pipes, np.full(count, sigma), np.zeros(count), settles=settles, ways=ways
    )


def fitted(
    record: Readings, pipes: Vessel, *, settles: bool, sigma: float = 500.0
) -> tuple[float, float]:
    """The fall, and its uncertainty without what the model itself may be off."""
    found = lost(record, pipes, settles=settles, sigma=sigma)
    rate = float(found.rate[0])
    return rate, float(np.sqrt(found.uncertainty[0] ** 2 - (leak_fit.MODEL * rate) ** 2))


def orifice(fall: float) -> Array:
    """dp/dt = −f·√(p/p₀) solved: p = p₀·(1 − f·t/(2·p₀))²."""
    return FIRST * (1 - fall * EVEN / (2 * FIRST)) ** 2


def settled(settling: float, stood: float) -> Array:
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
    assert rate == pytest.approx(0.0, abs=1e-6)
    assert uncertainty > 0


@pytest.mark.parametrize("stood", [60.0, 400.0, 3000.0, 4e4])
@pytest.mark.parametrize("settling", [0.03, 0.08, 0.12])
def test_pure_settling_is_no_sure_leak(settling: float, stood: float) -> None:
    record = readings(EVEN, settled(settling, stood))
    found = lost(record, vessel(settling=0.08), settles=True)
    assert leak_fit.least(found) == 0.0


def test_settling_counts_as_a_fall_where_it_is_left_out() -> None:
    """Two readings, 5 min after pumping and 15 min later, s 0.08: 4 bar·0.08·ln 4 = 0.444 bar."""
    last = FIRST * (1 - 0.08 * np.log(4.0))
    rate, _ = fitted(readings([0.0, 900.0], [FIRST, last]), vessel(settling=0.08), settles=False)
    # A leak would have slackened to the root of the pressure: the mean of 1 and √(p/p₀).
    assert rate * 900.0 * (1 + np.sqrt(last / FIRST)) / 2 == pytest.approx(0.4436e5, rel=1e-3)


def test_a_leak_is_told_from_settling() -> None:
    """A fall of 1 bar, half of it each."""
    record = readings(EVEN, settled(0.08, 1800.0) - FIRST + orifice(8.0))
    found = lost(record, vessel(settling=0.08), settles=True, sigma=300.0)
    assert 0 < leak_fit.least(found)[0] < 8.0
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
    """Readings after the first below a tenth of the pressure say nothing more of the leak."""
    pressure = np.concatenate([orifice(140.0)[:6], np.zeros(3)])
    whole = fitted(readings(EVEN, pressure), vessel(), settles=False)
    below = int(np.argmax(pressure < FIRST / 10))
    part = fitted(readings(EVEN[: below + 1], pressure[: below + 1]), vessel(), settles=False)
    assert whole == pytest.approx(part)
    assert below == 5
    assert whole[0] == pytest.approx(140.0, rel=1e-9)


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
    alone = vessel(-3e4, 6e3, 0.07)
    pipes = Vessel(*(np.repeat(column, 3) for column in alone))
    found = lost(mixed, pipes, settles=True)
    # A temperature is missing; there is one reading; and the third is as if it were alone.
    assert np.isnan(found.rate[:2]).all()
    assert np.isnan(found.uncertainty[:2]).all()
    by_itself = lost(one, alone, settles=True)
    for whole, part in zip(found, by_itself, strict=True):
        assert float(whole[2]) == pytest.approx(float(part[0]), rel=1e-9)


@pytest.mark.parametrize("field", range(8))
def test_nothing_is_known_of_pipes_that_are_not(field: int) -> None:
    known = vessel(-3e4, 6e3, 0.07)
    pipes = Vessel(*(np.full(1, np.nan) if at == field else one for at, one in enumerate(known)))
    found = lost(readings(EVEN, FIRST), pipes, settles=True)
    assert np.isnan(found.rate).all()


def test_no_readings_at_all() -> None:
    nothing = Readings(np.empty(0), np.empty(0), np.empty(0), np.empty(0, dtype=np.int64))
    found = lost(nothing, vessel(), settles=True)
    assert np.isnan(found.rate).all()
    assert np.isnan(instruments.gauge_step(nothing.pressure, nothing.test, 1)).sum() == 0


def test_one_way_lies_between_its_own_ends() -> None:
    """Two standard deviations either way; what is sure, by the instruments alone."""
    found = lost(readings(EVEN, orifice(140.0)), vessel(), settles=False, sigma=20e3)
    rate, spread = float(found.rate[0]), float(found.uncertainty[0])
    read = np.sqrt(spread**2 - (leak_fit.MODEL * rate) ** 2)
    assert spread > 1.05 * leak_fit.MODEL * rate
    assert found.low[0] == pytest.approx(rate - 2 * spread)
    assert found.most[0] == pytest.approx(rate + 2 * spread)
    assert found.least[0] == pytest.approx(rate - tightness.SURE * read)


def test_bounds_of_a_leak() -> None:
    rate = np.array([10.0, 10.0, -1.0, -10.0])
    spread, zero = np.array([2.0, 5.0, 1.0, 1.0]), np.zeros(4)
    low, high = rate - 2 * spread, rate + 2 * spread
    loss = Loss(rate, spread, low, low, high)
    assert leak_fit.least(loss).tolist() == [6.0, 0.0, 0.0, 0.0]
    # The last rises by more than twice its uncertainty.
    np.testing.assert_array_equal(leak_fit.most(loss, zero), [14.0, 20.0, 1.0, np.nan])
    # Pipe that is softer by half, a third of an even spread, lets more go.
    softer = leak_fit.most(loss, zero + 1.0)
    assert softer[0] == pytest.approx(10 + np.hypot(4.0, 2 * 10 * 0.5 / np.sqrt(3)))


def boyle(fall: float, steps: int = 40_000) -> Array:
    """An orifice, stepped finely: dp/dt = −f·√(p/p₁)·g₁/g(p), the air squeezed from p₁."""
    pressure, found = FIRST, [FIRST]
    at = 7200.0 / steps
    for _ in range(steps):
        give = 1.0 + AIR * (FIRST + ATMOSPHERE) / (pressure + ATMOSPHERE) ** 2
        pressure -= at * fall * np.sqrt(max(pressure, 0.0) / FIRST) / give
        found.append(pressure)
    return np.interp(EVEN, np.linspace(0.0, 7200.0, steps + 1), found)


AIR = 1e6
"""A volume of air such that its first pascal frees twice what all else does."""


@pytest.mark.parametrize("fall", [20.0, 200.0])
def test_trapped_air_gives_more_as_the_pressure_falls(fall: float) -> None:
    """Boyle's law; the loss comes back from readings that an integration of its own made."""
    found = lost(readings(EVEN, boyle(fall)), vessel(air=2 * AIR), settles=False)
    assert found.rate[0] == pytest.approx(fall, rel=2e-3)
    without = lost(readings(EVEN, boyle(fall)), vessel(), settles=False)
    assert without.rate[0] < fall / 2


def test_what_air_frees_by_hand() -> None:
    """A litre at 5 bar absolute takes 1.25 l at 4 and 2.5 l at 2 (Boyle)."""
    first = np.full(2, 5e5 - ATMOSPHERE)
    down = np.array([4e5, 2e5]) - ATMOSPHERE
    free, slope = slackening.freed(down, first, np.zeros(2), np.ones(2))
    assert free == pytest.approx([0.25, 1.5])
    assert slope == pytest.approx([1.25 / 4e5, 2.5 / 2e5])


@pytest.mark.parametrize("exponent", [0.5, 1.0])
@pytest.mark.parametrize(("give", "air"), [(1.0, 0.0), (1.0, 1e6), (5e-9, 0.02)])
def test_how_a_leak_slackens_on_its_way_down(exponent: float, give: float, air: float) -> None:
    """The mean over time, summed: dt = (p₁/p)^m·dF; the last of a pipe with a fiftieth of air."""
    pressure = np.linspace(FIRST, FIRST / 5, 200_001)
    first, own, held = (np.full_like(pressure, one) for one in (FIRST, give, air))
    free, _ = slackening.freed(pressure, first, own, held)
    middle = (pressure[1:] + pressure[:-1]) / 2
    time = np.sum(np.diff(free) * (FIRST / middle) ** exponent)
    high, low, soft, trapped = (np.array([one]) for one in (FIRST, FIRST / 5, give, air))
    found = slackening.slackened(high, low, high, soft, trapped, np.array([exponent]))
    assert found[0] == pytest.approx((free[-1] - free[0]) / time, rel=1e-6)


def test_a_share_of_air_that_the_readings_deny_counts_little() -> None:
    record = readings(EVEN, boyle(200.0))
    shares = tuple(Way(0.5, share, 1 / 3) for share in (0.0, 0.5, 1.0))
    found = lost(record, vessel(air=2 * AIR), settles=False, ways=shares)
    assert found.rate[0] == pytest.approx(200.0, rel=0.05)
    few = readings(EVEN[[0, 1]], boyle(200.0)[[0, 1]])
    unsure = lost(few, vessel(air=2 * AIR), settles=False, ways=shares)
    # Two readings cannot deny any: what it lies between reaches from no air to most of it.
    assert unsure.most[0] - unsure.low[0] > 1.5 * (found.most[0] - found.low[0])


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


def test_give_of_the_filling_by_hand() -> None:
    """Water's own; of air at 5 bar absolute 2e-6/Pa."""
    gauge, water = 5e5 - ATMOSPHERE, float(fluid.compressibility(15.0))
    found = tightness.filling_give(np.array([0.0, 1.0]), gauge, 15.0)
    np.testing.assert_allclose(found, [water, 2e-6], rtol=1e-12)


def test_what_fills_the_pipes_grows() -> None:
    found = tightness.filling_expansion(np.array([1.0, 0.0]), 15.0)
    np.testing.assert_allclose(found, [1 / 288.15, float(fluid.expansion(15.0))])


def test_uncertainty_of_a_kelvin_by_hand() -> None:
    """Bore 5.4e-4/K a third either way, gain −4.2e-4/K of which a fifth may be missed; over √3."""
    found = tightness.gain_uncertainty(-4.2e-4, 5.4e-4)
    assert found == pytest.approx(np.sqrt((1.8e-4**2 + 0.84e-4**2) / 3))


def test_a_drift_that_the_thermometer_hides() -> None:
    """Half a step of 1 K, evenly, at −30 kPa/K: 15/√3 kPa. Two steady readings are as unsure."""
    assert instruments.hidden_drift(np.array(1.0), np.array(-3e4)) == pytest.approx(
        15e3 / np.sqrt(3)
    )
    record = readings([0.0, 3600.0], FIRST)
    pipes = vessel(-3e4)
    found = leak_fit.lost(record, pipes, np.full(1, 1.0), np.full(1, 0.5), settles=False, ways=HOLE)
    by_hand = 15e3 * np.sqrt(2 + 1 / 3) / 3600.0
    assert found.uncertainty[0] == pytest.approx(by_hand, rel=1e-3)


@pytest.mark.parametrize("fall", [-5.0, -0.5, -1e-3, 0.0])
def test_where_nothing_falls_nothing_settles(fall: float) -> None:
    """A rise neither shortens the hold, as if it made room for a leak, nor counts as settling."""
    without = tightness.deciding_hold(300.0, 0.0, 5, 0.0, 1.0, 0.05)
    assert 3600.0 <= without < 72 * 3600.0
    assert tightness.deciding_hold(300.0, 0.0, 5, 2e3, fall, 0.05) == without
    assert tightness.deciding_hold(300.0, 0.0, 5, 2e3, 1.0, 0.05) > without


def test_the_hold_that_would_tell_by_hand() -> None:
    """Four readings: σ·√(36/20)·2/length ≤ 20 kPa/h, so σ = 5 kPa needs 0.67 h, the next hold 1 h."""
    assert tightness.deciding_hold(5e3, 0.0, 4, 0.0, 0.0, EN_805) == 3600.0
    assert (
        tightness.deciding_hold(5e3, 0.0, 2, 0.0, 0.0, EN_805) == 3600.0
    )  # four are told to be read
    assert tightness.deciding_hold(5e3, 0.0, 40, 0.0, 0.0, EN_805) == 1800.0
    assert tightness.deciding_hold(5e4, 0.0, 4, 0.0, 0.0, EN_805) == 8 * 3600.0
    # What settles, 30 kPa for each unit of ln t, needs six hours by itself, unless it is known
    # to fall less.
    assert tightness.deciding_hold(500.0, 0.0, 4, 3e4, 100.0, EN_805) == 6 * 3600.0
    assert tightness.deciding_hold(500.0, 0.0, 4, 3e4, 1.0, EN_805) == 1800.0
    # What the thermometer may hide does not shrink with more readings: 2·20 kPa want two hours.
    assert tightness.deciding_hold(0.0, 2e4, 40, 0.0, 0.0, EN_805) == 2 * 3600.0
    assert np.isnan(tightness.deciding_hold(1e6, 0.0, 4, 0.0, 0.0, EN_805))
    assert np.isnan(tightness.deciding_hold(np.nan, 0.0, 4, 0.0, 0.0, EN_805))


def test_a_pipe_that_creeps_gives_back_more_of_a_slow_fall() -> None:
    """Boltzmann: a fall at a steady rate f lets C·f·∫((1 + s/τ)^n)ds go, by many small steps."""
    n, length, steps = 0.08, 86400.0, 200_000
    middle = (np.arange(steps) + 0.5) * length / steps
    summed = np.sum((1 + middle / 60.0) ** n) * (length / steps) / length
    found = slackening.crept(np.array([length]), np.array([1.0]), np.array([n]))
    assert found[0] == pytest.approx(summed, rel=1e-3)
    assert slackening.crept(np.array([length]), np.array([0.0]), np.array([n]))[0] == 1.0


def test_the_band_is_wider_where_the_stiffness_is_unsure() -> None:
    """A third of the modulus either way is a bore that yields half more or a quarter less."""
    loss = Loss(*(np.array([one]) for one in (10.0, 1.0, 7.0, 6.0, 14.0)))
    assert np.array(leak_fit.band(loss, np.zeros(1))).ravel() == pytest.approx([8.0, 12.0])
    low, high = (float(end[0]) for end in leak_fit.band(loss, np.ones(1)))
    assert low == pytest.approx(10 - np.hypot(2, 2 * 10 * 0.25 / np.sqrt(3)))
    assert high == pytest.approx(10 + np.hypot(2, 2 * 10 * 0.5 / np.sqrt(3)))


def test_the_ways_of_trapped_air_stand_evenly_for_all_shares_of_it() -> None:
    """The trapezoid rule: even steps from none to the most, the ends with half the weight."""
    for exponent, often in leak_fit.EXPONENTS.items():
        ways = [way for way in leak_fit.WAYS if way.exponent == exponent]
        assert [way.air for way in ways] == pytest.approx(np.linspace(0, 1, len(ways)))
        ends, between = [ways[0], ways[-1]], ways[1:-1]
        assert sum(way.share for way in ways) == pytest.approx(often)
        assert {way.share for way in between} == {between[0].share}
        assert {way.share for way in ends} == {between[0].share / 2}


@pytest.mark.parametrize("readings", [4, 9, 30])
def test_a_hold_is_enough_where_the_fitted_line_is_sure_enough(readings: int) -> None:
    """The slope's uncertainty is σ/√Σ(t − t̄)², worked from the times themselves."""
    times = np.linspace(0.0, 2 * 3600.0, readings)
    spread = float(np.sqrt(((times - times.mean()) ** 2).sum()))
    just = EN_805 * spread / tightness.COVERAGE
    assert tightness.deciding_hold(0.999 * just, 0.0, readings, 0.0, 0.0, EN_805) == 2 * 3600.0
    assert tightness.deciding_hold(1.001 * just, 0.0, readings, 0.0, 0.0, EN_805) == 3 * 3600.0
