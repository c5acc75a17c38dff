"""Finds the tables of a sheet, which may be side by side or one below another, by their
headings.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from checker.intake.guessing import guess
from checker.intake.maps import IN_BRACES, fitting
from checker.intake.sheet_notes import SheetNotes
from checker.intake.sheets import Remark, Sheet, Turned, alike, letters, plain, quoted
from checker.words import nearest

HEADINGS_WITHIN = 100
"""Headings are looked for in this many rows."""
OVER = 6
"""A table's title is looked for in this many rows above its headings."""
WIDE = 1_000_000
"""A column number beyond the last column of any sheet."""


class Table(NamedTuple):
    """One table: the row of its headings, its first row, and the row after its last.

    columns: the column of each heading; in_title: what its title and the sheet's name say, by
    the names that ids use; wide: its first column and the column after its last.
    """

    top: int
    first: int
    last: int
    columns: dict[str, int]
    in_title: dict[str, str]
    wide: tuple[int, int]


class Layout:
    """Finds the tables of one sheet that have the headings which its part of the map names."""

    def __init__(self, page: SheetNotes) -> None:
        self.page = page
        self.out = page.out
        self.sheet = page.sheet
        self.part = page.part

    def tables(self) -> list[Table]:
        """The tables of the sheet, in reading order; mistakes are noted where headings are
        missing.
        """
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
        line = sheet.line(top)
        for heading in missing:
            near = nearest(heading, self.page.heads.values())
            hint = f"did you mean '{near}'?" if near else "write the heading as it is in the sheet"
            if len(missing) == len(wanted) and wanted:
                hint = "no other heading was found either; is it the right sheet? " + hint
            self.page.assembly.mistake(
                f"there is no heading '{heading}' in {line}; {hint}", sheet=sheet.name
            )
        if not missing and len(counts) > 1:
            self.twice(wanted, found, top)
            return []
        if missing:
            return []
        if not part.header_row:
            self.out.assumed.append(f"Sheet '{sheet.name}': the headings are in {line}.")
        tops = [top, *self.further(top, wanted)]
        tables: list[Table] = []
        for number, here in enumerate(tops):
            last = self.end(tops[number + 1]) if number + 1 < len(tops) else len(sheet.rows)
            last = self.other_table(here + part.header_rows, last)
            tables += self.at(here, last, wanted)
        if len(tables) > 1:
            where = ", ".join(sheet.address(t.top, min(t.columns.values())) for t in tables)
            self.out.assumed.append(
                f"Sheet '{sheet.name}': the headings occur {len(tables)} times, each over a table "
                f"of its own ({where})."
            )
        return tables

    def twice(self, wanted: dict[str, str], found: dict[str, list[int]], top: int) -> None:
        """Note a mistake for each heading that occurs more than once in a row.

        Args:
            wanted: the headings to look for as the map spells them, by their form for comparing.
            found: the columns of each text in the row, from 0, by the same form.
            top: the row, from 0.
        """
        for key in wanted:
            if len(found[key]) > 1:
                cells = " and ".join(letters(column) for column in found[key])
                self.page.assembly.mistake(
                    f"the heading '{wanted[key]}' is there twice (columns {cells}); "
                    "give the map the 'column' instead",
                    sheet=self.sheet.name, row=self.sheet.number(top),
                )  # fmt: skip

    def found(self, top: int) -> dict[str, list[int]]:
        """The columns of each text in a row of headings; the sheet's `heads` keep the texts.

        Args:
            top: the first row of the headings, from 0.

        Returns:
            Columns from 0, from left to right, by the text in its form for comparing.
        """
        found: dict[str, list[int]] = defaultdict(list)
        for column, text in self.headings(top):
            self.page.heads[column] = text
            found[alike(text)].append(column)
        return found

    def further(self, top: int, wanted: dict[str, str]) -> list[int]:
        """The rows further down in which all the headings occur again.

        Args:
            top: the first row of the headings of the first table, from 0.
            wanted: the headings to look for, by their form for comparing.

        Returns:
            Rows from 0, in order; none where no heading is looked for.
        """
        if not wanted:
            return []
        return [
            row
            for row in range(top + self.part.header_rows, len(self.sheet.rows))
            if wanted.keys() <= {alike(text) for _, text in self.headings(row)}
        ]

    def other_table(self, first: int, last: int) -> int:
        """The row of the headings of another kind of table, where one begins within these rows."""
        for row in range(first, last):
            cells = [v for v in self.sheet.rows[row] if v != ""]
            texts = [v.strip() for v in cells if isinstance(v, str) and v.strip()]
            if len(texts) < 2 or len(texts) < len(cells) or any(t[0].isdigit() for t in texts):
                continue
            named = [text for text in texts if (found := guess(text)) and found.alike == 1.0]
            if len(named) < 2 or 2 * len(named) < len(texts):
                continue
            words = ", ".join(quoted(text) for text in texts[:4])
            self.out.slips.append(
                Remark(
                    self.out.path,
                    f"from {self.sheet.line(row)} on there are other headings ({words}), so "
                    "nothing is read from there; give that table a part of its own in the map",
                    self.sheet.name,
                )
            )
            return row
        return last

    def end(self, top: int) -> int:
        """Where a table ends that another follows; the title of the next one is not part of it.

        Args:
            top: the row of the next table's headings, from 0.

        Returns:
            The row after the table's last, from 0.
        """
        row = top - 1
        while row > 0 and sum(v != "" for v in self.sheet.rows[row]) == 0:
            row -= 1
        alone = [v for v in self.sheet.rows[row] if v != ""]
        return row if len(alone) == 1 and isinstance(alone[0], str) else top

    def at(self, top: int, last: int, wanted: dict[str, str]) -> Iterator[Table]:
        """The tables whose headings are in one row; one without its title is noted as a mistake.

        Args:
            top: the first row of the headings, from 0.
            last: the row after the tables' last, from 0.
            wanted: the headings that each table has, by their form for comparing.

        Returns:
            The tables from left to right.
        """
        found = self.found(top)
        for line in range(top, top + self.part.header_rows):
            self.page.used.update((line, column) for column in range(len(self.sheet.rows[line])))
        several = max((len(found[key]) for key in wanted), default=1)
        lefts = [min((found[key][n] for key in wanted), default=0) for n in range(several)]
        for number in range(several):
            columns = {key: found[key][number] for key in wanted}
            left = lefts[number] if number else 0
            right = lefts[number + 1] if number + 1 < several else WIDE
            title = self.title(top, left, right, lefts[number])
            in_title = self.part.title_values(self.sheet.name, title)
            if self.part.title and not set(IN_BRACES.findall(self.part.title)) <= in_title.keys():
                self.page.assembly.mistake(
                    f"no line over the headings in {self.sheet.line(top)} reads like "
                    f"'{self.part.title}'", sheet=self.sheet.name,
                )  # fmt: skip
                continue
            yield Table(top, top + self.part.header_rows, last, columns, in_title, (left, right))

    def title(self, top: int, left: int, right: int, first: int) -> str:
        """The nearest text above a table's headings that fits the pattern in the map.

        Args:
            top: the row of the headings, from 0.
            left: the first column to look in, from 0.
            right: the column after the last to look in.
            first: the column of the table's first heading; in a transposed sheet the title is
                before it.

        Returns:
            The text as the sheet has it; empty where none fits, or the map names no title.
        """
        if not self.part.title:
            return ""
        wanted = {alike(heading) for heading in self.part.headings}
        for row in range(top - 1, max(-1, top - OVER), -1):
            if wanted <= {alike(text) for _, text in self.headings(row)}:
                break  # what is further up belongs to another table
            for column in range(left, min(right, len(self.sheet.rows[row]))):
                text = plain(self.sheet.value(row, column))
                if fitting(self.part.title, text):
                    self.page.used.add((row, column))
                    return text
        if isinstance(self.sheet, Turned):
            # There, a title is before the headings, in their own line.
            for column in range(first - 1, max(-1, first - OVER), -1):
                text = plain(self.sheet.value(top, column))
                if fitting(self.part.title, text):
                    return text
        return ""

    def likeliest(self, wanted: dict[str, str]) -> int:
        """The row that contains most of the headings, for the message about those missing."""
        best, most = 0, -1
        for row in range(min(HEADINGS_WITHIN, len(self.sheet.rows))):
            count = len({alike(text) for _, text in self.headings(row)} & wanted.keys())
            if count > most:
                best, most = row, count
        return best

    def headings(self, top: int) -> Iterator[tuple[int, str]]:
        """The headings in a row, over as many rows as the map says that they take.

        Args:
            top: the first of these rows, from 0.

        Returns:
            Pairs of column, from 0, and text.
        """
        return joined_headings(self.sheet, top, self.part.header_rows)


def joined_headings(sheet: Sheet, top: int, count: int) -> Iterator[tuple[int, str]]:
    """The headings in a row; a heading that spans several columns is given for each of them.

    Args:
        sheet: the sheet.
        top: the first row of the headings, counted from 0.
        count: how many rows the headings take; their texts are joined.

    Returns:
        Pairs of column, counted from 0, and text.
    """
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
