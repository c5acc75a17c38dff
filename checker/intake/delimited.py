"""Reads CSV files as office programs save them: any delimiter, byte-order mark or Windows
encoding.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter

from checker.intake.sheets import ERROR, MOST_ROWS, TOO_LONG, BadSheet, Book, Sheet, Value

DELIMITERS = ";\t,|"
LARGEST = 20 * 1024 * 1024
"""Largest CSV file, in bytes; a schedule of ten thousand loops has about one million."""
MOST_COLUMNS = 1000
_SHOWN_ERROR = re.compile(r"#(?:N/A|NV|N/D|DIV/0!|[A-ZÀ-Ý]+[!?])|Err:[0-9]+")
"""The texts that spreadsheet programs save for a cell with an error, in several languages."""


def read(path: str, name: str, data: bytes, delimiter: str = "", encoding: str = "") -> Book:
    """Read a CSV file as a book with one sheet.

    Args:
        path: the file's path, for messages.
        name: what to call the sheet.
        data: the file's bytes.
        delimiter: the sign between cells; detected where empty, and noted.
        encoding: the encoding; detected where empty, and noted.

    Returns:
        The book, every cell a text; it keeps the bytes, to be read again with other settings.

    Raises:
        BadSheet: the bytes are too many or cannot be decoded, or the delimiter is no single sign.
    """
    if len(data) > LARGEST:
        raise BadSheet(f"the file has {len(data):,} bytes; a CSV file may have {LARGEST:,}")
    notes: list[str] = []
    text = _decoded(data, encoding, notes)
    separated = False
    if text[:4].casefold() == "sep=" and len(text) > 4:
        delimiter = delimiter or text[4]
        # A spreadsheet program shows the line as none of its rows.
        separated = True
        text = text[5:] if text[5:6] in "\r\n" else text
    if not delimiter:
        delimiter = _delimiter(text)
        shown = {"\t": "tab"}.get(delimiter, delimiter)
        notes.append(f"columns are separated by '{shown}' (found from the rows)")
    if len(delimiter) != 1 or delimiter in '\r\n"':
        raise BadSheet(f"'{delimiter}' cannot separate columns; write one sign, such as ';'")
    rows: list[list[Value]] = []
    lines: list[int] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        line = 1
        for values in reader:
            if len(values) > MOST_COLUMNS:
                raise BadSheet(f"line {line} has more than {MOST_COLUMNS} columns")
            if len(rows) == MOST_ROWS:
                raise BadSheet(f"line {line} is a row too many; {TOO_LONG}")
            rows.append([*values])
            # As a spreadsheet program numbers rows: one with a line break in a cell is still one.
            lines.append(len(rows) - separated)
            line = reader.line_num + 1
    except csv.Error as error:
        raise BadSheet(f"line {reader.line_num} is not CSV: {error}") from None
    faults = {
        (row, column): ERROR.format(text.strip())
        for row, values in enumerate(rows)
        for column, text in enumerate(values)
        if isinstance(text, str) and _SHOWN_ERROR.fullmatch(text.strip())
    }
    return Book(path, [Sheet(name, rows, faults, lines=lines)], notes, data, single=True)


def _decoded(data: bytes, encoding: str, notes: list[str]) -> str:
    if not encoding:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            encoding = "utf-16"
        else:
            encoding = "utf-8-sig"
            try:
                return _clean(data.decode(encoding))
            except UnicodeDecodeError:
                encoding = "cp1252"
                notes.append("the text is not UTF-8 and was read as Windows-1252")
    try:
        return _clean(data.decode(encoding).removeprefix("\ufeff"))
    except LookupError:
        raise BadSheet(f"there is no encoding '{encoding}'; write one such as cp1252") from None
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BadSheet(
            f"the byte 0x{data[error.start]:02x} in line {line} is not {encoding}; "
            "give the map the file's encoding (csv: {encoding: …})"
        ) from None


def _clean(text: str) -> str:
    if "\0" in text:
        raise BadSheet("the file holds zero bytes and is not text")
    return text


def _delimiter(text: str) -> str:
    """The sign that splits most rows into the same number of columns."""
    sample = "\n".join(text.splitlines()[:60])
    best, most = DELIMITERS[0], 0
    for sign in DELIMITERS:
        widths: Counter[int] = Counter()
        try:
            for row in csv.reader(io.StringIO(sample, newline=""), delimiter=sign):
                widths[len(row)] += len(row) > 1
        except csv.Error:
            continue
        alike = max((count * width for width, count in widths.items()), default=0)
        if alike > most:
            best, most = sign, alike
    return best
