"""What a design lacks, as a workbook that goes out, and what comes back in it.

Only the cells of what is missing are open. Headings, units and choices are those of the sheet that
was sent, as far as its map knows them; what tells the rows apart stands beside, locked. The
workbook itself says what each of its columns is, so that it is read whatever was sent since.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, NamedTuple

from checker.forms.changing import typed
from checker.forms.declaring import question
from checker.forms.model import MISSING, WORDS, Block, Form, Page, Question, Record
from checker.forms.reading import answers, carried
from checker.intake.fields import collections, fields
from checker.intake.maps import IN_BRACES, Map
from checker.intake.sheets import Book
from checker.intake.values import unit_in
from checker.outcome.report import DesignReport
from checker.revisions.contents import Content, Key
from checker.revisions.revision import Revision
from checker.words.speech import Speech

if TYPE_CHECKING:
    from checker.revisions.letters.wording import Words

DESIGN = "design"
TELLING = {
    "loops": ("header", "port", "room", "area", "length"),
    "rooms": ("area",),
    "headers": ("ports",),
    "floors": ("construction",),
    "pipes": ("material", "outside"),
}
"""What a reader knows a record by, beside its name."""
NEW = 6
"""Rows for records of a section of which nothing is stated."""
_NOT_IN_NAMES = re.compile(r"[\[\]:*?/\\]")


class Style(NamedTuple):
    """How a sender writes: headings and units of fields, words for choices, headings of names."""

    titles: Mapping[str, str] = {}
    units: Mapping[str, str] = {}
    words: Mapping[str, Mapping[str, str]] = {}
    keys: Mapping[str, str] = {}


PLAIN = Style()


def style_of(plan: Map | None) -> Style:
    """How somebody writes, by the map of his sheets; a column that is worked with tells nothing."""
    if plan is None:
        return PLAIN
    titles: dict[str, str] = {}
    own_units: dict[str, str] = {}
    words: dict[str, Mapping[str, str]] = {}
    keys: dict[str, str] = {}
    for part in plan.parts:
        for section, template in part.ids.items():
            keys.setdefault(section, IN_BRACES.sub(lambda name: name[1], template))
        told = [
            (one.heading, one.reading)
            for one in part.columns
            if one.heading and not one.plus and one.times == 1 and not one.add
        ]
        told += [(one.beside.rstrip(" :"), one.reading) for one in part.cells if one.beside]
        for heading, reading in told:
            name, kind = reading.field.name, reading.field.leaf.quantity
            titles.setdefault(name, heading)
            unit = reading.unit or (unit_in(heading, kind) if kind else "")
            if unit:
                own_units.setdefault(name, unit)
            if reading.spelt:
                words.setdefault(name, reading.spelt)
    return Style(titles, own_units, words, keys)


class Lacking(NamedTuple):
    """What a design lacks: fields by record, and of whole sections the fields of each record."""

    fields: dict[Key, list[str]]
    whole: dict[str, tuple[str, ...]]

    def __bool__(self) -> bool:
        return bool(self.fields or self.whole)


def lacking(report: DesignReport, content: Content) -> Lacking:
    """What a form can ask of a design: single data; no lists, nor parts of loops."""
    found = Lacking({}, {})
    by_length = sorted(content, key=lambda key: -len(key[1]))
    for one in report.questions:
        section = one.field
        if one.fields and section in collections():
            found.whole[section] = tuple(
                name for name in one.fields if _single(f"{section}.{name}")
            )
            continue
        names = [f"{section}.{name}" for name in one.fields] if one.fields else [section]
        for name in names:
            for key, field in _placed(name, by_length):
                found.fields.setdefault(key, []).append(field)
    return found


def _placed(path: str, keys: list[Key]) -> Iterator[tuple[Key, str]]:
    """The record and the field that a path in a design leads to, where a form can ask for it."""
    section = path.partition(".")[0]
    if section not in collections():
        if _single(path):
            yield (DESIGN, ""), path
        return
    for own, name in keys:
        before = f"{section}.{name}."
        if own == section and path.startswith(before):
            field = path.removeprefix(before)
            if _single(f"{section}.{field}"):
                yield (section, name), field
            return


def _single(name: str) -> bool:
    found = fields().get(name)
    return found is not None and not found.listed and found.leaf.kind != "words"


class Asking(NamedTuple):
    """For whom a form is: its number, sender and design as the register names them, the digest."""

    number: int
    contractor: str
    design: str
    content: str


def form_for(
    one: Revision, asking: Asking, style: Style, said: Words
) -> tuple[Form, dict[str, list[Record]]] | None:
    """The form for what a design lacks, with what is known of its rows; None where it lacks nothing
    that a form can ask."""
    wanted = lacking(one.report, one.content)
    if not wanted:
        return None
    pages, records, told = [], {}, []
    heading = said("form_title", design=asking.design, revision=one.revision or "–",
                   number=asking.number)  # fmt: skip
    for section in (*collections(), DESIGN):
        keys = [key for key in one.content if key[0] == section and key in wanted.fields]
        whole = wanted.whole.get(section, ())
        if not keys and not whole:
            continue
        asked = dict.fromkeys(field for key in keys for field in wanted.fields[key])
        asked |= dict.fromkeys(whole)
        telling = [
            field
            for field in TELLING.get(section, ())
            if any(field in one.content[key] for key in keys)
        ]
        names = dict.fromkeys((*telling, *asked))
        questions = _questions(section, [*names], style, said, one.report.speech)
        records[section] = [
            Record(key[1], {question.to: one.content[key].get(name, "")
                            for question, name in zip(questions, names, strict=True)
                            if name in one.content[key]})
            for key in keys
        ]  # fmt: skip
        only = frozenset(
            (key[1], question.to)
            for key in keys
            for question, name in zip(questions, names, strict=True)
            if name in wanted.fields[key]
        )
        title = said.one("form_pages", section)
        block = Block(
            section,
            "" if section != DESIGN else title,
            tuple(questions),
            key="" if section == DESIGN else _key(section, style, said),
            across=section == DESIGN,
            places=NEW if whole else max(len(keys), 1),
            only=None if whole else only,
        )
        pages.append(Page(_NOT_IN_NAMES.sub(" ", title)[:31], heading, (block,), said("form_note")))
        told.append(("page", pages[-1].name, section, block.title, block.key))
        told += [
            ("ask", one.to, one.title, one.units[0] if one.units else "", json.dumps(one.words))
            for one in questions
        ]
    first = ("form", str(asking.number), asking.contractor, asking.design, asking.content)
    words = {key: said.one("form_words", key) for key in WORDS}
    return Form(MISSING, heading, tuple(pages), carried=(first, *told), words=words), records


def _key(section: str, style: Style, said: Words) -> str:
    return style.keys.get(section) or said.one("form_keys", section)


def _questions(
    section: str, names: list[str], style: Style, said: Words, speech: Speech
) -> list[Question]:
    taken = {"" if section == DESIGN else _key(section, style, said).casefold()}
    found = []
    for name in names:
        to = name if section == DESIGN else f"{section}.{name}"
        referred = style.keys.get(question(to).leaf.refers_to, "")
        title = style.titles.get(to) or said.one("form_fields", to) or referred
        plain = question(to, title)
        if plain.title.casefold() in taken:
            plain = question(to, f"{plain.title} ({question(to).title})")
        taken.add(plain.title.casefold())
        found.append(_in_units(plain, style.units.get(to, ""), style.words.get(to, {}), speech))
    return found


def _in_units(plain: Question, unit: str, words: Mapping[str, str], speech: Speech) -> Question:
    usual = plain.units[0] if plain.units else ""
    unit = unit or (speech.unit(usual) if usual else "")
    units = tuple(dict.fromkeys(filter(None, (unit, *plain.units))))
    return Question(
        plain.to, plain.title, plain.leaf, plain.note, units, plain.example, plain.names,
        words=words,
    )  # fmt: skip


# What came back.


class Answer(NamedTuple):
    """What a cell of a form says: of which record, by its name in the form, which field."""

    section: str
    record: str
    field: str
    text: str
    at: str


class Returned(NamedTuple):
    """A form that came back; notes: what could not be taken; style: as it went out with."""

    file: str
    content: str
    number: int
    contractor: str
    design: str
    answers: tuple[Answer, ...]
    notes: tuple[str, ...]
    style: Style


def returned(book: Book, content: str) -> Returned | None:
    """What a form says that came back; None for a workbook that is none, or is damaged."""
    rows = carried(book, MISSING)
    try:
        kind, number, contractor, design, made_for = (rows or [[]])[0][:5]
        form, style = _form(rows or [])
        own = int(number)
    except (ValueError, KeyError, IndexError, TypeError):
        return None
    if kind != "form" or not made_for:
        return None
    found = answers(book, form)
    told = [
        Answer(section, record.name, to if section == DESIGN else to.partition(".")[2],
               typed(answer.text), str(answer.at))
        for section, records in found.records.items()
        for record in records
        for to, answer in record.values.items()
    ]  # fmt: skip
    notes = (*(f"{one.cell}: {one.words}" for one in found.refused), *found.notes, *found.unused)
    return Returned(book.path, content, own, contractor, design, tuple(told), notes, style)


def _form(rows: list[list[str]]) -> tuple[Form, Style]:
    """The form that the rows which a workbook brings back tell of."""
    pages: list[tuple[str, str, str, str, list[Question]]] = []
    style = Style({}, {}, {}, {})
    for row in rows[1:]:
        if row[0] == "page":
            name, section, title, key = (*row[1:5], "", "", "")[:4]
            pages.append((name, section, title, key, []))
            style.keys[section] = key  # type: ignore[index]
        elif row[0] == "ask":
            to, title, unit, words = row[1:5]
            asked = question(to, title)
            units = tuple(dict.fromkeys(filter(None, (unit, *asked.units))))
            said = {str(word): str(own) for word, own in json.loads(words).items()}
            pages[-1][4].append(
                Question(to, title, asked.leaf, units=units, names=asked.names, words=said)
            )
            style.titles[to] = title  # type: ignore[index]
            style.units[to] = unit  # type: ignore[index]
            style.words[to] = said  # type: ignore[index]
    made = tuple(
        Page(name, "", (Block(section, title, tuple(asked), key=key, across=section == DESIGN),))
        for name, section, title, key, asked in pages
    )
    return Form(MISSING, "", made), style
