"""Quantities of a loop: what it is made of, and what its records say. SI, one a row."""

from __future__ import annotations

from typing import cast

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.compute.columns import Grouped
from checker.compute.numbered import Numbered
from checker.compute.registry import quantities_of
from checker.physics.arrays import BORDER_TOLERANCE
from checker.quantities.design import DAY
from checker.quantities.sources import GEOMETRY
from checker.words import listed

quantity = quantities_of("loop")


@quantity(unit="mm", title="Bore", symbol="d", formula="{pipe_bore}", source=GEOMETRY)
def bore(pipe_bore: Array) -> Array:
    """Inside diameter of the loop's pipe, m."""
    return pipe_bore


@quantity(
    unit="°C",
    title="Supply temperature",
    symbol="θ_V",
    formula=("{supply}", "{header_supply}", "{plant_supply}"),
    source="design",
    optional=("supply", "header_supply"),
)
def supply_temperature(
    supply: Array, header_supply: Array, plant_supply: Array, header: Array, supplies_differ: Mask
) -> Array:
    """Supply of the loop, °C: its own, else its header's, else the plant's; unknown where the loop
    may be on a header with water of its own.
    """
    of_header = np.where(np.isnan(header_supply), plant_supply, header_supply)
    of_header[np.isnan(header) & supplies_differ] = np.nan
    return np.where(np.isnan(supply), of_header, supply)


@quantity(
    unit="m",
    title="Feeds",
    symbol="L_feeds",
    formula=("{given_feeds}", "Σ{loop_feeds_length}"),
    source="design",
    optional=("given_feeds",),
    shown=False,
)
def feeds(given_feeds: Array, loop_feeds_length: Grouped) -> Array:
    """Length outside the heated area, m: the single length, else the sum over rooms and at the
    header.
    """
    return np.where(np.isnan(given_feeds), loop_feeds_length.sum(), given_feeds)


@quantity(
    unit="m",
    title="Length that area and spacing ask for",
    symbol="L_exp",
    formula="Σ{parts_own_length} + {feeds}",
    source=GEOMETRY,
)
def expected_length(parts_own_length: Grouped, feeds: Array) -> Array:
    """Area over spacing of all parts, and the feeds, m."""
    return parts_own_length.sum() + feeds


@quantity(
    unit="%",
    title="Stated length against area over spacing and feeds",
    symbol="δ_L",
    formula="|{length} − {expected_length}| / {expected_length}",
    source=GEOMETRY,
    shown=False,
)
def length_deviation(length: Array, expected_length: Array) -> Array:
    """How far the stated length is from the expected one, as a share of it, without a sign."""
    return np.abs(length - expected_length) / expected_length


@quantity(
    unit="l", title="Water content", symbol="V", formula="{length} · π/4 · {bore}²", source=GEOMETRY
)
def content(length: Array, bore: Array) -> Array:
    """Water in the loop, m³."""
    return length * np.pi / 4 * bore**2


@quantity(
    unit="1",
    title="Radius of the tightest bend on the plan in outside diameters of its pipe",
    symbol="r_z/d_a",
    formula="{drawn_bend} / {pipe_outside}",
    source=GEOMETRY,
    shown=False,
)
def drawn_turn_ratio(drawn_bend: Array, pipe_outside: Array) -> Array:
    """Radius of the tightest bend on the plan over the pipe's outside diameter."""
    return drawn_bend / pipe_outside


@quantity(
    unit="%",
    title="Length against the longest loop of the header",
    symbol="L/L_max",
    formula="{length} / {header_longest_loop}",
    source=GEOMETRY,
    shown=False,
)
def length_share(length: Array, header_longest_loop: Array) -> Array:
    """Length over that of the longest loop on the same header."""
    return length / header_longest_loop


@quantity(
    unit="%",
    title="Flow measured on site against the design flow",
    symbol="δ_V",
    formula="|{balance_flow} − {flow}| / {flow}",
    source="balance",
    missing_because="the design flow is zero",
    shown=False,
)
def flow_deviation(balance_flow: Array, flow: Array) -> Array:
    """How far the measured flow is from the design flow, as a share of it, without a sign."""
    return np.where(flow > 0, np.abs(balance_flow - flow) / flow, np.nan)


@quantity(
    unit="1",
    title="Whether it gets less than half its flow",
    symbol="m_V",
    formula="is 1 where {balance_flow} is less than half of {flow}, else 0",
    source="balance",
    optional=("balance_flow", "flow"),
    shown=False,
)
def starved(balance_flow: Array, flow: Array) -> Array:
    """1 where the measured flow is less than half the design flow, else 0."""
    return (balance_flow < 0.5 * flow).astype(float)


@quantity(
    unit="1",
    title="Whether it gets more than it can",
    symbol="m_W",
    formula="is 1 where {balance_flow} is above twice the largest of {flow}, {flow_at_drop} and "
    "the least that its setter reads, else 0",
    source="balance; twice: common practice, no source",
    optional=("balance_flow", "flow", "flow_at_drop", "header_flow_setters_least"),
    shown=False,
)
def overfed(
    balance_flow: Array, flow: Array, flow_at_drop: Array, header_flow_setters_least: Array
) -> Array:
    """1 where the measured flow is more than twice what the loop is ever set to, else 0."""
    least = np.fmax(np.fmax(flow, flow_at_drop), header_flow_setters_least)
    known = (flow > 0) & ~np.isnan(flow_at_drop)
    return (known & (balance_flow > 2 * least)).astype(float)


@quantity(
    unit="1",
    title="Whether nobody balanced its header",
    symbol="m_H",
    formula="is 1 where its header has other loops, and no loop of it a measured flow, else 0",
    source="balance",
    optional=("header", "balance_flow"),
    shown=False,
)
def unbalanced(header: Array, balance_flow: Array) -> Array:
    """1 where several loops share the header and the flow of none is recorded, else 0."""
    read = np.isin(header, header[~np.isnan(balance_flow)])
    _, which, counts = np.unique(header, return_inverse=True, return_counts=True)
    alone = counts[which.reshape(-1)] == 1
    found = ~np.isnan(header) & ~read & ~alone
    return np.asarray(found, dtype=float)


@quantity(
    unit="1",
    title="Loops on the same port",
    symbol="n_p",
    formula="loops with this header and port, counted",
    source="count",
    missing_because="another loop of the design does not say on which header and port it is",
    shown=False,
)
def port_sharers(header: Array, port: Array, job: Index) -> Array:
    """How many loops are on this loop's port of its header, itself included.

    Missing for a loop that seems to be alone there, while another of its design may be on that
    port.
    """
    known = ~(np.isnan(header) | np.isnan(port))
    found = np.full(len(port), np.nan)
    pairs = np.stack((header[known], port[known]))
    _, which, counts = np.unique(pairs, axis=1, return_inverse=True, return_counts=True)
    found[known] = counts[which.reshape(-1)]
    anywhere = np.isin(job, job[np.isnan(header)])
    on_header = np.isin(header, header[np.isnan(port) & ~np.isnan(header)])
    return np.where((found == 1) & (anywhere | on_header), np.nan, found)


def _port_lines(things: Numbered, number: float) -> tuple[str, ...]:
    ports = cast("tuple[int, ...]", things.thing(number))
    if not ports:
        return ("No port is free on this header",)
    are = "Ports {} are" if len(ports) > 1 else "Port {} is"
    return (f"{are.format(listed([str(port) for port in ports]))} free on this header",)


@quantity(
    unit="1",
    title="Free ports of its header",
    symbol="P_f",
    formula="the header's ports without a loop",
    source="count",
    missing_because="not every loop says on which header and port it is, or none shares its port",
    described_by=_port_lines,
    shown=False,
)
def free_ports(
    header: Array,
    port: Array,
    header_ports: Array,
    port_sharers: Array,
    job: Index,
    things: Numbered,
) -> Array:
    """For a loop that shares its port, the number of its header's free ports among the run's
    objects.

    Missing where a loop with an unknown port may be on one of them.
    """
    found = np.full(len(port), np.nan)
    shares = (port_sharers > 1) & ~np.isnan(header_ports)
    for own in sorted({*header[shares].tolist()}):
        here = header == own
        if np.isnan(port[here]).any() or np.isnan(header[job == job[here][0]]).any():
            continue
        taken = {*port[here].tolist()}
        every = range(1, int(header_ports[here][0]) + 1)
        found[here & shares] = things.number((*[one for one in every if one not in taken],))
    return found


@quantity(unit="1", title="One", symbol="n", formula="1", source="count", shown=False)
def number(size: int) -> Array:
    """One for each loop, to be counted."""
    return np.ones(size)


@quantity(
    unit="day",
    title="Days from the repair to the last pressure test",
    symbol="t_r",
    formula="{header_last_test} − {repaired_on}",
    source="dates of the design",
    shown=False,
)
def days_retested(header_last_test: Array, repaired_on: Array) -> Array:
    """From the repair of the loop's pipe to the last test of its header, s; below zero if before
    it.
    """
    return header_last_test - repaired_on * DAY


@quantity(
    unit="%",
    title="Feeds that are stated as one length against the loop's",
    symbol="L_feeds/L",
    formula=("{given_feeds} / {length}", "0"),
    source=GEOMETRY,
    optional=("given_feeds",),
    shown=False,
)
def unlocated_share(given_feeds: Array, feeds: Array, length: Array) -> Array:
    """Feeds whose rooms are not stated, over the loop's length; zero where the rooms are listed."""
    return np.where(np.isnan(given_feeds), 0.0 * feeds, given_feeds / length)


LONG_FEEDS = 0.1
"""Share of the loop's length from which feeds should be looked at; common practice, no source."""


@quantity(
    unit="1",
    title="Whether long feeds are stated as one length",
    symbol="u",
    formula="is 1 where {unlocated_share} is above a tenth, else 0",
    source="design",
    shown=False,
)
def long_unlocated(unlocated_share: Array) -> Array:
    """1 where more than a tenth of the loop are feeds whose rooms are not stated, else 0."""
    long = unlocated_share > LONG_FEEDS * (1 + BORDER_TOLERANCE)
    return np.where(np.isnan(unlocated_share), np.nan, long.astype(float))


@quantity(
    unit="1",
    title="Whether the loop is to be reviewed for a sleeve",
    symbol="j",
    formula="is 1 where the pipe crosses a movement joint, or has a sleeve for one",
    source="design",
    optional=("sleeved",),
    shown=False,
)
def sleeve_asked(crosses_joint: Array, sleeved: Array) -> Array:
    """1 where a joint is crossed; where that is unknown, 1 for a loop that has a sleeve."""
    return np.where(np.isnan(crosses_joint) & (sleeved == 1), 1.0, crosses_joint)
