"""Where floors that were solved in section are kept from one run to the next.

Solving a section takes long, so `section` looks for its solution here first. This is the interface
alone: whoever runs a check says where solutions are kept (`shelved`), and without that they are
not.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from checker.physics.build_up import Section


class Shelf(Protocol):
    """Keeps solutions by their section, each packed into bytes (`section.Solution.packed`)."""

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
"""Those in use: contexts may be within one another, and the innermost counts."""


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
