"""Quantities of a loop that come from the floors of its parts and feeds. SI, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.design.schema import design_format
from checker.quantities.design import DAY

quantity = quantities_of("loop")

ASPHALT = design_format().code("floors", "screed.material", "mastic asphalt")
METAL = [design_format().code("pipes", "material", name) for name in ("copper", "steel")]
STRUCTURAL_SLAB = design_format().code("floors", "bed", "structural slab")


@quantity(
    unit="day",
    title="Day of its first screed",
    symbol="t_S",
    formula="min({parts_floor_screed_laid_on}), floors that are laid dry left out",
    source="dates of the design",
    optional=("parts_floor_dry",),
    shown=False,
)
def first_screed(parts_floor_screed_laid_on: Grouped, parts_floor_dry: Grouped) -> Array:
    """Day on which the first screed over the loop is laid, s, days counted as in a date."""
    return _poured(parts_floor_screed_laid_on, parts_floor_dry).smallest() * DAY


@quantity(
    unit="day",
    title="Day of its last screed",
    symbol="t_S",
    formula="max({parts_floor_screed_laid_on}), floors that are laid dry left out",
    source="dates of the design",
    optional=("parts_floor_dry",),
    shown=False,
)
def last_screed(parts_floor_screed_laid_on: Grouped, parts_floor_dry: Grouped) -> Array:
    """Day on which the last screed over the loop is laid, s, days counted as in a date."""
    return _poured(parts_floor_screed_laid_on, parts_floor_dry).largest() * DAY


@quantity(
    unit="1",
    title="Whether mastic asphalt comes over it",
    symbol="m_A",
    formula="is 1 where a floor of the loop has mastic asphalt, else 0",
    source="design",
    optional=("parts_floor_dry",),
    shown=False,
)
def under_asphalt(parts_floor_screed_material: Grouped, parts_floor_dry: Grouped) -> Array:
    """1 where a floor of the loop has mastic asphalt for its screed, else 0."""
    found = _any(_poured(parts_floor_screed_material, parts_floor_dry), ASPHALT)
    # Where all of it is laid dry, nothing is left to look at, and so nothing of it is asphalt.
    return np.where(parts_floor_dry.smallest() == 1, 0.0, found)


@quantity(
    unit="1",
    title="Whether hot asphalt is poured over pipe that it may melt",
    symbol="m_H",
    formula="is 1 where {under_asphalt} is and the pipe is not of copper or steel, else 0",
    source="design",
    optional=("under_asphalt", "pipe_material"),
    shown=False,
)
def poured_hot(under_asphalt: Array, pipe_material: Array) -> Array:
    """1 where the loop's screed is known to be mastic asphalt, and its pipe not to be of metal,
    else 0.
    """
    return np.asarray((under_asphalt == 1) & ~np.isin(pipe_material, METAL), dtype=float)


@quantity(
    unit="1",
    title="Whether all of it is laid dry",
    symbol="d_F",
    formula="min({parts_floor_dry})",
    source="design",
    shown=False,
)
def laid_dry(parts_floor_dry: Grouped) -> Array:
    """1 where every floor of the loop is laid dry, else 0."""
    return parts_floor_dry.smallest()


@quantity(
    unit="1",
    title="Whether it lies in a structural slab",
    symbol="b_S",
    formula="is 1 where a floor of the loop is bedded in a structural slab, else 0",
    source="design",
    shown=False,
)
def in_structural_slab(parts_floor_bed: Grouped) -> Array:
    """1 where a floor of the loop is bedded in a structural slab, else 0."""
    return _any(parts_floor_bed, STRUCTURAL_SLAB)


def _poured(values: Grouped, dry: Grouped) -> Grouped:
    """Values of all parts except those whose floor is known to be laid dry."""
    left = dry.values != 1
    return values.where(left)


def _any(codes: Grouped, wanted: float) -> Array:
    """1 where a member has this code, 0 where none has, NaN where one is not known."""
    found = np.where(np.isnan(codes.values), np.nan, (codes.values == wanted).astype(float))
    return Grouped(found, codes.group, codes.size).largest()
