"""The rows of one subject, for all designs judged together, as one matrix of numbers."""

from __future__ import annotations

from array import array
from functools import partial
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field

from checker.arrays import Array, Index, Mask
from checker.design.schema import (
    PARTS,
    Shape,
)
from checker.reading.documents import Mapping, Place

Row: TypeAlias = "array[float]"

NAN = float("nan")


class Table(Struct):
    """The rows of one subject. Missing numbers are NaN; a reference is a row number.

    A row is its values followed by the place of each, else that of the part around it (zero where
    neither was typed). `parents` holds for each row the row it belongs to, in the table that the
    shape names.
    """

    shape: Shape
    rows: list[Row] = []
    ids: list[str] = []
    parents: array[int] = field(default_factory=partial(array, "q"))
    sources: list[Mapping] = []
    # Like the rows and parents, in an array: NumPy copies one a hundred times as fast as a list.
    places: array[int] = field(default_factory=partial(array, "q"))
    _matrix: Array | None = None
    _parents: Index | None = None
    _blank: Row = field(default_factory=lambda: array("d"))

    def __post_init__(self) -> None:
        columns = len(self.shape.columns)
        self._blank = array("d", [NAN] * columns + [0.0] * columns)

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def section(self) -> str:
        """The section of the design with these rows, as subjects begin."""
        return "loops" if self.shape.name == PARTS else self.shape.name

    def add(self, name: str, parent: int, place: Place) -> Row:
        """Add a row without values.

        Args:
            name: the id of its record; empty where it has none.
            parent: the row that it belongs to, in the table that the shape names.
            place: of its record in the file.

        Returns:
            The row, to be filled in place: all values NaN, all places 0.
        """
        row = self._blank[:]
        self._matrix = None
        self.rows.append(row)
        self.ids.append(name)
        self.parents.append(parent)
        self.places.append(place)
        return row

    def take(self, matrix: Array, ids: list[str], parents: Index, places: Array) -> None:
        """Replace all rows by columns that exist already.

        Args:
            matrix: the values of each column, then the places of each, shape (2 · columns, n).
            ids: of each row.
            parents: the row that each belongs to, shape (n,).
            places: of each row in its file, shape (n,).
        """
        self._matrix = matrix
        self.ids = ids
        self.parents = array("q", parents.tolist())
        self._parents = None
        self.places = array("q", places.astype(np.int64).tolist())

    def cut(self, length: int) -> None:
        """Remove the last rows.

        Args:
            length: how many rows stay.
        """
        self._matrix = self._parents = None
        for column in (self.rows, self.ids, self.parents, self.sources, self.places):
            del column[length:]

    def above(self) -> Index:
        """The parent of each row, shape (n,); read-only."""
        if self._parents is None or len(self._parents) != len(self.parents):
            self._parents = np.array(self.parents, dtype=np.intp)
            self._parents.flags.writeable = False
        return self._parents

    def column(self, slot: int) -> Array:
        """Give one column of values or of places.

        Args:
            slot: the leaf's, for its values; that plus the number of columns, for their places.

        Returns:
            Shape (n,), NaN for a missing value. A view that must not be changed but by `fill`; rows
            that are filled in place afterwards do not change it.
        """
        if self._matrix is None:
            rows = np.frombuffer(b"".join(self.rows), dtype=np.float64)
            rows = rows.reshape(len(self.rows), 2 * len(self.shape.columns))
            self._matrix = np.ascontiguousarray(rows.T)
        values: Array = self._matrix[slot]
        return values

    def copy(self, other: Table, rows: Index) -> None:
        """Copy rows of another table of the same shape, without their parents.

        Args:
            other: the table; unchanged.
            rows: the numbers of its rows, shape (n,), in any order; one may be named several times.
        """
        if len(rows):
            other.column(0)
            assert other._matrix is not None
            self._matrix = other._matrix[:, rows]
        self.rows = [other.rows[row] for row in rows.tolist()]
        self.ids = [other.ids[row] for row in rows.tolist()]
        self.places = array("q", np.array(other.places, dtype=np.int64)[rows].tobytes())

    def fill(self, slot: int, rows: Any, values: Array | Index) -> None:
        """Set values in some rows of a column.

        Meant for a copy: the rows as lists do not change with it.

        Args:
            slot: of the column.
            rows: the number of one row, or of several, or a mask of shape (n,).
            values: one for each row, or one for all.
        """
        self.column(slot)[rows] = values

    def placed(self, slot: int) -> Mask:
        """Mark the rows in which a field was typed, or a part around it.

        Args:
            slot: of the field's column.

        Returns:
            A mask, shape (n,); True also where what was typed has no value.
        """
        return self.column(slot + len(self.shape.columns)) > 0

    def places_at(self, name: str) -> npt.NDArray[np.int64]:
        """Give the place at which messages about a field point.

        Args:
            name: of the field's column; empty, or that of none, for the rows themselves.

        Returns:
            For each row the place of the field, else of the part around it, else of the row, shape
            (n,).
        """
        own = np.array(self.places, dtype=np.int64)
        if not name or not self.ids:
            return own
        slot = next((leaf.slot for leaf in self.shape.columns if leaf.name == name), None)
        if slot is None:
            return own
        places = self.column(slot + len(self.shape.columns)).astype(np.int64)
        return np.where(places > 0, places, own)
