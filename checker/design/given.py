"""What a design states, for reports: by subject and name, each quantity with its unit."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from checker import units
from checker.arrays import Array
from checker.design.leaves import Leaf, words
from checker.design.schema import DESIGNS, PARTS, Collection, Record
from checker.design.tables import Tables
from checker.outcome.drawn_records import Points, Sketch
from checker.outcome.results import Given, Measure, Value

if TYPE_CHECKING:
    from checker.design.plans import Drawing

DECIMALS = 9
"""Decimals that are kept when SI is converted into the unit shown, so that 0.15 m is exactly 150
mm.
"""


BARE_STEP = 0.2
"""Distance between the places that mark bare floor, m."""


def sketch(drawing: Drawing) -> Sketch:
    """Reduce a plan to what pictures of it show.

    Args:
        drawing: the plan, read and measured.

    Returns:
        Its lines as points in metres, to the millimetre; arcs of pipes as short straight pieces.
    """
    from checker.geometry.plan import flattened

    measured = drawing.measured
    plan = measured.plan

    def lines(of: dict[str, Array]) -> tuple[tuple[str, Points], ...]:
        return tuple((name, _points(line)) for name, line in of.items())

    crossings = {
        (round(spot.x, 2), round(spot.y, 2))
        for (name, _), spots in measured.spots.items()
        if name == "crossings"
        for spot in spots
    }
    bare = {
        (round(spot.x / BARE_STEP), round(spot.y / BARE_STEP))
        for spots in measured.bare.values()
        for spot in spots
    }
    return Sketch(
        rooms=lines(plan.rooms),
        routes=tuple((name, _points(flattened(path)[0])) for name, path in plan.routes.items()),
        joints=lines(plan.joints),
        fixed=lines(plan.fixed),
        keep_clear=lines(plan.keep_clear),
        crossings=tuple(sorted(crossings)),
        bare=tuple((x * BARE_STEP, y * BARE_STEP) for x, y in sorted(bare)),
    )


def _points(line: Array) -> Points:
    return tuple((x, y) for x, y in np.round(line, 3).tolist())


def given(tables: Tables) -> list[dict[str, dict[str, Given]]]:
    """Collect what designs state, for reports.

    Args:
        tables: the designs; where what was typed was not kept, texts without a column are given for
            `project` alone.

    Returns:
        For each design, by subject ('loops.L1', 'design') and name, each value with its unit. Lists
        (readings, points of a pump curve, steps of the heat-up) are under their table's name with
        the subject that they belong to. What is not stated has no entry.
    """
    shapes = tables.format.shapes
    members = tables.format.top.members.values()
    named = [DESIGNS, *(part.shape.name for part in members if isinstance(part, Collection))]
    subjects = {table: _subjects(tables, table) for table in named}
    found: list[dict[str, dict[str, Given]]] = [{} for _ in tables.designs]
    for table, names in subjects.items():
        of = tables.design_of(table).tolist()
        for design, name, row in zip(of, names, _rows(tables, table), strict=True):
            found[design][name] = {**row}
    for table, shape in shapes.items():
        if table in subjects or table == PARTS:
            continue
        of = tables.design_of(shape.parent).tolist()
        lists: dict[int, list[dict[str, Value]]] = {}
        for parent, row in zip(tables[table].parents, _rows(tables, table), strict=True):
            lists.setdefault(parent, []).append(row)
        for parent, rows in lists.items():
            found[of[parent]][subjects[shape.parent][parent]][table] = tuple(rows)
            if table == "loop_parts":  # so that the loop has the rooms of its parts
                rooms = dict.fromkeys(str(row["room"]) for row in rows if "room" in row)
                found[of[parent]][subjects[shape.parent][parent]]["room"] = ", ".join(rooms)
    for design, own in zip(tables.designs, found, strict=True):
        own["design"] |= _texts(tables.format.top, design.document, "")
    return found


def _subjects(tables: Tables, table: str) -> list[str]:
    if table == DESIGNS:
        return ["design"] * len(tables.designs)
    return [f"{table}.{name}" for name in tables[table].ids]


def _rows(tables: Tables, table: str) -> list[dict[str, Value]]:
    """Every row of the table, as names with what is stated."""
    rows: list[dict[str, Value]] = [{} for _ in tables[table].rows]
    for leaf in tables[table].shape.columns:
        values = tables[table].column(leaf.slot) if rows else np.empty(0)
        if leaf.kind == "quantity":
            scale, offset = units.factor(leaf.unit, leaf.quantity)
            values = np.round((values - offset) / scale, DECIMALS)
        for row, value in zip(rows, values.tolist(), strict=True):
            if value == value:
                row[leaf.name] = _stated(tables, leaf, value)
    return rows


def _stated(tables: Tables, leaf: Leaf, value: float) -> Value:
    """A value of a column as reports state it."""
    if leaf.kind == "quantity":
        return Measure(value, leaf.unit)
    if leaf.kind == "reference":
        return tables[leaf.refers_to].ids[int(value)]
    if leaf.kind == "enumeration":
        return leaf.options[int(value)]
    if leaf.kind == "word":
        return words.text(value)
    if leaf.kind == "boolean":
        return value == 1.0
    if leaf.kind == "date":
        return date.fromordinal(int(value)).isoformat()
    return Measure(value, "1")


def _texts(record: Record, mapping: Any, prefix: str) -> dict[str, Given]:
    """The texts in the record that have no column; names with dots."""
    found: dict[str, Given] = {}
    for key, member in record.members.items():
        value = mapping.get(key)
        if isinstance(member, Record) and value:
            found |= _texts(member, value, f"{prefix}{key}.")
        elif isinstance(member, Leaf) and member.kind == "text" and value:
            found[f"{prefix}{key}"] = str(value)
    return found
