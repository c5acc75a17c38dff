"""What can be computed of a floor. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.design.schema import DESIGNS, design_format
from checker.physics.arrays import BORDER_TOLERANCE
from checker.quantities.design import DAY, days_after
from checker.quantities.sources import GEOMETRY

quantity = quantities_of("floor")

KILO = 1e3
SCREEDED = design_format().code(DESIGNS, "project.stage", "screeded")
OUTSIDE_APART = 2.0
"""K, by which two statements of the outside temperature may differ; common practice, no source."""
CEMENT = design_format().code("floors", "screed.material", "cement")
TEARS = 16.0
"""m, a longer field of cement screed tears; common practice, no source."""
THICK = 0.065
"""m, a screed thicker than this responds slowly; Approved Document L volume 1, 6.28 (c)."""


@quantity(
    unit="day",
    title="Age of the screed at its first heating",
    symbol="t_S",
    formula="{heat_up_started_on} − {screed_laid_on}",
    source="dates of the design",
    shown=False,
)
def screed_age(screed_laid_on: Array, heat_up_started_on: Array) -> Array:
    """From laying to the start of the first heating, s."""
    return (heat_up_started_on - screed_laid_on) * DAY


@quantity(
    unit="°C",
    title="Outside on the coldest day, and a little colder",
    symbol="θ_a",
    formula="{plant_outside} − {2 K}",
    source="common practice, no source: two statements of one temperature may differ by 2 K",
    shown=False,
)
def coldest_outside(plant_outside: Array) -> Array:
    """The plant's outside temperature less 2 K, °C."""
    return plant_outside - OUTSIDE_APART


@quantity(
    unit="day",
    title="Days from the check to the screed",
    symbol="t_S",
    formula="{screed_laid_on} − the day of the check, at least 0",
    source="dates of the design",
    optional=("screed_laid_on",),
    shown=False,
)
def days_ahead(screed_laid_on: Array, today: float) -> Array:
    """From the day of the check to that of the screed, s; 0 where that is not later."""
    return days_after(today, screed_laid_on)


@quantity(
    unit="1",
    title="Whether its screed counts as laid, on a day in the future",
    symbol="v_S",
    formula="is 1 where {days_ahead} is above 0 at the stage screeded or later, else 0",
    source="dates of the design",
    optional=("project_stage",),
    shown=False,
)
def ahead(days_ahead: Array, project_stage: Array) -> Array:
    """1 where by the job's stage the screed is laid, but its date is after the day of the check;
    else 0.
    """
    return ((days_ahead > 0) & (project_stage >= SCREEDED)).astype(float)


@quantity(
    unit="1",
    title="Length over width of the screed's longest field",
    symbol="L_f/B_f",
    formula="{screed_field_length}² / {screed_field_area}",
    source=GEOMETRY,
    missing_because="the field's area is zero",
    shown=False,
)
def field_aspect(screed_field_length: Array, screed_field_area: Array) -> Array:
    """Longest side over the other, from that side and the area of the largest field."""
    return np.where(screed_field_area > 0, screed_field_length**2 / screed_field_area, np.nan)


@quantity(
    unit="1",
    title="Whether a field of cement screed is sure to tear",
    symbol="r_f",
    formula="is 1 where {screed_field_length} of cement screed is above 16 m, else 0",
    source="twice the 8 m of EN 1264-4: common practice, no source",
    optional=("screed_material", "screed_field_length"),
    shown=False,
)
def torn(screed_material: Array, screed_field_length: Array) -> Array:
    """1 where cement screed has a field longer than `TEARS`, else 0."""
    long = screed_field_length > TEARS * (1 + BORDER_TOLERANCE)
    return np.asarray(long & (screed_material == CEMENT), dtype=float)


@quantity(
    unit="1",
    title="Load class that the screed's thickness is looked up by",
    symbol="q_k",
    formula="{load} in kN/m², rounded up, at least 2",
    source="DIN 18560-2 Table 1: 2, 3, 4 and 5 kN/m²",
    shown=False,
)
def load_column(load: Array) -> Array:
    """The load in kN/m², rounded up to a whole number, at least 2: a column of the table."""
    return np.maximum(np.ceil(load / KILO - 1e-9), 2.0)


@quantity(
    unit="mm",
    title="Screed over the insulation",
    symbol="s_S",
    formula=(
        "{screed_cover} + max({parts_pipe_outside}) + {screed_below_pipe}",
        "{screed_cover} + max({parts_pipe_outside})",
    ),
    source=GEOMETRY,
    optional=("screed_below_pipe",),
    shown=False,
)
def screed_thickness(
    screed_cover: Array, parts_pipe_outside: Grouped, screed_below_pipe: Array
) -> Array:
    """Cover, the thickest pipe, and the screed under the pipe where that is stated, m."""
    under = np.where(np.isnan(screed_below_pipe), 0.0, screed_below_pipe)
    return screed_cover + parts_pipe_outside.largest() + under


@quantity(
    unit="1",
    title="Whether the screed is thick",
    symbol="d_S",
    formula="is 1 where {screed_thickness} is above 65 mm, else 0",
    source="Approved Document L volume 1 (2021) 6.28 (c)",
    shown=False,
)
def thick_screed(screed_thickness: Array) -> Array:
    """1 where the screed is thicker than 65 mm, else 0."""
    thick = screed_thickness > THICK * (1 + BORDER_TOLERANCE)
    return np.where(np.isnan(screed_thickness), np.nan, thick.astype(float))


MOST_INSULATION = 20.0
"""m²·K/W, some 70 cm of board; common practice, no source."""
MOST_HUMIDITY = 0.85
"""Largest humidity of the air over the screed at which that humidity can show it to be dry; common
practice, no source. Few coverings and glues allow more.
"""
LEAST_HUMIDITY = 0.2
"""Least humidity that air enclosed over a screed has; common practice, no source. Rooms that are
heated in winter have some 30 %; less is an instrument's fault, or 0.7 written as 0.7 %.
"""
LEAST_MOISTURE = {
    CEMENT: 0.005,
    design_format().code("floors", "screed.material", "calcium sulphate"): 0.0005,
}
"""Share by mass that the carbide method finds in the driest screed of heated rooms; common
practice, no source.
"""


@quantity(
    unit="1",
    title="Whether moisture is to be measured by the carbide method",
    symbol="c",
    formula="is 0 where only {screed_humidity} is stated, and is 20 to 85 %, else 1",
    source="design",
    optional=("screed_humidity", "screed_moisture"),
    shown=False,
)
def measured_by_carbide(screed_humidity: Array, screed_moisture: Array) -> Array:
    """0 where the air's humidity was measured instead of the screed's moisture, else 1.

    Where the air is more humid than `MOST_HUMIDITY` it says nothing about the screed, and where it
    is drier than `LEAST_HUMIDITY` it was not read right: 1 there too.
    """
    telling = (screed_humidity >= LEAST_HUMIDITY) & (screed_humidity <= MOST_HUMIDITY)
    humidity_alone = telling & np.isnan(screed_moisture)
    return np.where(humidity_alone, 0.0, 1.0)


@quantity(
    unit="1",
    title="Whether the moisture is less than any screed's",
    symbol="u_0",
    formula="is 1 where {screed_moisture} is below 0.5 % of cement or 0.05 % of calcium sulphate, "
    "else 0",
    source="common practice, no source",
    optional=("screed_material", "screed_moisture"),
    shown=False,
)
def hardly_moist(screed_material: Array, screed_moisture: Array) -> Array:
    """1 where the stated moisture is less than that of the driest screed (`LEAST_MOISTURE`), else
    0.
    """
    least = [screed_moisture < least for least in LEAST_MOISTURE.values()]
    of_it = [screed_material == material for material in LEAST_MOISTURE]
    return np.asarray(np.any(np.logical_and(least, of_it), axis=0), dtype=float)


@quantity(
    unit="1",
    title="Whether the humidity is less than that over any screed",
    symbol="φ_0",
    formula="is 1 where {screed_humidity} is below 20 %, else 0",
    source="common practice, no source",
    optional=("screed_humidity",),
    shown=False,
)
def hardly_humid(screed_humidity: Array) -> Array:
    """1 where the stated humidity is below `LEAST_HUMIDITY`, else 0."""
    return (screed_humidity < LEAST_HUMIDITY).astype(float)


THIN = 5e-3
"""m: a thinner layer may be a sheet of metal; common practice, no source."""


@quantity(
    unit="W/(m·K)",
    title="Highest conductivity of screed and layers",
    symbol="λ_max",
    formula="max({screed_conductivity}, {layers_conductivity} of layers over 5 mm)",
    source="design; 5 mm: common practice, no source",
    optional=("screed_conductivity", "layers_conductivity", "layers_thickness"),
    shown=False,
)
def highest_conductivity(
    screed_conductivity: Array, layers_conductivity: Grouped, layers_thickness: Grouped
) -> Array:
    """The best conductor of screed and thick layers, W/(m·K); missing where none is stated."""
    thick = layers_conductivity.where(layers_thickness.values > THIN)
    return np.fmax(thick.known().largest(), screed_conductivity)


@quantity(
    unit="1",
    title="Whether no boards hold back that much",
    symbol="m_R",
    formula="is 1 where {insulation} is above 20 m²·K/W, else 0",
    source="common practice, no source",
    optional=("insulation",),
    shown=False,
)
def beyond_boards(insulation: Array) -> Array:
    """1 where the insulation is more than 70 cm of board would have, else 0."""
    return (insulation > MOST_INSULATION * (1 + BORDER_TOLERANCE)).astype(float)


@quantity(
    unit="1",
    title="Whether the air over the screed shows it wet",
    symbol="φ_1",
    formula="is 1 where {screed_humidity} is above 85 %, else 0",
    source="common practice, no source",
    optional=("screed_humidity",),
    shown=False,
)
def soaked(screed_humidity: Array) -> Array:
    """1 where the stated humidity is above `MOST_HUMIDITY`, else 0."""
    return (screed_humidity > MOST_HUMIDITY * (1 + BORDER_TOLERANCE)).astype(float)
