"""Loops with valves on headers, by hand where it can be."""

from __future__ import annotations

import numpy as np

from checker.physics import network

ONE = np.array([0, 0], dtype=np.intp)


def loops(flow: list[float], valve: list[float]) -> network.Loops:
    """Laminar loops of 80 m: the loss goes with the flow."""
    return network.Loops(
        np.array(flow),
        np.array(valve),
        np.full(len(flow), 80.0),
        np.full(len(flow), 0.012),
        np.full(len(flow), 1.5e-6),
        np.full(len(flow), 994.0),
        np.full(len(flow), 7.2e-4),
    )


def settled(made: network.Loops, heads: list[float], own: float = 0.0) -> float:
    total = float(made.flow.sum())
    found = network.settled_pressure(
        made,
        ONE,
        np.array([total]),
        np.array([own]),
        np.array([0]),
        np.array([0.0, 10 * total]),
        np.array(heads),
        np.zeros(2, dtype=np.intp),
    )
    return float(found[0])


def test_a_pump_that_just_does_settles_at_the_set_flows() -> None:
    made = loops([1e-5, 5e-6], [0.0, 0.0])
    losses = made.loss(made.flow)
    made = loops([1e-5, 5e-6], [0.0, float(losses[0] - losses[1])])
    across = settled(made, [losses[0] + 500.0] * 2, own=500.0)
    np.testing.assert_allclose(across, losses[0], rtol=1e-9)
    np.testing.assert_allclose(made.flow_at(np.full(2, across)), made.flow, rtol=1e-9)


def test_laminar_loops_without_valves_carry_as_the_pressure() -> None:
    """Hagen and Poiseuille: half the pressure, half the flow."""
    made = loops([1e-5, 5e-6], [0.0, 0.0])
    loss = float(made.loss(made.flow)[0])
    np.testing.assert_allclose(made.flow_at(np.full(2, loss / 2)), np.full(2, 5e-6), rtol=1e-9)


def test_nothing_settles_beyond_the_curve() -> None:
    made = loops([1e-5, 5e-6], [0.0, 0.0])
    assert np.isnan(settled(made, [1e9, 9e8]))


def test_a_header_comes_out_alike_in_any_company() -> None:
    first = loops([1e-5, 5e-6], [0.0, 100.0])
    both = network.Loops(*(np.concatenate((one, one[:1] * 1.3)) for one in first))
    curve = np.array([0.0, 1e-3, 0.0, 1e-3]), np.array([2e4, 0.0, 3e4, 0.0])
    together = network.settled_pressure(
        both,
        np.array([0, 0, 1]),
        np.array([1.5e-5, 1.3e-5]),
        np.array([500.0, 900.0]),
        np.array([0, 1]),
        *curve,
        np.array([0, 0, 1, 1]),
    )
    alone = network.settled_pressure(
        first,
        ONE,
        np.array([1.5e-5]),
        np.array([500.0]),
        np.array([0]),
        curve[0][:2],
        curve[1][:2],
        np.zeros(2, dtype=np.intp),
    )
    assert together[0] == alone[0]


def shared(own: list[float], known: float = 1.0) -> tuple[network.Loops, np.ndarray]:
    """Two headers of two laminar loops on the pump of the first, at a head of 12 kPa always.

    own: of each header at its set flow, Pa; known: a factor on the second's set flow.
    """
    made = loops([1e-5, 5e-6, 8e-6, 4e-6], [0.0, 0.0, 0.0, 0.0])
    found = network.settled_pressure(
        made,
        np.array([0, 0, 1, 1]),
        np.array([1.5e-5, 1.2e-5 * known]),
        np.array(own),
        np.array([0, 0]),
        np.array([0.0, 1e-3]),
        np.array([12e3, 12e3]),
        np.array([0, 0]),
    )
    return made, found


def test_headers_on_one_pump_without_losses_of_their_own_get_its_head() -> None:
    _, found = shared([0.0, 0.0])
    np.testing.assert_allclose(found, [12e3, 12e3], rtol=1e-9)


def test_headers_on_one_pump_each_lose_what_their_own_flow_costs() -> None:
    own = [500.0, 900.0]
    made, found = shared(own)
    flow = made.flow_at(found[np.array([0, 0, 1, 1])])
    totals = np.array([flow[:2].sum(), flow[2:].sum()])
    lost = found + np.array(own) * (totals / np.array([1.5e-5, 1.2e-5])) ** 2
    np.testing.assert_allclose(lost, [12e3, 12e3], rtol=1e-9)


def test_nothing_settles_where_one_header_of_the_pump_is_not_known() -> None:
    _, found = shared([500.0, 900.0], known=float("nan"))
    assert np.isnan(found).all()
