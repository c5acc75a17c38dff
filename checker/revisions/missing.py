"""Writes a workbook that asks for what a design lacks.

Only the cells of missing values can be changed. Headings, units and choices are those of the sheet
that was sent, as far as its map knows them; locked columns beside them tell the rows apart. The
workbook itself says what each column is, so that it can be read whatever was sent since.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from checker.design.leaves import Leaf
from checker.forms.declaring import question
from checker.forms.model import (
    MISSING,
    WORDS,
    Block,
    Form,
    Page,
    Question,
    Record,
)
from checker.intake.fields import collections
from checker.intake.maps import IN_BRACES, Map
from checker.intake.units_written import unit_in
from checker.revisions.items import DESIGN, items_in, lists
from checker.revisions.lacking import WITH, Lacking, lacking
from checker.revisions.revision import Revision
from checker.units import factor
from checker.words.speech import Speech

if TYPE_CHECKING:
    from checker.revisions.letters.wording import Words

TELLING = {
    "loops": ("header", "port", "room", "area", "length"),
    "rooms": ("area",),
    "headers": ("ports",),
    "floors": ("construction",),
    "pipes": ("material", "outside"),
}
"""The values by which a reader recognises a record, besides its name."""
NEW = 6
"""Rows for the records of a section that is missing entirely."""
ROWS = 8
"""Rows for the items of a list that is missing entirely."""
LONGEST = 255
"""Longest list of names that a cell offers, in characters."""
_NOT_IN_NAMES = re.compile(r"[\[\]:*?/\\]")


class Style(NamedTuple):
    """How a sender writes: headings and units of fields, words for choices, headings of names.

    called: what a firm calls fields for which the sender has no heading.
    """

    titles: Mapping[str, str] = {}
    units: Mapping[str, str] = {}
    words: Mapping[str, Mapping[str, str]] = {}
    keys: Mapping[str, str] = {}
    called: Mapping[str, str] = {}

    def says(self, name: str) -> str:
        """A field or list in its reader's words.

        Args:
            name: its name in the design format, such as `loops.spacing`.

        Returns:
            The sender's heading, else what a firm calls it, else the format's own words.
        """
        return self.titles.get(name) or self.called.get(name) or plain_words(name)


def plain_words(name: str) -> str:
    """A field in the format's own words, without its section and list."""
    section, _, rest = name.partition(".")
    words = rest if section in collections() else name
    for own in lists():
        if name.startswith(f"{own}."):
            words = name.removeprefix(f"{own}.")
    return words.replace("_", " ").replace(".", ", ")


PLAIN = Style()


def style_of(plan: Map | None) -> Style:
    """How a sender writes, by the map of their sheets.

    Args:
        plan: the map; None where there is none.

    Returns:
        Headings, units and words of its columns, without those that are computed with; the format's
        own words without a map.
    """
    if plan is None:
        return PLAIN
    titles: dict[str, str] = {}
    own_units: dict[str, str] = {}
    words: dict[str, Mapping[str, str]] = {}
    keys: dict[str, str] = {}
    for part in plan.parts:
        for section, template in part.ids.items():
            keys.setdefault(section, IN_BRACES.sub(lambda name: name[1], template))
        headings = [
            (one.heading, one.reading)
            for one in part.columns
            if one.heading and not one.plus and one.times == 1 and not one.add
        ]
        headings += [(one.beside.rstrip(" :"), one.reading) for one in part.cells if one.beside]
        for heading, reading in headings:
            name, kind = reading.field.name, reading.field.leaf.quantity
            titles.setdefault(name, heading)
            unit = reading.unit or (unit_in(heading, kind) if kind else "")
            if unit:
                own_units.setdefault(name, unit)
            if reading.spelt:
                words.setdefault(name, reading.spelt)
    return Style(titles, own_units, words, keys)


class Asking(NamedTuple):
    """Whom a form is for: its number, the sender and design as in the register, the design's
    digest.
    """

    number: int
    contractor: str
    design: str
    content: str


def form_for(
    one: Revision, asking: Asking, style: Style, said: Words
) -> tuple[Form, dict[str, list[Record]], tuple[str, ...]] | None:
    """Make the form for what a design lacks.

    Args:
        one: the design.
        asking: whom the form is for.
        style: how the sender writes.
        said: the words of letters.

    Returns:
        The form, the known values of its rows, and what it cannot ask; None where it can ask
            nothing.
    """
    wanted = lacking(one.report, one.content)
    if not wanted:
        return None
    making = _Making(one, wanted, style, said)
    heading = said("form_title", design=asking.design, revision=one.revision or "–",
                   number=asking.number)  # fmt: skip
    for section in (*collections(), DESIGN):
        making.page(section, heading)
        for name in lists():
            if name.partition(".")[0] == section or (
                section == DESIGN and name.partition(".")[0] not in collections()
            ):
                making.list_page(name, heading)
    first = ("form", str(asking.number), asking.contractor, asking.design, asking.content)
    words = {key: said.one("form_words", key) for key in WORDS}
    form = Form(
        MISSING, heading, tuple(making.pages), carried=(first, *making.form_facts), words=words
    )
    return form, making.records, tuple(map(style.says, wanted.left))


class _Making:
    """A form that is being made: its pages, the known values of their rows, and its hidden rows."""

    def __init__(self, one: Revision, wanted: Lacking, style: Style, said: Words) -> None:
        self.one, self.wanted, self.style, self.said = one, wanted, style, said
        self.pages: list[Page] = []
        self.records: dict[str, list[Record]] = {}
        self.form_facts: list[tuple[str, ...]] = []

    def page(self, section: str, heading: str) -> None:
        """Add a page for the values of a section's records."""
        content, wanted = self.one.content, self.wanted
        keys = [key for key in content if key[0] == section and key in wanted.fields]
        whole = wanted.whole.get(section, ())
        if not keys and not whole:
            return
        asked = dict.fromkeys(field for key in keys for field in wanted.fields[key])
        asked |= dict.fromkeys(whole)
        telling = [
            field
            for field in TELLING.get(section, ())
            if any(field in content[key] for key in keys)
        ]
        names = [*dict.fromkeys((*telling, *asked))]
        key_title = "" if section == DESIGN else self.key(section)
        places = [name if section == DESIGN else f"{section}.{name}" for name in names]
        questions = self.questions(places, {key_title.casefold()})
        self.records[section] = [
            Record(key[1], {question.to: content[key][name]
                            for question, name in zip(questions, names, strict=True)
                            if name in content[key]})
            for key in keys
        ]  # fmt: skip
        only = frozenset(
            (number, question.to)
            for number, key in enumerate(keys)
            for question, name in zip(questions, names, strict=True)
            if name in wanted.fields[key]
        )
        title = self.said.one("form_pages", section)
        block = Block(
            section,
            "" if section != DESIGN else title,
            tuple(questions),
            key=key_title,
            across=section == DESIGN,
            places=NEW if whole else max(len(keys), 1),
            only=None if whole else only,
        )
        self.add(title, heading, block, self.said("form_note"))

    def list_page(self, name: str, heading: str) -> None:
        """Add a page for the items of a list, one row each."""
        section, content = name.partition(".")[0], self.one.content
        items, without = self.wanted.items.get(name, {}), self.wanted.lists.get(name, [])
        new = self.wanted.whole.get(section) is not None and name.removeprefix(
            f"{section}."
        ) in WITH.get(section, ())
        if not items and not without and not new:
            return
        by_id = section in collections()
        key_of_list = name.removeprefix(f"{section}.") if by_id else name
        known = {
            (key, number): own
            for key in content
            if key in items
            for number, own in items_in(content[key], key_of_list).items()
        }
        asked = {f"{name}.{field}" for own in items.values() for fields in own.values()
                 for field in fields}  # fmt: skip
        asked |= {f"{name}.{field}" for own in known.values() for field in own}
        places = [one.name for one in lists()[name] if without or new or one.name in asked]
        item = self.said.one("form_items", name)
        key_title = self.key(section) if by_id else item
        questions = self.questions(places, {key_title.casefold(), item.casefold()})
        records: list[Record] = []
        only: set[tuple[int, str]] = set()
        for key in content:
            for number in sorted(items.get(key, ())):
                own = known.get((key, number), {})
                only |= {(len(records), f"{name}.{field}") for field in items[key][number]}
                values = {f"{name}.{field}": text for field, text in own.items()}
                records.append(Record(key[1] or str(number), {name: str(number)} | values))
            for number in range(1, ROWS + 1) if key in without else ():
                only |= {(len(records), one.to) for one in questions}
                records.append(Record(key[1] or str(number), {name: str(number)}))
        self.records[name] = records
        counted = by_id and not new
        block = Block(
            name,
            "",
            (*([numbered(name, item)] if counted else ()), *questions),
            key=key_title,
            across=False,
            places=len(records) or ROWS,
            only=None if new else frozenset(only),
            listed=True,
        )
        note = self.said("form_note")
        if without or new:
            note = f"{note} {self.said('form_rows')}"
        self.add(self.said.one("form_pages", name), heading, block, note)
        names = "" if new else json.dumps([key[1] for key in without])
        self.form_facts.append(("whole", names or "all"))

    def add(self, title: str, heading: str, block: Block, note: str) -> None:
        self.pages.append(Page(_NOT_IN_NAMES.sub(" ", title)[:31], heading, (block,), note))
        self.form_facts.append(("page", self.pages[-1].name, block.name, block.title, block.key))
        self.form_facts += [
            ("ask", one.to, one.title, one.units[0] if one.units else "", json.dumps(one.words))
            for one in block.questions
        ]

    def key(self, section: str) -> str:
        return self.style.keys.get(section) or self.said.one("form_keys", section)

    def questions(self, places: list[str], taken: set[str]) -> list[Question]:
        """Questions about these fields, each with its own title."""
        style, speech, found = self.style, self.one.report.speech, []
        for to in places:
            referred = question(to).leaf.refers_to
            words = style.titles.get(to) or style.called.get(to)
            title = words or style.keys.get(referred) or _capital(style.says(to))
            if title.casefold() in taken:
                title = f"{title} ({plain_words(to)})"
            taken.add(title.casefold())
            known = style.words.get(to, {}) or self.names(referred)
            found.append(_in_units(question(to, title), style.units.get(to, ""), known, speech))
        return found

    def names(self, section: str) -> dict[str, str]:
        """The names of a section's records to choose from, where they are not too many."""
        known = [name for own, name in self.one.content if own == section and section]
        return {name: name for name in known} if len(",".join(known)) <= LONGEST else {}


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def numbered(name: str, title: str) -> Question:
    """The question for the number of an item of a list.

    Args:
        name: the list's name, such as `headers.pump.curve`.
        title: what the form calls such an item.

    Returns:
        A question for a whole number from 1.
    """
    return Question(name, title, Leaf(name, "integer", least=1, most=999))


def _like(one: str, other: str, asked: Question) -> bool:
    """Whether two names mean the same unit: day and days."""
    kind = asked.leaf.quantity
    return one == other or (
        bool(one and other and kind) and factor(one, kind) == factor(other, kind)
    )


def _in_units(plain: Question, unit: str, words: Mapping[str, str], speech: Speech) -> Question:
    usual = plain.units[0] if plain.units else ""
    unit = unit or (speech.unit(usual) if usual else "")
    units = tuple(
        filter(None, (unit, *(one for one in plain.units if not _like(one, unit, plain))))
    )
    return Question(
        plain.to, plain.title, plain.leaf, plain.note, units, plain.example, words=words
    )
