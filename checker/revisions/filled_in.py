"""Reads a form for missing data that came back."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import NamedTuple

from checker.forms.changing import typed
from checker.forms.declaring import question
from checker.forms.model import MISSING, Answered, Block, Form, Page, Question
from checker.forms.reading import Answers, answers, carried
from checker.intake.fields import collections
from checker.intake.sheets import Book
from checker.revisions.items import DESIGN, Item, lists, needed, text_of
from checker.revisions.missing import Style, numbered, plain_words

LONGEST_NAME = 64
"""Longest name of a record that a form reads back, in characters."""


class Answer(NamedTuple):
    """One answer of a form: the record by its name in the form, the field, and the text."""

    section: str
    record: str
    field: str
    text: str
    at: str


class Returned(NamedTuple):
    """A form that came back.

    made_for: the digest of the design that it was made for; notes: what could not be used; style:
    the words and units in which it was written.
    """

    file: str
    content: str
    number: int
    contractor: str
    design: str
    answers: tuple[Answer, ...]
    notes: tuple[str, ...]
    style: Style
    made_for: str = ""


def returned(book: Book, content: str) -> Returned | None:
    """Read a form that came back.

    Args:
        book: the sheets of the workbook.
        content: the digest of its bytes.

    Returns:
        Its answers; None where the workbook is not such a form, or is damaged.
    """
    rows = carried(book, MISSING)
    try:
        kind, number, contractor, design, made_for = (rows or [[]])[0][:5]
        form, style, wholes = _form(rows or [])
        own = int(number)
    except (ValueError, KeyError, IndexError, TypeError):
        return None
    if kind != "form" or not made_for:
        return None
    found = answers(book, form)
    entries, without = [], []
    for block, records in found.records.items():
        if block in lists():
            whole = wholes[block]
            entries += [*_items(block, [one for one in records if not whole(one.name)])]
            made, why = _lists(block, [one for one in records if whole(one.name)], found)
            entries += made
            without += why
        else:
            entries += [
                Answer(block, record.name, to if block == DESIGN else to.partition(".")[2],
                       typed(answer.text), str(answer.at))
                for record in records
                for to, answer in record.values.items()
            ]  # fmt: skip
    refused = (f"{one.cell}: {one.words}" for one in found.refused)
    notes = (*refused, *without, *found.notes, *found.unused)
    return Returned(
        book.path, content, own, contractor, design, tuple(entries), notes, style, made_for
    )


def cut(name: str) -> str:
    """A record's name, as short as a form keeps it.

    Args:
        name: as the design has it.

    Returns:
        Its first `LONGEST_NAME` characters, with single spaces.
    """
    return " ".join(name.split())[:LONGEST_NAME]


def _record_of(block: str, record: str) -> tuple[str, str, str]:
    """The section and the name of the record that a row of a list belongs to, and the list's
    key.
    """
    section, _, key = block.partition(".")
    return (section, record, key) if section in collections() else (DESIGN, "", block)


def _items(block: str, rows: Iterable[Answered]) -> Iterator[Answer]:
    """The answers about items that the design has, each by its number."""
    for row in rows:
        section, record, key = _record_of(block, row.name)
        number = row.values.get(block)
        count = number.text if number else row.name
        if not count.isdecimal():
            continue
        for to, answer in row.values.items():
            if to != block:
                field = str(Item(key, int(count), to.removeprefix(f"{block}.")))
                yield Answer(section, record, field, typed(answer.text), str(answer.at))


def _lists(block: str, rows: Iterable[Answered], found: Answers) -> tuple[list[Answer], list[str]]:
    """Complete lists; an incomplete one does not count, and a note says why."""
    together: dict[tuple[str, str, str], list[Answered]] = {}
    for row in rows:
        if row.values.keys() - {block}:
            together.setdefault(_record_of(block, row.name), []).append(row)
    by_row = {
        (row.at.sheet, row.at.row + 1): row.at for own in found.records.values() for row in own
    }
    sheets = {row.at.sheet for own in together.values() for row in own}
    spoilt = {by_row.get((one.sheet, one.row)) for one in found.refused if one.sheet in sheets}
    made, notes = [], []
    titles = {one.to: one.title for one in found.form.block(block).questions}
    for (section, record, key), own in together.items():
        at = own[0].at.sheet
        what = f"nothing of the {plain_words(block)}{f' of {record!r}' if record else ''} is taken"
        lost = [
            (row, titles[f"{block}.{field}"])
            for row in own
            for field in needed(block)
            if f"{block}.{field}" not in row.values
        ]
        if lost:
            notes += [f"{at}, row {row.at.row + 1}: '{title}' is not stated, so {what}"
                      for row, title in lost]  # fmt: skip
        elif None in spoilt or any(row.at in spoilt for row in own):
            notes.append(f"{at}: some of it could not be read, so {what}")
        else:
            items = [
                {to.removeprefix(f"{block}."): typed(answer.text)
                 for to, answer in row.values.items() if to != block}
                for row in _in_order(block, own)
            ]  # fmt: skip
            text = text_of(block, items)
            made.append(Answer(section, record, key, text, f"{at} {own[0].at.address}"))
    return made, notes


def _in_order(block: str, rows: list[Answered]) -> list[Answered]:
    """Rows by their numbers where each has its own, else in the order in which they were
    written.
    """
    numbers = [row.values[block].text if block in row.values else row.name for row in rows]
    if len({*numbers}) == len(rows) and all(one.isdecimal() for one in numbers):
        return [rows[at] for at in sorted(range(len(rows)), key=lambda at: int(numbers[at]))]
    return rows


Whole = Callable[[str], bool]
"""Whether rows under a name make up a list of which the design had nothing."""


def _form(rows: list[list[str]]) -> tuple[Form, Style, dict[str, Whole]]:
    """The form that a workbook's hidden rows describe."""
    pages: list[tuple[str, str, str, str, list[Question]]] = []
    style = Style({}, {}, {}, {})
    wholes: dict[str, Whole] = {}
    for row in rows[1:]:
        if row[0] == "page":
            name, block, title, key = (*row[1:5], "", "", "")[:4]
            pages.append((name, block, title, key, []))
            if block not in lists():
                style.keys[block] = key  # type: ignore[index]
        elif row[0] == "whole":
            names = None if row[1] == "all" else [cut(one) for one in json.loads(row[1])]
            wholes[pages[-1][1]] = partial(_is_whole, names)
        elif row[0] == "ask" and row[1] in lists():
            pages[-1][4].append(numbered(row[1], row[2]))
        elif row[0] == "ask":
            to, title, unit, words = row[1:5]
            asked = question(to, title)
            units = tuple(dict.fromkeys(filter(None, (unit, *asked.units))))
            said = {str(word): str(own) for word, own in json.loads(words).items()}
            pages[-1][4].append(Question(to, title, asked.leaf, units=units, words=said))
            style.titles[to] = title  # type: ignore[index]
            style.units[to] = unit  # type: ignore[index]
            style.words[to] = said  # type: ignore[index]
    made = tuple(
        Page(
            name,
            "",
            (Block(block, title, tuple(asked), key=key, across=block == DESIGN,
                   listed=block in lists()),),
        )
        for name, block, title, key, asked in pages
    )  # fmt: skip
    return Form(MISSING, "", made), style, wholes


def _is_whole(names: list[str] | None, record: str) -> bool:
    return names is None or names == [""] or cut(record) in names
