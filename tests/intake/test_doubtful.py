"""Numbers that can be read in two ways, in columns that nothing else in the sheet weighs.

Each such cell is to be looked at in the proposal, and told of when it is read. All invented.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

import pytest

from checker.intake.maps import load
from checker.intake.reading import Intake, of_book
from tests.intake.test_suggesting import proposed

HEAD = ["Loop", "Room", "Length [m]", "Tails [m]", "Covering resistance [m²·K/W]", "Flow [l/h]"]
"""Tails, a covering's resistance and, without a load, a flow stand in no relation to the rest."""


def look(text: str, heading: str) -> str:
    (line,) = [
        line for line in text.splitlines() if f"heading: {heading}" in re.sub("['\"]", "", line)
    ]
    return line.partition("# LOOK: ")[2]


def read(text: str, sheets: Any) -> Intake:
    return of_book(sheets, load("a.map.yaml", text.encode()))


def test_every_doubtful_cell_is_looked_at_and_told_of() -> None:
    """Of 24 values 4 could be read in two ways and 1 by no mark of the file: none in silence."""
    rows = [
        ["L1", "hall", "88,5", "8,4", "0,075", "108"],
        ["L2", "den", "1.088,5", "1.250", "0.100", "1.102"],
        ["L3", "bath", "66,0", "5,0", "0,01", "96"],
        ["L4", "loft", "71,5", "6.000", "0,1", "1.400"],
        ["L5", "attic", "60,5", "4,0", "0,15", "80"],
        ["L6", "porch", "62,5", "4,5", "0,02", "88"],
    ]
    text, sheets = proposed(HEAD, *rows)
    assert "thousands: point  # LOOK" in text
    done = read(text, sheets)
    told = "\n".join(done.read.assumed)
    refused = "\n".join(map(str, done.read.refused))
    counted = Counter[str]()
    for number, row in enumerate(rows, 2):
        for column, cell in enumerate(row[2:], 2):
            if cell not in ("1.250", "6.000", "1.102", "1.400", "0.100"):
                continue
            at = "ABCDEF"[column]
            if f"{at}{number} '{cell}' as " in told:
                counted["told"] += 1
            elif f"row {number}, column {at} '{HEAD[column]}': '{cell}'" in refused:
                counted["refused"] += 1
            else:
                counted["silent"] += 1
            if cell != "0.100":  # which begins with 0, so its mark is none that parts thousands
                assert "and could be" in look(text, HEAD[column])
    assert counted == {"told": 2, "refused": 3}


def test_what_does_not_fit_the_rest_of_its_column_is_pointed_out() -> None:
    sheets = proposed(
        ["Loop", "Room", "Length [m]", "Heat load [W]"],
        ["L1", "hall", 88.0, "850"], ["L2", "den", 66.0, "1.150"], ["L3", "bath", 50.0, "640"],
    )  # fmt: skip
    done = read(sheets[0].replace("empty:", "decimal: point\nempty:"), sheets[1])
    (slip,) = done.read.slips
    assert (slip.row, slip.column, slip.value) == (3, "D 'Heat load [W]'", "'1.150'")
    assert slip.message.startswith("is read as 1.15 W; as 1150 W it would be nearer")


def test_what_physics_tells_is_not_asked_again_and_what_it_denies_is_said() -> None:
    head = ["Loop", "Room", "Area [m²]", "Spacing [mm]", "Length [m]", "Heat load [W]"]
    text, _ = proposed(head, ["L1", "hall", "12,0", "150", "88,0", "1.150"],
                       ["L2", "den", "9,0", "150", "66,0", "1.020"])  # fmt: skip
    assert look(text, "Heat load [W]") == ""
    text, _ = proposed(head, ["L1", "hall", "12.0", "150", "88.0", "1.150"],
                       ["L2", "den", "9.5", "150", "66.0", "1.020"])  # fmt: skip
    assert "but only 1150 is possible by" in look(text, "Heat load [W]")


def test_an_undecided_mark_is_asked_at_each_column() -> None:
    text, _ = proposed(HEAD[:4], ["L1", "hall", 88.0, "1.234"], ["L2", "den", 66.0, "2.500"])
    assert "'1.234' could be 1.234 or 1234" in look(text, "Tails [m]")


def test_an_area_of_rooms_and_a_length_beside_feeds_are_asked() -> None:
    text, _ = proposed(
        ["Loop", "Room", "Area [m²]", "Length [m]", "Tails [m]"],
        ["1", "hall", 24.0, 88.0, 6.0], ["2", "hall", 24.0, 80.0, 6.0], ["3", "den", 9.0, 66.0, 4.0],
    )  # fmt: skip
    assert "is it the room's?" in look(text, "Area [m²]")
    assert "are the feeds in it?" in look(text, "Length [m]")
    text, _ = proposed(
        ["Loop", "Room", "Area [m²]", "Length [m]"],
        ["1", "hall", 13.0, 88.0], ["2", "hall", 12.0, 80.0],
    )  # fmt: skip
    assert look(text, "Area [m²]") == ""
    assert look(text, "Length [m]") == "are the feeds (tails) in it? no heading names them"


@pytest.mark.parametrize(
    ("days", "form", "asked"),
    [
        (["03/04/2026", "05/06/2026"], "%d/%m/%Y", True),
        (["03/04/2026", "25/06/2026"], "%d/%m/%Y", False),
        (["03/04/2026", "05/26/2026"], "%m/%d/%Y", False),
        (["03.04.2026", "05.06.2026"], "%d.%m.%Y", False),
    ],
)
def test_a_day_and_month_that_could_be_the_other_are_asked(
    days: list[str], form: str, asked: bool
) -> None:
    from checker.intake.suggesting import _date_form

    found, doubt = _date_form(days)
    assert found == form
    assert bool(doubt) == asked


def test_a_load_in_several_rows_of_one_room_is_told_to_count_once() -> None:
    head = ["Loop", "Room", "Length [m]", "Heat loss per loop [W]"]
    text, sheets = proposed(head, ["1", "den", 80.0, 600.0], ["2", "den", 82.0, 600.0])
    told = [line for line in read(text, sheets).read.assumed if "counts once" in line]
    assert told == [
        "Sheet 'Loops', column D 'Heat loss per loop [W]': several rows of one record have a "
        "value, which counts once and is not added up (den)."
    ]
    added = text.replace("unit: W}", "unit: W, add: true}")
    assert not [line for line in read(added, sheets).read.assumed if "counts once" in line]


def test_names_that_are_numbers_with_decimals_are_told() -> None:
    """A spreadsheet keeps 1.10 as 1.1."""
    text, sheets = proposed(HEAD[:3], [1.8, "den", 80.0], [1.1, "hall", 82.0])
    assert [line for line in read(text, sheets).read.assumed if "1.10 is the same as 1.1" in line]


def test_thousands_parted_by_a_space_and_a_unit_told_by_cells_with_units() -> None:
    text, sheets = proposed(
        ["Pièce", "Boucle", "Puissance", "Surface", "Longueur", "Pas"],
        ["Salon", "1", "1 180 W", "14,2 m²", "98 m", "15"],
        ["Bain", "2", "430 W", "5,1 m²", "53 m", "10"],
    )  # fmt: skip
    assert "thousands: space  # LOOK: '1 180 W' is read as 1180W" in text
    assert "only cm is possible by length against area over spacing" in look(text, "Pas")
    tree = read(text, sheets).read.tree
    assert tree["rooms"]["Salon"]["heat_load"] == "1180 W"
    assert tree["loops"]["1"]["spacing"] == "15 cm"


def test_two_headings_for_one_field_are_asked() -> None:
    text, _ = proposed(["Boucle", "Pièce", "Longueur A/R (m)", "Longueur utile (m)"],
                       ["1", "Bain", 4.0, 50.0], ["2", "Hall", 6.0, 82.0])  # fmt: skip
    assert "or is it 'Longueur utile (m)'?" in look(text, "Longueur A/R (m)")


@pytest.mark.parametrize(
    "label", ["Average", "Ø", "Mittelwert", "moyenne", "Gemiddeld", "Promedio", "Media", "max."]
)
def test_a_row_of_means_or_extremes_is_no_loop(label: str) -> None:
    head = ["Loop", "Room", "Area [m²]", "Spacing [mm]", "Length [m]"]
    loops = [[str(n), f"room {n}", 8.0 + n, 150.0, 70.0 + n] for n in range(1, 5)]
    text, sheets = proposed(head, *loops, [label, "", 10.5, 150.0, 72.5])
    assert "fill_down" not in text
    done = read(text, sheets)
    assert [*done.read.tree["loops"]] == ["1", "2", "3", "4"]
    assert f"row 6 ('{label}') is taken for a mean or an extreme" in "\n".join(done.read.assumed)


def test_a_room_called_as_an_extreme_is_keeps_its_loop() -> None:
    """'Max' and 'Media' are rooms, too; a loop is not left out for the name of its room."""
    text, sheets = proposed(
        ["Loop", "Room", "Length [m]"],
        ["1", "Max", 70.0],
        ["2", "Media", 71.0],
        ["3", "Mean Street room", 72.0],
    )
    assert len(read(text, sheets).read.tree["loops"]) == 3


@pytest.mark.parametrize(("load", "flow", "columns"), [
    ("Heat loss [kW]", "Flow [l/min]", "CDDE"), ("Heat loss [W]", "Flow [l/h]", "DE"),
    ("Heat loss [W]", "Flow [l/min]", ""), ("Heat loss [W]", "Flow [m³/h]", "DE"),
])  # fmt: skip
def test_loads_that_go_with_neither_area_nor_flow_are_looked_at(
    load: str, flow: str, columns: str
) -> None:
    """600 W of 10 m² at 1.5 l/min: 60 W/m² and, water having 4.18 kJ/(l·K), a drop of 5.7 K."""
    rows = [[str(n), f"room {n}", 10.0, 600.0, 1.5] for n in range(1, 5)]
    text, sheets = proposed(["Loop", "Room", "Area [m²]", load, flow], *rows)
    done = read(text, sheets)
    told = [one for one in done.read.slips if "look at both units" in str(one)]
    assert "".join(sorted(one.column[0] for one in told)) == columns


def test_a_design_too_large_is_refused_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    text, sheets = proposed(["Loop", "Room", "Length [m]"], ["1", "hall", 70.0], ["2", "den", 71.0])
    monkeypatch.setattr("checker.reading.bounded.LARGEST_FILE", 100)
    done = read(text, sheets)
    assert done.text == ""
    assert "more than the 100 bytes that a design may have" in str(done.read.mistakes[0])
