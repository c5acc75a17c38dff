"""Quantities of a part of a loop at the open point: the most heat that the design can give.

SI and °C, one a row. `part_operation` explains a loop's two operating points.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.registry import quantities_of
from checker.physics import floor
from checker.quantities.part import FEED, OWN
from checker.quantities.sources import EN_1264_2, EN_1264_3, SUM

quantity = quantities_of("part")

LOGARITHMIC = (
    "({supply_temperature} − {back}) / ln(({supply_temperature} "
    "− {room_temperature}) / ({back} − {room_temperature}))"
)
OF_A_FEED = "max(({supply_temperature} + {back}) / 2 − {room_temperature}, 0)"


def mean_excess(supply: Array, back: Array, room: Array, feed: Array) -> Array:
    """For a part the logarithmic mean, for a feed that of supply and return, K."""
    of_feed = np.maximum((supply + back) / 2 - room, 0.0)
    return np.where(feed == FEED, of_feed, floor.excess(supply, back, room))


@quantity(
    unit="K",
    title="Excess of the water over the room, open",
    symbol="Δθ_H,o",
    formula=(
        LOGARITHMIC.replace("{back}", "{loop_open_return}"),
        OF_A_FEED.replace("{back}", "{loop_open_return}"),
    ),
    source=EN_1264_2,
    missing_because="the supply is not so much warmer than the room that it can fall by the drop",
    shown=False,
)
def open_excess(
    supply_temperature: Array, loop_open_return: Array, room_temperature: Array, feed: Array
) -> Array:
    """Mean excess at the open point, K."""
    return mean_excess(supply_temperature, loop_open_return, room_temperature, feed)


@quantity(
    unit="W/m²",
    title="Heat output, open",
    symbol="q_o",
    formula=(
        "{working_coefficient} · {open_excess}",
        "{working_coefficient} · {open_excess} − {held_back}",
    ),
    source=f"{EN_1264_2} q = K_H·Δθ_H",
    shown=False,
)
def largest_output(working_coefficient: Array, open_excess: Array, held_back: Array) -> Array:
    """Heat flux up at the open point, W/m²."""
    return working_coefficient * open_excess - held_back


@quantity(
    unit="W",
    title="Heat given, open",
    symbol="Q̇_o",
    formula="{area} · {largest_output}",
    source=SUM,
    shown=False,
)
def open_heat(area: Array, largest_output: Array) -> Array:
    """Heat flow up at the open point, W."""
    return area * largest_output


@quantity(
    unit="W",
    title="Heat that shares in the room's load, open",
    symbol="Q̇_o",
    formula=("{open_heat}", "0"),
    source=SUM,
    needed_when={"open_heat": ("passes", (0.0,))},
    shown=False,
)
def sharing_heat(open_heat: Array, passes: Array) -> Array:
    """Heat flow up at the open point, W; zero for a feed that only passes."""
    return np.where(passes == 1, 0.0, open_heat)


@quantity(
    unit="1",
    title="Whether the water would come back cooler than the room",
    symbol="k",
    formula="is 1 where {loop_open_return} is no more than {room_temperature}, else 0",
    source="the logarithmic mean of an excess that ends at nothing is nothing",
    optional=("loop_open_return", "room_temperature"),
    shown=False,
)
def too_cool(loop_open_return: Array, room_temperature: Array, feed: Array) -> Array:
    """1 for a part whose water cannot fall by the drop in its room, 0 of feeds and of others."""
    return np.where((feed == OWN) & (loop_open_return <= room_temperature), 1.0, 0.0)


@quantity(
    unit="W",
    title="Heat that the room can count on, open",
    symbol="Q̇_o",
    formula=("{sharing_heat}", "0"),
    source=SUM,
    needed_when={"sharing_heat": ("too_cool", (0.0,))},
    shown=False,
)
def counted_heat(sharing_heat: Array, too_cool: Array) -> Array:
    """As `sharing_heat`, W, and nothing where the water cannot fall by the drop.

    What such a loop gives with more flow than its design has, nobody planned.
    """
    return np.where(too_cool == 1, 0.0, sharing_heat)


@quantity(
    unit="W",
    title="Heat of a passing feed, open",
    symbol="Q̇_p,o",
    formula=("{open_heat}", "0"),
    source=EN_1264_2,
    needed_when={"open_heat": ("passes", (1.0,))},
    shown=False,
)
def open_passing_heat(open_heat: Array, passes: Array) -> Array:
    """Heat flow up at the open point of a feed that only passes, W; else zero."""
    return np.where(passes == 1, open_heat, 0.0)


@quantity(
    unit="W",
    title="Heat taken from the water, open",
    symbol="Q̇_W,o",
    formula="{area} · ({largest_output} + q_u), with q_u of {largest_output}",
    source=f"{EN_1264_2}, {EN_1264_3}",
    shown=False,
)
def open_radiated(
    area: Array,
    largest_output: Array,
    room_temperature: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
) -> Array:
    """Heat flow up and down at the open point, W."""
    down = floor.down_loss(
        largest_output, room_temperature, upward_resistance, downward_resistance, below_temperature
    )
    return area * (largest_output + down)
