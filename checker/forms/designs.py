"""Converts a filled-in form for a house into a design, and a design into the form's records."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from checker.forms.declaring import forms, house
from checker.forms.model import Answer, Answered, Block, Form, Record
from checker.forms.reading import Answers, answers, form_of
from checker.intake.assembling import Assembled, Origin
from checker.intake.fields import fields
from checker.intake.sheets import Book, Remark, quoted
from checker.intake.values import typed
from checker.reading.cells import Spot
from checker.words import choices

Way = tuple[str, ...]


def form_in(book: Book) -> Form | None:
    """Which form of the design format a workbook is.

    Args:
        book: the sheets of the workbook.

    Returns:
        The form as the program makes it today; None where the workbook is none of them.
    """
    return form_of(book, forms())


def assembled(book: Book, form: Form) -> Assembled:
    """Read a design from a filled-in form.

    Args:
        book: the sheets of the workbook.
        form: the form that it is, from `form_in`.

    Returns:
        The design's records and values with the cell of each. A cell that cannot be used is among
        `refused`, one that belongs to no question among `unused`; of two that contradict one
        another neither is taken.
    """
    return _House(answers(book, form)).design()


class _House:
    """A design that is being put together from a form's answers."""

    def __init__(self, found: Answers) -> None:
        self.found = found
        self.out = Assembled(
            found.path,
            refused=found.refused,
            unused=found.unused,
            assumed=found.notes,
            cells_used=found.used,
            cells_unused=len(found.unused),
        )
        self.given: dict[Way, Answer] = {}
        self.in_items: list[tuple[tuple[str | int, ...], str, Answer, dict[str, Any]]] = []
        """References in items of lists: the way there, the section named, the answer, its item."""
        self.doubted: set[Way] = set()

    def design(self) -> Assembled:
        for block in self.found.form.blocks:
            for record in self.found.records.get(block.name, ()):
                self.record(block, record)
        for way in self.doubted:
            self.take_away(way)
        self.resolve()
        return self.out

    def record(self, block: Block, record: Answered) -> None:
        if block.listed:
            self.item(block, record)
            return
        if block.bare:
            section = block.questions[0].to.partition(".")[0]
            self.named(section, record.name, Answer(record.name, record.at), block)
        room = record.values.get("loops.room")
        for to, answer in record.values.items():
            section, _, keys = to.partition(".")
            if section == "rooms" and block.name != "rooms":
                if room is None:
                    self.refuse(answer, "belongs to a room; write the room's name in its row")
                    continue
                self.named("rooms", room.text, room, block)
                self.put(("rooms", room.text, *keys.split(".")), to, answer)
            elif block.key:
                own = Answer(record.name, record.at)
                self.named(section, record.name, own, block)
                self.put((section, record.name, *keys.split(".")), to, answer)
            else:
                self.put((section, "", *keys.split(".")), to, answer)
        if room is not None:
            self.named("rooms", room.text, room, block)

    def item(self, block: Block, record: Answered) -> None:
        """Add a row to the list of the record that it names."""
        first = fields()[block.questions[0].to]
        holder: dict[str, Any] = self.out.tree.setdefault(first.section, {})
        if first.by_id:
            if record.name not in holder:
                words = f"is not among the {first.section}; {choices(record.name, holder)}"
                self.refuse(Answer(record.name, record.at), words)
                return
            holder = holder[record.name]
        *way, last = first.keys[: first.listed]
        for key in way:
            holder = holder.setdefault(key, {})
        items = holder.setdefault(last, [])
        name = record.name if first.by_id else ""
        own: dict[str, Any] = {}
        for to, answer in record.values.items():
            field = fields()[to]
            *steps, key = field.keys[field.listed :]
            inner = own
            for step in steps:
                inner = inner.setdefault(step, {})
            inner[key] = typed(field.leaf, answer.text)
            spot: tuple[str | int, ...] = (first.section, name, *way, last, len(items), *steps, key)
            self.out.cells[spot] = _spot(answer)
            if field.leaf.kind == "reference":
                self.in_items.append((spot, field.leaf.refers_to, answer, inner))
        items.append(own)

    def named(self, section: str, name: str, answer: Answer, block: Block) -> None:
        """Add a record, and keep where its name was written."""
        self.out.tree.setdefault(section, {}).setdefault(name, {})
        self.out.cells.setdefault((section, name), _spot(answer))
        if not block.across:
            row = answer.at.row + 1
            origin = self.out.origins.setdefault((section, name), Origin(answer.at.sheet, []))
            if row not in origin.rows:
                origin.rows.append(row)

    def put(self, way: Way, to: str, answer: Answer) -> None:
        before = self.given.setdefault(way, answer)
        if before.text != answer.text:
            # Which of the two holds is not known, so neither is taken.
            self.doubted.add(way)
            self.refuse(answer, f"but {before.at} says {quoted(before.text)}; one of them is wrong")
            return
        if before is not answer:
            return
        section, name, *keys = way
        if keys == [""]:  # a list of words, which has no keys
            self.out.tree[section] = typed(fields()[to].leaf, answer.text)
            self.out.cells[section, ""] = _spot(answer)
            return
        holder: dict[str, Any] = self.out.tree.setdefault(section, {})
        if name:
            holder = holder[name]
        for key in keys[:-1]:
            holder = holder.setdefault(key, {})
        leaf = fields()[to.removeprefix("defaults.")].leaf
        holder[keys[-1]] = typed(leaf, answer.text)
        self.out.cells[way] = _spot(answer)

    def take_away(self, way: Way) -> None:
        section, name, *keys = way
        holder = self.out.tree[section]
        holder = holder[name] if name else holder
        for key in keys[:-1]:
            holder = holder[key]
        holder.pop(keys[-1], None)
        self.out.cells.pop(way, None)

    def resolve(self) -> None:
        """Remove each reference to a record that the form does not have, and refuse its cell."""
        for way, answer in self.given.items():
            section, _, *keys = way
            leaf = fields()[".".join((section, *filter(None, keys))).removeprefix("defaults.")].leaf
            known = self.out.tree.get(leaf.refers_to)
            if leaf.kind != "reference" or not known or answer.text in known:
                continue
            words = f"is not among the {leaf.refers_to}; {choices(answer.text, known)}"
            self.refuse(answer, words)
            self.take_away(way)
        for spot, section, answer, holder in self.in_items:
            known = self.out.tree.get(section)
            if known and answer.text not in known:
                words = f"is not among the {section}; {choices(answer.text, known)}"
                self.refuse(answer, words)
                holder.pop(str(spot[-1]), None)
                self.out.cells.pop(spot, None)

    def refuse(self, answer: Answer, words: str) -> None:
        at = answer.at
        column = at.address.rstrip("0123456789")
        self.out.refused.append(
            Remark(self.out.path, words, at.sheet, at.row + 1, column, quoted(answer.text))
        )


def _spot(answer: Answer) -> Spot:
    at = answer.at
    return Spot(at.sheet, at.row + 1, at.column + 1, at.address)


def records_of(document: Mapping[str, Any], form: Form | None = None) -> dict[str, list[Record]]:
    """What a design states of what a form asks, to fill the form in with.

    Args:
        document: the design as it was read, every value a text.
        form: the form; that for a house where None.

    Returns:
        By the name of each block its records, values as typed in the design's file. What belongs to
        a room is with the first loop of the room only.
    """
    form = form or house()
    found: dict[str, list[Record]] = {}
    seen: set[Way] = set()
    for block in form.blocks:
        first = block.questions[0].to.partition(".")[0]
        section = document.get(first) or {}
        if not block.key:
            values = {
                one.to: text for one in block.questions if (text := _text(document, one.to, ""))
            }
            found[block.name] = [Record("", values)] if values else []
            continue
        rows = []
        for name, record in section.items():
            values = {}
            for one in block.questions:
                own, _, keys = one.to.partition(".")
                way: Way = (own, name if own == first else record.get("room", ""), keys)
                text = _text(document, one.to, way[1])
                # What belongs to a room is shown with its first loop only.
                if text and way not in seen:
                    seen.add(way)
                    values[one.to] = text
            rows.append(Record(name, values))
        found[block.name] = rows
    return found


def _text(document: Mapping[str, Any], to: str, name: str) -> str:
    section, _, keys = to.partition(".")
    holder: Any = document.get(section)
    if name:
        holder = holder.get(name) if isinstance(holder, Mapping) else None
    for key in keys.split("."):
        holder = holder.get(key) if isinstance(holder, Mapping) else None
    return holder if isinstance(holder, str) else ""
