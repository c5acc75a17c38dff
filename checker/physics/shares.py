"""How the load of a room is shared by the parts of loops in it, with feeds that pass through."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.physics import balance, floor, fluid

MOST_PASSING = 0.9
"""Of a room's load, what passing feeds take off it at most: they shut no loop. Common practice."""
_MOST_ROUNDS = 200
_STANDS_STILL = 1e-13  # of a share


def dropped_flux(
    load_flux: Array,
    largest_output: Array,
    load: Array,
    heat_coefficient: Array,
    supply_temperature: Array,
    drop: Array,
    room_temperature: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
    feed: Mask,
) -> Array:
    """Heat flux up and down of parts while the water falls by the plant's drop.

    Args:
        load_flux: what the load asks for, W/m², shape (parts,).
        largest_output: what is given at the open point, W/m², shape (parts,).
        load: of the room, W, NaN where it is not known, shape (parts,).
        heat_coefficient: W/(m²·K), shape (parts,).
        supply_temperature: °C, shape (parts,).
        drop: K, shape (parts,).
        room_temperature: °C, shape (parts,).
        upward_resistance: m²·K/W, shape (parts,).
        downward_resistance: m²·K/W, shape (parts,).
        below_temperature: °C, shape (parts,).
        feed: whether the water is supply one way and return the other, shape (parts,).

    Returns:
        W/m², shape (parts,).

    Source:
        EN 1264-3:2021, reported.
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
    room: Array,
    job: Index,
    feed: Mask,
    passing: Mask,
    area: Array,
    heat_coefficient: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    held_back: Array,
    below_temperature: Array,
    room_temperature: Array,
    supply_temperature: Array,
    open_return: Array,
    stated: Mask,
    by_drop: Mask,
    drop: Array,
    kind: Array,
    mass_fraction: Array,
    largest_output: Array,
    feed_ratio: Array,
    load: Array,
    open_heat: Array,
) -> Array:
    """The share that the load asks of each part, solved together with the heat of passing feeds.

    Returns of the loops give the heat that passes, that gives shares, and these give returns. Each
    round takes the last one's; a warmer return of one loop lets another's fall by a small part of
    it, so the rounds close in. A job that no longer changes is left alone, so that its result does
    not depend on the jobs beside it.

    Args:
        loop: the row of each part's loop, shape (parts,).
        room: the row of its room, NaN where it is not known, shape (parts,).
        job: the row of its design, shape (parts,).
        feed: whether the part is a feed, shape (parts,).
        passing: whether it is a feed through a room that its loop does not heat, shape (parts,).
        area: m², shape (parts,).
        heat_coefficient: W/(m²·K), shape (parts,).
        upward_resistance: m²·K/W, shape (parts,).
        downward_resistance: m²·K/W, shape (parts,).
        held_back: as for `balance.taken_from_water`, W/m², shape (parts,).
        below_temperature: °C, shape (parts,).
        room_temperature: °C, shape (parts,).
        supply_temperature: °C, shape (parts,).
        open_return: of its loop, °C, shape (parts,).
        stated: whether its loop's flow is stated, shape (parts,).
        by_drop: whether flows follow from the plant's drop, shape (parts,).
        drop: of the plant, K, shape (parts,).
        kind: as for `fluid.density`, shape (parts,).
        mass_fraction: as for `fluid.density`, shape (parts,).
        largest_output: heat flux up at the open point, W/m², shape (parts,).
        feed_ratio: as for `balance.return_for_share`, shape (parts,).
        load: of its room, W, NaN where it is not known, shape (parts,).
        open_heat: what all parts of its room give at the open point, without what passes, W, shape
            (parts,).

    Returns:
        Heat asked for over heat at the open point, shape (parts,), the same for all parts of a
        room; NaN with no load known, or where a loop that passes has no set point.

    Source:
        EN 1264-3:2021, reported; shared in proportion to what each part gives.
    """
    loops, own_loop = np.unique(loop, return_inverse=True)
    rooms = np.where(np.isnan(room), -1.0, room)
    known_rooms, own_room = np.unique(rooms, return_inverse=True)
    jobs, own_job = np.unique(job, return_inverse=True)
    count = len(loops)
    first = np.zeros(count, dtype=np.intp)
    first[own_loop[::-1]] = np.arange(len(loop))[::-1]
    proportional, constant = balance.taken_from_water(
        area,
        heat_coefficient,
        upward_resistance,
        downward_resistance,
        room_temperature,
        below_temperature,
        held_back,
    )
    asks = ~feed & (load != 0)
    runs = np.zeros(count)
    np.maximum.at(runs, own_loop, np.where(asks | (stated & (open_return > -np.inf)), 1.0, 0.0))
    conductance = np.where(passing, area * heat_coefficient, 0.0)

    def returned(share: Array) -> Array:
        """The return of each loop, °C; −inf where no water runs."""
        wanted = balance.return_for_share(
            balance.share_of_excess(share, largest_output, held_back),
            supply_temperature,
            open_return,
            room_temperature,
            feed_ratio,
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

    def dropped_return(heat: Array) -> Array:
        supply, fluid_kind, fraction = supply_temperature[first], kind[first], mass_fraction[first]
        mean = supply - drop[first] / 2
        mass = heat / fluid.specific_heat(fluid_kind, fraction, mean) / drop[first]
        return balance.parts_return(
            lambda rows, mean: (
                mass[rows] * fluid.specific_heat(fluid_kind[rows], fraction[rows], mean)
            ),
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
            given = np.where(passing, conductance * excess - area * held_back, 0.0)
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
