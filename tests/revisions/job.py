"""The sheets of an invented job: five subcontractors over four rounds.

    python -m tests.revisions.job

writes what they sent into example_designs/subcontractors/lantern-yard. Firms, houses and figures
are invented. Each sheet is as its sender writes it: other languages, units, headings and files.
"""

from __future__ import annotations

import io
from datetime import datetime
from pathlib import Path
from typing import Any

import xlsxwriter

FOLDER = Path(__file__).parents[2] / "example_designs" / "subcontractors" / "lantern-yard"
Row = tuple[Any, ...]

GERMAN = (
    "Verteiler", "Kreis", "Raum", "Nutzung", "Raumfläche [m²]", "Raumtemperatur [°C]",
    "Heizlast [W]", "Heizfläche [m²]", "VA [cm]", "Rohrlänge [m]", "Anbindung [m]", "Verlegeart",
)  # fmt: skip
HANG_A: tuple[Row, ...] = (
    ("HKV 1", 1, "Wohnen", "Wohnen", 30, 21, 1300, "14,2", 15, "104,0", "9,4", "Schnecke"),
    ("HKV 1", 2, "Wohnen", "Wohnen", 30, 21, 1300, "13,0", 15, "95,2", "8,6", "Schnecke"),
    ("HKV 1", 3, "Küche", "Küche", 14, 20, 620, "12,6", 15, "90,0", "6,0", "Schnecke"),
    ("HKV 1", 4, "Schlafen", "Schlafen", 17, 18, 560, "15,6", 15, "118,0", "14,0", "Schnecke"),
)  # fmt: skip
"""Two loops are too long, and much is not stated."""
HANG_B: tuple[Row, ...] = (
    ("HKV 1", 1, "Wohnen", "Wohnen", 30, 21, 1300, "14,8", 15, "108,0", "9,4", "Schnecke"),
    *HANG_A[1:3],
    ("HKV 1", 4, "Schlafen", "Schlafen", 17, 18, 560, "7,8", 15, "59,0", "7,0", "Schnecke"),
    ("HKV 1", 5, "Schlafen", "Schlafen", 17, 18, 560, "7,8", 15, "59,0", "7,0", "Schnecke"),
)  # fmt: skip
"""The bedroom's loop is split in two; the first is longer still."""
HANG_C: tuple[Row, ...] = (
    ("HKV 1", 1, "Wohnen", "Wohnen", 30, 21, 1300, "13,2", 15, "97,0", "9,0", "Schnecke"),
    *HANG_B[1:],
)  # fmt: skip

FEET = (
    ("Header", ""), ("Circuit", ""), ("Space", ""), ("Use", ""), ("Space area", "ft²"),
    ("Heated area", "ft²"), ("Pitch", "in"), ("Pipe length", "ft"), ("Feeds", "ft"),
    ("Outlet", ""), ("Design temperature", "°F"), ("Load", "Btu/h"),
)  # fmt: skip
RIDGE_1: tuple[Row, ...] = (
    ("A", "1", "Great room", "living", 300, 130, 6, 290, 30, 1, 70, 4000),
    ("A", "2", "Great room", "living", 300, 130, 6, 292, 32, 2, 70, 4000),
    ("A", "3", "Kitchen", "kitchen", 140, 124, 6, 276, 28, 3, 70, 1900),
    ("A", "4", "Study", "office", 160, 152, 6, 336, 32, 4, 68, 1900),
    ("A", "5", "Hall", "hall", 110, 100, 6, 226, 26, 4, 68, 1500),
)  # fmt: skip
"""Two loops stand on port 4, and one is too long."""
RIDGE_2: tuple[Row, ...] = (
    ("A", "1", "Porch", "hall", 190, 160, 6, 350, 30, 1, 68, 2500),
    ("A", "2", "Great room", "living", 300, 130, 6, 290, 30, 2, 70, 4000),
    ("A", "3", "Great room", "living", 300, 130, 6, 292, 32, 3, 70, 4000),
    ("A", "4", "Kitchen", "kitchen", 140, 124, 6, 276, 28, 4, 70, 1900),
    ("A", "5", "Study", "office", 160, 138, 6, 306, 30, 5, 68, 1900),
    ("A", "6", "Hall", "hall", 110, 100, 6, 226, 26, 6, 68, 1500),
)  # fmt: skip
"""A loop is put in before all others, which are renumbered; it is too long itself."""
RIDGE_3: tuple[Row, ...] = (
    ("A", "1", "Porch", "hall", 190, 140, 6, 308, 28, 1, 68, 2500),
    *RIDGE_2[1:],
)  # fmt: skip

ENGLISH = (
    "Ref", "Manifold", "Port", "Room", "Use", "Room area m2", "Design temp C", "Heat loss W",
    "Loop area m2", "Centres mm", "Length m", "Tails m (total)",
)  # fmt: skip
MEADOW: tuple[Row, ...] = (
    ("K1", "M1", 1, "Kitchen", "kitchen", 14, 20, 700, 12, 150, 88, 8),
    ("L1", "M1", 2, "Lounge", "living", 26, 21, 1150, 12, 150, 89, 9),
    ("L2", "M1", 3, "Lounge", "living", 26, 21, 1150, 12, 150, 90, 10),
    ("B1", "M1", 4, "Bathroom", "bathroom", 7, 24, 300, 5.5, 100, 62, 7),
)  # fmt: skip

FRENCH = (
    "Boucle", "Nourrice", "Départ", "Pièce", "Usage", "Surface pièce (m²)", "Température (°C)",
    "Déperditions (W)", "Surface (m²)", "Pas (cm)", "Longueur (m)", "Liaison (m)",
)  # fmt: skip
PLATEAU_0: tuple[Row, ...] = (
    ("S1", "N1", 1, "Séjour", "séjour", 28, 20, 1200, "12,9", 15, "94,0", "8,0"),
    ("S2", "N1", 2, "Séjour", "séjour", 28, 20, 1200, "12,6", 15, "92,0", "8,0"),
    ("C1", "N1", 3, "Chambre", "chambre", 13, 19, 480, "11,4", 15, "84,0", "8,0"),
    ("V1", "N1", 4, "Véranda", "séjour", 18, 20, 700, "15,6", 15, "116,0", "12,0"),
)  # fmt: skip
PLATEAU_1 = PLATEAU_0[:3]
"""The conservatory with its long loop is left out."""

QUAY = (
    "Loop no.", "Manifold", "Port", "Room", "Room type", "Room area (m2)", "Room temp (degC)",
    "Heat loss (kW)", "Loop area (m2)", "Pitch (mm)", "Pipe (m)", "Tails (m)",
)  # fmt: skip
QUAY_1: tuple[Row, ...] = (
    ("Q1", "QM", 1, "Saloon", "living", 27, 21, 1.25, 12.4, 150, 91, 8),
    ("Q2", "QM", 2, "Saloon", "living", 27, 21, 1.25, 12.6, 150, 93, 9),
    ("Q3", "QM", 3, "Galley", "kitchen", 13, 20, 0.65, 11.6, 150, 106, 29),
)  # fmt: skip
QUAY_1_AGAIN: tuple[Row, ...] = (
    *QUAY_1[:2],
    ("Q3", "QM", 3, "Galley", "kitchen", 13, 20, 0.65, 11.6, 150, 104, 27),
)
QUAY_2: tuple[Row, ...] = (
    *QUAY_1[:2],
    ("Q3", "QM", 3, "Galley", "kitchen", 13, 20, 0.65, 11.6, 150, 85, 8),
)


def _book(
    name: str, told: list[Row], headings: list[Row], rows: tuple[Row, ...], top: int
) -> bytes:
    made = io.BytesIO()
    book = xlsxwriter.Workbook(made, {"in_memory": True})
    book.set_properties({"created": datetime(2026, 3, 2), "comments": "An invented example."})
    sheet = book.add_worksheet(name)
    bold = book.add_format({"bold": True, "border": 1, "text_wrap": True})
    for number, row in enumerate(told):
        sheet.write_row(number, 0, row)
    for number, row in enumerate(headings, top):
        sheet.write_row(number, 0, row, bold)
    for number, row in enumerate(rows, top + len(headings)):
        sheet.write_row(number, 0, row)
    sheet.set_column(0, len(rows[0]), 13)
    book.close()
    return made.getvalue()


def german(revision: str, day: str, rows: tuple[Row, ...]) -> bytes:
    """Decimal commas as text, centimetres, the job's data above the table."""
    told: list[Row] = [
        ("Heizkreisliste (erfundenes Beispiel)",), ("Bauvorhaben:", "", "Haus am Hang 7"),
        ("Stand:", "", revision), ("Datum:", "", day), ("Vorlauftemperatur [°C]:", "", 38),
    ]  # fmt: skip
    return _book("Heizkreise", told, [GERMAN], rows, 6)


def feet(revision: str, fluid: str, share: str, rows: tuple[Row, ...]) -> bytes:
    """Feet, inches and Fahrenheit, units in a row of their own."""
    told: list[Row] = [
        ("Circuits, an invented example",), ("House", "Ridge Lane 14"),
        ("Issue", revision), ("Water from the boiler", "104 °F"), ("Filled with", fluid), ("Strength", share),
    ]  # fmt: skip
    heads: list[Row] = [tuple(one for one, _ in FEET), tuple(unit for _, unit in FEET)]
    return _book("Circuits", told, heads, rows, 7)


def quay(revision: str, sender: str, region: str, rows: tuple[Row, ...]) -> bytes:
    """Kilowatts, a contractor's name that is typed again each time."""
    told: list[Row] = [
        ("Contractor", sender), ("Job", "Quay House 1"), ("Issue", revision),
        ("Region", region), ("Note", "an invented example"),
    ]  # fmt: skip
    return _book("UFH", told, [QUAY], rows, 6)


def comma(rows: tuple[Row, ...], revision: str) -> bytes:
    """A plain CSV file in English."""
    lines: list[Row] = [
        ("Meadow View 2 (an invented example)",), ("Job", "Meadow View 2"), ("Rev", revision),
        (), ENGLISH, *rows,
    ]  # fmt: skip
    return "".join(",".join(map(str, row)) + "\n" for row in lines).encode()


def semicolon(rows: tuple[Row, ...], revision: str) -> bytes:
    """A CSV file with semicolons and decimal commas, in an old encoding."""
    lines: list[Row] = [
        ("Clos du Plateau 5 (exemple inventé)",), ("Chantier", "Clos du Plateau 5"),
        ("Indice", revision), (), FRENCH, *rows,
    ]  # fmt: skip
    return "".join(";".join(map(str, row)) + "\n" for row in lines).encode("cp1252")


def sent() -> dict[str, bytes]:
    """What came in, by round and file."""
    lines = [
        f"  - {{rule: feeds-located, subject: loops.{loop}, result: as wanted, by: A. Fitter, "
        "on: 2026-03-12, what: its feeds run in the room itself}\n"
        for loop in ("L1", "L2", "B1")
    ]
    answers = "answers: 1\nseen:\n" + "".join(lines)
    return {
        "round-1/haus-am-hang-7-a.xlsx": german("A", "24.02.2026", HANG_A),
        "round-1/ridge-lane-14-r1.xlsx": feet("1", "ethylene glycol", "10 %", RIDGE_1),
        "round-1/meadow-view-2-p1.csv": comma(MEADOW, "P1"),
        "round-1/clos-du-plateau-5-0.csv": semicolon(PLATEAU_0, "0"),
        "round-1/quay-house-1.xlsx": quay("1", "Invented Quay Screeds Ltd", "US-VT", QUAY_1),
        "round-2/ridge-lane-14-r2.xlsx": feet("2", "ethylene glycol", "10 %", RIDGE_2),
        "round-2/meadow-view-2-p1.csv": comma(MEADOW, "P1"),
        "round-2/meadow-view-2-p1.answers.yaml": answers.encode(),
        "round-2/quay-house-1-resent.xlsx": quay(
            "1", "INVENTED QUAY SCREEDS LTD.", "US-VT", QUAY_1_AGAIN
        ),
        "round-3/haus-am-hang-7-b.xlsx": german("B", "20.03.2026", HANG_B),
        "round-3/clos-du-plateau-5-1.csv": semicolon(PLATEAU_1, "1"),
        "round-3/quay-house-1-i2.xlsx": quay("2", "Invented Quay Screeds Ltd", "GB-ENG", QUAY_2),
        "round-4/haus-am-hang-7-c.xlsx": german("C", "07.04.2026", HANG_C),
        "round-4/ridge-lane-14-r3.xlsx": feet("3", "water", "", RIDGE_3),
    }


def write(folder: Path = FOLDER) -> None:
    """Write all of it."""
    for name, content in sent().items():
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)


if __name__ == "__main__":
    write()
