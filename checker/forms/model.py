"""What a form asks, as data, and what somebody answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from checker.design.leaves import Leaf

MARK = "prescreed form"
"""What the first cell of a form's hidden sheet holds; the form's name and version stand beside."""
HIDDEN = "prescreed"
"""The name of that sheet."""
MISSING = "missing"
"""The name of the forms for what a design lacks, which a review sends out."""
CARRIED = 4
"""The first of its columns in which a form keeps what it brings back."""

UNITS: Mapping[str, tuple[str, ...]] = {
    "m": ("m", "ft"),
    "mm": ("mm", "cm", "in"),
    "m²": ("m²", "ft²"),
    "W": ("W", "kW", "Btu/h"),
    "°C": ("°C", "°F"),
    "K": ("K", "°F"),
    "l/min": ("l/min", "l/h", "m³/h", "gpm"),
    "bar": ("bar", "kPa", "psi"),
    "kPa": ("kPa", "mbar", "bar", "psi"),
    "m²·K/W": ("m²·K/W", "ft²·°F·h/Btu"),
    "W/(m·K)": ("W/(m·K)", "Btu·in/(h·ft²·°F)"),
    "%": ("%",),
    "min": ("min", "h"),
    "day": ("day",),
}
"""For the unit that a field's example has, those to choose from."""


@dataclass(frozen=True, eq=False)
class Question:
    """One thing that is asked for.

    to: where the answer goes, a name that the reader of the form knows, such as `loops.spacing`;
    leaf: its kind, bounds and choices; units: to choose from, the usual first; names: the block
    whose records' names are the choices; decides: whether much hangs on it; fixed: it is told, not
    asked, and its cells are not read.
    """

    to: str
    title: str
    leaf: Leaf
    note: str = ""
    units: tuple[str, ...] = ()
    example: str = ""
    names: str = ""
    decides: bool = False
    fixed: bool = False
    words: Mapping[str, str] = field(default_factory=dict)

    @property
    def options(self) -> tuple[str, ...]:
        """The words to choose from, where there are such."""
        if self.leaf.kind == "boolean":
            return (*self.words,) or ("yes", "no")
        named = {*self.words.values()}
        return (*self.words, *(one for one in self.leaf.options if one not in named))

    def shown(self, text: str) -> str:
        """An answer as the form shows it."""
        return next((word for word, own in self.words.items() if own == text), text)


class Check(NamedTuple):
    """What the workbook itself looks at in each row, and says where it is not so.

    twice: questions whose answers together stand in one row only; about, and of: a length that is
    an area over a spacing, and the feeds besides.
    """

    says: str
    twice: tuple[str, ...] = ()
    about: str = ""
    of: tuple[str, ...] = ()


@dataclass(frozen=True)
class Block:
    """Questions that belong together, asked of one record or of several.

    only: the cells that are open, by the record's place and question, all others being locked;
    None for all.
    name: by which the reader finds its answers; key: the title under which records have their
    names, empty where there is one record without; across: whether records stand side by side;
    places: how many there is room for; names: what records are called beforehand, `{}` for a
    number; listed: whether rows of one name are items of one record's list; bare: whether a name
    alone is a record.
    """

    name: str
    title: str
    questions: tuple[Question, ...]
    key: str = ""
    across: bool = True
    places: int = 1
    names: str = ""
    note: str = ""
    checks: tuple[Check, ...] = ()
    only: frozenset[tuple[int, str]] | None = None
    listed: bool = False
    bare: bool = False

    def asks(self, record: int, to: str) -> bool:
        """Whether this cell is open."""
        return self.only is None or (record, to) in self.only

    def question(self, to: str) -> Question:
        """The question whose answer goes there; raises KeyError."""
        for one in self.questions:
            if one.to == to:
                return one
        raise KeyError(to)


@dataclass(frozen=True)
class Page:
    """A sheet: blocks of records side by side one below another, or one block of rows."""

    name: str
    title: str
    blocks: tuple[Block, ...]
    note: str = ""


WORDS: Mapping[str, str] = {
    "one_of": "One of: {options}.",
    "for_example": "For example: {example}",
    "choose": "Choose one of the list.",
    "whole": "A whole number, {least} to {most}.",
    "number": "A number from {least} to {most}, in the unit chosen; or a number with a unit of its "
    "own.",
    "day": "A date, such as 2026-03-12.",
    "unit": "Unit",
}
"""What a form says of its own beside titles and notes."""


@dataclass(frozen=True)
class Form:
    """A whole form.

    example: records by block that show how it is filled in; carried: texts that the workbook brings
    back, row by row; words: what stands in the place of WORDS.
    """

    name: str
    title: str
    pages: tuple[Page, ...]
    version: int = 1
    example: Mapping[str, tuple[Record, ...]] = field(default_factory=dict)
    carried: tuple[tuple[str, ...], ...] = ()
    words: Mapping[str, str] = field(default_factory=lambda: WORDS)

    @property
    def locked(self) -> bool:
        """Whether some cells must not be changed."""
        return any(block.only is not None for block in self.blocks)

    def says(self, key: str, **filled: object) -> str:
        """One of its words."""
        return self.words[key].format(**filled)

    @property
    def blocks(self) -> tuple[Block, ...]:
        """All blocks, page by page."""
        return tuple(block for page in self.pages for block in page.blocks)

    def block(self, name: str) -> Block:
        """The block of this name; raises KeyError."""
        for one in self.blocks:
            if one.name == name:
                return one
        raise KeyError(name)


class Record(NamedTuple):
    """The answers known of one record beforehand, as a design writes them: `88 m`, `true`."""

    name: str
    values: Mapping[str, str]


class Cell(NamedTuple):
    """A place in a workbook: sheet, row and column, both from 0, and how a person calls it."""

    sheet: str
    row: int
    column: int
    address: str

    def __str__(self) -> str:
        return f"{self.sheet} {self.address}"


class Answer(NamedTuple):
    """One answer as a design writes it, and where it stands."""

    text: str
    at: Cell


@dataclass
class Answered:
    """What one record's answers are; at: where its name stands, or its first answer."""

    name: str
    at: Cell
    values: dict[str, Answer] = field(default_factory=dict)
