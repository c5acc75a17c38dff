"""Whether perimeter zones are along the walls. Values in SI, temperatures in °C, one a row.

The standard lets the floor be hotter in a strip along outer walls, at most 1 m wide, where nobody
stays. A plan shows how wide the strip is; without one, only its area is known.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.physics.arrays import BORDER_TOLERANCE
from checker.quantities.part import FEED, OWN
from checker.quantities.part_surface import BATHROOM, OCCUPIED_LIMIT, PERIMETER
from checker.quantities.sources import EN_1264_2, SUM

SLACK = 1e-6
"""K, so that a surface at the limit of the occupied zone does not count as hotter."""

part, room, loop = quantities_of("part"), quantities_of("room"), quantities_of("loop")


@part(
    unit="1",
    title="Whether only the perimeter zone may be so hot",
    symbol="h_z",
    formula="is 1 where it is perimeter zone, no bathroom, and {surface_max} above 29 °C, else 0",
    source=EN_1264_2,
    optional=("surface_max", "room_use", "zone"),
    needed_when={"surface_max": ("feed", (OWN,))},
    shown=False,
)
def hot_perimeter(surface_max: Array, room_use: Array, zone: Array, feed: Array) -> Array:
    """1 for a part that is hotter than the occupied zone may be, and is allowed to as perimeter."""
    hot = (surface_max > OCCUPIED_LIMIT + SLACK) & (zone == PERIMETER) & (feed != FEED)
    return np.where(hot & (room_use != BATHROOM), 1.0, 0.0)


@part(
    unit="m²",
    title="Hot perimeter zone of which no plan shows how wide it is",
    symbol="A_z",
    formula=("{area}", "0"),
    source=EN_1264_2,
    optional=("loop_perimeter_reach", "loop_at_outer_wall", "loop_all_perimeter"),
    needed_when={"area": ("hot_perimeter", (1.0,))},
    shown=False,
)
def hot_perimeter_area(
    area: Array,
    hot_perimeter: Array,
    loop_perimeter_reach: Array,
    loop_at_outer_wall: Array,
    loop_all_perimeter: Array,
) -> Array:
    """Area of a part of `hot_perimeter`, m²; 0 for others, and for those whose strip a plan shows.

    A plan shows the strip of a loop that is perimeter zone throughout and lies along an outer wall;
    of a loop in parts it shows where the loop ends.
    """
    alone = (loop_at_outer_wall == 1) & (loop_all_perimeter == 1)
    shown = alone & ~np.isnan(loop_perimeter_reach)
    return np.where((hot_perimeter == 1) & ~shown, area, 0.0)


@loop(
    unit="1",
    title="Whether all of it is perimeter zone",
    symbol="z_R",
    formula="is 1 where {parts_zone} is perimeter for every part, else 0",
    source="design",
    shown=False,
)
def all_perimeter(parts_zone: Grouped, parts_feed: Grouped) -> Array:
    """1 for a loop of which every part is perimeter zone, feeds left out, else 0."""
    own = parts_feed.values != FEED
    zone = parts_zone.values[own]
    perimeter = np.where(np.isnan(zone), np.nan, (zone == PERIMETER).astype(float))
    return Grouped(perimeter, parts_zone.group[own], parts_zone.size).smallest()


@room(
    unit="m²",
    title="Hot perimeter zone of which no plan shows how wide it is",
    symbol="ΣA_z",
    formula="Σ{parts_hot_perimeter_area}",
    source=SUM,
    shown=False,
)
def hot_perimeter_sum(parts_hot_perimeter_area: Grouped) -> Array:
    """Area of all such parts in the room, m²."""
    return parts_hot_perimeter_area.sum()


@room(
    unit="1",
    title="Whether it has a hot perimeter zone of which no plan shows how wide it is",
    symbol="h_z",
    formula="is 1 where {parts_hot_perimeter} is 1 of a part whose {parts_hot_perimeter_area} is "
    "not 0, else 0",
    source=EN_1264_2,
    optional=("parts_hot_perimeter", "parts_hot_perimeter_area"),
    shown=False,
)
def has_hot_perimeter(parts_hot_perimeter: Grouped, parts_hot_perimeter_area: Grouped) -> Array:
    """1 where the room has such a part, also of unknown area, else 0."""
    hot = (parts_hot_perimeter.values == 1) & (parts_hot_perimeter_area.values != 0)
    return parts_hot_perimeter.any(hot).astype(float)


@room(
    unit="m²",
    title="Strips along the walls",
    symbol="A_R,max",
    formula="{area} − max(√{area} − {2 m}, {0 m}) · max(√{area} − {1 m}, {0 m})",
    source=f"{EN_1264_2}: the peripheral area reaches at most 1 m into the room",
    missing_because=(
        "the perimeter zone covers more than strips 1 m wide along three walls of a square room "
        "of this area would; show it on a plan as a loop of its own along the outer wall, or "
        "state the part where people stay as occupied"
    ),
    shown=False,
)
def perimeter_strips(area: Array, hot_perimeter_sum: Array) -> Array:
    """Area of strips 1 m wide along three sides of a square of the room's area, m².

    Missing where the perimeter zone covers more: a long narrow room may have such a one, so its
    area alone does not show it to be wrong.
    """
    side = np.sqrt(area)
    strips = area - np.maximum(side - 2.0, 0.0) * np.maximum(side - 1.0, 0.0)
    return np.where(hot_perimeter_sum <= strips * (1 + BORDER_TOLERANCE), strips, np.nan)


@loop(
    unit="1",
    title="Whether only the perimeter zone may be so hot",
    symbol="h_z",
    formula="max({parts_hot_perimeter})",
    source=EN_1264_2,
    shown=False,
)
def has_hot_perimeter_zone(parts_hot_perimeter: Grouped) -> Array:
    """1 where a part of the loop is hotter than the occupied zone may be, else 0."""
    return parts_hot_perimeter.largest()
