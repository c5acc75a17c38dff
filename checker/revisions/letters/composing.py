"""Composes a letter as blocks: each cause once, with its places."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

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
from checker.revisions.letters.phrases import Phrases, in_runs
from checker.revisions.letters.wording import Words, english
from checker.revisions.reviewing import Advice, Asked, Item, Letter, Section

PLACES = 12
"""At most this many places of a point are in the letter; the others are in the annex."""
FEWER = (PLACES, 6, 3, 1)
"""The same where the letter would otherwise be longer than LONGEST pages."""
LONGEST = 9.5
TURNS = 3
"""At most this many values that a datum decides are named."""


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
    """Compose a letter: design by design, or cause by cause where there are many designs.

    Where it would be longer than `LONGEST` pages, fewer places of each point are named.

    Args:
        letter: its content.
        head: the letterhead; nothing where it is left out.
        words: the wording; English where None.

    Returns:
        The letter as blocks, and the rows of its annex.
    """
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


class Composer(Phrases):
    """A letter that is being composed, design by design, with the rows of its annex."""

    def __init__(self, words: Words, most: int) -> None:
        super().__init__(words, most)
        self.rows: list[Row] = []

    def letter(self, letter: Letter, head: Head) -> Iterator[Block]:
        """The whole letter.

        Args:
            letter: its content.
            head: the letterhead.

        Returns:
            The blocks in order; `rows` fill up as they are taken.
        """
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
        """The part of the letter about the designs: a table where there are several, then each.

        Args:
            sections: the parts of the letter, one a design.

        Returns:
            The blocks in order.
        """
        if len(sections) > 1:
            rows = tuple(
                (one.name, one.revision or "–", str(len(causes(one.must))), str(len(one.asked)))
                for one in sections
            )
            yield Table(self.words.heads("overview_heads"), rows, 2)
        for one in sections:
            yield from self.section(one)

    def section(self, one: Section) -> Iterator[Block]:
        """All about one design: verdict, what changed since, what must be done, what is asked.

        Args:
            one: the part of the letter about it.

        Returns:
            The blocks in order.
        """
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
        """What became of the findings of the revision before.

        Args:
            one: the part of the letter about a design that has one.

        Returns:
            A heading and a list.
        """
        words = self.words
        yield Heading(words("since", previous=one.previous), 3)
        mended = "; ".join(one.mended)
        lines = [words("mended", mended=mended)] if mended else []
        if not mended and not one.cleared:
            lines.append(words("mended_nothing"))
        for key, several in (
            ("cleared", one.cleared),
            ("gone", one.gone),
            ("rejudged", one.rejudged),
            ("otherwise", one.otherwise),
        ):
            if several:
                lines.append(words(key, **{key: "; ".join(several)}))
        if one.unsure:
            lines.append(words("unsure", unsure="; ".join(one.unsure)))
        yield Items(tuple(lines))

    def cause(self, one: Section, items: list[Item]) -> Point:
        """One cause with all its places; each becomes a row of the annex.

        Args:
            one: the part of the letter about the design.
            items: what must change because of one rule.

        Returns:
            The point, with up to `most` places or ranges of places.
        """
        words, first = self.words, items[0]
        number = self.number(one, "change", first.rule)
        same = len({item.limit for item in items}) == 1
        for item in items:
            self.rows.append(
                Row(number, one.name, one.revision, first.title, item.severity, item.subject,
                    item.place, item.value, item.limit, item.remedy)
            )  # fmt: skip
        placed = [(item.subject, item.place, self.item_words(item, same)) for item in items]
        runs = (
            in_runs(placed) if len(placed) > self.most else [(1, *each, "", "") for each in placed]
        )
        self.whole = self.whole and len(runs) == len(placed)
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

    def advice(self, one: Section, kind: str, point: Advice) -> Point:
        """One improvement, or something to confirm; each place becomes a row of the annex.

        Args:
            one: the part of the letter about the design.
            kind: the kind of point in a register, `change` or `confirm`.
            point: what is advised.

        Returns:
            The point, with up to `most` places.
        """
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
        """One missing datum; each subject that lacks it becomes a row of the annex.

        Args:
            one: the part of the letter about the design.
            own: the datum.

        Returns:
            The point, with up to `most` subjects and `TURNS` values that the datum decides.
        """
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

    def accepted(self, one: Section) -> Iterator[Block]:
        """What needs nothing: what passed, what was accepted as it is, what was known.

        Args:
            one: the part of the letter about the design.

        Returns:
            The blocks in order.
        """
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


def heading(words: Words, subject: str, to: str, head: Head) -> Iterator[Block]:
    """The top of a letter: subject, addressee, date, reference.

    Args:
        words: the wording.
        subject: the key of the subject's words.
        to: the addressee.
        head: the letterhead.

    Returns:
        The blocks in order.
    """
    yield Heading(words(subject, to=to), 1)
    lines = (
        words("to", to=to),
        words("date", date=head.date) if head.date else "",
        words("reference", reference=head.reference) if head.reference else "",
    )
    if head.date or head.reference:
        yield Items(tuple(filter(None, lines)))


def causes(items: Iterable[Item]) -> list[list[Item]]:
    """What must change, grouped by rule.

    Args:
        items: in the order of a letter, the gravest first.

    Returns:
        A group for each rule, in the order in which the rules first occur.
    """
    together: dict[str, list[Item]] = {}
    for item in items:
        together.setdefault(item.rule, []).append(item)
    return [*together.values()]
