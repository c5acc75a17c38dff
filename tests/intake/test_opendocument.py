"""OpenDocument workbooks say the same about their cells as others: what is struck through is not
read, signs of notes are none of a number's digits, and a unit that a cell shows is the cell's. What
an old workbook cannot say is refused.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import zipfile
from datetime import datetime
from pathlib import Path

import pytest
import xlsxwriter

from checker.intake import workbooks
from checker.intake.sheets import BadSheet, Sheet
from checker.intake.styles import unit_of

NAMESPACES = " ".join(
    f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for short, name in (
        ("office", "office"),
        ("table", "table"),
        ("text", "text"),
        ("style", "style"),
        ("number", "datastyle"),
    )
)
LINE = '<style:text-properties style:text-line-through-style="{}"/>'
STYLES = (
    '<style:style style:name="Gone" style:family="table-cell">'
    + LINE.format("solid")
    + "</style:style>"
    '<number:number-style style:name="N1"><number:number/><number:text> cm</number:text>'
    "</number:number-style>"
    '<number:number-style style:name="Plus"><number:number/><number:text> m</number:text>'
    "</number:number-style>"
    '<number:number-style style:name="N2"><number:text>-</number:text><number:number/>'
    '<style:map style:condition="value()&gt;=0" style:apply-style-name="Plus"/>'
    "</number:number-style>"
    '<number:number-style style:name="N3"><number:number/><number:text> ft</number:text>'
    '<style:map style:condition="value()&lt;10" style:apply-style-name="N1"/>'
    "</number:number-style>"
)
AUTOMATIC = (
    '<style:style style:name="ce1" style:family="table-cell" style:parent-style-name="Gone"/>'
    '<style:style style:name="ce2" style:family="table-cell" style:parent-style-name="Gone">'
    + LINE.format("none")
    + "</style:style>"
    + "".join(
        f'<style:style style:name="n{number}" style:family="table-cell" '
        f'style:data-style-name="N{number}"/>'
        for number in (1, 2, 3)
    )
    + '<style:style style:name="T1" style:family="text">'
    '<style:text-properties style:text-position="33% 58%"/></style:style>'
    '<style:style style:name="T2" style:family="text">'
    '<style:text-properties style:text-line-through-type="single"/></style:style>'
    '<style:style style:name="T3" style:family="text">'
    '<style:text-properties style:text-position="-33% 58%"/></style:style>'
    '<style:style style:name="T4" style:family="text">'
    '<style:text-properties style:text-line-through-type="none"/></style:style>'
)


def cell(value: float | str, more: str = "", kind: str = "float") -> str:
    shown = f"<text:p>{value}</text:p>"
    if isinstance(value, str):
        return f'<table:table-cell office:value-type="string" {more}>{shown}</table:table-cell>'
    return (
        f'<table:table-cell office:value-type="{kind}" office:value="{value}" {more}>{shown}'
        "</table:table-cell>"
    )


def styled(name: str) -> str:
    return f'table:style-name="{name}"'


def row(*cells: str, more: str = "") -> str:
    return f"<table:table-row {more}>{''.join(cells)}</table:table-row>"


def sheet(*rows: str, columns: str = "") -> Sheet:
    """The sheet of a workbook with these rows."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr(
            "styles.xml",
            f"<office:document-styles {NAMESPACES}><office:styles>{STYLES}</office:styles>"
            "</office:document-styles>",
        )
        archive.writestr(
            "content.xml",
            f"<office:document-content {NAMESPACES}><office:automatic-styles>{AUTOMATIC}"
            "</office:automatic-styles><office:body><office:spreadsheet>"
            f'<table:table table:name="S">{columns}{"".join(rows)}</table:table>'
            "</office:spreadsheet></office:body></office:document-content>",
        )
        archive.writestr(
            "META-INF/manifest.xml",
            '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:'
            'manifest:1.0"/>',
        )
    (found,) = workbooks.read("book.ods", stream.getvalue()).sheets
    return found


def test_equal_cells_that_are_struck_through_are_all_so() -> None:
    twice = f'table:number-columns-repeated="2" {styled("Gone")}'
    found = sheet(
        row(cell(1), cell(70, twice), cell(5)),
        row(cell(3, styled("Gone")), more='table:number-rows-repeated="2"'),
        row(f"<table:table-cell {styled('Gone')}/>"),
    )
    assert found.rows[0] == [1.0, 70.0, 70.0, 5.0]
    assert found.struck == {(0, 1), (0, 2), (1, 0), (2, 0)}


def test_a_style_takes_its_line_from_the_style_that_it_is_made_from() -> None:
    found = sheet(row(cell(1, styled("ce1")), cell(2, styled("ce2")), cell(3, styled("n1"))))
    assert found.struck == {(0, 0)}


def test_cells_without_a_style_have_that_of_their_row_or_column() -> None:
    columns = (
        '<table:table-column table:number-columns-repeated="2"/>'
        '<table:table-column table:default-cell-style-name="Gone"/><table:table-column/>'
    )
    found = sheet(
        row(cell(1), cell(2), cell(3), cell(4)),
        row(cell(1), cell(3, styled("ce2")), more='table:default-cell-style-name="Gone"'),
        row(cell(1), cell(2), cell(3), more='table:default-cell-style-name="n1"'),
        columns=columns,
    )
    assert found.struck == {(0, 2), (1, 0)}
    assert found.rows[2][:3] == ["1 cm", "2 cm", "3 cm"]


@pytest.mark.parametrize(
    ("text", "style", "struck"),
    [
        ('<text:span text:style-name="T2">gone</text:span>', "", True),
        ('half <text:span text:style-name="T2">gone</text:span>', "", False),
        ('<text:span text:style-name="T2">a</text:span> <text:span text:style-name="T2">b'
         "</text:span>", "", True),
        ('a <text:span text:style-name="T1">b</text:span>', "Gone", True),
        ('a <text:span text:style-name="T4">b</text:span>', "Gone", False),
        ('<text:span text:style-name="T2">a<text:span text:style-name="T1">b</text:span>'
         "</text:span>", "", True),
    ],
)  # fmt: skip
def test_a_text_is_struck_through_where_all_of_it_is(text: str, style: str, struck: bool) -> None:
    found = sheet(row(cell(text, styled(style) if style else "")))
    assert ((0, 0) in found.struck) is struck


def test_a_raised_sign_is_no_digit_of_the_number_before_it() -> None:
    found = sheet(
        row(
            cell('84<text:span text:style-name="T1">1</text:span>'),
            cell('8<text:span text:style-name="T3">2</text:span>'),
            cell('a<text:s text:c="2"/><text:span text:style-name="T1">3</text:span>'),
        )
    )
    assert found.rows == [["84¹", "82", "a  ³"]]


def test_a_unit_that_a_cell_shows_belongs_to_its_number() -> None:
    found = sheet(
        row(
            cell(15, styled("n1")),
            cell(88, styled("n2")),
            cell(12, styled("n3")),
            cell(0.25, kind="percentage"),
            cell("x", styled("n1")),
            cell(7),
        )
    )
    assert found.rows == [["15 cm", "88 m", "12 cm or ft", "25 %", "x", 7.0]]


def test_many_equal_cells_with_a_format_take_no_memory() -> None:
    wide = f'table:number-columns-repeated="16384" {styled("ce1")}'
    with pytest.raises(BadSheet, match="XFD40000"):
        sheet(row(cell(1, wide), more='table:number-rows-repeated="40000"'))


@pytest.mark.parametrize(
    ("code", "unit"),
    [
        ('0" cm"', "cm"),
        (r"0\ \m", "m"),
        ("0'", "'"),
        ('General" cm"', "cm"),
        ('[Red]0" cm"', "cm"),
        ("0 [$m²]", "m²"),
        ('0" cm";-0" cm"', "cm"),
        ('[<10]0" in";0" ft"', "in or ft"),
        ('[<10]0.0" m";0" m"', "m"),
        ("0.0%", "%"),
        ("yyyy-mm-dd", ""),
        ("[h]:mm", ""),
        ("0.00E+00", ""),
        ("General", ""),
        ("0_);(0)", ""),
    ],
)
def test_the_unit_of_a_number_format(code: str, unit: str) -> None:
    assert unit_of(code) == unit


def converted(made: Path, ending: str) -> Path:
    """The workbook, saved in another format by an office program."""
    done = subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{made.parent}/profile",
         "--convert-to", ending, "--outdir", str(made.parent), str(made)],
        capture_output=True, timeout=180,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return made.with_suffix(f".{ending}")


@pytest.mark.long
@pytest.mark.skipif(shutil.which("soffice") is None, reason="there is no spreadsheet program here")
def test_a_text_that_an_old_workbook_has_lost_is_no_zero(tmp_path: Path) -> None:
    made = tmp_path / "made.xlsx"
    book = xlsxwriter.Workbook(str(made))
    own = book.add_worksheet("S")
    own.write_row(0, 0, ["L", 3, 0])
    own.write_formula(1, 0, '=A1&"1"', None, "L1")
    own.write_formula(1, 1, "=B1*2", None, 6)
    book.close()
    old = converted(made, "xls")
    (found,) = workbooks.read(old.name, old.read_bytes()).sheets
    assert found.value(1, 1) == 6
    assert found.value(0, 2) == 0
    assert found.value(1, 0) == "L1" or "save it as .xlsx" in found.faults[1, 0]
    assert found.faults.keys() <= {(1, 0)}


@pytest.mark.long
@pytest.mark.skipif(shutil.which("soffice") is None, reason="there is no spreadsheet program here")
def test_a_sheet_saved_in_both_formats_reads_the_same(tmp_path: Path) -> None:
    made = tmp_path / "made.xlsx"
    book = xlsxwriter.Workbook(str(made))
    own = book.add_worksheet("S")
    gone = book.add_format({"font_strikeout": True})
    shown = book.add_format({"num_format": '0" cm"'})
    both = book.add_format({"num_format": '0" cm"', "font_strikeout": True})
    share = book.add_format({"num_format": "0%"})
    raised = book.add_format({"font_script": 1})
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    for line, (name, looks) in enumerate((("1", None), ("2", gone), ("3", None), ("4", gone))):
        own.write(line, 0, name, looks)
        own.write(line, 1, 70, looks)
        own.write(line, 2, 70, looks)
        own.write(line, 3, 15, shown if looks is None else both)
        own.write(line, 4, 0.25, share)
    own.write_rich_string(0, 5, "84", raised, "1", " m")
    own.write_rich_string(1, 5, gone, "gone ", gone, "too")
    own.write_rich_string(2, 5, "half ", gone, "gone")
    own.write_datetime(0, 6, datetime(2026, 3, 12), day)
    own.write_comment(2, 0, "a note")
    own.set_row(3, None, None, {"hidden": True})
    own.merge_range(5, 0, 7, 0, "m")
    book.close()
    one, other = (
        workbooks.read(path.name, path.read_bytes()).sheets[0]
        for path in (made, converted(made, "ods"))
    )
    for name in ("faults", "merged", "hidden_rows", "struck", "comments"):
        assert getattr(other, name) == getattr(one, name), name
    assert {at: other.value(*at) for at in one.filled()} == {
        at: one.value(*at) for at in one.filled()
    }
    assert one.value(0, 5) == "84¹ m"
    assert (1, 2) in one.struck
