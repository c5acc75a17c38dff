"""Letters and the reviewer's overview as Markdown, HTML and other formats, all without a network.

Text from a design or a sheet never becomes markup.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING

from checker.reports.chart_parts import STYLE
from checker.reports.markdown import plain
from checker.revisions.letters.composing import Head, composed
from checker.revisions.letters.wording import english
from checker.revisions.letters.writing import as_docx, as_html, as_markdown, as_text
from checker.words.templates import templates

if TYPE_CHECKING:
    from jinja2 import Environment

    from checker.reading.mistakes import Unreadable
    from checker.revisions.letters.blocks import Block
    from checker.revisions.letters.wording import Words
    from checker.revisions.overview_files import Picture
    from checker.revisions.reviewing import Letter
    from checker.revisions.tallies import Table


def letter_markdown(letter: Letter, head: Head = Head(), words: Words | None = None) -> str:  # noqa: B008  # frozen
    """A letter as Markdown.

    Args:
        letter: its content.
        head: the letterhead; nothing where it is left out.
        words: the wording; English where None.

    Returns:
        The whole letter.
    """
    return as_markdown(composed(letter, head, words).blocks)


def letter_html(letter: Letter, head: Head = Head(), words: Words | None = None) -> str:  # noqa: B008  # frozen
    """A letter as a page to print or send.

    Args:
        letter: its content.
        head: the letterhead; nothing where it is left out.
        words: the wording; English where None.

    Returns:
        The whole page, which needs no network.
    """
    said = words or english()
    return as_html(composed(letter, head, words).blocks, said("subject", to=letter.to))


FORMATS = ("markdown", "html", "text", "docx")
ENDS = {"markdown": "md", "html": "html", "text": "txt", "docx": "docx"}
"""The file endings of each format."""


def written(blocks: tuple[Block, ...], title: str, wanted: str) -> bytes:
    """Write blocks in one of the formats of letters.

    Args:
        blocks: the letter, or another paper made of blocks.
        title: the title of a page.
        wanted: one of FORMATS.

    Returns:
        The bytes of the file.

    Raises:
        Unwritable: a library that the format needs is not installed.
    """
    if wanted == "docx":
        return as_docx(blocks)
    if wanted == "html":
        return as_html(blocks, title).encode()
    return (as_text(blocks) if wanted == "text" else as_markdown(blocks)).encode()


def overview_markdown(
    tables: list[Table],
    letters: list[tuple[str, str]],
    unreadable: list[Unreadable],
    ends: Sequence[str] = ("md", "html"),
) -> str:
    """The reviewer's overview as Markdown.

    Args:
        tables: its tables.
        letters: each addressee, with the name of the letter's file without its ending.
        unreadable: the files that could not be read.
        ends: the endings of the letters' files, each with a link.

    Returns:
        The whole text; what comes from a design never becomes markup.
    """
    lines = ["# Review", ""]
    for problem in unreadable:
        where = problem.place
        lines.append(f"- **Could not be read:** {plain(where)}: {plain(problem.message)}")
    lines += ["", "## Letters", ""]
    for to, name in letters:
        links = ", ".join(f"[{name}.{end}]({name}.{end})" for end in ends)
        lines.append(f"- {plain(to)}: {links}")
    for table in tables:
        lines += ["", f"## {table.title}", ""]
        if not table.rows:
            lines.append(table.empty)
            continue
        lines.append("| " + " | ".join(plain(head) for head in table.heads) + " |")
        lines.append("|---" * len(table.heads) + "|")
        lines += ["| " + " | ".join(plain(cell) for cell in row) + " |" for row in table.rows]
    return "\n".join(lines) + "\n"


def overview_html(
    tables: list[Table],
    letters: list[tuple[str, str]],
    unreadable: list[Unreadable],
    ends: Sequence[str] = ("md", "html"),
    pictures: Sequence[Picture] = (),
) -> str:
    """The reviewer's overview as a page.

    Args:
        tables: its tables.
        letters: each addressee, with the name of the letter's file without its ending.
        unreadable: the files that could not be read.
        ends: the endings of the letters' files, each with a link.
        pictures: its pictures, before the tables.

    Returns:
        The whole page, which needs no network; all text from a design is escaped.
    """
    return (
        _environment()
        .get_template("overview.html")
        .render(
            tables=tables,
            letters=letters,
            unreadable=unreadable,
            ends=ends,
            pictures=pictures,
            style=STYLE,
        )
    )


@cache
def _environment() -> Environment:
    """The templates; all text from a design is escaped."""
    return templates("checker.revisions.letters", ".")
