"""The sentences of a letter about places, ranges of places and data, with what they leave out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import count
from typing import Any

from checker.revisions.letters.wording import Words
from checker.revisions.reviewing import Accepted, Asked, Item, Section

RULES = 8
"""At most this many rules that need a datum are named."""


class Phrases:
    """The sentences of one letter.

    most: how many places of a point it names; whole: whether all were named so far.
    """

    def __init__(self, words: Words, most: int) -> None:
        self.words = words
        self.most = most
        self.whole = True
        self.free = count(1)
        """Numbers for points that have no permanent one."""

    def number(self, one: Section, kind: str, about: str) -> int:
        return one.numbers.get((kind, about)) or next(self.free)

    def told(self, item: Item, same: bool) -> str:
        """The line about one place; same: whether all places have the same limit."""
        every = (
            item.value if item.limit or not item.message else item.message,
            "" if same else item.limit,
            self.words(item.since, before=item.before) if item.before else "",
        )
        return "; ".join(filter(None, every))

    def run(
        self, count: int, subject: str, place: str, value: str, last: str, last_place: str
    ) -> str:
        """A place, or a range of places in consecutive rows."""
        if count == 1:
            return self.place(subject, place, value)
        between = self.words("from_to", first=subject, last=last)
        cells = self.words("from_to", first=place, last=last_place)
        counted = self.words("in_rows", place=cells, count=f"{count:,}")
        return self.place(between, counted, value)

    def titled(self, title: str, severity: str, limit: str) -> str:
        key = "point" if limit else "point_without_limit"
        return self.words(key, title=title, severity=severity, limit=limit)

    def place(self, subject: str, place: str, value: str) -> str:
        where = self.words("where", subject=subject, place=place) if place else subject
        where = where[:1].upper() + where[1:]
        return self.words("place", where=where, value=value) if value else where

    def shortened(self, places: Iterable[str], number: int, hidden: int = 0) -> tuple[str, ...]:
        """The first few places, and how many more; hidden: how many further places the ranges stand
        for.
        """
        places = [*places]
        if len(places) <= self.most:
            return tuple(places)
        self.whole = False
        more = f"{hidden or len(places) - self.most:,}"
        return (*places[: self.most], self.words("more_annex", more=more, number=number))

    def datum(self, own: Asked) -> str:
        return f"{own.datum}: {own.means}" if own.means else own.datum

    def wanted(self, own: Asked) -> str:
        """Who would know a datum, and what it is needed for."""
        return self.words("asked_of", who=own.who, rules="; ".join(self.cut(own.rules, RULES)))

    def cut(self, texts: Sequence[str], most: int) -> tuple[str, ...]:
        """The first few of some texts, and how many more there are."""
        if len(texts) <= most:
            return tuple(texts)
        return (*texts[:most], self.words("more", more=f"{len(texts) - most:,}"))

    def kept(self, accepted: Iterable[Accepted]) -> str:
        """What passed everywhere, by what the rule guards against, and what passed in part."""
        accepted = [*accepted]
        whole = "; ".join(f"{one.title} ({one.kept})" for one in accepted if one.kept == one.of)
        part = "; ".join(
            f"{one.title} ({one.kept} of {one.of})" for one in accepted if one.kept < one.of
        )
        told = [self.words("kept", kept=whole) if whole else self.words("kept_nothing")]
        if part:
            told.append(self.words("kept_in_part", kept=part))
        return " ".join(told)


_NUMBERED = re.compile(r"(.*?)([0-9]+)")


def in_runs(
    places: Iterable[tuple[str, str, str]],
) -> list[tuple[int, str, str, str, str, str]]:
    """Join places in consecutive rows about which the same is said.

    Args:
        places: for each place its subject, its cell or line, and what is said about it.

    Returns:
        For each run its length, these three of its first place, and the subject and cell or line of
            its last.
    """
    found: list[list[Any]] = []
    for subject, place, value in places:
        match = _NUMBERED.fullmatch(place)
        row = (match[1], int(match[2])) if match else ("", -1)
        if found and match and found[-1][3] == value and found[-1][6] == (row[0], row[1] - 1):
            found[-1][0] += 1
            found[-1][4:] = [subject, place, row]
        else:
            found.append([1, subject, place, value, subject, place, row])
    return [(n, s, p, v, last, at) for n, s, p, v, last, at, _ in found]
