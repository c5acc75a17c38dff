"""Reads a filled-in form back: every answer with its sheet and cell.

A sheet is found by its name and a question by its title, so that rows and columns may be moved or
added. Nothing is dropped silently: what is not an answer is reported.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from checker.forms.model import (
    CARRIED,
    HIDDEN,
    MARK,
    Answer,
    Answered,
    Block,
    Cell,
    Form,
    Page,
    Question,
)
from checker.intake.guessing import vocabulary
from checker.intake.sheets import Book, Remark, Sheet, Value, alike, letters, plain, quoted
from checker.intake.totals import summary
from checker.intake.units_written import known_unit
from checker.intake.values import Way, sole_mark, text_of

EXAMPLE = "example "
"""How the names of sheets begin that show how to fill in the form."""
CHECKED = "Look at"
"""The heading of the column in which the workbook says what looks wrong."""
MOST_LISTED = 12


@dataclass
class Answers:
    """The content of a filled-in form.

    records: by block, the records with an answer, in order; refused: cells that could not be used,
    and why; unused: cells that belong to no question; notes: further remarks.
    """

    form: Form
    path: str
    records: dict[str, list[Answered]] = field(default_factory=dict)
    refused: list[Remark] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    used: int = 0

    def only(self, block: str) -> Mapping[str, Answer]:
        """The answers of a block that has one record.

        Args:
            block: the block's name.

        Returns:
            By question (its `to`) the answer with its cell; empty where nothing was answered.
        """
        found = self.records.get(block)
        return found[0].values if found else {}


def form_of(book: Book, known: Mapping[str, Form]) -> Form | None:
    """Which of several forms a workbook is, by its hidden sheet.

    Args:
        book: the sheets of the workbook.
        known: the forms that it may be, by name.

    Returns:
        The form; None where the workbook is none of these, or no form at all.
    """
    for sheet in book.sheets:
        if sheet.name == HIDDEN and plain(sheet.value(0, 0)) == MARK:
            return known.get(plain(sheet.value(0, 1)))
    return None


def carried(book: Book, name: str) -> list[list[str]] | None:
    """The texts that a form's workbook keeps for its reader.

    Args:
        book: the sheets of the workbook.
        name: the form's name.

    Returns:
        The texts, row by row; None where the workbook is not this form.
    """
    for sheet in book.sheets:
        if sheet.name == HIDDEN and (plain(sheet.value(0, 0)), plain(sheet.value(0, 1))) == (
            MARK,
            name,
        ):
            return [
                [plain(value) for value in row[CARRIED:]]
                for row in sheet.rows
                if any(value != "" for value in row[CARRIED:])
            ]
    return None


def answers(book: Book, form: Form) -> Answers:
    """Read a workbook as a filled-in form.

    Args:
        book: the sheets of the workbook.
        form: the form that it is; a sheet is found by its name, a question by its title.

    Returns:
        The answers with their cells. What cannot be used, sheets and parts that are gone too, is
        among `refused`; cells that belong to no question are among `unused`.
    """
    out = Answers(form, book.path, notes=[f"{note[0].upper()}{note[1:]}." for note in book.notes])
    pages = {alike(page.name): page for page in form.pages}
    for sheet in book.sheets:
        page = pages.get(alike(sheet.name))
        if page is not None:
            _Sheet(out, sheet, page).read()
        elif sheet.name != HIDDEN and not alike(sheet.name).startswith(EXAMPLE):
            count = sum(1 for _ in sheet.filled())
            if count:
                out.unused.append(f"Sheet '{sheet.name}': {count} cells.")
    there = {alike(sheet.name) for sheet in book.sheets}
    for name, page in pages.items():
        if name not in there:
            out.refused.append(Remark(book.path, f"the form's sheet '{page.name}' is gone"))
    return out


@cache
def _words_of_the_trade(to: str) -> dict[str, str]:
    """What people call the choices of a question, in several languages."""
    known = vocabulary()["words"].get(to.removeprefix("defaults."), {})
    return {alike(word): option for option, words in known.items() for word in words}


class _Sheet:
    """One sheet of a form that is being read."""

    def __init__(self, out: Answers, sheet: Sheet, page: Page) -> None:
        self.out = out
        self.sheet = sheet
        self.page = page
        self.seen: set[tuple[int, int]] = set()

    def read(self) -> None:
        titles = self.titles()
        for block in self.page.blocks:
            if block.across:
                self.across(block, titles)
            else:
                self.down(block)
        self.leftovers()

    def titles(self) -> dict[str, int]:
        """The row of each title in the first column; the first of several."""
        found: dict[str, int] = {}
        for row in range(len(self.sheet.rows)):
            text = plain(self.sheet.value(row, 0))
            if text:
                found.setdefault(alike(text), row)
        return found

    # Records side by side.

    def across(self, block: Block, titles: dict[str, int]) -> None:
        """Read a block whose records are side by side."""
        top = titles.get(alike(block.title))
        if top is None:
            self.refuse(f"the part '{block.title}' is gone from the form")
            return
        later = [row for one in self.page.blocks if one is not block
                 if (row := titles.get(alike(one.title), -1)) > top]  # fmt: skip
        end = min(later, default=len(self.sheet.rows))
        rows: dict[str, int] = {}
        for row in range(top, end):
            self.seen.add((row, 0))
            rows.setdefault(alike(plain(self.sheet.value(row, 0))), row)
        asked = {one: rows[alike(one.title)] for one in block.questions if alike(one.title) in rows}
        named = rows.get(alike(block.key)) if block.key else None
        if block.key and named is None:
            self.refuse(f"the row '{block.key}' is gone from the form")
            return
        units = {one: self.unit(row, 1, one) for one, row in asked.items()}
        width = max((len(self.sheet.rows[row]) for row in range(top, end)), default=0)
        for column in range(2, width):
            cells = {one: (row, column) for one, row in asked.items()}
            self.record(block, cells, units, (named, column) if named is not None else None)

    # Records one below another.

    def down(self, block: Block) -> None:
        """Read a block whose records are one below another."""
        wanted = {alike(one.title): one for one in block.questions}
        top, heads = 0, 0
        for row in range(min(60, len(self.sheet.rows))):
            texts = {alike(plain(v)) for v in self.sheet.rows[row] if v != ""}
            if len(texts & wanted.keys()) > heads:
                top, heads = row, len(texts & wanted.keys())
        columns: dict[Question, int] = {}
        key = None
        for column in range(len(self.sheet.rows[top]) if heads else 0):
            text = alike(plain(self.sheet.value(top, column)))
            if text in wanted:
                self.seen.update({(top, column)})
                columns.setdefault(wanted[text], column)
            elif text == alike(block.key):
                key = column
                self.seen.add((top, column))
            elif text == alike(CHECKED):
                self.seen.update((row, column) for row in range(top, len(self.sheet.rows)))
        if key is None or not columns:
            self.refuse(f"no row has the headings '{block.key}', '{block.questions[0].title}' …")
            return
        self.seen.update((row, column) for row in range(top) for column in range(2))
        units = {one: self.unit(top + 1, column, one) for one, column in columns.items()}
        first = top + 2 if any(one.units for one in columns) else top + 1
        for row in range(first, len(self.sheet.rows)):
            cells = {one: (row, column) for one, column in columns.items()}
            self.record(block, cells, units, (row, key))

    # Cells.

    def unit(self, row: int, column: int, asked: Question) -> str:
        """The unit that was chosen for a question."""
        if not asked.units:
            return ""
        self.seen.add((row, column))
        text = plain(self.sheet.value(row, column))
        if not text:
            return ""
        if (row, column) in self.sheet.struck:
            self.refuse(f"the unit '{text}' is struck through; choose one that holds", row, column)
            return ""
        named = known_unit(text, asked.leaf.quantity)
        if not named:
            self.refuse(
                f"'{text}' is not a unit of '{asked.title}'; choose {' or '.join(asked.units)}",
                row, column,
            )  # fmt: skip
        return named

    def record(
        self,
        block: Block,
        cells: Mapping[Question, tuple[int, int]],
        units: Mapping[Question, str],
        named: tuple[int, int] | None,
    ) -> None:
        """Add one record; a record with a name and no answer is not added, unless the block allows
        it.
        """
        sheet = self.sheet
        given = {
            one: at for one, at in cells.items()
            if not one.fixed and (sheet.value(*at) != "" or at in sheet.faults)
        }  # fmt: skip
        if named is not None:
            self.seen.add(named)
        self.seen.update(cells.values())
        alone = block.bare and named is not None and sheet.value(*named) != ""
        if not given and not alone:
            return
        name, at = "", next(iter(given.values()), (0, 0))
        if named is not None:
            at = named
            if named in sheet.struck:
                shown = quoted(sheet.value(*named))
                self.refuse(f"{shown} is struck through, so nothing of it is read", *named)
                return
            name = self.name(named)
            if not name:
                what = next(iter(given))
                self.refuse(
                    f"has no name, but '{what.title}' is {quoted(sheet.value(*given[what]))}; "
                    f"write one under '{block.key}', else nothing of it can be read",
                    *named,
                )  # fmt: skip
                return
            instead = summary(name) if block.name == "loops" else ""
            if instead:
                self.refuse(
                    f"'{name}' is read as {instead}, so nothing of the row is read; "
                    "give it another name if it is a loop",
                    *named,
                )
                return
        known = self.out.records.setdefault(block.name, [])
        if not block.listed and any(one.name == name for one in known):
            before = next(one.at for one in known if one.name == name)
            self.refuse(f"'{name}' is in {before.address} already; give each its own", *at)
            return
        made = Answered(name, self.cell(*at))
        known.append(made)
        for one, place in given.items():
            text = self.text(one, units.get(one, ""), *place)
            if text:
                self.out.used += 1
                made.values[one.to] = Answer(text, self.cell(*place))

    def name(self, at: tuple[int, int]) -> str:
        if at in self.sheet.faults:
            self.refuse(self.sheet.faults[at], *at)
            return ""
        name = " ".join(plain(self.sheet.value(*at)).split())
        return name[:64]

    def text(self, asked: Question, unit: str, row: int, column: int) -> str:
        """An answer as a design writes it; empty where it cannot be used."""
        fault = self.sheet.faults.get((row, column))
        if fault:
            self.refuse(fault, row, column, asked.title)
            return ""
        raw = self.sheet.value(row, column)
        if (row, column) in self.sheet.struck:
            self.refuse("is struck through, so it is not read", row, column, asked.title, raw)
            return ""
        words = _words_of_the_trade(asked.to) | {alike(w): own for w, own in asked.words.items()}
        hint = "choose it beside the title, or write it behind the number ({})"
        way = Way(unit, words=words, marks=sole_mark(raw), hint=hint, mapped=False)
        try:
            found = text_of(raw, asked.leaf, way)
        except ValueError as error:
            self.refuse(str(error), row, column, asked.title, raw)
            return ""
        if isinstance(raw, str) and alike(raw) in words and alike(raw) != alike(found.text):
            where = f"{self.sheet.name} {self.sheet.address(row, column)}"
            if alike(raw) not in map(alike, asked.words):
                self.out.notes.append(f"{where}: {quoted(raw)} is read as '{found.text}'.")
        if found.doubt:
            where = f"{self.sheet.name} {self.sheet.address(row, column)}"
            self.out.notes.append(f"{where}: {quoted(raw)}: {found.doubt}.")
        return found.text

    def cell(self, row: int, column: int) -> Cell:
        return Cell(self.sheet.name, row, column, self.sheet.address(row, column))

    def refuse(
        self, words: str, row: int = -1, column: int = -1, title: str = "", raw: Value = ""
    ) -> None:
        shown = quoted(raw) if raw != "" else ""
        # Most words of a refused value start with the value itself.
        if shown and words.startswith(shown[:-1]):
            shown = ""
        head = letters(column) + (f" '{title}'" if title else "") if column >= 0 else ""
        number = self.sheet.number(row) if row >= 0 else 0
        self.out.refused.append(Remark(self.out.path, words, self.sheet.name, number, head, shown))

    def leftovers(self) -> None:
        """List cells that belong to no question."""
        alone = [
            at for at in self.sheet.filled()
            if at not in self.seen and not (at[0] < 2 and at[1] == 0)
        ]  # fmt: skip
        for row, column in alone[:MOST_LISTED]:
            value = quoted(self.sheet.value(row, column))
            where = self.sheet.address(row, column)
            self.out.unused.append(f"Sheet '{self.sheet.name}', {where}: {value}.")
        if alone[MOST_LISTED:]:
            count = len(alone) - MOST_LISTED
            self.out.unused.append(f"Sheet '{self.sheet.name}': {count} more cells.")
