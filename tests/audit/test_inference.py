"""What readings say of covering and length: planted values found again, and honest silence."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.core import Reynolds
from fluids.friction import friction_factor
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy.special import chdtrc

from checker.arrays import Array
from checker.audit import inference
from checker.audit.inference import Errors, LoopReadings
from checker.audit.loop_models import LoopModel

MODEL = LoopModel(
    area=12.0,
    length=88.0,
    bore=0.012,
    roughness=1.5e-6,
    spacing=0.15,
    cover=0.045,
    conductivity=1.2,
    covering_resistance=0.02,
    pipe_outside=0.016,
    pipe_wall=0.002,
    pipe_conductivity=0.35,
    downward_resistance=4.0,
    below_temperature=10.0,
    room_temperature=20.0,
    fluid_kind=0.0,
    fluid_fraction=0.0,
    below_is_room=False,
)
ERRORS = Errors(flow=0.05, temperature=0.25, surface=0.5, pressure=500.0, content=0.015)
LITRE = 1e-3 / 60  # l/min in m³/s


def _read(**known: Array | float | list[float]) -> LoopReadings:
    arrays = {name: np.atleast_1d(np.asarray(value, float)) for name, value in known.items()}
    size = max(len(value) for value in arrays.values())
    blank = np.full(size, np.nan)
    names = ("flow", "supply", "back", "room", "surface", "pressure_drop", "content")
    return LoopReadings(**{name: arrays.get(name, blank) for name in names})


def _visits(covering: float, **changed: float) -> LoopReadings:
    model = replace(MODEL, **changed)
    flow, supply = np.array([1.6, 1.7]) * LITRE, np.array([40.0, 38.0])
    room = np.array([19.0, 20.0])
    back = model.return_at(flow, supply, room, covering)
    surface = model.surface_at(flow, supply, room, covering)
    return _read(flow=flow, supply=supply, back=back, room=room, surface=surface)


@pytest.mark.parametrize("planted", [0.0, 0.004, 0.02, 0.05, 0.0871, 0.12, 0.15])
def test_a_planted_covering_is_found_again(planted: float) -> None:
    found = inference.covering(MODEL, _visits(planted), ERRORS)
    assert found.value == pytest.approx(planted, abs=2e-4)
    assert found.low <= planted + 2e-4
    assert found.high >= planted - 2e-4
    assert found.readings == 2
    assert 0.005 < found.high - found.low < 0.15


@pytest.mark.long
def test_the_range_holds_what_was_planted_in_95_percent_of_cases() -> None:
    chance = np.random.default_rng(1264)
    planted, room = 0.07, 20.0
    held = 0
    tries = 250
    for _ in range(tries):
        flow, supply = 1.6 * LITRE, 40.0
        back = MODEL.return_at(np.array([flow]), np.array([supply]), np.array([room]), planted)[0]
        read = _read(
            flow=flow * (1 + chance.normal(0, ERRORS.flow)),
            supply=supply + chance.normal(0, ERRORS.temperature),
            back=back + chance.normal(0, ERRORS.temperature),
            room=room + chance.normal(0, ERRORS.temperature),
        )
        found = inference.covering(MODEL, read, ERRORS)
        held += found.low <= planted <= found.high
    # Three standard deviations of a share of 0.95 in 250 tries are 0.041.
    assert 0.909 <= held / tries <= 0.991


def test_worse_instruments_say_less() -> None:
    good = inference.covering(MODEL, _visits(0.07), replace(ERRORS, temperature=0.1, flow=0.02))
    fair = inference.covering(MODEL, _visits(0.07), ERRORS)
    assert good.deviation < fair.deviation
    poor = inference.covering(
        MODEL, _visits(0.07), replace(ERRORS, temperature=3.0, flow=0.2, surface=5.0)
    )
    assert np.isnan(poor.value)
    assert "the readings are only good to" in poor.because


def test_much_water_hides_the_covering() -> None:
    flow = np.array([12.0]) * LITRE
    supply, room = np.array([40.0]), np.array([20.0])
    back = MODEL.return_at(flow, supply, room, 0.07)
    found = inference.covering(MODEL, _read(flow=flow, supply=supply, back=back, room=room), ERRORS)
    assert np.isnan(found.value)
    assert "the return moves by" in found.because


def test_beyond_the_tables_no_number_is_given() -> None:
    by_return = replace(ERRORS, surface=50.0)
    warm = inference.covering(MODEL, _visits(0.02, area=4.0), by_return)
    assert np.isnan(warm.value)
    assert warm.beyond == 1
    cold = inference.covering(MODEL, _visits(0.0, area=20.0), by_return)
    assert np.isnan(cold.value)
    assert cold.beyond == -1
    assert "heat goes elsewhere" in cold.because


def test_readings_that_contradict_one_another_give_nothing() -> None:
    read = _visits(0.07)
    read = replace(read, back=read.back + np.array([-2.0, 2.0]))
    found = inference.covering(MODEL, read, ERRORS)
    assert np.isnan(found.value)
    assert "contradict one another" in found.because


@given(st.integers(1, 300), st.floats(0, 3))
def test_the_tail_of_chi_squared_is_that_of_a_general_library(freedom: int, share: float) -> None:
    squares = share * freedom
    expected = float(chdtrc(freedom, squares))  # SciPy's own way: the incomplete gamma function
    assert inference.chi_squared_tail(squares, freedom) == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize(
    ("freedom", "squares", "tail"),
    # Critical values at 5 % and 1 %, as tables of the distribution print them, to their last digit
    # (seen: memory).
    [(1, 3.841, 0.05), (2, 5.991, 0.05), (5, 11.070, 0.05), (10, 18.307, 0.05), (3, 11.345, 0.01)],
)
def test_the_tail_of_chi_squared_at_tabulated_values(
    freedom: int, squares: float, tail: float
) -> None:
    assert inference.chi_squared_tail(squares, freedom) == pytest.approx(tail, rel=3e-4)


def test_the_tail_of_chi_squared_at_its_ends() -> None:
    assert inference.chi_squared_tail(0.0, 3) == 1
    assert inference.chi_squared_tail(1e9, 400) == 0
    assert inference.chi_squared_tail(float("inf"), 4) == 0


@pytest.mark.parametrize("lacking", ["flow", "supply", "back"])
def test_nothing_is_said_without_the_readings_it_takes(lacking: str) -> None:
    read = _visits(0.07)
    read = replace(read, **{lacking: np.full(2, np.nan)})
    found = inference.covering(MODEL, read, ERRORS)
    assert np.isnan(found.value)
    assert found.because == "flow, supply and return were not read at the same time"


def test_a_missing_datum_of_the_floor_is_no_guess() -> None:
    found = inference.covering(replace(MODEL, spacing=float("nan")), _visits(0.07), ERRORS)
    assert np.isnan(found.value)
    assert "a datum of the floor is missing" in found.because


def test_length_from_pressure_loss() -> None:
    """Against Colebrook as the library fluids has it; water at 35 °C by IAPWS-95, from memory."""
    flow, length = 3.0 * LITRE, 128.0
    speed = flow / (np.pi / 4 * 0.012**2)
    density, viscosity = 994.03, 719.1e-6
    reynolds = Reynolds(V=speed, D=0.012, rho=density, mu=viscosity)
    factor = friction_factor(Re=reynolds, eD=1.5e-6 / 0.012)
    loss = factor * length / 0.012 * density * speed**2 / 2
    read = _read(flow=flow, supply=38.0, back=32.0, pressure_drop=loss)
    found = inference.length(MODEL, read, ERRORS)
    assert found.value == pytest.approx(length, rel=2e-3)
    assert found.low < length < found.high
    # Δp grows with about the 1.75th power of a turbulent flow: 5 % of flow are some 9 % of length.
    assert found.deviation / length == pytest.approx(0.09, abs=0.01)


def test_length_from_water_content() -> None:
    content = 100.0 * np.pi / 4 * 0.012**2
    found = inference.length(MODEL, _read(content=content), ERRORS)
    assert found.value == pytest.approx(100.0)
    assert found.deviation == pytest.approx(1.5)


def test_length_is_not_told_from_temperatures() -> None:
    found = inference.length(MODEL, _visits(0.02), ERRORS)
    assert np.isnan(found.value)
    assert "the temperatures depend on the heated area" in found.because


def test_a_loss_too_small_for_the_gauge_gives_no_length() -> None:
    read = _read(flow=1.0 * LITRE, supply=38.0, back=32.0, pressure_drop=900.0)
    found = inference.length(MODEL, read, ERRORS)
    assert np.isnan(found.value)
    assert "the readings leave it within" in found.because


def test_lengths_that_contradict_one_another_give_nothing() -> None:
    contents = np.array([60.0, 120.0]) * np.pi / 4 * 0.012**2
    found = inference.length(MODEL, _read(content=contents), ERRORS)
    assert np.isnan(found.value)
    assert "contradict one another" in found.because
