"""A mistake in a file, with its place."""

from __future__ import annotations

from msgspec import Struct


class Unreadable(Struct, frozen=True):
    """A mistake that kept a design from being read."""

    path: str
    line: int
    column: int
    message: str
