"""Reads XLSX and ODS workbooks: values with calamine, everything else from the file's XML.

calamine returns an empty text for a cell with an error and for a formula that was never calculated,
and builds a sheet's whole rectangle in memory. So each sheet's XML is read first: which cells
cannot be trusted, which are merged, and how far the sheet reaches. Nothing outside the file is ever
opened, and no macro is run.
"""

from __future__ import annotations

import io
import os
import re
import struct
import sys
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, Any
from xml.etree import ElementTree

from checker.intake.looks import (
    ELSEWHERE,
    MOST_CELLS,
    UNWORKED,
    Look,
    local,
    refuse_too_many,
    without_links,
)
from checker.intake.opendocument import ods_looks
from checker.intake.sheets import (
    ERROR,
    BadSheet,
    Book,
    Sheet,
    figure,
)
from checker.intake.styles import (
    Style,
    Text,
    cell_styles,
    comments_of,
    of_runs,
    shared_texts,
)

LARGEST_FILE = 30 * 1024 * 1024
LARGEST_UNPACKED = 300 * 1024 * 1024
"""Largest size of a workbook in bytes, packed and unpacked."""
MOST_PARTS = 5000
"""Most files in the zip that a workbook is."""
MOST_TIMES_SMALLER = 250
"""Largest compression ratio of a part of over a megabyte; sheets reach about 30."""

DAMAGE = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, LookupError, NotImplementedError,
    OSError, OverflowError, RuntimeError, ValueError,
)  # fmt: skip
"""What the standard library raises for a damaged or locked zip file, for a damaged number in it,
and for an encoding that it does not know.
"""

ENDINGS = (".xlsx", ".xlsm", ".ods", ".xls")
OLD = b"\xd0\xcf\x11\xe0"
"""The first bytes of a workbook in the old binary format, and of one that is locked."""
UNSEEN = (
    "the file is an old workbook (.xls), of which only values can be seen: not what is hidden, "
    "struck through, commented, or shows an error"
)
ZERO = "is 0 in an old workbook (.xls), which may have lost the text of a formula; save it as .xlsx"
"""Office programs save the result of a formula that gives a text as 0; a 0 that somebody typed is
a whole number there, and is told apart.
"""


def read(path: str, data: bytes) -> Book:
    """Read all sheets of a workbook.

    Args:
        path: the file's path, for messages and for the kind of workbook.
        data: the file's bytes.

    Returns:
        The sheets, hidden ones too, with what cannot be trusted, what is struck through and what
        has comments; of an old workbook (.xls) values only, which is noted.

    Raises:
        BadSheet: the file is too large, locked, damaged or not a workbook.
    """
    import python_calamine as calamine

    if len(data) > LARGEST_FILE:
        raise BadSheet(f"the file has {len(data):,} bytes; a workbook may have {LARGEST_FILE:,}")
    if data.startswith(OLD):
        return _old(path, data)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _refuse_bombs(archive)
            names = set(archive.namelist())
            looks = ods_looks(archive) if "content.xml" in names else _xlsx(archive)
        workbook_of = calamine.CalamineWorkbook.from_filelike
        with _unheard(), workbook_of(io.BytesIO(data)) as workbook:
            hidden = {
                one.name: one.visible != calamine.SheetVisibleEnum.Visible
                for one in workbook.sheets_metadata
                if one.typ == calamine.SheetTypeEnum.WorkSheet
            }
            sheets = [
                _sheet(name, workbook.get_sheet_by_name(name), looks.get(name, Look()), hides)
                for name, hides in hidden.items()
            ]
    except DAMAGE:
        raise BadSheet("the file is damaged, locked, or no workbook; save it as .xlsx") from None
    except ElementTree.ParseError as error:
        raise BadSheet(f"a part of the file is damaged: {error}") from None
    except calamine.CalamineError as error:
        raise BadSheet(f"the file cannot be read as a workbook: {error}") from None
    except BaseException as error:
        # The library that reads workbooks gives up on some damage in a way of its own.
        if type(error).__name__ != "PanicException":
            raise
        raise BadSheet("the file is damaged inside; save it again as .xlsx") from None
    book = Book(path, sheets)
    if any(name.endswith("vbaProject.bin") or name.startswith("Basic/") for name in names):
        book.notes.append("the file holds macros; they were not run")
    if any("externalLinks/" in name for name in names):
        book.notes.append("the file links to other files; none was opened")
    return book


def _old(path: str, data: bytes) -> Book:
    """Read a workbook in the old binary format, of which only the values can be read."""
    import python_calamine as calamine

    locked = "the file is an old or a locked workbook; save it as .xlsx without a password"
    if not path.lower().endswith(".xls"):
        raise BadSheet(locked)
    try:
        with (
            _unheard(),
            calamine.CalamineWorkbook.from_filelike(io.BytesIO(data)) as workbook,
        ):
            sheets = []
            for one in workbook.sheets_metadata:
                if one.typ == calamine.SheetTypeEnum.WorkSheet:
                    found = workbook.get_sheet_by_name(one.name)
                    if found.total_height * found.total_width > MOST_CELLS:
                        raise BadSheet(f"sheet '{one.name}' is too large; save it as .xlsx")
                    hides = one.visible != calamine.SheetVisibleEnum.Visible
                    sheet = _sheet(one.name, found, Look(), hides)
                    sheet.faults = {
                        (row, column): ZERO
                        for row, values in enumerate(sheet.rows)
                        for column, value in enumerate(values)
                        if isinstance(value, float) and value == 0.0
                    }
                    sheets.append(sheet)
    except BadSheet:
        raise
    except BaseException as error:
        # The library that reads workbooks gives up on some damage in a way of its own.
        if isinstance(error, KeyboardInterrupt | SystemExit | MemoryError):
            raise
        raise BadSheet(locked) from None
    return Book(path, sheets, [UNSEEN])


@contextmanager
def _unheard() -> Iterator[None]:
    """Discard what the library writes directly to the process's standard error."""
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _sheet(name: str, found: Any, look: Look, hides: bool) -> Sheet:
    """A sheet with its values as calamine reads them, completed with what its XML says.

    Args:
        name: its name.
        found: calamine's sheet.
        look: what its XML says about its cells.
        hides: whether the workbook hides it.
    """
    rows = found.to_python(skip_empty_area=False)
    for row, column in look.faults:
        while len(rows) <= row:
            rows.append([])
        rows[row].extend([""] * (column + 1 - len(rows[row])))
    for (row, column), said in look.texts.items():
        if row < len(rows) and column < len(rows[row]):
            rows[row][column] = said
    for (row, column), unit in look.units.items():
        value = rows[row][column] if row < len(rows) and column < len(rows[row]) else ""
        if isinstance(value, int | float) and not isinstance(value, bool):
            shown = value * 100 if unit == "%" else value
            rows[row][column] = f"{figure(float(f'{shown:.12g}'))} {unit}"
    return Sheet(
        name,
        rows,
        look.faults,
        look.merged,
        hidden=hides,
        hidden_rows=look.hidden_rows,
        hidden_columns=look.hidden_columns,
        struck=look.struck,
        comments=look.comments,
    )


def _refuse_bombs(archive: zipfile.ZipFile) -> None:
    """Refuse a zip that would fill the memory, is damaged, or could make the XML reader do so.

    Raises:
        BadSheet: it is one.
    """
    parts = archive.infolist()
    if len(parts) > MOST_PARTS:
        raise BadSheet(
            f"the file has {len(parts):,} parts inside; a workbook may have {MOST_PARTS:,}"
        )
    if any(part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for part in parts):
        raise BadSheet("the file is packed in a way that no workbook is; save it as .xlsx")
    if sum(part.file_size for part in parts) > LARGEST_UNPACKED:
        most = f"{LARGEST_UNPACKED // 1024**2} MB"
        raise BadSheet(f"unpacked the file is larger than {most}; it was not opened")
    for part in parts:
        times = part.file_size // max(1, part.compress_size)
        if part.file_size > 1_000_000 and times >= MOST_TIMES_SMALLER:
            raise BadSheet(
                f"a part of the file unpacks to {times:,} times its size; it was not opened"
            )
    # A part whose stated size is a lie fails its checksum here, before anything else reads it.
    damaged = archive.testzip()
    if damaged is not None:
        raise BadSheet("the file is damaged; ask for it again")
    for part in parts:
        if part.filename.endswith((".xml", ".rels")):
            with archive.open(part) as stream:
                if b"<!DOCTYPE" in stream.read(4096).upper():
                    raise BadSheet("a part of the file declares a document type; not opened")


_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


def _xlsx(archive: zipfile.ZipFile) -> dict[str, Look]:
    """What the XML of each sheet of an XLSX workbook says about its cells, by the sheet's name."""
    root = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {one.get("Id"): one.get("Target", "") for one in root}
    styles, texts = cell_styles(archive), shared_texts(archive)
    looks: dict[str, Look] = {}
    sheets = 0
    for one in ElementTree.fromstring(archive.read("xl/workbook.xml")).iter():
        sheets += local(one) == "sheet"
        refuse_too_many(sheets)
        target = targets.get(one.get(_RELATION)) if local(one) == "sheet" else None
        if target and "worksheets/" in target:
            part = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            name = one.get("name", "")
            with archive.open(part) as stream:
                looks[name] = _xlsx_look(stream, styles, texts).bounded(name)
            looks[name].comments = comments_of(archive, part)
    return looks


def _xlsx_look(stream: IO[bytes], styles: list[Style], texts: dict[int, Text]) -> Look:
    """What the XML of one sheet says, read as a stream, because a sheet can be large."""
    look = Look()
    row = column = -1
    outside: set[str | None] = set()
    for event, element in ElementTree.iterparse(stream, ("start", "end")):
        kind = local(element)
        if event == "start":
            if kind == "row":
                row = int(element.get("r", row + 2)) - 1
                column = -1
                if element.get("hidden") in ("1", "true"):
                    look.hidden_rows.add(row)
            elif kind == "col" and element.get("hidden") in ("1", "true"):
                first, last = int(element.get("min", 1)), int(element.get("max", 1))
                look.hidden_columns.update(range(first - 1, min(last, first + 1000)))
            continue
        if kind == "c":
            column = _place(element.get("r"), column + 1)
            parts = {local(part): part for part in element}
            if parts:
                look.reach(row, column)
            fault = _xlsx_fault(element.get("t"), parts, outside)
            if fault:
                look.faults[row, column] = fault
            if parts:
                _xlsx_style(look, row, column, element, parts, styles, texts)
        elif kind == "mergeCell":
            first, _, last = element.get("ref", "").partition(":")
            if last:
                look.merged.append((*_row_and_column(first), *_row_and_column(last)))
        if kind in ("row", "mergeCell"):
            element.clear()
    return look


def _xlsx_style(
    look: Look, row: int, column: int, cell: Any, parts: dict[str, Any], styles: list[Style],
    texts: dict[int, Text],
) -> None:  # fmt: skip
    """Note what a cell's format says besides its value."""
    number = int(cell.get("s", 0))
    style = styles[number] if 0 <= number < len(styles) else Style()
    if style.struck:
        look.struck.add((row, column))
    if style.unit and cell.get("t", "n") == "n":
        look.units[row, column] = style.unit
    text = None
    if cell.get("t") == "s" and "v" in parts:
        text = texts.get(int(parts["v"].text or -1))
    elif "is" in parts:
        text = of_runs([one for one in parts["is"] if local(one) == "r"])
    if text is not None and text.struck:
        look.struck.add((row, column))
    if text is not None and text.raised:
        look.texts[row, column] = text.raised


def _xlsx_fault(kind: str | None, parts: dict[str, Any], outside: set[str | None]) -> str:
    """Why a cell's value cannot be trusted; empty where it can.

    Args:
        kind: the cell's type in XML; `e` for an error, `str` for the text of a formula.
        parts: its children by name: formula and stored value.
        outside: the shared formulas so far that refer to other files; added to.
    """
    formula, stored = parts.get("f"), parts.get("v")
    text = "" if stored is None else stored.text or ""
    if kind == "e":
        return ERROR.format(text)
    if formula is None:
        return ""
    shared = formula.get("si")
    if re.search(r"\[[^\]]*\][^\]]*!", without_links(formula.text or "")) or (
        shared and shared in outside
    ):
        outside.add(shared)
        return ELSEWHERE
    return UNWORKED if not text and kind != "str" else ""


def _place(address: str | None, otherwise: int) -> int:
    """The column of an address from 0; the other one where a cell states none."""
    return _row_and_column(address)[1] if address else otherwise


def _row_and_column(address: str) -> tuple[int, int]:
    """The row and column, from 0, of an address such as `B7`."""
    match = re.fullmatch(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})", address)
    if match is None:
        raise BadSheet(f"the file names a cell '{address}'; it is damaged")
    column = 0
    for sign in match[1]:
        column = column * 26 + ord(sign) - 64
    return int(match[2]) - 1, column - 1
