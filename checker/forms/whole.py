"""The form for everything that a design can hold, one sheet a table; `prescreed schedule` writes
it.

It has a sheet for what occurs once, one for each section whose records have ids, and one for each
list within a record, a row for each item.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from typing import Any

from checker.forms.declaring import question
from checker.forms.model import Block, Form, Page, Question, Record
from checker.intake.fields import Field, fields

NAME = "whole design"
ID, NUMBER = "id", "no"
"""The headings of the records' ids, and of the numbers of list items that belong to no record."""
SPARE = 20
"""Empty rows in addition to those filled in."""
PLAIN = "1"
"""What is written as the unit of a number without one, such as a pH."""


@cache
def whole() -> Form:
    """The form with room for a few records; it can be read back with any number of them."""
    blocks: dict[str, list[Field]] = {}
    for field in fields().values():
        own = (field.section, *field.keys[: field.listed]) if field.listed else (field.section,)
        name = " ".join(own).replace("_", " ") if field.listed or field.by_id else "design"
        blocks.setdefault(name, []).append(field)
    pages = [Page(name, name, (_block(name, asked),)) for name, asked in blocks.items()]
    # Lists come last, so that the records that they belong to are known.
    pages.sort(key=lambda page: (page.name != "design", page.blocks[0].listed))
    return Form(NAME, "A design", tuple(pages))


def _block(name: str, asked: list[Field]) -> Block:
    first = asked[0]
    questions = tuple(_question(field) for field in asked)
    if not first.listed and not first.by_id:
        return Block(name, "DESIGN", questions)
    key = ID if first.by_id else NUMBER
    names = "" if first.by_id else "{}"
    return Block(
        name, name, questions, key, across=False, places=SPARE, names=names,
        listed=bool(first.listed), bare=first.by_id and not first.listed,
    )  # fmt: skip


def _question(field: Field) -> Question:
    keys = field.keys[field.listed :] if field.listed or field.by_id else field.name.split(".")
    unit = field.leaf.example.partition(" ")[2] if field.leaf.kind == "quantity" else ""
    made = question(field.name, title=".".join(keys).replace("_", " ").replace(".", " "))
    return made if unit or field.leaf.kind != "quantity" else replace(made, units=(PLAIN,))


def sized(records: Mapping[str, list[Record]]) -> Form:
    """The form for everything that a design can hold, with room for given records.

    Args:
        records: by the name of each block the records that it must hold.

    Returns:
        The form with `SPARE` more rows on each sheet than it has records.
    """
    form = whole()
    pages = tuple(
        replace(page, blocks=tuple(_roomy(block, records) for block in page.blocks))
        for page in form.pages
    )
    return replace(form, pages=pages)


def _roomy(block: Block, records: Mapping[str, list[Record]]) -> Block:
    many = len(records.get(block.name, ())) + SPARE
    return block if block.across else replace(block, places=many)


def records_of(document: Mapping[str, Any]) -> dict[str, list[Record]]:
    """All that a design states, to fill in the form for everything with.

    Args:
        document: the design as it was read, every value a text.

    Returns:
        By the name of each block its records, values as typed in the design's file. A value left to
        a plan is empty.
    """
    return {
        block.name: [*_records(block, document)] for page in whole().pages for block in page.blocks
    }


def _records(block: Block, document: Mapping[str, Any]) -> Iterator[Record]:
    asked = [fields()[one.to] for one in block.questions]
    section = document.get(asked[0].section) or {}
    if not block.key:
        values = {field.name: _text(document, (field.section, *field.keys)) for field in asked}
        yield Record("", _filled(values))
    elif not block.listed:
        for name, record in section.items():
            values = {field.name: _shown(record, field, field.keys) for field in asked}
            yield Record(name, _filled(values))
    else:
        named = section.items() if asked[0].by_id else [("", section)]
        for name, record in named:
            items = _found(record, asked[0].keys[: asked[0].listed]) or ()
            if isinstance(items, dict):  # lists by name, which is a part of each item
                items = [[of, *item] for of, own in items.items() for item in own]
            for number, item in enumerate(() if isinstance(items, str) else items, 1):
                yield Record(name or str(number), _filled(_item(item, asked)))


def _item(item: Any, asked: list[Field]) -> dict[str, str]:
    if isinstance(item, list):
        return {field.name: text for field, text in zip(asked, item, strict=False)}
    return {field.name: _text(item, field.keys[field.listed :]) for field in asked}


def _filled(values: Mapping[str, str]) -> dict[str, str]:
    return {to: text for to, text in values.items() if text}


def _shown(record: Any, field: Field, keys: tuple[str, ...]) -> str:
    text = _text(record, keys)
    # A value left to a plan is empty, because a workbook has no plan.
    return "" if text == "drawn" and field.leaf.drawn else text


def _found(holder: Any, way: tuple[str, ...]) -> Any:
    for key in way:
        holder = (holder or {}).get(key)
    return holder


def _text(holder: Any, way: tuple[str, ...]) -> str:
    found = _found(holder, way)
    if isinstance(found, list):  # a list of records has its own sheet
        return ", ".join(one for one in found if isinstance(one, str))
    return found or ""
