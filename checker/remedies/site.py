"""A design as it may be changed: which records belong together, and the paths of their data."""

from __future__ import annotations

import math
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from checker import units
from checker.compute.naming import TABLE_OF
from checker.compute.variants import Cell
from checker.design.changes import BadChange, Change, Step, read_change, stated, value_of
from checker.design.leaves import Leaf
from checker.design.schema import DESIGNS, PARTS, Record, Rows, design_format
from checker.design.tables import Design, Tables
from checker.reading.documents import Mapping, Sequence

IMPERIAL = frozenset(
    "in,inch,inches,ft,foot,feet,ft²,ft2,sqft,°F,degF,psi,gpm,gal/min,ft²·°F·h/Btu,Btu/h".split(",")  # noqa: SIM905
)
"""Units of designs that use inches, feet and °F."""
DECIMALS = 9


class Place(NamedTuple):
    """A field of a record: its path, its table and row, and its type."""

    path: str
    table: str
    row: int
    leaf: Leaf


class Site:
    """One design in the tables."""

    def __init__(self, tables: Tables, design: Design) -> None:
        self.tables = tables
        self.design = design
        self.document = design.document
        self._rows: dict[str, range] = {}
        self._known: dict[str, Place | None] = {}
        self._texts: dict[str, Any] = {}

    def rows(self, table: str) -> range:
        """The design's rows of a table."""
        found = self._rows.get(table)
        if found is None:
            of = self.tables.design_of(table)
            first, last = (
                int(np.searchsorted(of, self.design.row, side)) for side in ("left", "right")
            )
            found = self._rows[table] = range(first, last)
        return found

    def row(self, table: str, name: str) -> int | None:
        """The row of a record by its id."""
        ids = self.tables[table].ids
        return next((row for row in self.rows(table) if ids[row] == name), None)

    def value(self, table: str, column: str, row: int) -> float:
        """A value in SI, NaN where it is missing."""
        leaf = leaf_of(table, column)
        return float(self.tables[table].column(leaf.slot)[row])

    def related(self, table: str, row: int, wanted: str) -> list[int]:
        """The records of a table that are connected with one of another, in order."""
        if table == wanted:
            return [row]
        if wanted == DESIGNS:
            return [self.design.row]
        if table == "pressure_tests" and wanted == "headers":
            return self._linked(table, "header", [row])
        loops = self._loops(table, row)
        if wanted == "loops":
            return loops
        if wanted == PARTS:
            of = {*loops}
            parts = self.tables[PARTS]
            own = [one for one in self.rows(PARTS) if parts.parents[one] in of]
            own = [one for one in own if self.value(PARTS, "feed", one) != 1.0]
            if table == "rooms":
                own = [one for one in own if self.value(PARTS, "room", one) == row]
            return own
        if wanted in ("rooms", "floors"):
            return self._linked(PARTS, wanted[:-1], self.related(table, row, PARTS))
        if wanted in ("headers", "pipes"):
            return self._linked("loops", wanted[:-1], loops)
        return []

    def _linked(self, table: str, column: str, rows: list[int]) -> list[int]:
        found = [self.value(table, column, row) for row in rows]
        return [*dict.fromkeys(int(one) for one in found if one == one)]

    def _loops(self, table: str, row: int) -> list[int]:
        """The loops that are connected with a record."""
        loops = self.rows("loops")
        if table == DESIGNS:
            return [*loops]
        if table == "loops":
            return [row]
        if table in ("headers", "pipes"):
            return [one for one in loops if self.value("loops", table[:-1], one) == row]
        if table == "pressure_tests":
            header = self.value(table, "header", row)
            return [one for one in loops if self.value("loops", "header", one) == header]
        parts = self.tables[PARTS]
        own = [
            parts.parents[one]
            for one in self.rows(PARTS)
            if self.value(PARTS, table[:-1], one) == row and self.value(PARTS, "feed", one) != 1.0
        ]
        return [*dict.fromkeys(own)]

    def name(self, table: str, row: int) -> str:
        """A record as reports name it."""
        own = self.tables[table]
        return "design" if table == DESIGNS else f"{own.section}.{own.ids[row]}"

    def path(self, table: str, row: int, column: str) -> str:
        """The path of a record's field."""
        return column if table == DESIGNS else f"{self.name(table, row)}.{column}"

    def text(self, path: str) -> Any:
        """What is typed at a path; None where there is nothing."""
        if path not in self._texts:
            try:
                _, found = read_change(f"{path}=0", self.document)
                self._texts[path] = stated(self.document, found.steps)
            except BadChange:
                self._texts[path] = None
        return self._texts[path]

    @cached_property
    def supplies(self) -> list[tuple[str, float]]:
        """For each loop the path of its supply temperature, and the value, NaN for none."""
        return [self._supply(loop) for loop in self.rows("loops")]

    @cached_property
    def heating(self) -> list[tuple[str, float]]:
        """The path of the temperature of each step of the first heating, and the value."""
        count = len(self.text("heat_up.steps") or ())
        paths = [f"heat_up.steps[{number}].supply" for number in range(1, count + 1)]
        return [(path, self.number(path)) for path in paths]

    def _supply(self, loop: int) -> tuple[str, float]:
        path = self.nearest(loop, "supply")
        return path, self.number(path)

    def nearest(self, loop: int, field: str) -> str:
        """The path of the value that applies to a loop: its own, its header's, or the plant's."""
        own = self.path("loops", loop, field)
        if self.text(own) is not None:
            return own
        header = self.value("loops", "header", loop)
        if header == header:
            at_header = self.path("headers", int(header), field)
            if self.text(at_header) is not None:
                return at_header
        return f"plant.{field}"

    def number(self, path: str) -> float:
        """The number at a path in SI; NaN where none is stated."""
        place = self.place(path)
        if place is None:
            return math.nan
        return float(self.tables[place.table].column(place.leaf.slot)[place.row])

    def place(self, path: str) -> Place | None:
        """The place of a value in the tables; None where the path leads to none."""
        if path not in self._known:
            self._known[path] = self._place(path)
        return self._known[path]

    def _place(self, path: str) -> Place | None:
        try:
            _, found = read_change(f"{path}=0", self.document)
        except BadChange:
            return None
        steps, leaf = found.steps, found.member
        if not isinstance(leaf, Leaf) or leaf.slot < 0 or leaf.listed is not None:
            return None
        return self._stands(path, steps, leaf)

    def _stands(self, path: str, steps: tuple[Step, ...], leaf: Leaf) -> Place | None:
        """The table and row of a value, found along its steps."""
        member: Any = design_format().top
        table, row = DESIGNS, self.design.row
        for step in steps:
            if isinstance(member, Record):
                member = member.members.get(str(step))
                if isinstance(member, Leaf) and member.listed is not None and member is not leaf:
                    member = member.listed
            elif isinstance(member, Rows):
                own = member.shape.name
                parents = self.tables[own].parents
                rows = [one for one in self.rows(own) if parents[one] == row or table == DESIGNS]
                if not isinstance(step, int) or step >= len(rows):
                    return None
                table, row = own, rows[step]
                member = member.record
            elif member is not None and hasattr(member, "record"):
                found = self.row(member.shape.name, str(step))
                if found is None:
                    return None
                table, row, member = member.shape.name, found, member.record
        return Place(path, table, row, leaf)

    def cells(self, changes: tuple[str, ...]) -> list[Cell] | None:
        """The changes as values to put into a copy; None where one is more than a value.

        Raises BadChange for a text that the design's format does not allow.
        """
        found: list[Cell] = []
        for words in changes:
            own = self._cells(words)
            if own is None:
                return None
            found += own
        return found

    def _cells(self, words: str) -> list[Cell] | None:
        path, _, text = words.partition("=")
        if path.endswith(".pump.setting"):
            return None  # another curve becomes the header's own
        place = self.place(path)
        if place is not None and not text.startswith(("{", "[")):
            return [self._cell(place, text)]
        if not text.startswith("["):
            return None
        before, after = self.text(path), value_of(Change(path, text), 0)
        if not isinstance(before, Sequence) or len(before) != len(after):
            return None
        if not all(isinstance(one, Sequence) for one in (*before, *after)):
            return None
        found = []
        for item, parts in enumerate(after, start=1):
            for part, own in enumerate(parts, start=1):
                at = self.place(f"{path}[{item}][{part}]")
                if at is None or not isinstance(own, str):
                    return None
                found.append(self._cell(at, own))
        return found

    def _cell(self, place: Place, text: str) -> Cell:
        leaf = place.leaf
        if text == "null":
            value = float("nan")
        elif leaf.kind == "reference":
            row = self.row(leaf.refers_to, text)
            if row is None:
                raise BadChange(f"{place.path}: there is no '{text}' in {leaf.refers_to}")
            value = float(row)
        else:
            try:
                value = leaf.memo[text] if text in leaf.memo else leaf.convert(text)
            except ValueError as bad:
                raise BadChange(f"{place.path}: {bad}") from None
        return Cell(0, place.table, leaf.slot, place.row, value)

    def unit(self, path: str, leaf: Leaf) -> str:
        """The unit that a field is written in: its own, else that of similar fields."""
        own = unit_of(self.text(path))
        if own:
            return own
        imperial = self.imperial
        return _OTHER_UNITS.get(leaf.unit, leaf.unit) if imperial else leaf.unit

    @property
    def imperial(self) -> bool:
        """Whether the design is written in inches and °F."""
        plant = self.document.get("plant")
        typed = plant.get("supply") if isinstance(plant, Mapping) else None
        return unit_of(typed) in IMPERIAL


_OTHER_UNITS = {
    "°C": "°F",
    "mm": "in",
    "m": "ft",
    "l/min": "gpm",
    "kPa": "psi",
    "bar": "psi",
    "m²·K/W": "ft²·°F·h/Btu",
    "K": "°F",
    "m²": "ft²",
}


def unit_of(text: Any) -> str:
    """The unit of a quantity as it is typed; empty where there is none."""
    if not isinstance(text, str):
        return ""
    return text.strip().lstrip("+-−0123456789.eE").strip()


def leaf_of(table: str, column: str) -> Leaf:
    """The type of a column."""
    return design_format().leaf(table, column)


def table_of(subject: str) -> str:
    """The table of a result's subject: 'loops.L1', 'design'."""
    section = subject.partition(".")[0]
    return section if section in TABLE_OF.values() else DESIGNS


def typed(value: float, unit: str, leaf: Leaf) -> str:
    """A value in SI as it is typed in this unit."""
    scale, offset = units.factor(unit, leaf.quantity)
    return f"{plain((value - offset) / scale)} {unit}"


def plain(number: float) -> str:
    """A number without the digits that binary fractions add, and without an exponent."""
    text = f"{round(number, DECIMALS):.9f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
