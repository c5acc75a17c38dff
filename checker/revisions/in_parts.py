"""Compares many designs with their earlier revisions, a few pairs at a time.

The names of all designs are read first. Then each part is judged, compared and put into a temporary
file until it is written, so that memory does not grow with the number of designs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from tempfile import gettempdir
from typing import Generic, TypeVar, overload

from msgspec import msgpack

from checker.reading.mistakes import Unreadable
from checker.revisions.comparing import matched_by_name, pairs, single
from checker.revisions.comparison import Comparison, Pair, Single
from checker.revisions.revision import Named, Revision
from checker.run import batch
from checker.run.outputs import Pieces
from checker.run.writer import STANDARD_OUTPUT, unwritable

AT_ONCE = 100
"""Pairs that are compared at once; each takes some 0.8 MB."""

Judged = Callable[[Sequence[str]], tuple[list[Revision], list[Unreadable]]]
"""A function that judges the designs with these paths."""

T = TypeVar("T")


class Spool(Sequence[T], Generic[T]):
    """Objects of one type in the order in which they were added; few in memory, many in a file.

    Unwritable is raised where there is no room for the file, at the latest on reading.
    """

    def __init__(self, of: type[T]) -> None:
        self._pieces = Pieces(STANDARD_OUTPUT)
        self._decoder = msgpack.Decoder(of)

    def add(self, one: T) -> None:
        """Add an object at the end.

        Args:
            one: the object, of which a copy is kept.

        Raises:
            Unwritable: there is no room for the file.
        """
        try:
            self._pieces.add(msgpack.encode(one))
        except OSError as error:
            raise unwritable(gettempdir(), error) from None

    def __len__(self) -> int:
        return len(self._pieces)

    @overload
    def __getitem__(self, place: int) -> T: ...
    @overload
    def __getitem__(self, place: slice) -> list[T]: ...
    def __getitem__(self, place: int | slice) -> T | list[T]:
        if isinstance(place, slice):
            return [self[own] for own in range(*place.indices(len(self)))]
        try:
            piece = self._pieces[range(len(self))[place]]
        except OSError as error:  # what was added is written at the latest when it is read
            raise unwritable(gettempdir(), error) from None
        return self._decoder.decode(piece)


def listed(
    files: Iterable[tuple[str, bytes]], plan: batch.Plan
) -> tuple[list[Named], list[Unreadable]]:
    """The designs of one side by name, read but not judged.

    Args:
        files: path and content of each.
        plan: how designs are read.

    Returns:
        The designs in the order of the files, and what cannot be read.

    Raises:
        BadRules: rules cannot be used.
    """
    found = batch.read(files, plan, with_given=False)
    return [Named(one.path, one.name) for one in found.tables.designs], found.unreadable


def compared(
    sides: tuple[Sequence[Named], Sequence[Named]],
    judged: tuple[Judged, Judged],
    unreadable: Iterable[Unreadable],
    plan: batch.Plan,
    move: Callable[[int], None] = lambda more: None,
) -> Comparison:
    """Compare the designs of two sides, a few pairs at a time.

    A design on which the program fails counts as missing.

    Args:
        sides: the designs of each side.
        judged: for each side a function that judges designs by their paths.
        unreadable: files that could not be read; they are listed in the result.
        plan: how designs are judged.
        move: called with the number of further designs that are done.

    Returns:
        The comparison; its pairs and designs are in a file, and read back each time they are gone
        through.

    Raises:
        BadRules: rules cannot be used.
        Unwritable: there is no room for the file.
    """
    matched = [*matched_by_name(*sides)]
    used = [{couple[side] for couple in matched} for side in (0, 1)]
    alone = [
        [number for number in range(len(own)) if number not in taken]
        for own, taken in zip(sides, used, strict=True)
    ]
    found, bad = Spool(Pair), [*unreadable]

    def take(side: int, numbers: Sequence[int]) -> dict[int, Revision]:
        """Those of these designs that can be judged."""
        revisions, problems = judged[side]([sides[side][number].path for number in numbers])
        bad.extend(problems)
        left: dict[str, list[Revision]] = {}
        for one in revisions:
            left.setdefault(one.report.path, []).append(one)
        move(len(numbers))
        # No two are shown alike as a rule; of those that are, each comes in its order.
        return {
            number: left[path].pop(0)
            for number, path in ((number, sides[side][number].path) for number in numbers)
            if left.get(path)
        }

    for start in range(0, len(matched), AT_ONCE):
        some = matched[start : start + AT_ONCE]
        old, new = (take(side, [couple[side] for couple in some]) for side in (0, 1))
        whole = [couple for couple in some if couple[0] in old and couple[1] in new]
        for one in pairs([(old[was], new[now]) for was, now in whole], plan):
            found.add(one)
        alone[0] += [was for was, now in some if was in old and now not in new]
        alone[1] += [now for was, now in some if now in new and was not in old]
    singles = [Spool(Single), Spool(Single)]
    for side in (0, 1):
        numbers = sorted(alone[side])
        for start in range(0, len(numbers), AT_ONCE):
            for revision in take(side, numbers[start : start + AT_ONCE]).values():
                singles[side].add(single(revision))
    return Comparison(found, singles[0], singles[1], tuple(bad))
