"""Twelve messy schedules of invented senders, in six languages, and what each truly says.

Every value that a reader of the sheet would take from it stands in `truth`; a test counts which of
them are read right, told, refused, or wrong in silence. Nothing here is anybody's real sheet.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import xlsxwriter

Truth = dict[str, dict[str, str]]
"""For each record (`loops.L1`) the fields that the sheet states, as a design writes them."""


class Schedule(NamedTuple):
    """A schedule: its file, how it is made, the map that was read through, and what is true.

    told: cells that must not be read, by words that must be said of them.
    """

    name: str
    make: Callable[[], bytes]
    plan: str
    truth: Truth
    told: tuple[str, ...] = ()


def book(fill: Callable[[Any], None]) -> bytes:
    made = io.BytesIO()
    out = xlsxwriter.Workbook(made, {"in_memory": True})
    fill(out)
    out.close()
    return made.getvalue()


def rows(sheet: Any, first: int, *lines: list[Any]) -> None:
    for number, line in enumerate(lines, first):
        sheet.write_row(number, 0, line)


def english() -> bytes:
    """Title block, tails apart, dittos, subtotals, a hidden row, a struck row, a comment."""

    def fill(out: Any) -> None:
        sheet = out.add_worksheet("Loops")
        struck = out.add_format({"font_strikeout": True})
        rows(
            sheet, 0, ["Job", "Mill Row 4"], [],
            ["Circuit", "Manifold", "Room", "Length (m)", "Flow tail (m)", "Return tail (m)", "Centres (mm)"],
            ["1", "M1", "Kitchen", 88, 4, 4, 150],
            ["2", '"', "Hall", 64, 3, 5, 200],
            ["Total M1", "", "", 152, 7, 9, ""],
            ["3", "M2", "Study", 71.5, 6, 6, 150],
            ["4", "M2", "Bath", 45, 2, 2, 100],
        )  # fmt: skip
        sheet.set_row(7, None, None, {"hidden": True})
        for column, value in enumerate(["5", "M2", "Store", 30, 1, 1, 200]):
            sheet.write(8, column, value, struck)
        sheet.write_comment(3, 3, "check on site")

    return book(fill)


def german() -> bytes:
    return (
        "Bauvorhaben;Haus Feldrain 2\n\n"
        "HK-Nr;Verteiler;Raum;Rohrlänge [m];Anbindung [m];VA [cm];Heizlast [W]\n"
        "1.1;V1;Wohnen;1.088,50;8,5;15;1.250\n"
        "1.2;V1;Küche;92,0;6,0;15;640\n"
        "1.3;V1;Bad;58,4;4,4;10;-\n"
        "Summe;;;1.238,90;18,9;;\n"
    ).encode("cp1252")


def french() -> bytes:
    def fill(out: Any) -> None:
        sheet = out.add_worksheet("Étage")
        rows(
            sheet, 0,
            ["Nourrice N1 – rez-de-chaussée"],
            ["Boucle", "Pièce", "Longueur", "Pas"],
            ["B1", "Séjour", "86 m", "15 cm"],
            ["B2", "Cuisine", "74,5 m", "15 cm"],
            [],
            ["Nourrice N2 – étage"],
            ["Boucle", "Pièce", "Longueur", "Pas"],
            ["B1", "Chambre", "66 m", "20 cm"],
            ["B2", "Bain", "52 m", "10 cm"],
        )  # fmt: skip

    return book(fill)


def dutch() -> bytes:
    """Transposed, a unit in the number format."""

    def fill(out: Any) -> None:
        sheet = out.add_worksheet("Groepen")
        centimetres = out.add_format({"num_format": '0" cm"'})
        rows(
            sheet, 0,
            ["Groep", "G1", "G2", "G3"],
            ["Ruimte", "Woonkamer", "Keuken", "Hal"],
            ["Lengte (m)", 95, 81, 40],
        )  # fmt: skip
        sheet.write(3, 0, "h.o.h. (mm)")
        for column, value in enumerate((15, 15, 20), 1):
            sheet.write(3, column, value, centimetres)

    return book(fill)


def spanish() -> bytes:
    """Two tables side by side."""

    def fill(out: Any) -> None:
        sheet = out.add_worksheet("Circuitos")
        rows(
            sheet, 0,
            ["Circuito", "Estancia", "Longitud (m)", "", "Circuito", "Estancia", "Longitud (m)"],
            ["C1", "Salón", 90, "", "C4", "Baño", 48],
            ["C2", "Cocina", 77, "", "C5", "Dormitorio", 83],
            ["C3", "Pasillo", 35, "", "C6", "Despacho", 60],
        )  # fmt: skip

    return book(fill)


def italian() -> bytes:
    """Each loop's share of its room's heat loss, a date for an id, notes behind numbers."""

    def fill(out: Any) -> None:
        from datetime import datetime

        sheet = out.add_worksheet("Anelli")
        day = out.add_format({"num_format": "yyyy-mm-dd"})
        rows(
            sheet, 0,
            ["Anello", "Locale", "Lunghezza (m)", "Fabbisogno per anello (W)"],
            ["A1", "Soggiorno", "84¹", 600],
            ["A2", "Soggiorno", 86, 600],
            ["", "Cucina", 70, 450],
        )  # fmt: skip
        sheet.write_datetime(3, 0, datetime(2026, 2, 1), day)

    return book(fill)


def american() -> bytes:
    return (
        b'Loop,Room,"Loop Length","Leader Length (ft, each way)","Tube O.C. (in)",Area Sq Ft\n'
        b'L1,Kitchen,"226\'-6""",13,"8 1/2",140\n'
        b"L2,Bath,198 ft,9,6,88\n"
        b'L3,Hall,"150\'",7,"12"" OC",120\n'
    )


def thousands() -> bytes:
    return (
        b"Loop,Room,Length m,Heat loss W\n"
        b'L1,Hall,88.5,"1,101"\nL2,Bath,61.0,"1,040"\nL3,Study,70.2,940\n'
    )


def superscript() -> bytes:
    """Raised notes as a word processor makes them, and an error in a cell."""

    def fill(out: Any) -> None:
        sheet = out.add_worksheet("Loops")
        raised = out.add_format({"font_script": 1})
        rows(sheet, 0, ["Loop", "Room", "Length [m]"], ["L1", "Hall"], ["L2", "Bath", 55])
        sheet.write_rich_string(1, 2, "84", raised, "1")
        sheet.write_formula(3, 2, "=1/0", None, "#DIV/0!")
        sheet.write_row(3, 0, ["L3", "Study"])

    return book(fill)


def tower() -> bytes:
    """Three flats in one table."""
    lines = ["Flat;Loop;Room;Length [m]"]
    for flat in ("F1", "F2", "F3"):
        lines += [f"{flat};1;Bath;{40 + int(flat[1])}", f"{flat};2;Living;{80 + int(flat[1])}"]
    return "\n".join(lines).encode()


def sheets_by_header() -> bytes:
    def fill(out: Any) -> None:
        for header, length in (("M1", 88), ("M2", 77)):
            sheet = out.add_worksheet(f"Manifold {header}")
            rows(
                sheet, 0, ["No", "Room", "Length [m]"], [1, "Hall", length], [2, "Bath", length + 1]
            )

    return book(fill)


def twice() -> bytes:
    """A loop in two rows that differ, and one room with two temperatures."""
    return (
        "Loop;Room;Length [m];Temp [°C]\n"
        "L1;Hall;88;20\nL2;Bath;61;24\nL1;Hall;98;20\nL3;Bath;50;22\n"
    ).encode()


LOOPS = 'ids: {loops: "{%s}", rooms: "{%s}"%s}\n    columns:\n'
SCHEDULES = (
    Schedule("english.xlsx", english, """map: 1
sheets:
  - ids: {loops: "{Circuit}", rooms: "{Room}", headers: "{Manifold}"}
    cells: [{beside: Job, field: project.name}]
    columns:
      - {heading: Length (m), field: loops.length, unit: m}
      - {heading: Flow tail (m), plus: [Return tail (m)], field: loops.feeds, unit: m}
      - {heading: Centres (mm), field: loops.spacing, unit: mm}
""", {
        "loops.1": {"length": "88 m", "feeds": "8 m", "spacing": "150 mm", "header": "M1", "room": "Kitchen"},
        "loops.2": {"length": "64 m", "feeds": "8 m", "spacing": "200 mm", "header": "M1", "room": "Hall"},
        "loops.3": {"length": "71.5 m", "feeds": "12 m", "spacing": "150 mm", "header": "M2", "room": "Study"},
        "loops.4": {"length": "45 m", "feeds": "4 m", "spacing": "100 mm", "header": "M2", "room": "Bath"},
    }, ("row 9: the row is struck through", "row 8 hidden in the sheet", "'check on site'",
        "the total 152 is the sum of what was read", "ditto marks took the value above")),
    Schedule("german.csv", german, """map: 1
decimal: comma
thousands: point
empty: ['-']
sheets:
  - ids: {loops: "{HK-Nr}", rooms: "{Raum}", headers: "{Verteiler}"}
    cells: [{beside: Bauvorhaben, field: project.name}]
    columns:
      - {heading: 'Rohrlänge [m]', field: loops.length, unit: m}
      - {heading: 'Anbindung [m]', field: loops.feeds, unit: m}
      - {heading: 'VA [cm]', field: loops.spacing, unit: cm}
      - {heading: 'Heizlast [W]', field: rooms.heat_load, unit: W}
""", {
        "loops.1.1": {"feeds": "8.5 m", "spacing": "15 cm", "room": "Wohnen", "header": "V1"},
        "loops.1.2": {"length": "92.0 m", "feeds": "6.0 m", "spacing": "15 cm", "room": "Küche"},
        "loops.1.3": {"length": "58.4 m", "feeds": "4.4 m", "spacing": "10 cm", "room": "Bad"},
        "rooms.Wohnen": {"heat_load": "1250 W"},
        "rooms.Küche": {"heat_load": "640 W"},
    }, ("1088.50 m",)),
    Schedule("french.xlsx", french, """map: 1
decimal: comma
sheets:
  - title: 'Nourrice {Nourrice} – *'
    ids: {loops: "{Nourrice}.{Boucle}", rooms: "{Pièce}", headers: "{Nourrice}"}
    columns:
      - {heading: Longueur, field: loops.length, unit: m}
      - {heading: Pas, field: loops.spacing, unit: cm}
""", {
        "loops.N1.B1": {"length": "86 m", "spacing": "15 cm", "header": "N1", "room": "Séjour"},
        "loops.N1.B2": {"length": "74.5 m", "spacing": "15 cm", "header": "N1", "room": "Cuisine"},
        "loops.N2.B1": {"length": "66 m", "spacing": "20 cm", "header": "N2", "room": "Chambre"},
        "loops.N2.B2": {"length": "52 m", "spacing": "10 cm", "header": "N2", "room": "Bain"},
    }, ("the headings occur 2 times",)),
    Schedule("dutch.xlsx", dutch, """map: 1
sheets:
  - transposed: true
    ids: {loops: "{Groep}", rooms: "{Ruimte}"}
    columns:
      - {heading: Lengte (m), field: loops.length, unit: m}
      - {heading: h.o.h. (mm), field: loops.spacing, unit: mm}
""", {
        "loops.G1": {"length": "95 m", "spacing": "15 cm", "room": "Woonkamer"},
        "loops.G2": {"length": "81 m", "spacing": "15 cm", "room": "Keuken"},
        "loops.G3": {"length": "40 m", "spacing": "20 cm", "room": "Hal"},
    }),
    Schedule("spanish.xlsx", spanish, """map: 1
sheets:
  - ids: {loops: "{Circuito}", rooms: "{Estancia}"}
    columns:
      - {heading: Longitud (m), field: loops.length, unit: m}
""", {
        f"loops.C{n}": {"length": f"{length} m", "room": room}
        for n, (room, length) in enumerate((("Salón", 90), ("Cocina", 77), ("Pasillo", 35),
                                            ("Baño", 48), ("Dormitorio", 83), ("Despacho", 60)), 1)
    }, ("the headings occur 2 times",)),
    Schedule("italian.xlsx", italian, """map: 1
sheets:
  - ids: {loops: "{Anello}", rooms: "{Locale}"}
    columns:
      - {heading: Lunghezza (m), field: loops.length, unit: m}
      - {heading: Fabbisogno per anello (W), field: rooms.heat_load, unit: W, add: true}
""", {
        "loops.A1": {"length": "84 m", "room": "Soggiorno"},
        "loops.A2": {"length": "86 m", "room": "Soggiorno"},
        "rooms.Soggiorno": {"heat_load": "1200 W"},
    }, ("is a date, so the row has no id", "read as the mark of a note")),
    Schedule("american.csv", american, """map: 1
sheets:
  - ids: {loops: "{Loop}", rooms: "{Room}"}
    columns:
      - {heading: Loop Length, field: loops.length, unit: ft}
      - {heading: 'Leader Length (ft, each way)', field: loops.feeds, unit: ft, times: 2}
      - {heading: Tube O.C. (in), field: loops.spacing, unit: in}
      - {heading: Area Sq Ft, field: loops.area, unit: ft²}
""", {
        "loops.L1": {"length": "2718 in", "feeds": "26 ft", "spacing": "8.5 in", "area": "140 ft²"},
        "loops.L2": {"length": "198 ft", "feeds": "18 ft", "spacing": "6 in", "area": "88 ft²"},
        "loops.L3": {"length": "150 ft", "feeds": "14 ft", "spacing": "12 in", "area": "120 ft²"},
    }),
    Schedule("thousands.csv", thousands, """map: 1
decimal: point
thousands: comma
sheets:
  - ids: {loops: "{Loop}", rooms: "{Room}"}
    columns:
      - {heading: Length m, field: loops.length, unit: m}
      - {heading: Heat loss W, field: rooms.heat_load, unit: W}
""", {
        "loops.L1": {"length": "88.5 m"}, "loops.L2": {"length": "61.0 m"}, "loops.L3": {"length": "70.2 m"},
        "rooms.Hall": {"heat_load": "1101 W"}, "rooms.Bath": {"heat_load": "1040 W"},
        "rooms.Study": {"heat_load": "940 W"},
    }),
    Schedule("superscript.xlsx", superscript, """map: 1
sheets:
  - ids: {loops: "{Loop}", rooms: "{Room}"}
    columns: [{heading: 'Length [m]', field: loops.length, unit: m}]
""", {"loops.L1": {"length": "84 m"}, "loops.L2": {"length": "55 m"}},
        ("read as the mark of a note", "shows the error #DIV/0!")),
    Schedule("tower.csv", tower, """map: 1
split: '{Flat}'
sheets:
  - ids: {loops: "{Loop}", rooms: "{Room}"}
    columns: [{heading: 'Length [m]', field: loops.length, unit: m}]
""", {
        f"F{n}/loops.{loop}": {"length": f"{length + n} m", "room": room}
        for n in (1, 2, 3) for loop, room, length in (("1", "Bath", 40), ("2", "Living", 80))
    }),
    Schedule("by_header.xlsx", sheets_by_header, """map: 1
sheets:
  - sheet: 'Manifold {Manifold}'
    ids: {loops: "{Manifold}.{No}", rooms: "{Manifold} {Room}", headers: "{Manifold}"}
    columns: [{heading: 'Length [m]', field: loops.length, unit: m}]
""", {
        f"loops.{m}.{n}": {"length": f"{length + n - 1} m", "header": m, "room": f"{m} {room}"}
        for m, length in (("M1", 88), ("M2", 77)) for n, room in ((1, "Hall"), (2, "Bath"))
    }),
    Schedule("twice.csv", twice, """map: 1
sheets:
  - ids: {loops: "{Loop}", rooms: "{Room}"}
    columns:
      - {heading: 'Length [m]', field: loops.length, unit: m}
      - {heading: 'Temp [°C]', field: rooms.temperature, unit: °C}
""", {"loops.L2": {"length": "61 m"}, "loops.L3": {"length": "50 m"}, "rooms.Hall": {"temperature": "20 °C"}},
        ("'L1' is a loop in row 2 already", "but the rooms.temperature of 'Bath' is '24 °C'")),
)  # fmt: skip


def put(folder: Path, one: Schedule) -> str:
    """The file, and its map beside it; the file's path."""
    path = folder / one.name
    path.write_bytes(one.make())
    path.with_name(f"{path.stem}.map.yaml").write_text(one.plan, "utf-8")
    return str(path)
