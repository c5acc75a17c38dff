"""The days that designs record: tests, screeds, first heatings."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.design.schema import DESIGNS, design_format
from checker.design.tables import Tables

RECORDED = (
    ("pressure_tests", "tested_on"),
    ("floors", "screed.laid_on"),
    (DESIGNS, "heat_up.started_on"),
)
"""Tables with the day of something done on site, and its field."""


def recorded_days(tables: Tables, row: int) -> Array:
    """The days that one design records, in no order, done or planned.

    Args:
        tables: the designs that are judged together.
        row: of the design.

    Returns:
        Days as `date.toordinal` numbers them, shape (n,).
    """
    found = []
    for table, field in RECORDED:
        days = tables[table].column(design_format().leaf(table, field).slot)
        found.append(days[tables.design_of(table) == row])
    days = np.concatenate(found)
    return days[~np.isnan(days)]
