"""A letter as blocks, which each format writes in its own way. All texts are plain."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil
from typing import NamedTuple

from markupsafe import Markup


class Heading(NamedTuple):
    """A heading; level: 1 for the letter's subject."""

    text: str
    level: int


class Text(NamedTuple):
    """A paragraph; quiet: of less weight."""

    text: str
    quiet: bool = False


class Table(NamedTuple):
    """A small table; the cells of the last columns are numbers."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: int = 0


class Point(NamedTuple):
    """A numbered point: what it is, where it stands, what to do, why; number: one or several."""

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
    """A drawing, for formats that can show one, and what it shows."""

    drawing: Markup
    says: str


Block = Heading | Text | Table | Point | Items | Figure

LINE, PAGE = 95, 46
"""Signs that a printed line holds, and lines that a page does, as letters are printed on A4."""


def pages(blocks: Iterable[Block]) -> float:
    """About how many pages a letter has in print, drawings left out."""
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
