"""A design as it may be changed: which records belong together, and the paths of their data."""

from __future__ import annotations

import math
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from checker.compute.naming import TABLE_OF
from checker.compute.variants import Cell
from checker.design.changes import BadChange, Change, Step, read_change, stated, value_of
from checker.design.leaves import Leaf
from checker.design.schema import DESIGNS, PARTS, Record, Rows, design_format
from checker.design.tables import Design, Tables
from checker.reading.documents import Mapping, Sequence
from checker.remedies.typed_values import IMPERIAL, OTHER_UNITS, unit_of


class Place(NamedTuple):
    """A field of a record.

    Attributes:
        path: as changes are written.
        table: that holds it.
        row: of the record.
        leaf: its type.
    """

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
        """Give the design's rows of a table.

        Args:
            table: of the design format ('loops'), or that of parts.

        Returns:
            Consecutive row numbers; empty where the design lacks the section.
        """
        found = self._rows.get(table)
        if found is None:
            of = self.tables.design_of(table)
            first, last = (
                int(np.searchsorted(of, self.design.row, side)) for side in ("left", "right")
            )
            found = self._rows[table] = range(first, last)
        return found

    def row(self, table: str, name: str) -> int | None:
        """Find a record by its id.

        Args:
            table: the section ('loops').
            name: the id.

        Returns:
            Its row; None where the design has no such record.
        """
        ids = self.tables[table].ids
        return next((row for row in self.rows(table) if ids[row] == name), None)

    def value(self, table: str, column: str, row: int) -> float:
        """Look up a value in the tables.

        Args:
            table: of the design format ('loops').
            column: its name, with dots for fields within others.
            row: of the record.

        Returns:
            SI, the row for a reference; NaN where it is missing.
        """
        leaf = leaf_of(table, column)
        return float(self.tables[table].column(leaf.slot)[row])

    def related(self, table: str, row: int, wanted: str) -> list[int]:
        """List the records of a table that belong together with one of another: its loops, their
        rooms.

        Args:
            table: of the record.
            row: of the record.
            wanted: the table of those that are listed. Feeds do not count among parts.

        Returns:
            Their rows, each once, in order; empty where the two tables have nothing to do with each
            other.
        """
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
        return [*dict.fromkeys(int(one) for one in found if not math.isnan(one))]

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
        """Name a record as reports do.

        Args:
            table: of the record.
            row: of the record.

        Returns:
            'loops.L1', 'loops.L1.parts[2]' for a part, 'design' for the whole.
        """
        own = self.tables[table]
        return "design" if table == DESIGNS else f"{own.section}.{own.ids[row]}"

    def path(self, table: str, row: int, column: str) -> str:
        """Give the path of a record's field, as changes are written.

        Args:
            table: of the record.
            row: of the record.
            column: the field's name.

        Returns:
            'loops.L1.length'; for the whole design the field's name alone.
        """
        return column if table == DESIGNS else f"{self.name(table, row)}.{column}"

    def text(self, path: str) -> Any:
        """Look up what is typed at a path.

        Args:
            path: as changes are written.

        Returns:
            A text, mapping or list as typed; None where nothing is stated there, or the format has
            no such path.
        """
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
        """Find where the value is stated that applies to a loop.

        Args:
            loop: its row.
            field: that loops, headers and the plant may all state ('supply').

        Returns:
            The path in the loop, else in its header, else in the plant, where it may also not be
            stated.
        """
        own = self.path("loops", loop, field)
        if self.text(own) is not None:
            return own
        header = self.value("loops", "header", loop)
        if not math.isnan(header):
            at_header = self.path("headers", int(header), field)
            if self.text(at_header) is not None:
                return at_header
        return f"plant.{field}"

    def number(self, path: str) -> float:
        """Look up the number at a path.

        Args:
            path: as changes are written.

        Returns:
            SI; NaN where none is stated.
        """
        place = self.place(path)
        if place is None:
            return math.nan
        return float(self.tables[place.table].column(place.leaf.slot)[place.row])

    def place(self, path: str) -> Place | None:
        """Find where in the tables a value is, stated or not.

        Args:
            path: as changes are written.

        Returns:
            Its table, row and type; None where the path leads to no single value of a record that
            the design has.
        """
        if path not in self._known:
            self._known[path] = self._place(path)
        return self._known[path]

    def _place(self, path: str) -> Place | None:
        """Where a path leads in the tables, looked up in the design."""
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
        """Turn changes into values to put into a copy of the tables.

        Args:
            changes: each `path=text`.

        Returns:
            The values, for copy 0; None where one of the changes is more than a value, so that the
            changed design must be read.

        Raises:
            BadChange: the format does not allow a text.
        """
        found: list[Cell] = []
        for words in changes:
            own = self._cells(words)
            if own is None:
                return None
            found += own
        return found

    def _cells(self, words: str) -> list[Cell] | None:
        """The values that one change comes to; None where it is more than values."""
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
        """A text as the value of one cell; raises BadChange."""
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
        """Give the unit in which a new value is written.

        Args:
            path: of the field.
            leaf: its type, a quantity.

        Returns:
            The unit of what is stated there, else the usual one of the design's system of units.
        """
        own = unit_of(self.text(path))
        if own:
            return own
        imperial = self.imperial
        return OTHER_UNITS.get(leaf.unit, leaf.unit) if imperial else leaf.unit

    @property
    def imperial(self) -> bool:
        """Whether the design is written in inches and °F."""
        plant = self.document.get("plant")
        typed = plant.get("supply") if isinstance(plant, Mapping) else None
        return unit_of(typed) in IMPERIAL


def leaf_of(table: str, column: str) -> Leaf:
    """Look up the type of a column.

    Args:
        table: of the design format ('loops').
        column: its name, with dots for fields within others.

    Returns:
        The leaf, shared with all that use the format.

    Raises:
        KeyError: there is no such column.
    """
    return design_format().leaf(table, column)


def table_of(subject: str) -> str:
    """Give the table of a result's subject.

    Args:
        subject: as reports name it ('loops.L1', 'design').

    Returns:
        'loops'; the table of designs for what is in no section of records.
    """
    section = subject.partition(".")[0]
    return section if section in TABLE_OF.values() else DESIGNS
