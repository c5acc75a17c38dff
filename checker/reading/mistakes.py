"""A mistake in a file, with its place; a file that the program failed on."""

from __future__ import annotations

from msgspec import Struct


class Unreadable(Struct, frozen=True):
    """A mistake that kept a design from being read."""

    path: str
    line: int
    column: int
    message: str


class Crashed(Unreadable, frozen=True):
    """A design that the program itself failed on, and what to do; trace: for who mends it."""

    trace: str = ""
