"""Converts cells into values, each as its part of the map says, and reports those that cannot
be.
"""

from __future__ import annotations

from checker import units
from checker.intake.maps import Column, Reading, Single
from checker.intake.sheet_notes import SheetNotes
from checker.intake.sheets import Value, alike, letters, plain, quoted
from checker.intake.units_written import unit_in
from checker.intake.values import Given, Way, added, text_of, typed

DITTO = frozenset(
    ('"', "''", "”", "“", "″", "〃", "do.", "dto.", "dito", "ditto", "id.", "idem", '-"-', "-''-")
)
"""Marks that repeat the value above, in several languages, from memory."""
NOTHING_ABOVE = "means the value above, and there is none"


class CellReader(SheetNotes):
    """A sheet whose cells are read one by one."""

    columns: dict[str, int]
    """The column of each heading of the current table."""

    def blank(self, value: Value) -> bool:
        """Whether a value is empty, or a text that the map counts as empty."""
        return value == "" or alike(plain(value)) in self.assembly.plan.empty

    def value(
        self, row: int, at: int, raw: Value, reading: Reading, times: int = 1,
        *, quiet: bool = False,
    ) -> Given | None:  # fmt: skip
        """A cell's value as a design file writes it; a value that is wrong is noted as a mistake.

        Args:
            row: the cell's row, from 0.
            at: its column, from 0.
            raw: what it holds, or what holds in its place (the value above, a merged area's).
            reading: how the map says to read it.
            times: a factor for the value, such as 2 for a length each way.
            quiet: whether to leave out all remarks.

        Returns:
            The value; None where there is none or it is wrong.
        """
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
        if found.other and not quiet:
            spot = self.sheet.address(row, at)
            self.others[row, at] = found.other
            self.marked.setdefault(at, []).append(f"{spot} {quoted(raw)} as {found.text}")
        return typed(leaf, found.text)

    def added(
        self, row: int, at: int, text: Given | None, column: Column, raw: dict[int, Value]
    ) -> Given | None:
        """A cell's value with those of the columns that the map adds to it.

        Args:
            row: the cell's row, from 0.
            at: its column, from 0.
            text: its own value; None where it has none.
            column: the column of the map, with the headings that are added (`plus`).
            raw: what the row holds, by column.

        Returns:
            The sum in the unit of the first; None unless all have a value. Where some have, that is
            noted as a mistake.
        """
        texts = [text]
        for heading in column.plus:
            other = self.columns[alike(heading)]
            texts.append(self.value(row, other, raw[other], column.reading, column.times))
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

    def single(self, cell: Single) -> None:
        """Read a single cell into the design; a mistake is noted where it is not found.

        Args:
            cell: the cell as the map names it, by its address or by the label to its left.
        """
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
                words = f"the label '{cell.beside}' occurs {len(labels)} times ({where}); use 'at'"
                if not labels:
                    words = f"there is no label '{cell.beside}'; write it as it is in the sheet"
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
        self.taken.add((row, column))
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
        """Note a mistake where a heading names another unit than the map."""
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
