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
        """Where it stands, as a person is told."""
        if self.cell:
            return f"{self.path}, {self.cell}"
        return f"{self.path}:{self.line}:{self.column}"


class OfTheFile(Unreadable, frozen=True):
    """A mistake that stands nowhere in the file: it is not there, or cannot be opened."""

    @property
    def place(self) -> str:
        """The file."""
        return self.path


class Crashed(Unreadable, frozen=True):
    """A design that the program itself failed on, and what to do; trace: for who mends it."""

    trace: str = ""
