"""Quantities of a pressure test: when it is made, and how. SI, °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Mask
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.design.schema import design_format
from checker.quantities.design import DAY, days_after
from checker.quantities.test import AIR, WATER

quantity = quantities_of("test")

LONG = 180 * DAY
"""How long a test vouches for loops that lie open, s; common practice, no source."""
FREEZES = 0.0
"""°C, from which on water is ice; physics."""


@quantity(
    unit="day",
    title="Days from the test to the screed",
    symbol="t_s",
    formula="min({tested_loops_first_screed}) − {tested_on}, loops that are laid dry left out",
    source="dates of the design",
    optional=("tested_loops_first_screed", "tested_loops_laid_dry"),
    missing_because="the day on which the screed is laid is not given for every floor of the "
    "header",
    shown=False,
)
def days_before_screed(
    tested_on: Array, tested_loops_first_screed: Grouped, tested_loops_laid_dry: Grouped
) -> Array:
    """From the test to the earliest screed over the header's loops, s; below zero if after it.

    Where the day of some floor is missing, the result is known only if another floor is known to
    be laid before the test.
    """
    laid = tested_loops_first_screed.where(tested_loops_laid_dry.values != 1)
    earliest = laid.known().smallest()
    time = earliest - tested_on * DAY
    complete = ~np.isnan(laid.sum())
    return np.where(complete | (time < 0), time, np.nan)


@quantity(
    unit="day",
    title="Days for which nobody tested the loops",
    symbol="t_w",
    formula=(
        "{days_before_screed}",
        "{project_designed_on} − {tested_on}, where that is above 180 days and the screed has no "
        "day",
    ),
    source="dates of the design; 180 days: common practice, no source",
    optional=("days_before_screed", "tested_on", "project_designed_on"),
    missing_because="the day on which the screed is laid is not given for every floor of the "
    "header",
    shown=False,
)
def days_untested(days_before_screed: Array, tested_on: Array, project_designed_on: Array) -> Array:
    """From the test to the screed, s; where the screed's day is missing, from a test long before
    the design to that.
    """
    before_design = (project_designed_on - tested_on) * DAY
    long_before = np.where(before_design > LONG, before_design, np.nan)
    return np.where(np.isnan(days_before_screed), long_before, days_before_screed)


@quantity(
    unit="day",
    title="Days from the check to the test",
    symbol="t_T",
    formula="{tested_on} − the day of the check, of a test with readings; at least 0",
    source="dates of the design",
    optional=("tested_on",),
    shown=False,
)
def days_ahead(tested_on: Array, readings_at: Grouped, today: float) -> Array:
    """From the day of the check to that of a test with readings, s; 0 where that is not later."""
    return np.where(readings_at.count() > 0, days_after(today, tested_on), 0.0)


@quantity(
    unit="1",
    title="Whether it is recorded of a day to come",
    symbol="v_T",
    formula="is 1 where {days_ahead} is above 0, else 0",
    source="dates of the design",
    shown=False,
)
def ahead(days_ahead: Array) -> Array:
    """1 where the test has readings and a day after that of the check, else 0."""
    return (days_ahead > 0).astype(float)


@quantity(
    unit="1",
    title="Whether mastic asphalt comes over the loops",
    symbol="m_A",
    formula="max({tested_loops_under_asphalt})",
    source="design",
    shown=False,
)
def under_asphalt(tested_loops_under_asphalt: Grouped) -> Array:
    """1 where a floor of the header's loops has mastic asphalt for its screed, else 0."""
    return tested_loops_under_asphalt.largest()


METALS = [design_format().code("pipes", "material", name) for name in ("copper", "steel")]


@quantity(
    unit="1",
    title="Whether the pipes settle under the test's pressure",
    symbol="m_K",
    formula="is 1 where a loop of the header is of plastic and full of water, else 0",
    source="design",
    shown=False,
)
def settles(medium: Array, tested_loops_pipe_material: Grouped) -> Array:
    """1 where water presses on a pipe of the header with a plastic wall, else 0.

    In a test with air the pipe's stretch is so small compared with the air's that settling cannot
    be seen.
    """
    material = tested_loops_pipe_material
    plastic = np.where(np.isnan(material.values), np.nan, 1.0 - np.isin(material.values, METALS))
    any_plastic = Grouped(plastic, material.group, material.size).largest()
    return np.where(medium == AIR, 0.0, np.where(medium == WATER, any_plastic, np.nan))


@quantity(
    unit="1",
    title="Whether the test is one before the screed",
    symbol="v",
    formula="is 0 where {after_screed} is stated as true, else 1",
    source="design",
    optional=("after_screed",),
    shown=False,
)
def before_screed(after_screed: Array) -> Array:
    """0 where the test is stated to be an additional one after the screed, else 1."""
    return np.where(after_screed == 1, 0.0, 1.0)


@quantity(
    unit="1",
    title="Whether screed comes over the tested loops after the test",
    symbol="v_s",
    formula="is 0 where {before_screed} is, or where all floors of the header are dry, else 1",
    source="design",
    optional=("tested_loops_laid_dry",),
    shown=False,
)
def under_screed(before_screed: Array, tested_loops_laid_dry: Grouped) -> Array:
    """1 for a test before the screed, unless all floors of its header are laid dry."""
    return np.where(tested_loops_laid_dry.smallest() == 1, 0.0, before_screed)


@quantity(
    unit="1",
    title="Whether a later test takes its place",
    symbol="v_+",
    formula="is 1 where the header has a later test with readings before its screed, else 0",
    source="dates of the design",
    optional=("header", "tested_on", "days_before_screed"),
    shown=False,
)
def superseded(
    header: Array,
    tested_on: Array,
    before_screed: Array,
    days_before_screed: Array,
    readings_at: Grouped,
) -> Array:
    """1 where the same header was tested again, with readings, on a later day before its screed,
    else 0.

    Such a test, however it came out, is a record: what the loops are judged by is the later one.
    """
    counts = (before_screed == 1) & (readings_at.count() > 0) & ~(days_before_screed < 0)
    return _tested_later(header, tested_on, counts)


@quantity(
    unit="1",
    title="Whether the loops are tested once more",
    symbol="v_n",
    formula="is 1 where the header has a later test with readings, else 0",
    source="dates of the design",
    optional=("header", "tested_on"),
    shown=False,
)
def tested_again(header: Array, tested_on: Array, readings_at: Grouped) -> Array:
    """1 where the same header was tested again, with readings, on a later day, before its screed or
    after; else 0.
    """
    return _tested_later(header, tested_on, readings_at.count() > 0)


def _tested_later(header: Array, tested_on: Array, counts: Mask) -> Array:
    """1 where a test that counts is of the same header and a later day, else 0."""
    known = ~(np.isnan(header) | np.isnan(tested_on))
    found = np.zeros(len(header))
    headers, which = np.unique(header[known], return_inverse=True)
    last = np.full(len(headers), -np.inf)
    np.maximum.at(last, which[counts[known]], tested_on[known & counts])
    found[known] = tested_on[known] < last[which]
    return found


@quantity(
    unit="°C",
    title="Lowest temperature read",
    symbol="θ_min",
    formula=(
        "min({readings_temperature})",
        "is the least of those read, where that is no more than 0 °C and not all were read",
    ),
    source="readings",
    shown=False,
)
def lowest_temperature(readings_temperature: Grouped) -> Array:
    """Temperature of the coldest reading, °C.

    Where some readings have none, the result is known only if another is at 0 °C or colder.
    """
    coldest = readings_temperature.known().smallest()
    complete = ~np.isnan(readings_temperature.sum())
    return np.where(complete | (coldest <= FREEZES), coldest, np.nan)


@quantity(
    unit="°C",
    title="Highest temperature read",
    symbol="θ_max",
    formula="max({readings_temperature})",
    source="readings",
    optional=("readings_temperature",),
    shown=False,
)
def highest_temperature(readings_temperature: Grouped) -> Array:
    """Temperature of the warmest reading, °C; missing where none has one."""
    return readings_temperature.known().largest()


@quantity(
    unit="1",
    title="Whether antifreeze is in the water for the test",
    symbol="f",
    formula="is 1 where {antifreeze} is stated as true, else 0",
    source="design",
    optional=("antifreeze",),
    shown=False,
)
def holds_antifreeze(antifreeze: Array) -> Array:
    """1 where antifreeze is stated to be in the water for the test only, else 0."""
    return np.where(antifreeze == 1, 1.0, 0.0)
