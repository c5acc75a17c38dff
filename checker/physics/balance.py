"""The balance of a loop: the return at which water and floor agree.

The heat that the water gives up is the heat that the parts of the loop pass on, up and down, each
against its own room: Σ A·(q + q_u) = ṁ·c·(θ_V − θ_R), with q = K_H·Δθ_H and q_u of EN 1264-2 (see
`floor.down_loss`), c and ρ at the mean water temperature (θ_V + θ_R)/2.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.physics import floor, fluid
from checker.physics.arrays import Numbers, elementwise, positive

_MOST_STEPS = 50  # three to six are usual
_MOST_ROUNDS = 200
_RETURN_TOLERANCE = 1e-11  # K


def taken_from_water(
    area: Array,
    heat_coefficient: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    room_temperature: Array,
    below_temperature: Array,
    held_back: Numbers = 0.0,
) -> tuple[Array, Array]:
    """What a part takes from the water, as a straight line in the water's excess.

    Args:
        area: m², shape (parts,).
        heat_coefficient: K_H, W/(m²·K), shape (parts,).
        upward_resistance: R_o, m²·K/W, shape (parts,).
        downward_resistance: R_u, m²·K/W, shape (parts,).
        room_temperature: °C, shape (parts,).
        below_temperature: °C, shape (parts,).
        held_back: q_x, heat that passes the pipes from the room to what is below, taken off the
            heat upwards, W/m², shape (parts,) or one number.

    Returns:
        Slope, W/K, and constant, W, each of shape (parts,).

    Source:
        A·(q + q_u) of EN 1264-2:2021 (reported) with q = K_H·Δθ_H − q_x: A·K_H·(1 + R_o/R_u)·Δθ_H +
        A·((θ_i − θ_u)/R_u − q_x·(1 + R_o/R_u)).
    """
    ratio = 1 + upward_resistance / downward_resistance
    constant = (room_temperature - below_temperature) / downward_resistance - held_back * ratio
    return area * heat_coefficient * ratio, area * constant


class _Parts(NamedTuple):
    """Parts of some loops: the place of each one's loop among these, and columns of the parts."""

    loop: Index
    feed: Mask
    room_temperature: Array
    proportional: Array
    constant: Array

    def of(self, kept: Mask) -> "_Parts":
        """The parts of the loops that are kept, in their new places."""
        own = kept[self.loop]
        place = np.cumsum(kept) - 1
        return _Parts(
            place[self.loop[own]],
            self.feed[own],
            self.room_temperature[own],
            self.proportional[own],
            self.constant[own],
        )


def parts_return(
    capacity_rate: Callable[[Index, Array], Array],
    supply_temperature: Array,
    loop: Index,
    feed: Mask,
    room_temperature: Array,
    proportional: Array,
    constant: Array,
) -> Array:
    """Return temperature of loops of several parts, each part against its own room.

    What the parts take less what the water gives up rises with the return and bends one way, but
    for the step in a feed's slope. Newton's step is taken where it stays between the ends, which
    close in, and half of the way where it does not. Once half of the loops have come to rest, only
    the others go on.

    Args:
        capacity_rate: gives ṁ·c, W/K, of the loops with these rows from the mean water temperature
            of each, °C.
        supply_temperature: °C, shape (loops,).
        loop: of each part, the row of its loop, shape (parts,).
        feed: whether its water is supply one way and return the other, shape (parts,).
        room_temperature: °C, shape (parts,).
        proportional: slope by `taken_from_water`, W/K, shape (parts,).
        constant: constant by `taken_from_water`, W, shape (parts,).

    Returns:
        °C, shape (loops,), to 1e-10 K; NaN where no return between the warmest of its rooms and the
        supply closes the balance.

    Source:
        The balance of this module.
    """
    count = len(supply_temperature)
    with np.errstate(all="ignore"):
        least = np.full(count, -np.inf)
        np.maximum.at(least, loop[~feed], room_temperature[~feed])
        rows, supply = np.arange(count), supply_temperature
        parts = _Parts(loop, feed, room_temperature, proportional, constant)
        low, high = least, supply
        begins = _surplus(low, capacity_rate, rows, supply, parts)[0]
        ends = _surplus(high - 1e-9, capacity_rate, rows, supply, parts)[0]
        moving = (begins < 0) & (ends > 0) & (low < high)
        back = np.where(moving, low + 0.75 * (high - low), np.nan)
        found = back.copy()
        for _ in range(_MOST_ROUNDS):
            left = np.count_nonzero(moving)
            if not left:
                break
            if 2 * left <= len(rows):
                rows, supply, parts = rows[moving], supply[moving], parts.of(moving)
                low, high, back, moving = low[moving], high[moving], back[moving], moving[moving]
            value, slope = _surplus(back, capacity_rate, rows, supply, parts)
            low, high = np.where(value < 0, back, low), np.where(value > 0, back, high)
            following = back - value / slope
            inside = (following > low) & (following < high)
            following = np.where(
                inside, following, np.where(value < 0, (back + high) / 2, (low + back) / 2)
            )
            following = np.where(value == 0, back, following)
            change = np.abs(following - back)
            back = np.where(moving, following, back)
            found[rows] = back
            moving = moving & (change > _RETURN_TOLERANCE)
        return found


def _surplus(
    back: Array,
    capacity_rate: Callable[[Index, Array], Array],
    rows: Index,
    supply_temperature: Array,
    parts: _Parts,
) -> tuple[Array, Array]:
    """What the parts take less what the water gives up at this return, W, and its slope, W/K."""
    count = len(rows)
    room = parts.room_temperature
    supply, own = supply_temperature[parts.loop], back[parts.loop]
    excess = np.where(
        parts.feed,
        np.maximum((supply + own) / 2 - room, 0.0),
        floor.excess(supply, own, room),
    )
    excess = np.where(~parts.feed & (own <= room), 0.0, excess)
    steepness = np.where(
        parts.feed,
        np.where(excess > 0, 0.5, 0.0),
        (excess / (own - room) - 1) / np.log((supply - room) / (own - room)),
    )
    rate = capacity_rate(rows, (supply_temperature + back) / 2)
    taken = np.bincount(parts.loop, parts.proportional * excess + parts.constant, count)
    slope = np.bincount(parts.loop, parts.proportional * steepness, count) + rate
    return taken - rate * (supply_temperature - back), slope


@elementwise
def return_at_volume_flow(
    volume_flow: Numbers,
    supply_temperature: Numbers,
    room_temperature: Numbers,
    area: Numbers,
    heat_coefficient: Numbers,
    upward_resistance: Numbers,
    downward_resistance: Numbers,
    below_temperature: Numbers,
    kind: Numbers,
    mass_fraction: Numbers,
) -> Numbers:
    """Return temperature of loops of one part, at a volume flow.

    Shapes broadcast.

    Args:
        volume_flow: at the mean water temperature, m³/s, above 0.
        supply_temperature: °C.
        room_temperature: °C.
        area: m².
        heat_coefficient: W/(m²·K).
        upward_resistance: m²·K/W.
        downward_resistance: m²·K/W.
        below_temperature: °C.
        kind: as for `fluid.density`.
        mass_fraction: as for `fluid.density`.

    Returns:
        °C, as of `parts_return`.

    Source:
        The balance of this module.
    """
    columns = np.broadcast_arrays(
        positive(volume_flow),
        supply_temperature,
        room_temperature,
        area,
        heat_coefficient,
        upward_resistance,
        positive(downward_resistance),
        below_temperature,
        kind,
        mass_fraction,
    )
    flow, supply, room, size, coefficient, upward, downward, below, fluid_kind, fraction = (
        column.ravel() for column in columns
    )

    def capacity_rate(rows: Index, mean: Array) -> Array:
        kinds, fractions = fluid_kind[rows], fraction[rows]
        density = fluid.density(kinds, fractions, mean)
        return flow[rows] * density * fluid.specific_heat(kinds, fractions, mean)

    found = parts_return(
        capacity_rate,
        supply,
        np.arange(len(flow)),
        np.zeros(len(flow), dtype=bool),
        room,
        *taken_from_water(size, coefficient, upward, downward, room, below),
    )
    return found.reshape(columns[0].shape)


@elementwise
def share_of_excess(share: Numbers, largest_output: Numbers, held_back: Numbers) -> Numbers:
    """The share of the open point's excess that gives a share of the heat upwards there.

    Shapes broadcast. What is held back does not fall with the excess, so the excess falls by less
    than the heat.

    Args:
        share: of the heat upwards at the open point.
        largest_output: heat flux upwards at the open point, W/m².
        held_back: as for `taken_from_water`, W/m².

    Returns:
        A pure number.

    Source:
        Derived from q = K_H·Δθ_H − q_x.
    """
    whole = largest_output + held_back
    return np.where(held_back == 0, share, (share * largest_output + held_back) / whole)


@elementwise
def return_for_share(
    share: Numbers,
    supply_temperature: Numbers,
    open_return: Numbers,
    room_temperature: Numbers,
    feed_ratio: Numbers,
) -> Numbers:
    """Return temperature at which the floor gives a share of its heat at the open return.

    Shapes broadcast.

    Args:
        share: above 0.
        supply_temperature: °C.
        open_return: °C.
        room_temperature: °C.
        feed_ratio: area times heat coefficient of the loop's feeds in the same room, over that of
            its floor there; 0 where there are none.

    Returns:
        °C: the open return from a share of 1 on, and the room's temperature where the share is less
        than the feeds give at any return.

    Source:
        EN 1264-3:2021, reported: each room has its own drop at the common supply.

    Let a be the supply's excess over the room and a·exp(−u) the return's. Floor and feeds give
    a·h(u), h = (1 − exp(−u))/u + φ·(1 + exp(−u))/2, times area and heat coefficient of the floor:
    the first is the logarithmic mean, the second that of a feed, whose water is supply one way and
    return the other. h falls and bends one way, so Newton walks from the open return to the root
    without overshooting.
    """
    supply_excess = positive(supply_temperature - room_temperature)
    decay: Numbers = np.log(supply_excess / positive(open_return - room_temperature))

    def given(decay: Numbers) -> Numbers:
        return -np.expm1(-decay) / decay + feed_ratio * (1 + np.exp(-decay)) / 2

    goal = share * given(decay)
    moving: Mask = np.asarray((share < 1) & (goal > feed_ratio / 2))
    decay = np.where((share < 1) & ~moving, np.inf, decay)
    for _ in range(_MOST_STEPS):
        if not moving.any():
            break
        left = np.exp(-decay)
        slope = (left * (1 + decay) - 1) / decay**2 - feed_ratio * left / 2
        step = np.where(moving, (goal - given(decay)) / slope, 0.0)
        decay = decay + step
        moving = moving & (step > 1e-13 * decay)
    cooled = room_temperature + supply_excess * np.exp(-decay)
    found = np.where(share >= 1, open_return, np.where(share < 1, cooled, np.nan))
    return np.where(np.isnan(goal), np.nan, found)
