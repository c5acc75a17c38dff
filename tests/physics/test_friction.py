"""Friction: the laminar, the turbulent and the joined stretch between them."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from checker.physics import friction

roughnesses = st.floats(0.0, 0.05)


def test_reynolds_of_a_round_case() -> None:
    assert friction.reynolds(0.5, 0.012, 1000.0, 1e-3) == 6000.0


def test_laminar_up_to_2300() -> None:
    reynolds = np.array([100.0, 1000.0, 2300.0])
    np.testing.assert_allclose(friction.friction_factor(reynolds, 0.01), 64 / reynolds, rtol=1e-15)


@given(st.floats(4000.0, 1e8), roughnesses)
def test_turbulent_factor_solves_colebrook(reynolds: float, roughness: float) -> None:
    inverse = 1 / np.sqrt(friction.friction_factor(reynolds, roughness))
    colebrook = -2 * np.log10(roughness / 3.7 + 2.51 * inverse / reynolds)
    np.testing.assert_allclose(inverse, colebrook, rtol=1e-12)


def test_straight_line_between_2300_and_4000() -> None:
    ends = friction.friction_factor(np.array([2300.0, 4000.0]), 1e-4)
    np.testing.assert_allclose(friction.friction_factor(3150.0, 1e-4), ends.mean(), rtol=1e-14)
    np.testing.assert_allclose(
        friction.friction_factor(2300.0 + 0.25 * 1700, 1e-4),
        0.75 * ends[0] + 0.25 * ends[1],
        rtol=1e-14,
    )


@given(st.sampled_from([2300.0, 4000.0]), roughnesses)
def test_no_step_where_the_stretches_join(border: float, roughness: float) -> None:
    below, above = friction.friction_factor(border + np.array([-1e-6, 1e-6]), roughness)
    np.testing.assert_allclose(below, above, rtol=1e-8)


@given(st.floats(4000.0, 1e8), st.floats(0.0, 0.049))
def test_a_rougher_pipe_resists_more(reynolds: float, roughness: float) -> None:
    smooth, rough = friction.friction_factor(reynolds, roughness + np.array([0.0, 0.001]))
    assert rough > smooth


@given(st.floats(10.0, 9e7), roughnesses)
def test_more_flow_never_loses_less(reynolds: float, roughness: float) -> None:
    flows = reynolds * np.array([1.0, 1.01])
    less, more = friction.friction_factor(flows, roughness) * flows**2
    assert more > less


def test_nothing_outside_the_range() -> None:
    assert np.isnan(friction.friction_factor(np.array([0.0, -1.0, 1.1e8]), 1e-4)).all()
    assert np.isnan(friction.friction_factor(5000.0, np.array([-1e-6, 0.051]))).all()


def test_pressure_drop_of_a_round_case() -> None:
    assert friction.pressure_drop(100.0, 0.01, 0.5, 1000.0, 0.04) == 50_000.0
