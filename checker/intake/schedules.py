"""A design as a workbook, one sheet a table, and the map that reads such a workbook back."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import IO, Any, NamedTuple

from checker.intake.fields import Field, fields
from checker.intake.maps import Map, load
from checker.intake.sheets import Book, figure
from checker.intake.writing import scalar

WIDEST = 40
"""Characters of the widest column."""
_NUMBER = re.compile(r"(-?[0-9]+(?:\.[0-9]+)?)(?: (.+))?")


class Page(NamedTuple):
    """One sheet of a schedule: its name, the section whose ids it has, its fields."""

    name: str
    section: str
    fields: tuple[Field, ...]


@cache
def pages() -> tuple[Page, ...]:
    """The sheets: what stands once, then a sheet a section, then a sheet a list within one."""
    single = [f for f in fields().values() if not f.by_id and not f.listed]
    found = {"design": Page("design", "", tuple(single))}
    lists: dict[str, Page] = {}
    for field in fields().values():
        if field.listed:
            name = " ".join((field.section, *field.keys[: field.listed])).replace("_", " ")
            section = field.section if field.by_id else ""
            page = lists.get(name, Page(name, section, ()))
            lists[name] = page._replace(fields=(*page.fields, field))
        elif field.by_id:
            page = found.get(field.section, Page(field.section, field.section, ()))
            found[field.section] = page._replace(fields=(*page.fields, field))
    return (*found.values(), *lists.values())


PLAIN = "1"


def heading(page: Page, field: Field) -> str:
    """A column's heading: the field, and the unit of plain numbers in it."""
    keys = field.keys[field.listed :] if field.listed else field.keys
    words = field.name if not page.section and not field.listed else ".".join(keys)
    words = words.replace("_", " ").replace(".", " ")
    own = unit(field) if field.leaf.kind == "quantity" else PLAIN
    return words if own == PLAIN else f"{words} [{own}]"


def unit(field: Field) -> str:
    """The unit of a column of plain numbers; 1 of one that has none, such as a pH."""
    return field.leaf.example.partition(" ")[2] or PLAIN


def own_map_text() -> str:
    """The map of a schedule as a map file."""
    lines = ["map: 1", "sheets:"]
    for page in pages():
        lines.append(f"  - {{sheet: {scalar(page.name)}, optional: true, header_row: 1,")
        if page.section:
            lines.append(f"     ids: {{{page.section}: '{{id}}'}},")
        lines.append("     columns: [")
        for field in page.fields:
            own = f", unit: {scalar(unit(field))}" if field.leaf.kind == "quantity" else ""
            lines.append(
                f"       {{heading: {scalar(heading(page, field))}, field: {field.name}{own}}},"
            )
        lines.append("     ]}")
    return "\n".join(lines) + "\n"


def is_schedule(book: Book) -> bool:
    """Whether a workbook is one that `write` has written, filled in or not."""
    names = [page.name for page in pages()]
    own = [sheet.name for sheet in book.sheets]
    known = {page.name: page for page in pages()}
    return (
        not book.single
        and bool(own)
        and set(own) <= set(names)
        and all(
            sheet.value(0, 0) == ("id" if known[sheet.name].section else
                                  heading(known[sheet.name], known[sheet.name].fields[0]))
            for sheet in book.sheets
        )
    )  # fmt: skip


@cache
def own_map() -> Map:
    """The map that reads what `write` has written."""
    return load("of 'prescreed schedule'", own_map_text().encode())


def rows(page: Page, document: dict[str, Any]) -> Iterator[list[str]]:
    """The texts of each row of a sheet; the id first where the section has ids."""
    if not page.section:
        yield from _rows_of(page, document, [])
        return
    for name, record in (document.get(page.section) or {}).items():
        yield from _rows_of(page, record, [name])


def _rows_of(page: Page, record: Any, before: list[str]) -> Iterator[list[str]]:
    listed = page.fields[0].listed
    if not listed:
        texts = [_text(record, _way(page, field)) for field in page.fields]
        # What is left to a plan stays empty, for a workbook holds none.
        texts = [
            "" if text == "drawn" and field.leaf.drawn else text
            for text, field in zip(texts, page.fields, strict=True)
        ]
        if before or any(texts):
            yield [*before, *texts]
        return
    first = page.fields[0]
    way = first.keys[:listed] if page.section else (first.section, *first.keys[:listed])
    items = _found(record, way) or ()
    for item in () if isinstance(items, str) else items:
        if isinstance(item, list):
            yield [*before, *item]
        else:
            yield [*before, *(_text(item, field.keys[listed:]) for field in page.fields)]


def _way(page: Page, field: Field) -> tuple[str, ...]:
    return field.keys if page.section else (field.section, *field.keys)


def _found(holder: Any, way: tuple[str, ...]) -> Any:
    for key in way:
        holder = (holder or {}).get(key)
    return holder


def _text(holder: Any, way: tuple[str, ...]) -> str:
    found = _found(holder, way)
    if isinstance(found, list):  # of records it has a sheet of its own
        return ", ".join(one for one in found if isinstance(one, str))
    return found or ""


def write(file: IO[bytes] | Path, document: dict[str, Any]) -> None:
    """Write the workbook of a design, as typed in its file.

    A text never becomes a formula, whatever it starts with: it is stored as a text.
    """
    from checker.words.workbook import workbook

    book = workbook(file)
    bold = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    for page in pages():
        sheet = book.add_worksheet(page.name)
        heads = [*(["id"] if page.section else []), *(heading(page, f) for f in page.fields)]
        widths = [len(head) // 2 + 4 for head in heads]
        for column, head in enumerate(heads):
            sheet.write_string(0, column, head, bold)
        units = [*([""] if page.section else []), *(_unit_of(f) for f in page.fields)]
        for row, texts in enumerate(rows(page, document), 1):
            for column, (text, own) in enumerate(zip(texts, units, strict=False)):
                number = _number(text, own)
                if number is not None:
                    sheet.write_number(row, column, number)
                elif text:
                    sheet.write_string(row, column, text)
                widths[column] = min(WIDEST, max(widths[column], len(text) + 2))
        for column, width in enumerate(widths):
            sheet.set_column(column, column, width)
        sheet.freeze_panes(1, 1 if page.section else 0)
    from xlsxwriter.exceptions import FileCreateError

    try:
        book.close()
    except FileCreateError as error:
        raise OSError(0, str(error)) from None


def _unit_of(field: Field) -> str:
    if field.leaf.kind == "quantity":
        return unit(field)
    return "\0" if field.leaf.kind == "integer" else ""


def _number(text: str, own: str) -> float | None:
    """The number of a text in the column's unit, where a cell keeps it exactly."""
    match = _NUMBER.fullmatch(text) if own else None
    if match is None or (match[2] or "\0") != own:
        return None
    value = float(match[1])
    return value if float(figure(value)) == value else None
