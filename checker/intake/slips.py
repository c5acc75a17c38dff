"""Finds values that look wrong: a shifted decimal point, a column in another unit."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from math import log10
from statistics import median
from typing import Any, NamedTuple

from checker import units
from checker.intake.fields import Field, fields, value_of
from checker.intake.weighing import HEAT_OF_WATER, LOAD_OVER_AREA, LOAD_OVER_FLOW
from checker.words import measure

FEWEST = 5
"""A column needs this many values before one of them can look out of place."""
FEWEST_LOOPS = 3
SIZES = frozenset(("length", "area", "volume_flow", "power"))
"""Quantities whose values are of a similar size in one house; covering resistances are not."""
STANDS_OUT = 5.0
"""Values this many times larger or smaller than the median are doubted; common practice, no
source.
"""
MISFIT = 1.6
"""Ratio of length to area over spacing from which units are doubted; common practice, no source."""


class Slip(NamedTuple):
    """A value that looks wrong: the message, and where it is."""

    words: str
    sheet: str
    row: int
    column: str
    value: str


class Entry(NamedTuple):
    """One value of a column: the record's id, its row and column, the value in SI, its text and
    unit.

    other: the factor by which the other reading of its mark is larger; 0 where there is none.
    """

    name: str
    row: int
    column: str
    value: float
    raw: str
    unit: str
    other: float = 0.0


@dataclass
class Series:
    """All values of a column."""

    sheet: str
    column: str
    field: Field
    unit: str
    entries: list[Entry] = dataclasses.field(default_factory=list)

    def add(self, entry: Entry) -> None:
        """Add a value to the column.

        Args:
            entry: the value, which may be compared with those before it.
        """
        self.entries.append(entry)


def found(columns: list[Series], tree: dict[str, Any]) -> Iterator[Slip]:
    """Find all values that look wrong: column by column, then columns compared with one another.

    Args:
        columns: the values of each column that was read.
        tree: the design, as it was read.

    Returns:
        The values, each with why; none of them was changed.
    """
    for column in columns:
        marked = [*_other_marks(column)]
        yield from marked
        rows = {slip.row for slip in marked}
        yield from (slip for slip in _shifted(column) if slip.row not in rows)
        yield from _small_fractions(column)
        yield from _other_units(column)
    yield from _mixed_units(columns, tree)
    yield from _loads(columns, tree)


def _shifted(column: Series) -> Iterator[Slip]:
    """Values that would fit among the others if their decimal point were moved."""
    values = [entry.value for entry in column.entries]
    if column.field.leaf.quantity not in SIZES or column.field.listed:
        return
    if len(values) < FEWEST or min(values) <= 0:
        return
    middle = median(values)
    usual = [v for v in values if 1 / STANDS_OUT < v / middle < STANDS_OUT]
    if len(usual) * 3 < len(values) * 2:
        return
    for entry in column.entries:
        if 1 / STANDS_OUT < entry.value / middle < STANDS_OUT:
            continue
        shift = round(log10(middle / entry.value))
        if shift and min(usual) <= entry.value * 10.0**shift <= max(usual):
            unit = column.unit or column.field.leaf.unit
            kind = column.field.leaf.quantity
            middle_words = measure(units.from_si(middle, unit, kind), unit)
            fits = measure(units.from_si(entry.value * 10.0**shift, unit, kind), unit)
            yield Slip(
                f"looks like a slipped decimal point: the middle of the column is {middle_words}, "
                f"and {fits} would fit",
                column.sheet, entry.row, entry.column, f"'{entry.raw}'",
            )  # fmt: skip


def _other_marks(column: Series) -> Iterator[Slip]:
    """Numbers that would be closer to the rest of the column if their mark were read the other
    way.
    """
    sure = [entry.value for entry in column.entries if not entry.other and entry.value > 0]
    if not sure or column.field.leaf.quantity == "temperature":
        return
    middle = median(sure)
    for entry in column.entries:
        if not entry.other or entry.value <= 0:
            continue
        ways = [abs(log10(value / middle)) for value in (entry.value, entry.value * entry.other)]
        if ways[1] < ways[0]:
            unit = column.unit or column.field.leaf.unit
            kind = column.field.leaf.quantity
            read, other, usual = (
                measure(units.from_si(value, unit, kind), unit)
                for value in (entry.value, entry.value * entry.other, middle)
            )
            yield Slip(
                f"is read as {read}; as {other} it would be nearer to the rest of the column, of "
                f"which the middle is {usual}",
                column.sheet, entry.row, entry.column, f"'{entry.raw}'",
            )  # fmt: skip


def _small_fractions(column: Series) -> Iterator[Slip]:
    """Percentages that a spreadsheet stores as a fraction: 25 % is 0.25 in the cell."""
    if column.field.leaf.quantity != "fraction" or column.unit != "%":
        return
    for entry in column.entries:
        if 0 < entry.value < 0.01 and not entry.raw.endswith("%"):
            yield Slip(
                "is less than one percent; a cell shown as a percentage holds 0.25 for 25 %, and "
                "its unit is then 1",
                column.sheet, entry.row, entry.column, f"'{entry.raw}'",
            )  # fmt: skip


def _other_units(column: Series) -> Iterator[Slip]:
    """Cells that state another unit than all others in their column."""
    kind = column.field.leaf.quantity
    if len(column.entries) < FEWEST or not all(entry.unit for entry in column.entries):
        return
    try:
        factors = [units.factor(entry.unit, kind) for entry in column.entries]
    except ValueError:  # a unit of something else, which is a mistake and reported as one
        return
    usual, count = Counter(factors).most_common(1)[0]
    if count != len(factors) - 1:
        return
    others = next(e.unit for e, factor in zip(column.entries, factors, strict=True)
                  if factor == usual)  # fmt: skip
    for entry, factor in zip(column.entries, factors, strict=True):
        if factor != usual:
            yield Slip(
                f"is in {entry.unit}, all others of the column in {others}; is that meant?",
                column.sheet, entry.row, entry.column, f"'{entry.raw}'",
            )  # fmt: skip


_FACTORS = {
    1 / 0.3048: "the lengths are in feet, or area and spacing are not what the map says",
    0.3048: "the lengths are in metres although the map says feet",
    0.3048**2: "the areas are in square feet although the map says square metres",
    0.3048**-2: "the areas are in square metres although the map says square feet",
    10.0: "the spacing is in millimetres although the map says centimetres",
    0.1: "the spacing is in centimetres although the map says millimetres",
    25.4: "the spacing is in millimetres although the map says inches",
    1 / 25.4: "the spacing is in inches although the map says millimetres",
}
"""What a ratio of length to area over spacing suggests."""


def _mixed_units(columns: list[Series], tree: dict[str, Any]) -> Iterator[Slip]:
    """Loops whose length, area and spacing disagree, all by the same factor.

    A loop is as long as its area over its spacing, plus its feeds (geometry).
    """
    ratios = []
    for loop in tree.get("loops", {}).values():
        length, area, spacing = (_si(loop, key) for key in ("length", "area", "spacing"))
        if length and area and spacing:
            ratios.append(length / (area / spacing + (_si(loop, "feeds") or 0.0)))
    if len(ratios) < FEWEST_LOOPS:
        return
    middle = median(ratios)
    if 1 / MISFIT < middle < MISFIT:
        return
    near = min(_FACTORS, key=lambda factor: abs(log10(factor / middle)))
    maybe = f"; perhaps {_FACTORS[near]}" if abs(log10(near / middle)) < 0.15 else ""
    length_column = next((c for c in columns if c.field.name == "loops.length"), None)
    if length_column is not None:
        yield Slip(
            f"the loops are {middle:.3g} times as long as their area over their spacing{maybe}",
            length_column.sheet, 0, length_column.column, "",
        )  # fmt: skip


def _loads(columns: list[Series], tree: dict[str, Any]) -> Iterator[Slip]:
    """Rooms whose loads fit neither the area of their loops nor the flow in them."""
    of_rooms: dict[str, list[dict[str, Any]]] = {}
    for loop in tree.get("loops", {}).values():
        if isinstance(loop.get("room"), str):
            of_rooms.setdefault(loop["room"], []).append(loop)
    for key, field, scale, (least, most), unit, what in (
        (
            "area",
            "loops.area",
            1.0,
            LOAD_OVER_AREA,
            "W/m²",
            "the load of the rooms is {} of their loops",
        ),
        (
            "flow",
            "loops.flow",
            HEAT_OF_WATER,
            LOAD_OVER_FLOW,
            "K",
            "the water would cool by {} to carry the loads",
        ),
    ):
        ratios = []
        for name, loops in of_rooms.items():
            load = _si(tree.get("rooms", {}).get(name, {}), "heat_load", "rooms")
            parts = [_si(loop, key) for loop in loops]
            if load and all(parts):
                ratios.append(load / (scale * sum(filter(None, parts))))
        if len(ratios) < FEWEST_LOOPS or least <= (middle := median(ratios)) <= most:
            continue
        said = f"{float(f'{middle:.2g}'):.10g} {unit}"
        for column in columns:
            if column.field.name in ("rooms.heat_load", field):
                yield Slip(
                    f"as the map reads the units, {what.format(said)}; "
                    f"{least:g} to {most:g} {unit} is usual; look at both units",
                    column.sheet, 0, column.column, "",
                )  # fmt: skip


def _si(record: dict[str, Any], key: str, section: str = "loops") -> float | None:
    """A value of a record in SI; None where it is not stated, or is wrong."""
    text = record.get(key)
    leaf = fields()[f"{section}.{key}"].leaf
    return value_of(leaf, text) if isinstance(text, str) else None
