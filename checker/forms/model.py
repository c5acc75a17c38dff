"""What a form asks, as data, and what somebody answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from checker.design.leaves import Leaf

MARK = "prescreed form"
"""The first cell of a form's hidden sheet; the form's name and version are beside it."""
HIDDEN = "prescreed"
"""The name of the hidden sheet."""
MISSING = "missing"
"""The name of the forms that ask for missing data, which a review sends out."""
CARRIED = 4
"""The first column of the hidden sheet in which a form keeps texts for whoever reads it back."""

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
"""The units to choose from, for the unit in a field's example."""


@dataclass(frozen=True, eq=False)
class Question:
    """One question of a form.

    to: where the answer goes, a name that the form's reader knows, such as `loops.spacing`; leaf:
    its type, bounds and choices; units: the units to choose from, the usual one first; names: the
    block whose records' names are the choices; decides: whether much depends on it; fixed: whether
    it only shows a value, so that its cells are not read.
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
        """The words to choose from, where there are any."""
        if self.leaf.kind == "boolean":
            return (*self.words,) or ("yes", "no")
        named = {*self.words.values()}
        return (*self.words, *(one for one in self.leaf.options if one not in named))

    def shown(self, text: str) -> str:
        """An answer in the words that the form offers.

        Args:
            text: the answer as a design writes it.

        Returns:
            The question's own word for it where it has one; else the text.
        """
        return next((word for word, own in self.words.items() if own == text), text)


class Check(NamedTuple):
    """A check that the workbook itself makes in each row, with the words for a row that fails it.

    twice: questions whose answers together may occur in one row only; about, of: a length that
    should be an area over a spacing, plus feeds.
    """

    says: str
    twice: tuple[str, ...] = ()
    about: str = ""
    of: tuple[str, ...] = ()


@dataclass(frozen=True)
class Block:
    """Questions that belong together, about one record or several.

    name: by which the form's reader finds the answers; key: the title of the records' names, empty
    where there is one record without a name; across: whether records are side by side; places: how
    many records fit; names: the records' names in advance, with `{}` for a number; listed: whether
    rows with the same name are items of one record's list; bare: whether a name alone makes a
    record; only: the cells that may be changed, by record and question (None: all).
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
        """Whether a cell of the block may be changed.

        Args:
            record: the number of the record, from 0.
            to: where the question's answer goes, as in `Question.to`.

        Returns:
            True for every cell where the block does not name its open ones.
        """
        return self.only is None or (record, to) in self.only

    def question(self, to: str) -> Question:
        """One of the block's questions.

        Args:
            to: where its answer goes, as in `Question.to`.

        Returns:
            The first question with this name.

        Raises:
            KeyError: the block has none.
        """
        for one in self.questions:
            if one.to == to:
                return one
        raise KeyError(to)


@dataclass(frozen=True)
class Page:
    """A sheet of a form: blocks of records side by side, one below another, or one block of
    rows.
    """

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
"""The texts of a form besides its titles and notes."""


@dataclass(frozen=True)
class Form:
    """A whole form.

    example: records by block that show how to fill it in; carried: texts that the workbook keeps
    for whoever reads it back, row by row; words: texts that replace those in WORDS.
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
        """One of the form's texts besides its titles and notes, its placeholders filled in.

        Args:
            key: the text's key in WORDS.
            **filled: what replaces each placeholder, by its name.

        Returns:
            The text in the form's words.
        """
        return self.words[key].format(**filled)

    @property
    def blocks(self) -> tuple[Block, ...]:
        """All blocks, page by page."""
        return tuple(block for page in self.pages for block in page.blocks)

    def block(self, name: str) -> Block:
        """One of the form's blocks.

        Args:
            name: as in `Block.name`.

        Returns:
            The first block with this name, on any page.

        Raises:
            KeyError: the form has none.
        """
        for one in self.blocks:
            if one.name == name:
                return one
        raise KeyError(name)


class Record(NamedTuple):
    """The answers about one record that are known in advance, as a design writes them: `88 m`,
    `true`.
    """

    name: str
    values: Mapping[str, str]


class Cell(NamedTuple):
    """A cell of a workbook: its sheet, row and column (both from 0), and its address."""

    sheet: str
    row: int
    column: int
    address: str

    def __str__(self) -> str:
        return f"{self.sheet} {self.address}"


class Answer(NamedTuple):
    """One answer as a design writes it, and its cell."""

    text: str
    at: Cell


@dataclass
class Answered:
    """The answers about one record; at: the cell of its name, or of its first answer."""

    name: str
    at: Cell
    values: dict[str, Answer] = field(default_factory=dict)
