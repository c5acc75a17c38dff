"""The operating point: the balance closes, and has no point where there is none."""

from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from checker.physics import balance, floor, fluid

LOOP: dict[str, Any] = {
    "supply_temperature": 45.0,
    "room_temperature": 20.0,
    "area": 12.0,
    "heat_coefficient": 4.0,
    "upward_resistance": 0.15,
    "downward_resistance": 2.5,
    "below_temperature": 10.0,
    "kind": fluid.WATER,
    "mass_fraction": np.nan,
}

loops = st.fixed_dictionaries(
    {
        "supply_temperature": st.floats(25.0, 70.0),
        "room_temperature": st.floats(15.0, 24.0),
        "area": st.floats(0.5, 40.0),
        "heat_coefficient": st.floats(1.0, 8.0),
        "upward_resistance": st.floats(0.1, 0.4),
        "downward_resistance": st.floats(0.5, 6.0),
        "below_temperature": st.floats(-15.0, 20.0),
        "kind": st.sampled_from([0.0, 1.0, 2.0]),
        "mass_fraction": st.floats(0.0, 0.5),
    }
)


def heat(loop: dict[str, Any], back: Any) -> Any:
    """What the floor passes on up and down, W."""
    excess = floor.excess(loop["supply_temperature"], back, loop["room_temperature"])
    output = loop["heat_coefficient"] * excess
    down = floor.down_loss(
        output,
        loop["room_temperature"],
        loop["upward_resistance"],
        loop["downward_resistance"],
        loop["below_temperature"],
    )
    return loop["area"] * (output + down)


def given_up(loop: dict[str, Any], volume_flow: Any, back: Any) -> Any:
    """What the water gives up, W."""
    mean = (loop["supply_temperature"] + back) / 2
    mass_flow = volume_flow * fluid.density(loop["kind"], loop["mass_fraction"], mean)
    specific_heat = fluid.specific_heat(loop["kind"], loop["mass_fraction"], mean)
    return mass_flow * specific_heat * (loop["supply_temperature"] - back)


@given(loops, st.floats(1e-6, 3e-4))
def test_the_return_closes_the_balance(loop: dict[str, Any], volume_flow: float) -> None:
    back = balance.return_at_volume_flow(volume_flow, **loop)
    supply, room = loop["supply_temperature"], loop["room_temperature"]

    def surplus(back: float) -> float:
        return float(given_up(loop, volume_flow, back) - heat(loop, back))

    # No return just above the room takes up the loss: then, and only then, there is no answer.
    lowest = room + 1e-9 * (supply - room)
    if surplus(lowest) <= 0:
        assert np.isnan(back) or back <= lowest + 1e-9
    else:
        expected = brentq(surplus, lowest, supply, xtol=1e-11, rtol=1e-14)
        np.testing.assert_allclose(back, expected, atol=2e-9)


def test_without_loss_to_a_cooler_place_the_return_decays_exponentially() -> None:
    loop = {**LOOP, "below_temperature": 20.0, "upward_resistance": 0.0}
    back = balance.return_at_volume_flow(2e-5, **loop)
    mean = (45.0 + back) / 2
    density = fluid.density(fluid.WATER, np.nan, mean)
    rate = 2e-5 * density * fluid.specific_heat(fluid.WATER, np.nan, mean)
    expected = 20.0 + 25.0 * np.exp(-12.0 * 4.0 / rate)
    np.testing.assert_allclose(back, expected, atol=1e-9)


def test_more_flow_returns_warmer_up_to_the_supply() -> None:
    back = balance.return_at_volume_flow(np.geomspace(2e-6, 1e-2, 40), **LOOP)
    assert (np.diff(back) > 0).all()
    assert back[0] > 20.0
    assert 44.9 < back[-1] < 45.0


def test_no_return_where_the_supply_is_not_warmer_than_the_room() -> None:
    loop = {**LOOP, "supply_temperature": np.array([20.0, 15.0])}
    assert np.isnan(balance.return_at_volume_flow(3e-5, **loop)).all()


def test_no_return_where_the_flow_cannot_feed_the_loss() -> None:
    """The loss downwards at room temperature takes 12·10/2.5 = 48 W; 25 K of water must give more,
    which needs 48/(25·c·ρ) m³/s."""
    water = (fluid.WATER, np.nan, 32.5)
    least = 48.0 / 25.0 / fluid.specific_heat(*water) / fluid.density(*water)
    back = balance.return_at_volume_flow(least * np.array([0.5, 0.99, 0.0, -1.0]), **LOOP)
    assert np.isnan(back).all()


def test_no_return_where_the_floor_is_heated_from_below() -> None:
    loop = {**LOOP, "below_temperature": 400.0}
    assert np.isnan(balance.return_at_volume_flow(3e-5, **loop))


def test_a_somewhat_warmer_place_below_still_has_a_return() -> None:
    loop = {**LOOP, "below_temperature": 30.0}
    back = balance.return_at_volume_flow(3e-5, **loop)
    np.testing.assert_allclose(given_up(loop, 3e-5, back), heat(loop, back), rtol=1e-9)


def test_no_return_beyond_the_range_of_the_water() -> None:
    assert np.isnan(balance.return_at_volume_flow(3e-5, **{**LOOP, "supply_temperature": 130.0}))


def test_one_hopeless_loop_leaves_the_others_alone() -> None:
    flows = np.array([3e-5, 1e-9, 5e-5])
    together = balance.return_at_volume_flow(flows, **LOOP)
    assert np.isnan(together[1])
    for i in (0, 2):
        np.testing.assert_allclose(
            together[i], balance.return_at_volume_flow(flows[i], **LOOP), atol=1e-9
        )


def test_a_loop_comes_out_alike_in_any_company() -> None:
    """The slowest of the loops to settle does not move the last digits of the others."""
    flows = np.geomspace(1e-7, 1e-3, 200)
    loop = {**LOOP, "below_temperature": -10.0, "downward_resistance": 0.3}
    together = balance.return_at_volume_flow(flows, **loop)
    alone = [float(balance.return_at_volume_flow(flow, **loop)) for flow in flows]
    np.testing.assert_array_equal(together, alone)


def test_feeds_that_give_more_than_is_asked_cool_the_water_down_to_the_room() -> None:
    """A floor's heat over its excess, h, falls towards φ/2 of its feeds (EN 1264-3:2021, reported,
    with feeds): of a share below that, however little water runs, too much is given."""
    assert balance.return_for_share(0.01, 45.0, 40.0, 20.0, 2.0) == 20.0
    assert 20.0 < balance.return_for_share(0.9, 45.0, 40.0, 20.0, 2.0) < 40.0
