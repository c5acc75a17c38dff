"""Composes a letter as blocks: each cause once, with its places."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import count
from typing import Any, NamedTuple

from checker.revisions.letters.blocks import (
    Block,
    Figure,
    Heading,
    Items,
    Point,
    Table,
    Text,
    pages,
)
from checker.revisions.letters.wording import Words, english
from checker.revisions.reviewing import Accepted, Advice, Asked, Item, Letter, Section

PLACES = 12
"""At most this many places of a point are in the letter; the others are in the annex."""
FEWER = (PLACES, 6, 3, 1)
"""The same where the letter would otherwise be longer than LONGEST pages."""
LONGEST = 9.5
RULES, TURNS = 8, 3
"""At most this many rules that need a datum, and values that it turns on, are named."""


class Head(NamedTuple):
    """The letterhead, each field empty where it is not known; annex: the name of the annex's
    file.
    """

    date: str = ""
    reference: str = ""
    answer_by: str = ""
    signature: str = ""
    annex: str = ""


class Row(NamedTuple):
    """A row of the annex: one place of one point."""

    number: int
    design: str
    revision: str
    title: str
    severity: str
    subject: str
    place: str
    value: str
    limit: str
    remedy: str


class Composed(NamedTuple):
    """A letter as blocks, and for its annex every place of every point and every design; whole:
    whether the letter itself names them all.
    """

    blocks: tuple[Block, ...]
    rows: tuple[Row, ...]
    whole: bool
    designs: tuple[tuple[str, ...], ...] = ()


def composed(letter: Letter, head: Head = Head(), words: Words | None = None) -> Composed:  # noqa: B008  # frozen
    """Compose a letter: design by design, or cause by cause where there are many designs."""
    from checker.revisions.letters.by_cause import SEVERAL, ByCause

    kind = ByCause if len(letter.sections) > SEVERAL else Composer
    for most in FEWER:
        made = kind(words or english(), most)
        blocks = tuple(made.letter(letter, head))
        if pages(blocks) <= LONGEST:
            break
    designs = (
        (one.name, one.revision, one.file, one.judged, str(len(causes(one.must))),
         str(len(one.asked)), one.form)
        for one in letter.sections
    )  # fmt: skip
    return Composed(blocks, tuple(made.rows), made.whole, tuple(designs))


class Composer:
    """A letter that is being composed; most: how many places of a point it names."""

    def __init__(self, words: Words, most: int) -> None:
        self.words = words
        self.most = most
        self.rows: list[Row] = []
        self.whole = True
        self.free = count(1)

    def letter(self, letter: Letter, head: Head) -> Iterator[Block]:
        words = self.words
        yield from heading(words, "subject", letter.to, head)
        yield Text(words("introduction"))
        if head.answer_by:
            yield Text(words("answer_by", answer_by=head.answer_by))
        yield from self.designs(letter.sections)
        if not self.whole and head.annex:
            yield Text(words("annex", file=head.annex))
        if letter.cautions:
            yield Heading(words("cautions"), 2)
            yield Items(letter.cautions)
        yield Text(words("closing"))
        if head.signature:
            yield Text(words("signature", signature=head.signature))

    def designs(self, sections: tuple[Section, ...]) -> Iterator[Block]:
        """The part of the letter about the designs."""
        if len(sections) > 1:
            rows = tuple(
                (one.name, one.revision or "–", str(len(causes(one.must))), str(len(one.asked)))
                for one in sections
            )
            yield Table(self.words.heads("overview_heads"), rows, 2)
        for one in sections:
            yield from self.section(one)

    def section(self, one: Section) -> Iterator[Block]:
        words = self.words
        titled = "section" if one.revision else "section_without_revision"
        yield Heading(words(titled, name=one.name, revision=one.revision), 2)
        read_from = words("read_from", file=one.file, judged_by=one.judged_by)
        yield Text(f"{read_from} {one.judged} {words(one.verdict)}")
        if one.previous:
            yield from self.since(one)
        if one.plan:
            yield Heading(words("plan"), 3)
            yield Figure(one.plan, one.plan_says)
        yield Heading(words("must"), 3)
        for items in causes(one.must):
            yield self.cause(one, items)
        if not one.must:
            yield Text(words("nothing"))
        for title, kind, advice in (
            ("should", "change", one.should),
            ("confirm", "confirm", one.confirm),
        ):
            if advice:
                yield Heading(words(title), 3)
                for point in advice:
                    yield self.advice(one, kind, point)
        yield Heading(words("asked"), 3)
        if one.asked:
            yield Text(words("asked_why"))
            for own in one.asked:
                yield self.asked(one, own)
            if one.form and one.left:
                yield Text(words("form_in_part", file=one.form, others="; ".join(one.left)))
            elif one.form:
                yield Text(words("form", file=one.form))
        else:
            yield Text(words("nothing"))
        yield from self.accepted(one)
        if one.notes or one.kept or one.taken:
            yield Heading(words("notes"), 3)
        if one.taken:
            yield Text(words("taken", taken="; ".join(one.taken)))
        if one.kept:
            yield Text(words("form_kept", kept="; ".join(one.kept)))
        if one.notes:
            yield Items(one.notes, quiet=True)

    def since(self, one: Section) -> Iterator[Block]:
        words = self.words
        yield Heading(words("since", previous=one.previous), 3)
        mended = "; ".join(one.mended)
        told = [words("mended", mended=mended)] if mended else []
        if not mended and not one.cleared:
            told.append(words("mended_nothing"))
        for key, several in (
            ("cleared", one.cleared),
            ("gone", one.gone),
            ("rejudged", one.rejudged),
            ("otherwise", one.otherwise),
        ):
            if several:
                told.append(words(key, **{key: "; ".join(several)}))
        if one.unsure:
            told.append(words("unsure", unsure="; ".join(one.unsure)))
        yield Items(tuple(told))

    def number(self, one: Section, kind: str, about: str) -> int:
        return one.numbers.get((kind, about)) or next(self.free)

    def cause(self, one: Section, items: list[Item]) -> Point:
        """One cause with all its places."""
        words, first = self.words, items[0]
        number = self.number(one, "change", first.rule)
        same = len({item.limit for item in items}) == 1
        for item in items:
            self.rows.append(
                Row(number, one.name, one.revision, first.title, item.severity, item.subject,
                    item.place, item.value, item.limit, item.remedy)
            )  # fmt: skip
        told = [(item.subject, item.place, self.told(item, same)) for item in items]
        runs = in_runs(told) if len(told) > self.most else [(1, *each, "", "") for each in told]
        self.whole = self.whole and len(runs) == len(told)
        places = [self.run(*run) for run in runs]
        hidden = sum(count for count, *_ in runs[self.most :])
        lines = [words("remedy", remedy=text) for text in dict.fromkeys(i.remedy for i in items)]
        ways = [*dict.fromkeys(text for item in items for text in item.would_do)]
        limit = first.limit if same else ""
        return Point(
            str(number),
            self.titled(first.title, first.severity, limit),
            self.shortened(places, number, hidden),
            (*lines[:3], *ways[:4]),
            words("source", source=first.source) if first.source else "",
        )

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

    def advice(self, one: Section, kind: str, point: Advice) -> Point:
        number = self.number(one, kind, point.rule)
        places = point.subjects
        if point.before:
            places = tuple(
                f"{subject}; {self.words(since, before=point.before)}"
                for subject, since in zip(point.subjects, point.since, strict=True)
            )
        self.rows += [
            Row(number, one.name, one.revision, point.title, point.severity, subject, "", "",
                point.limit, point.remedy)
            for subject in point.subjects
        ]  # fmt: skip
        return Point(
            str(number),
            self.titled(point.title, point.severity, point.limit),
            self.shortened(places, number),
            (self.words("remedy", remedy=point.remedy),) if point.remedy else (),
            self.words("source", source=point.source) if point.source else "",
        )

    def asked(self, one: Section, own: Asked) -> Point:
        number = self.number(one, "datum", own.about)
        turning: dict[str, list[str]] = {}
        alike: dict[tuple[str, str], list[str]] = {}
        for title, turn, subject in own.turns:
            said = self.words("asked_turn", title=title, turn=turn, subject=subject)
            turning.setdefault(subject, []).append(said)
            alike.setdefault((title, turn), []).append(subject)
        self.rows += [
            Row(number, one.name, one.revision, own.datum, own.severity, subject, "", "", "",
                "; ".join(turning.get(subject, ())))
            for subject in own.subjects
        ]  # fmt: skip
        places = ", ".join(self.shortened(own.subjects, number))
        turns = [
            self.words("asked_turn", title=title, turn=turn, subject=", ".join(subjects))
            for (title, turn), subjects in alike.items()
        ]
        shown = self.cut(turns, TURNS)
        self.whole = self.whole and len(shown) == len(turns)
        return Point(
            str(number), self.datum(own), (places,) if places else (), shown, self.wanted(own)
        )

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

    def accepted(self, one: Section) -> Iterator[Block]:
        words = self.words
        yield Heading(words("accepted"), 3)
        yield Text(self.kept(one.accepted))
        if one.conceded:
            key = "conceded_one" if len(one.conceded) == 1 else "conceded"
            yield Text(words(key, count=len(one.conceded)))
            lines = [
                words("conceded_line", subject=own.subject[:1].upper() + own.subject[1:],
                      title=own.title, by=own.by, until=own.until)
                for own in one.conceded
            ]  # fmt: skip
            yield Items(tuple(lines))
        if one.known:
            yield Text(words("known"))
            yield Items(one.known)

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


def heading(words: Words, subject: str, to: str, head: Head) -> Iterator[Block]:
    """The top of a letter: subject, addressee, sender, dates."""
    yield Heading(words(subject, to=to), 1)
    lines = (
        words("to", to=to),
        words("date", date=head.date) if head.date else "",
        words("reference", reference=head.reference) if head.reference else "",
    )
    if head.date or head.reference:
        yield Items(tuple(filter(None, lines)))


def causes(items: Iterable[Item]) -> list[list[Item]]:
    """Items grouped by rule, the gravest first."""
    together: dict[str, list[Item]] = {}
    for item in items:
        together.setdefault(item.rule, []).append(item)
    return [*together.values()]
