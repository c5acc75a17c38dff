"""Turns a contractor's file into design files: reads the sheets, follows the map, checks the
result.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from pathlib import Path

from checker.design.tables import BadDesign, Tables
from checker.intake import delimited, workbooks
from checker.intake.assembling import Assembled, assemble
from checker.intake.layout import HEADINGS_WITHIN
from checker.intake.maps import IN_BRACES, Map, fitting
from checker.intake.sheets import BadSheet, Book, Remark, Sheet, alike, plain
from checker.intake.writing import written
from checker.reading import bounded, yaml_reader
from checker.reading.cells import cells_of, spot_at

SHEETS = (*workbooks.ENDINGS, ".csv", ".txt", ".tsv")
OLD = (".xlsb", ".numbers", ".pdf", ".docx", ".doc")


@dataclass(frozen=True)
class Intake:
    """One design that was read, and its text, which is empty where there are mistakes.

    name: the name for its file, without ending.
    """

    read: Assembled
    text: str
    name: str = ""


def opened(path: str, delimiter: str = "", encoding: str = "") -> Book:
    """Read the sheets of a file.

    Args:
        path: the file's path; its ending decides the format.
        delimiter: the sign between cells of a CSV file; detected where empty.
        encoding: the encoding of a CSV file; detected where empty.

    Returns:
        The sheets, of which at least one has content.

    Raises:
        BadSheet: the file cannot be read as sheets, or is empty.
    """
    file = Path(path)
    ending = file.suffix.lower()
    if ending in OLD or ending not in SHEETS:
        raise BadSheet(f"'{ending or 'no ending'}' cannot be read; save it as .xlsx, .ods or .csv")
    try:
        data = bounded.start_of(file, workbooks.LARGEST_FILE)
    except OSError as error:
        raise BadSheet(f"the file cannot be read: {bounded.why(error)}") from None
    return book_of(path, data, delimiter, encoding)


def book_of(path: str, data: bytes, delimiter: str = "", encoding: str = "") -> Book:
    """Read the sheets of a file whose bytes are known.

    Args:
        path: the file's path, for messages; its ending decides the format.
        data: the file's bytes.
        delimiter: the sign between cells of a CSV file; detected where empty.
        encoding: the encoding of a CSV file; detected where empty.

    Returns:
        The sheets, of which at least one has content.

    Raises:
        BadSheet: the bytes cannot be read as sheets, or all sheets are empty.
    """
    file = Path(path)
    if file.suffix.lower() in workbooks.ENDINGS:
        book = workbooks.read(path, data)
    else:
        book = delimited.read(path, file.stem, data, delimiter, encoding)
    if not any(True for sheet in book.sheets for _ in sheet.filled()):
        several = len(book.sheets) > 1
        what = f"all {len(book.sheets)} sheets are empty" if several else "the sheet is empty"
        raise BadSheet(f"{what}: no cell holds anything")
    return book


def of_map(sheets: Book, plan: Map) -> Iterator[Intake]:
    """Read every design of a file with a map.

    Args:
        sheets: the sheets of the file; a CSV file is read again where the map states its
            delimiter or encoding.
        plan: the map.

    Returns:
        The designs, one at a time; where the map says that there are several, each has a name.

    Raises:
        BadSheet: a CSV file cannot be read with the map's settings.
    """
    if sheets.single and (plan.delimiter or plan.encoding):
        sheets = book_of(sheets.path, sheets.data, plan.delimiter, plan.encoding)
    of_rows = {one.name: _names_of_rows(one, plan) for one in sheets.sheets if plan.split}
    seen: set[str] = set()
    for name, one in _parted(sheets, of_rows) if plan.split else _designs(sheets, plan):
        if name in seen:  # else one of the two would take the place of the other
            words = f"two designs in it would both be called '{name}'; make their names differ more"
            yield Intake(Assembled(sheets.path, mistakes=[Remark(sheets.path, words)]), "", name)
            continue
        seen.add(name)
        yield replace(of_book(one, plan), name=name)
    if plan.split:
        lost = _of_no_design(sheets, plan, of_rows, named=bool(seen))
        if lost is not None:
            yield Intake(Assembled(sheets.path, mistakes=[lost]), "")


def _of_no_design(
    book: Book, plan: Map, of_rows: dict[str, dict[int, str]], *, named: bool
) -> Remark | None:
    """What is wrong where rows belong to none of the designs that the map splits a book into."""
    if not named:
        words = f"no design is in it: no row has a value for the map's 'split: {plan.split}'"
        return Remark(book.path, words)
    for sheet in book.sheets:
        for row, name in of_rows[sheet.name].items():
            # A row of units has no number, a line before the first table no heading over it.
            if not name and any(_NUMBER.match(plain(value)) for value in sheet.rows[row]):
                words = f"the row comes before the first that has a value for '{plan.split}'"
                return Remark(book.path, words, sheet.name, sheet.number(row))
    return None


_NUMBER = re.compile(r"[-+]?\d")


def unread_sheets(book: Book, plan: Map) -> list[str]:
    """The sheets that hold none of the designs, where the map says that each sheet holds one.

    Args:
        book: the sheets of a file.
        plan: its map.

    Returns:
        Names of sheets that no part of the map reads, empty sheets left out.
    """
    if not any(part.each for part in plan.parts):
        return []
    patterns = [alike(part.sheet) for part in plan.parts if part.each]
    return [
        sheet.name
        for sheet in book.sheets
        if any(value != "" for row in sheet.rows for value in row)
        and not any(fnmatchcase(alike(sheet.name), one) for one in patterns)
        and not any(fitting(part.sheet, sheet.name) is not None for part in plan.parts)
    ]


def _designs(whole: Book, plan: Map) -> Iterator[tuple[str, Book]]:
    """The book, once for each design in it, each time with the sheets of that design only."""
    patterns = [part.sheet for part in plan.parts if part.each]
    own = [
        sheet
        for sheet in whole.sheets
        if any(fnmatchcase(alike(sheet.name), alike(pattern)) for pattern in patterns)
    ]
    if not own:
        yield "", whole
    shared = [sheet for sheet in whole.sheets if sheet not in own]
    for sheet in own:
        plain = re.sub(r"[^\w.-]+", "-", sheet.name).strip("-.")
        yield (plain or str(whole.sheets.index(sheet) + 1), replace(whole, sheets=[sheet, *shared]))


def _parted(whole: Book, of_rows: dict[str, dict[int, str]]) -> Iterator[tuple[str, Book]]:
    """The book once for each design that its rows are of, with those rows only."""
    names = dict.fromkeys(name for own in of_rows.values() for name in own.values())
    for name in filter(None, names):
        sheets = []
        for sheet in whole.sheets:
            rows = of_rows[sheet.name]
            kept = [
                values if rows.get(row, name) == name else []
                for row, values in enumerate(sheet.rows)
            ]
            sheets.append(replace(sheet, rows=kept))
        plain_name = re.sub(r"[^\w.-]+", "-", name).strip("-.")
        yield plain_name or str(len(names)), replace(whole, sheets=sheets)


def _names_of_rows(sheet: Sheet, plan: Map) -> dict[int, str]:
    """The design of each row under the headings that the map splits by; empty before the first."""
    wanted = {alike(name) for name in IN_BRACES.findall(plan.split)}
    top = next(
        (row for row in range(min(HEADINGS_WITHIN, len(sheet.rows)))
         if wanted <= {alike(plain(v)) for v in sheet.rows[row] if v != ""}),
        None,
    )  # fmt: skip
    if top is None:
        return {}
    at = {alike(plain(v)): c for c, v in reversed([*enumerate(sheet.rows[top])]) if v != ""}
    above = ""
    own = {}
    for row in range(top + 1, len(sheet.rows)):
        values = {key: plain(sheet.value(row, at[key])) for key in wanted}
        name = IN_BRACES.sub(lambda found: values[alike(found[1])], plan.split)  # noqa: B023
        above = name if all(values.values()) else above
        own[row] = above
    return own


def of_book(sheets: Book, plan: Map) -> Intake:
    """Read one design from the sheets of a file with a map."""
    return made(assemble(sheets, plan), f"map {Path(plan.path).name}")


def made(read: Assembled, by: str) -> Intake:
    """Write what was read as the text of a design, and check that text.

    Args:
        read: the design as it was read from the sheets.
        by: what it was read with, named in the file's first comment: `map NAME` or `form`.

    Returns:
        The design with its text; the text is empty where the design has mistakes.
    """
    if read.mistakes:
        return Intake(read, "")
    text = written(read, by)
    if len(text.encode()) > bounded.LARGEST_FILE:
        words = (f"a design of it would have more than the {bounded.LARGEST_FILE:,} bytes that a "
                 "design may have; give the map a 'split', or split the sheet")  # fmt: skip
        read.mistakes.append(Remark(read.path, words))
        return Intake(read, "")
    try:
        Tables().add(read.path, text.encode())
    except BadDesign as refused:
        # What is still wrong is wrong between cells, such as a part of a curve, or in the map.
        cells = cells_of(yaml_reader.read(text.encode()), text.encode())
        for problem in refused.problems:
            spot = spot_at(cells, problem.line, problem.column)
            remark = Remark(read.path, problem.message)
            if spot is not None:
                remark = replace(remark, sheet=spot.sheet, row=spot.row,
                                 column=spot.address.rstrip("0123456789"))  # fmt: skip
            read.mistakes.append(remark)
        return Intake(read, "")
    return Intake(read, text)
