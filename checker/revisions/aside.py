"""Keeps the results of very many designs: few in memory, the others in a file until they are
needed.

A report's findings are columns of all designs that were judged together, so these are put aside
together, with what the designs state. Whoever goes through them in the order in which they were
judged reads each part of the file once.
"""

from __future__ import annotations

import pickle
from collections.abc import Sequence
from functools import partial
from tempfile import gettempdir
from typing import NamedTuple

from checker.outcome.batches import Computed, OfDesign
from checker.outcome.results import Measure, Pattern, Result
from checker.revisions.contents import Content
from checker.run import batch
from checker.run.outputs import Pieces
from checker.run.writer import STANDARD_OUTPUT, unwritable

IN_HAND = 600
"""Designs in memory, of some 0.16 MB each."""
IN_HAND_AGAIN = 200
"""The same once some had to be read back: two in sequence are usually of one part."""
FEW = 20
"""Of up to so many designs that were judged together computed values are kept, which take a tenth
more: to judge few again would take as long as it took at first.
"""


class Together(NamedTuple):
    """Designs that were judged together: the bytes of each, what it states, what was found."""

    data: Sequence[bytes]
    contents: Sequence[Content]
    found: Sequence[OfDesign]


class Aside:
    """Designs by the number of those that were judged together, and their place among these."""

    def __init__(self) -> None:
        self._judged: list[tuple[list[str], batch.Plan]] = []
        self._in_hand: dict[int, Together] = {}
        self._most = IN_HAND
        self._pieces = Pieces(STANDARD_OUTPUT)
        self._piece_of: dict[int, int] = {}

    def put(self, some: Together, paths: list[str], plan: batch.Plan) -> int:
        """Keep designs that were judged together; their tables are dropped.

        Args:
            some: the designs.
            paths: the path of each, in the same order.
            plan: how they were judged, to compute their values again on demand.

        Returns:
            The number by which `of` gives them back.

        Raises:
            Unwritable: there is no room for the file.
        """
        number = len(self._judged)
        self._judged.append((paths, plan))
        self._take(number, some)
        return number

    def of(self, number: int) -> Together:
        """Designs that were judged together, read back from the file where they are not in memory.

        Args:
            number: their number, from `put`.

        Returns:
            The designs in the order in which they were put.

        Raises:
            Unwritable: the file cannot be read, or has no room for what gives way to them.
        """
        if number in self._in_hand:
            self._in_hand[number] = self._in_hand.pop(number)
            return self._in_hand[number]
        try:
            some: Together = pickle.loads(self._pieces[self._piece_of[number]])
        except OSError as error:
            raise unwritable(gettempdir(), error) from None
        self._most = min(IN_HAND, IN_HAND_AGAIN)
        self._take(number, some)
        return some

    def _take(self, number: int, some: Together) -> None:
        let_go(some, *self._judged[number])
        self._in_hand[number] = some
        while len(self._in_hand) > 1 and self._designs() > self._most:
            oldest = next(iter(self._in_hand))
            self._put_away(oldest, self._in_hand.pop(oldest))

    def _designs(self) -> int:
        return sum(len(one.data) for one in self._in_hand.values())

    def _put_away(self, number: int, some: Together) -> None:
        if number in self._piece_of:
            return
        some.found[0].batch.release(_nothing)
        self._piece_of[number] = len(self._pieces)
        try:
            self._pieces.add(pickle.dumps(some, pickle.HIGHEST_PROTOCOL))
        except OSError as error:
            raise unwritable(gettempdir(), error) from None


class FoundAside:
    """The results of one design that may be in the file."""

    def __init__(self, aside: Aside, number: int, place: int) -> None:
        self._aside, self._number, self._place = aside, number, place

    @property
    def _own(self) -> OfDesign:
        return self._aside.of(self._number).found[self._place]

    @property
    def patterns(self) -> list[Pattern]:
        """What each result counts as."""
        return self._own.patterns

    def result(self, place: int) -> Result:
        """One result.

        Args:
            place: its place in `patterns`.

        Returns:
            The result as a report tells it.
        """
        return self._own.result(place)

    def subject(self, place: int) -> str:
        """What one result is about.

        Args:
            place: its place in `patterns`.

        Returns:
            The record with its section, such as `loops.L2`.
        """
        return self._own.subject(place)

    def computed(self, *, shown: bool = True) -> dict[str, dict[str, Measure]]:
        """The computed values of the design, computed again where they were dropped.

        Args:
            shown: whether those that every report shows are meant, or the further ones.

        Returns:
            For each subject its values by name.
        """
        return self._own.computed(shown=shown)


def let_go(some: Together, paths: Sequence[str], plan: batch.Plan) -> None:
    """Drop the tables of these designs, which take half the memory. Computed values, which only a
    comparison of two revisions needs, are taken first where the designs are few, and are computed
    again on demand where they are many.
    """
    own = some.found[0].batch
    if len(paths) <= FEW:
        _ = own.computed
    files = [*zip(paths, some.data, strict=True)]
    own.release(partial(_computed_again, files, plan))


def _computed_again(
    files: list[tuple[str, bytes]], plan: batch.Plan, shown: bool
) -> list[Computed]:
    own = batch.check(files, plan)[0][0].found
    assert isinstance(own, OfDesign)
    return own.batch.computed if shown else own.batch.further


def _nothing(shown: bool) -> list[Computed]:
    """Replaces computed values where results are in the file."""
    return []
