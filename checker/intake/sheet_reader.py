"""Reads one sheet into a design: the rows of its tables, each with its ids and values."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime
from typing import Any

from checker.intake import slips
from checker.intake.cell_values import DITTO, NOTHING_ABOVE
from checker.intake.fields import collections, references, stated_at, value_of
from checker.intake.layout import Layout
from checker.intake.maps import IN_BRACES, Column, Reading
from checker.intake.rows import RowReader
from checker.intake.several import several
from checker.intake.sheets import (
    Value,
    alike,
    column_of,
    letters,
    plain,
    quoted,
)
from checker.intake.totals import TOTAL, Sums
from checker.intake.values import Given
from checker.words import choices


class SheetReader(RowReader):
    """A sheet that is read into the design by one part of a map."""

    in_title: dict[str, str]
    """What the title of the current table and the sheet's name say, by the names that ids use."""
    several: dict[int, frozenset[str]]
    """For each column of loops' ids the ids that may mean several loops."""

    def read(self) -> None:
        """Read the cells and tables of the part."""
        for cell in self.part.cells:
            self.single(cell)
        first = 0
        if self.part.columns:
            for table in Layout(self).tables():
                self.columns, self.in_title = table.columns, table.in_title
                self.wide = table.wide
                first = first or table.first
                self.rows(table.first, table.last)
        self.look()
        self.leftovers(first)

    def rows(self, first: int, last: int) -> None:
        """Read the rows of a table into the design.

        Args:
            first: its first row, from 0.
            last: the row after its last.
        """
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
        self.several = {
            at: several(plain(self.sheet.value(row, at)) for row in range(first, last)).names
            for at in self.id_columns("loops") - self.id_columns("headers", "rooms")
        }
        for row in range(first, last):
            raw = {at: self.sheet.value(row, at) for at in mapped}
            own = dict(raw)
            pattern = self.skipped(row)
            total, what = self.total(row, raw, named)
            label = (pattern or total).strip("'")
            if TOTAL.search(label) and self.is_loop(label, raw, readings, sums):
                self.out.assumed.append(
                    f"Sheet '{self.sheet.name}': {self.sheet.line(row)} ({quoted(label)}) has an "
                    "id and values of its own, which are not sums, so it is read as a loop."
                )
                pattern = total = ""
            if total and not pattern:
                self.out.assumed.append(
                    f"Sheet '{self.sheet.name}': {self.sheet.line(row)} ({total}) is taken "
                    f"for {what}, not for a loop."
                )
            if pattern or total:
                if pattern:
                    skipped.append(f"{self.sheet.line(row)} ({pattern})")
                if TOTAL.search(label):
                    self.compare_totals(row, sums)
                self.used.update((row, column) for column in self.across(row))
                continue
            if all(v == "" and (row, at) not in self.sheet.faults for at, v in raw.items()):
                continue
            if self.struck(row, raw):
                continue
            for at in mapped:
                self.used.add((row, at))
                self.taken.add((row, at))
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
                notes.append(f"{self.sheet.line(row)} ({texts})")
                continue
            sums.add({at: v for at, v in raw.items() if at not in named})
            self.row(row, raw, readings)
        self.say(notes, skipped, filled_down, dittos)

    def say(
        self, notes: list[str], skipped: list[str], filled_down: Counter[int],
        dittos: Counter[int],
    ) -> None:  # fmt: skip
        """Note what was passed over in a table, and what took the value above.

        Args:
            notes: the rows without a value, in words.
            skipped: the rows that the map passes over, in words, with the text because of which.
            filled_down: for each column the number of empty cells that took the value above.
            dittos: the same for ditto marks.
        """
        name = self.sheet.name
        if notes:
            self.out.cells_unused += len(notes)
            self.out.unused.append(f"Sheet '{name}': there is no value in {', '.join(notes)}.")
        if skipped:
            self.out.assumed.append(
                f"Sheet '{name}': passed over as the map says: {', '.join(skipped)}."
            )
        for counts, what in ((filled_down, "empty cells"), (dittos, "ditto marks")):
            for at, count in sorted(counts.items()):
                self.out.assumed.append(
                    f"Sheet '{name}', {self.lane(at)}: {count} {what} took the value above."
                )

    def row(self, row: int, raw: dict[int, Value], readings: list[tuple[int, Column]]) -> None:
        """Read one row: its ids, the records that they name, and the values.

        Args:
            row: the row, from 0.
            raw: what it holds, by column, with what is taken from above.
            readings: the columns to read, each with its part of the map.
        """
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
            if reading.field.leaf.quantity in ("power", "area") and not column.add:
                self.again(row, at, reading, name)
            wrong = self.assembly.put(
                reading.field, name, text, (self.sheet, row, at), items, overwrite=column.add
            )
            if wrong:
                self.mistake(row, at, value, wrong)
                continue
            self.note(row, at, reading, text, name)

    def again(self, row: int, at: int, reading: Reading, name: str) -> None:
        """Note that a record which already has a value has it again in another row.

        Args:
            row: the row, from 0.
            at: the column, from 0.
            reading: how the column is read.
            name: the record's id.
        """
        found = reading.field
        before = self.assembly.places.get((found.section, name, *found.keys))
        if before is not None and self.sheet.value(row, at) != "":
            self.repeated.setdefault(at, {}).setdefault(name)

    def ids(self, row: int, raw: dict[int, Value]) -> tuple[dict[str, str], bool]:
        """The ids that a row names; one that is missing or cannot be used is noted as a mistake.

        Args:
            row: the row, from 0.
            raw: what it holds, by column, with what is taken from above.

        Returns:
            Ids by section, without sections of which the row names none; and whether one is missing
            or cannot be used, so that the row must not be read.
        """
        ids: dict[str, str] = {}
        lacking = False
        for section, template in self.part.ids.items():
            parts = {
                name: self.columns[alike(name)]
                for name in IN_BRACES.findall(template)
                if alike(name) in self.columns
            }
            self.fractions.update(
                at
                for at in parts.values()
                if isinstance(raw[at], float) and raw[at] % 1  # type: ignore[operator]
            )
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
            several = self.several if section == "loops" else {}
            many = [at for at in parts.values() if plain(raw[at]) in several.get(at, ())]
            for at in many:
                self.mistake(
                    row, at, raw[at],
                    "may be several loops in one row, so none is read; write a row for each with "
                    "its own values, or, if it is one loop, another id",
                )  # fmt: skip
                lacking = True
            if dated or many:
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
            name = IN_BRACES.sub(lambda found: self.text_for(found[1], raw), template)
            name = " ".join(name.split())
            if not name.isprintable() or not 1 <= len(name) <= 64:
                at = next(iter(parts.values()), 0)
                self.mistake(row, at, name, "cannot be an id: 1 to 64 printable characters")
                lacking = True
            ids[section] = name
        return ids, lacking

    def text_for(self, name: str, raw: dict[int, Value]) -> str:
        """The text that replaces a name in braces in the ids of a row."""
        at = self.columns.get(alike(name))
        return self.in_title.get(name, "") if at is None else plain(raw[at])

    def record(
        self, section: str, name: str, row: int, raw: dict[int, Value],
        readings: list[tuple[int, Column]],
    ) -> bool:  # fmt: skip
        """Add the record of a row to the design, with the place it comes from.

        Args:
            section: the record's section, such as `loops`.
            name: its id.
            row: the row, from 0.
            raw: what the row holds, by column, with what is taken from above.
            readings: the columns to read, each with its part of the map.

        Returns:
            Whether it is a loop that an earlier row already is, which is noted as a mistake, so
            that none of the row's values may be added.
        """
        constants = () if self.assembly.plan.design is None else self.assembly.plan.design
        fed = any(c.reading.field.section == section for c in self.part.columns)
        if section in constants and not fed and section != "loops":
            return False
        own = [c.reading.field for c in self.part.columns if c.reading.field.section == section]
        if (
            own
            and all(f.listed for f in own)
            and self.assembly.stated_elsewhere(section, self.part)
        ):
            known = self.out.tree.get(section, {})
            if name not in known:
                at = self.id_at(section)
                words = f"is not among the {section}; {choices(name, known)}"
                self.mistake(row, at, name, words)
            return False
        self.out.tree.setdefault(section, {}).setdefault(name, {})
        origin = self.out.origins.get((section, name))
        at = self.id_at(section, last=True)
        number = self.sheet.spot(row, max(at, 0)).row
        if origin is None:
            made = self.assembly.origin(self.sheet.name, number, row)
            self.out.origins[section, name] = made
            if at >= 0:
                self.out.cells[section, name] = self.sheet.spot(row, at)
        elif origin.sheet == self.sheet.name:
            repeated = section == "loops" and not any(
                column.reading.field.listed for column in self.part.columns
            )
            if repeated and row not in origin.read:
                self.doubled(name, row, origin.read[0], raw, readings)
                return True
            origin.rows.append(number)
            origin.read.append(row)
        return False

    def id_at(self, section: str, *, last: bool = False) -> int:
        """The first or last column of a section's ids; -1 where they are made of titles only."""
        names = IN_BRACES.findall(self.part.ids[section])
        found = [self.columns[alike(name)] for name in names if alike(name) in self.columns]
        return (found[-1] if last else found[0]) if found else -1

    def doubled(
        self, name: str, row: int, first: int, raw: dict[int, Value],
        readings: list[tuple[int, Column]],
    ) -> None:  # fmt: skip
        """Keep of a loop that occurs in two rows only the values on which both agree."""
        loop = self.out.tree["loops"][name]
        differ = []
        for at, column in readings:
            found = column.reading.field
            if found.section != "loops" or column.plus or column.add:
                continue
            text = self.value(row, at, raw[at], column.reading, column.times, quiet=True)
            if stated_at(loop, found.keys) != text:
                differ.append(self.heads.get(at, letters(at)))
                self.assembly.doubted.add(("loops", name, *found.keys))
        words = f"is a loop in {self.sheet.line(first)} already; an id must occur once"
        if differ:
            words += f". Where the rows differ ({', '.join(differ)}), neither is taken"
        self.mistake(row, self.id_at("loops"), name, words)

    def note(self, row: int, at: int, reading: Reading, text: Given, name: str) -> None:
        """Keep a value for checks that need all of them: references, and comparisons in a column.

        Args:
            row: the cell's row, from 0.
            at: its column, from 0.
            reading: how the cell was read.
            text: its value as the design has it.
            name: the id of its record; empty where the section has no ids.
        """
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
            other = self.others.get((row, at), 0.0)
            spot, column = self.sheet.spot(row, at), self.at_cell(row, at)
            series.add(slips.Entry(name, spot.row, column, value, raw, unit, other))
