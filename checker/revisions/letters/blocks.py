"""A letter as blocks of plain text, which each format writes in its own way."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil
from typing import NamedTuple

from markupsafe import Markup


class Heading(NamedTuple):
    """A heading; level 1 is the letter's subject."""

    text: str
    level: int


class Text(NamedTuple):
    """A paragraph; quiet: less important."""

    text: str
    quiet: bool = False


class Table(NamedTuple):
    """A small table; its last columns hold numbers."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: int = 0


class Point(NamedTuple):
    """A numbered point: what it is, where, what to do and why; number: one or several."""

    number: str
    title: str
    places: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    quiet: str = ""


class Items(NamedTuple):
    """A list of sentences."""

    items: tuple[str, ...]
    quiet: bool = False


class Figure(NamedTuple):
    """A drawing with a description, for formats that can show it."""

    drawing: Markup
    says: str


Block = Heading | Text | Table | Point | Items | Figure

LINE, PAGE = 95, 46
"""Characters in a printed line, and lines on a page, of a letter on A4."""


def pages(blocks: Iterable[Block]) -> float:
    """How long a letter is when printed, without drawings.

    Args:
        blocks: the letter.

    Returns:
        Pages of A4, roughly, from the number of characters.
    """
    return sum(map(_lines, blocks)) / PAGE


def _lines(block: Block) -> float:
    match block:
        case Heading(_, level):
            return 3.5 - 0.5 * level
        case Text(text):
            return _wrapped(text) + 0.5
        case Table(_, rows):
            return 1.4 * (1 + len(rows))
        case Items(items):
            return sum(map(_wrapped, items)) + 0.5
        case Point(_, title, places, lines, quiet):
            every = (f"000. {title}", *places, *lines, *filter(None, (quiet,)))
            return sum(map(_wrapped, every)) + 0.5
        case Figure():
            return 0


def _wrapped(text: str) -> int:
    return max(1, ceil(len(text) / LINE))
