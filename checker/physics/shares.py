"""How the load of a room is shared by the parts of loops in it, with feeds that pass through."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from checker.physics import balance, floor, fluid
from checker.physics.arrays import Floats

Index = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]

MOST_PASSING = 0.9
"""Of a room's load, what passing feeds take off it at most: they shut no loop. Common practice."""
_MOST_ROUNDS = 200
_STANDS_STILL = 1e-13  # of a share
_RETURN_TOLERANCE = 1e-11  # K


def dropped_flux(
    load_flux: Floats,
    largest_output: Floats,
    load: Floats,
    heat_coefficient: Floats,
    supply_temperature: Floats,
    drop: Floats,
    room_temperature: Floats,
    upward_resistance: Floats,
    downward_resistance: Floats,
    below_temperature: Floats,
    feed: Mask,
) -> Floats:
    """Heat flux up and down of parts while the water falls by the plant's drop.

    load_flux, largest_output: W/m², what the load asks for and what is given at the open point;
    load: of the room, W, NaN where it is not known; feed: whether the water is supply one way and
    return the other; the rest as for balance.flow_at_drop. All of shape (parts,). Returns W/m².
    EN 1264-3, reported.
    """
    output = np.where(np.isnan(load), largest_output, load_flux)
    mean = np.maximum(supply_temperature - drop / 2 - room_temperature, 0.0)
    output = np.where(feed, heat_coefficient * mean, output)
    down = floor.down_loss(
        output, room_temperature, upward_resistance, downward_resistance, below_temperature
    )
    return output + down


def with_passing_heat(
    loop: Index,
    room: Floats,
    job: Index,
    feed: Mask,
    passing: Mask,
    area: Floats,
    heat_coefficient: Floats,
    upward_resistance: Floats,
    downward_resistance: Floats,
    below_temperature: Floats,
    room_temperature: Floats,
    supply_temperature: Floats,
    open_return: Floats,
    stated: Mask,
    by_drop: Mask,
    drop: Floats,
    kind: Floats,
    mass_fraction: Floats,
    largest_output: Floats,
    feed_ratio: Floats,
    load: Floats,
    open_heat: Floats,
) -> Floats:
    """The share that the load asks of each part, solved together with the heat of passing feeds.

    All of shape (parts,). loop, room, job: the rows that a part belongs to, room NaN where it is
    not known; feed: whether the part is a feed, passing: whether through a room that its loop does
    not heat; stated: whether its loop's flow is; by_drop: whether flows follow from the plant's
    drop; open_heat: what all parts of the room give open, without what passes, W; the rest as
    in `balance` and `quantities.part_operation`. Returns heat asked for over heat at the open
    point, the same for all parts of a room; NaN with no load known, or where a loop that passes
    has no set point.

    Returns of the loops give the heat that passes, that gives shares, and these give returns. Each
    round takes the last one's; a warmer return of one loop lets another's fall by a small part of
    it, so the rounds close in. A job that stands still is left alone, so that it comes out alike
    in any company.
    """
    loops, own_loop = np.unique(loop, return_inverse=True)
    rooms = np.where(np.isnan(room), -1.0, room)
    known_rooms, own_room = np.unique(rooms, return_inverse=True)
    jobs, own_job = np.unique(job, return_inverse=True)
    count = len(loops)
    first = np.zeros(count, dtype=np.intp)
    first[own_loop[::-1]] = np.arange(len(loop))[::-1]
    proportional = area * heat_coefficient * (1 + upward_resistance / downward_resistance)
    constant = area * (room_temperature - below_temperature) / downward_resistance
    asks = ~feed & (load != 0)
    runs = np.zeros(count)
    np.maximum.at(runs, own_loop, np.where(asks | (stated & (open_return > -np.inf)), 1.0, 0.0))
    conductance = np.where(passing, area * heat_coefficient, 0.0)

    def returned(share: Floats) -> Floats:
        """The return of each loop, °C; −inf where no water runs."""
        wanted = balance.return_for_share(
            share, supply_temperature, open_return, room_temperature, feed_ratio
        )
        wanted = np.where(np.isnan(load), open_return, wanted)
        wanted = np.where(asks, wanted, -np.inf)
        found = np.full(count, -np.inf)
        np.maximum.at(found, own_loop, wanted)
        if by_drop.any():
            flux = dropped_flux(
                share * largest_output,
                largest_output,
                load,
                heat_coefficient,
                supply_temperature,
                drop,
                room_temperature,
                upward_resistance,
                downward_resistance,
                below_temperature,
                feed,
            )
            found = np.where(
                by_drop[first],
                dropped_return(np.bincount(own_loop, area * flux).astype(np.float64)),
                found,
            )
        found = np.where(stated[first], open_return[first], found)
        return np.where(runs == 1, found, -np.inf)

    def dropped_return(heat: Floats) -> Floats:
        supply, fluid_kind, fraction = supply_temperature[first], kind[first], mass_fraction[first]
        mean = supply - drop[first] / 2
        mass = heat / fluid.specific_heat(fluid_kind, fraction, mean) / drop[first]
        return parts_return(
            lambda mean: mass * fluid.specific_heat(fluid_kind, fraction, mean),
            supply,
            own_loop,
            feed,
            room_temperature,
            proportional,
            constant,
        )

    with np.errstate(all="ignore"):
        back = np.full(count, -np.inf)
        np.maximum.at(back, own_loop, open_return)
        back = np.where(runs == 1, back, -np.inf)
        share = np.full(len(loop), np.nan)
        moving = np.ones(len(jobs), dtype=bool)
        for _ in range(_MOST_ROUNDS):
            mean = (supply_temperature + back[own_loop]) / 2
            excess = np.maximum(mean - room_temperature, 0.0)
            given = np.where(passing, conductance * excess, 0.0)
            passed = np.bincount(own_room, given, len(known_rooms))[own_room]
            following = (load - np.minimum(passed, MOST_PASSING * load)) / open_heat
            following = np.where(load == 0, 0.0, following)
            change = np.abs(following - share) > _STANDS_STILL * np.abs(following)
            changed = np.zeros(len(jobs), dtype=bool)
            unsettled = change | (np.isnan(share) & ~np.isnan(following))
            np.logical_or.at(changed, own_job, unsettled)
            share = np.where(moving[own_job], following, share)
            moving = moving & changed
            if not moving.any():
                return share
            back = np.where(moving[own_job[first]], returned(share), back)
        return np.where(moving[own_job], np.nan, share)


def parts_return(
    capacity_rate: Callable[[Floats], Floats],
    supply_temperature: Floats,
    loop: Index,
    feed: Mask,
    room_temperature: Floats,
    proportional: Floats,
    constant: Floats,
) -> Floats:
    """Return temperature of loops of several parts, each part against its own room.

    capacity_rate: ṁ·c of each loop, W/K, at its mean water temperature, °C; supply_temperature:
    °C, shape (loops,). Of the parts, shape (parts,): loop: the row of its loop; feed: whether its
    water is supply one way and return the other; room_temperature: °C; proportional:
    A·K_H·(1 + R_o/R_u), W/K, and constant: A·(θ_i − θ_u)/R_u, W, which together are the heat that
    the part takes from the water. Returns °C, shape (loops,), to 1e-10 K; NaN where no return
    between the warmest of its rooms and the supply closes the balance.

    What the parts take less what the water gives up rises with the return and bends one way, but
    for the step in a feed's slope; Newton's step is taken where it stays between the ends, which
    close in, and half of the way where it does not.
    """
    count = len(supply_temperature)
    with np.errstate(all="ignore"):
        least = np.full(count, -np.inf)
        np.maximum.at(least, loop[~feed], room_temperature[~feed])
        supply = supply_temperature[loop]

        def surplus(back: Floats) -> tuple[Floats, Floats]:
            own = back[loop]
            excess = np.where(
                feed,
                np.maximum((supply + own) / 2 - room_temperature, 0.0),
                floor.excess(supply, own, room_temperature),
            )
            excess = np.where(~feed & (own <= room_temperature), 0.0, excess)
            steepness = np.where(
                feed,
                np.where(excess > 0, 0.5, 0.0),
                (excess / (own - room_temperature) - 1)
                / np.log((supply - room_temperature) / (own - room_temperature)),
            )
            rate = capacity_rate((supply_temperature + back) / 2)
            taken = np.bincount(loop, proportional * excess + constant, count)
            slope = np.bincount(loop, proportional * steepness, count) + rate
            return taken - rate * (supply_temperature - back), slope

        low, high = least.copy(), supply_temperature.copy()
        solvable = (surplus(low)[0] < 0) & (surplus(high - 1e-9)[0] > 0) & (low < high)
        back = np.where(solvable, low + 0.75 * (high - low), np.nan)
        moving = solvable
        for _ in range(_MOST_ROUNDS):
            if not moving.any():
                break
            value, slope = surplus(back)
            low, high = np.where(value < 0, back, low), np.where(value > 0, back, high)
            following = back - value / slope
            inside = (following > low) & (following < high)
            following = np.where(
                inside, following, np.where(value < 0, (back + high) / 2, (low + back) / 2)
            )
            following = np.where(value == 0, back, following)
            change = np.abs(following - back)
            back = np.where(moving, following, back)
            moving = moving & (change > _RETURN_TOLERANCE)
        return back
