"""Workbooks: every cell under its own address, what cannot be trusted refused, nothing followed."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime
from typing import Any

import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from checker.intake import delimited, workbooks
from checker.intake.sheets import BadSheet, Book


def xlsx(*cells: tuple[str, Any], merge: str = "") -> bytes:
    """A workbook of one sheet 'S'; a text that starts with = is a formula, (formula, result) too."""
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream, {"in_memory": True})
    sheet = book.add_worksheet("S")
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    if merge:
        sheet.merge_range(merge, "merged")
    for address, value in cells:
        if isinstance(value, tuple):
            sheet.write_formula(address, value[0], None, value[1])
        elif isinstance(value, datetime):
            sheet.write_datetime(address, value, day)
        else:
            sheet.write(address, value)
    book.close()
    return stream.getvalue()


def edited(data: bytes, part: str, old: bytes, new: bytes) -> bytes:
    """The workbook with some bytes of one part replaced; they must be there."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as before, zipfile.ZipFile(stream, "w") as after:
        for name in before.namelist():
            content = before.read(name)
            if name == part:
                assert old in content
                content = content.replace(old, new)
            after.writestr(name, content, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def read(data: bytes) -> Book:
    return workbooks.read("book.xlsx", data)


def test_empty_rows_and_columns_before_the_table_keep_their_place() -> None:
    (sheet,) = read(xlsx(("C5", "Length"), ("C6", 88.5))).sheets
    assert sheet.value(4, 2) == "Length"
    assert sheet.value(5, 2) == 88.5
    assert sheet.address(5, 2) == "C6"
    assert list(sheet.filled()) == [(4, 2), (5, 2)]


def test_values_keep_their_type() -> None:
    book = read(xlsx(("A1", "007"), ("B1", 7), ("C1", True), ("D1", datetime(2026, 3, 12))))
    (row,) = book.sheets[0].rows
    assert row[0] == "007"
    assert row[1] == 7.0
    assert row[2] is True
    assert str(row[3])[:10] == "2026-03-12"


def test_an_error_cell_is_no_empty_cell() -> None:
    (sheet,) = read(xlsx(("A1", 1), ("B3", ("=NA()", "#N/A")))).sheets
    assert list(sheet.faults) == [(2, 1)]
    assert "#N/A" in sheet.faults[2, 1]
    assert (2, 1) in set(sheet.filled())


def test_a_formula_that_was_never_worked_out_is_refused() -> None:
    data = xlsx(("B2", ("=SUM(A1:A9)", 41)))
    (sheet,) = read(data).sheets
    assert (sheet.value(1, 1), sheet.faults) == (41.0, {})
    bare = edited(data, "xl/worksheets/sheet1.xml", b"<v>41</v>", b"")
    (sheet,) = read(bare).sheets
    assert "without a stored result" in sheet.faults[1, 1]
    hollow = edited(data, "xl/worksheets/sheet1.xml", b"<v>41</v>", b"<v></v>")
    (sheet,) = read(hollow).sheets
    assert list(sheet.faults) == [(1, 1)]


def test_a_formula_that_gives_an_empty_text_is_empty() -> None:
    data = xlsx(("B2", ("=A1", "text")))
    empty = edited(data, "xl/worksheets/sheet1.xml", b"<v>text</v>", b"<v></v>")
    (sheet,) = read(empty).sheets
    assert (sheet.value(1, 1), sheet.faults) == ("", {})


def test_a_value_from_another_file_is_refused() -> None:
    (sheet,) = read(xlsx(("A1", ("=[2]Loops!B7", 88)), ("A2", ("=SUM(A3:A4)", 5)))).sheets
    assert list(sheet.faults) == [(0, 0)]
    assert "another file" in sheet.faults[0, 0]


def test_a_link_takes_no_value_from_another_file() -> None:
    """What HYPERLINK shows is its own text; a value beside it in the formula may still be foreign."""
    link = '=HYPERLINK("[plans.xlsx]Sheet1!A1","L1")'
    foreign = '=HYPERLINK("https://plans.invalid/1",[2]Loops!B7)'
    (sheet,) = read(xlsx(("A1", (link, "L1")), ("A2", (foreign, 88)))).sheets
    assert sheet.value(0, 0) == "L1"
    assert list(sheet.faults) == [(1, 0)]
    cells = "".join(
        f'<table:table-cell table:formula="of:={formula}" office:value-type="string">'
        "<text:p>L1</text:p></table:table-cell>"
        for formula in (
            "HYPERLINK(&quot;https://plans.invalid/1&quot;;&quot;L1&quot;)",
            "HYPERLINK(&quot;x&quot;;['file:///other.ods'#$S.A1])",
        )
    )
    row = f"<table:table-row>{cells}</table:table-row>"
    (sheet,) = workbooks.read("book.ods", ods(row)).sheets
    assert sheet.value(0, 0) == "L1"
    assert list(sheet.faults) == [(0, 1)]


def test_a_raised_sign_in_a_text_within_its_cell_is_no_digit() -> None:
    data = xlsx(("A1", 1), ("B1", 2))
    for old, new in (
        (
            b'<c r="A1"><v>1</v></c>',
            b'<c r="A1" t="inlineStr"><is><r><t>84</t></r><r><rPr><vertAlign val="superscript"/>'
            b"</rPr><t>1</t></r></is></c>",
        ),
        (
            b'<c r="B1"><v>2</v></c>',
            b'<c r="B1" t="inlineStr"><is><r><rPr><strike/></rPr><t>88</t></r></is></c>',
        ),
    ):
        data = edited(data, "xl/worksheets/sheet1.xml", old, new)
    (sheet,) = read(data).sheets
    assert sheet.value(0, 0) == "84¹"
    assert sheet.struck == {(0, 1)}


def test_merged_cells_are_known() -> None:
    (sheet,) = read(xlsx(("A1", 1), merge="B2:B4")).sheets
    assert sheet.merged == [(1, 1, 3, 1)]


def test_macros_are_said_and_not_run() -> None:
    stream = io.BytesIO(xlsx(("A1", 1)))
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr("xl/vbaProject.bin", b"\0" * 10)
    assert read(stream.getvalue()).notes == ["the file holds macros; they were not run"]


def test_a_bomb_is_not_opened() -> None:
    stream = io.BytesIO(xlsx(("A1", 1)))
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr("xl/more.xml", b"0" * 20_000_000, zipfile.ZIP_DEFLATED)
    with pytest.raises(BadSheet, match="times its size"):
        read(stream.getvalue())


def test_a_bomb_that_lies_about_its_size_is_not_opened() -> None:
    honest = io.BytesIO()
    with zipfile.ZipFile(honest, "w") as archive:
        archive.writestr("xl/more.xml", b"0" * 20_000_000, zipfile.ZIP_DEFLATED)
    data = honest.getvalue().replace(
        (20_000_000).to_bytes(4, "little"), (900).to_bytes(4, "little")
    )
    assert data != honest.getvalue()
    with pytest.raises(BadSheet, match="damaged"):
        read(data)


def test_a_bomb_that_states_to_be_packed_into_nothing_is_not_opened() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("content.xml", b"")
    data = bytearray(stream.getvalue())
    unpacked = data.rfind(b"PK\x01\x02") + 24  # of the central directory, APPNOTE 4.3.12
    data[unpacked : unpacked + 4] = (2_000_000).to_bytes(4, "little")
    with pytest.raises(BadSheet, match="times its size"):
        read(bytes(data))


def test_a_cell_far_out_takes_no_memory() -> None:
    with pytest.raises(BadSheet, match="XFD1048576"):
        read(xlsx(("A1", 1), ("XFD1048576", 1)))


def test_a_document_type_is_refused() -> None:
    data = edited(
        xlsx(("A1", 1)), "xl/workbook.xml", b"<workbook", b'<!DOCTYPE x [<!ENTITY a "b">]><workbook'
    )
    with pytest.raises(BadSheet, match="document type"):
        read(data)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no workbook"),
        (b"no zip at all", "no workbook"),
        (b"\xd0\xcf\x11\xe0 rest of an old file", "without a password"),
        (xlsx(("A1", 1))[:-200], "no workbook"),
    ],
    ids=["empty", "text", "old", "cut"],
)
def test_what_is_no_workbook_is_told(data: bytes, words: str) -> None:
    with pytest.raises(BadSheet, match=words):
        read(data)


ODS = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"
 xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"
 office:version="1.2"><office:body><office:spreadsheet><table:table table:name="S">
ROWS
</table:table></office:spreadsheet></office:body></office:document-content>"""
NUMBER = '<table:table-cell office:value-type="float" office:value="{0}"><text:p>{0}</text:p></table:table-cell>'


def ods(rows: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", ODS.replace("ROWS", rows))
        archive.writestr(
            "META-INF/manifest.xml",
            '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>',
        )
    return stream.getvalue()


def test_an_ods_sheet_is_read_with_its_places() -> None:
    rows = (
        '<table:table-row table:number-rows-repeated="3"><table:table-cell/></table:table-row>'
        '<table:table-row><table:table-cell table:number-columns-repeated="2"/>'
        + NUMBER.format(88.5)
        + "</table:table-row>"
        '<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
        'table:number-columns-repeated="16384"/></table:table-row>'
    )
    (sheet,) = workbooks.read("book.ods", ods(rows)).sheets
    assert sheet.value(3, 2) == 88.5
    assert sheet.address(3, 2) == "C4"


def test_an_ods_cell_that_cannot_be_trusted_is_refused() -> None:
    rows = (
        "<table:table-row>" + NUMBER.format(1) + '<table:table-cell table:formula="of:=1/0" '
        'office:value-type="string" office:string-value="" calcext:value-type="error">'
        "<text:p>#DIV/0!</text:p></table:table-cell>"
        '<table:table-cell table:formula="of:=[.A1]"/>'
        "<table:table-cell table:formula=\"of:=['file:///other.ods'#$S.A1]\" "
        'office:value-type="float" office:value="3"><text:p>3</text:p></table:table-cell>'
        "</table:table-row>"
    )
    (sheet,) = workbooks.read("book.ods", ods(rows)).sheets
    assert sheet.value(0, 0) == 1.0
    assert "#DIV/0!" in sheet.faults[0, 1]
    assert "stored result" in sheet.faults[0, 2]
    assert "another file" in sheet.faults[0, 3]


def test_an_ods_sheet_that_repeats_a_value_without_end_takes_no_memory() -> None:
    cell = NUMBER.format(1).replace(
        "<table:table-cell", '<table:table-cell table:number-columns-repeated="16384"'
    )
    rows = f'<table:table-row table:number-rows-repeated="1048576">{cell}</table:table-row>'
    with pytest.raises(BadSheet, match="XFD1048576"):
        workbooks.read("book.ods", ods(rows))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 5000), st.binary(min_size=1, max_size=4), st.integers(0, 3000))
def test_a_damaged_file_is_told_or_read_and_nothing_else(at: int, bytes_: bytes, cut: int) -> None:
    data = bytearray(SOUND)
    at %= len(data)
    data[at : at + len(bytes_)] = bytes_
    if cut % 3 == 0:
        del data[-(cut % len(data)) :]
    try:
        sheets = read(bytes(data)).sheets
    except BadSheet:
        return
    assert sheets


SOUND = xlsx(("A1", "Length"), ("A2", 88), ("A3", ("=A2", 88)), merge="B2:B3")


def test_more_sheets_or_rows_than_can_be_meant_are_refused_before_they_are_read() -> None:
    with pytest.raises(BadSheet, match="reaches to A50001; a sheet may have 50,000"):
        read(xlsx(("A1", 1), ("A50001", 1)))
    assert len(read(xlsx(("A1", 1), ("A50000", 1))).sheets) == 1
    sheet = b'<sheet name="S%d" sheetId="1" r:id="rId1"/>'
    many = b"".join(sheet % number for number in range(1000))
    data = edited(xlsx(("A1", 1)), "xl/workbook.xml", b"<sheets>", b"<sheets>" + many)
    with pytest.raises(BadSheet, match="more than 1,000 sheets"):
        read(data)


def test_a_long_csv_is_refused() -> None:
    data = b"Loop\n" + b"L\n" * 50_000
    with pytest.raises(BadSheet, match="line 50001 is a row too many"):
        delimited.read("long.csv", "long", data)
    assert len(delimited.read("long.csv", "long", data[:-2]).sheets[0].rows) == 50_000
