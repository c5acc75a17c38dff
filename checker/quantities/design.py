"""What can be computed of a whole design. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Mask
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.design.schema import DESIGNS, design_format
from checker.physics import fluid
from checker.physics.arrays import BORDER_TOLERANCE
from checker.quantities.sources import SUM

quantity = quantities_of("design")


DAY = 86_400.0
FIRST_STEP = (20.0, 25.0)
"""Supply of the first step of the first heating, °C; EN 1264-4, as reported."""
FIRST_HOLD = 3 * DAY
"""How long it is held, s; EN 1264-4, as reported."""
TOP_HOLD = 4 * DAY
"""How long the highest design supply is held, s; EN 1264-4, as reported."""
LARGE = 150.0
"""A dwelling of at least this area, m², needs two circuits; Approved Document L volume 1, 5.14."""
HEATED = design_format().code(DESIGNS, "project.stage", "heated")
BY_DROP = design_format().code(DESIGNS, "plant.flows", "by drop")
GLYCOLS = tuple(
    design_format().code(DESIGNS, "plant.fluid.kind", name)
    for name in ("propylene glycol", "ethylene glycol")
)
SLACK = 1e-6
"""K, so that equal temperatures count as equal however they were converted."""


def days_after(today: float, day: Array) -> Array:
    """How long after the day of the check a day is, s; 0 where it is not, or either is not known.

    Days are counted as `date.toordinal` does.
    """
    return np.nan_to_num(np.maximum(day - today, 0.0)) * DAY


@quantity(unit="m", title="Pipe", symbol="ΣL", formula="Σ{loops_length}", source=SUM)
def pipe_length(loops_length: Grouped) -> Array:
    """Length of all loops, m."""
    return loops_length.sum()


@quantity(unit="l", title="Water content", symbol="ΣV", formula="Σ{loops_content}", source=SUM)
def content(loops_content: Grouped) -> Array:
    """Water in all loops, m³."""
    return loops_content.sum()


@quantity(unit="W", title="Heat output", symbol="ΣQ̇", formula="Σ{loops_heat}", source=SUM)
def output(loops_heat: Grouped) -> Array:
    """Heat that all loops give their rooms, W."""
    return loops_heat.sum()


@quantity(
    unit="1",
    title="Pressure tests",
    symbol="n_T",
    formula="the design's pressure tests, counted",
    source="count",
    missing_because="no pressure test is given",
    shown=False,
)
def test_count(tests_number: Grouped) -> Array:
    """How many pressure tests the design has."""
    return tests_number.count()


@quantity(
    unit="1",
    title="Loops",
    symbol="n_L",
    formula="the design's loops, counted",
    source="count",
    shown=False,
)
def loop_count(loops_number: Grouped) -> Array:
    """How many loops the design has."""
    return loops_number.count()


@quantity(
    unit="1",
    title="Whether hotter water is mixed down",
    symbol="m",
    formula="is 1 where {plant_primary_supply} is above {coolest_supply}, else 0",
    source="primary supply against supply",
    shown=False,
)
def mixes(
    plant_primary_supply: Array, coolest_supply: Array, loops_supply_temperature: Grouped
) -> Array:
    """1 where the water before the mixing valve is hotter than a loop may get, else 0.

    Missing where it is not hotter than what is known, but the supply of some loop is not known.
    """
    known = ~(np.isnan(plant_primary_supply) | np.isnan(coolest_supply))
    hotter = plant_primary_supply > coolest_supply + SLACK
    sure = hotter | ~_in_doubt(loops_supply_temperature)
    return np.where(known & sure, hotter.astype(float), np.nan)


@quantity(
    unit="°C",
    title="Coolest supply to any loop",
    symbol="θ_V,min",
    formula=("min({loops_supply_temperature})", "{plant_supply}"),
    source="design; the plant's where it is cooler still, or no loop's is known",
    optional=("loops_supply_temperature", "plant_supply"),
    shown=False,
)
def coolest_supply(loops_supply_temperature: Grouped, plant_supply: Array) -> Array:
    """The coolest of the loops' supplies that are known and the plant's, °C."""
    return np.fmin(loops_supply_temperature.known().smallest(), plant_supply)


@quantity(
    unit="°C",
    title="Warmest supply that is to be mixed",
    symbol="θ_V,max",
    formula=("max({loops_supply_temperature})", "{plant_supply}"),
    source="design; the plant's where it is warmer still, or no loop's is known",
    optional=("loops_supply_temperature", "plant_supply", "plant_primary_supply"),
    shown=False,
)
def warmest_supply(
    loops_supply_temperature: Grouped, plant_supply: Array, plant_primary_supply: Array
) -> Array:
    """Supply of the loop with the warmest water, or the plant's, °C.

    Where the supply of some loop is not known, the warmest that is, if the water before the mixing
    valve is cooler already; else missing.
    """
    warmest = np.fmax(loops_supply_temperature.known().largest(), plant_supply)
    sure = ~_in_doubt(loops_supply_temperature) | (plant_primary_supply < warmest - SLACK)
    return np.where(sure, warmest, np.nan)


def _in_doubt(members: Grouped) -> Mask:
    """Whether the value of a member of each group is missing, shape (n,)."""
    return members.any(np.isnan(members.values))


@quantity(
    unit="°C",
    title="Hottest supply of the first heating",
    symbol="θ_top",
    formula="max({heat_up_steps_supply})",
    source="heat_up.steps",
    shown=False,
)
def heat_up_top(heat_up_steps_supply: Grouped) -> Array:
    """Supply of the hottest step, °C."""
    return heat_up_steps_supply.largest()


@quantity(
    unit="°C",
    title="Hottest supply to any loop",
    symbol="θ_V,max",
    formula="max({loops_supply_temperature})",
    source="design",
    shown=False,
)
def hottest_supply(loops_supply_temperature: Grouped) -> Array:
    """Supply of the loop with the warmest water, °C."""
    return loops_supply_temperature.largest()


@quantity(
    unit="%",
    title="First heating against the hold that its steps ask for",
    symbol="h",
    formula="is the lesser of t(20 to 25 °C) / 3 days and t({hottest_supply} or more) / 4 days",
    source="EN 1264-4: 20 to 25 °C for 3 days, then the highest design supply for 4 days",
    shown=False,
)
def heat_up_kept(
    heat_up_steps_supply: Grouped, heat_up_steps_hold: Grouped, hottest_supply: Array
) -> Array:
    """The worse of the two holds, as the time held over the time required; 1 where both are kept.

    The first counts the time at 20 to 25 °C before anything hotter, the second all time at the
    highest design supply or above.
    """
    supply, hold, group = (
        heat_up_steps_supply.values,
        heat_up_steps_hold.values,
        heat_up_steps_hold.group,
    )
    position = np.arange(len(group))
    hotter_from = np.full(heat_up_steps_hold.size, len(group))
    hotter = supply > FIRST_STEP[1] + SLACK
    np.minimum.at(hotter_from, group[hotter], position[hotter])
    mild = (position < hotter_from[group]) & (supply >= FIRST_STEP[0] - SLACK)
    hot = supply >= hottest_supply[group] - SLACK

    def held(which: Mask, least: float) -> Array:
        counted = np.where(np.isnan(supply + hold), np.nan, np.where(which, hold, 0.0))
        return Grouped(counted, group, heat_up_steps_hold.size).sum() / least

    shares = np.minimum(held(mild, FIRST_HOLD), held(hot, TOP_HOLD))
    return np.where(np.isnan(hottest_supply), np.nan, shares)


@quantity(
    unit="1",
    title="Whether all of it is laid dry",
    symbol="d_F",
    formula="is 1 where {loops_laid_dry} is 1 for every loop, else 0",
    source="design",
    optional=("loops_laid_dry",),
    shown=False,
)
def all_dry(loops_laid_dry: Grouped) -> Array:
    """1 where every loop is known to be laid without screed, else 0."""
    return np.where(loops_laid_dry.smallest() == 1, 1.0, 0.0)


@quantity(
    unit="day",
    title="Days from the check to the end of the first heating",
    symbol="t_H",
    formula="{heat_up_started_on} + Σ{heat_up_steps_hold} − the day of the check, at least 0",
    source="dates of the design",
    optional=("heat_up_steps_hold",),
    shown=False,
)
def heating_days_ahead(
    heat_up_started_on: Array, heat_up_steps_hold: Grouped, today: float
) -> Array:
    """From the day of the check to that on which the last step ends, s; 0 if it is not later."""
    hold = heat_up_steps_hold
    steps = Grouped(np.nan_to_num(hold.values), hold.group, hold.size).sum() / DAY
    ahead = days_after(today, heat_up_started_on + np.nan_to_num(steps))
    return np.where(np.isnan(heat_up_started_on), np.nan, ahead)


@quantity(
    unit="1",
    title="Whether the first heating counts as done, on a day in the future",
    symbol="v_H",
    formula="is 1 where {heating_days_ahead} is above 0 at the stage heated or later, else 0",
    source="dates of the design",
    optional=("project_stage",),
    shown=False,
)
def heating_ahead(heating_days_ahead: Array, project_stage: Array) -> Array:
    """1 where the floor is heated by the job's stage and yet ends that after the check, else 0."""
    ahead = (heating_days_ahead > 0) & (project_stage >= HEATED)
    return np.where(np.isnan(heating_days_ahead), np.nan, ahead)


@quantity(
    unit="°C",
    title="Temperature at which the water starts to freeze",
    symbol="θ_gef",
    formula="by kind and strength of the antifreeze, for water 0 °C",
    source="Melinder 2010, reported",
    needed_when={"plant_fluid_mass_fraction": ("plant_fluid_kind", GLYCOLS)},
    missing_because="the strength is outside 0 to 60 %",
    shown=False,
)
def freezing_point(plant_fluid_kind: Array, plant_fluid_mass_fraction: Array) -> Array:
    """Freezing point of the fluid in the pipes, °C."""
    glycol = fluid.freezing_point(plant_fluid_kind, plant_fluid_mass_fraction)
    known = np.where(np.isnan(plant_fluid_kind), np.nan, 0.0)
    return np.where(np.isin(plant_fluid_kind, GLYCOLS), glycol, known)


@quantity(
    unit="1",
    title="Whether the dwelling is large",
    symbol="g",
    formula="is 1 where {project_floor_area} is 150 m² or more, else 0",
    source="Approved Document L volume 1 (2021) 5.14",
    optional=("project_floor_area",),
    shown=False,
)
def large_dwelling(project_floor_area: Array) -> Array:
    """1 where the dwelling is stated to have 150 m² or more, else 0."""
    return (project_floor_area >= LARGE * (1 - BORDER_TOLERANCE)).astype(float)


FITS = 1.0
"""A supply fits that is warmer than needed by up to this many K; common practice, no source."""


@quantity(
    unit="°C",
    title="Supply that every room is warm with",
    symbol="θ_V,N",
    formula="max({loops_asked_supply})",
    source="EN 1264-3: the room that needs the warmest water",
    missing_because="no loop has a load",
    shown=False,
)
def needed_supply(loops_asked_supply: Grouped) -> Array:
    """Supply of the loop that needs the warmest water, °C."""
    return loops_asked_supply.largest()


@quantity(
    unit="°C",
    title="Supply that still fits",
    symbol="θ_V,fit",
    formula=("{plant_supply}", "{needed_supply}"),
    source="the supply needed; up to 1 K above it the stated one, common practice, no source",
    shown=False,
)
def supply_bound(plant_supply: Array, needed_supply: Array) -> Array:
    """The needed supply, °C; the stated one where it is no more than 1 K warmer."""
    near = (plant_supply > needed_supply) & (plant_supply <= needed_supply + FITS)
    return np.where(near, plant_supply, needed_supply)


@quantity(
    unit="1",
    title="Whether flows follow from each room's own drop",
    symbol="f",
    formula="is 0 where the plant's flows are by drop, else 1",
    source="design",
    optional=("plant_flows",),
    shown=False,
)
def flows_by_room(plant_flows: Array) -> Array:
    """1 where flows are set by room, else 0."""
    return np.where(plant_flows == BY_DROP, 0.0, 1.0)


NO_HEATING = 15.0
"""°C outside, from which on nobody heats; common practice, no source."""
OUTSIDE = design_format().code("floors", "below", "outside")
ENOUGH = 2.0
"""m²·K/W that the coldest outside temperature asks for below a floor; EN 1264-4 Table 1, as
reported.
"""


@quantity(
    unit="1",
    title="Whether the outside temperature decides anything",
    symbol="w_a",
    formula="is 1 where antifreeze is in the water, a floor over the open air has less than "
    "2 m²·K/W, or {plant_outside} is 15 °C or more, else 0",
    source="design; 2 m²·K/W by EN 1264-4 Table 1, 15 °C by common practice, no source",
    optional=("plant_outside", "plant_fluid_kind", "parts_floor_below", "parts_floor_insulation"),
    shown=False,
)
def outside_decides(
    plant_outside: Array,
    plant_fluid_kind: Array,
    parts_floor_below: Grouped,
    parts_floor_insulation: Grouped,
) -> Array:
    """1 where a minus that is missing before the outside temperature would hide what is judged by
    it, or the plan is for a day on which nobody heats; else 0.
    """
    enough = parts_floor_insulation.values >= ENOUGH * (1 - BORDER_TOLERANCE)
    bare = (parts_floor_below.values == OUTSIDE) & ~enough
    hidden = np.isin(plant_fluid_kind, GLYCOLS) | parts_floor_below.any(bare)
    return (hidden | (plant_outside >= NO_HEATING)).astype(float)
