"""Whether plan and design agree, and what a plan shows at all. SI, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.drawn import Drawn, unmatched
from checker.compute.registry import quantities_of
from checker.quantities.part import FEED, SERPENTINE
from checker.quantities.plan import NOT_SHOWN
from checker.quantities.sources import DRAWING, GEOMETRY

loop = quantities_of("loop")
part = quantities_of("part")
room = quantities_of("room")
design = quantities_of("design")

EVEN, UNEVEN = 0.3, 0.65
"""Unevenness up to which a loop is a counterflow, and from which it is a serpentine: as
constructed, counterflows have 0.00 to 0.03, double meanders 0.5, serpentines 0.76 to 0.92.
"""


# ---- which things the plan shows at all


@loop(
    unit="1",
    title="Whether the plan shows rooms",
    symbol="z_R",
    formula="is 1 where it does, also where it says that there are none, else 0",
    source=DRAWING,
    shown=False,
)
def rooms_drawn(plan: Drawn) -> Array:
    """1 where the plan shows rooms, else 0."""
    return plan.shows("rooms")


@loop(
    unit="1",
    title="Whether the plan shows ports of headers",
    symbol="z_H",
    formula="is 1 where it does, also where it says that there are none, else 0",
    source=DRAWING,
    shown=False,
)
def headers_drawn(plan: Drawn) -> Array:
    """1 where the plan shows ports of headers, else 0."""
    return plan.shows("headers")


@loop(
    unit="1",
    title="Whether the plan shows movement joints",
    symbol="z_j",
    formula="is 1 where it does, also where it says that there are none, else 0",
    source=DRAWING,
    shown=False,
)
def joints_drawn(plan: Drawn) -> Array:
    """1 where the plan shows movement joints or says that there are none, else 0."""
    return plan.shows("joints")


@loop(
    unit="1",
    title="Whether the plan shows fixed units",
    symbol="z_u",
    formula="is 1 where it does, also where it says that there are none, else 0",
    source=DRAWING,
    shown=False,
)
def fixed_drawn(plan: Drawn) -> Array:
    """1 where the plan shows fixed units or says that there are none, else 0."""
    return plan.shows("fixed")


@loop(
    unit="1",
    title="Whether the plan shows something to keep clear of",
    symbol="z_c",
    formula="is 1 where it does, else 0",
    source=DRAWING,
    shown=False,
)
def keep_clear_drawn(plan: Drawn) -> Array:
    """1 where the plan has outlines to keep clear of, else 0."""
    known = plan.shows("keep_clear")
    return np.where(np.isnan(known), known, (~np.isnan(plan.column("clearance"))).astype(float))


@loop(
    unit="1",
    title="Whether it runs along an outer wall on the plan",
    symbol="z_w",
    formula="is 1 where a heating run is the next to an outer wall, else 0",
    source=DRAWING,
    shown=False,
)
def at_outer_wall(plan: Drawn) -> Array:
    """1 where the loop has runs along an outer wall, else 0."""
    known = plan.shows("outer_walls")
    return np.where(np.isnan(known), known, (~np.isnan(plan.column("hot_at_wall"))).astype(float))


@room(
    unit="1",
    title="Whether the plan shows heating runs in the room",
    symbol="z_h",
    formula="is 1 where a route heats the room, else 0",
    source=DRAWING,
    shown=False,
)
def heated_on_plan(plan: Drawn) -> Array:
    """1 where a route heats the room, else 0."""
    known = plan.shows("routes")
    return np.where(np.isnan(known), known, (~np.isnan(plan.column("bare_area"))).astype(float))


# ---- what is stated, compared with it


@loop(
    unit="%",
    title="Stated length against the plan",
    symbol="δ_L,z",
    formula="|{length} − {drawn_length}| / {drawn_length}",
    source=GEOMETRY,
    shown=False,
)
def length_off_plan(length: Array, drawn_length: Array) -> Array:
    """How far the stated length is from the drawn one, as a share of it, without a sign."""
    return np.abs(length - drawn_length) / drawn_length


@loop(
    unit="%",
    title="Stated area against the plan",
    symbol="δ_A,z",
    formula="|{area} − {drawn_area}| / {drawn_area}",
    source=GEOMETRY,
    shown=False,
)
def area_off_plan(area: Array, drawn_area: Array) -> Array:
    """How far the stated area is from the drawn one, as a share of it, without a sign."""
    return np.abs(area - drawn_area) / drawn_area


@part(
    unit="mm",
    title="Spacing on the plan",
    symbol="T_z",
    formula="is the middle one of the distances between neighbouring runs of the part",
    source=DRAWING,
    missing_because=NOT_SHOWN,
    optional=("room", "spacing", "own_length"),
    shown=False,
)
def drawn_spacing_here(
    loop: Array, room: Array, spacing: Array, own_length: Array, feed: Array, plan: Drawn
) -> Array:
    """Median distance of neighbouring parallel runs in the part's room, m.

    Parts of one loop in one room share its distances in rising order, by their spacing.
    """
    whole = np.where(feed == FEED, np.nan, loop)
    return plan.spacings(whole, room, spacing, own_length)


@part(
    unit="mm",
    title="Stated spacing against the plan",
    symbol="δ_T,z",
    formula="|{spacing} − {drawn_spacing_here}|",
    source=GEOMETRY,
    shown=False,
)
def spacing_off_plan(spacing: Array, drawn_spacing_here: Array) -> Array:
    """Distance between the stated spacing and the drawn one, m."""
    return np.abs(spacing - drawn_spacing_here)


@loop(
    unit="1",
    title="Whether it heats the stated room on the plan",
    symbol="i_z",
    formula="is 1 where the route heats the stated rooms and no other, else 0",
    source=DRAWING,
    missing_because=NOT_SHOWN,
    shown=False,
    places="rooms",
)
def room_as_drawn(plan: Drawn) -> Array:
    """1 where plan and design name the same rooms, else 0."""
    return plan.same_rooms()


@loop(
    unit="1",
    title="Whether it is laid in the stated pattern on the plan",
    symbol="m_z",
    formula="is 1 where the water's age is even for a counterflow and uneven for a serpentine, "
    "else 0",
    source=DRAWING,
    missing_because="the plan's pattern is neither clearly",
    shown=False,
    places="pattern",
)
def pattern_as_drawn(pattern: Array, drawn_pattern: Array) -> Array:
    """1 where plan and design show the same pattern, else 0; missing between the two."""
    even, uneven = drawn_pattern <= EVEN, drawn_pattern >= UNEVEN
    same = np.where(pattern == SERPENTINE, uneven, even)
    unknown = np.isnan(pattern) | ~(even | uneven)
    return np.where(unknown, np.nan, same.astype(float))


@loop(
    unit="1",
    title="Whether it starts at the stated port on the plan",
    symbol="p_z",
    formula="is 1 where the route starts at the stated port of the stated header, else 0",
    source=DRAWING,
    missing_because="the plan shows no header",
    shown=False,
    places="ports",
)
def port_as_drawn(header: Array, port: Array, drawn_port: Array, plan: Drawn) -> Array:
    """1 where plan and design name the same header and port, else 0."""
    shown = plan.references("header", "headers")
    same = (shown == header) & (drawn_port == port)
    unknown = np.isnan(header) | np.isnan(port) | np.isnan(shown)
    return np.where(unknown, np.nan, same.astype(float))


@design(
    unit="%",
    title="Least difference of the plan's sizes from the stated ones",
    symbol="δ_z",
    formula="is the least share that a drawn length or spacing (of too few, also a room) is off "
    "what is stated",
    source=DRAWING,
    missing_because="too few sizes are stated to hold the plan against",
    shown=False,
    places="scale",
)
def plan_misfit(plan: Drawn) -> Array:
    """0 where one of the sizes agrees; large for a schematic, or for a unit that is not its own."""
    return plan.of_design("misfit")


@design(
    unit="1",
    title="Loops in only one of plan and design",
    symbol="n_o",
    formula="are the loops without a route and the routes without a loop, counted",
    source=DRAWING,
    shown=False,
    places="complete",
)
def plan_gaps(plan: Drawn) -> Array:
    """How many loops and routes have no counterpart."""
    found = np.full(plan.size, np.nan)
    for number, drawing in plan.tables.drawings.items():
        found[number] = len(unmatched(drawing, plan.tables, number))
    return found


@design(
    unit="1",
    title="What the reader of the drawing could not use as drawn",
    symbol="n_r",
    formula="are its remarks, counted",
    source=DRAWING,
    shown=False,
    places="remarks",
)
def plan_remarks(plan: Drawn) -> Array:
    """How many remarks the reader of the drawing has."""
    found = np.full(plan.size, np.nan)
    for number, drawing in plan.tables.drawings.items():
        found[number] = len(drawing.measured.plan.remarks)
    return found
