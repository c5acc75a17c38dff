"""The loops of a header as the columns of a table."""

from __future__ import annotations

from typing import NamedTuple

from checker.reports.facts import UNKNOWN, Facts, LoopFacts


class LoopColumn(NamedTuple):
    """A column of the table of a header's loops: its heading, its unit, and its cells."""

    title: str
    unit: str
    cells: list[str]


class LoopColumns(NamedTuple):
    """The columns in which something is known about a loop, and the titles of the others."""

    known: list[LoopColumn]
    unknown: list[str]


COMPUTED_OF_LOOPS = (
    ("Flow", "l/min", "flow"),
    ("Speed", "m/s", "velocity"),
    ("Loss", "kPa", "pressure_drop"),
    ("Valve takes", "kPa", "valve_drop"),
    ("Water out", "°C", "supply_temperature"),
    ("Water back", "°C", "return_temperature"),
    ("Heat", "W/m²", "output"),
    ("Floor at most", "°C", "surface_max"),
)
"""Columns of computed values: title, unit of reports, and name."""


def loop_columns(facts: Facts, loops: list[LoopFacts]) -> LoopColumns:
    """The columns of a table of these loops, after those that identify each.

    Args:
        facts: the design's numbers.
        loops: the rows of the table.

    Returns:
        Columns with a cell for each loop, a dash where it is not known; and in small letters the
        titles of computed columns that would hold dashes only.
    """
    known = [
        LoopColumn("Length", "m", [facts.figure(one.subject, "length") for one in loops]),
        LoopColumn("Spacing", "mm", [facts.spacings(one.subject) for one in loops]),
    ]
    unknown = []
    for title, unit, name in COMPUTED_OF_LOOPS:
        if name == "valve_drop":
            cells = [
                "index loop" if one.is_index else facts.figure(one.subject, name) for one in loops
            ]
        else:
            cells = [facts.figure(one.subject, name) for one in loops]
        if all(cell == UNKNOWN for cell in cells):
            unknown.append(title.lower())
        else:
            known.append(LoopColumn(title, unit, cells))
    return LoopColumns(known, unknown)
