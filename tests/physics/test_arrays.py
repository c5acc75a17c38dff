"""What every function of the package promises: broadcasting, silence, NaN for what is missing."""

import inspect
import itertools
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from checker.arrays import Array
from checker.physics import (
    arrays,
    balance,
    film,
    floor,
    floor_coefficient,
    floor_surface,
    fluid,
    friction,
    header,
    leak,
)

GLYCOL = {"kind": fluid.PROPYLENE_GLYCOL, "mass_fraction": 0.25}
LOSS = {"upward_resistance": 0.15, "downward_resistance": 2.5, "below_temperature": 10.0}
LOOP = {"supply_temperature": 45.0, "room_temperature": 20.0, "area": 12.0}
LOOP |= {"heat_coefficient": 4.0, **LOSS, **GLYCOL}

# One sound case for each function that works element by element.
CASES: dict[Callable[..., Any], dict[str, float]] = {
    fluid.density: {**GLYCOL, "temperature": 35.0},
    fluid.specific_heat: {**GLYCOL, "temperature": 35.0},
    fluid.viscosity: {**GLYCOL, "temperature": 35.0},
    fluid.conductivity: {**GLYCOL, "temperature": 35.0},
    fluid.freezing_point: GLYCOL,
    film.nusselt: {"reynolds": 5000.0, "prandtl": 4.0},
    film.film_coefficient: {
        "reynolds": 5000.0,
        "viscosity": 7e-4,
        "specific_heat": 4180.0,
        "conductivity": 0.62,
        "bore": 0.012,
    },
    fluid.expansion: {"temperature": 20.0},
    fluid.compressibility: {"temperature": 20.0},
    friction.reynolds: {"velocity": 0.3, "bore": 0.012, "density": 992.0, "viscosity": 6.5e-4},
    friction.friction_factor: {"reynolds": 5000.0, "relative_roughness": 1e-4},
    friction.pressure_drop: {
        "length": 88.0,
        "bore": 0.012,
        "velocity": 0.3,
        "density": 992.0,
        "factor": 0.037,
    },
    floor_surface.basic_output: {"surface_excess": 6.0},
    floor_surface.surface_mean: {"room_temperature": 20.0, "output": 60.0},
    floor_coefficient.heat_coefficient: {
        "spacing": 0.15,
        "cover": 0.045,
        "conductivity": 1.2,
        "covering_resistance": 0.02,
        "pipe_outside": 0.016,
        "pipe_wall": 0.002,
        "pipe_conductivity": 0.35,
    },
    floor_coefficient.screed_factor: {"conductivity": 1.2, "covering_resistance": 0.02},
    floor_coefficient.spacing_factor: {"covering_resistance": 0.02},
    floor_coefficient.cover_factor: {"spacing": 0.15, "covering_resistance": 0.02},
    floor_coefficient.diameter_factor: {"spacing": 0.15, "covering_resistance": 0.02},
    floor_coefficient.power_product: {
        "spacing": 0.15,
        "cover": 0.045,
        "pipe_outside": 0.016,
        "screed_factor": 0.9,
        "spacing_factor": 1.2,
        "cover_factor": 1.05,
        "diameter_factor": 1.04,
    },
    floor_coefficient.wall_factor: {
        "product": 0.7,
        "spacing": 0.15,
        "pipe_outside": 0.016,
        "pipe_wall": 0.002,
        "pipe_conductivity": 0.22,
    },
    floor_coefficient.product_coefficient: {
        "product": 0.7,
        "factor": 6.5,
        "spacing": 0.15,
        "cover": 0.12,
        "conductivity": 1.2,
    },
    floor_surface.curve_excess: {
        "factor": 80.0,
        "exponent": 0.05,
        "spacing": 0.4,
        "cover": 0.045,
        "heat_coefficient": 4.9,
    },
    floor_surface.limit_curve: {"spacing": 0.15, "cover": 0.045, "conductivity": 1.2},
    floor_surface.unit_limit_excess: {
        "spacing": 0.4,
        "cover": 0.08,
        "conductivity": 1.2,
        "heat_coefficient": 3.0,
    },
    floor_surface.limit_excess: {
        "unit_limit_excess": 15.0,
        "heat_coefficient": 5.0,
        "room_temperature": 20.0,
        "limit_surface": 29.0,
    },
    floor_surface.limit_output: {
        "unit_limit_excess": 15.0,
        "heat_coefficient": 5.0,
        "room_temperature": 20.0,
        "limit_surface": 29.0,
    },
    floor_surface.surface_max: {
        "room_temperature": 20.0,
        "excess": 12.0,
        "heat_coefficient": 5.0,
        "unit_limit_excess": 15.0,
    },
    floor.excess: {
        "supply_temperature": 45.0,
        "return_temperature": 38.0,
        "room_temperature": 20.0,
    },
    floor.needed_supply: {
        "room_temperature": 20.0,
        "drop": 7.0,
        "heat_coefficient": 5.0,
        "load_flux": 60.0,
    },
    floor.upward_resistance: {"covering_resistance": 0.02, "cover": 0.045, "conductivity": 1.2},
    floor.downward_resistance: {"insulation": 2.5, "surface_resistance": 0.17},
    floor.down_loss: {"output": 60.0, "room_temperature": 20.0, **LOSS},
    balance.return_at_volume_flow: {**LOOP, "volume_flow": 3e-5},
    balance.share_of_excess: {"share": 0.7, "largest_output": 60.0, "held_back": 3.0},
    balance.return_for_share: {
        "share": 0.7,
        "supply_temperature": 45.0,
        "open_return": 38.0,
        "room_temperature": 20.0,
        "feed_ratio": 0.1,
    },
    leak.bore_compliance: {"outside": 0.016, "wall": 0.002, "modulus": 6e8, "poisson": 0.46},
    leak.bore_expansion: {"expansion": 1.8e-4, "poisson": 0.46},
    leak.softened: {"compliance": 1.2e-8, "creep": 0.08, "temperature": 15.0},
    leak.corrected_drop: {
        "first_pressure": 4e5,
        "last_pressure": 3.9e5,
        "first_temperature": 17.0,
        "last_temperature": 18.0,
        "pressure_per_kelvin": -3e4,
    },
    leak.corrected_drop_air: {
        "first_pressure": 3e5,
        "last_pressure": 2.9e5,
        "first_temperature": 17.0,
        "last_temperature": 18.0,
    },
}

# These take flat arrays with the position of each entry's owner; tested with their modules.
RAGGED = {
    header.pump_head,
    header.head_and_slope,
    header.bounded_head,
    leak.pressure_per_kelvin,
}

HOSTILE = (0.0, -1.0, 1e-300, 1e300, np.inf, -np.inf, np.nan)


def first_result(function: Callable[..., Any], **numbers: Any) -> Array:
    result = function(**numbers)
    return np.asarray(result[0] if isinstance(result, tuple) else result)


def test_every_function_has_a_case() -> None:
    modules = (
        fluid,
        film,
        friction,
        floor,
        floor_coefficient,
        floor_surface,
        balance,
        header,
        leak,
    )
    public: set[Any] = {
        function
        for module in modules
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if function.__module__ == module.__name__ and not name.startswith("_")
    }
    public -= {film.film_resistance}  # of a whole section
    # several columns at once, of whole arrays
    public -= {leak.layered, balance.taken_from_water, balance.parts_return}
    assert public == CASES.keys() | RAGGED
    assert all(hasattr(function, "__wrapped__") for function in public)


@pytest.mark.parametrize("function", CASES)
def test_a_column_gives_what_each_of_its_numbers_gives(function: Callable[..., Any]) -> None:
    case = CASES[function]
    rows = 1 + np.linspace(0, 1e-3, 5)
    varied = next(name for name in case if name != "kind")
    alone = [first_result(function, **{**case, varied: case[varied] * row}) for row in rows]
    column = first_result(function, **{**case, varied: case[varied] * rows})
    assert np.all(np.isfinite(alone))
    assert column.shape == (5,)
    np.testing.assert_allclose(column, alone, rtol=1e-14)
    table = first_result(function, **{**case, varied: case[varied] * rows[:, np.newaxis]})
    assert table.shape == (5, 1)


@pytest.mark.parametrize(
    ("function", "missing"),
    [(function, name) for function, case in CASES.items() for name in case],
)
def test_a_missing_number_gives_a_missing_result(
    function: Callable[..., Any], missing: str
) -> None:
    case = CASES[function]
    others = first_result(function, **{**case, missing: np.array([np.nan, case[missing]])})
    assert np.isnan(others[0])
    assert np.isfinite(others[1])


@pytest.mark.parametrize("function", CASES)
def test_no_number_raises_or_warns(function: Callable[..., Any]) -> None:
    case = CASES[function]
    with warnings.catch_warnings(), np.errstate(all="raise"):
        warnings.simplefilter("error")
        for name, number in itertools.product(case, HOSTILE):
            first_result(function, **{**case, name: number})
        for number in HOSTILE:
            first_result(function, **dict.fromkeys(case, number))


def test_within_keeps_the_borders_and_nothing_beyond() -> None:
    values = np.array([0.049, 0.05, 0.05 * (1 - 1e-12), 0.2, 1.0, 1.0001, np.nan])
    kept = arrays.within(values, (0.05, 1.0))
    np.testing.assert_array_equal(kept, [np.nan, 0.05, 0.05, 0.2, 1.0, np.nan, np.nan])


def test_within_takes_an_open_end() -> None:
    kept = arrays.within(np.array([1e9, 0.0, np.inf]), (1.0, np.inf))
    np.testing.assert_array_equal(kept, [1e9, np.nan, np.nan])


def test_positive_drops_zero_below_and_infinity() -> None:
    values = np.array([1e-9, 0.0, -1.0, np.inf, np.nan])
    np.testing.assert_array_equal(arrays.positive(values), [1e-9, np.nan, np.nan, np.nan, np.nan])


def test_quietly_keeps_numpy_quiet_as_deep_as_it_goes_and_no_longer() -> None:
    before = np.geterr()
    with arrays.quietly():
        with arrays.quietly():
            assert {*np.geterr().values()} == {"ignore"}
        assert {*np.geterr().values()} == {"ignore"}
    assert np.geterr() == before
    with pytest.raises(ZeroDivisionError), arrays.quietly():
        raise ZeroDivisionError
    assert np.geterr() == before
    with pytest.warns(RuntimeWarning):
        np.divide(1.0, np.zeros(1))


def test_a_value_alone_is_as_within_a_range_as_beside_one_that_is_not() -> None:
    values = np.array([np.nan, -1.0, -1e-12, 0.0, 0.5, 1.0, 1 + 1e-12, 2.0, np.inf, -np.inf])
    for one, beside in zip(values, arrays.within(values, (0.0, 1.0)), strict=True):
        np.testing.assert_array_equal(arrays.within(np.array([one]), (0.0, 1.0)), [beside])
    for one, beside in zip(values, arrays.positive(values), strict=True):
        np.testing.assert_array_equal(arrays.positive(np.array([one])), [beside])
    assert np.isnan(arrays.within(np.array([-np.inf]), (-np.inf, 1.0)))[0]
