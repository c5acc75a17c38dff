"""Writes letters in the formats that people send: Markdown, HTML, plain text, DOCX; and the
annex.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING, Any

from checker.reports.markdown import plain
from checker.revisions.letters.blocks import Block, Figure, Heading, Items, Point, Table, Text
from checker.revisions.letters.composing import Composed, Row
from checker.revisions.letters.wording import Words
from checker.run.writer import Unwritable
from checker.words import visible
from checker.words.extras import needs
from checker.words.templates import templates

if TYPE_CHECKING:
    from jinja2 import Environment

WIDTH = 78


def as_markdown(blocks: Iterable[Block]) -> str:
    """A letter as Markdown; text from a design never becomes markup.

    Args:
        blocks: the letter; drawings are left out.

    Returns:
        The whole text.
    """
    return "\n".join(line for block in blocks for line in (*_markdown(block), "")).rstrip() + "\n"


def _markdown(block: Block) -> Iterator[str]:
    match block:
        case Heading(text, level):
            yield f"{'#' * level} {plain(text)}"
        case Text(text):
            yield plain(text)
        case Table(heads, rows, numbers):
            yield "| " + " | ".join(map(plain, heads)) + " |"
            left = len(heads) - numbers
            yield "|" + "---|" * left + "---:|" * numbers
            yield from ("| " + " | ".join(map(plain, row)) + " |" for row in rows)
        case Items(items):
            yield from (f"- {plain(item)}" for item in items)
        case Point(number, title, places, lines, quiet):
            yield f"**{number}.** **{plain(title)}**"
            yield from (f"- {plain(place)}" for place in places)
            yield from (f"  {plain(line)}  " if places else f"{plain(line)}  " for line in lines)
            if quiet:
                yield f"  {plain(quiet)}" if places else plain(quiet)
        case Figure():
            return


def as_text(blocks: Iterable[Block]) -> str:
    """A letter as plain text, for an e-mail.

    Args:
        blocks: the letter; of a drawing only its description is written.

    Returns:
        Lines of up to `WIDTH` characters.
    """
    return "\n".join(line for block in blocks for line in (*_text(block), "")).rstrip() + "\n"


def _text(block: Block) -> Iterator[str]:
    match block:
        case Heading(text, level):
            yield from _wrapped(text.upper() if level == 1 else text)
            yield ("=" if level < 3 else "-") * min(WIDTH, len(text))
        case Text(text):
            yield from _wrapped(text)
        case Table(heads, rows):
            for row in rows:
                line = "; ".join(f"{h}: {c}" for h, c in zip(heads, row, strict=True))
                yield from _wrapped(line, "- ")
        case Items(items):
            for item in items:
                yield from _wrapped(item, "- ")
        case Point(number, title, places, lines, quiet):
            yield from _wrapped(title, f"{number}. ")
            for place in places:
                yield from _wrapped(place, "   - ")
            for line in (*lines, quiet):
                yield from _wrapped(line, "   ")
        case Figure(_, says):
            yield from _wrapped(says)


def _wrapped(text: str, first: str = "") -> list[str]:
    return textwrap.wrap(
        visible(text), WIDTH, initial_indent=first, subsequent_indent=" " * len(first)
    )


def as_html(blocks: Iterable[Block], title: str) -> str:
    """A letter as a page to print or send; all text from a design is escaped.

    Args:
        blocks: the letter, with its drawings.
        title: the title of the page.

    Returns:
        The whole page, which needs no network.
    """
    named = [(type(block).__name__, block) for block in blocks]
    return _environment().get_template("letter.html").render(blocks=named, title=title)


@cache
def _environment() -> Environment:
    return templates("checker.revisions.letters", ".")


def as_docx(blocks: Iterable[Block]) -> bytes:
    """A letter for a word processor.

    Args:
        blocks: the letter; of a drawing only its description is written.

    Returns:
        The bytes of the file, the same for the same letter.

    Raises:
        Unwritable: python-docx is not installed.
    """
    try:
        import docx
        from docx.shared import Pt
    except ImportError:
        raise Unwritable(f"a letter as docx {needs('letters')}") from None
    made = docx.Document()
    _on_paper(made)
    for block in blocks:
        match block:
            case Heading(text, level):
                made.add_heading(visible(text), level)
            case Text(text):
                made.add_paragraph(visible(text))
            case Table(heads, rows):
                table = made.add_table(rows=1, cols=len(heads))
                for cell, head in zip(table.rows[0].cells, heads, strict=True):
                    cell.text = visible(head)
                for row in rows:
                    for cell, text in zip(table.add_row().cells, row, strict=True):
                        cell.text = visible(text)
            case Items(items):
                for item in items:
                    made.add_paragraph(visible(item), style="List Bullet")
            case Point(number, title, places, lines, quiet):
                titled = made.add_paragraph()
                titled.paragraph_format.space_before = Pt(6)
                titled.paragraph_format.keep_with_next = True
                titled.add_run(visible(f"{number}. {title}")).bold = True
                for place in places:
                    made.add_paragraph(visible(place), style="List Bullet")
                for line in (*lines, quiet):
                    if line:
                        made.add_paragraph(visible(line))
            case Figure(_, says):
                made.add_paragraph(visible(says))
    # The day of the file is no part of the letter: the same letter is the same bytes.
    from datetime import datetime

    made.core_properties.created = made.core_properties.modified = datetime(2000, 1, 1)
    written = BytesIO()
    made.save(written)
    return written.getvalue()


def _on_paper(made: Any) -> None:
    """A4 with narrow spacing, so that a long letter takes few pages."""
    from docx.shared import Mm, Pt

    page = made.sections[0]
    page.page_width, page.page_height = Mm(210), Mm(297)
    page.left_margin = page.right_margin = Mm(20)
    page.top_margin = page.bottom_margin = Mm(18)
    for style in ("Normal", "List Bullet"):
        made.styles[style].font.size = Pt(10)
        gaps = made.styles[style].paragraph_format
        gaps.space_after, gaps.space_before, gaps.line_spacing = Pt(2), Pt(0), 1.0


def annex(made: Composed, words: Words) -> bytes:
    """Every place of every point, and every design, as a workbook; texts never become formulas.

    Args:
        made: the letter with the rows of its annex.
        words: the wording, for the headings.

    Returns:
        The bytes of an .xlsx file.
    """
    from checker.words.workbook import list_sheet, workbook

    written = BytesIO()
    book = workbook(written)
    sheet = book.add_worksheet("Points", list_sheet())
    bold = book.add_format({"bold": True})
    sheet.write_row(0, 0, words.heads("annex_heads"), bold)
    sheet.lines([(row.number, *map(str, row[1:])) for row in made.rows])
    sheet.freeze_panes(1, 0)
    sheet.autofilter(0, 0, len(made.rows), len(Row._fields) - 1)
    for column, width in enumerate((9, 24, 10, 40, 12, 24, 18, 22, 22, 60)):
        sheet.set_column(column, column, width)
    sheet = book.add_worksheet("Designs")
    for number, texts in enumerate((words.heads("annex_designs"), *made.designs)):
        for column, text in enumerate(texts):
            sheet.write_string(number, column, text, bold if number == 0 else None)
    sheet.freeze_panes(1, 0)
    for column, width in enumerate((30, 10, 30, 60, 12, 12, 40)):
        sheet.set_column(column, column, width)
    book.close()
    return written.getvalue()
