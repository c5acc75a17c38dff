"""Five further messy schedules, each read by its proposal alone, as by somebody who reads nothing.

Merged and two-row headings, dittos, a hidden column, transposed blocks under titles, sheets a
storey, feet and inches, a struck row, units in cells, notes: all invented. Each value is right,
refused with its cell, or told; none is wrong in silence.

Of 123 values of the twelve schedules of `schedules_of_senders`, by their maps, and 120 of these
five, none was wrong without a remark. Of fifteen sheets that nothing had been tried on (some 380
values), the proposal alone at first read 20 wrong in silence: lengths as names of pipes (4), header
and loop in one cell (5), a row of units as a loop (2), a second table of another kind as more
loops (9). Those kinds are read right now and have tests; another sheet may hold another kind.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from checker.intake.maps import load
from checker.intake.reading import of_map, opened
from checker.intake.suggesting import suggest
from tests.intake.schedules_of_senders import Truth, book, rows
from tests.intake.test_schedules_of_senders import same


def italian() -> bytes:
    """Headings in two rows, some merged across, dittos, an old length in a hidden column."""

    def fill(out: Any) -> None:
        sheet = out.add_worksheet("Impianto")
        middle = out.add_format({"align": "center"})
        rows(
            sheet, 0, ["Cantiere", "", "Casa dei Tigli 9"], ["Temperatura di mandata", "", "38 °C"]
        )
        sheet.merge_range(3, 0, 3, 1, "Circuito", middle)
        sheet.write(3, 2, "Ambiente")
        sheet.merge_range(3, 3, 3, 5, "Tubo", middle)
        sheet.merge_range(3, 6, 3, 7, "Carico", middle)
        rows(
            sheet, 4,
            ["Collettore", "Anello", "", "Passo [cm]", "Lunghezza [m]", "Lunghezza vecchia [m]", "Potenza [W]", "Portata [l/h]"],
            ["C1", 1, "Soggiorno", "15", "84,5", "80", "1.180", "112,5"],
            ['"', 2, '"', "15", "88,0", "80", '"', "118"],
            ['"', 3, "Bagno", "10", "62,4", "60", "540", "77"],
            ["C2", 1, "Camera", "20", "70,2", "70", "610", "82,5"],
            ["Totale", "", "", "", "305,1"], [], ["* lunghezze comprensive degli attacchi"],
        )  # fmt: skip
        sheet.set_column(5, 5, None, None, {"hidden": True})

    return book(fill)


def spanish() -> bytes:
    """Transposed blocks one below another, each under the name of its header."""

    def fill(out: Any) -> None:
        rows(
            out.add_worksheet("Hoja1"), 0,
            ["Obra: Villa Encina 3"], [], ["Colector A"], ["Circuito", "A1", "A2", "A3"],
            ["Estancia", "Salón", "Salón", "Cocina"], ["Superficie (m²)", 11.5, 12, 9.8],
            ["Paso (cm)", 15, 15, 15], ["Longitud (m)", 84, 88, "72 aprox."],
            ["Carga térmica (W)", 1150, 1150, 610], [],
            ["Colector B"], ["Circuito", "B1", "B2"], ["Estancia", "Baño", "Dormitorio"],
            ["Superficie (m²)", 6.2, 14.4], ["Paso (cm)", 10, 20], ["Longitud (m)", 66, 78],
            ["Carga térmica (W)", 430, 590],
        )  # fmt: skip

    return book(fill)


def american() -> bytes:
    """A sheet a storey, a merged title, feet and inches, a load with thousands, a struck row."""

    def fill(out: Any) -> None:
        struck = out.add_format({"font_strikeout": True})
        for storey, lines in (
            ("Level 1", [("1", "Bath", "182'-0\"", "2,150", "88", '6"'), ("2", "Family", "274'-6\"", "4,380", "131", '6"'), ("3", "Family", "268'", "", "128", '6"')]),
            ("Level 2", [("1", "Bath", "164'", "1,910", "79", '6"'), ("2", "Bed", "201'-6\"", "3,020", "140", '9"')]),
        ):  # fmt: skip
            sheet = out.add_worksheet(storey)
            sheet.merge_range(0, 0, 0, 5, f"ALL LOOPS {storey.upper()}", struck)
            rows(sheet, 2, ["LOOP #", "ROOM", "TUBE LENGTH", "LOAD BTUH", "AREA S.F.", "TUBE O.C."])
            for row, line in enumerate(lines, 3):
                look = struck if (storey, line[0]) == ("Level 1", "3") else None
                for column, text in enumerate(line):
                    sheet.write_string(row, column, text, look)
            sheet.write_comment(3, 2, "verify in field")

    return book(fill)


def dutch() -> bytes:
    """Units in a row of their own, a header named once, a load in kW with three decimals."""
    return (
        "Project;Lindehof 14;;;;;;\n;;;;;;;\n"
        "Verdeler;Groep;Ruimte;Oppervlakte;h.o.h.;Lengte;Aansluitlengte;Warmteverlies\n"
        ";;;m²;cm;m;m;kW\n"
        "V1;1;Woonkamer;12,4;15;86,0;3,5;1,150\n;2;Woonkamer;11,8;15;82,0;3,0;1,150\n"
        ";3;Keuken;10,2;15;71,5;2,5;0,640\nV2;1;Badkamer;6,0;10;64,0;2,0;0,480\n"
        ";;Totaal;40,4;;303,5;11,0;\n"
    ).encode("cp1252")


def french() -> bytes:
    """Storeys side by side, units in cells and one without, a note behind a number, marks mixed."""

    def fill(out: Any) -> None:
        rows(
            out.add_worksheet("Plancher"), 0,
            ["Chantier", "Les Aulnes 2"], ["Date", "03/04/2026"], [],
            ["Rez-de-chaussée", "", "", "", "", "Étage"],
            ["N°", "Local", "Longueur ml", "Pas", "", "N°", "Local", "Longueur ml", "Pas"],
            [1, "Séjour", "92 ml", "15 cm", "", 1, "Chambre 1", "66,5 ml", "20 cm"],
            [2, "Séjour", "95¹", "15 cm", "", 2, "Chambre 2", "71 ml", "20"],
            [3, "Cuisine", "1.04 hm", "15 cm", "", 3, "Bain", "48 ml", "10 cm"],
            ["", "TOTAL", "291 ml", "", "", 4, "WC", "12 m", "10 cm"], [], ["¹ à vérifier"],
        )  # fmt: skip

    return book(fill)


def loop(length: str, spacing: str, room: str, **more: str) -> dict[str, str]:
    return {"length": length, "spacing": spacing, "room": room, **more}


FURTHER: tuple[tuple[str, Callable[[], bytes], Truth, dict[str, int], tuple[str, ...]], ...] = (
    ("italian.xlsx", italian, {
        "loops.C1.1": loop("84.5 m", "15 cm", "Soggiorno", header="C1", flow="112.5 l/h"),
        "loops.C1.2": loop("88 m", "15 cm", "Soggiorno", header="C1", flow="118 l/h"),
        "loops.C1.3": loop("62.4 m", "10 cm", "Bagno", header="C1", flow="77 l/h"),
        "loops.C2.1": loop("70.2 m", "20 cm", "Camera", header="C2", flow="82.5 l/h"),
        "rooms.Soggiorno": {"heat_load": "1180 W"}, "rooms.Bagno": {"heat_load": "540 W"},
        "rooms.Camera": {"heat_load": "610 W"},
    }, {"right": 23}, ("column F 'Tubo Lunghezza vecchia [m]': 4 cells", "the total 305.1 is the sum")),
    ("spanish.xlsx", spanish, {
        "loops.A1": loop("84 m", "15 cm", "Salón", header="A", area="11.5 m²"),
        "loops.A2": loop("88 m", "15 cm", "Salón", header="A", area="12 m²"),
        "loops.A3": loop("72 m", "15 cm", "Cocina", header="A", area="9.8 m²"),
        "loops.B1": loop("66 m", "10 cm", "Baño", header="B", area="6.2 m²"),
        "loops.B2": loop("78 m", "20 cm", "Dormitorio", header="B", area="14.4 m²"),
        "rooms.Salón": {"heat_load": "1150 W"}, "rooms.Cocina": {"heat_load": "610 W"},
        "rooms.Baño": {"heat_load": "430 W"}, "rooms.Dormitorio": {"heat_load": "590 W"},
    }, {"right": 28, "refused": 1}, ("row 8, column D 'Longitud (m)': '72 aprox.'",)),
    ("american.xlsx", american, {
        "loops.1.1": loop("182 ft", "6 in", "1 Bath", area="88 ft²"),
        "loops.1.2": loop("274.5 ft", "6 in", "1 Family", area="131 ft²"),
        "loops.2.1": loop("164 ft", "6 in", "2 Bath", area="79 ft²"),
        "loops.2.2": loop("201.5 ft", "9 in", "2 Bed", area="140 ft²"),
        "rooms.1 Bath": {"heat_load": "2150 Btu/h"}, "rooms.1 Family": {"heat_load": "4380 Btu/h"},
        "rooms.2 Bath": {"heat_load": "1910 Btu/h"}, "rooms.2 Bed": {"heat_load": "3020 Btu/h"},
    }, {"right": 20}, ("row 6: the row is struck through", "'verify in field'", "D4 '2,150' as 2150 Btu/h")),
    ("dutch.csv", dutch, {
        "loops.V1.1": loop("86 m", "15 cm", "Woonkamer", header="V1", area="12.4 m²", feeds="3.5 m"),
        "loops.V1.2": loop("82 m", "15 cm", "Woonkamer", header="V1", area="11.8 m²", feeds="3 m"),
        "loops.V1.3": loop("71.5 m", "15 cm", "Keuken", header="V1", area="10.2 m²", feeds="2.5 m"),
        "loops.V2.1": loop("64 m", "10 cm", "Badkamer", header="V2", area="6 m²", feeds="2 m"),
        "rooms.Woonkamer": {"heat_load": "1.15 kW"}, "rooms.Keuken": {"heat_load": "0.64 kW"},
        "rooms.Badkamer": {"heat_load": "0.48 kW"},
    }, {"right": 27}, ("H5 '1,150' as 1.150 kW", "the total 303.5 is the sum")),
    ("french.xlsx", french, {
        "loops.Rez-de-chaussée.1": loop("92 m", "15 cm", "Rez-de-chaussée Séjour"),
        "loops.Rez-de-chaussée.2": loop("95 m", "15 cm", "Rez-de-chaussée Séjour"),
        "loops.Rez-de-chaussée.3": loop("104 m", "15 cm", "Rez-de-chaussée Cuisine"),
        "loops.Étage.1": loop("66.5 m", "20 cm", "Étage Chambre 1"),
        "loops.Étage.2": loop("71 m", "20 cm", "Étage Chambre 2"),
        "loops.Étage.3": loop("48 m", "10 cm", "Étage Bain"),
        "loops.Étage.4": loop("12 m", "10 cm", "Étage WC"),
    }, {"right": 20, "refused": 1}, ("read as the mark of a note", "row 6, column H 'Longueur ml': '66,5 ml'")),
)  # fmt: skip


@pytest.mark.parametrize("one", FURTHER, ids=lambda one: one[0])
def test_a_schedule_by_its_proposal_alone_has_nothing_wrong_in_silence(
    tmp_path: Path, one: Any
) -> None:
    name, make, truth, counts, told = one
    path = tmp_path / name
    path.write_bytes(make())
    whole = opened(str(path))
    found: dict[str, dict[str, Any]] = {}
    said = []
    for taken in of_map(whole, load("m", suggest(whole).encode())):
        assert [str(one) for one in taken.read.mistakes] == []
        for section in ("loops", "rooms", "pipes"):
            for key, record in taken.read.tree.get(section, {}).items():
                found[f"{section}.{key}"] = record
        said += [*map(str, taken.read.refused), *map(str, taken.read.slips),
                 *taken.read.assumed, *taken.read.unused]  # fmt: skip
    counted = Counter[str]()
    for record, values in found.items():
        for key, value in values.items():
            own = truth.get(record, {}).get(key)
            if key == "port":  # the proposal asks whether the loop's number is its port
                continue
            right = own is not None and same(record.partition(".")[0], key, str(value), own)
            counted["right" if right else f"wrong: {record} {key} {value}"] += 1
    counted["refused"] = sum(map(len, truth.values())) - counted["right"]
    assert {key: count for key, count in counted.items() if count} == counts
    for words in told:
        assert words in "\n".join(said), said
