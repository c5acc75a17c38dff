"""A mistake in a file, with its place; a file that the program failed on."""

from __future__ import annotations

from msgspec import UNSET, Struct, UnsetType


class Unreadable(Struct, frozen=True):
    """A mistake that kept a design from being read."""

    path: str
    line: int
    column: int
    message: str
    cell: str | UnsetType = UNSET
    """Of a sheet, and then line and column are the cell's row and column."""

    @property
    def place(self) -> str:
        """Its place, in words for a person."""
        if self.cell:
            return f"{self.path}, {self.cell}"
        return f"{self.path}:{self.line}:{self.column}"


class OfTheFile(Unreadable, frozen=True):
    """A mistake without a place in the file: the file is missing, or cannot be opened."""

    @property
    def place(self) -> str:
        """The file."""
        return self.path


class Crashed(Unreadable, frozen=True):
    """A design that the program itself failed on, and what to do; trace: for developers."""

    trace: str = ""
