"""How a change from one revision to the next is read, and what could be read otherwise."""

from __future__ import annotations

from typing import NamedTuple

from checker.revisions.contents import Key


class Joined(NamedTuple):
    """Records of which one was split into several, or several were merged into one."""

    before: tuple[Key, ...]
    after: tuple[Key, ...]


class Reading(NamedTuple):
    """One way to read a change: which records belong together; None for one that is gone, or
    new.
    """

    pairs: tuple[tuple[Key | None, Key | None], ...]


class Doubt(NamedTuple):
    """A change that can be read in two ways; the first is slightly more likely."""

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

    names: for each old record its new one, where there is one (the first of several); joined: what
    was split or merged, its pairs in `names` included; doubts: pairs that could be others.
    """

    names: dict[Key, Key]
    joined: tuple[Joined, ...] = ()
    doubts: tuple[Doubt, ...] = ()


def unclear(forward: bool, whole: Key, rival: Key, parts: tuple[Key, ...]) -> Doubt:
    """A doubt about parts that may belong to either of two wholes.

    Args:
        forward: whether the wholes are in the old revision.
        whole: the likelier whole.
        rival: the other.
        parts: the parts; only the first is paired with a whole.

    Returns:
        The doubt; in each reading one whole has the first part, and the other none.
    """
    rest = parts[1:]
    ways: list[list[tuple[Key | None, Key | None]]] = [
        [(one, parts[0]), *((None, part) for part in rest), (other, None)]
        for one, other in ((whole, rival), (rival, whole))
    ]
    if not forward:
        ways = [[(now, was) for was, now in way] for way in ways]
    return Doubt(Reading(tuple(ways[0])), Reading(tuple(ways[1])))


def either(forward: bool, whole: Key, parts: tuple[Key, ...], others: tuple[Key, ...]) -> Doubt:
    """A doubt about which of two groups of records are the parts of a whole.

    Args:
        forward: whether the whole is in the old revision.
        whole: the whole.
        parts: the likelier parts.
        others: the other group, which may share records with the first.

    Returns:
        The doubt; in each reading the whole is paired with all records of one group.
    """
    every = dict.fromkeys((*parts, *others))
    ways: list[list[tuple[Key | None, Key | None]]] = [
        [(whole if part in own else None, part) for part in every] for own in (parts, others)
    ]
    if not forward:
        ways = [[(now, was) for was, now in way] for way in ways]
    return Doubt(Reading(tuple(ways[0])), Reading(tuple(ways[1])))
