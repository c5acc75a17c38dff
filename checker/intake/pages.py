"""One sheet on its way into a design: its tables, rows and cells by a part of a map."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date, datetime
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any, NamedTuple

from checker import units
from checker.intake import slips
from checker.intake.fields import collections, references, value_of
from checker.intake.maps import IN_BRACES, Column, Part, Reading, Single, fitting
from checker.intake.sheets import (
    Remark,
    Sheet,
    Turned,
    Value,
    alike,
    column_of,
    letters,
    plain,
    quoted,
)
from checker.intake.totals import TOTAL, Sums
from checker.intake.values import Given, Way, added, text_of, typed, unit_in
from checker.words import choices, nearest

if TYPE_CHECKING:
    from checker.intake.assembling import _Assembly

MOST_LISTED = 12
"""Single cells that are listed by address before the rest is only counted."""
HEADINGS_WITHIN = 100
"""Rows of a sheet in which headings are looked for."""
DITTO = frozenset(
    ('"', "''", "”", "“", "″", "〃", "do.", "dto.", "dito", "ditto", "id.", "idem", '-"-', "-''-")
)
"""What stands for the value above, in several languages, from memory."""
NOTHING_ABOVE = "stands for the value above, and there is none"


class Table(NamedTuple):
    """A table: the row of its headings, its first row and the one behind its last.

    columns: by heading; told: what its title and the sheet's name tell.
    """

    top: int
    first: int
    last: int
    columns: dict[str, int]
    told: dict[str, str]


class Page:
    """One sheet on its way into the design."""

    def __init__(self, assembly: _Assembly, sheet: Sheet, part: Part) -> None:
        self.assembly = assembly
        self.out = assembly.out
        self.sheet = Turned(sheet) if part.transposed else sheet
        self.part = part
        self.used: set[tuple[int, int]] = set()
        self.columns: dict[str, int] = {}
        self.heads: dict[int, str] = {}
        self.told: dict[str, str] = {}
        self.filled: Counter[int] = Counter()

    def take(self) -> None:
        """Read the part's cells and tables."""
        for cell in self.part.cells:
            self.single(cell)
        first = 0
        if self.part.columns:
            for table in self.tables():
                self.columns, self.told = table.columns, table.told
                first = first or table.first
                self.rows(table.first, table.last)
        self.look()
        self.leftovers(first)

    def look(self) -> None:
        """Tell of what a reader of the sheet sees, or does not see: hidden, struck, commented."""
        sheet, name = self.sheet, self.sheet.name
        for places, what in ((sheet.hidden_rows, "row"), (sheet.hidden_columns, "column")):
            read = sorted(n for n in places if any(at[what == "column"] == n for at in self.used))
            shown = [str(sheet.number(n)) if what == "row" else letters(n) for n in read]
            if isinstance(sheet, Turned):
                shown = [letters(n) if what == "row" else str(n + 1) for n in read]
            if shown:
                several = "s" if len(shown) > 1 else ""
                words = f"{what}{several} {', '.join(shown)} hidden in the sheet, and read"
                self.out.slips.append(Remark(self.out.path, words, name))
        for (row, column), text in sorted(sheet.comments.items()):
            spot = sheet.spot(row, column)
            self.out.slips.append(
                Remark(self.out.path, f"has a comment: {quoted(text, 200)}", name, spot.row,
                       letters(spot.column - 1))
            )  # fmt: skip

    # Tables.

    def tables(self) -> list[Table]:
        """The tables of the sheet: where the headings stand, side by side and one below another."""
        part, sheet = self.part, self.sheet
        wanted = {alike(heading): heading for heading in part.headings}
        if part.header_row:
            number = part.header_row
            top = sheet.lines.index(number) if number in sheet.lines else number - 1
        else:
            top = self.likeliest(wanted)
        found = self.found(top)
        missing = [heading for key, heading in wanted.items() if key not in found]
        counts = {len(found[key]) for key in wanted if key in found}
        row = sheet.number(top)
        for heading in missing:
            near = nearest(heading, self.heads.values())
            hint = f"did you mean '{near}'?" if near else "name the heading as it stands there"
            if len(missing) == len(wanted) and wanted:
                hint = "no other heading was found either; is it the right sheet? " + hint
            self.assembly.mistake(
                f"there is no heading '{heading}' in row {row}; {hint}", sheet=sheet.name
            )
        if not missing and len(counts) > 1:
            self.twice(wanted, found, row)
            return []
        if missing:
            return []
        if not part.header_row:
            self.out.assumed.append(f"Sheet '{sheet.name}': the headings stand in row {row}.")
        tops = [top, *self.further(top, wanted)]
        tables: list[Table] = []
        for number, here in enumerate(tops):
            last = self.end(tops[number + 1]) if number + 1 < len(tops) else len(sheet.rows)
            tables += self.at(here, last, wanted)
        if len(tables) > 1:
            where = ", ".join(sheet.address(t.top, min(t.columns.values())) for t in tables)
            self.out.assumed.append(
                f"Sheet '{sheet.name}': the headings stand {len(tables)} times, each over a table "
                f"of its own ({where})."
            )
        return tables

    def twice(self, wanted: dict[str, str], found: dict[str, list[int]], row: int) -> None:
        for key in wanted:
            if len(found[key]) > 1:
                cells = " and ".join(letters(column) for column in found[key])
                self.assembly.mistake(
                    f"the heading '{wanted[key]}' stands twice (columns {cells}); "
                    "give the map the 'column' instead",
                    sheet=self.sheet.name, row=row,
                )  # fmt: skip

    def found(self, top: int) -> dict[str, list[int]]:
        found: dict[str, list[int]] = defaultdict(list)
        for column, text in self.headings(top):
            self.heads[column] = text
            found[alike(text)].append(column)
        return found

    def further(self, top: int, wanted: dict[str, str]) -> list[int]:
        """The rows further down in which all headings stand once more."""
        if not wanted:
            return []
        return [
            row
            for row in range(top + self.part.header_rows, len(self.sheet.rows))
            if wanted.keys() <= {alike(text) for _, text in self.headings(row)}
        ]

    def end(self, top: int) -> int:
        """The row behind the last of a table, of which the title of the next is none."""
        row = top - 1
        while row > 0 and sum(v != "" for v in self.sheet.rows[row]) == 0:
            row -= 1
        alone = [v for v in self.sheet.rows[row] if v != ""]
        return row if len(alone) == 1 and isinstance(alone[0], str) else top

    def at(self, top: int, last: int, wanted: dict[str, str]) -> Iterator[Table]:
        """The tables whose headings stand in this row."""
        found = self.found(top)
        for line in range(top, top + self.part.header_rows):
            self.used.update((line, column) for column in range(len(self.sheet.rows[line])))
        several = max((len(found[key]) for key in wanted), default=1)
        for number in range(several):
            columns = {key: found[key][number] for key in wanted}
            left = min(columns.values(), default=0)
            right = max(columns.values(), default=0)
            title = self.title(top, left, right if several > 1 else 10_000)
            told = self.part.told(self.sheet.name, title)
            if self.part.title and not set(IN_BRACES.findall(self.part.title)) <= told.keys():
                self.assembly.mistake(
                    f"no line over the headings in row {self.sheet.number(top)} reads like "
                    f"'{self.part.title}'", sheet=self.sheet.name,
                )  # fmt: skip
                continue
            yield Table(top, top + self.part.header_rows, last, columns, told)

    def title(self, top: int, left: int, right: int) -> str:
        """The text over a table's headings that fits the part's pattern, the nearest of them."""
        if not self.part.title:
            return ""
        for row in range(top - 1, max(-1, top - 6), -1):
            for column in range(len(self.sheet.rows[row])):
                text = plain(self.sheet.value(row, column))
                if left <= column <= right and fitting(self.part.title, text):
                    self.used.add((row, column))
                    return text
        return ""

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
        """Read the rows of a table."""
        readings: list[tuple[int, Column]] = []
        for column in self.part.columns:
            at = (
                self.columns[alike(column.heading)] if column.heading else column_of(column.letters)
            )
            self.heads.setdefault(at, "")
            self.unit_of_heading(at, column.reading, column.despite_heading)
            readings.append((at, column))
        beside = {self.columns[alike(one)] for column in self.part.columns for one in column.plus}
        named = self.id_columns()
        mapped = {at for at, _ in readings} | beside | named
        carried = {self.columns[alike(name)] for name in self.part.fill_down}
        above: dict[int, Value] = {}
        merged = self.merged(first)
        skipped: list[str] = []
        notes: list[str] = []
        filled_down: Counter[int] = Counter()
        dittos: Counter[int] = Counter()
        sums = Sums()
        for row in range(first, last):
            raw = {at: self.sheet.value(row, at) for at in mapped}
            own = dict(raw)
            pattern = self.skipped(row)
            total = self.total(row, raw, named)
            if total and not pattern:
                self.out.assumed.append(
                    f"Sheet '{self.sheet.name}': row {self.sheet.number(row)} ({total}) is taken "
                    "for a total, not for a loop."
                )
            if pattern or total:
                if pattern:
                    skipped.append(f"{self.sheet.number(row)} ({pattern})")
                if TOTAL.search((pattern or total).strip("'")):
                    self.control(row, sums)
                self.used.update((row, column) for column in range(len(self.sheet.rows[row])))
                continue
            if all(v == "" and (row, at) not in self.sheet.faults for at, v in raw.items()):
                continue
            if self.struck(row, raw):
                continue
            for at in mapped:
                self.used.add((row, at))
                if raw[at] == "" and (row, at) in merged:
                    raw[at] = self.sheet.value(*merged[row, at])
                elif raw[at] == "" and at in carried and at in above:
                    raw[at] = above[at]
                    filled_down[at] += 1
                elif isinstance(raw[at], str) and alike(str(raw[at])) in DITTO and at in above:
                    raw[at] = above[at]
                    dittos[at] += 1
                if raw[at] != "":
                    above[at] = raw[at]
            if self.is_note(row, own, readings):
                texts = " ".join(quoted(v) for _, v in sorted(own.items()) if v != "")
                notes.append(f"{self.sheet.number(row)} ({texts})")
                continue
            sums.add({at: v for at, v in raw.items() if at not in named})
            self.row(row, raw, readings)
        self.say(notes, skipped, filled_down, dittos)

    def say(
        self, notes: list[str], skipped: list[str], filled_down: Counter[int],
        dittos: Counter[int],
    ) -> None:  # fmt: skip
        """Tell what was passed over and what took the value above."""
        name = self.sheet.name
        if notes:
            self.out.cells_unused += len(notes)
            self.out.unused.append(f"Sheet '{name}': rows without a value: {', '.join(notes)}.")
        if skipped:
            self.out.assumed.append(
                f"Sheet '{name}': passed over as the map says: row {', '.join(skipped)}."
            )
        for counts, what in ((filled_down, "empty cells"), (dittos, "ditto marks")):
            for at, count in sorted(counts.items()):
                self.out.assumed.append(
                    f"Sheet '{name}', column {self.named(at)}: {count} {what} took the value above."
                )

    def id_columns(self) -> set[int]:
        """The columns that ids are made of."""
        return {
            self.columns[alike(name)]
            for template in self.part.ids.values()
            for name in IN_BRACES.findall(template)
            if alike(name) in self.columns
        }

    def total(self, row: int, raw: dict[int, Value], named: set[int]) -> str:
        """What says that a row is one of sums; empty for any other."""
        texts = [plain(raw[at]) for at in named if isinstance(raw[at], str)]
        return next((quoted(text) for text in texts if TOTAL.search(text)), "")

    def control(self, row: int, sums: Sums) -> None:
        """Hold the totals of a row against what was read above it."""
        values = {at: self.sheet.value(row, at) for at in self.heads}
        for at, said, read, agrees in sums.held(values):
            where = f"Sheet '{self.sheet.name}', {self.sheet.address(row, at)}"
            if agrees:
                self.out.assumed.append(f"{where}: the total {said:g} is the sum of what was read.")
            else:
                self.slip(
                    row, at, f"the total is {said:g}, and what was read above adds up to {read:g}"
                )

    def struck(self, row: int, raw: dict[int, Value]) -> bool:
        """Whether a row is struck through, and so not read; single cells are left out of it."""
        filled = [at for at, value in raw.items() if value != ""]
        through = [at for at in filled if (row, at) in self.sheet.struck]
        if not through:
            return False
        self.used.update((row, at) for at in raw)
        if len(through) == len(filled):
            words = "the row is struck through, so nothing of it is read"
            self.out.refused.append(
                Remark(self.out.path, words, self.sheet.name, self.sheet.number(row))
            )
            return True
        for at in through:
            self.mistake(row, at, raw[at], "is struck through, so it is not read")
            raw[at] = ""
        return False

    def slip(self, row: int, at: int, words: str, value: Value = "") -> None:
        """Note what is read and looks wrong."""
        spot = self.sheet.spot(row, at)
        shown = quoted(value) if value != "" else ""
        self.out.slips.append(
            Remark(self.out.path, words, spot.sheet, spot.row, letters(spot.column - 1), shown)
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

    def is_note(self, row: int, raw: dict[int, Value], readings: list[tuple[int, Column]]) -> bool:
        """Whether the row has neither all its ids nor a value: a heading or a remark."""
        if any(raw[at] != "" or (row, at) in self.sheet.faults for at, _ in readings):
            return False
        return any(self.blank(raw[at]) for at in self.id_columns())

    def row(self, row: int, raw: dict[int, Value], readings: list[tuple[int, Column]]) -> None:
        """One row: its ids, the records that they name, and the values."""
        ids, lacking = self.ids(row, raw)
        if lacking:
            return
        items: dict[tuple[str, ...], Any] = {}
        tree = self.out.tree
        doubled = False
        for section, name in ids.items():
            doubled |= self.record(section, name, row, raw, readings)
        for section, name in ids.items():
            for link in references(section):
                if link.leaf.refers_to == section:
                    continue  # a record is not its own other
                other = ids.get(link.leaf.refers_to)
                # The id's own reference (a measured flow is kept under its loop's id) is no field.
                named = {column.reading.field.name for _, column in readings}
                if other is not None and link.name not in named:
                    tree[section][name].setdefault(link.keys[0], other)
        if doubled:
            return
        for at, column in readings:
            reading = column.reading
            value = raw[at]
            section = reading.field.section
            name = ids.get(section) or ids.get(collections().get(section, ""), "")
            if reading.field.by_id:
                tree.setdefault(section, {})
            text = self.value(row, at, value, reading, column.times)
            if column.plus:
                text = self.added(row, at, text, column, raw)
            if text is None:
                continue
            if column.add:
                text = self.assembly.summed(reading.field, name, str(text))
            wrong = self.assembly.put(
                reading.field, name, text, (self.sheet, row, at), items, anew=column.add
            )
            if wrong:
                self.mistake(row, at, value, wrong)
                continue
            self.note(row, at, reading, text, name)

    def added(
        self, row: int, at: int, text: Given | None, column: Column, raw: dict[int, Value]
    ) -> Given | None:
        """The value with those of the columns that are added to it; None unless all are there."""
        texts = [text]
        for heading in column.plus:
            other = self.columns[alike(heading)]
            texts.append(self.value(row, other, raw[other], column.reading, column.times, heading))
        if any(one is None for one in texts):
            lacking = sum(one is None for one in texts)
            if lacking < len(texts):
                self.mistake(
                    row, at, raw[at], "is one of several that add up, and another is missing"
                )
            return None
        self.out.cells_used += len(texts) - 1
        try:
            return added([str(one) for one in texts], column.reading.field.leaf)
        except ValueError as error:
            self.mistake(row, at, raw[at], str(error))
            return None

    def ids(self, row: int, raw: dict[int, Value]) -> tuple[dict[str, str], bool]:
        ids: dict[str, str] = {}
        lacking = False
        for section, template in self.part.ids.items():
            parts = {
                name: self.columns[alike(name)]
                for name in IN_BRACES.findall(template)
                if alike(name) in self.columns
            }
            dated = [at for at in parts.values() if isinstance(raw[at], date | datetime)]
            for at in dated:
                self.mistake(
                    row, at, raw[at],
                    "is a date, so the row has no id; a spreadsheet program makes dates of texts "
                    "such as 1-2",
                )  # fmt: skip
                lacking = True
            for at in parts.values():
                if isinstance(raw[at], str) and alike(str(raw[at])) in DITTO:
                    self.mistake(row, at, raw[at], NOTHING_ABOVE)
                    dated.append(at)
                    lacking = True
            if dated:
                continue
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
            name = IN_BRACES.sub(lambda found: self.held(found[1], raw), template)
            name = " ".join(name.split())
            if not name.isprintable() or not 1 <= len(name) <= 64:
                at = next(iter(parts.values()), 0)
                self.mistake(row, at, name, "cannot be an id: 1 to 64 printable characters")
                lacking = True
            ids[section] = name
        return ids, lacking

    def held(self, name: str, raw: dict[int, Value]) -> str:
        """What a name in braces stands for in a row."""
        at = self.columns.get(alike(name))
        return self.told.get(name, "") if at is None else plain(raw[at])

    def record(
        self, section: str, name: str, row: int, raw: dict[int, Value],
        readings: list[tuple[int, Column]],
    ) -> bool:  # fmt: skip
        """Note a record of a row; whether it is a loop that an earlier row is already."""
        constants = () if self.assembly.plan.design is None else self.assembly.plan.design
        fed = any(c.reading.field.section == section for c in self.part.columns)
        if section in constants and not fed and section != "loops":
            return False
        own = [c.reading.field for c in self.part.columns if c.reading.field.section == section]
        if own and all(f.listed for f in own) and self.assembly.fed_elsewhere(section, self.part):
            known = self.out.tree.get(section, {})
            if name not in known:
                at = self.id_at(section)
                words = f"is not among the {section}; {choices(name, known)}"
                self.mistake(row, at, name, words)
            return False
        self.out.tree.setdefault(section, {}).setdefault(name, {})
        origin = self.out.origins.get((section, name))
        number = self.sheet.number(row)
        if origin is None:
            self.out.origins[section, name] = self.assembly.origin(self.sheet.name, number)
            at = self.id_at(section, last=True)
            if at >= 0:
                self.out.cells[section, name] = self.sheet.spot(row, at)
        elif origin.sheet == self.sheet.name:
            repeated = section == "loops" and not any(
                column.reading.field.listed for column in self.part.columns
            )
            if repeated and number not in origin.rows:
                self.doubled(name, row, origin.rows[0], raw, readings)
                return True
            origin.rows.append(number)
        return False

    def id_at(self, section: str, *, last: bool = False) -> int:
        """A column of a section's ids; -1 where they are made of titles alone."""
        names = IN_BRACES.findall(self.part.ids[section])
        found = [self.columns[alike(name)] for name in names if alike(name) in self.columns]
        return (found[-1] if last else found[0]) if found else -1

    def doubled(
        self, name: str, row: int, first: int, raw: dict[int, Value],
        readings: list[tuple[int, Column]],
    ) -> None:  # fmt: skip
        """Take of a loop that stands in two rows only what both say alike."""
        loop = self.out.tree["loops"][name]
        differ = []
        for at, column in readings:
            found = column.reading.field
            if found.section != "loops" or column.plus or column.add:
                continue
            try:
                text = self.value(row, at, raw[at], column.reading, column.times, quiet=True)
            except ValueError:
                text = None
            if _at(loop, found.keys) != text:
                differ.append(self.heads.get(at, letters(at)))
                self.assembly.doubted.add(("loops", name, *found.keys))
        words = f"is a loop in row {first} already; an id must stand once"
        if differ:
            words += f". Where the rows differ ({', '.join(differ)}), neither is taken"
        self.mistake(row, self.id_at("loops"), name, words)

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

    def value(
        self, row: int, at: int, raw: Value, reading: Reading, times: int = 1, heading: str = "",
        *, quiet: bool = False,
    ) -> Given | None:  # fmt: skip
        """The value as a design file writes it; None where there is none or it is wrong."""
        fault = self.sheet.faults.get((row, at))
        # A text of a CSV file that looks like an error may be one that the map calls empty.
        if fault and (raw == "" or not self.blank(raw)):
            if not quiet:
                self.mistake(row, at, "", fault)
            return None
        if self.blank(raw):
            if raw != "":
                self.filled[at] += 1
            return None
        way = Way(reading.unit, reading.date, reading.words, times, self.assembly.plan.marks)
        leaf = reading.field.leaf
        if isinstance(raw, str) and alike(raw) in DITTO:
            if not quiet:
                self.mistake(row, at, raw, NOTHING_ABOVE)
            return None
        try:
            found = text_of(raw, leaf, way)
        except ValueError as error:
            if not quiet:
                self.mistake(row, at, raw, str(error))
            return None
        if found.doubt and not quiet:
            self.slip(row, at, found.doubt, raw)
        return typed(leaf, found.text)

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
        spot = self.sheet.spot(row, at)
        column = self.named(at)
        if isinstance(self.sheet, Turned):
            column = f"{letters(spot.column - 1)} '{self.heads.get(at, '')}'"
        self.out.refused.append(
            Remark(self.out.path, words, self.sheet.name, spot.row, column, text)
        )

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
        holder = holder.get(key) if isinstance(holder, dict) else None
    return holder
