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
        """The number of a point.

        Args:
            one: the part of the letter about its design.
            kind: its kind in a register: `change`, `confirm` or `datum`.
            about: its rule or datum.

        Returns:
            The permanent number in a register; without one the next in this letter.
        """
        return one.numbers.get((kind, about)) or next(self.free)

    def item_words(self, item: Item, same: bool) -> str:
        """What is said about one place: its value, its limit, what became of it.

        Args:
            item: the place.
            same: whether all places of the point have the same limit, which its title then says.

        Returns:
            In one line, without the place itself; empty where there is nothing to say.
        """
        every = (
            item.value if item.limit or not item.message else item.message,
            "" if same else item.limit,
            self.words(item.since, before=item.before) if item.before else "",
        )
        return "; ".join(filter(None, every))

    def run(
        self, count: int, subject: str, place: str, value: str, last: str, last_place: str
    ) -> str:
        """The line about a place, or about a range of places in consecutive rows.

        Args:
            count: how many places there are.
            subject: the first subject in words.
            place: its cell or line.
            value: what is said about each of them.
            last: the last subject in words.
            last_place: its cell or line.

        Returns:
            In the letter's words.
        """
        if count == 1:
            return self.place(subject, place, value)
        between = self.words("from_to", first=subject, last=last)
        cells = self.words("from_to", first=place, last=last_place)
        counted = self.words("in_rows", place=cells, count=f"{count:,}")
        return self.place(between, counted, value)

    def titled(self, title: str, severity: str, limit: str) -> str:
        """The title of a point.

        Args:
            title: the rule's title.
            severity: how grave the point is.
            limit: the limit that all its places have; empty where they differ.

        Returns:
            In the letter's words.
        """
        key = "point" if limit else "point_without_limit"
        return self.words(key, title=title, severity=severity, limit=limit)

    def place(self, subject: str, place: str, value: str) -> str:
        """The line about one place.

        Args:
            subject: what it is about, in words.
            place: its cell or line; empty where there is none.
            value: what is said about it; may be empty.

        Returns:
            In the letter's words, with a capital at the start.
        """
        where = self.words("where", subject=subject, place=place) if place else subject
        where = where[:1].upper() + where[1:]
        return self.words("place", where=where, value=value) if value else where

    def shortened(self, places: Iterable[str], number: int, hidden: int = 0) -> tuple[str, ...]:
        """The first few places of a point, and how many more there are.

        Args:
            places: the line about each place, or each range of places.
            number: the point's number, by which the annex has the others.
            hidden: how many places those lines are about that are left out; their number where 0.

        Returns:
            At most `most` lines, and one that counts the others.
        """
        places = [*places]
        if len(places) <= self.most:
            return tuple(places)
        self.whole = False
        more = f"{hidden or len(places) - self.most:,}"
        return (*places[: self.most], self.words("more_annex", more=more, number=number))

    def datum(self, own: Asked) -> str:
        """A missing datum by its name, with what it is.

        Args:
            own: the datum.

        Returns:
            The name alone where there is no description.
        """
        return f"{own.datum}: {own.means}" if own.means else own.datum

    def wanted(self, own: Asked) -> str:
        """Who would know a datum, and what it is needed for.

        Args:
            own: the datum.

        Returns:
            In the letter's words, with up to `RULES` titles of rules.
        """
        return self.words("asked_of", who=own.who, rules="; ".join(self.cut(own.rules, RULES)))

    def cut(self, texts: Sequence[str], most: int) -> tuple[str, ...]:
        """The first few of some texts, and how many more there are.

        Args:
            texts: all texts.
            most: how many are kept.

        Returns:
            The texts; where some are left out, one more that counts them.
        """
        if len(texts) <= most:
            return tuple(texts)
        return (*texts[:most], self.words("more", more=f"{len(texts) - most:,}"))

    def kept(self, accepted: Iterable[Accepted]) -> str:
        """What passed everywhere, and what passed in part.

        Args:
            accepted: the rules that passed somewhere, with their counts.

        Returns:
            One or two sentences in the letter's words.
        """
        accepted = [*accepted]
        whole = "; ".join(f"{one.title} ({one.kept})" for one in accepted if one.kept == one.of)
        part = "; ".join(
            f"{one.title} ({one.kept} of {one.of})" for one in accepted if one.kept < one.of
        )
        lines = [self.words("kept", kept=whole) if whole else self.words("kept_nothing")]
        if part:
            lines.append(self.words("kept_in_part", kept=part))
        return " ".join(lines)


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
