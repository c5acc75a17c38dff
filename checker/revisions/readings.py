"""How a change from one revision to the next is read, and what could be read otherwise."""

from __future__ import annotations

from typing import NamedTuple

from checker.revisions.contents import Key


class Joined(NamedTuple):
    """Records of which one became several, or several one."""

    before: tuple[Key, ...]
    after: tuple[Key, ...]


class Reading(NamedTuple):
    """A way to read a change: what goes with what; None for what is gone, or new."""

    pairs: tuple[tuple[Key | None, Key | None], ...]


class Doubt(NamedTuple):
    """A change that can be read in two ways; the first is the likelier by a little."""

    likely: Reading
    other: Reading

    @property
    def before(self) -> list[Key]:
        """The records of the old revision that it is about."""
        return [*dict.fromkeys(was for was, _ in self.likely.pairs if was is not None)]

    @property
    def after(self) -> list[Key]:
        """The records of the new revision that it is about."""
        return [*dict.fromkeys(now for _, now in self.likely.pairs if now is not None)]


class Matching(NamedTuple):
    """Which records are which.

    names: for each old record its new self, where it has one (of several the first); joined: what
    was split or merged, its pair in `names` included; doubts: pairs that could be others.
    """

    names: dict[Key, Key]
    joined: tuple[Joined, ...] = ()
    doubts: tuple[Doubt, ...] = ()


def unclear(forward: bool, whole: Key, rival: Key, parts: tuple[Key, ...]) -> Doubt:
    """Parts of one of two wholes, read either way."""
    rest = parts[1:]
    ways: list[list[tuple[Key | None, Key | None]]] = [
        [(one, parts[0]), *((None, part) for part in rest), (other, None)]
        for one, other in ((whole, rival), (rival, whole))
    ]
    if not forward:
        ways = [[(now, was) for was, now in way] for way in ways]
    return Doubt(Reading(tuple(ways[0])), Reading(tuple(ways[1])))


def either(forward: bool, whole: Key, parts: tuple[Key, ...], others: tuple[Key, ...]) -> Doubt:
    """A whole of which these or those are the parts."""
    every = dict.fromkeys((*parts, *others))
    ways: list[list[tuple[Key | None, Key | None]]] = [
        [(whole if part in own else None, part) for part in every] for own in (parts, others)
    ]
    if not forward:
        ways = [[(now, was) for was, now in way] for way in ways]
    return Doubt(Reading(tuple(ways[0])), Reading(tuple(ways[1])))
