"""What can be computed of a floor. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.compute.graph import Array, quantities_of
from checker.quantities.design import DAY
from checker.quantities.sources import GEOMETRY

quantity = quantities_of("floor")


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
    unit="1",
    title="Length over width of the screed's longest field",
    symbol="L_f/B_f",
    formula="{screed_field_length}² / {screed_field_area}",
    source=GEOMETRY,
    fails="the field's area is nought",
    shown=False,
)
def field_aspect(screed_field_length: Array, screed_field_area: Array) -> Array:
    """Longest side over the other, from that side and the area of the largest field."""
    return np.where(screed_field_area > 0, screed_field_length**2 / screed_field_area, np.nan)
