"""The heated floor: how its numbers move, join, and stop at their ranges."""

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from checker.physics import en_1264, floor, floor_coefficient, floor_surface

FLOOR: dict[str, Any] = {
    "spacing": 0.15,
    "cover": 0.045,
    "conductivity": 1.2,
    "covering_resistance": 0.05,
    "pipe_outside": 0.016,
    "pipe_wall": 0.002,
    "pipe_conductivity": 0.35,
}

spacings = st.floats(0.05, 1.0)
covers = st.floats(0.013, 0.3)
conductivities = st.floats(0.5, 2.5)
floors = st.fixed_dictionaries(
    {
        "spacing": spacings,
        "cover": covers,
        "conductivity": conductivities,
        "covering_resistance": st.floats(0.0, 0.15),
        "pipe_outside": st.floats(0.008, 0.030),
        "pipe_wall": st.floats(0.0008, 0.0035),
        "pipe_conductivity": st.floats(0.2, 400.0),
    }
)


# What is built: beyond, the powers of the standard's product no longer follow the physics.
usual_floors = st.fixed_dictionaries(
    {
        "spacing": st.floats(0.05, 0.37),
        "cover": st.floats(0.03, 0.098),
        "conductivity": st.floats(0.8, 2.5),
        "covering_resistance": st.floats(0.0, 0.147),
        "pipe_outside": st.floats(0.010, 0.025),
        "pipe_wall": st.floats(0.001, 0.003),
        "pipe_conductivity": st.floats(0.2, 0.5),
    }
)


def heat_coefficient(**changed: Any) -> Any:
    return floor_coefficient.heat_coefficient(**{**FLOOR, **changed})


def unit_limit_excess(case: dict[str, Any]) -> Any:
    return floor_surface.unit_limit_excess(
        case["spacing"],
        case["cover"],
        case["conductivity"],
        floor_coefficient.heat_coefficient(**case),
    )


# Which way the heat coefficient goes when a number grows, the others kept.
@pytest.mark.parametrize(
    ("name", "step", "sign"),
    [
        ("spacing", 0.005, -1),
        ("cover", 0.002, -1),
        ("conductivity", 0.05, 1),
        ("covering_resistance", 0.003, -1),
        ("pipe_wall", 0.0001, -1),
        ("pipe_conductivity", 0.02, 1),
    ],
)
@given(case=usual_floors)
def test_heat_coefficient_moves_the_right_way(
    name: str, step: float, sign: int, case: dict[str, Any]
) -> None:
    before, after = floor_coefficient.heat_coefficient(
        **{**case, name: case[name] + np.array([0.0, step])}
    )
    assert sign * (after - before) > 0


@given(usual_floors)
def test_a_wider_pipe_heats_more(case: dict[str, Any]) -> None:
    """Of the reference wall and conductivity; the correction for others blurs it."""
    wider = case["pipe_outside"] + np.array([0.0, 0.0005])
    reference = {"pipe_outside": wider, "pipe_wall": 0.002, "pipe_conductivity": 0.35}
    before, after = floor_coefficient.heat_coefficient(**{**case, **reference})
    assert after > before


@given(floors)
def test_no_step_at_the_widest_tabled_spacing(case: dict[str, Any]) -> None:
    spacing = 0.375 * (1 + np.array([-1e-9, 1e-9]))
    below, above = floor_coefficient.heat_coefficient(**{**case, "spacing": spacing})
    np.testing.assert_allclose(below, above, rtol=1e-7)


@given(floors)
def test_no_step_where_the_thick_screed_rule_sets_in(case: dict[str, Any]) -> None:
    border = max(0.100, 0.5 * case["spacing"])
    cover = border * (1 + np.array([-1e-9, 1e-9]))
    below, above = floor_coefficient.heat_coefficient(**{**case, "cover": cover})
    np.testing.assert_allclose(below, above, rtol=1e-7)


@pytest.mark.parametrize("spacing", [0.075, 0.1, 0.15, 0.2, 0.225, 0.3])
def test_no_step_at_the_rows_of_the_tables(spacing: float) -> None:
    around = spacing * (1 + np.array([-1e-9, 0.0, 1e-9]))
    coefficients = heat_coefficient(spacing=around)
    np.testing.assert_allclose(coefficients, coefficients[1], rtol=1e-7)
    for part in floor_surface.limit_curve(around, 0.045, 1.2):
        np.testing.assert_allclose(part, part[1], rtol=1e-6)


def test_wide_spacing_gives_what_its_pipe_gives_at_the_widest_tabled() -> None:
    """EN 1264-2:2021 Annex A, reported: K_H = K_H(0.375)·0.375/T."""
    wide = heat_coefficient(spacing=np.array([0.375, 0.5, 0.75]))
    np.testing.assert_allclose(wide[1:], wide[0] * 0.375 / np.array([0.5, 0.75]), rtol=1e-14)


@pytest.mark.parametrize(("spacing", "direct"), [(0.15, 0.1), (0.3, 0.15), (0.5, 0.25)])
def test_thick_screed_adds_its_resistance(spacing: float, direct: float) -> None:
    """EN 1264-2:2021 Annex A, reported: 1/K_H grows by (s_u − s_u*)/λ_E."""
    thin, thick = heat_coefficient(spacing=spacing, cover=direct + np.array([0.0, 0.06]))
    np.testing.assert_allclose(1 / thick - 1 / thin, 0.06 / 1.2, rtol=1e-12)


@pytest.mark.parametrize(
    ("name", "limits", "step"),
    [
        ("spacing", en_1264.SPACING_RANGE, 1e-4),
        ("cover", en_1264.COVER_RANGE, 1e-4),
        ("pipe_outside", en_1264.PIPE_OUTSIDE_RANGE, 1e-4),
        ("covering_resistance", en_1264.COVERING_RANGE, 1e-4),
    ],
)
def test_nothing_outside_the_ranges(name: str, limits: tuple[float, float], step: float) -> None:
    low, high = limits
    below, lowest, highest, above = heat_coefficient(
        **{name: np.array([low - step, low, min(high, 10.0), high + step])}
    )
    assert np.isnan(below)
    assert np.isfinite(lowest)
    assert np.isfinite(highest)
    assert np.isnan(above)


def test_a_pipe_needs_a_bore() -> None:
    assert np.isnan(heat_coefficient(pipe_wall=np.array([0.0, 0.008, 0.009]))).all()


def test_the_limit_curve_ends_with_its_tables() -> None:
    """EN 1264-2:2021 tables A.4 to A.7, reported: from 0.01 m²·K/W; above 0.0792 from 0.173."""
    thin, _ = floor_surface.limit_curve(0.15, np.array([0.0119, 0.012]), 1.2)
    np.testing.assert_array_equal(np.isfinite(thin), [False, True])
    wide, _ = floor_surface.limit_curve(0.375, np.array([0.064, 0.065]), 0.8)
    np.testing.assert_array_equal(np.isfinite(wide), [False, True])


@given(st.floats(0.05, 0.374), st.floats(0.03, 0.2), conductivities)
def test_wider_spacing_never_raises_the_limit(
    spacing: float, cover: float, conductivity: float
) -> None:
    factor, exponent = floor_surface.limit_curve(
        spacing + np.array([0.0, 0.001]), cover, conductivity
    )
    assume(np.isfinite(factor).all())
    # Where the table is flat both are read as its value, but for the last digit of the arithmetic.
    assert factor[1] <= factor[0] * (1 + 1e-15)
    assert exponent[1] >= exponent[0] * (1 - 1e-15)


@given(floors)
def test_no_floor_passes_the_largest_output(case: dict[str, Any]) -> None:
    unit, coefficient = unit_limit_excess(case), floor_coefficient.heat_coefficient(**case)
    assume(np.isfinite(unit))
    for room, surface in ((20.0, 29.0), (20.0, 35.0), (24.0, 33.0)):
        output = floor_surface.limit_output(unit, coefficient, room, surface)
        assert 0 < output <= floor_surface.basic_output(surface - room) * (1 + 1e-12)


def test_the_limit_is_cut_where_the_curve_passes_the_largest_output() -> None:
    case = {**FLOOR, "spacing": 0.3, "cover": 0.085, "covering_resistance": 0.15}
    coefficient = floor_coefficient.heat_coefficient(**case)
    factor, exponent = floor_surface.limit_curve(0.3, 0.085, 1.2)
    crossing = (factor / coefficient) ** (1 / (1 - exponent))
    largest = floor_surface.basic_output(9.0)
    assert coefficient * crossing > 1.01 * largest
    limit = floor_surface.limit_output(unit_limit_excess(case), coefficient, 20.0, 29.0)
    np.testing.assert_allclose(limit, largest, rtol=1e-14)


def test_wide_spacing_limit_joins_under_thin_cover_and_steps_under_thick() -> None:
    """EN 1264-2:2021 Annex A, reported: f_G is 1 up to a cover of 0.173 spacings, 65 mm at 0.375 m,
    and grows with what of the largest output the floor leaves unused."""
    spacing = 0.375 * (1 + np.array([-1e-9, 1e-9]))
    cover = np.array([[0.045], [0.0648], [0.09]])
    coefficient = heat_coefficient(spacing=spacing, cover=cover, conductivity=2.0)
    below, above = floor_surface.unit_limit_excess(spacing, cover, 2.0, coefficient).T
    np.testing.assert_allclose(below[:2], above[:2], rtol=1e-7)
    assert above[2] > 1.01 * below[2]


def test_wide_spacing_limit_of_one_case_by_hand() -> None:
    """EN 1264-2:2021 Annex A, reported, step by step with the printed factors B_G and n_G."""
    coefficient = heat_coefficient(spacing=0.375, cover=0.09, covering_resistance=0.0) * 0.375 / 0.5
    share = (0.09 / 1.2 - 0.0708) / (0.0792 - 0.0708)
    factor, exponent = 49.1 + share * (58.3 - 49.1), 0.183 + share * (0.142 - 0.183)
    tabled_coefficient = coefficient * 0.5 / 0.375
    tabled_output = tabled_coefficient * (factor / tabled_coefficient) ** (1 / (1 - exponent))
    narrowed = tabled_output * 0.375 / 0.5
    decay = np.exp(-20 * (0.09 / 0.5 - 0.173) ** 2)
    largest = 8.92 * 9**1.1
    expected = largest - (largest - narrowed) * decay
    unit = floor_surface.unit_limit_excess(0.5, 0.09, 1.2, coefficient)
    np.testing.assert_allclose(floor_surface.limit_output(unit, coefficient, 20.0, 29.0), expected)


@given(floors, st.floats(15.0, 24.0), st.floats(2.0, 15.0))
def test_at_its_limit_the_warmest_spot_has_the_limit_temperature(
    case: dict[str, Any], room: float, surface_excess: float
) -> None:
    unit, coefficient = unit_limit_excess(case), floor_coefficient.heat_coefficient(**case)
    assume(np.isfinite(unit))
    limit = room + surface_excess
    excess = floor_surface.limit_excess(unit, coefficient, room, limit)
    warmest = floor_surface.surface_max(room, excess, coefficient, unit)
    np.testing.assert_allclose(warmest, limit, rtol=1e-12)


@given(floors, st.floats(0.5, 40.0))
def test_the_warmest_spot_is_no_cooler_than_the_mean(case: dict[str, Any], excess: float) -> None:
    unit, coefficient = unit_limit_excess(case), floor_coefficient.heat_coefficient(**case)
    assume(np.isfinite(unit))
    mean = floor_surface.surface_mean(20.0, coefficient * excess)
    assert floor_surface.surface_max(20.0, excess, coefficient, unit) >= mean - 1e-9


def test_a_declared_floor_takes_the_same_way() -> None:
    """A declared limit excess of 12 K at 9 K on the surface, K_H 6: 72 W/m², 1.754 times that at
    15 K, and never more than a uniform floor gives."""
    limits = floor_surface.limit_output(12.0, 6.0, 20.0, np.array([29.0, 35.0]))
    np.testing.assert_allclose(limits, [72.0, 72.0 * (15 / 9) ** 1.1], rtol=1e-14)
    np.testing.assert_allclose(floor_surface.surface_max(20.0, 12.0, 6.0, 12.0), 29.0, rtol=1e-14)
    np.testing.assert_allclose(
        floor_surface.limit_output(40.0, 6.0, 20.0, 29.0),
        floor_surface.basic_output(9.0),
        rtol=1e-14,
    )
    np.testing.assert_allclose(
        floor_surface.surface_max(20.0, 10.0, 6.0, 40.0),
        floor_surface.surface_mean(20.0, 60.0),
        rtol=1e-14,
    )


def test_no_limit_where_the_surface_may_not_be_warmer_than_the_room() -> None:
    assert np.isnan(floor_surface.limit_excess(12.0, 6.0, 29.0, np.array([29.0, 28.0]))).all()


def test_mean_surface_and_output_are_one_curve() -> None:
    np.testing.assert_allclose(
        floor_surface.surface_mean(20.0, floor_surface.basic_output(np.array([0.0, 3.0, 9.0]))),
        [20.0, 23.0, 29.0],
    )
    assert np.isnan(floor_surface.surface_mean(20.0, -1.0))


@given(st.floats(1.0, 80.0), st.floats(1.0, 80.0))
def test_excess_lies_between_the_geometric_and_the_plain_mean(first: float, second: float) -> None:
    excess = floor.excess(20.0 + first, 20.0 + second, 20.0)
    assert np.sqrt(first * second) * (1 - 1e-12) <= excess
    assert excess <= (first + second) / 2 * (1 + 1e-12)


@given(st.floats(1.0, 80.0), st.floats(-1e-3, 1e-3))
def test_excess_is_smooth_where_supply_and_return_are_equal(mean: float, half: float) -> None:
    """Series of the logarithmic mean about its middle m: m·(1 − (h/m)²/3 − …)."""
    excess = floor.excess(20.0 + mean + half, 20.0 + mean - half, 20.0)
    np.testing.assert_allclose(excess, mean * (1 - (half / mean) ** 2 / 3), rtol=1e-12)


def test_excess_of_equal_temperatures_is_their_distance_from_the_room() -> None:
    assert floor.excess(40.0, 40.0, 20.0) == 20.0


def test_no_excess_without_warmth() -> None:
    back = np.array([20.0, 19.0])
    assert np.isnan(floor.excess(45.0, back, 20.0)).all()
    assert np.isnan(floor.excess(19.0, 18.0, 20.0))


@given(st.floats(0.1, 15.0), st.floats(1.0, 8.0), st.floats(5.0, 150.0))
def test_needed_supply_gives_the_load(drop: float, coefficient: float, load: float) -> None:
    supply = floor.needed_supply(20.0, drop, coefficient, load)
    assume(supply - drop > 20.0 + 1e-6)
    output = coefficient * floor.excess(supply, supply - drop, 20.0)
    np.testing.assert_allclose(output, load, rtol=1e-8)


def test_no_supply_is_needed_without_load_or_drop() -> None:
    assert np.isnan(floor.needed_supply(20.0, 7.0, 5.0, np.array([0.0, -10.0]))).all()
    assert np.isnan(floor.needed_supply(20.0, 0.0, 5.0, 60.0))


def test_ceiling_below_adds_its_surface() -> None:
    """EN 1264-3:2021, reported: 0.17 m²·K/W."""
    below = floor.downward_resistance(2.5, np.array([en_1264.CEILING_SURFACE_RESISTANCE, 0.0]))
    np.testing.assert_allclose(below, [2.67, 2.5])


def test_a_warm_room_below_still_takes_heat_and_a_warmer_one_gives_it() -> None:
    loss = floor.down_loss(50.0, 20.0, 0.15, 1.0, np.array([10.0, 20.0, 27.5, 30.0]))
    np.testing.assert_allclose(loss, [17.5, 7.5, 0.0, -2.5], atol=1e-12)
