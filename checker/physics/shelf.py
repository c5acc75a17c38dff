"""Where solved sections stand between runs; who puts one up says where that is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from checker.physics.build_up import Section


class Shelf(Protocol):
    """Solutions by their section, packed."""

    def take(self, sections: Sequence[Section]) -> Mapping[Section, bytes]:
        """Those of these sections that stand there."""

    def keep(self, solutions: Mapping[Section, bytes]) -> None:
        """Put these there."""


_shelves: list[Shelf] = []


def at_hand() -> Shelf | None:
    """The shelf that was put up last, if one is up."""
    return _shelves[-1] if _shelves else None


@contextmanager
def shelved(shelf: Shelf) -> Iterator[None]:
    """Meanwhile what stands on the shelf is not solved, and what is solved is put there."""
    _shelves.append(shelf)
    try:
        yield
    finally:
        _shelves.remove(shelf)
