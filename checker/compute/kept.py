"""Values that a graph has computed, and which of them depend on an earlier graph."""

from __future__ import annotations

from typing import Generic, TypeVar

T = TypeVar("T")
Key = tuple[str, str]
"""Subject and name."""


class Kept(Generic[T]):
    """Values by subject and name.

    Attributes:
        found: those that were computed.
        moving: keys of those that depend on an earlier graph.
    """

    def __init__(self) -> None:
        self.found: dict[Key, T] = {}
        self.moving: set[Key] = set()

    def take(self, earlier: Kept[T]) -> None:
        """Start from the values of an earlier graph that do not depend on the one before it.

        Args:
            earlier: the values of that graph; unchanged.
        """
        moving = earlier.moving
        self.found = {key: one for key, one in earlier.found.items() if key not in moving}
