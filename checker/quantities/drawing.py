"""What a design's plan shows, and how what is stated agrees with it. Values in SI, one a row.

Sizes are taken only from a plan that is to scale (`design.plans`).
"""

from __future__ import annotations

import numpy as np

from checker.compute.drawn import Drawn, complete
from checker.compute.graph import Array, Grouped, quantities_of
from checker.quantities.part import FEED, SERPENTINE
from checker.quantities.sources import DRAWING, GEOMETRY

loop = quantities_of("loop")
part = quantities_of("part")
room = quantities_of("room")
floor = quantities_of("floor")
design = quantities_of("design")

EVEN, UNEVEN = 0.3, 0.65
"""Unevenness up to which a loop is a counterflow, and from which on it is a serpentine: drawn by
construction, counterflows come out at 0.00 to 0.03, double meanders at 0.5, serpentines at 0.76 to
0.92."""
NO_ROUTE = "the plan has no route of this loop"
NOT_SHOWN = "the plan does not show it"


# ---- a loop's route


@loop(
    unit="m",
    title="Length on the plan",
    symbol="L_z",
    formula="is the route's length, arcs at the corners included",
    source=DRAWING,
    missing_because=NO_ROUTE,
)
def drawn_length(plan: Drawn) -> Array:
    """Along the pipe's axis from flow port to return port, m."""
    return plan.column("length")


@loop(
    unit="m²",
    title="Heated floor on the plan",
    symbol="A_z",
    formula="is the strips half way to each neighbouring run, beside the outermost half a spacing, "
    "at most 150 mm",
    source=DRAWING,
    missing_because=NOT_SHOWN,
)
def drawn_area(plan: Drawn) -> Array:
    """Floor that the runs cover, m²."""
    return plan.column("area")


@loop(
    unit="mm",
    title="Spacing on the plan",
    symbol="T_z",
    formula="is the middle one of the distances between neighbouring runs of the loop",
    source=DRAWING,
    missing_because=NOT_SHOWN,
)
def drawn_spacing(plan: Drawn) -> Array:
    """Median distance of neighbouring parallel runs, by length, m."""
    return plan.column("spacing")


@loop(
    unit="mm",
    title="Narrow spacing on the plan",
    symbol="T_z,10",
    formula="is the distance that a tenth of the loop's runs lie nearer than",
    source=DRAWING,
    missing_because=NOT_SHOWN,
)
def drawn_spacing_least(plan: Drawn) -> Array:
    """10th percentile of the spacing, m."""
    return plan.column("spacing_least")


@loop(
    unit="mm",
    title="Wide spacing on the plan",
    symbol="T_z,90",
    formula="is the distance that a tenth of the loop's runs lie farther apart than",
    source=DRAWING,
    missing_because=NOT_SHOWN,
)
def drawn_spacing_most(plan: Drawn) -> Array:
    """90th percentile of the spacing, m."""
    return plan.column("spacing_most")


@loop(
    unit="mm",
    title="Wall gap on the plan",
    symbol="a_z",
    formula="is the least distance of a run from the wall that it lies along",
    source=DRAWING,
    missing_because=NOT_SHOWN,
    places="wall_gap",
)
def drawn_wall_gap(plan: Drawn) -> Array:
    """Least distance of the heating runs' axis from the wall beside them, m."""
    return plan.column("wall_gap")


@loop(
    unit="mm",
    title="Tightest bend on the plan",
    symbol="r_z",
    formula="is the least radius of the route's arcs",
    source=DRAWING,
    missing_because="the plan gives no radius for the corners",
)
def drawn_bend(plan: Drawn) -> Array:
    """Least radius of the pipe's axis, m."""
    return plan.column("bend")


@loop(
    unit="%",
    title="Unevenness of the water's age over the floor",
    symbol="u",
    formula="is the spread of the water's age, mean of a run and the two beside it, over that of "
    "water without neighbours",
    source=DRAWING,
    missing_because=NOT_SHOWN,
)
def drawn_pattern(plan: Drawn) -> Array:
    """0 where flow lies beside return all over, 1 where nothing evens the floor out.

    The run counts twice, its two neighbours once each; the spread of an even distribution from 0 to
    1 is 1/√12. Counterflow spirals come out below 0.1, serpentines above 0.7.
    """
    return plan.column("unevenness")


@loop(
    unit="%",
    title="Age of the water along the outer wall",
    symbol="t_w",
    formula="is the way from the flow port over the whole, mean of the runs next to the outer wall",
    source=DRAWING,
    missing_because="the plan shows no run along an outer wall",
)
def hot_at_wall(plan: Drawn) -> Array:
    """0 where the flow lies along the outer wall, 1 where the return does."""
    return plan.column("hot_at_wall")


@loop(
    unit="m",
    title="Reach from the outer wall",
    symbol="b_z",
    formula="is the greatest distance of a heating run from the outer wall and half a spacing",
    source=DRAWING,
    missing_because="the plan shows no outer wall",
    shown=False,
)
def perimeter_reach(plan: Drawn) -> Array:
    """How far the loop's heated floor reaches from the outer walls, m."""
    return plan.column("from_outer_wall")


@loop(
    unit="m",
    title="Feeds on the plan",
    symbol="L_z,feeds",
    formula="is the route's length outside the rooms that it heats",
    source=DRAWING,
    missing_because=NOT_SHOWN,
    shown=False,
)
def drawn_feeds(plan: Drawn) -> Array:
    """Pipe in no room that the loop heats, m."""
    return plan.column("feeds")


@loop(
    unit="1",
    title="Port on the plan",
    symbol="n_z",
    formula="is the port nearest to where the route starts",
    source=DRAWING,
    missing_because="the plan shows no header",
)
def drawn_port(plan: Drawn) -> Array:
    """Number of the port on its header, from 1."""
    return plan.column("port")


# ---- what the plan tells of at all


@loop(
    unit="1",
    title="Whether the plan shows rooms",
    symbol="z_R",
    formula="is 1 where it does, also where it says that there are none, else 0",
    source=DRAWING,
    shown=False,
)
def rooms_drawn(plan: Drawn) -> Array:
    """1 where the plan tells of rooms, else 0."""
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
    """1 where the plan tells of ports of headers, else 0."""
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
    """1 where the plan tells of movement joints, else 0."""
    return plan.shows("joints")


@loop(
    unit="1",
    title="Whether the plan shows what stands for good",
    symbol="z_u",
    formula="is 1 where it does, also where it says that there are none, else 0",
    source=DRAWING,
    shown=False,
)
def fixed_drawn(plan: Drawn) -> Array:
    """1 where the plan tells of what stands for good, else 0."""
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


# ---- what is stated, held against it


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

    Parts of one loop in one room share its distances from the least on, by their spacing.
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


# ---- what a pipe must not meet


@loop(
    unit="1",
    title="Crossings with pipes",
    symbol="n_x",
    formula="are the places where the route lies over a pipe, counted",
    source=DRAWING,
    missing_because=NO_ROUTE,
    shown=False,
    places="crossings",
)
def pipe_crossings(plan: Drawn) -> Array:
    """Places where the pipe lies over another, or over itself."""
    return plan.column("crossings")


@loop(
    unit="1",
    title="Heating runs over movement joints",
    symbol="n_j",
    formula="are the places where the route crosses a joint more than twice, counted",
    source=DRAWING,
    missing_because="the plan shows no joints",
    shown=False,
    places="joint_crossings",
)
def joint_crossings(plan: Drawn) -> Array:
    """Crossings of joints that the loop crosses more often than out and back."""
    return plan.column("joint_crossings")


@loop(
    unit="m",
    title="Pipe under what stands for good",
    symbol="L_u",
    formula="is the length of the route under units and baths",
    source=DRAWING,
    missing_because="the plan shows nothing that stands for good",
    shown=False,
    places="under_fixed",
)
def under_fixed(plan: Drawn) -> Array:
    """Length under the outlines of `fixed`, m."""
    return plan.column("under_fixed")


@loop(
    unit="mm",
    title="Distance from chimneys and shafts",
    symbol="a_c",
    formula="is the least distance of the route from what is to be kept clear",
    source=DRAWING,
    missing_because="the plan shows nothing to keep clear of",
    shown=False,
    places="clearance",
)
def clearance(plan: Drawn) -> Array:
    """Least distance of the pipe's axis from the outlines of `keep_clear`, m."""
    return plan.column("clearance")


@loop(
    unit="mm",
    title="Distance of the route's ends from ports",
    symbol="a_p",
    formula="is the greater distance of both ends from the nearest port of one header",
    source=DRAWING,
    missing_because="the plan shows no header",
    shown=False,
    places="end_gap",
)
def end_gap(plan: Drawn) -> Array:
    """How far the worse of the two ends is from a port of the header that it starts at, m."""
    return plan.column("end_gap")


@loop(
    unit="m",
    title="Pipe drawn over itself",
    symbol="L_d",
    formula="is the length of the route that lies on a pipe",
    source=DRAWING,
    missing_because=NO_ROUTE,
    shown=False,
)
def drawn_over(plan: Drawn) -> Array:
    """Length that runs on another line or on its own, m."""
    return plan.column("drawn_over")


@loop(
    unit="%",
    title="Share of the route that is drawn as two lines",
    symbol="l_2",
    formula="is the share with a run of its own within 30 mm",
    source=DRAWING,
    missing_because=NO_ROUTE,
    shown=False,
)
def two_lines(plan: Drawn) -> Array:
    """Near 1 where a pipe's two edges are drawn and not its axis."""
    return plan.column("two_lines")


@loop(
    unit="1",
    title="Wide spacing over the middle one",
    symbol="T_90/T",
    formula="{drawn_spacing_most} / {drawn_spacing}",
    source=GEOMETRY,
    shown=False,
)
def spacing_spread(drawn_spacing_most: Array, drawn_spacing: Array) -> Array:
    """90th percentile of the spacing over its median."""
    return drawn_spacing_most / drawn_spacing


# ---- rooms, floors and the whole


@room(
    unit="m²",
    title="Area on the plan",
    symbol="A_R,z",
    formula="is the area within the room's outline",
    source=DRAWING,
    missing_because="the plan has no outline of this room",
)
def drawn_room_area(plan: Drawn) -> Array:
    """Area within the outline, m²."""
    return plan.column("area")


@room(
    unit="m²",
    title="Bare floor",
    symbol="A_b",
    formula="is the floor more than 150 mm from pipes where a disc of 600 mm finds no pipe, wall "
    "or unit",
    source=DRAWING,
    missing_because="the plan shows no heating runs in this room",
    places="bare_area",
)
def bare_area(plan: Drawn) -> Array:
    """Floor of a heated room without pipe, m²."""
    return plan.column("bare_area")


@room(
    unit="m²",
    title="Largest field of screed on the plan",
    symbol="A_f,z",
    formula="is the largest part of the room between its walls and joints",
    source=DRAWING,
    missing_because="the plan has no outline of this room",
    shown=False,
)
def drawn_field(plan: Drawn) -> Array:
    """Area of the largest field, m²."""
    return plan.column("field_area")


@room(
    unit="m",
    title="Longest side of a field of screed on the plan",
    symbol="L_f,z",
    formula="is the longest side of the smallest rectangle round a field",
    source=DRAWING,
    missing_because="the plan has no outline of this room",
    shown=False,
)
def drawn_field_side(plan: Drawn) -> Array:
    """Longest side of any field, m."""
    return plan.column("field_length")


@floor(
    unit="m²",
    title="Largest field of screed on the plan",
    symbol="A_f,z",
    formula="is the largest field of the rooms that lie on it",
    source=DRAWING,
)
def drawn_field_area(parts_room_drawn_field: Grouped) -> Array:
    """Area of the largest field in the rooms that lie on the floor, m²."""
    return parts_room_drawn_field.largest()


@floor(
    unit="m",
    title="Longest side of a field of screed on the plan",
    symbol="L_f,z",
    formula="is the longest side of a field of the rooms that lie on it",
    source=DRAWING,
)
def drawn_field_length(parts_room_drawn_field_side: Grouped) -> Array:
    """Longest side of a field in the rooms that lie on the floor, m."""
    return parts_room_drawn_field_side.largest()


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
        found[number] = len(complete(drawing, plan.tables, number))
    return found


@design(
    unit="1",
    title="What the reader of the drawing could not take as it stood",
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
