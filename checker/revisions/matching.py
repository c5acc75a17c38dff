"""Finds which record of a revision is which record of the revision before.

A loop is recognised by what it is: its room, its area, its length, its spacing, its connection. Its
id is one vote among these, and the fewer ids seem to have been kept, the less it counts. Each value
that two records share speaks for them by how rarely it is shared by chance, and each that differs
against them by how rarely it changes (I. P. Fellegi and A. B. Sunter, Journal of the American
Statistical Association 64 (1969) 1183, from memory). Pairs are then made by one assignment for each
kind of record, repeated until they agree: rooms by what they are and by their loops, loops by what
they are and by their rooms, headers, floors and pipes.

Records without a partner are gone, or new; where areas add up, one was split or several were
merged. Where another reading is nearly as likely, that is reported and not decided.

How often values change from one revision to the next (`KEPT` and the constants after it) is not
published: common practice, no source, checked by tests on revisions of which the truth is known.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from checker.intake.fields import collections, value_of
from checker.revisions.adding_up import adding_up, apart, area, less
from checker.revisions.assignment import assigned
from checker.revisions.contents import Content, Key, leaf_of
from checker.revisions.doubting import Doubting
from checker.revisions.evidence import Floats, agreeing, id_vote, sizes_evidence, words_evidence
from checker.revisions.readings import Doubt, Joined, Matching, either, unclear
from checker.revisions.sides import REFERRED_TO, SECTIONS, Loop, Side

ROUNDS = 8
"""At most this many rounds of assignment; then the result counts as it is."""
LEAST = 1.0
"""A pair counts only where the evidence for it is at least this (natural logarithm of the odds)."""
MOST_NEAR = 16
"""Splits are looked for only among at most this many records."""
CLEAR = 0.6
"""A whole must resemble its parts by this much more than any other, and they it."""
WHOLE = 4.0
"""Additional evidence of two loops that agree in everything: what changes seldom, changes even more
seldom into exactly the values of a neighbour.
"""
NAME = 4.0
"""The most that an equal name of a room, header or floor may count, because such names have a
meaning.
"""
KEPT = 0.85
"""The share of values that are kept, for kinds of values that are not listed below."""


def matching(old: Content, new: Content) -> Matching:
    """Match the records of two revisions of a design.

    Args:
        old: the values of the earlier revision.
        new: the values of the later one.

    Returns:
        Which record is which, what was split or merged, and what could be read in two ways.
    """
    return _Matcher(old, new).matched()


class _Matcher:
    """Assigns the records of each section in turn until nothing changes any more."""

    def __init__(self, old: Content, new: Content) -> None:
        self.old, self.new = Side(old), Side(new)
        self.names: dict[Key, Key] = {}
        self.rooms: list[Joined] = []
        self.unclear: list[tuple[bool, Key, Key, tuple[Key, ...]]] = []
        """What could be split or merged in two ways: whether split, two wholes, the parts."""
        self.either: list[Doubt] = []
        """Wholes of which the parts could be others."""
        self.still = self._unchanged()
        self.kept_ids, self.kept_ports = 0.5, 0.5

    def matched(self) -> Matching:
        """The final result."""
        self.names = {key: key for key in self.still}
        for _ in range(ROUNDS):
            before = dict(self.names)
            for section in (*REFERRED_TO, "loops"):
                self._assign(section)
            self.rooms = [*self._split("rooms"), *self._merged("rooms")]
            self._learn()
            if before == self.names:
                break
        self._assign("pressure_tests")
        doubts = [*self._doubts()]
        self.unclear = []
        joined = [*self.rooms, *self._split("loops"), *self._merged("loops")]
        doubts += self.either
        for forward, whole, rival, parts in self.unclear:
            doubts.append(unclear(forward, whole, rival, parts))
        inside = [_on_sides(one) for one in joined]
        doubts = [one for one in doubts if not any(_on_sides(one) <= i for i in inside)]
        doubtful = {key for one in doubts for key in _on_sides(one)}
        joined = [j for j, i in zip(joined, inside, strict=True) if not doubtful & i]
        for one in joined:
            # Whoever asks for one record gets the first of several.
            if len(one.before) == 1:
                self.names.setdefault(one.before[0], one.after[0])
            elif one.after[0] not in set(self.names.values()):
                self.names[one.before[0]] = one.after[0]
        self._follow()
        return Matching(
            dict(sorted(self.names.items(), key=self._place)), tuple(joined), tuple(doubts)
        )

    def _place(self, pair: tuple[Key, Key]) -> int:
        return self._order[pair[0]]

    @property
    def _order(self) -> dict[Key, int]:
        return {key: number for number, key in enumerate(self.old.content)}

    def _follow(self) -> None:
        """Match what has no identity of its own: the design, and records that have a loop's id."""
        own = collections()
        for key in self.old.content:
            section, name = key
            if section in SECTIONS:
                continue
            taken_from = own.get(section)
            bearer = self.names.get((taken_from, name)) if taken_from else (section, name)
            if bearer and (section, bearer[1]) in self.new.content:
                self.names[key] = (section, bearer[1])

    def _unchanged(self) -> set[Key]:
        """Rooms whose loops are all unchanged, and these loops: they cannot be read otherwise."""
        old, new = self.old, self.new
        same = {key for key, values in old.content.items() if new.content.get(key) == values}
        rooms = {
            room
            for room in old.keys["rooms"]
            if room in same and old.on[room] == new.on[room] and same.issuperset(old.on[room])
        }
        loops = {
            key
            for key, loop in old.loops.items()
            if key in same and (own := loop.refers.get("rooms"))
            and all(("rooms", name) in rooms for name in own)
        }  # fmt: skip
        # A room goes only with all its loops, of which one may lie in another room too.
        return {room for room in rooms if loops.issuperset(old.on[room])} & same | {
            key for key in loops if all(
                loops.issuperset(old.on["rooms", name]) for name in old.loops[key].refers["rooms"]
            )
        }  # fmt: skip

    def _learn(self) -> None:
        """Estimate how many loops kept their ids and ports, from those that are matched now."""
        pairs = [(was, now) for was, now in self.names.items() if was[0] == "loops"]
        ids = sum(was == now for was, now in pairs)
        port = [
            (a, b)
            for was, now in pairs
            if (a := self.old.loops[was].words.get("port")) is not None
            and (b := self.new.loops[now].words.get("port")) is not None
            and self._same_header(was, now)
        ]
        self.kept_ids = (ids + 1) / (len(pairs) + 2)
        self.kept_ports = (sum(a == b for a, b in port) + 1) / (len(port) + 2)

    def _same_header(self, was: Key, now: Key) -> bool:
        """Whether two loops are on headers that are one, whatever they are called."""
        before = self.old.loops[was].refers.get("headers")
        return self._renamed("headers", before) == self.new.loops[now].refers.get("headers")

    # Assignment.

    def _assign(self, section: str) -> None:
        """Pair the records of a section again, by what is known of the others now."""
        was, now = self._free(section)
        for key in was:
            self.names.pop(key, None)
        if not was or not now:
            return
        found = assigned(self._gain(section, was, now))
        self.names.update((was[i], now[j]) for i, j in enumerate(found) if j >= 0)

    def _free(self, section: str) -> tuple[list[Key], list[Key]]:
        """The old and the new records of a section that could be paired in several ways."""
        was = [key for key in self.old.keys[section] if key not in self.still]
        return was, [key for key in self.new.keys[section] if key not in self.still]

    def _gain(self, section: str, was: list[Key], now: list[Key]) -> Floats:
        """The evidence for each pair, above the least that it needs."""
        evidence = (
            self._for_loops(was, now)
            if section == "loops"
            else self._for_records(section, was, now)
        )
        gain = np.full((len(was), len(now)), -LEAST, np.float32)
        for one in evidence:
            gain += one
        # Of two that are alike in everything the first goes with the first.
        for row, place in enumerate(np.linspace(0, 1, len(was))):
            gain[row] -= 1e-4 * np.abs(place - np.linspace(0, 1, len(now)))
        return gain

    def _for_loops(self, was: list[Key], now: list[Key]) -> Iterator[Floats]:
        """Evidence from ids, from what loops refer to, from their ports, sizes and words."""
        old = [self.old.loops[key] for key in was]
        new = [self.new.loops[key] for key in now]
        yield id_vote(was, now, self.kept_ids)
        for section, kept in (("rooms", 0.96), ("floors", 0.95), ("pipes", 0.9)):
            before = [self._renamed(section, loop.refers.get(section)) for loop in old]
            after = [self._rooms_now(section, loop.refers.get(section)) for loop in new]
            yield words_evidence(before, after, kept)
        before = [self._renamed("headers", loop.refers.get("headers")) for loop in old]
        after = [loop.refers.get("headers") for loop in new]
        yield words_evidence(before, after, 0.9)
        ports = [None if (p := one.words.get("port")) is None or h is None else (h, p)
                 for one, h in zip(old, before, strict=True)]  # fmt: skip
        ports_now = [None if (p := one.words.get("port")) is None or h is None else (h, p)
                     for one, h in zip(new, after, strict=True)]  # fmt: skip
        if any(ports) and any(ports_now):
            yield np.maximum(words_evidence(ports, ports_now, self.kept_ports), -1.0)
        for field, kept, near in (
            ("area", 0.88, 0.09),
            ("length", 0.75, 0.17),
            ("feeds", 0.7, 0.2),
        ):
            yield sizes_evidence(
                [loop.sizes.get(field) for loop in old], [loop.sizes.get(field) for loop in new],
                kept, near,
            )  # fmt: skip
        yield self._wholly(old, new)
        for field, kept in (("spacing", 0.85), ("pattern", 0.9), ("zone", 0.9)):
            yield words_evidence(
                [loop.words.get(field) for loop in old],
                [loop.words.get(field) for loop in new], kept,
            )  # fmt: skip

    def _wholly(self, old: list[Loop], new: list[Loop]) -> Floats:
        """The evidence of loops in one room that agree in every size."""
        sizes = ("area", "length", "feeds")

        def likeness_key(loop: Loop, rooms: frozenset[str] | None) -> object:
            values = tuple(loop.sizes.get(one) for one in sizes)
            return None if None in values or rooms is None else (rooms, values)

        before = [likeness_key(one, self._renamed("rooms", one.refers.get("rooms"))) for one in old]
        after = [
            likeness_key(one, self._rooms_now("rooms", one.refers.get("rooms"))) for one in new
        ]
        return WHOLE * agreeing(before, after)

    def _for_records(self, section: str, was: list[Key], now: list[Key]) -> Iterator[Floats]:
        """Evidence from the name, from each value, and from the loops on the records."""
        yield id_vote(was, now, 0.9, most=NAME)
        old = [self.old.content[key] for key in was]
        new = [self.new.content[key] for key in now]
        for field in dict.fromkeys(field for values in (*old, *new) for field in values):
            leaf = leaf_of(section, field)
            before, after = ([values.get(field) for values in side] for side in (old, new))
            if leaf is not None and leaf.kind == "quantity":
                sizes, sizes_now = (
                    [None if text is None else value_of(leaf, text) for text in texts]
                    for texts in (before, after)
                )
                kept, near = (0.85, 0.1) if field == "area" else (0.7, 0.2)
                yield sizes_evidence(sizes, sizes_now, kept, near)
            elif leaf is not None and leaf.kind == "reference":
                named = [
                    None if text is None else self._renamed(leaf.refers_to, frozenset((text,)))
                    for text in before
                ]
                sets = [None if text is None else frozenset((text,)) for text in after]
                yield words_evidence(named, sets, KEPT)
            else:
                yield words_evidence(before, after, KEPT)
        if section in REFERRED_TO:
            yield self._votes(was, now)

    def _votes(self, was: list[Key], now: list[Key]) -> Floats:
        """Evidence from the loops on two records: how many moved from the one to the other."""
        place = {key: number for number, key in enumerate(now)}
        votes = np.zeros((len(was), len(now)), np.float32)
        for number, key in enumerate(was):
            for loop in self.old.on[key]:
                after = self.names.get(loop)
                if after is None:
                    continue
                for name in self.new.loops[after].refers.get(key[0], ()):
                    if (there := place.get((key[0], name))) is not None:
                        votes[number, there] += 1
        if not votes.any():
            return votes
        most = np.maximum(votes.sum(axis=1)[:, None], votes.sum(axis=0)[None, :])
        share = np.divide(votes, most, out=np.zeros_like(votes), where=most > 0)
        return np.where(most > 0, 6.0 * share - 1.5, 0.0)

    def _renamed(self, section: str, names: frozenset[str] | None) -> frozenset[str] | None:
        """Old names as the records are called now; a record without a partner is like no other."""
        if names is None:
            return None
        found = set()
        for name in names:
            now = self.names.get((section, name))
            found.add(now[1] if now else f"\0{name}")
        return self._rooms_now(section, frozenset(found), old=names)

    def _rooms_now(
        self, section: str, names: frozenset[str] | None, old: frozenset[str] = frozenset()
    ) -> frozenset[str] | None:
        """The same for rooms; those that were split or merged count as one."""
        if names is None or section != "rooms" or not self.rooms:
            return names
        found = set(names)
        for one in self.rooms:
            after = {key[1] for key in one.after}
            before = {f"\0{key[1]}" for key in one.before}
            if found & after or old & {key[1] for key in one.before}:
                found = (found - after - before) | {one.after[0][1]}
        return frozenset(found)

    # One that became several, several that became one.

    def _split(self, section: str) -> list[Joined]:
        """Old records that became several."""
        found = self._parts(section, self.old, self.new, dict(self.names))
        return [Joined((whole,), parts) for whole, parts in found]

    def _merged(self, section: str) -> list[Joined]:
        """New records that several became."""
        back = {now: was for was, now in self.names.items()}
        found = self._parts(section, self.new, self.old, back)
        return [Joined(parts, (whole,)) for whole, parts in found]

    def _parts(
        self, section: str, wholes: Side, parts: Side, names: dict[Key, Key]
    ) -> list[tuple[Key, tuple[Key, ...]]]:
        """Records whose area is that of several on the other side that have no other partner."""
        taken = set(names.values())
        left = [key for key in parts.keys[section] if key not in taken]
        possible: list[tuple[int, float, int, Key, tuple[Key, ...]]] = []
        for whole in wholes.keys[section] if left else ():
            whole_area, partner = area(wholes, whole), names.get(whole)
            if whole in self.still or whole_area is None:
                continue
            if partner and not less(area(parts, partner), whole_area):
                continue
            near = [
                key
                for key in left
                if less(area(parts, key), whole_area)
                and self._in_place(section, wholes, whole, parts, key)
            ]
            first = () if partner is None else (partner,)
            for several in adding_up(first, near[:MOST_NEAR], whole_area, parts):
                unlike = apart(wholes, whole, parts, several)
                possible.append((len(several), unlike, len(possible), whole, several))
        found: list[tuple[Key, tuple[Key, ...]]] = []
        settled: set[Key] = set()
        used: set[Key] = set()
        for _, unlike, _, whole, several in sorted(possible):
            if whole in settled or used.intersection(several):
                continue
            rivals = [
                one for one in possible
                if one[3] != whole and one[1] < unlike + CLEAR and one[3] not in settled
                and len(one[4]) == len(several) and set(one[4]) & set(several)
            ]  # fmt: skip
            instead = [
                one[4] for one in possible
                if one[3] == whole and one[4] != several and one[1] < unlike + CLEAR
                and len(one[4]) == len(several) and not used.intersection(one[4])
                and not self._equals(parts, one[4], several)
            ]  # fmt: skip
            settled.add(whole)
            used.update(several)
            if rivals:
                self.unclear.append((wholes is self.old, whole, rivals[0][3], several))
                settled.add(rivals[0][3])
            elif instead and section == "loops":
                self.either.append(either(wholes is self.old, whole, several, instead[0]))
            else:
                found.append((whole, several))
        return found

    def _equals(self, side: Side, some: tuple[Key, ...], others: tuple[Key, ...]) -> bool:
        """Whether loops are identical, so that it does not matter which of them is meant."""
        if some[0][0] != "loops":
            return False
        one, other = (sorted(repr(side.loops[key].itself) for key in own) for own in (some, others))
        return one == other

    def _in_place(self, section: str, wholes: Side, whole: Key, parts: Side, part: Key) -> bool:
        """Whether a part is where its whole is: loops in one room, rooms with the same loops."""
        forward = wholes is self.old
        if section == "rooms":
            loops = {(self.names.get(k) if forward else k) for k in wholes.on[whole]}
            others = {(k if forward else self.names.get(k)) for k in parts.on[part]}
            return bool((loops & others) - {None})
        old, new = (whole, part) if forward else (part, whole)
        before = self._renamed("rooms", self.old.loops[old].refers.get("rooms"))
        after = self._rooms_now("rooms", self.new.loops[new].refers.get("rooms"))
        return before is not None and after is not None and bool(before & after)

    def _doubts(self) -> Iterator[Doubt]:
        """Pairs of loops that another reading, nearly as likely, would separate."""
        was, now = self._free("loops")
        if was and now:
            gain = self._gain("loops", was, now)
            yield from Doubting(self.old, self.new, was, now, gain, self.names, self._like).doubts()

    def _like(self, was: Key, now: Key) -> bool:
        """Whether two loops are in one room and heat the same area, so that they may be one."""
        old, new = area(self.old, was), area(self.new, now)
        return (
            old is not None and old == new and self._in_place("loops", self.old, was, self.new, now)
        )


def _on_sides(one: Joined | Doubt) -> set[tuple[bool, Key]]:
    """The records that it is about, each with whether it is a new one; ids may occur on both
    sides.
    """
    return {(False, key) for key in one.before} | {(True, key) for key in one.after}
