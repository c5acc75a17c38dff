"""Variants of designs: copies in their own tables, with other values, judged in one pass."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np

from checker.arrays import Index
from checker.design.tables import Tables


class Cell(NamedTuple):
    """A value to put into a copy of a design.

    Attributes:
        copy: its place in `Copies.of`.
        table: its table's name.
        slot: the number of its column.
        row: the design's own, in the tables that were copied.
        value: in SI; for a reference the row that it refers to, among those of the design itself.
    """

    copy: int
    table: str
    slot: int
    row: int
    value: float


class Copies:
    """Copies of designs in tables of their own.

    Attributes:
        tables: those of the copies, which can be filled in without changing the designs.
        of: for each copy the row of its design.
    """

    def __init__(self, tables: Tables, wanted: Index) -> None:
        """Make the copies.

        Args:
            tables: the designs; unchanged by anything that is filled in.
            wanted: for each copy the row of its design, shape (copies,).
        """
        self.of = wanted
        self.tables = tables.repeated(wanted)
        self._designs = tables
        self._starts: dict[str, Index] = {}

    def start(self, table: str) -> Index:
        """How far the rows of each copy are from those of its design.

        Args:
            table: its name in the format.

        Returns:
            For each copy, its first row in the table minus its design's, shape (copies,).
        """
        found = self._starts.get(table)
        if found is None:
            copies = np.arange(len(self.of))
            own = np.searchsorted(self.tables.design_of(table), copies)
            found = own - np.searchsorted(self._designs.design_of(table), self.of)
            self._starts[table] = found
        return found

    def rows(self, table: str, copies: Any, rows: Any) -> Any:
        """The rows in copies of rows of their designs.

        Args:
            table: its name in the format.
            copies: places in `of`; one, or an array.
            rows: of the designs, in the tables that were copied; one, or an array that broadcasts
                with `copies`.

        Returns:
            Rows in `tables`, in the broadcast shape.
        """
        return self.start(table)[copies] + rows

    def fill(self, cells: Iterable[Cell]) -> None:
        """Put values into copies, a whole column at a time.

        Args:
            cells: of two for one place the later counts.
        """
        columns: dict[tuple[str, int], list[Cell]] = {}
        for cell in cells:
            columns.setdefault((cell.table, cell.slot), []).append(cell)
        for (table, slot), own in columns.items():
            copies = np.array([one.copy for one in own], dtype=np.intp)
            rows = np.array([one.row for one in own], dtype=np.intp)
            values = np.array([one.value for one in own])
            leaf = self.tables[table].shape.columns[slot]
            if leaf.kind == "reference":
                values = values + self.start(leaf.refers_to)[copies]
            self.tables[table].fill(slot, self.rows(table, copies, rows), values)
