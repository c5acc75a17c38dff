"""Finds the loops of an assignment that could be matched otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from checker.arrays import Index
from checker.revisions.contents import Key
from checker.revisions.evidence import EQUAL, Floats
from checker.revisions.readings import Doubt, Reading
from checker.revisions.sides import Side

DOUBT = 2.5
"""Another reading is reported where it is less likely by less than this (natural logarithm of the
odds).
"""

SIZES = ("area", "length", "feeds")


class Doubting:
    """Loops of two revisions, the evidence for each pair, and the pairs that were made.

    like: whether two loops are in one room and heat the same area.
    """

    def __init__(
        self,
        old: Side,
        new: Side,
        was: list[Key],
        now: list[Key],
        gain: Floats,
        names: dict[Key, Key],
        like: Callable[[Key, Key], bool],
    ) -> None:
        self.old, self.new, self.was, self.now = old, new, was, now
        self.gain, self.names, self.like = gain, names, like

    def doubts(self) -> Iterator[Doubt]:
        """Pairs of loops that another reading, nearly as likely, would separate."""
        was, now = self.was, self.now
        column = {key: number for number, key in enumerate(now)}
        partner = [column[self.names[key]] if key in self.names else -1 for key in was]
        row_of = np.full(len(now), -1)
        for row, there in enumerate(partner):
            if there >= 0:
                row_of[there] = row
        doubted: set[frozenset[int]] = set()
        for row, there in enumerate(partner):
            doubt = (
                self._for_gone(row_of, row)
                if there < 0
                else self._for_pair((np.array(partner), row_of), row, doubted)
            )
            if doubt is not None:
                yield doubt

    def _for_gone(self, row_of: Index, row: int) -> Doubt | None:
        """A doubt where a loop that seems gone may be one that seems new."""
        was, now, gain = self.was, self.now, self.gain
        free = np.where(row_of < 0, gain[row], -np.inf)
        best = int(free.argmax())
        if free[best] <= -DOUBT / 2:
            left = np.flatnonzero(row_of < 0).tolist()
            there = [n for n in left if self.like(was[row], now[n])]
            there = there or [n for n in left if self._called_alike(was[row], now[n])]
            if not there:
                return None
            best = there[0]
        one, other = was[row], now[best]
        return Doubt(Reading(((one, None), (None, other))), Reading(((one, other),)))

    def _for_pair(
        self, pairs: tuple[Index, Index], row: int, doubted: set[frozenset[int]]
    ) -> Doubt | None:
        """A doubt where a pair may be another: partners exchanged, a loop that is gone, or none.

        Args:
            pairs: the column of each row, and the row of each column, -1 for none.
            row: the row of the old loop.
            doubted: pairs of rows that already have a doubt; new ones are added.

        Returns:
            None where no other reading is nearly as likely.
        """
        was, now, gain = self.was, self.now, self.gain
        partner, row_of = pairs
        mine = int(partner[row])
        own = float(gain[row, mine])
        paired = row_of >= 0
        back = np.where(paired, np.maximum(gain[row_of, mine], 0.0), 0.0)
        theirs = np.where(paired, gain[row_of, np.arange(len(now))], 0.0)
        loss = own + theirs - gain[row] - back
        loss[mine] = np.inf
        from_gone = np.where(partner < 0, own - gain[:, mine], np.inf)
        there, gone = int(loss.argmin()), int(from_gone.argmin())
        pair = was[row], now[mine]
        if loss[there] < min(DOUBT, float(from_gone[gone])):
            other = int(row_of[there])
            rows = frozenset((row, other))
            if (other >= 0 and rows in doubted) or self._same_now(now[there], pair[1]):
                return None
            if other < 0:
                instead = (was[row], now[there]), (None, pair[1])
                return Doubt(Reading((pair, (None, now[there]))), Reading(instead))
            doubted.add(rows)
            if self._same(was[row], was[other]):
                return None
            rest: tuple[tuple[Key | None, Key | None], ...] = ((was[other], pair[1]),)
            if gain[other, mine] <= 0:
                rest = (was[other], None), (None, pair[1])
            likely = Reading((pair, (was[other], now[there])))
            return Doubt(likely, Reading(((was[row], now[there]), *rest)))
        if from_gone[gone] < DOUBT:
            if self._same(was[row], was[gone]):
                return None
            likely = Reading((pair, (was[gone], None)))
            return Doubt(likely, Reading(((was[gone], pair[1]), (was[row], None))))
        if not self._sized_alike(*pair):
            # A neighbour that is gone may have been changed into it as well.
            for other in np.flatnonzero(partner < 0).tolist():
                if self.like(was[other], pair[1]) and self.like(*pair):
                    likely = Reading((pair, (was[other], None)))
                    return Doubt(likely, Reading(((was[other], pair[1]), (was[row], None))))
        rival = self._left_behind(row, pairs)
        if rival is not None:
            other = int(row_of[rival])
            rows = frozenset((row, other))
            if rows in doubted:
                return None
            doubted.add(rows)
            ways: list[tuple[tuple[Key | None, Key | None], ...]] = [
                (pair, (was[other] if other >= 0 else None, now[rival])),
                ((was[row], now[rival]), (was[other] if other >= 0 else None, pair[1])),
            ]
            return Doubt(Reading(ways[0]), Reading(ways[1]))
        if own < DOUBT or self._nothing_kept(*pair):
            return Doubt(Reading((pair,)), Reading(((pair[0], None), (None, pair[1]))))
        return None

    def _left_behind(self, row: int, pairs: tuple[Index, Index]) -> int | None:
        """The loop that is everything that another was, in its room, where that one seems to have
        moved.

        It may have moved, or it may have stayed where it was and been given another port and name.
        """
        partner, row_of = pairs
        was, mine = self.was[row], self.now[int(partner[row])]
        if self._stayed(was, mine):
            return None
        sizes = self.old.loops[was].sizes
        for there, key in enumerate(self.now):
            if self.new.loops[key].sizes != sizes or not self._stayed(was, key):
                continue
            other = int(row_of[there])
            if other < 0 or not self._stayed(self.was[other], key):
                return there
        return None

    def _stayed(self, was: Key, now: Key) -> bool:
        """Whether a loop's room has the name that it had, whatever the rooms are matched with."""
        rooms = self.old.loops[was].refers.get("rooms")
        return rooms is not None and rooms == self.new.loops[now].refers.get("rooms")

    def _nothing_kept(self, was: Key, now: Key) -> bool:
        """Whether a loop has another id and other sizes, so that it may be gone and this one
        new.
        """
        if was == now:
            return False
        old, new = self.old.loops[was].sizes, self.new.loops[now].sizes
        known = [(old[one], new[one]) for one in SIZES if one in old and one in new]
        return len(known) == len(SIZES) and all(
            abs(before - after) > EQUAL * max(before, after) for before, after in known
        )

    def _called_alike(self, was: Key, now: Key) -> bool:
        """Whether a loop has the same id and area, which counts where its room does not decide."""
        old, new = self.old.loops[was].sizes.get("area"), self.new.loops[now].sizes.get("area")
        return was == now and old is not None and old == new

    def _sized_alike(self, was: Key, now: Key) -> bool:
        old, new = self.old.loops[was], self.new.loops[now]
        return all(old.sizes.get(one) == new.sizes.get(one) for one in ("length", "feeds"))

    def _same(self, one: Key, other: Key) -> bool:
        return self.old.loops[one].itself == self.old.loops[other].itself

    def _same_now(self, one: Key, other: Key) -> bool:
        return self.new.loops[one].itself == self.new.loops[other].itself
