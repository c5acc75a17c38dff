"""Whether what is stated of a room can be true. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Index
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.design.schema import design_format
from checker.physics.arrays import BORDER_TOLERANCE
from checker.quantities.part_surface import BATHROOM, OCCUPIED_LIMIT

quantity = quantities_of("room")


def _uses(*names: str) -> list[float]:
    return [design_format().code("rooms", "use", name) for name in names]


WITH_WINDOWS = _uses("living", "bedroom", "kitchen")
"""Uses of rooms that have a window, so that they lose heat like the others."""
LIVED_IN = _uses("living", "bedroom", "bathroom", "kitchen", "office")
"""Uses of rooms in which people stay."""
PASSED = _uses("hall", "utility", "store")
"""Uses of rooms that are kept free of frost at least where they are heated."""
SHEETS = [
    design_format().code("rooms", "covering.material", name)
    for name in ("timber", "laminate", "carpet")
]
"""Coverings that hold heat back however thin they are."""
LEAST_LOAD = 0.25
"""W/m²: kilowatts that are written as watts are below it, as 250 W/m² is the most that is usual; a
room among warm ones may need 1 W/m². Common practice, no source.
"""
LOW_LOAD, ORDINARY_LOAD, OF_OTHERS = 8.0, 40.0, 0.15
"""W/m² that a room which loses heat like the others needs in a house whose rooms need 40 W/m² and
more, and the share of what these need. Common practice, no source.
"""
WARMER = 2.0
"""K by which a room is warmer than the others, so that it loses heat to them, whatever its use;
common practice, no source.
"""
LOW_HOUSE, PLENTY = 6.0, 8.0
"""W/m² of all rooms together, and times its load that the floor gives each room. A house that needs
next to nothing gets water that is hardly warm, so at both together loads or supply are wrong.
Common practice, no source.
"""


@quantity(
    unit="1",
    title="Whether it has a load that can be compared with its floor",
    symbol="l_A",
    formula="is 1 where {heat_load} and {area} are stated and the load is above 0, or a loop lies "
    "in the room, else 0",
    source="design",
    optional=("heat_load", "area", "loop_count"),
    shown=False,
)
def load_compared(heat_load: Array, area: Array, loop_count: Array) -> Array:
    """1 where load and area are stated, and the load is no zero that says that nothing heats it,
    else 0.
    """
    found = (area > 0) & ((heat_load > 0) | ((heat_load == 0) & (loop_count > 0)))
    return np.asarray(found, dtype=float)


@quantity(
    unit="1",
    title="Whether the load is a slip",
    symbol="m_q",
    formula="is 1 where {load_density} is above 0 and below 0.25 W/m², or, of a living room, "
    "bedroom or kitchen no cooler than the others, or of any room 2 K warmer, below 8 W/m² and "
    "15 % of that of all others together, which need 40 W/m² or more, else 0",
    source="common practice, no source",
    optional=("load_density", "use", "temperature", "area"),
    shown=False,
)
def slip_of_load(
    load_density: Array, use: Array, temperature: Array, area: Array, loaded: Array, job: Index
) -> Array:
    """1 where the load is less than any room's, kilowatts written as watts, say, or where it has a
    digit too few, or was not filled in, beside those of the other rooms; else 0.
    """
    counted = np.where(loaded == 1, area, 0.0)

    def of_others(values: Array) -> Array:
        """The mean over the other rooms of the design that have a load, by their area."""
        products = np.where(counted > 0, values * counted, 0.0)
        total, weight = (np.bincount(job, column)[job] for column in (products, counted))
        return np.asarray((total - products) / (weight - counted))

    with np.errstate(all="ignore"):
        others, warmth = of_others(load_density), of_others(temperature)
    loses = np.isin(use, WITH_WINDOWS) & (temperature >= warmth - 0.1)
    loses |= temperature >= warmth + WARMER - 0.1
    low = (load_density < LOW_LOAD) & (load_density < OF_OTHERS * others)
    beside = low & loses & (others >= ORDINARY_LOAD)
    found = ((load_density < LEAST_LOAD) & (load_density > 0)) | beside
    return np.asarray(found, dtype=float)


@quantity(
    unit="1",
    title="Whether loads and supply belong to different houses",
    symbol="m_V",
    formula="is 1 where the rooms of the design with a load need less than 6 W/m² together, and "
    "{coverage} of each is 800 % or more, else 0",
    source="common practice, no source",
    optional=("coverage", "heat_load", "area"),
    shown=False,
)
def loads_too_small(
    coverage: Array, heat_load: Array, area: Array, loaded: Array, job: Index
) -> Array:
    """1 where all rooms together need next to nothing, and get many times as much; else 0."""
    counts = loaded == 1
    loads, areas = (
        np.bincount(job, np.where(counts, column, 0.0))[job] for column in (heat_load, area)
    )
    scarce = job[counts & ~(coverage >= PLENTY)]
    found = counts & (loads < LOW_HOUSE * areas) & ~np.isin(job, scarce)
    return np.asarray(found, dtype=float)


@quantity(
    unit="°C",
    title="Least temperature that a room of its use is planned with",
    symbol="θ_i,min",
    formula="of a heated room: 12 °C where its use is living, bedroom, bathroom, kitchen or "
    "office, 5 °C where it is hall, utility or store",
    source="common practice, no source",
    optional=("heated", "use"),
    missing_because="it is not heated, or of another use",
    shown=False,
)
def least_warmth(heated: Array, use: Array) -> Array:
    """Least design temperature, °C; missing where the room is not heated, or of no such use."""
    found = np.where(np.isin(use, LIVED_IN), 12.0, np.where(np.isin(use, PASSED), 5.0, np.nan))
    return np.where(heated == 1, found, np.nan)


@quantity(
    unit="1",
    title="Whether its covering holds heat back however thin it is",
    symbol="w_R",
    formula="is 1 where its covering is timber, laminate or carpet in a heated room, else 0",
    source="design",
    optional=("heated", "covering_material"),
    shown=False,
)
def sheet_covering(heated: Array, covering_material: Array) -> Array:
    """1 for timber, laminate or carpet in a heated room, else 0."""
    return np.asarray((heated == 1) & np.isin(covering_material, SHEETS), dtype=float)


@quantity(
    unit="1",
    title="Whether it is a bathroom hotter than a floor where people stay",
    symbol="w_H",
    formula="is 1 where its use is bathroom and its warmest floor is above 29 °C, else 0",
    source="EN 1264-2, limit curves",
    optional=("use", "parts_surface_max"),
    shown=False,
)
def hot_bathroom(use: Array, parts_surface_max: Grouped) -> Array:
    """1 where only its use lets some floor of the room be as hot as it is known to be, else 0."""
    over = parts_surface_max.values > OCCUPIED_LIMIT * (1 + BORDER_TOLERANCE)
    return np.asarray(parts_surface_max.any(over) & (use == BATHROOM), dtype=float)
