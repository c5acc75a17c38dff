"""A mistake in a file, with its place; a file on which the program failed."""

from __future__ import annotations

from msgspec import UNSET, Struct, UnsetType


class Unreadable(Struct, frozen=True):
    """A mistake because of which a design cannot be read."""

    path: str
    line: int
    column: int
    message: str
    cell: str | UnsetType = UNSET
    """For a sheet, its name; line and column are then the cell's row and column."""

    @property
    def place(self) -> str:
        """Its place, in words."""
        if self.cell:
            return f"{self.path}, {self.cell}"
        return f"{self.path}:{self.line}:{self.column}"


class OfTheFile(Unreadable, frozen=True):
    """A mistake without a place in the file: the file is missing, or cannot be opened."""

    @property
    def place(self) -> str:
        """The file."""
        return self.path


class Crashed(OfTheFile, frozen=True):
    """A design on which the program itself failed, and what to do.

    Attributes:
        trace: for developers, in several lines.
    """

    trace: str = ""
