"""Quantities of a part of a loop: what it must give for the load of its room. SI and °C, one a
row.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Index
from checker.compute.registry import quantities_of
from checker.physics import balance, floor, shares
from checker.quantities.design import BY_DROP
from checker.quantities.part import FEED
from checker.quantities.sources import EN_1264_2, EN_1264_3

quantity = quantities_of("part")


@quantity(
    unit="1",
    title="Share of its heat at the open point that the load needs",
    symbol="s",
    formula=(
        "{room_heat_load} / {room_open_heat}",
        "is what the room's load ({room_heat_load}) leaves over the heat of passing feeds, which "
        "counts up to nine tenths of it, over {room_open_heat}; the passing feeds' at the set "
        "point of their loops",
    ),
    source=f"{EN_1264_3}; shared in proportion to what each part gives",
    optional=("room_heat_load", "loop_given_flow", "plant_flows"),
    missing_because="the shares of the room's load cannot be worked out: the floor gives nothing, "
    "or a loop that passes through has no set point",
    shown=False,
)
def share(
    loop: Array,
    room: Array,
    job: Index,
    feed: Array,
    passes: Array,
    area: Array,
    working_coefficient: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    held_back: Array,
    below_temperature: Array,
    room_temperature: Array,
    supply_temperature: Array,
    loop_open_return: Array,
    loop_given_flow: Array,
    plant_drop: Array,
    plant_flows: Array,
    plant_fluid_kind: Array,
    loop_fluid_fraction: Array,
    largest_output: Array,
    feed_ratio: Array,
    room_heat_load: Array,
    room_open_heat: Array,
    room_open_passing_heat: Array,
) -> Array:
    """Heat that the part must give, over what it gives at the open point; NaN where no load is
    known.

    The same for all parts of a room. Shares and the heat of passing feeds are solved together.
    """
    simple = np.where(room_open_heat > 0, room_heat_load / room_open_heat, np.nan)
    simple = np.where(room_heat_load == 0, 0.0, simple)
    simple = np.where(np.isnan(room_open_passing_heat), np.nan, simple)
    passing = passes == 1
    if not passing.any():
        return simple
    shared = np.isin(job, job[passing])

    def of(column: Array) -> Array:
        return column[shared]

    found = simple.copy()
    found[shared] = shares.with_passing_heat(
        of(loop).astype(np.intp),
        of(room),
        job[shared],
        of(feed) == FEED,
        passing[shared],
        of(area),
        of(working_coefficient),
        of(upward_resistance),
        of(downward_resistance),
        of(held_back),
        of(below_temperature),
        of(room_temperature),
        of(supply_temperature),
        of(loop_open_return),
        ~np.isnan(of(loop_given_flow)),
        of(plant_flows) == BY_DROP,
        of(plant_drop),
        of(plant_fluid_kind),
        of(loop_fluid_fraction),
        of(largest_output),
        of(feed_ratio),
        of(room_heat_load),
        of(room_open_heat),
    )
    return found


@quantity(
    unit="W/m²",
    title="Share of the room's heat load",
    symbol="q_N",
    formula="{share} · {largest_output}",
    source=f"{EN_1264_3}; shared in proportion to what each part gives",
    shown=False,
)
def load_flux(share: Array, largest_output: Array) -> Array:
    """Heat flux that the part must give for the load, W/m²."""
    return share * largest_output


@quantity(
    unit="1",
    title="Whether it asks for water",
    symbol="w",
    formula="is 0 where the room's load is zero, and for a feed, else 1",
    source="design",
    optional=("room_heat_load",),
    shown=False,
)
def asks(room_heat_load: Array, feed: Array) -> Array:
    """1 for a part that needs water, else 0."""
    return np.where((room_heat_load == 0) | (feed == FEED), 0.0, 1.0)


@quantity(
    unit="°C",
    title="Return at which it gives its share of the load",
    symbol="θ_R,N",
    formula=(
        "{loop_open_return}",
        "where the floor gives {share} of what it gives with a return of {loop_open_return}",
    ),
    source=EN_1264_3,
    needed_when={"share": ("asks", (1.0,))},
    optional=("room_heat_load",),
    shown=False,
)
def wanted_return(
    share: Array,
    asks: Array,
    room_heat_load: Array,
    supply_temperature: Array,
    loop_open_return: Array,
    room_temperature: Array,
    feed_ratio: Array,
    largest_output: Array,
    held_back: Array,
) -> Array:
    """Return temperature, °C, at most that of the open point; −inf for a part that needs no
    water.
    """
    found = balance.return_for_share(
        balance.share_of_excess(share, largest_output, held_back),
        supply_temperature,
        loop_open_return,
        room_temperature,
        feed_ratio,
    )
    found = np.where(np.isnan(room_heat_load), loop_open_return, found)
    return np.where(asks == 0, -np.inf, found)


# ---- the flow at the plant's drop, and the supply that the load needs


@quantity(
    unit="W",
    title="Heat taken from the water at the plant's drop",
    symbol="Q̇_W,σ",
    formula=(
        "{area} · (q + q_u) with q = {load_flux}",
        "{area} · (q + q_u) with q = {largest_output}",
        "{area} · (q + q_u) with q = {working_coefficient} · ({supply_temperature} − {plant_drop} "
        "/ 2 − {room_temperature})",
    ),
    source=f"{EN_1264_2}, {EN_1264_3}",
    optional=("load_flux", "largest_output", "room_heat_load"),
    shown=False,
)
def dropped(
    load_flux: Array,
    largest_output: Array,
    room_heat_load: Array,
    working_coefficient: Array,
    supply_temperature: Array,
    plant_drop: Array,
    room_temperature: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
    area: Array,
    feed: Array,
) -> Array:
    """Heat flow up and down while the water cools by the plant's drop, W.

    With the part's share of the load; where no load is known, with what it gives at the open point.
    """
    return area * shares.dropped_flux(
        load_flux,
        largest_output,
        room_heat_load,
        working_coefficient,
        supply_temperature,
        plant_drop,
        room_temperature,
        upward_resistance,
        downward_resistance,
        below_temperature,
        feed == FEED,
    )


@quantity(
    unit="°C",
    title="Supply temperature that the load needs",
    symbol="θ_V,N",
    formula=(
        "{room_temperature} + {plant_drop} / (1 − exp(−{plant_drop} · {working_coefficient} "
        "/ {load_flux}))",
        "{room_temperature} + {plant_drop} / (1 − exp(−{plant_drop} · {working_coefficient} "
        "/ ({load_flux} + {held_back})))",
    ),
    source=f"{EN_1264_3}, exact form",
    needed_when={"load_flux": ("asks", (1.0,)), "working_coefficient": ("asks", (1.0,))},
    missing_because="the load is zero",
    shown=False,
)
def needed_supply(
    room_temperature: Array,
    plant_drop: Array,
    working_coefficient: Array,
    load_flux: Array,
    asks: Array,
    held_back: Array,
) -> Array:
    """Supply temperature, °C, at which the part gives exactly its load at the plant's drop.

    −inf for a part that needs no water.
    """
    asked = np.where(load_flux > 0, load_flux + held_back, np.nan)
    found = floor.needed_supply(room_temperature, plant_drop, working_coefficient, asked)
    return np.where(asks == 0, -np.inf, found)
