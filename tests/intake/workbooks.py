"""The workbooks of two invented subcontractors, each with habits of its own.

    python -m tests.intake.workbooks

writes them into example_designs/subcontractors. Houses, firms and figures are invented.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import xlsxwriter

FOLDER = Path(__file__).parents[2] / "example_designs" / "subcontractors"

Row = tuple[Any, ...]

GERMAN_HEADINGS = (
    "Verteiler", "Kreis", "Raum", "Nutzung", "Raumtemperatur [°C]", "Heizlast [W]", "Bodenbelag",
    "Wärmeleitwiderstand [m²K/W]", "Heizfläche [m²]", "VA [cm]", "Rohrlänge [m]", "Anbindung [m]",
    "Verlegeart", "Bemerkung",
)  # fmt: skip
GERMAN_ROWS: tuple[Row, ...] = (
    ("HKV 1", 1, "Wohnen", "Wohnen", 21, 1150, "Parkett", "0,05", "11,8", 15, "88,5", "9,8", "Schnecke", ""),
    ("HKV 1", 2, "Wohnen", "Wohnen", 21, 1150, "Parkett", "0,05", "12,4", 15, "94,0", "11,4", "Schnecke", ""),
    ("HKV 1", 3, "Küche", "Küche", 20, 620, "Fliesen", "0,02", "12,9", 15, "92,6", "6,6", "Schnecke", ""),
    ("HKV 1", 4, "Flur", "Flur", 20, 410, "Fliesen", "0,02", "9,6", 15, "68,2", "4,2", "Mäander", "Kreis vor der Haustür"),
    ("HKV 2", 1, "Bad", "Bad", 24, 480, "Fliesen", "0,01", "6,3", 10, "71,0", "8,0", "Schnecke", ""),
    ("HKV 2", 2, "Schlafen", "Schlafen", 18, 590, "Parkett", "0,05", "15,6", 15, "118,0", "14,0", "Schnecke", "Länge bitte prüfen"),
    ("HKV 2", 3, "Kind 1", "Kind", 20, 540, "Parkett", "0,05", "12,2", 15, "90,3", "9,0", "Schnecke", ""),
    ("HKV 2", 4, "Kind 2", "Kind", 20, 560, "Parkett", "0,05", "12,0", 15, "89,0", "9,0", "Mäander", "-"),
)  # fmt: skip

FEET_HEADINGS = (
    ("Header", ""), ("Circuit", ""), ("Space", ""), ("Heated area", "ft²"), ("Pitch", "in"),
    ("Pipe length", "ft"), ("Feeds", "ft"), ("Outlet", ""), ("Design temperature", "°F"),
    ("Load", "W"), ("Water flow", "gpm"), ("Checked by", ""),
)  # fmt: skip
FEET_ROWS: tuple[Row, ...] = (
    ("A", "A1", "Great room", 128, 6, 290, 34, 1, 70, 1180, 0.42, "initials"),
    ("", "A2", "Great room", 125, 6, 282, 32, 2, 70, 1180, 0.41, "initials"),
    ("", "A3", "Kitchen", 120, 6, 268, 28, 3, 70, 560, 0.36, "initials"),
    ("", "A4", "Bath", 62, 4, 208, 22, 4, 75, 430, 0.31, "initials"),
    ("", "A5", "Bedroom", 131, 6, 372, 30, 5, 66, 520, 0.38, "initials"),
    ("", "A6", "Study", 112, 6, 252, 28, 5, 68, 480, 0.33, "initials"),
)


def german(path: Path, rows: tuple[Row, ...] = GERMAN_ROWS) -> None:
    """Title block, merged names, numbers as text with a decimal comma, sums below each header."""
    book = _book(path)
    sheet = book.add_worksheet("Heizkreise")
    bold = book.add_format({"bold": True, "border": 1, "text_wrap": True})
    middle = book.add_format({"valign": "vcenter", "border": 1})
    sheet.write(0, 0, "Heizkreisliste (erfundenes Beispiel)", bold)
    for row, (label, value) in enumerate(
        (("Bauvorhaben:", "Haus am Hang 4"), ("Stand:", "B"), ("Datum:", "12.03.2026"),
         ("Vorlauftemperatur [°C]:", 42)), 1,
    ):  # fmt: skip
        sheet.write(row, 0, label)
        sheet.write(row, 2, value)
    top = 6
    for column, text in enumerate(GERMAN_HEADINGS):
        sheet.write(top, column, text, bold)
    row = top + 1
    header = ""
    for start, values in enumerate(rows):
        if values[0] != header:
            if header:
                row = _sum(sheet, row, header)
            header = values[0]
            group = [one for one in rows if one[0] == header]
            _merge(sheet, row, len(group), 0, header, middle)
        for column, value in enumerate(values):
            if column == 0:
                continue
            if column in (2, 4, 5):
                same = [one for one in rows if one[:1] + one[2:3] == values[:1] + values[2:3]]
                if start and rows[start - 1][2] == values[2]:
                    continue
                _merge(sheet, row, len(same), column, value, middle)
            elif value != "":
                sheet.write(row, column, value)
        row += 1
    row = _sum(sheet, row, header)
    sheet.write(row + 1, 0, "Alle Angaben ohne Gewähr; Muster.")
    book.add_worksheet("Notizen").write(0, 0, "Nur zum internen Gebrauch.")
    book.close()


def _merge(sheet: Any, row: int, count: int, column: int, value: Any, form: Any) -> None:
    if count > 1:
        sheet.merge_range(row, column, row + count - 1, column, value, form)
    else:
        sheet.write(row, column, value, form)


def _sum(sheet: Any, row: int, header: str) -> int:
    sheet.write(row, 0, f"Summe {header}")
    sheet.write_formula(row, 8, f"=COUNTA(I8:I{row})", None, 4)
    return row + 1


def feet(path: Path) -> None:
    """Units in a row of their own, names written once, feet and inches."""
    book = _book(path)
    sheet = book.add_worksheet("Circuits")
    bold = book.add_format({"bold": True})
    for row, (label, value) in enumerate(
        (("House", "Ridge Lane 12"), ("Issue", "2"), ("Water from the boiler", "108 °F"))
    ):
        sheet.write(row, 0, label)
        sheet.write(row, 3, value)
    for column, (text, unit) in enumerate(FEET_HEADINGS):
        sheet.write(4, column, text, bold)
        if unit:
            sheet.write(5, column, unit)
    for row, values in enumerate(FEET_ROWS, 6):
        for column, value in enumerate(values):
            if value != "":
                sheet.write(row, column, value)
    last = 6 + len(FEET_ROWS)
    sheet.write(last, 0, "Sum of pipe")
    total = sum(values[5] for values in FEET_ROWS)
    sheet.write_formula(last, 5, f"=SUM(F7:F{last})", None, total)
    book.close()


def _book(path: Path) -> Any:
    book = xlsxwriter.Workbook(str(path))
    book.set_properties({"created": datetime(2026, 3, 12), "comments": "An invented example."})
    return book


def write(folder: Path = FOLDER) -> None:
    """Write both workbooks."""
    folder.mkdir(exist_ok=True)
    german(folder / "haus-am-hang-4.xlsx")
    feet(folder / "ridge-lane-12.xlsx")


if __name__ == "__main__":
    write()
