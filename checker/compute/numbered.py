"""Objects by number, so that a column can hold them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from checker.physics.carried import Carried
    from checker.physics.mixed_section import Solved


class Numbered:
    """The objects of one run, each with a number; equal objects have the same.

    Attributes:
        carried: where sections get their numbers instead, in a run of very many draws; else None.
        solved: floors in section by their number, as far as they are solved.
    """

    def __init__(self, carried: Carried | None = None) -> None:
        """Begin without any object.

        Args:
            carried: where sections get their numbers instead, in a run of very many draws.
        """
        self.carried = carried
        self.solved: dict[float, Solved] = {}
        self._numbers: dict[object, int] = {}
        self._things: list[object] = []

    def number(self, thing: object) -> float:
        """The number of an object, given out when it is first asked for.

        Args:
            thing: hashable; not to be changed afterwards.

        Returns:
            A whole number from 0, as a float because columns have floats.
        """
        found = self._numbers.setdefault(thing, len(self._things))
        if found == len(self._things):
            self._things.append(thing)
        return float(found)

    def thing(self, number: float) -> object:
        """The object of a number.

        Args:
            number: one that `number` returned.

        Returns:
            The first of the equal objects that have it.
        """
        return self._things[int(number)]
