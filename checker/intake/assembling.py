"""Turns sheets and a map into one design. Every cell is converted or reported; none is dropped."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from checker.intake import slips
from checker.intake.fields import Field, stated_at
from checker.intake.maps import Map, Part, fitting
from checker.intake.sheet_reader import SheetReader
from checker.intake.sheets import (
    Book,
    Remark,
    Sheet,
    letters,
    quoted,
)
from checker.intake.values import Given, added, typed
from checker.reading.cells import Spot
from checker.reading.documents import Mapping, Sequence
from checker.words import choices

Key = tuple[str, str]
"""A section and the id of a record in it; the id is empty where the section has no ids."""
MOST_LISTED = 12
"""At most this many single unread cells are listed by address; the others are only counted."""


@dataclass
class Origin:
    """Where a record was read from.

    sheet: the sheet's name; rows: its row numbers as a spreadsheet shows them; read: the same rows
    counted from 0 in the order of reading (columns where the sheet is transposed).
    """

    sheet: str
    rows: list[int]
    read: list[int] = field(default_factory=list)


@dataclass
class Assembled:
    """A design as it was read, with remarks on how it was read.

    tree: the design, with the keys and texts of a design file; origins: where each record came
    from; cells: the cell of each value (by section, id and keys) and of each id; mistakes: why
    there is no design; refused: cells that could not be read, whose values are left out; slips:
    cells that were read but look wrong; assumed, unused: sentences for the report; cells_used,
    cells_unused: counts of cells.
    """

    path: str
    tree: dict[str, Any] = field(default_factory=dict)
    origins: dict[Key, Origin] = field(default_factory=dict)
    cells: dict[tuple[str | int, ...], Spot] = field(default_factory=dict)
    refused: list[Remark] = field(default_factory=list)
    mistakes: list[Remark] = field(default_factory=list)
    slips: list[Remark] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)
    cells_used: int = 0
    cells_unused: int = 0


def assemble(book: Book, plan: Map) -> Assembled:
    """Read a design from a file's sheets.

    Args:
        book: the sheets of the file.
        plan: the map, which says where each value is.

    Returns:
        The design, with all mistakes and remarks; nothing is raised for a faulty sheet.
    """
    return _Assembly(book, plan).design()


class _Assembly:
    """The design that is being put together, shared by the readers of all its sheets."""

    def __init__(self, book: Book, plan: Map) -> None:
        self.book = book
        self.plan = plan
        self.out = Assembled(book.path)
        self.out.assumed += [f"{note[0].upper()}{note[1:]}." for note in book.notes]
        self.places: dict[tuple[str, ...], tuple[Sheet, int, int]] = {}
        self.references: list[tuple[Field, str, str, Sheet, int, int, str]] = []
        self.series: dict[str, slips.Series] = {}
        self.doubted: set[tuple[str, ...]] = set()
        """Values that are stated twice and differ: which of the two is right is not known."""

    def design(self) -> Assembled:
        """Read all sheets that the map names and complete the design."""
        out = self.out
        if self.plan.design is not None:
            out.tree = _copied(self.plan.design)
            names = ", ".join(self.plan.design)
            out.assumed.append(f"Not in the sheets, stated by the map: {names}.")
        used: set[str] = set()
        for part in self.plan.parts:
            for sheet in self.sheets_of(part):
                used.add(sheet.name)
                SheetReader(self, sheet, part).read()
        if not used and not out.mistakes:
            known = ", ".join(f"'{sheet.name}'" for sheet in self.book.sheets)
            self.mistake(f"none of the map's sheets is in the file, which has {known}")
        for section, name, *keys in self.doubted:
            self.take_away(section, name, tuple(keys))
        self.defaults()
        self.resolve()
        self.note_slips()
        for sheet in self.book.sheets:
            if sheet.name not in used:
                cells = sum(1 for _ in sheet.filled())
                if cells:
                    out.cells_unused += cells
                    out.unused.append(f"Sheet '{sheet.name}': {cells} cells.")
        return out

    def sheets_of(self, part: Part) -> list[Sheet]:
        """The sheets that a part of the map reads; none, with a mistake noted, where that is
        unclear.
        """
        sheets = self.book.sheets
        if not part.sheet or self.book.single:
            if len(sheets) == 1:
                return self.with_hidden_noted(sheets)
            names = ", ".join(f"'{sheet.name}'" for sheet in sheets)
            words = f"the file has {len(sheets)} sheets; the map must say which ({names})"
            self.mistake(words)
            return []
        found = [sheet for sheet in sheets if fitting(part.sheet, sheet.name) is not None]
        if not found and not part.optional:
            known = [sheet.name for sheet in sheets]
            self.mistake(f"there is no sheet '{part.sheet}'; {choices(part.sheet, known)}")
        if len(found) > 1 and not part.variables:
            names = ", ".join(f"'{sheet.name}'" for sheet in found)
            self.mistake(f"'{part.sheet}' means {len(found)} sheets ({names}); name one")
            return []
        return self.with_hidden_noted(found)

    def with_hidden_noted(self, sheets: list[Sheet]) -> list[Sheet]:
        for sheet in sheets:
            if sheet.hidden:
                self.out.assumed.append(f"Sheet '{sheet.name}' is hidden; it was read.")
        return sheets

    def mistake(self, words: str, **where: Any) -> None:
        """Note a mistake because of which there is no design."""
        self.out.mistakes.append(Remark(self.book.path, words, **where))

    def put(
        self,
        found: Field,
        name: str,
        text: Given,
        at: tuple[Sheet, int, int],
        items: dict[tuple[str, ...], Any],
        *,
        overwrite: bool = False,
    ) -> str:
        """Set one value in the design.

        Args:
            found: the field.
            name: the id of the record; empty where the section has no ids.
            text: the value.
            at: its sheet, row and column, counted from 0.
            items: the list items that the current row has begun; a list value goes into one of
                them.
            overwrite: whether the value may replace an earlier one.

        Returns:
            What is wrong where the record already has another value, else an empty text.
        """
        holder = self.out.tree.setdefault(found.section, {}) if found.keys else self.out.tree
        if found.by_id:
            holder = holder.setdefault(name, {})
        keys = found.keys or (found.section,)
        if found.listed:
            way, keys = keys[: found.listed], keys[found.listed :]
            for key in way[:-1]:
                holder = holder.setdefault(key, {})
            where = (found.section, name, *way)
            rows = holder.setdefault(way[-1], [])
            if where not in items:
                items[where] = {}
                rows.append(items[where])
            holder = items[where]
            self.out.cells[(*where, len(rows) - 1, *keys)] = at[0].spot(*at[1:])
        else:
            where = (found.section, name, *keys)
            before = None if overwrite else self.places.get(where)
            if before is not None:
                given = stated_at(holder, keys)
                if given == text:
                    return ""
                sheet, row, column = before
                address = f"{sheet.address(row, column)} of sheet '{sheet.name}'"
                of = f" of '{name}'" if name else ""
                self.doubted.add(where)
                return f"but the {found.name}{of} is '{given}' in {address}; one of them is wrong"
            given = stated_at(holder, keys)
            if given is not None and given != text and not overwrite:
                self.doubted.add(where)
                return f"but the map's 'design' says '{given}'; one of them is wrong"
            self.places[where] = at
            self.out.cells[where] = at[0].spot(*at[1:])
        for key in keys[:-1]:
            holder = holder.setdefault(key, {})
        holder[keys[-1]] = text
        return ""

    def stated_elsewhere(self, section: str, part: Part) -> bool:
        """Whether another part of the map states the records of a section."""
        return any(section in other.ids for other in self.plan.parts if other is not part)

    def defaults(self) -> None:
        """Fill in the map's default values where a record has none."""
        for default in self.plan.every:
            count = 0
            section = self.out.tree.get(default.field.section, {})
            for record in section.values():
                if stated_at(record, default.field.keys) is None:
                    holder = record
                    for key in default.field.keys[:-1]:
                        holder = holder.setdefault(key, {})
                    holder[default.field.keys[-1]] = typed(default.field.leaf, default.text)
                    count += 1
            if count:
                self.out.assumed.append(
                    f"{default.field.name} is '{default.text}' for {count} of {len(section)}: "
                    f"the map says so in line {default.line}."
                )

    def origin(self, sheet: str, number: int, row: int) -> Origin:
        """The place of a new record: its sheet, its row as shown, and its row counted from 0."""
        return Origin(sheet, [number], [row])

    def summed(self, found: Field, name: str, text: str) -> str:
        """A value added to the one that earlier rows gave the same record, in the unit of the
        first.
        """
        before = stated_at(self.out.tree.get(found.section, {}).get(name, {}), found.keys)
        return text if before is None else added([str(before), text], found.leaf)

    def take_away(self, section: str, name: str, keys: tuple[str | int, ...]) -> None:
        """Remove a value and its cell from the design."""
        holder = self.out.tree.get(section, {})
        if name:
            holder = holder.get(name, {})
        for key in keys[:-1]:
            holder = holder[key] if isinstance(key, int) else holder.get(key, {})
        if keys:
            holder.pop(keys[-1], None)
        else:
            self.out.tree.pop(section, None)
        self.out.cells.pop((section, name, *keys), None)

    def resolve(self) -> None:
        """Refuse each reference to a record that the design does not have."""
        for found, owner, name, sheet, row, column, raw in self.references:
            known = self.out.tree.get(found.leaf.refers_to, {})
            if name not in known:
                words = (
                    f"is not among the {found.leaf.refers_to}; {choices(name, known)}"
                    if known
                    else f"names one of the {found.leaf.refers_to}, and none is stated; "
                    f"add 'design: {{{found.leaf.refers_to}: …}}' to the map"
                )
                self.out.refused.append(
                    Remark(self.book.path, words, sheet.name, sheet.number(row), letters(column),
                           quoted(raw))
                )  # fmt: skip
                self.take_away(found.section, owner, found.keys)

    def note_slips(self) -> None:
        """Note values that look wrong compared with the rest of the design."""
        path = self.book.path
        for slip in slips.found(list(self.series.values()), self.out.tree):
            self.out.slips.append(
                Remark(path, slip.words, slip.sheet, slip.row, slip.column, slip.value)
            )


def _copied(node: Any) -> Any:
    """A copy of the part of a design that the map states, as plain dicts and lists."""
    if isinstance(node, Mapping | dict):
        return {key: _copied(value) for key, value in node.items()}
    if isinstance(node, Sequence | list):
        return [_copied(value) for value in node]
    return node
