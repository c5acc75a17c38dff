"""A copy of somebody's sheets that shows, cell by cell, what was found, read, refused and left out.

The copy holds values in the cells that they had, but no formats, formulas, macros or links of the
original. Each finding is a comment as well as a shade.
"""

from __future__ import annotations

import io
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import Any

from checker.forms.writing import COMMENT, SHADES, Finding
from checker.intake.assembling import Assembled
from checker.intake.sheets import Book, Sheet, Value, column_of, letters, plain
from checker.outcome.report import DesignReport
from checker.outcome.results import SEVERITIES, Result

FINDINGS = "What was found"
"""The sheet that lists every finding, those without a cell too."""
ORDER = (*SEVERITIES, "refused", "open", "review", "assumed", "read", "not read")
"""The order in which remarks decide a cell's shade, the gravest first."""
KEY = {
    "critical": "can hurt someone, ruin the floor or bury a leak", "major": "will not do its job",
    "minor": "short of good practice", "open": "cannot be judged yet, or needs a person's review",
    "refused": "could not be read, so it is not known", "assumed": "read, but check it",
    "read": "read", "not read": "not used",
}  # fmt: skip
Place = tuple[str, int, int]
"""A sheet's name, and row and column from 0."""


def marked(book: Book, read: Iterable[Assembled], reports: Iterable[DesignReport]) -> bytes:
    """Write the marked copy of a book.

    Args:
        book: the sheets as they were sent.
        read: how each of their designs was read.
        reports: the findings about those designs that could be judged.

    Returns:
        The bytes of a workbook.
    """
    marks: dict[Place, list[Finding]] = defaultdict(list)
    loose: list[Finding] = []
    for one in read:
        for spot in one.cells.values():
            marks[spot.sheet, spot.row - 1, spot.column - 1].append(Finding("", "read"))
        for shade, remarks in (("refused", one.refused), ("assumed", one.slips),
                               ("refused", one.mistakes)):  # fmt: skip
            for remark in remarks:
                column = remark.column.partition(" ")[0]
                finding = Finding(remark.words, shade)
                if remark.sheet and remark.row and column:
                    marks[remark.sheet, remark.row - 1, column_of(column)].append(finding)
                else:
                    loose.append(Finding(f"{remark.cell} {remark.words}".strip(), shade))
    for report in reports:
        for result in report.results_of("fail", "open", "review"):
            if result.waived or result.due:
                continue
            finding = Finding(_words(result), _shade(result))
            place = _place(result)
            if place is None or result.kind != "fail":
                loose.append(finding)
            else:
                marks[place].append(finding)
    return _written(book, marks, loose)


def _words(result: Result) -> str:
    """A finding as the comment on its cell."""
    remedy = f"\n→ {result.remedy}" if result.remedy and result.kind == "fail" else ""
    about = f"{result.severity}: {result.title}. {result.message}"
    return f"{about}{remedy}\n({result.rule}, {result.subject})"


def _shade(result: Result) -> str:
    return result.severity if result.kind == "fail" else result.kind


def _place(result: Result) -> Place | None:
    """The cell of a finding; None where no single cell states what it is about."""
    if not result.cell:
        return None
    sheet, _, address = result.cell.rpartition(" ")
    head = address.rstrip("0123456789")
    digits = address[len(head) :]
    if not (head.isascii() and head.isalpha() and digits):
        return None
    return sheet, int(digits) - 1, column_of(head)


def _written(book: Book, marks: dict[Place, list[Finding]], loose: list[Finding]) -> bytes:
    from checker.words.workbook import workbook

    made = io.BytesIO()
    out = workbook(made, default_date_format="yyyy-mm-dd")
    formats = {shade: out.add_format({"bg_color": colour}) for shade, colour in SHADES.items()}
    names: set[str] = set()
    listed: list[tuple[str, Finding]] = []
    for sheet in book.sheets:
        own = out.add_worksheet(_name(sheet.name, names))
        _copy(own, sheet, marks, formats, listed)
    _list(out.add_worksheet(_name(FINDINGS, names)), out, formats, listed, loose)
    out.close()
    return made.getvalue()


def _copy(
    own: Any, sheet: Sheet, marks: dict[Place, list[Finding]], formats: dict[str, Any],
    listed: list[tuple[str, Finding]],
) -> None:  # fmt: skip
    """Write the values of a sheet with shades and comments; what was said goes into `listed`."""
    rows = {sheet.number(row): row for row in range(len(sheet.rows))}
    extra = [(r, c) for name, r, c in marks if name == sheet.name and r + 1 not in rows]
    widths: dict[int, int] = {}
    for number, row in rows.items():
        for column in range(len(sheet.rows[row])):
            value = sheet.value(row, column)
            found = marks.get((sheet.name, number - 1, column), [])
            if value == "" and not found and (row, column) not in sheet.faults:
                continue
            shade = min((one.shade for one in found), key=ORDER.index, default="not read")
            _put(own, number - 1, column, value, formats[shade])
            widths[column] = min(30, max(widths.get(column, 8), len(plain(value)) + 1))
            said = [one for one in found if one.words]
            if said:
                listed += [(f"{sheet.name} {letters(column)}{number}", one) for one in said]
                own.write_comment(number - 1, column, "\n\n".join(o.words for o in said), COMMENT)
    for row, column in extra:
        found = marks[sheet.name, row, column]
        said = [one for one in found if one.words]
        listed += [(f"{sheet.name} {letters(column)}{row + 1}", one) for one in said]
    for column, width in widths.items():
        own.set_column(column, column, width)
    if sheet.hidden:
        own.hide()


def _put(own: Any, row: int, column: int, value: Value, look: Any) -> None:
    if isinstance(value, bool):
        own.write_boolean(row, column, value, look)
    elif isinstance(value, int | float):
        own.write_number(row, column, value, look)
    elif isinstance(value, date | datetime | time | timedelta):
        own.write_string(row, column, plain(value), look)
    elif value == "":
        own.write_blank(row, column, None, look)
    else:
        own.write_string(row, column, value[:32_000], look)


def _list(
    own: Any, out: Any, formats: dict[str, Any], listed: list[tuple[str, Finding]],
    loose: list[Finding],
) -> None:  # fmt: skip
    """Write the sheet that lists every finding, the gravest first, and what the shades mean."""
    wrapped = out.add_format({"text_wrap": True, "valign": "top"})
    own.set_column(0, 0, 26)
    own.set_column(1, 1, 100, wrapped)
    own.write_row(0, 0, ["Cell", "What was found"], out.add_format({"bold": True}))
    row = 1
    entries = [*listed, *(("", finding) for finding in loose)]
    for cell, finding in sorted(entries, key=lambda one: ORDER.index(one[1].shade)):
        own.write_string(row, 0, cell, formats[finding.shade])
        own.write_string(row, 1, finding.words[:32_000], wrapped)
        row += 1
    row += 1
    for shade, words in KEY.items():
        own.write_string(row, 0, shade, formats[shade])
        own.write_string(row, 1, words, wrapped)
        row += 1


def _name(name: str, taken: set[str]) -> str:
    """A name that a workbook allows for a sheet and that none of the others has."""
    base = "".join("_" if sign in "[]:*?/\\" else sign for sign in name).strip("'")[:28] or "Sheet"
    made, number = base, 2
    while made.casefold() in taken:
        made, number = f"{base} {number}", number + 1
    taken.add(made.casefold())
    return made
