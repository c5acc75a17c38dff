"""Sheets and a map to a design: every cell converted or told of, none dropped in silence."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import Any

from checker import units
from checker.intake import slips
from checker.intake.fields import Field, collections, references, value_of
from checker.intake.maps import IN_BRACES, Map, Part, Reading, Single
from checker.intake.sheets import (
    Book,
    Remark,
    Sheet,
    Value,
    alike,
    column_of,
    letters,
    plain,
    quoted,
)
from checker.intake.values import Given, Way, text_of, typed, unit_in
from checker.reading.cells import Spot
from checker.reading.yaml_reader import Mapping, Sequence
from checker.words import choices, nearest

Key = tuple[str, str]
"""A section and an id in it; the id is empty where the section has none."""
MOST_LISTED = 12
"""Single cells that are listed by address before the rest is only counted."""
HEADINGS_WITHIN = 100
"""Rows of a sheet in which headings are looked for."""


@dataclass
class Origin:
    """Where a record was read: the sheet and its rows."""

    sheet: str
    rows: list[int]


@dataclass
class Assembled:
    """A design as it was read, and all there is to say about how.

    tree: the design by its keys, texts as a design file writes them; origins: for each record
    where it stands in the sheets; cells: of each value, by section, id and keys, and of each id;
    mistakes: why nothing can be made of it; refused: cells that could not be taken, whose data
    are not known then; slips: what looks wrong but can be read; assumed and unused: in words.
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
    """The design that the map finds in the file."""
    return _Assembly(book, plan).design()


class _Assembly:
    def __init__(self, book: Book, plan: Map) -> None:
        self.book = book
        self.plan = plan
        self.out = Assembled(book.path)
        self.out.assumed += [f"{note[0].upper()}{note[1:]}." for note in book.notes]
        self.places: dict[tuple[str, ...], tuple[Sheet, int, int]] = {}
        self.references: list[tuple[Field, str, str, Sheet, int, int, str]] = []
        self.series: dict[str, slips.Series] = {}
        self.doubted: set[tuple[str, ...]] = set()
        """Values that stand there twice and differ: which one holds is not known."""

    def design(self) -> Assembled:
        out = self.out
        if self.plan.design is not None:
            out.tree = _copied(self.plan.design)
            names = ", ".join(self.plan.design)
            out.assumed.append(f"Not in the sheets, stated by the map: {names}.")
        used: set[str] = set()
        for part in self.plan.parts:
            for sheet in self.sheets_of(part):
                used.add(sheet.name)
                _Page(self, sheet, part).take()
        if not used and not out.mistakes:
            known = ", ".join(f"'{sheet.name}'" for sheet in self.book.sheets)
            self.mistake(f"none of the map's sheets is in the file, which has {known}")
        for section, name, *keys in self.doubted:
            self.take_away(section, name, tuple(keys))
        self.defaults()
        self.resolve()
        self.point_out()
        for sheet in self.book.sheets:
            if sheet.name not in used:
                cells = sum(1 for _ in sheet.filled())
                if cells:
                    out.cells_unused += cells
                    out.unused.append(f"Sheet '{sheet.name}': {cells} cells.")
        return out

    def sheets_of(self, part: Part) -> list[Sheet]:
        sheets = self.book.sheets
        if not part.sheet or self.book.single:
            if len(sheets) == 1:
                return self.told_of_hidden(sheets)
            names = ", ".join(f"'{sheet.name}'" for sheet in sheets)
            words = f"the file has {len(sheets)} sheets; the map must say which ({names})"
            self.mistake(words)
            return []
        found = [sheet for sheet in sheets if fnmatchcase(alike(sheet.name), alike(part.sheet))]
        if not found and not part.optional:
            known = [sheet.name for sheet in sheets]
            self.mistake(f"there is no sheet '{part.sheet}'; {choices(part.sheet, known)}")
        if len(found) > 1:
            names = ", ".join(f"'{sheet.name}'" for sheet in found)
            self.mistake(f"'{part.sheet}' means {len(found)} sheets ({names}); name one")
            return []
        return self.told_of_hidden(found)

    def told_of_hidden(self, sheets: list[Sheet]) -> list[Sheet]:
        for sheet in sheets:
            if sheet.hidden:
                self.out.assumed.append(f"Sheet '{sheet.name}' is hidden; it was read.")
        return sheets

    def mistake(self, words: str, **where: Any) -> None:
        self.out.mistakes.append(Remark(self.book.path, words, **where))

    def put(
        self,
        found: Field,
        name: str,
        text: Given,
        at: tuple[Sheet, int, int],
        items: dict[tuple[str, ...], Any],
    ) -> str:
        """Set a value in the design; returns what is wrong where it has another one already."""
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
            before = self.places.get(where)
            if before is not None:
                given = _at(holder, keys)
                if given == text:
                    return ""
                sheet, row, column = before
                address = f"{sheet.address(row, column)} of sheet '{sheet.name}'"
                of = f" of '{name}'" if name else ""
                self.doubted.add(where)
                return f"but the {found.name}{of} is '{given}' in {address}; one of them is wrong"
            given = _at(holder, keys)
            if given is not None and given != text:
                self.doubted.add(where)
                return f"but the map's 'design' says '{given}'; one of them is wrong"
            self.places[where] = at
            self.out.cells[where] = at[0].spot(*at[1:])
        for key in keys[:-1]:
            holder = holder.setdefault(key, {})
        holder[keys[-1]] = text
        return ""

    def fed_elsewhere(self, section: str, part: Part) -> bool:
        """Whether another part of the map states the records of a section."""
        return any(section in other.ids for other in self.plan.parts if other is not part)

    def defaults(self) -> None:
        """Give each record what the map says of every one that lacks it."""
        for default in self.plan.every:
            count = 0
            section = self.out.tree.get(default.field.section, {})
            for record in section.values():
                if _at(record, default.field.keys) is None:
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

    def take_away(self, section: str, name: str, keys: tuple[str | int, ...]) -> None:
        """Leave a value out of the design."""
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
        """Note each name of a record that is nowhere."""
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

    def point_out(self) -> None:
        """Note the cells that look like slips."""
        path = self.book.path
        for slip in slips.found(list(self.series.values()), self.out.tree):
            self.out.slips.append(
                Remark(path, slip.words, slip.sheet, slip.row, slip.column, slip.value)
            )


class _Page:
    """One sheet on its way into the design."""

    def __init__(self, assembly: _Assembly, sheet: Sheet, part: Part) -> None:
        self.assembly = assembly
        self.out = assembly.out
        self.sheet = sheet
        self.part = part
        self.used: set[tuple[int, int]] = set()
        self.columns: dict[str, int] = {}
        self.heads: dict[int, str] = {}
        self.filled: Counter[int] = Counter()

    def take(self) -> None:
        for cell in self.part.cells:
            self.single(cell)
        first = last = 0
        if self.part.columns:
            found = self.header()
            if found is not None:
                first, last = found, len(self.sheet.rows)
                self.rows(first, last)
        self.leftovers(first)

    # Headings.

    def header(self) -> int | None:
        """The first row under the headings, whose columns are then known; None where not found."""
        part, sheet = self.part, self.sheet
        wanted = {alike(heading): heading for heading in part.headings}
        if part.header_row:
            number = part.header_row
            top = sheet.lines.index(number) if number in sheet.lines else number - 1
        else:
            top = self.likeliest(wanted)
        found: dict[str, list[int]] = defaultdict(list)
        for column, text in self.headings(top):
            self.heads[column] = text
            found[alike(text)].append(column)
        missing = [heading for key, heading in wanted.items() if key not in found]
        twice = [key for key in wanted if len(found.get(key, ())) > 1]
        row = sheet.number(top)
        for heading in missing:
            near = nearest(heading, self.heads.values())
            hint = f"did you mean '{near}'?" if near else "name the heading as it stands there"
            if len(missing) == len(wanted) and wanted:
                hint = "no other heading was found either; is it the right sheet? " + hint
            self.assembly.mistake(
                f"there is no heading '{heading}' in row {row}; {hint}", sheet=sheet.name
            )
        for key in twice:
            cells = " and ".join(letters(column) for column in found[key])
            self.assembly.mistake(
                f"the heading '{wanted[key]}' stands twice (columns {cells}); "
                "give the map the 'column' instead",
                sheet=sheet.name, row=row,
            )  # fmt: skip
        if missing or twice:
            return None
        self.columns = {key: found[key][0] for key in wanted}
        for line in range(top, top + part.header_rows):
            self.used.update((line, column) for column in range(len(sheet.rows[line])))
        if not part.header_row:
            self.out.assumed.append(f"Sheet '{sheet.name}': the headings stand in row {row}.")
        return top + part.header_rows

    def likeliest(self, wanted: dict[str, str]) -> int:
        """The row that has most of the headings."""
        best, most = 0, -1
        for row in range(min(HEADINGS_WITHIN, len(self.sheet.rows))):
            count = len({alike(text) for _, text in self.headings(row)} & wanted.keys())
            if count > most:
                best, most = row, count
        return best

    def headings(self, top: int) -> Iterator[tuple[int, str]]:
        return joined_headings(self.sheet, top, self.part.header_rows)

    # Rows.

    def rows(self, first: int, last: int) -> None:
        readings: list[tuple[int, Reading]] = []
        for column in self.part.columns:
            at = (
                self.columns[alike(column.heading)] if column.heading else column_of(column.letters)
            )
            self.heads.setdefault(at, "")
            self.unit_of_heading(at, column.reading, column.despite_heading)
            readings.append((at, column.reading))
        mapped = {at for at, _ in readings} | {
            self.columns[alike(name)]
            for t in self.part.ids.values()
            for name in IN_BRACES.findall(t)
        }
        carried = {self.columns[alike(name)] for name in self.part.fill_down}
        above: dict[int, Value] = {}
        merged = self.merged(first)
        skipped: list[str] = []
        notes: list[str] = []
        filled_down: Counter[int] = Counter()
        for row in range(first, last):
            raw = {at: self.sheet.value(row, at) for at in mapped}
            own = dict(raw)
            pattern = self.skipped(row)
            if pattern:
                skipped.append(f"{self.sheet.number(row)} ({pattern})")
                self.used.update((row, column) for column in range(len(self.sheet.rows[row])))
                continue
            if all(v == "" and (row, at) not in self.sheet.faults for at, v in raw.items()):
                continue
            for at in mapped:
                self.used.add((row, at))
                if raw[at] == "" and (row, at) in merged:
                    raw[at] = self.sheet.value(*merged[row, at])
                elif raw[at] == "" and at in carried and at in above:
                    raw[at] = above[at]
                    filled_down[at] += 1
                if raw[at] != "":
                    above[at] = raw[at]
            if self.is_note(row, own, readings):
                texts = " ".join(quoted(v) for _, v in sorted(own.items()) if v != "")
                notes.append(f"{self.sheet.number(row)} ({texts})")
                continue
            self.row(row, raw, readings)
        if notes:
            self.out.cells_unused += len(notes)
            self.out.unused.append(
                f"Sheet '{self.sheet.name}': rows without a value: {', '.join(notes)}."
            )
        if skipped:
            self.out.assumed.append(
                f"Sheet '{self.sheet.name}': passed over as the map says: row {', '.join(skipped)}."
            )
        for at, count in sorted(filled_down.items()):
            self.out.assumed.append(
                f"Sheet '{self.sheet.name}', column {self.named(at)}: {count} empty cells took "
                "the value above."
            )

    def merged(self, first: int) -> dict[tuple[int, int], tuple[int, int]]:
        """For each cell that a merged area hides, the cell that holds the area's value."""
        hidden = {}
        for top, left, bottom, right in self.sheet.merged:
            if bottom < first or left not in self.heads or bottom - top > 10_000:
                continue
            value = self.sheet.value(top, left)
            if value != "" and left == right:
                area = f"{self.sheet.address(top, left)}:{self.sheet.address(bottom, right)}"
                self.out.assumed.append(
                    f"Sheet '{self.sheet.name}': the merged cells {area} hold {quoted(value)} "
                    "in each row."
                )
                hidden.update({(row, left): (top, left) for row in range(top + 1, bottom + 1)})
        return hidden

    def skipped(self, row: int) -> str:
        for pattern in self.part.skip:
            for column in range(len(self.sheet.rows[row])):
                text = plain(self.sheet.value(row, column))
                if text and fnmatchcase(alike(text), alike(pattern)):
                    return quoted(text)
        return ""

    def is_note(self, row: int, raw: dict[int, Value], readings: list[tuple[int, Reading]]) -> bool:
        """Whether the row has neither all its ids nor a value: a heading or a remark."""
        if any(raw[at] != "" or (row, at) in self.sheet.faults for at, _ in readings):
            return False
        names = {name for t in self.part.ids.values() for name in IN_BRACES.findall(t)}
        return any(self.blank(raw[self.columns[alike(name)]]) for name in names)

    def row(self, row: int, raw: dict[int, Value], readings: list[tuple[int, Reading]]) -> None:
        """One row: its ids, the records that they name, and the values."""
        ids, lacking = self.ids(row, raw)
        if lacking:
            return
        items: dict[tuple[str, ...], Any] = {}
        tree = self.out.tree
        for section, name in ids.items():
            self.record(section, name, row)
        for section, name in ids.items():
            for link in references(section):
                if link.leaf.refers_to == section:
                    continue  # a record is not its own other
                other = ids.get(link.leaf.refers_to)
                # The id's own reference (a measured flow is kept under its loop's id) is no field.
                if other is not None and link.name not in {r.field.name for _, r in readings}:
                    tree[section][name].setdefault(link.keys[0], other)
        for at, reading in readings:
            value = raw[at]
            section = reading.field.section
            name = ids.get(section) or ids.get(collections().get(section, ""), "")
            if reading.field.by_id:
                tree.setdefault(section, {})
            text = self.value(row, at, value, reading)
            if text is None:
                continue
            wrong = self.assembly.put(reading.field, name, text, (self.sheet, row, at), items)
            if wrong:
                self.mistake(row, at, value, wrong)
                continue
            self.note(row, at, reading, text, name)

    def ids(self, row: int, raw: dict[int, Value]) -> tuple[dict[str, str], bool]:
        ids: dict[str, str] = {}
        lacking = False
        for section, template in self.part.ids.items():
            parts = {name: self.columns[alike(name)] for name in IN_BRACES.findall(template)}
            empty = [name for name, at in parts.items() if self.blank(raw[at])]
            faulty = [at for at in parts.values() if (row, at) in self.sheet.faults]
            for at in faulty:
                self.mistake(row, at, "", self.sheet.faults[row, at])
                lacking = True
            if faulty:
                continue
            if empty:
                own = [r for r in self.part.columns if r.reading.field.section == section]
                if len(empty) == len(parts) and not own and section != "loops":
                    continue
                if lacking:
                    continue
                at = parts[empty[0]]
                others = ", ".join(
                    f"{self.named(column)} is {quoted(value)}"
                    for column, value in sorted(raw.items())
                    if not self.blank(value)
                )
                self.mistake(
                    row, at, "",
                    f"is empty, so that the row has no id for {section}, but {others}; fill it "
                    "in, or give the map a 'skip' that fits the row",
                )  # fmt: skip
                lacking = True
                continue
            name = IN_BRACES.sub(lambda m: plain(raw[self.columns[alike(m[1])]]), template)
            name = " ".join(name.split())
            if not name.isprintable() or not 1 <= len(name) <= 64:
                at = next(iter(parts.values()), 0)
                self.mistake(row, at, name, "cannot be an id: 1 to 64 printable characters")
                lacking = True
            ids[section] = name
        return ids, lacking

    def record(self, section: str, name: str, row: int) -> None:
        constants = () if self.assembly.plan.design is None else self.assembly.plan.design
        fed = any(c.reading.field.section == section for c in self.part.columns)
        if section in constants and not fed and section != "loops":
            return
        own = [c.reading.field for c in self.part.columns if c.reading.field.section == section]
        if own and all(f.listed for f in own) and self.assembly.fed_elsewhere(section, self.part):
            known = self.out.tree.get(section, {})
            if name not in known:
                at = self.columns[alike(IN_BRACES.findall(self.part.ids[section])[0])]
                words = f"is not among the {section}; {choices(name, known)}"
                self.mistake(row, at, name, words)
            return
        self.out.tree.setdefault(section, {}).setdefault(name, {})
        origin = self.out.origins.get((section, name))
        number = self.sheet.number(row)
        if origin is None:
            self.out.origins[section, name] = Origin(self.sheet.name, [number])
            named = IN_BRACES.findall(self.part.ids[section])
            if named:
                self.out.cells[section, name] = self.sheet.spot(row, self.columns[alike(named[-1])])
        elif origin.sheet == self.sheet.name:
            repeated = section == "loops" and not any(
                r.reading.field.listed for r in self.part.columns
            )
            if repeated and number not in origin.rows:
                at = self.columns[alike(IN_BRACES.findall(self.part.ids[section])[0])]
                self.mistake(
                    row, at, name,
                    f"is a loop in row {origin.rows[0]} already; an id must stand once",
                )  # fmt: skip
            origin.rows.append(number)

    def note(self, row: int, at: int, reading: Reading, text: Given, name: str) -> None:
        """Remember a value for what can only be judged once all are read."""
        self.out.cells_used += 1
        found = reading.field
        if found.leaf.kind == "reference":
            self.assembly.references.append(
                (found, name, str(text), self.sheet, row, at, plain(self.sheet.value(row, at)))
            )
        if found.leaf.kind == "quantity":
            key = f"{self.sheet.name}\0{at}"
            series = self.assembly.series.get(key)
            if series is None:
                series = self.assembly.series[key] = slips.Series(
                    self.sheet.name, self.named(at), found, reading.unit
                )
            value = value_of(found.leaf, str(text))
            raw = plain(self.sheet.value(row, at))
            unit = str(text).lstrip("-+−.0123456789").strip()
            series.add(name, self.sheet.number(row), value, raw, unit)

    # Values.

    def blank(self, value: Value) -> bool:
        return value == "" or alike(plain(value)) in self.assembly.plan.empty

    def value(self, row: int, at: int, raw: Value, reading: Reading) -> Given | None:
        """The value as a design file writes it; None where there is none or it is wrong."""
        fault = self.sheet.faults.get((row, at))
        # A text of a CSV file that looks like an error may be one that the map calls empty.
        if fault and (raw == "" or not self.blank(raw)):
            self.mistake(row, at, "", fault)
            return None
        if self.blank(raw):
            if raw != "":
                self.filled[at] += 1
            return None
        try:
            marks = self.assembly.plan.marks
            way = Way(reading.unit, reading.date, reading.words, marks=marks)
            return typed(reading.field.leaf, text_of(raw, reading.field.leaf, way).text)
        except ValueError as error:
            self.mistake(row, at, raw, str(error))
            return None

    def single(self, cell: Single) -> None:
        """A cell of its own, by address or label."""
        sheet = self.sheet
        if cell.at:
            row, column = sheet.cell_of(cell.at)
        else:
            labels = [
                (r, c) for r, c in sheet.filled()
                if alike(plain(sheet.value(r, c))).rstrip(" :") == alike(cell.beside).rstrip(" :")
            ]  # fmt: skip
            if len(labels) != 1:
                where = ", ".join(sheet.address(*label) for label in labels)
                words = f"the label '{cell.beside}' stands {len(labels)} times ({where}); use 'at'"
                if not labels:
                    words = f"there is no label '{cell.beside}'; write it as it stands there"
                self.assembly.mistake(words, sheet=sheet.name)
                return
            row, column = labels[0]
            self.used.add((row, column))
            column += 1
            while (
                column < len(sheet.rows[row])
                and sheet.value(row, column) == ""
                and ((row, column) not in sheet.faults)
            ):
                column += 1
        self.used.add((row, column))
        text = self.value(row, column, sheet.value(row, column), cell.reading)
        if text is None:
            held = sheet.value(row, column)
            if self.blank(held) and (held != "" or (row, column) not in sheet.faults):
                where = cell.at or f"beside '{cell.beside}'"
                self.out.assumed.append(
                    f"Sheet '{sheet.name}', {where}: empty, so {cell.reading.field.name} is "
                    "not stated."
                )
            return
        self.out.cells_used += 1
        wrong = self.assembly.put(cell.reading.field, "", text, (sheet, row, column), {})
        if wrong:
            self.mistake(row, column, sheet.value(row, column), wrong)

    def unit_of_heading(self, at: int, reading: Reading, despite: bool) -> None:
        """Note a heading that names another unit than the map."""
        leaf = reading.field.leaf
        if leaf.kind != "quantity" or not reading.unit or despite:
            return
        named = unit_in(self.heads[at], leaf.quantity)
        if named and units.factor(named, leaf.quantity) != units.factor(
            reading.unit, leaf.quantity
        ):
            self.assembly.mistake(
                f"the heading '{self.heads[at]}' says {named}, the map says {reading.unit}; "
                "correct the map, or add 'despite_heading: true' to it",
                sheet=self.sheet.name, column=letters(at),
            )  # fmt: skip

    # What is left.

    def named(self, at: int) -> str:
        head = self.heads.get(at, "")
        return f"{letters(at)} '{head}'" if head else letters(at)

    def mistake(self, row: int, at: int, value: Value, words: str) -> None:
        text = quoted(value) if value != "" else ""
        # Most words of a refused value start with the value itself.
        if text and words.startswith(text[:-1]):
            text = ""
        self.out.refused.append(
            Remark(self.out.path, words, self.sheet.name, self.sheet.number(row), self.named(at),
                   text)
        )  # fmt: skip

    def leftovers(self, first: int) -> None:
        """List every cell that nothing was read from."""
        under: Counter[int] = Counter()
        alone: list[tuple[int, int]] = []
        for row, column in self.sheet.filled():
            if (row, column) in self.used:
                continue
            if first and row >= first and column in self.heads:
                under[column] += 1
            else:
                alone.append((row, column))
        self.out.cells_unused += len(alone) + under.total()
        name = self.sheet.name
        for column, count in sorted(under.items()):
            noun = "cell" if count == 1 else "cells"
            self.out.unused.append(f"Sheet '{name}', column {self.named(column)}: {count} {noun}.")
        for row, column in alone[:MOST_LISTED]:
            value = quoted(self.sheet.value(row, column))
            self.out.unused.append(f"Sheet '{name}', {self.sheet.address(row, column)}: {value}.")
        if len(alone) > MOST_LISTED:
            self.out.unused.append(
                f"Sheet '{name}': {len(alone) - MOST_LISTED} more cells outside the table."
            )
        for column, count in sorted(self.filled.items()):
            self.out.assumed.append(
                f"Sheet '{name}', column {self.named(column)}: {count} cells say that there is "
                "no value."
            )


def joined_headings(sheet: Sheet, top: int, count: int) -> Iterator[tuple[int, str]]:
    """Column and text of each heading; a heading over several columns belongs to each of them."""
    over = {
        (row, column): (area[0], area[1])
        for area in sheet.merged
        if area[0] < top + count and area[2] >= top
        for row in range(area[0], min(area[2], top + count) + 1)
        for column in range(area[1], min(area[3], area[1] + 200) + 1)
    }
    rows = sheet.rows[top : top + count]
    for column in range(max((len(row) for row in rows), default=0)):
        cells = [over.get((row, column), (row, column)) for row in range(top, top + count)]
        texts = [plain(sheet.value(*cell)) for cell in dict.fromkeys(cells)]
        text = " ".join(" ".join(texts).split())
        if text:
            yield column, text


def _at(holder: Any, keys: tuple[str, ...]) -> Any:
    for key in keys:
        if not isinstance(holder, dict):
            return None
        holder = holder.get(key)
    return holder


def _copied(node: Any) -> Any:
    """The map's own part of a design as a plain tree; a list of pairs stays one."""
    if isinstance(node, Mapping | dict):
        return {key: _copied(value) for key, value in node.items()}
    if isinstance(node, Sequence | list):
        return [_copied(value) for value in node]
    return node
