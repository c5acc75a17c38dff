"""Where the questions and answers of a form are in its workbook."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from checker.forms.model import Block, Cell, Form, Page, Record
from checker.intake.sheets import letters

FIRST_ANSWER = 2
"""The column of the first answer where records are side by side, after the title and the unit."""


@dataclass(frozen=True)
class Place:
    """Where the parts of a block are on its page; rows and columns from 0."""

    page: Page
    block: Block
    top: int

    @property
    def title(self) -> int:
        """The row of the title or, where records are rows, of the headings."""
        return self.top

    def answer(self, number: int, question: int) -> tuple[int, int]:
        """The cell of an answer.

        Args:
            number: the record, from 0.
            question: the question, from 0; -1 for the record's name.

        Returns:
            Row and column on the block's page, from 0.
        """
        if self.block.across:
            return self.top + 1 + question + bool(self.block.key), FIRST_ANSWER + number
        return self.top + 2 + number, question + 1

    def unit(self, question: int) -> tuple[int, int]:
        """The cell in which a question's unit is chosen.

        Args:
            question: the question, from 0.

        Returns:
            Row and column on the block's page, from 0.
        """
        if self.block.across:
            return self.top + 1 + question + bool(self.block.key), 1
        return self.top + 1, question + 1

    @property
    def after(self) -> int:
        """The first row after the block."""
        if self.block.across:
            return self.top + 2 + len(self.block.questions) + bool(self.block.key)
        return self.top + 2 + self.block.places

    def names(self) -> str:
        """The range of the records' names, as a formula writes it."""
        first, last = self.answer(0, -1), self.answer(self.block.places - 1, -1)
        return (
            f"{sheet_of(self)}${letters(first[1])}${first[0] + 1}:${letters(last[1])}${last[0] + 1}"
        )


def laid_out(form: Form) -> dict[str, Place]:
    """Where each block of a form is."""
    places = {}
    for page in form.pages:
        top = 3
        for block in page.blocks:
            places[block.name] = Place(page, block, top)
            top = places[block.name].after + 1
    return places


def cells_of(
    form: Form, records: Mapping[str, Sequence[Record]]
) -> dict[tuple[str, str, str], Cell]:
    """Where each answer is in the workbook of a form.

    Args:
        form: the form.
        records: by the name of each block the records that it is filled in with.

    Returns:
        The cell by block, record and question (its `to`; empty for the record's name).
    """
    found = {}
    for name, place in laid_out(form).items():
        for number, record in enumerate(records.get(name, ())):
            for at, to in enumerate(("", *(one.to for one in place.block.questions)), -1):
                row, column = place.answer(number, at)
                found[name, record.name, to] = Cell(
                    place.page.name, row, column, f"{letters(column)}{row + 1}"
                )
    return found


def sheet_of(place: Place) -> str:
    """The sheet of a block, as a formula writes it before a cell.

    Args:
        place: where the block is.

    Returns:
        The sheet's name in quotation marks with an exclamation mark: `'Rooms'!`.
    """
    name = place.page.name.replace("'", "''")
    return f"'{name}'!"
