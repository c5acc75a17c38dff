"""Quantities of a part of a loop: area, length and place. SI, one a row.

A loop without parts is one part. A feed that passes through a room and gives it heat is a part too.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Mask
from checker.compute.registry import quantities_of
from checker.design.schema import design_format
from checker.quantities.sources import GEOMETRY

quantity = quantities_of("part")

_code = design_format().code
SERPENTINE = _code("loops", "pattern", "serpentine")
OWN, FEED = 0.0, 1.0


@quantity(
    unit="m²",
    title="Heated area",
    symbol="A",
    formula=("{given_area}", "{length} · {spacing}"),
    source="design; of a feed, its length times its spacing",
    needed_when={
        "given_area": ("feed", (OWN,)),
        "length": ("feed", (FEED,)),
        "spacing": ("feed", (FEED,)),
    },
    shown=False,
)
def area(given_area: Array, length: Array, spacing: Array, feed: Array) -> Array:
    """Floor that the part heats, m²."""
    return np.where(feed == FEED, length * spacing, given_area)


@quantity(
    unit="m²",
    title="Heated area that is no feed's",
    symbol="A",
    formula=("{area}", "0"),
    source=GEOMETRY,
    needed_when={"area": ("feed", (OWN,))},
    shown=False,
)
def own_area(area: Array, feed: Array) -> Array:
    """Floor that the part heats, m²; zero for a feed."""
    return np.where(feed == FEED, 0.0, area)


@quantity(
    unit="m",
    title="Length that area and spacing ask for",
    symbol="L",
    formula=("{area} / {spacing}", "0"),
    source=GEOMETRY,
    needed_when={"area": ("feed", (OWN,)), "spacing": ("feed", (OWN,))},
    shown=False,
)
def own_length(area: Array, spacing: Array, feed: Array) -> Array:
    """Area over spacing, m; zero for a feed."""
    return np.where(feed == FEED, 0.0, area / spacing)


@quantity(
    unit="°C",
    title="Supply temperature",
    symbol="θ_V",
    formula="{loop_supply_temperature}",
    source="design",
    shown=False,
)
def supply_temperature(loop_supply_temperature: Array) -> Array:
    """Water to the loop, °C."""
    return loop_supply_temperature


@quantity(
    unit="1",
    title="Radius of the turns in outside diameters of the pipe",
    symbol="r/d_a",
    formula=("{spacing} / {pipe_outside}", "{spacing} / 2 / {pipe_outside}"),
    source=GEOMETRY,
    missing_because="pattern is not given",
    shown=False,
)
def spacing_turn_ratio(spacing: Array, loop_pattern: Array, pipe_outside: Array) -> Array:
    """Radius of the tightest turn over the pipe's outside diameter, by spacing and pattern.

    A serpentine turns back within one spacing, so by half of it; a counterflow spiral turns
    back in its middle within two.
    """
    radius = np.where(loop_pattern == SERPENTINE, spacing / 2, spacing)
    return np.where(np.isnan(loop_pattern), np.nan, radius / pipe_outside)


@quantity(
    unit="1",
    title="Radius of the turns in outside diameters of the pipe",
    symbol="r/d_a",
    formula=("{loop_drawn_turn_ratio}", "{spacing_turn_ratio}"),
    source=GEOMETRY,
    optional=("spacing_turn_ratio", "loop_drawn_turn_ratio"),
    shown=False,
)
def turn_ratio(spacing_turn_ratio: Array, loop_drawn_turn_ratio: Array) -> Array:
    """The ratio on the plan where there is one, else the one from spacing and pattern."""
    drawn = loop_drawn_turn_ratio
    return np.where(np.isnan(drawn), spacing_turn_ratio, drawn)


@quantity(
    unit="1",
    title="Whether it is a feed through a room that its loop does not heat",
    symbol="p",
    formula="is 1 for a feed through a room that no part of its loop heats, else 0",
    source="design",
    optional=("room",),
    shown=False,
)
def passes(loop: Array, room: Array, feed: Array) -> Array:
    """1 for a feed that only passes through its room, else 0."""
    return np.where((feed == FEED) & ~_met(loop, room, feed == OWN), 1.0, 0.0)


@quantity(
    unit="1",
    title="First part of its loop in its room",
    symbol="n",
    formula="is 1 for the first part of a loop in a room, else 0; a feed is none",
    source="count",
    shown=False,
)
def first_there(loop: Array, room: Array, feed: Array) -> Array:
    """1 for one part of each loop in each room that it heats, else 0."""
    found = np.zeros(len(loop))
    own = np.flatnonzero(feed == OWN)
    _, first = np.unique(np.stack((loop[own], room[own])), axis=1, return_index=True)
    found[own[first]] = 1.0
    return found


@quantity(
    unit="1",
    title="Heat of the loop's feeds in the room against that of its floor, for each kelvin",
    symbol="φ",
    formula=(
        "0",
        "is {area} · {working_coefficient} of the loop's feeds in the room, over that of its parts",
    ),
    source="sum over the loop's parts in the room",
    missing_because="of a feed of the same loop in this room something is not given",
    optional=("working_coefficient", "area"),
    shown=False,
)
def feed_ratio(
    loop: Array, room: Array, feed: Array, area: Array, working_coefficient: Array
) -> Array:
    """Area times heat coefficient of the loop's feeds in the part's room, over that of its floor.

    Zero where the loop has no feed in the room.
    """
    fed = (feed == FEED) & ~np.isnan(room)
    found = np.zeros(len(loop))
    if not fed.any():
        return found
    with_feed = _met(loop, room, fed)
    _, which = np.unique(np.stack((loop, room))[:, with_feed], axis=1, return_inverse=True)
    which = which.reshape(-1)
    heat = (area * working_coefficient)[with_feed]
    is_feed = fed[with_feed]
    feeds = np.bincount(which, np.where(is_feed, heat, 0.0))
    floors = np.bincount(which, np.where(is_feed, 0.0, heat))
    found[with_feed] = np.where(
        floors > 0, feeds / floors, np.where(np.isnan(floors), np.nan, 0.0)
    )[which]
    return found


def _met(loop: Array, room: Array, others: Mask) -> Mask:
    """For each row, whether one of the others belongs to the same loop in the same room."""
    if not others.any():
        return others
    rooms = np.where(np.isnan(room), -1.0, room)
    span = rooms.max(initial=0.0) + 2
    keys = loop * span + rooms + 1
    found: Mask = np.isin(keys, keys[others]) & (rooms >= 0)
    return found


@quantity(
    unit="mm",
    title="Three pipe diameters",
    symbol="3 · d_a",
    formula="3 · {pipe_outside}",
    source="California Mechanical Code 1217.5",
    shown=False,
)
def three_diameters(pipe_outside: Array) -> Array:
    """Least spacing in a structural slab, m."""
    return 3 * pipe_outside


@quantity(
    unit="mm",
    title="A third of the slab",
    symbol="s_B/3",
    formula="{floor_slab_thickness} / 3",
    source="California Mechanical Code 1217.5",
    shown=False,
)
def third_of_slab(floor_slab_thickness: Array) -> Array:
    """Largest outside diameter of a pipe in a structural slab, m."""
    return floor_slab_thickness / 3
