"""The header's pump: reading many curves at once, and the point where it meets its loops."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from checker.physics import header
from checker.physics.arrays import Floats

# Four headers: a curve of three points out of order, one of two points, one lonely point, none.
FLOW = np.array([4e-4, 0.0, 2e-4, 0.0, 1e-3, 5e-4])
HEAD = np.array([10e3, 60e3, 45e3, 50e3, 0.0, 20e3])
HEADER = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 2.0])


def pump_head(*flow: float) -> Floats:
    """Heads of the first two headers."""
    return header.pump_head(np.array([*flow, 5e-4, 5e-4]), FLOW, HEAD, HEADER)[:2]


def test_heads_on_between_and_at_the_ends_of_the_points() -> None:
    np.testing.assert_allclose(pump_head(1e-4, 5e-4), [52.5e3, 25e3])
    np.testing.assert_allclose(pump_head(2e-4, 0.0), [45e3, 50e3])
    np.testing.assert_allclose(pump_head(4e-4, 1e-3), [10e3, 0.0])
    np.testing.assert_allclose(pump_head(4e-4 * (1 + 1e-12), 2.5e-4), [10e3, 37.5e3])


def test_no_head_beyond_the_curve_or_without_one() -> None:
    heads = header.pump_head(np.array([4.1e-4, -1e-6, 5e-4, 1e-4]), FLOW, HEAD, HEADER)
    assert np.isnan(heads).all()


def test_a_missing_number_takes_only_its_own_header() -> None:
    np.testing.assert_array_equal(np.isnan(pump_head(np.nan, 5e-4)), [True, False])
    heads = np.where(HEAD == 60e3, np.nan, HEAD)
    broken = header.pump_head(np.array([1e-4, 5e-4, 0.0, 0.0]), FLOW, heads, HEADER)
    np.testing.assert_array_equal(np.isnan(broken), [True, False, True, True])


def test_one_header_without_an_array() -> None:
    head = header.pump_head(1e-4, [0.0, 2e-4], [60e3, 40e3], [0, 0])  # type: ignore[arg-type]
    assert head.shape == ()
    np.testing.assert_allclose(head, 50e3)


def test_no_headers_at_all() -> None:
    empty = np.array([])
    assert header.pump_head(empty, empty, empty, empty).shape == (0,)
    assert header.met_point(empty, empty, empty, empty, empty)[0].shape == (0,)


@given(st.lists(st.integers(0, 7), min_size=1, max_size=6), st.randoms(use_true_random=False))
def test_many_curves_at_once_read_like_each_alone(counts: list[int], random: object) -> None:
    """numpy.interp, curve by curve, is the reference."""
    source = np.random.default_rng(sum(counts))
    flows = [np.unique(source.uniform(0, 1e-3, count)) for count in counts]
    heads = [source.uniform(0, 6e4, len(flow)) for flow in flows]
    owner = np.repeat(np.arange(len(counts)), [len(flow) for flow in flows])
    shuffled = source.permutation(len(owner))
    wanted = source.uniform(0, 1e-3, len(counts))
    result = header.pump_head(
        wanted,
        np.concatenate(flows)[shuffled],
        np.concatenate(heads)[shuffled],
        owner[shuffled].astype(float),
    )
    expected = [
        np.interp(x, flow, head, left=np.nan, right=np.nan) if len(flow) >= 2 else np.nan
        for x, flow, head in zip(wanted, flows, heads, strict=True)
    ]
    np.testing.assert_allclose(result, expected, rtol=1e-12)


def test_met_point_lies_on_both_curves() -> None:
    design_flow, design_loss = np.array([2e-4, 4e-4, 1e-4]), np.array([15e3, 30e3, 1e3])
    flow, head = header.met_point(design_flow, design_loss, FLOW, HEAD, HEADER)
    np.testing.assert_array_equal(np.isnan(flow), [False, False, True])
    np.testing.assert_allclose(head, header.pump_head(flow, FLOW, HEAD, HEADER), rtol=1e-12)
    np.testing.assert_allclose(head, design_loss * (flow / design_flow) ** 2, rtol=1e-12)


def test_met_point_of_a_round_case() -> None:
    """60 kPa − 100 kPa·Q and 200 kPa·Q² (Q in l/s) meet at 0.3518 l/s: the root of a quadratic."""
    flow, head = header.met_point(
        np.array([1e-3]),
        np.array([200e3]),
        np.array([0.0, 6e-4]),
        np.array([60e3, 0.0]),
        np.array([0.0, 0.0]),
    )
    expected = (-100 + np.sqrt(100**2 + 4 * 200 * 60)) / 400
    np.testing.assert_allclose(flow, [expected * 1e-3], rtol=1e-12)
    np.testing.assert_allclose(head, [200e3 * expected**2], rtol=1e-12)


def test_met_point_on_a_rising_stretch_and_at_a_point() -> None:
    """A pump whose curve first rises: 40 to 50 kPa over 1 l/s, then falls."""
    curve = np.array([0.0, 1e-3, 2e-3]), np.array([40e3, 50e3, 0.0]), np.zeros(3)
    flow, head = header.met_point(np.array([1e-3]), np.array([180e3]), *curve)
    expected = (10 + np.sqrt(10**2 + 4 * 180 * 40)) / 360
    np.testing.assert_allclose(flow, [expected * 1e-3], rtol=1e-12)
    flow, head = header.met_point(np.array([1e-3]), np.array([50e3]), *curve)
    np.testing.assert_allclose((flow[0], head[0]), (1e-3, 50e3), rtol=1e-12)


def test_the_first_of_several_crossings_counts() -> None:
    curve = np.array([0.0, 1e-3, 1.5e-3, 3e-3]), np.array([30e3, 5e3, 90e3, 0.0]), np.zeros(4)
    flow, _ = header.met_point(np.array([1e-3]), np.array([20e3]), *curve)
    assert flow[0] < 1e-3


def test_no_met_point_beyond_the_curve_or_without_loss() -> None:
    flow, head = header.met_point(
        np.array([2e-4, 2e-4, 2e-4, 2e-4]), np.array([1.0, 0.0, 5e3, 5e3]), FLOW, HEAD, HEADER
    )
    assert np.isnan(flow).all()
    assert np.isnan(head).all()


def test_a_missing_design_flow_has_no_met_point() -> None:
    design_flow = np.array([np.nan, 4e-4, 4e-4])
    flow, _ = header.met_point(design_flow, 30e3, FLOW, HEAD, HEADER)
    np.testing.assert_array_equal(np.isnan(flow), [True, False, True])
