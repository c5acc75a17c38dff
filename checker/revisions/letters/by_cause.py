"""A letter about many designs: each cause once, with the designs that have it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple, TypeVar

from checker.outcome.results import SEVERITIES
from checker.revisions.letters.blocks import Block, Heading, Items, Point, Text
from checker.revisions.letters.composing import Composer, Row
from checker.revisions.letters.phrases import in_runs
from checker.revisions.reviewing import Accepted, Advice, Asked, Item, Section

SEVERAL = 6
"""A letter with at most this many designs is by design, not by cause."""
NAMED = 3
"""At most this many designs are named with one cause, and this many runs of places in a design."""
T = TypeVar("T", bound=Item | Advice | Asked)
VERDICTS = ("hold", "unproven", "release")


class InDesign(NamedTuple):
    """A cause in one design: its permanent number, and its places."""

    design: Section
    number: int
    places: str


class ByCause(Composer):
    """A letter that is composed by cause over all designs."""

    def designs(self, sections: tuple[Section, ...]) -> Iterator[Block]:
        """The verdicts of all designs, then each cause once with the designs that have it.

        Args:
            sections: the parts of the letter, one a design.

        Returns:
            The blocks in order.
        """
        words = self.words
        for verdict in VERDICTS:
            own = [one.name for one in sections if one.verdict == verdict]
            if own:
                says = words(f"designs_{verdict}", count=f"{len(own):,}", designs=self.named(own))
                yield Text(says)
        judged = [*dict.fromkeys(one.judged_by for one in sections)]
        yield Text(words("judged_by", judged_by=" / ".join(self.cut(judged, NAMED))))
        yield from self.since_all(sections)
        yield Heading(words("must"), 2)
        must = [*_together(sections, lambda one: one.must, lambda item: (item.rule,))]
        for group in must:
            yield self.cause_of_all(group)
        if not must:
            yield Text(words("nothing"))
        for title, kind, of in (
            ("should", "change", lambda one: one.should),
            ("confirm", "confirm", lambda one: one.confirm),
        ):
            groups = [*_together(sections, of, lambda own: (own.severity, own.rule, own.limit))]
            if groups:
                yield Heading(words(title), 2)
            for advised in groups:
                yield self.advice_of_all(kind, advised)
        yield Heading(words("asked"), 2)
        wanted = [*_together(sections, lambda one: one.asked, lambda own: (own.about, own.who))]
        yield Text(words("asked_why") if wanted else words("nothing"))
        for asked in wanted:
            yield self.asked_of_all(asked)
        forms = [one.form for one in sections if one.form]
        if forms:
            key = "form" if len(forms) == 1 else "forms"
            yield Text(words(key, file=forms[0], first=forms[0], last=forms[-1], count=len(forms)))
        yield from self.accepted_of_all(sections)

    def since_all(self, sections: Iterable[Section]) -> Iterator[Block]:
        """What became of earlier points, each with its designs."""
        words, items = self.words, []
        of = [one for one in sections if one.previous]
        if not of:
            return
        for key in ("mended", "cleared", "gone", "rejudged", "otherwise", "unsure"):
            together: dict[str, list[str]] = {}
            for one in of:
                for text in getattr(one, key):
                    together.setdefault(text, []).append(one.name)
            lines = [f"{text}, {self.named(names)}" for text, names in together.items()]
            if lines:
                items.append(words(key, **{key: "; ".join(self.kept_short(lines))}))
        previous = [*dict.fromkeys(one.previous for one in of)]
        yield Heading(words("since", previous=", ".join(self.cut(previous, NAMED))), 2)
        yield Items(tuple(items or [words("mended_nothing")]))

    def cause_of_all(self, group: list[tuple[Section, list[Item]]]) -> Point:
        """One cause with the designs that have it."""
        words, first = self.words, group[0][1][0]
        limits = {item.limit for _, items in group for item in items}
        in_designs = []
        for one, items in group:
            number = self.number(one, "change", first.rule)
            self.rows += [
                Row(number, one.name, one.revision, item.title, item.severity, item.subject,
                    item.place, item.value, item.limit, item.remedy)
                for item in items
            ]  # fmt: skip
            places = [(item.subject, item.place, self.item_words(item, len(limits) == 1))
                      for item in items]  # fmt: skip
            runs = [self.run(*run) for run in in_runs(places)]
            self.whole = self.whole and len(runs) == len(items) <= NAMED
            in_designs.append(InDesign(one, number, "; ".join(self.cut(runs, NAMED))))
        every = [item for _, items in group for item in items]
        doing: dict[str, dict[str, None]] = {}
        for one, items in group:
            for text in (text for item in items for text in item.would_do):
                doing.setdefault(text, {})[one.name] = None
        ways = [words("place", where=self.named([*names]), value=text)
                for text, names in doing.items()]  # fmt: skip
        remedies = [words("remedy", remedy=text) for text in dict.fromkeys(i.remedy for i in every)]
        return Point(
            _numbers(in_designs),
            self.titled(first.title, first.severity, first.limit if len(limits) == 1 else ""),
            self.lines(in_designs),
            (*remedies[:2], *ways[:2]),
            words("source", source=first.source) if first.source else "",
        )

    def advice_of_all(self, kind: str, group: list[tuple[Section, list[Advice]]]) -> Point:
        """An improvement or a confirmation, with its designs."""
        words, first = self.words, group[0][1][0]
        in_designs = []
        for one, (own, *_) in group:
            number = self.number(one, kind, own.rule)
            self.rows += [
                Row(number, one.name, one.revision, own.title, own.severity, subject, "", "",
                    own.limit, own.remedy)
                for subject in own.subjects
            ]  # fmt: skip
            self.whole = self.whole and len(own.subjects) <= NAMED
            in_designs.append(InDesign(one, number, ", ".join(self.cut(own.subjects, NAMED))))
        return Point(
            _numbers(in_designs),
            self.titled(first.title, first.severity, first.limit),
            self.lines(in_designs),
            (words("remedy", remedy=first.remedy),) if first.remedy else (),
            words("source", source=first.source) if first.source else "",
        )

    def asked_of_all(self, group: list[tuple[Section, list[Asked]]]) -> Point:
        """A missing value, with the designs that lack it."""
        first = group[0][1][0]
        in_designs = []
        for one, several in group:
            subjects = [*dict.fromkeys(subject for own in several for subject in own.subjects)]
            number = self.number(one, "datum", first.about)
            self.rows += [
                Row(number, one.name, one.revision, first.datum, first.severity, subject,
                    "", "", "", "")
                for subject in subjects or ["–"]
            ]  # fmt: skip
            self.whole = self.whole and len(subjects) <= NAMED
            in_designs.append(InDesign(one, number, ", ".join(self.cut(subjects, NAMED))))
        return Point(
            _numbers(in_designs), self.datum(first), self.lines(in_designs), (), self.wanted(first)
        )

    def accepted_of_all(self, sections: Iterable[Section]) -> Iterator[Block]:
        """What passed, counted over all designs, and how their sheets were read."""
        words = self.words
        counted: dict[str, list[int]] = {}
        for one in sections:
            for own in one.accepted:
                sums = counted.setdefault(own.title, [0, 0])
                sums[0] += own.kept
                sums[1] += own.of
        yield Heading(words("accepted"), 2)
        yield Text(self.kept(Accepted(title, *sums) for title, sums in counted.items()))
        conceded = [
            words("conceded_line", subject=f"{one.name}, {own.subject}", title=own.title,
                  by=own.by, until=own.until)
            for one in sections for own in one.conceded
        ]  # fmt: skip
        if conceded:
            key = "conceded_one" if len(conceded) == 1 else "conceded"
            yield Text(words(key, count=len(conceded)))
            yield Items(self.kept_short(conceded))
        known = [f"{one.name}, {text}" for one in sections for text in one.known]
        if known:
            yield Text(words("known"))
            yield Items(self.kept_short(known))
        notes: dict[str, list[str]] = {}
        for one in sections:
            said = [*one.notes]
            said += [words("taken", taken="; ".join(one.taken))] if one.taken else []
            said += [words("form_kept", kept="; ".join(one.kept))] if one.kept else []
            for text in said:
                notes.setdefault(text, []).append(one.name)
        if notes:
            yield Heading(words("notes"), 2)
            lines = [f"{self.named(names)}: {text}" for text, names in notes.items()]
            yield Items(self.kept_short(lines), quiet=True)

    def lines(self, in_designs: list[InDesign]) -> tuple[str, ...]:
        """The lines that name the designs of a cause, one for all with the same places.

        Args:
            in_designs: the designs.

        Returns:
            At most `most` lines, and one that counts the designs left out.
        """
        together: dict[str, list[InDesign]] = {}
        for one in in_designs:
            together.setdefault(one.places, []).append(one)
        lines = []
        for places, own in together.items():
            names = self.named([one.design.name for one in own])
            of = self.words("in_designs", designs=names, numbers=_numbers(own))
            lines.append(self.words("place", where=of, value=places) if places else of)
        if len(lines) <= self.most:
            return tuple(lines)
        self.whole = False
        hidden = sum(len(own) for own in [*together.values()][self.most :])
        more = self.words("more_designs", more=f"{hidden:,}")
        return (*lines[: self.most], more)

    def named(self, names: list[str]) -> str:
        """The names of the first few designs, and how many more there are.

        Args:
            names: all names.

        Returns:
            For example `House 1, House 2, House 3, and 14 more`, in the letter's words.
        """
        self.whole = self.whole and len(names) <= NAMED
        return ", ".join(self.cut(names, NAMED))

    def kept_short(self, lines: list[str]) -> tuple[str, ...]:
        """The first few of some lines."""
        return self.cut(lines, self.most)


def _numbers(in_designs: Iterable[InDesign]) -> str:
    """The permanent numbers of a cause in several designs; of many, the first and the last."""
    numbers = sorted({one.number for one in in_designs})
    if len(numbers) > NAMED:
        return f"{numbers[0]} … {numbers[-1]}"
    return ", ".join(map(str, numbers))


def _together(
    sections: Iterable[Section],
    of: Callable[[Section], Iterable[T]],
    key: Callable[[T], tuple[str, ...]],
) -> Iterator[list[tuple[Section, list[T]]]]:
    """For each cause the designs that have it, the gravest and most frequent first."""
    found: dict[tuple[str, ...], dict[int, tuple[Section, list[T]]]] = {}
    for number, one in enumerate(sections):
        for own in of(one):
            found.setdefault(key(own), {}).setdefault(number, (one, []))[1].append(own)
    gravity: list[str] = [*SEVERITIES]
    ordered: list[tuple[int, int, list[tuple[Section, list[T]]]]] = []
    for by_design in found.values():
        group = [*by_design.values()]
        ordered.append((gravity.index(group[0][1][0].severity), -len(group), group))
    for _, _, group in sorted(ordered, key=lambda one: one[:2]):
        yield group
