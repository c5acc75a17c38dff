"""A map proposed from headings never seen before."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from checker.intake.guessing import guess
from checker.intake.maps import BadMap, load
from checker.intake.reading import of_book
from checker.intake.reading import opened as book
from checker.intake.sheets import BadSheet, Book, Sheet
from checker.intake.suggesting import suggest
from tests.intake.workbooks import FOLDER


def proposed(*rows: list[Any]) -> tuple[str, Book]:
    sheets = Book("a.xlsx", [Sheet("Loops", [[*row] for row in rows])])
    return suggest(sheets), sheets


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("Length [m]", "loops.length"), ("LENGTH (ft)", "loops.length"), ("Pipe length, m", "loops.length"),
        ("Rohrlänge [m]", "loops.length"), ("Longueur", "loops.length"), ("Lunghezza (m)", "loops.length"),
        ("Verlegeabstand in mm", "loops.spacing"), ("Entraxe [cm]", "loops.spacing"), ("h.o.h.", "loops.spacing"),
        ("Débit (l/h)", "loops.flow"), ("Durchfluß", "loops.flow"),
        ("Heat Loss", "rooms.heat_load"), ("Heizlast", "rooms.heat_load"), ("Room", "rooms"),
        ("Lenght", "loops.length"), ("Verteiler-Nr.", "headers"), ("Remarks", None), ("", None), ("Colour", None),
    ],
)  # fmt: skip
def test_headings_of_several_languages(heading: str, field: str | None) -> None:
    found = guess(heading)
    assert (found.target if found else None) == field


def test_units_are_read_from_the_heading() -> None:
    text, _ = proposed(
        ["Loop", "Room", "Length (ft)", "Spacing, in", "Area sq ft"],
        ["1", "hall", 280.0, 6.0, 120.0],
    )
    assert "heading: Length (ft), field: loops.length, unit: ft" in text
    assert "field: loops.spacing, unit: in" in text
    assert "heading: Area sq ft, field: loops.area, unit: sq ft}" in text
    assert "Not placed" not in text


def test_what_is_not_sure_or_not_placed_is_said() -> None:
    text, _ = proposed(
        ["Loop", "Room", "Lenght", "Pattern", "Remarks"], ["1", "hall", 88.0, "wild", "by hand"]
    )
    lines = text.splitlines()
    (length,) = [line for line in lines if "loops.length" in line]
    assert "LOOK: only like 'length'; the heading names no unit" in length
    assert any("add 'words' for 'wild'" in line for line in lines)
    assert "# - column E 'Remarks'" in lines


def test_a_proposal_reads_the_sheet_that_it_was_made_from() -> None:
    text, sheets = proposed(
        ["Job", "House 9"], [], ["Loop", "Room", "Length [m]", "Spacing [mm]", "Area [m²]"],
        ["L1", "hall", 88.0, 150.0, 12.0], ["L2", "bath", "70 m", 100.0, 6.5], ["Total", "", 158.0, "", ""],
    )  # fmt: skip
    done = of_book(sheets, load("a.map.yaml", text.encode()))
    assert [str(one) for one in done.read.mistakes] == []
    assert done.read.tree["project"] == {"name": "House 9"}
    assert done.read.tree["loops"] == {
        "L1": {"room": "hall", "length": "88 m", "spacing": "150 mm", "area": "12 m²"},
        "L2": {"room": "bath", "length": "70 m", "spacing": "100 mm", "area": "6.5 m²"},
    }


@pytest.mark.parametrize("name", ["haus-am-hang-4", "ridge-lane-12"])
def test_the_examples_read_by_their_proposals_as_by_their_maps(name: str) -> None:
    sheets = book(str(FOLDER / f"{name}.xlsx"))
    own = load("own", (FOLDER / f"{name}.map.yaml").read_bytes())
    by_hand = of_book(sheets, own)
    by_proposal = of_book(sheets, load("a.map.yaml", suggest(sheets).encode()))
    assert by_hand.text
    assert by_proposal.text
    assert by_hand.read.slips == by_proposal.read.slips == []
    for loop, values in by_proposal.read.tree["loops"].items():
        assert values.items() <= by_hand.read.tree["loops"][loop].items()


def test_a_sheet_without_headings_is_said() -> None:
    text, _ = proposed(["some", "words"], [1.0, 2.0])
    assert "no row of headings was recognised" in text


def test_hostile_headings_stay_text() -> None:
    text, sheets = proposed(
        ["Loop", "Room", "Length [m]\n- {", 'Area "x" #[m²]'], ["L1", "hall", 88.0, 12.0]
    )
    assert of_book(sheets, load("a.map.yaml", text.encode())).read.mistakes == []


def test_the_example_workbooks_are_those_that_are_written(tmp_path: Path) -> None:
    from tests.intake.workbooks import write

    write(tmp_path)
    for path in tmp_path.iterdir():
        assert path.read_bytes() == (FOLDER / path.name).read_bytes(), path.name


CELLS = st.one_of(
    st.sampled_from(["", "Loop", "Room", "Länge [m]", "Verteiler", "Total", "-", "8,8", "m", "[m]"]),
    st.text(max_size=20), st.floats(), st.booleans(), st.dates(),
)  # fmt: skip


@settings(max_examples=30, deadline=None)
@given(st.lists(st.lists(CELLS, max_size=7), max_size=8))
def test_any_sheet_gives_a_map_that_is_sound_or_says_where_a_person_is_wanted(
    rows: list[list[Any]],
) -> None:
    head = ["Loop", "Room", "Length [m]", "Area [m²]"]
    for cells in (rows, [*rows[:3], head, *rows[3:]]):
        text, sheets = proposed(*cells)
        try:
            plan = load("a.map.yaml", text.encode())
        except BadMap:
            assert "…" in text
            continue
        done = of_book(sheets, plan)
        assert bool(done.text) != bool(done.read.mistakes)


@pytest.mark.parametrize(
    ("heading", "field", "unit"),
    [
        ("Room Temp (F)", "rooms.temperature", "°F"),
        ("Room Area Sq Ft", "rooms.area", "ft²"),
        ("Area Sq. Ft.", "loops.area", ""),
        ("Flow GPM", "loops.flow", "GPM"),
        ("GPM", "loops.flow", "GPM"),
        ("Sq Ft", "loops.area", "ft²"),
        ("[m²]", "loops.area", "m²"),
        ("Flooring", "rooms.covering.material", ""),
        ("VA", "loops.spacing", ""),
    ],
)
def test_headings_of_north_america_and_those_that_are_a_unit(
    heading: str, field: str, unit: str
) -> None:
    text, _ = proposed(["Loop", "Room", "Length [m]", heading], ["1", "hall", 88.0, 70.0])
    (line,) = [line for line in text.splitlines() if f"heading: {heading}" in line.replace('"', "")]
    assert f"field: {field}" in line
    assert ("LOOK: the heading is only a unit" in line) == (heading in ("GPM", "Sq Ft", "[m²]"))
    if unit:
        assert f"unit: {unit}".casefold() in line.casefold().replace('"', "")


def test_a_temperature_in_fahrenheit_by_its_letter_is_read() -> None:
    text, sheets = proposed(["Loop", "Room", "Length (ft)", "Room Temp (F)"],
                            ["1", "hall", 280.0, 68.0])  # fmt: skip
    done = of_book(sheets, load("a.map.yaml", text.encode()))
    assert done.read.mistakes == []
    assert done.read.tree["rooms"]["hall"]["temperature"] == "68 °F"


def test_a_hidden_sheet_is_told_of() -> None:
    rows: list[list[Any]] = [["Loop", "Room", "Length [m]"], ["1", "hall", 88.0]]
    book_of = Book("a.xlsx", [Sheet("Loops", rows), Sheet("Old", [["x"]], hidden=True)])
    assert "# - sheet 'Old', hidden, 1 cells" in suggest(book_of)
    only = Book("a.xlsx", [Sheet("Loops", rows, hidden=True)])
    assert "# LOOK: sheet 'Loops' is hidden; is it meant?" in suggest(only)


def test_a_row_of_units_and_words_is_one_of_headings() -> None:
    text, sheets = proposed(
        ["groep", "buis", "lengte", "oppervlakte"], ["nr", "type", "(m)", "(m²)"],
        ["1", "16x2", 45.0, 6.2], ["2", "16x2", 92.0, 13.1],
    )  # fmt: skip
    tree = of_book(sheets, load("a.map.yaml", text.encode())).read.tree
    assert tree["loops"] == {
        "1": {"pipe": "16x2", "length": "45 m", "area": "6.2 m²"},
        "2": {"pipe": "16x2", "length": "92 m", "area": "13.1 m²"},
    }


def test_what_is_no_id_is_not_taken_for_one() -> None:
    text, _ = proposed(["Room", "Loops", "Loop length (ft)"], ["Den", 2.0, 245.0], ["Hall", 1.0, 188.0],
                       ["Bath", 1.0, 160.0])  # fmt: skip
    assert "LOOK: no heading names the loop" in text
    text, sheets = proposed(["Verteiler / Kreis", "Raum", "Länge [m]"], ["V1 / 1", "Bad", 60.0],
                            ["V1 / 2", "Flur", 50.0])  # fmt: skip
    assert "LOOK: the heading names header and loop together" in text
    assert "headers" not in of_book(sheets, load("a.map.yaml", text.encode())).read.tree
    text, sheets = proposed(["Circuit", "Room", "Tube run"], ["1", "Den", "182'-0\""],
                            ["2", "Hall", "150'"])  # fmt: skip
    assert "LOOK: no heading names a value" in text
    assert "pipes" not in of_book(sheets, load("a.map.yaml", text.encode())).read.tree


def test_rooms_of_one_name_on_several_storeys_stay_apart() -> None:
    text, sheets = proposed(
        ["Piano", "Circuito", "Locale", "Lunghezza [m]"],
        ["T", "1", "Bagno", 60.0], ["", "2", "Cucina", 50.0], ["1", "3", "Bagno", 40.0],
    )  # fmt: skip
    assert "LOOK: rooms of one name are one in each {Piano} only" in text
    loops = of_book(sheets, load("a.map.yaml", text.encode())).read.tree["loops"]
    assert [loop["room"] for loop in loops.values()] == ["T Bagno", "T Cucina", "1 Bagno"]


@pytest.mark.parametrize(("values", "named"), [
    ([61.0, 62.0, 63.5, 70.0], False), ([8.0, 7.0, 6.0, 9.0], False), (["61,5", "70,5", "n/a", "61,5"], False),
    ([16.0, 16.0, 20.0, 16.0], True), (["16x2", "17x2", "20x2", "14x2"], True),
])  # fmt: skip
def test_numbers_under_a_heading_of_pipes_are_names_only_where_they_can_be(
    values: list[Any], named: bool
) -> None:
    """Lengths under 'Tube' became names of pipes, and the loops had no length."""
    rows = [[str(n), "hall", 150.0, value] for n, value in enumerate(values, 1)]
    text, _ = proposed(["Loop", "Room", "Spacing [mm]", "Tube"], *rows)
    assert ('pipes: "{Tube}"' in text) is named
    assert ("# - column D 'Tube'" in text) is not named


@pytest.mark.parametrize(("heading", "value"), [("Aufbau", 65.0), ("Build-up", 70.0)])
def test_thicknesses_are_no_names_of_floors(heading: str, value: float) -> None:
    rows = [[str(n), "hall", 150.0, value] for n in range(1, 4)]
    text, _ = proposed(["Loop", "Room", "Spacing [mm]", heading], *rows)
    assert f"# - column D '{heading}'" in text


def test_a_length_without_a_column_of_feeds_is_looked_at() -> None:
    for more, look in (
        ([], "are the feeds (tails) in it?"),
        (["Tails [m]"], "are the feeds in it?"),
    ):
        text, _ = proposed(["Loop", "Length [m]", *more], ["1", 80.0, *(9.0 for _ in more)])
        (line,) = [one for one in text.splitlines() if "field: loops.length" in one]
        assert f"LOOK: {look}" in line


@pytest.mark.parametrize(("name", "data"), [("a.csv", b""), ("a.csv", b"\n ;\n"), ("a.xlsx", None)])
def test_a_sheet_without_a_cell_is_said_to_be_empty(
    tmp_path: Path, name: str, data: bytes | None
) -> None:
    path = tmp_path / name
    if data is None:
        with xlsxwriter.Workbook(path) as made:
            made.add_worksheet("Loops")
    else:
        path.write_bytes(data)
    with pytest.raises(BadSheet, match="the sheet is empty"):
        book(str(path))
