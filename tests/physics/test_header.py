"""The header's pump: reading many curves at once, and the point where it meets its loops."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from checker.arrays import Array
from checker.physics import header

# Four headers: a curve of three points out of order, one of two points, one lonely point, none.
FLOW = np.array([4e-4, 0.0, 2e-4, 0.0, 1e-3, 5e-4])
HEAD = np.array([10e3, 60e3, 45e3, 50e3, 0.0, 20e3])
HEADER = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 2.0])


def pump_head(*flow: float) -> Array:
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


def test_a_curve_only_falls_beyond_its_ends() -> None:
    flow, head = np.array([2.0, 8.0]) / 6e4, np.array([30e3, 12e3])
    owner = np.zeros(2)

    def held(at: float, loss: float) -> float:
        return float(
            header.bounded_head(np.array([at / 6e4]), np.array([loss]), flow, head, owner)[0]
        )

    assert held(10, 13e3) == 12e3  # the last head is under the loss: it cannot do it
    assert np.isnan(held(10, 11e3))  # it is above: the curve does not say
    assert held(1, 30e3) == 30e3  # the first head is enough, and there is more before it
    assert np.isnan(held(1, 31e3))


def test_a_last_head_of_nought_stays_nought() -> None:
    flow, head = np.array([0.0, 5.0]) / 6e4, np.array([30e3, 0.0])
    found = header.pump_head(np.array([6.0 / 6e4]), flow, head, np.zeros(2))
    assert found[0] == 0.0
