"""Sheets and a map to a design: what is read, refused and reported."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import yaml

from checker.intake.maps import load
from checker.intake.reading import Intake, of_book
from checker.intake.sheets import Book, Sheet

MAP = """\
map: 1
empty: ['-']
design:
  pipes: {p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}}
every:
  loops: {pipe: p16}
sheets:
  - ids: {loops: "{Loop}", rooms: "{Room}"}
    skip: [Total*]
    columns:
      - {heading: Length, field: loops.length, unit: m}
      - {heading: Temp, field: rooms.temperature, unit: °C}
"""
HEAD = ["Loop", "Room", "Length", "Temp"]


def book(*rows: list[Any], **sheet: Any) -> Book:
    return Book("a.xlsx", [Sheet("Loops", [[*row] for row in rows], **sheet)])


def taken(*rows: list[Any], plan: str = MAP, **sheet: Any) -> Intake:
    return of_book(book(*rows, **sheet), load("a.map.yaml", plan.encode()))


def mistakes(intake: Intake) -> list[str]:
    return [str(one) for one in (*intake.read.refused, *intake.read.mistakes)]


def changed(*changes: tuple[str, str]) -> str:
    text = MAP
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def test_rows_become_loops_and_rooms() -> None:
    done = taken(["Schedule"], HEAD, ["L1", "hall", 88.5, 20.0], ["L2", "hall", 90, 20])
    assert mistakes(done) == []
    assert done.read.tree["loops"] == {
        "L1": {"room": "hall", "length": "88.5 m", "pipe": "p16"},
        "L2": {"room": "hall", "length": "90 m", "pipe": "p16"},
    }
    assert done.read.tree["rooms"] == {"hall": {"temperature": "20 °C"}}
    assert "L1: {room: hall, pipe: p16, length: 88.5 m}  # Loops, row 3" in done.text
    assert "hall: {temperature: 20 °C}  # Loops, rows 3, 4" in done.text


def test_every_mistake_is_told_in_one_pass_with_its_place() -> None:
    done = taken(
        HEAD, ["L1", "hall", "long", 20], ["L2", "bath", 90, 200], ["L1", "bath", 80, 24],
        ["", "bath", 80, 24], ["L5", "bath", "8,8", 24],
    )  # fmt: skip
    # What could be read is read; the rest is told in the design too, and is not known there.
    assert "  L2: {room: bath, pipe: p16, length: 90 m}" in done.text
    assert "# Not read, so not known:" in done.text
    assert "long" not in done.text.partition("design: 1")[2]
    found = mistakes(done)
    start = "a.xlsx, sheet 'Loops', row"
    assert found[0].startswith(f"{start} 2, column C 'Length': 'long' is not a number")
    assert found[1].startswith(f"{start} 3, column D 'Temp': '200 °C' is outside what is possible")
    assert found[2].startswith(f"{start} 4, column A 'Loop': 'L1' is a loop in row 2 already")
    assert any(one.startswith(f"{start} 5, column A 'Loop': is empty") for one in found)
    assert any("row 6" in one and "decimal point" in one and "'8,8'" in one for one in found)


def test_a_room_cannot_have_two_temperatures() -> None:
    done = taken(HEAD, ["L1", "hall", 88, 20], ["L2", "hall", 88, 21])
    (found,) = mistakes(done)
    assert "row 3, column D 'Temp': '21' but the rooms.temperature of 'hall' is '20 °C'" in found
    assert "in D2 of sheet 'Loops'" in found


def test_the_map_and_a_cell_cannot_disagree() -> None:
    plan = changed(("  pipes:", "  rooms: {hall: {temperature: 18 °C}}\n  pipes:"))
    (found,) = mistakes(taken(HEAD, ["L1", "hall", 88, 20], plan=plan))
    assert "the map's 'design' says '18 °C'" in found


def test_a_cell_that_cannot_be_trusted_is_refused_with_its_address() -> None:
    done = taken(HEAD, ["L1", "hall", "", 20], faults={(1, 2): "shows the error #REF!"})
    assert mistakes(done) == [
        "a.xlsx, sheet 'Loops', row 2, column C 'Length': shows the error #REF!."
    ]


def test_a_bad_cell_outside_the_map_is_only_not_used() -> None:
    done = taken([*HEAD, "Note"], ["L1", "hall", 88, 20, ""], faults={(1, 4): "shows an error"})
    assert mistakes(done) == []
    assert done.read.unused == ["Sheet 'Loops', column E 'Note': 1 cell."]


def test_no_cell_is_dropped_in_silence() -> None:
    rows = (
        ["Schedule of", "house 7"], [*HEAD, "Note"], ["L1", "hall", 88, 20, "by hand"],
        ["Total", "", 88, ""], ["", "", "", ""], ["L2", "bath", 70, "-", ""], ["checked", "", "", ""],
    )  # fmt: skip
    done = taken(*rows)
    assert mistakes(done) == []
    told = "\n".join(done.read.unused + done.read.assumed)
    for text in ("Schedule of", "house 7", "'Note': 1 cell", "4 ('Total')", "7 ('checked')"):
        assert text in told, told
    assert "'Temp': 1 cells say that there is no value" in told
    assert done.read.cells_unused == 4  # two of the title, the note, the remark below the table
    for line in done.read.unused + done.read.assumed:
        assert line in done.text


def test_merged_cells_hold_for_each_of_their_rows() -> None:
    done = taken(
        HEAD, ["L1", "hall", 88, 20], ["L2", "", 90, ""], merged=[(1, 1, 2, 1), (1, 3, 2, 3)]
    )
    assert mistakes(done) == []
    assert [loop["room"] for loop in done.read.tree["loops"].values()] == ["hall", "hall"]
    assert any("merged cells B2:B3 hold 'hall'" in one for one in done.read.assumed)


def test_empty_cells_take_the_value_above_only_where_the_map_says_so() -> None:
    rows = (HEAD, ["L1", "hall", 88, 20], ["L2", "", 90, 20])
    assert "no id for rooms" in mistakes(taken(*rows))[0]
    done = taken(*rows, plan=changed(("    skip:", "    fill_down: [Room]\n    skip:")))
    assert mistakes(done) == []
    assert any("1 empty cells took the value above" in one for one in done.read.assumed)


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        ("88,5", "88.5 m"), ("88", "88 m"), ("300 ft", "300 ft"), ("88,5 m", "88.5 m"), (88.5, "88.5 m"),
        ("\u00a088,5\u202fm", "88.5 m"), (0.1 + 0.7 + 87, "87.8 m"),
    ],
)  # fmt: skip
def test_numbers_with_a_decimal_comma(raw: Any, text: str) -> None:
    plan = changed(("map: 1", "map: 1\ndecimal: comma"))
    done = taken(HEAD, ["L1", "hall", raw, 20], plan=plan)
    assert mistakes(done) == []
    assert done.read.tree["loops"]["L1"]["length"] == text


@pytest.mark.parametrize("raw", ["88.5", "1.234", "1.234,5", "8 8", "88 kg", True, "=88"])
def test_numbers_that_can_be_read_in_two_ways_are_refused(raw: Any) -> None:
    plan = changed(("map: 1", "map: 1\ndecimal: comma"))
    done = taken(HEAD, ["L1", "hall", raw, 20], plan=plan)
    assert len(mistakes(done)) == 1
    assert "row 2, column C 'Length'" in mistakes(done)[0]


def test_a_number_without_unit_anywhere_is_refused() -> None:
    plan = changed((", unit: m}", "}"))
    assert "has no unit" in mistakes(taken(HEAD, ["L1", "hall", 88, 20], plan=plan))[0]


def test_a_heading_in_another_unit_than_the_map_is_refused() -> None:
    plan = changed(("heading: Length", 'heading: "Length [ft]"'))
    rows = (["Loop", "Room", "Length [ft]", "Temp"], ["L1", "hall", 288, 20])
    (found,) = mistakes(taken(*rows, plan=plan))
    assert "says ft, the map says m" in found
    despite = plan.replace("unit: m}", "unit: m, despite_heading: true}")
    assert mistakes(taken(*rows, plan=despite)) == []


def test_headings_that_are_missing_or_twice_are_told() -> None:
    found = mistakes(taken(["Loop", "Room", "Lenght", "Temp"], ["L1", "hall", 88, 20]))
    assert "there is no heading 'Length' in row 1; did you mean 'Lenght'?" in found[0]
    found = mistakes(taken([*HEAD, "Length"], ["L1", "hall", 88, 20, 90]))
    assert "is there twice (columns C and E)" in found[0]
    plan = changed(("heading: Length", "column: E"))
    done = taken([*HEAD, "Length"], ["L1", "hall", 88, 20, 90], plan=plan)
    assert done.read.tree["loops"]["L1"]["length"] == "90 m"


def test_headings_compare_without_capitals_and_spaces() -> None:
    done = taken(["LOOP ", " room", "Pipe\nLength", "temp"], ["L1", "hall", 88, 20],
                 plan=changed(("heading: Length", "heading: pipe length")))  # fmt: skip
    assert mistakes(done) == []


def test_a_shifted_decimal_point_is_pointed_out() -> None:
    rows = [[f"L{n}", f"r{n}", 88 + n, 20] for n in range(6)]
    rows[3][2] = 8.8
    done = taken(HEAD, *rows)
    (slip,) = done.read.slips
    assert (slip.row, slip.column, slip.value) == (5, "C 'Length'", "'8.8'")
    assert "88 m would fit" in slip.message
    assert str(slip) in done.text
    rows[3][2] = 40
    assert taken(HEAD, *rows).read.slips == []


def test_lengths_in_another_unit_than_areas_are_pointed_out() -> None:
    plan = MAP + (
        "      - {heading: Area, field: loops.area, unit: m²}\n"
        "      - {heading: Spacing, field: loops.spacing, unit: mm}\n"
    )
    head = [*HEAD, "Area", "Spacing"]
    rows: list[list[Any]] = [[f"L{n}", f"r{n}", 80 + n, 20, 12, 150] for n in range(5)]
    assert taken(head, *rows, plan=plan).read.slips == []
    feet = [[*row[:2], row[2] / 0.3048, *row[3:]] for row in rows]
    (slip,) = taken(head, *feet, plan=plan).read.slips
    assert "the lengths are in feet" in slip.message
    centimetres = [[*row[:5], 15] for row in rows]
    (slip,) = taken(head, *centimetres, plan=plan).read.slips
    assert "the spacing is in centimetres" in slip.message


def test_words_of_theirs_have_a_meaning_of_ours() -> None:
    column = "      - {heading: Laid, field: loops.pattern, words: {Snail: counterflow}}\n"
    done = taken([*HEAD, "Laid"], ["L1", "hall", 88, 20, "snail"], plan=MAP + column)
    assert done.read.tree["loops"]["L1"]["pattern"] == "counterflow"
    found = mistakes(taken([*HEAD, "Laid"], ["L1", "hall", 88, 20, "star"], plan=MAP + column))
    assert "'star' is not allowed here" in found[0]
    assert "words: {star: …}" in found[0]


def test_single_cells_by_address_and_label() -> None:
    plan = MAP.replace(
        "    columns:",
        "    cells:\n      - {at: B1, field: project.name}\n"
        "      - {beside: 'Date:', field: project.designed_on, date: '%d.%m.%Y'}\n    columns:",
    )
    done = taken(
        ["", "House 7"], ["Date", "", "12.03.2026"], HEAD, ["L1", "hall", 88, 20], plan=plan
    )
    assert mistakes(done) == []
    assert done.read.tree["project"] == {"name": "House 7", "designed_on": "2026-03-12"}
    found = mistakes(taken(["", "House 7"], HEAD, ["L1", "hall", 88, 20], plan=plan))
    assert "there is no label 'Date:'" in found[0]


def test_a_name_of_nothing_is_told() -> None:
    column = "      - {heading: Pipe, field: loops.pipe}\n"
    done = taken([*HEAD, "Pipe"], ["L1", "hall", 88, 20, "p17"], plan=MAP + column)
    assert mistakes(done) == [
        "a.xlsx, sheet 'Loops', row 2, column E: 'p17' is not among the pipes; did you mean 'p16'?"
    ]


def test_the_sheet_must_be_known() -> None:
    sheets = book(HEAD, ["L1", "hall", 88, 20])
    two = replace(sheets, sheets=[*sheets.sheets, Sheet("Notes", [["x"]])])
    plan = load("a.map.yaml", MAP.encode())
    assert "the map must say which ('Loops', 'Notes')" in str(of_book(two, plan).read.mistakes[0])
    named = load("a.map.yaml", changed(("  - ids", "  - sheet: loop*\n    ids")).encode())
    done = of_book(two, named)
    assert mistakes(done) == []
    assert "Sheet 'Notes': 1 cells." in done.read.unused
    other = load("a.map.yaml", changed(("  - ids", "  - sheet: Lops\n    ids")).encode())
    assert "did you mean 'Loops'?" in str(of_book(two, other).read.mistakes[0])


def test_a_hidden_sheet_is_told() -> None:
    done = taken(HEAD, ["L1", "hall", 88, 20], hidden=True)
    assert "Sheet 'Loops' is hidden; it was read." in done.read.assumed


def test_text_that_would_break_the_file_is_only_text() -> None:
    name = 'a: "b" # c\u2028d'
    plan = MAP.replace("    columns:", "    cells: [{at: A1, field: project.name}]\n    columns:")
    done = taken([name], HEAD, ["yes", "{x}", 88, 20], plan=plan)
    assert mistakes(done) == []
    from checker.reading.yaml_reader import read

    document = read(done.text.encode())
    assert document["project"]["name"].split() == name.split()
    assert document["loops"]["yes"]["room"] == "{x}"


CARRIED = changed(("    skip: [Total*]\n", "    fill_down: [Room]\n"))


def test_a_footnote_is_no_loop_and_is_told_by_its_own_cells() -> None:
    rows = (HEAD, ["L1", "hall", 88, 20], ["L2", "", 90, 20], ["* feeds included", "", "", ""])
    done = taken(*rows, plan=CARRIED.replace('loops: "{Loop}"', 'loops: "{Room}.{Loop}"'))
    assert mistakes(done) == []
    assert list(done.read.tree["loops"]) == ["hall.L1", "hall.L2"]
    assert "Sheet 'Loops': there is no value in row 4 ('* feeds included')." in done.read.unused


def test_a_footnote_beside_merged_cells_is_no_loop() -> None:
    done = taken(
        HEAD, ["L1", "hall", 88, 20], ["L2", "", 90, 20], ["", "", "", ""], ["as agreed", "", "", ""],
        plan=MAP.replace('loops: "{Loop}"', 'loops: "{Room}.{Loop}"'), merged=[(1, 1, 4, 1)],
    )  # fmt: skip
    assert mistakes(done) == []
    assert list(done.read.tree["loops"]) == ["hall.L1", "hall.L2"]
    assert "Sheet 'Loops': there is no value in row 5 ('as agreed')." in done.read.unused


FEET = changed(("Length, field: loops.length, unit: m", "Length, field: loops.length, unit: ft"))


@pytest.mark.parametrize("raw", ["290'", "290 ’", "290′", "290"])
def test_feet_by_their_sign_are_feet_where_the_map_says_feet(raw: str) -> None:
    done = taken(HEAD, ["L1", "hall", raw, 20], plan=FEET)
    assert mistakes(done) == []
    assert done.read.tree["loops"]["L1"]["length"] == "290 ft"


@pytest.mark.parametrize(("plan", "raw"), [(MAP, "290'"), (FEET, '290"'), (FEET, "290'6")])
def test_a_sign_that_is_not_the_unit_of_the_map_is_no_guess(plan: str, raw: str) -> None:
    (found,) = mistakes(taken(HEAD, ["L1", "hall", raw, 20], plan=plan))
    assert raw in found
    assert ("write '290 ft'" in found) == (raw == "290'")


@pytest.mark.parametrize(
    ("keys", "raw", "text"),
    [
        ("thousands: comma", "1,250", "1250 ft"),
        ("thousands: comma", "1,250.5 ft", "1250.5 ft"),
        ("thousands: comma", "1250.5", "1250.5 ft"),
        ("thousands: space", "1 250", "1250 ft"),
        ("thousands: space", "1\u00a0250", "1250 ft"),
        ("decimal: comma\nthousands: point", "1.250,5", "1250.5 ft"),
        ("decimal: comma\nthousands: point", "88,5", "88.5 ft"),
    ],
)
def test_thousands_by_the_sign_that_the_map_names(keys: str, raw: str, text: str) -> None:
    done = taken(HEAD, ["L1", "hall", raw, 20], plan=FEET.replace("map: 1", f"map: 1\n{keys}"))
    assert mistakes(done) == []
    assert done.read.tree["loops"]["L1"]["length"] == text


@pytest.mark.parametrize(
    ("keys", "raw", "hint"),
    [
        ("", "1,250", "'thousands: comma'"),
        ("", "1 250", "'thousands: space'"),
        ("decimal: comma", "1.250,5", "'thousands: point'"),
        ("thousands: comma", "1,25", "decimal point"),
        ("thousands: comma", "12,2504", "decimal point"),
        ("thousands: comma", "1,250,5", "decimal point"),
    ],
)
def test_thousands_are_never_guessed(keys: str, raw: str, hint: str) -> None:
    done = taken(HEAD, ["L1", "hall", raw, 20], plan=changed(("map: 1", f"map: 1\n{keys}")))
    (found,) = mistakes(done)
    assert hint in found


def test_a_single_cell_in_another_unit_is_pointed_out() -> None:
    rows = [[f"L{n}", "hall", 88 + n, 20] for n in range(5)]
    done = taken(HEAD, *rows, ["L9", "hall", "290 ft", 20])
    assert mistakes(done) == []
    (slip,) = done.read.slips
    assert (slip.row, slip.value) == (7, "'290 ft'")
    assert "is in ft, all others of the column in m" in slip.message
    same = taken(HEAD, *rows, ["L9", "hall", "88 m", 20])
    assert same.read.slips == []
    half = taken(HEAD, *rows, ["L8", "hall", "290 ft", 20], ["L9", "hall", "290 ft", 20])
    assert half.read.slips == []


def test_slips_are_told_beside_mistakes() -> None:
    rows = [[f"L{n}", "hall", 88 + n, 20] for n in range(5)]
    done = taken(HEAD, *rows, ["L8", "hall", 8.8, 20], ["L9", "hall", "long", 20])
    assert len(mistakes(done)) == 1
    assert [slip.row for slip in done.read.slips] == [7]


@pytest.mark.parametrize("name", ["1", "1.1", "1e3", "0x1F", "0o7", "1_000", "2026-03-12", "-7"])
def test_an_id_that_reads_as_a_number_or_a_day_is_quoted(name: str) -> None:
    done = taken(HEAD, [name, name, 88, 20])
    assert mistakes(done) == []
    loaded = yaml.safe_load(done.text)
    assert loaded["loops"] == {name: {"room": name, "pipe": "p16", "length": "88 m"}}
    assert f'  "{name}": {{room: "{name}", ' in done.text


@pytest.mark.parametrize("name", ["1.1.1", "L1", "2-1", "HKV 2.2", "G1"])
def test_an_id_that_no_reader_mistakes_stands_plain(name: str) -> None:
    done = taken(HEAD, [name, "hall", 88, 20])
    assert f"  {name}: {{room: hall, " in done.text
    assert list(yaml.safe_load(done.text)["loops"]) == [name]


PUMPS = """\
map: 1
design: {headers: {H1: {pump: {setting: high}}}}
sheets:
  - sheet: Pumps
    ids: {headers: "{Header}"}
    columns:
      - {heading: Speed, field: headers.pump.curves.setting}
      - {heading: Flow, field: headers.pump.curves.flow, unit: l/min}
      - {heading: Head, field: headers.pump.curves.head, unit: kPa}
"""


def test_points_of_a_pumps_curves_come_under_the_names_of_their_settings() -> None:
    points = [["low", 0, 30], ["high", 0, 60], ["low", 20, 12], ["high", 40, 10]]
    head = ["Header", "Speed", "Flow", "Head"]
    rows: list[list[Any]] = [head, *(["H1", *point] for point in points)]
    done = of_book(Book("a.xlsx", [Sheet("Pumps", rows)]), load("a.map.yaml", PUMPS.encode()))
    assert mistakes(done) == []
    pump = yaml.safe_load(done.text)["headers"]["H1"]["pump"]
    assert pump == {
        "curves": {
            "low": [["0 l/min", "30 kPa"], ["20 l/min", "12 kPa"]],
            "high": [["0 l/min", "60 kPa"], ["40 l/min", "10 kPa"]],
        },
        "setting": "high",
    }
