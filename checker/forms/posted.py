"""A form as the fields of a web page, and the answers that were typed into them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from checker.forms.declaring import truth
from checker.forms.model import Answer, Answered, Block, Cell, Form, Question, Record
from checker.forms.reading import Answers
from checker.intake.sheets import Remark, quoted
from checker.intake.values import Way, sole_mark, text_of, unmistakable

SPARE = 4
"""How many records without a name are offered in addition to the known ones."""
PAGE = "page"
"""The name of the sheet in the cells of such answers."""


class Field(NamedTuple):
    """One field: the name under which it is posted, its question, and its present value."""

    name: str
    question: Question
    value: str

    @property
    def unit(self) -> str:
        """The unit that a number without one is taken to have."""
        return self.question.units[0] if self.question.units else ""


class Fields(NamedTuple):
    """The fields of one record; name: empty where the block has only one record."""

    name: str
    fields: list[Field]


def records_of(block: Block, known: Sequence[Record]) -> list[Record]:
    """The records of a block that a page offers to fill in.

    Args:
        block: the block.
        known: its records that are known already.

    Returns:
        Those known, then up to `SPARE` empty ones under the block's usual names, as far as the
        block has places; one record without a name where the block has no names.
    """
    shown = [*known]
    if not block.key:
        return shown[:1] or [Record("", {})]
    names = {record.name for record in shown}
    for number in range(1, block.places + 1):
        name = block.names.format(number) if block.names else ""
        if name and name not in names and len(shown) < min(block.places, len(known) + SPARE):
            shown.append(Record(name, {}))
    return shown


def fields(block: Block, known: Sequence[Record]) -> list[Fields]:
    """The fields of a block on a page, filled in with what is known.

    Args:
        block: the block.
        known: its records that are known already, values as a design writes them.

    Returns:
        A record's fields for each that the page offers, in order.
    """
    return [
        Fields(
            record.name,
            [
                Field(_name(block, number, one), one, _shown(record.values.get(one.to, ""), one))
                for one in block.questions
            ],
        )
        for number, record in enumerate(records_of(block, known))
    ]


def answers(
    form: Form, known: Mapping[str, Sequence[Record]], posted: Mapping[str, str]
) -> Answers:
    """Read the fields of a page.

    Args:
        form: the form.
        known: by block, the records that the page was filled in with.
        posted: the text of each field, by its name.

    Returns:
        The answers; texts that cannot be used are among `refused`.
    """
    out = Answers(form, PAGE)
    for block in form.blocks:
        for number, record in enumerate(records_of(block, known.get(block.name, ()))):
            values = dict(_values(out, block, number, record, posted))
            if values:
                made = Answered(
                    record.name, Cell(block.title or block.name, number, 0, record.name)
                )
                made.values.update(values)
                out.records.setdefault(block.name, []).append(made)
                out.used += len(values)
    return out


def _values(
    out: Answers, block: Block, number: int, record: Record, posted: Mapping[str, str]
) -> Iterator[tuple[str, Answer]]:
    for one in block.questions:
        raw = " ".join(posted.get(_name(block, number, one), "").split())
        if one.fixed or not raw:
            continue
        at = Cell(block.title or block.name, number, 0, record.name)
        unit = one.units[0] if one.units else ""
        hint = "write it behind the number ({})"
        way = Way(unit, marks=sole_mark(raw), hint=hint, mapped=False)
        where = f"{record.name}: {one.title}" if record.name else one.title
        try:
            found = text_of(raw, one.leaf, way)
        except ValueError as error:
            out.refused.append(Remark(where, str(error)))
            continue
        if found.doubt:
            out.notes.append(f"{where}: {quoted(raw)}: {found.doubt}.")
        yield one.to, Answer(found.text, at)


def _name(block: Block, number: int, question: Question) -> str:
    return f"{block.name}/{number}/{question.to}"


def _shown(text: str, question: Question) -> str:
    if question.leaf.kind == "quantity":
        return unmistakable(text, question.leaf)
    return truth(text) if question.leaf.kind == "boolean" else text
