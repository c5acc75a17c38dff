"""Tells rows that are loops from sums, remarks, spare outlets and rows that are struck through."""

from __future__ import annotations

from checker.intake.cell_values import CellReader
from checker.intake.guessing import folded
from checker.intake.maps import IN_BRACES, Column
from checker.intake.sheets import Remark, Turned, Value, alike, plain, quoted
from checker.intake.totals import SPARE, TOTAL, Sums, is_total, skips, summary


class RowReader(CellReader):
    """A sheet whose rows are classified before they are read."""

    wide: tuple[int, int]
    """The first column of the current table, and the column after its last."""

    def id_columns(self, *only: str) -> set[int]:
        """The columns that ids are made of; only: limits this to some sections."""
        return {
            self.columns[alike(name)]
            for section, template in self.part.ids.items()
            if not only or section in only
            for name in IN_BRACES.findall(template)
            if alike(name) in self.columns
        }

    def total(self, row: int, raw: dict[int, Value], named: set[int]) -> tuple[str, str]:
        """Whether a row holds sums, means or extremes, by the labels in the columns of its ids.

        Args:
            row: the row, from 0.
            raw: what it holds, by column.
            named: the columns that ids are made of.

        Returns:
            The label in quotation marks, and which of these it is in words; both empty for any
            other row.
        """
        rooms = self.id_columns("rooms")
        for at in named:
            text = plain(raw[at]) if isinstance(raw[at], str) else ""
            if what := summary(text, of_room=at in rooms):
                return quoted(text), what
        return "", ""

    def compare_totals(self, row: int, sums: Sums) -> None:
        """Compare the totals in a row with the sums of what was read above it."""
        values = {at: self.sheet.value(row, at) for at in self.heads}
        for at, said, read, agrees in sums.compared(values):
            where = f"Sheet '{self.sheet.name}', {self.sheet.address(row, at)}"
            if agrees:
                self.out.assumed.append(f"{where}: the total {said:g} is the sum of what was read.")
            else:
                self.slip(
                    row, at, f"the total is {said:g}, and what was read above adds up to {read:g}"
                )

    def struck(self, row: int, raw: dict[int, Value]) -> bool:
        """Whether a whole row is struck through, so that nothing of it is read.

        Args:
            row: the row, from 0.
            raw: what it holds, by column; single cells that are struck through become empty in it,
                each noted as a mistake.

        Returns:
            True for the whole row, which is then noted as left out.
        """
        filled = [at for at, value in raw.items() if value != ""]
        through = [at for at in filled if (row, at) in self.sheet.struck]
        if not through:
            return False
        self.used.update((row, at) for at in raw)
        if len(through) == len(filled):
            words = "the row is struck through, so nothing of it is read"
            number = 0 if isinstance(self.sheet, Turned) else self.sheet.number(row)
            if isinstance(self.sheet, Turned):
                words = words.replace("the row", self.sheet.line(row))
            self.out.refused.append(Remark(self.out.path, words, self.sheet.name, number))
            return True
        for at in through:
            self.mistake(row, at, raw[at], "is struck through, so it is not read")
            raw[at] = ""
        return False

    def merged(self, first: int) -> dict[tuple[int, int], tuple[int, int]]:
        """The cells that merged areas of one column hide; the areas that hold a value are noted.

        Args:
            first: the first row of the table, from 0; areas that end above it do not count.

        Returns:
            For each hidden cell, by row and column from 0, the cell that holds the area's value.
        """
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
        """The text because of which the map's `skip` passes over this row; empty where it does
        not.
        """
        for pattern in self.part.skip:
            for column in self.across(row):
                text = plain(self.sheet.value(row, column))
                if text and skips(alike(pattern), alike(text)):
                    return quoted(text)
        return ""

    def across(self, row: int) -> range:
        """The columns of a row that belong to the current table, where several are side by side.

        Args:
            row: the row, from 0.

        Returns:
            Columns from 0, up to the row's last cell.
        """
        first, last = self.wide
        return range(first, min(last, len(self.sheet.rows[row])))

    def is_note(self, row: int, raw: dict[int, Value], readings: list[tuple[int, Column]]) -> bool:
        """Whether the row has neither all its ids nor a value: a heading, a remark, a spare
        outlet.
        """
        ids = self.id_columns()
        spare = any(SPARE.fullmatch(folded(plain(raw[at]))) for at in ids)
        if spare and all(self.blank(raw[at]) for at, _ in readings if at not in ids):
            return not any((row, at) in self.sheet.faults for at, _ in readings)
        if any(raw[at] != "" or (row, at) in self.sheet.faults for at, _ in readings):
            return False
        return any(self.blank(raw[at]) for at in ids)

    def is_loop(
        self, label: str, raw: dict[int, Value], readings: list[tuple[int, Column]], sums: Sums
    ) -> bool:
        """Whether a row whose label has a word of sums is a loop all the same.

        It is one where the label is longer than that word and is not its id, it has an id, a room
        and a value, and none of its numbers is a sum of rows above.
        """
        ids = self.id_columns("loops") - self.id_columns("headers", "rooms")
        carried = {self.columns[alike(name)] for name in self.part.fill_down}
        values = {at: raw[at] for at, _ in readings if at not in self.id_columns()}
        return (
            not is_total(label)
            and bool(ids)
            and all(not self.blank(raw[at]) and not TOTAL.search(plain(raw[at])) for at in ids)
            and not any(self.blank(raw[at]) for at in self.id_columns("rooms") - carried)
            and not all(self.blank(value) for value in values.values())
            and not sums.agree(values)
        )
