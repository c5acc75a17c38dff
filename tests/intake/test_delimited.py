"""CSV as programs of many countries save it."""

from __future__ import annotations

import pytest

from checker.intake.delimited import read
from checker.intake.maps import load
from checker.intake.reading import of_book
from checker.intake.sheets import BadSheet, Book, Sheet

TEXT = "Kreis;Länge [m];Fläche [m²]\n1;88,5;12,1\n2;90,0;12,4\n"


def taken(data: bytes, **how: str) -> tuple[Sheet, Book]:
    book = read("loops.csv", "loops", data, **how)
    return book.sheets[0], book


@pytest.mark.parametrize(
    ("data", "note"),
    [
        (TEXT.encode(), ""),
        (b"\xef\xbb\xbf" + TEXT.encode(), ""),
        (TEXT.encode("utf-16"), ""),
        (TEXT.encode("cp1252"), "Windows-1252"),
        (TEXT.replace("\n", "\r\n").encode(), ""),
        (TEXT.replace("\n", "\r").encode(), ""),
    ],
    ids=["utf-8", "byte-order mark", "utf-16", "windows", "crlf", "cr"],
)
def test_encodings_and_line_ends(data: bytes, note: str) -> None:
    sheet, book = taken(data)
    assert sheet.rows[0] == ["Kreis", "Länge [m]", "Fläche [m²]"]
    assert sheet.rows[2] == ["2", "90,0", "12,4"]
    assert any("1252" in one for one in book.notes) == bool(note)


@pytest.mark.parametrize("sign", [";", ",", "\t", "|"])
def test_the_delimiter_is_found(sign: str) -> None:
    text = "a;b;c\n1;2;3\n4;5;6\n".replace(";", sign)
    assert taken(text.encode())[0].rows[1] == ["1", "2", "3"]


def test_decimal_commas_do_not_part_columns() -> None:
    sheet, _ = taken(b"Kreis;Laenge;Flaeche\n1;88,5;12,1\n2;90,0;12,4\n")
    assert sheet.rows[1] == ["1", "88,5", "12,1"]


def test_the_line_that_names_the_delimiter_is_no_row() -> None:
    sheet, _ = taken(b"sep=|\na|b\n1|2\n")
    row = next(number for number, values in enumerate(sheet.rows) if values == ["1", "2"])
    assert sheet.number(row) == 2  # as a spreadsheet program shows it


def test_a_row_with_a_line_break_in_a_cell_is_one_row() -> None:
    sheet, _ = taken(b'a;b\n"one\ntwo";x\n7;y\n')
    assert sheet.value(2, 0) == "7"
    assert sheet.number(2) == 3
    assert sheet.address(2, 0) == "A3"


def test_stated_encoding_and_delimiter_count() -> None:
    sheet, book = taken("a,b;c\n".encode("cp1250"), delimiter=";", encoding="cp1250")
    assert (sheet.rows, book.notes) == ([["a,b", "c"]], [])


@pytest.mark.parametrize(
    ("data", "how", "words"),
    [
        (b"a\0b", {}, "zero bytes"),
        (b"a;\xff", {"encoding": "ascii"}, "0xff in line 1"),
        (b"a;b", {"encoding": "nonsense"}, "no encoding"),
        (b'"a";"b', {}, "line 1 is not CSV"),
    ],
)
def test_what_is_no_csv_is_told(data: bytes, how: dict[str, str], words: str) -> None:
    with pytest.raises(BadSheet, match=words):
        taken(data, **how)


@pytest.mark.parametrize(
    "shown", ["#N/A", "#REF!", "#DIV/0!", "#NAME?", "#WERT!", "#NV", "Err:502"]
)
def test_an_error_that_was_saved_as_text_is_an_error_cell(shown: str) -> None:
    sheet, _ = taken(f"Loop;Length [m]\n1;{shown}\n2;88\n".encode())
    assert list(sheet.faults) == [(1, 1)]
    assert f"shows the error {shown};" in sheet.faults[1, 1]


@pytest.mark.parametrize("shown", ["#1", "# loops", "#", "Error", "N/A", "#4 North"])
def test_a_text_with_a_number_sign_is_a_text(shown: str) -> None:
    assert taken(f"Loop;Note\n1;{shown}\n".encode())[0].faults == {}


def test_an_error_that_the_map_calls_empty_is_empty() -> None:
    plan = """\
map: 1
empty: ['#N/A']
sheets:
  - ids: {loops: "{Loop}"}
    columns: [{heading: Length, field: loops.length, unit: m}]
"""
    book = read("a.csv", "a", b"Loop;Length\n1;#N/A\n2;88\n")
    done = of_book(book, load("m", plan.encode()))
    assert done.read.mistakes == []
    assert done.read.tree["loops"] == {"1": {}, "2": {"length": "88 m"}}
    strict = of_book(book, load("m", plan.replace("'#N/A'", "'-'").encode()))
    assert [str(one) for one in strict.read.refused] == [
        "a.csv, sheet 'a', row 2, column B 'Length': shows the error #N/A; mend it in the sheet, "
        "or write the value."
    ]
