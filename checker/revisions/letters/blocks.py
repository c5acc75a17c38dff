"""A letter as blocks, which each format writes in its own way. All texts are plain."""

from __future__ import annotations

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
    """A numbered point: what it is, where it stands, what to do, why; number 0 for none."""

    number: int
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
