"""Writes a form as a workbook: lists of choices, notes, units, shades, and checks that find
slips.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import IO, Any, NamedTuple

from checker import units
from checker.forms.declaring import truth
from checker.forms.model import (
    CARRIED,
    HIDDEN,
    MARK,
    Block,
    Cell,
    Check,
    Form,
    Page,
    Question,
    Record,
)
from checker.forms.places import FIRST_ANSWER, Place, laid_out, sheet_of
from checker.intake.sheets import figure, letters
from checker.intake.values import unmistakable
from checker.words.workbook import plain_sheet

LONGEST_LIST = 255
"""Longest list of choices that a workbook's own check can hold, in characters."""
TOLERATED = 0.25
"""Allowed ratio between a length and area over spacing plus feeds before the workbook remarks on
it; common practice, no source. The rules judge it more closely.
"""
COMMENT = {"x_scale": 2.2, "y_scale": 1.8, "author": "", "font_size": 9}
_NUMBER = re.compile(r"(-?[0-9]+(?:\.[0-9]+)?)(?: (.+))?")


class Finding(NamedTuple):
    """A remark on a cell of a marked copy: its words and its severity (the name of a shade)."""

    words: str
    shade: str


SHADES = {
    "critical": "#E8A0A0", "major": "#F4C7B8", "minor": "#FBE9B7", "observation": "#DCE9F5",
    "open": "#D9D2E9", "review": "#D9D2E9", "refused": "#E8A0A0", "read": "#E2F0D9",
    "assumed": "#FBE9B7", "not read": "#E0E0E0",
}  # fmt: skip
"""The shade of a cell for each severity; its comment says the same in words."""


def workbook(
    file: IO[bytes],
    form: Form,
    records: Mapping[str, Sequence[Record]] | None = None,
    *,
    shown_units: Mapping[str, str] | None = None,
    findings: Mapping[Cell, Finding] | None = None,
) -> None:
    """Write a form, filled in with these records.

    The same form with the same records gives the same bytes, and no text ever becomes a formula.

    Args:
        file: where to write.
        form: the form.
        records: the known answers, by block.
        shown_units: for a question the unit that its answers are shown in, where it is not the
            usual.
        findings: remarks on cells, each written as a comment and a shade.
    """
    writing = _Writing(file, form, shown_units or {}, findings or {})
    for page in form.pages:
        writing.page(page, page.name, records or {}, blank=True)
    if form.example and not findings:
        for page in form.pages:
            writing.page(page, f"Example {page.name.lower()}", form.example, blank=False)
    writing.hidden()
    writing.book.close()


class _Writing:
    """A form that is being written."""

    def __init__(
        self,
        file: IO[bytes],
        form: Form,
        shown: Mapping[str, str],
        findings: Mapping[Cell, Finding],
    ) -> None:
        from checker.words.workbook import workbook as texts_only

        self.form = form
        self.shown = shown
        self.findings = findings
        self.places = laid_out(form)
        self.book = texts_only(file, form.title)
        self.formats: dict[frozenset[tuple[str, Any]], Any] = {}

    def format(self, **look: Any) -> Any:
        key = frozenset(look.items())
        if key not in self.formats:
            self.formats[key] = self.book.add_format({"valign": "top", **look})
        return self.formats[key]

    def page(
        self, page: Page, name: str, records: Mapping[str, Sequence[Record]], *, blank: bool
    ) -> None:
        """Write one sheet, to be filled in (`blank`), or to show how that is done."""
        sheet = self.book.add_worksheet(name, plain_sheet())
        sheet.write_string(0, 0, page.title + ("" if blank else " (an example, not read)"),
                           self.format(bold=True, font_size=14))  # fmt: skip
        sheet.write_string(1, 0, page.note, self.format(italic=True, font_color="#404040"))
        down = any(not block.across for block in page.blocks)
        if not down:
            sheet.set_column(0, 0, 36)
            sheet.set_column(1, 1, 9)
            sheet.set_column(2, 8, 18)
        for block in page.blocks:
            own = records.get(block.name, ())
            if block.across:
                self.across(sheet, self.places[block.name], own, blank=blank)
            else:
                self.down(sheet, self.places[block.name], own, blank=blank)
        if self.form.locked:
            sheet.protect("", {"format_columns": True, "format_rows": True})
        sheet.set_landscape()
        sheet.set_paper(9)
        sheet.fit_to_pages(1, 0)
        if not blank:
            sheet.set_tab_color("#BFBFBF")

    # Records side by side.

    def across(self, sheet: Any, place: Place, records: Sequence[Record], *, blank: bool) -> None:
        """Write a block whose records are side by side."""
        block = place.block
        width = FIRST_ANSWER + block.places
        for column in range(width):
            sheet.write_blank(place.top, column, None, self.format(bg_color="#DDE3EA"))
        sheet.write_string(place.top, 0, block.title, self.format(bold=True, bg_color="#DDE3EA"))
        if block.key:
            sheet.write_string(place.top + 1, 0, block.key, self.format(bold=True))
            self.names(sheet, place, records, blank=blank)
        for number, asked in enumerate(block.questions):
            row, column = place.unit(number)
            sheet.write_string(row, 0, asked.title, self.format())
            self.note(sheet, row, 0, asked)
            self.unit(sheet, row, column, asked, free=_free(block, asked, records))
            for record in range(block.places):
                self.answer(sheet, place, number, record, records, blank=blank)

    # Records one below another.

    def down(self, sheet: Any, place: Place, records: Sequence[Record], *, blank: bool) -> None:
        """Write a block whose records are one below another."""
        block = place.block
        heads = [block.key, *(one.title for one in block.questions)]
        for column, head in enumerate(heads):
            sheet.write_string(
                place.top, column, head, self.format(bold=True, text_wrap=True, bg_color="#DDE3EA")
            )
        sheet.set_row(place.top, 45)
        sheet.set_column(0, 0, 8)
        sheet.set_column(1, len(heads) - 1, 12)
        sheet.freeze_panes(place.top + 2, 1)
        self.names(sheet, place, records, blank=blank)
        for number, asked in enumerate(block.questions):
            self.note(sheet, place.top, number + 1, asked)
            free = _free(block, asked, records)
            self.unit(sheet, *place.unit(number), asked, free=free)
            for record in range(block.places if blank else len(records)):
                self.answer(sheet, place, number, record, records, blank=blank)
            if blank and block.only is None and not asked.fixed:
                (first, column), (last, _) = (
                    place.answer(n, number) for n in (0, block.places - 1)
                )
                self.validate(sheet, place, number, first, column, last)
        if block.checks and blank:
            column = len(heads)
            sheet.write_string(place.top, column, "Look at", self.format(bold=True))
            sheet.set_column(column, column, 44)
            for record in range(block.places):
                row = place.answer(record, -1)[0]
                formula = "&".join(self.checked(place, check, row) for check in block.checks)
                sheet.write_formula(
                    row, column, f"={formula}", self.format(font_color="#A03000"), ""
                )

    def checked(self, place: Place, check: Check, row: int) -> str:
        """A formula that says what is wrong in a row, or nothing."""
        asked = [one.to for one in place.block.questions]
        first, last = place.answer(0, 0)[0] + 1, place.answer(place.block.places - 1, 0)[0] + 1

        def cell(to: str) -> str:
            return f"${letters(asked.index(to) + 1)}{row + 1}"

        def number(to: str) -> str:
            """What a cell says in SI, or what is said of every record where it is empty."""
            own = f"{self.si(place, to)}*{cell(to)}"
            usual = self.usual(to)
            return f'IF({cell(to)}="",{self.si(*usual)}*{self.at(*usual)},{own})' if usual else own

        def given(to: str) -> str:
            usual = self.usual(to)
            own = f"ISNUMBER({cell(to)})"
            return f'OR({own},AND({cell(to)}="",ISNUMBER({self.at(*usual)})))' if usual else own

        if check.twice:
            alike = []
            for to in check.twice:
                column = letters(asked.index(to) + 1)
                cells, own = f"${column}${first}:${column}${last}", cell(to)
                same = f"({cells}={own})"
                if usual := self.usual(to):
                    one = self.at(*usual)
                    same = f'(({same}+({cells}="")*({own}={one})+({cells}={one})*({own}=""))>0)'
                alike.append(same)
            there = cell(check.twice[-1])
            return f'IF({there}="","",IF(SUMPRODUCT({"*".join(alike)})>1,"{check.says}. ",""))'
        area, spacing, feeds = check.of
        expected = f"({number(area)}/({number(spacing)})+IF({given(feeds)},{number(feeds)},0))"
        wanted = ",".join(given(to) for to in (check.about, area, spacing))
        far = f"ABS({number(check.about)}/{expected}-1)>{TOLERATED}"
        return f'IF(AND({wanted}),IF({far},"{check.says}. ",""),"")'

    def usual(self, to: str) -> tuple[Place, str] | None:
        """The cell of the value for all records, which counts where a record's own cell is
        empty.
        """
        default = f"defaults.{to}"
        for place in self.places.values():
            if any(one.to == default for one in place.block.questions):
                return place, default
        return None

    def at(self, place: Place, to: str) -> str:
        """The cell of a block's only record, as a formula on any sheet writes it."""
        number = next(n for n, one in enumerate(place.block.questions) if one.to == to)
        row, column = place.answer(0, number)
        return f"{sheet_of(place)}${letters(column)}${row + 1}"

    def si(self, place: Place, to: str) -> str:
        """The part of a formula that converts a question's numbers to SI, by the unit chosen."""
        number = next(n for n, one in enumerate(place.block.questions) if one.to == to)
        row, column = place.unit(number)
        asked = place.block.questions[number]
        key = f'"{asked.leaf.quantity}:"&{sheet_of(place)}${letters(column)}${row + 1}'
        return f"VLOOKUP({key},{HIDDEN}!$A$3:$C$80,2,FALSE)"

    # Cells.

    def names(self, sheet: Any, place: Place, records: Sequence[Record], *, blank: bool) -> None:
        block = place.block
        taken = [record.name for record in records]
        free = (block.names.format(n) for n in range(1, 10_000))
        free = (name for name in free if name not in taken)
        for number in range(block.places if blank else len(records)):
            row, column = place.answer(number, -1)
            name = next(free) if block.names and number >= len(records) else ""
            name = records[number].name if number < len(records) else name
            look: dict[str, Any] = {"border": 1, "bold": True}
            if self.form.locked and number >= len(records):
                look |= {"bg_color": "#FFF4CC", "locked": False}
            self.put(sheet, place, row, column, name, "", self.format(**look))

    def unit(self, sheet: Any, row: int, column: int, asked: Question, *, free: bool) -> None:
        """Write the unit of a question; where it is `free`, another may be chosen."""
        if not asked.units:
            return
        shown = self.shown.get(asked.to, asked.units[0])
        look: dict[str, Any] = {"font_color": "#305080", "border": 1}
        if self.form.locked and free:
            look["locked"] = False
        sheet.write_string(row, column, shown, self.format(**look))
        if len(asked.units) > 1 and free:
            sheet.data_validation(
                row, column, row, column,
                {"validate": "list", "source": [*asked.units],
                 "error_title": self.form.says("unit"),
                 "error_message": self.form.says("choose")},
            )  # fmt: skip

    def note(self, sheet: Any, row: int, column: int, asked: Question) -> None:
        lines = [asked.note]
        if asked.options:
            lines.append(self.form.says("one_of", options=", ".join(asked.options)))
        if asked.example:
            lines.append(self.form.says("for_example", example=asked.example))
        if asked.leaf.kind == "date":
            lines.append(self.form.says("for_example", example="2026-03-12"))
        text = "\n".join(line for line in lines if line)
        if text:
            sheet.write_comment(row, column, text, COMMENT)

    def answer(
        self, sheet: Any, place: Place, number: int, record: int, records: Sequence[Record],
        *, blank: bool,
    ) -> None:  # fmt: skip
        asked = place.block.questions[number]
        row, column = place.answer(record, number)
        text = records[record].values.get(asked.to, "") if record < len(records) else ""
        is_open = not asked.fixed and place.block.asks(record, asked.to)
        look: dict[str, Any] = {"border": 1, "border_color": "#B0B0B0"}
        if not is_open:
            look["bg_color"] = "#EEEEEE"
        elif self.form.locked:
            look |= {"bg_color": "#FFF4CC", "locked": False}
        elif asked.decides:
            look["bg_color"] = "#FDE9D0"
        if asked.leaf.kind == "date":
            look["num_format"] = "yyyy-mm-dd"
        self.put(sheet, place, row, column, text, self.unit_of(asked), look, asked)
        if blank and is_open and (place.block.across or place.block.only is not None):
            self.validate(sheet, place, number, row, column, row)

    def unit_of(self, asked: Question) -> str:
        if asked.units:
            return self.shown.get(asked.to, asked.units[0])
        return "\0" if asked.leaf.kind == "integer" else ""

    def put(
        self, sheet: Any, place: Place, row: int, column: int, text: str, unit: str, look: Any,
        asked: Question | None = None,
    ) -> None:  # fmt: skip
        """Write one cell, and the note that belongs to it."""
        finding = None
        if self.findings and sheet.get_name() == place.page.name:
            at = Cell(place.page.name, row, column, f"{letters(column)}{row + 1}")
            finding = self.findings.get(at)
        if isinstance(look, dict):
            if finding is not None:
                look = {**look, "bg_color": SHADES[finding.shade]}
            look = self.format(**look)
        elif finding is not None:
            look = self.format(border=1, bold=True, bg_color=SHADES[finding.shade])
        if finding is not None:
            sheet.write_comment(row, column, finding.words, COMMENT)
        if asked is not None:
            text = asked.shown(text)
            text = truth(text) if asked.leaf.kind == "boolean" else text
        number = _number(text, unit)
        day = _day(text) if asked is not None and asked.leaf.kind == "date" else None
        if number is not None:
            sheet.write_number(row, column, number, look)
        elif day is not None:
            sheet.write_datetime(row, column, day, look)
        elif text:
            if asked is not None and asked.leaf.kind == "quantity":
                text = unmistakable(text, asked.leaf)
            sheet.write_string(row, column, text, look)
        else:
            sheet.write_blank(row, column, None, look)

    def validate(
        self, sheet: Any, place: Place, number: int, row: int, column: int, last: int
    ) -> None:
        """Add the workbook's own checks to a cell, or to a column down to a last row."""
        asked = place.block.questions[number]
        leaf = asked.leaf
        wants: dict[str, Any] = {"ignore_blank": True, "error_type": "warning",
                                 "error_title": asked.title[:30]}  # fmt: skip
        if asked.names:
            wants |= (
                {"validate": "list", "source": f"={self.places[asked.names].names()}"}
                if asked.names in self.places and self._free_of_spares(asked.names)
                else {}
            )
            wants["error_message"] = f"No such name among the {asked.names} on their sheet."
        elif asked.options and len(",".join(asked.options)) <= LONGEST_LIST:
            wants |= {"validate": "list", "source": [*asked.options],
                      "error_message": self.form.says("choose")}  # fmt: skip
        elif leaf.kind == "integer":
            wants |= {"validate": "integer", "criteria": "between",
                      "minimum": leaf.least, "maximum": leaf.most,
                      "error_message": self.form.says("whole", least=leaf.least, most=leaf.most),
                      }  # fmt: skip
        elif leaf.kind == "quantity":
            at = f"{letters(column)}{row + 1}"
            unit_row, unit_column = place.unit(number)
            unit = f"${letters(unit_column)}${unit_row + 1}"
            key = f'"{leaf.quantity}:"&{unit}'
            factor = f"VLOOKUP({key},{HIDDEN}!$A$3:$C$80,2,FALSE)"
            offset = f"VLOOKUP({key},{HIDDEN}!$A$3:$C$80,3,FALSE)"
            value = f"({at}*{factor}+{offset})"
            formula = f"AND(ISNUMBER({at}),{value}>={leaf.least:.12g},{value}<={leaf.most:.12g})"
            if len(formula) > LONGEST_LIST:
                formula = f"ISNUMBER({at})"
            wants |= {"validate": "custom", "value": f"={formula}",
                      "error_message": self.form.says(
                          "number", least=leaf.least_text, most=leaf.most_text)}  # fmt: skip
        elif leaf.kind == "date":
            wants |= {"validate": "custom", "value": f"=ISNUMBER({letters(column)}{row + 1})",
                      "error_message": self.form.says("day")}  # fmt: skip
        if "validate" in wants:
            sheet.data_validation(row, column, last, column, wants)

    def _free_of_spares(self, block: str) -> bool:
        """Whether all names of a block are given, so that none in advance stays unused."""
        own = self.places[block].block
        return own.across or not own.names

    def hidden(self) -> None:
        """Write the hidden sheet: which form this is, and what each unit is in SI."""
        sheet = self.book.add_worksheet(HIDDEN)
        for column, text in enumerate((MARK, self.form.name, str(self.form.version))):
            sheet.write_string(0, column, text)
        known = {
            (one.leaf.quantity, unit)
            for block in self.form.blocks
            for one in block.questions
            for unit in one.units
        }
        for row, (quantity, unit) in enumerate(sorted(known), 2):
            scale, offset = units.factor(unit, quantity)
            sheet.write_string(row, 0, f"{quantity}:{unit}")
            sheet.write_number(row, 1, scale)
            sheet.write_number(row, 2, offset)
        for row, texts in enumerate(self.form.carried):
            for column, text in enumerate(texts, CARRIED):
                sheet.write_string(row, column, text)
        sheet.hide()


def _free(block: Block, asked: Question, records: Sequence[Record]) -> bool:
    """Whether a question's unit may be chosen; not where a locked answer is given in it."""
    return block.only is None or not any(asked.to in one.values for one in records)


def _number(text: str, own: str) -> float | None:
    """The number of a text in the cell's unit; None where a cell could not hold it exactly."""
    match = _NUMBER.fullmatch(text) if own else None
    if match is None or (match[2] or "\0") != own:
        return None
    value = float(match[1])
    return value if float(figure(value)) == value else None


def _day(text: str) -> Any:
    from checker.words import calendar_day

    try:
        return calendar_day(text)
    except ValueError:
        return None
