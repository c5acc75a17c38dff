"""What a plan shows: a loop's route, the areas of rooms, the fields of screed. SI, one a row.

Sizes are taken only from a plan that is to scale (`design.plans`).
"""

from __future__ import annotations

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.drawn import Drawn
from checker.compute.registry import quantities_of
from checker.quantities.sources import DRAWING

loop = quantities_of("loop")
room = quantities_of("room")
floor = quantities_of("floor")

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
    """0 where flow is beside return everywhere, 1 where nothing evens the floor out.

    The run counts twice, its two neighbours once each; the spread of an even distribution from 0 to
    1 is 1/√12. Counterflow spirals are below 0.1, serpentines above 0.7.
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
    """0 where the flow is along the outer wall, 1 where the return is."""
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
    """Area of the largest field in the rooms on the floor, m²."""
    return parts_room_drawn_field.largest()


@floor(
    unit="m",
    title="Longest side of a field of screed on the plan",
    symbol="L_f,z",
    formula="is the longest side of a field of the rooms that lie on it",
    source=DRAWING,
)
def drawn_field_length(parts_room_drawn_field_side: Grouped) -> Array:
    """Longest side of a field in the rooms on the floor, m."""
    return parts_room_drawn_field_side.largest()
