"""What can be computed of a room. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Index
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.design.schema import design_format
from checker.physics.arrays import BORDER_TOLERANCE
from checker.quantities.sources import GEOMETRY, SUM

quantity = quantities_of("room")

TENDER = [
    design_format().code("rooms", "covering.material", name)
    for name in ("timber", "laminate", "resilient")
]
"""Coverings that heat harms."""
SPARE = [design_format().code("rooms", "use", name) for name in ("store", "utility", "other")]
"""Uses of rooms that many houses leave without heat."""


@quantity(
    unit="m²",
    title="Area of the room's loops",
    symbol="A_F",
    formula="Σ{parts_own_area}",
    source=SUM,
    shown=False,
)
def loop_area(parts_own_area: Grouped) -> Array:
    """Heated area, m²."""
    return parts_own_area.sum()


@quantity(
    unit="1",
    title="Loops",
    symbol="n_L",
    formula="the room's loops, counted",
    source="count",
    shown=False,
)
def loop_count(parts_first_there: Grouped, design_loop_count: Array) -> Array:
    """How many loops heat the room; missing where the design has none at all."""
    count = np.bincount(
        parts_first_there.group, parts_first_there.values, minlength=parts_first_there.size
    )
    return np.where(design_loop_count > 0, count, np.nan)


@quantity(
    unit="1",
    title="Whether the floor heats the room",
    symbol="h",
    formula="is 1 where a loop is in the room or its heat load is above 0, else 0",
    source="design",
    optional=("loop_count", "heat_load"),
    shown=False,
)
def heated(loop_count: Array, heat_load: Array) -> Array:
    """1 where a loop is in the room or its load is above zero, else 0: a cupboard, say."""
    known = np.where(np.isnan(loop_count), np.nan, 0.0)
    return np.where((loop_count > 0) | (heat_load > 0), 1.0, known)


@quantity(
    unit="1",
    title="Whether it wants heat of the floor",
    symbol="h_Q",
    formula=(
        "is 0 where the heat load is 0 and that of another room is not, of a store, utility or "
        "other room {heated}, else {to_be_heated}"
    ),
    source="design",
    optional=("heat_load", "use"),
    shown=False,
)
def heat_wanted(
    to_be_heated: Array, heated: Array, heat_load: Array, use: Array, job: Index
) -> Array:
    """1 where the floor is to heat the room, else 0, for example where its load
    is stated as zero.

    Of a room without loops or load it is not known, unless its use is one that many houses leave
    without heat.

    Where no room of the design has a load above zero, zeros count as loads not filled in.
    """
    loaded = np.isin(job, job[heat_load > 0])
    wanted = np.where(np.isin(use, SPARE), heated, to_be_heated)
    return np.where((heat_load == 0) & loaded, 0.0, wanted)


@quantity(
    unit="1",
    title="Whether the floor is to heat the room",
    symbol="h_N",
    formula="is 1 where a loop is in the room or its heat load is above 0, 0 where the load is 0",
    source="design",
    shown=False,
)
def to_be_heated(heated: Array, heat_load: Array) -> Array:
    """As `heated`, but unknown for a room without loops whose load is not given."""
    return np.where(heated == 1, heated, np.where(np.isnan(heat_load), np.nan, heated))


@quantity(
    unit="W",
    title="Heat of its parts, open",
    symbol="ΣQ̇_o",
    formula="Σ{parts_counted_heat}",
    source=SUM,
    shown=False,
)
def open_heat(parts_counted_heat: Grouped) -> Array:
    """Heat that all parts of loops in the room give at the open point, without passing feeds, W."""
    return parts_counted_heat.sum()


@quantity(
    unit="W",
    title="Heat of passing feeds, open",
    symbol="ΣQ̇_p,o",
    formula=("Σ{parts_open_passing_heat}", "0"),
    source=SUM,
    shown=False,
)
def open_passing_heat(parts_open_passing_heat: Grouped) -> Array:
    """Heat that all passing feeds give at the open point of their loops, W."""
    return _sum_or_nought(parts_open_passing_heat)


@quantity(
    unit="W",
    title="Heat of passing feeds",
    symbol="Q̇_p",
    formula=("Σ{parts_passing_heat}", "0"),
    source=f"{SUM}; of feeds of other rooms' loops, at their set point",
)
def passing_heat(parts_passing_heat: Grouped) -> Array:
    """Heat that feeds of other rooms' loops give the room, W."""
    return _sum_or_nought(parts_passing_heat)


def _sum_or_nought(members: Grouped) -> Array:
    """The sum, and zero for a room without any."""
    none = (members.count() == 0) & ~np.isnan(members.count())
    return np.where(none, 0.0, members.sum())


@quantity(unit="W", title="Heat output", symbol="Q̇_R", formula="Σ{parts_heat}", source=SUM)
def output(parts_heat: Grouped) -> Array:
    """Heat that all parts of loops, and feeds that pass, give the room at their set point, W."""
    return parts_heat.sum()


@quantity(
    unit="%",
    title="Heat at the open point against heat load",
    symbol="Q̇_o/Q̇_N",
    formula=("({open_heat} + {passing_heat}) / {heat_load}", "{passing_heat} / {heat_load}"),
    source="largest heat over load",
    missing_because="the load is zero",
)
def coverage(open_heat: Array, passing_heat: Array, heat_load: Array) -> Array:
    """Heat at the open point, with passing feeds, over load; 1 where they are equal."""
    return np.where(heat_load > 0, (open_heat + passing_heat) / heat_load, np.nan)


@quantity(
    unit="1",
    title="Whether what is left uncovered is too little for the load",
    symbol="m_frei",
    formula="is 1 where ({open_heat} · {free_area} / {loop_area} + {passing_heat}) / {heat_load} "
    "is below {needed_coverage}, else 0",
    source="heat balance; what lies under fixed units gives none",
    optional=(
        "open_heat",
        "passing_heat",
        "heat_load",
        "free_area",
        "loop_area",
        "needed_coverage",
    ),
    shown=False,
)
def uncovered_short(
    open_heat: Array,
    passing_heat: Array,
    heat_load: Array,
    free_area: Array,
    loop_area: Array,
    needed_coverage: Array,
) -> Array:
    """1 where the loops' floor that is surely free of fixed units cannot cover the load, else 0.

    Feeds that pass have an area of their own, and give what they give.
    """
    share = np.clip(free_area / loop_area, 0.0, 1.0)
    given = open_heat * share + passing_heat
    return (given < needed_coverage * heat_load * (1 - BORDER_TOLERANCE)).astype(float)


@quantity(
    unit="m²",
    title="Floor with nothing fixed on it",
    symbol="A_frei",
    formula="{area} − {covered_area}",
    source=GEOMETRY,
    shown=False,
)
def free_area(area: Array, covered_area: Array) -> Array:
    """The room's area minus that under fixed units, m²."""
    return area - covered_area


@quantity(
    unit="%",
    title="Share of the heat load that is left to the floor",
    symbol="1 − Q̇_2/Q̇_N",
    formula=("1 − {other_heat} / {heat_load}", "is 1 where nothing else heats the room"),
    source="heat balance",
    optional=("other_heat",),
    missing_because="the load is zero",
    shown=False,
)
def needed_coverage(other_heat: Array, heat_load: Array) -> Array:
    """The share of the load that the floor must cover besides other stated heating, 0 to 1."""
    other = np.where(np.isnan(other_heat), 0.0, other_heat)
    return np.where(heat_load > 0, np.maximum(1 - other / heat_load, 0.0), np.nan)


@quantity(
    unit="1",
    title="Whether the covering has a highest temperature",
    symbol="w_B",
    formula="is 1 where the covering is of wood or resilient or its own limit is stated, else 0",
    source="design",
    optional=("covering_max_temperature",),
    shown=False,
)
def covering_limited(covering_material: Array, covering_max_temperature: Array) -> Array:
    """1 where the covering's own highest temperature, or one of its kind, is to be kept, else 0."""
    of_its_kind = np.isin(covering_material, TENDER).astype(float)
    known = np.where(np.isnan(covering_material), np.nan, of_its_kind)
    return np.where(np.isnan(covering_max_temperature), known, 1.0)


@quantity(
    unit="1",
    title="Whether feeds of other rooms' loops pass through it",
    symbol="p",
    formula="is 1 where such a feed gives it heat, else 0",
    source="design",
    shown=False,
)
def passed(parts_passes: Grouped) -> Array:
    """1 where a feed only passes through the room, else 0."""
    found = _sum_or_nought(parts_passes)
    return np.where(np.isnan(found), np.nan, (found > 0).astype(float))


@quantity(
    unit="%",
    title="Heat of passing feeds against heat load",
    symbol="Q̇_p/Q̇_N",
    formula="{passing_heat} / {heat_load}",
    source="heat over load",
    missing_because="the load is zero",
    shown=False,
)
def passing_share(passing_heat: Array, heat_load: Array) -> Array:
    """Heat of passing feeds over load."""
    return np.where(heat_load > 0, passing_heat / heat_load, np.nan)


@quantity(
    unit="W/m²",
    title="Heat load of each square metre",
    symbol="q_R",
    formula="{heat_load} / {area}",
    source="load over area",
    shown=False,
)
def load_density(heat_load: Array, area: Array) -> Array:
    """Heat load over the room's area, W/m²."""
    return heat_load / area


@quantity(
    unit="1",
    title="Whether it has a heat load",
    symbol="l",
    formula="is 1 where {heat_load} and {area} are stated and the load is above 0, else 0",
    source="design",
    optional=("heat_load", "area"),
    shown=False,
)
def loaded(heat_load: Array, area: Array) -> Array:
    """1 where load and area are stated and the load is above zero, else 0."""
    return ((heat_load > 0) & (area > 0)).astype(float)
