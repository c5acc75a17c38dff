"""What pipes must not meet on the plan, and whether their lines are drawn properly. SI, one a
row.
"""

from __future__ import annotations

from checker.arrays import Array
from checker.compute.drawn import Drawn
from checker.compute.registry import quantities_of
from checker.quantities.plan import NO_ROUTE
from checker.quantities.sources import DRAWING, GEOMETRY

loop = quantities_of("loop")


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
    """Places where the pipe crosses another, or itself."""
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
    title="Pipe under fixed units",
    symbol="L_u",
    formula="is the length of the route under units and baths",
    source=DRAWING,
    missing_because="the plan shows no fixed units",
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
