"""The rows of one subject, for all designs judged together, as one matrix of numbers."""

from __future__ import annotations

from array import array
from functools import partial
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field

from checker.design.schema import (
    PARTS,
    Shape,
)
from checker.reading.documents import Mapping, Place

Array = npt.NDArray[np.float64]

Index = npt.NDArray[np.intp]

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
        """Add a row without values."""
        row = self._blank[:]
        self._matrix = None
        self.rows.append(row)
        self.ids.append(name)
        self.parents.append(parent)
        self.places.append(place)
        return row

    def take(self, matrix: Array, ids: list[str], parents: Index, places: Array) -> None:
        """Replace all rows: matrix shape (columns and their places, n)."""
        self._matrix = matrix
        self.ids = ids
        self.parents = array("q", parents.tolist())
        self._parents = None
        self.places = array("q", places.astype(np.int64).tolist())

    def cut(self, length: int) -> None:
        """Remove all rows from this number on."""
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
        """The column's values, shape (n,)."""
        if self._matrix is None:
            rows = np.frombuffer(b"".join(self.rows), dtype=np.float64)
            rows = rows.reshape(len(self.rows), 2 * len(self.shape.columns))
            self._matrix = np.ascontiguousarray(rows.T)
        values: Array = self._matrix[slot]
        return values

    def copy(self, other: Table, rows: Index) -> None:
        """Copy these rows of another table, without their parents."""
        if len(rows):
            other.column(0)
            assert other._matrix is not None
            self._matrix = other._matrix[:, rows]
        self.rows = [other.rows[row] for row in rows.tolist()]
        self.ids = [other.ids[row] for row in rows.tolist()]
        self.places = array("q", np.array(other.places, dtype=np.int64)[rows].tobytes())

    def fill(self, slot: int, rows: Any, values: Array | Index) -> None:
        """Put values into some rows of a column of a copy."""
        self.column(slot)[rows] = values

    def placed(self, slot: int) -> npt.NDArray[np.bool_]:
        """For each row, whether the field, or a part around it, was typed, shape (n,)."""
        return self.column(slot + len(self.shape.columns)) > 0

    def places_at(self, name: str) -> npt.NDArray[np.int64]:
        """For each row the place of a field, else of the part around it, else of the row, (n,)."""
        own = np.array(self.places, dtype=np.int64)
        if not name or not self.ids:
            return own
        slot = next((leaf.slot for leaf in self.shape.columns if leaf.name == name), None)
        if slot is None:
            return own
        places = self.column(slot + len(self.shape.columns)).astype(np.int64)
        return np.where(places > 0, places, own)
