"""A place for solved sections between runs, as an interface; its user decides where it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from checker.physics.build_up import Section


class Shelf(Protocol):
    """Solutions by their section, packed."""

    def take(self, sections: Sequence[Section]) -> Mapping[Section, bytes]:
        """The solutions of some sections, where the shelf has them.

        Args:
            sections: those asked for.

        Returns:
            Packed solutions, by section; absent where there is none.
        """

    def keep(self, solutions: Mapping[Section, bytes]) -> None:
        """Put solutions on the shelf.

        Args:
            solutions: packed, by section.
        """


_shelves: list[Shelf] = []


def at_hand() -> Shelf | None:
    """The shelf that is in use, if one is.

    Returns:
        The shelf, or None.
    """
    return _shelves[-1] if _shelves else None


@contextmanager
def shelved(shelf: Shelf) -> Iterator[None]:
    """Within this context, solutions are taken from the shelf, and new ones are put there.

    Args:
        shelf: where solutions are kept.

    Returns:
        A context without a value.
    """
    _shelves.append(shelf)
    try:
        yield
    finally:
        _shelves.remove(shelf)
