"""Tables that stand several times, transposed ones and sheets of one kind: whole maps from the
proposal alone, each read as its truth says. All sheets are invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from checker.intake.maps import load
from checker.intake.reading import Intake, of_book, opened
from checker.intake.repeating import common
from checker.intake.sheets import Book, Sheet
from checker.intake.suggesting import suggest
from tests.intake.schedules_of_senders import SCHEDULES, put
from tests.intake.test_schedules_of_senders import same
from tests.intake.test_suggesting import proposed


def by_proposal(text: str, book: Book) -> Intake:
    done = of_book(book, load("a.map.yaml", text.encode()))
    assert [str(one) for one in done.read.mistakes + done.read.refused] == []
    return done


@pytest.mark.parametrize(
    "one",
    [s for s in SCHEDULES if s.name in ("french.xlsx", "dutch.xlsx", "spanish.xlsx", "by_header.xlsx")],
    ids=lambda one: one.name,
)  # fmt: skip
def test_a_stacked_side_by_side_or_transposed_sheet_reads_by_its_proposal(
    tmp_path: Path, one: Any
) -> None:
    book = opened(put(tmp_path, one))
    text = suggest(book)
    if one.name == "by_header.xlsx":  # whether two headers share their rooms, a person says
        line = next(line for line in text.splitlines() if line.startswith("      rooms:"))
        assert "LOOK: rooms of one name are one; else write '{Manifold} {Room}'" in line
        text = text.replace(line, '      rooms: "{Manifold} {Room}"')
    tree = by_proposal(text, book).read.tree
    for record, values in one.truth.items():
        section, _, name = record.partition(".")
        for key, value in values.items():
            assert same(section, key, tree[section][name][key], value), (record, key)


def test_tables_under_names_of_storeys_part_their_rooms() -> None:
    head = ["Circuit", "Room", "Length [m]"]
    text, book = proposed(
        ["Ground floor"], head, ["1", "Bath", 50.0], ["2", "Hall", 60.0], [],
        ["First floor"], head, ["1", "Bath", 55.0], ["2", "Landing", 40.0],
    )  # fmt: skip
    tree = by_proposal(text, book).read.tree
    assert {name: (loop["room"], loop["length"]) for name, loop in tree["loops"].items()} == {
        "Ground.1": ("Ground Bath", "50 m"), "Ground.2": ("Ground Hall", "60 m"),
        "First.1": ("First Bath", "55 m"), "First.2": ("First Landing", "40 m"),
    }  # fmt: skip


def test_titles_side_by_side_belong_to_their_own_table_and_a_total_ends_only_its_own() -> None:
    head = ["Loop", "Room", "Length [m]"]
    text, book = proposed(
        ["Manifold A", "", "", "", "Manifold B"], [*head, "", *head],
        ["1", "Bath", 50.0, "", "1", "Hall", 60.0],
        ["Total", "", 50.0, "", "2", "Study", 70.0],
    )  # fmt: skip
    tree = by_proposal(text, book).read.tree
    assert tree["loops"] == {
        "A.1": {"room": "Bath", "header": "A", "length": "50 m"},
        "B.1": {"room": "Hall", "header": "B", "length": "60 m"},
        "B.2": {"room": "Study", "header": "B", "length": "70 m"},
    }


def test_a_transposed_sheet_tells_of_its_cells_as_they_stand() -> None:
    text, book = proposed(
        ["Job", "Mill Row 4"], [],
        ["Loop", "L1", "L2", "L3"], ["Room", "Bath", "Hall", "Den"],
        ["Length [m]", 50.0, "about 60", 70.0], ["Heat load [W]", "850", "1.150", "640"],
        ["Floor colour", "red", "", ""],
    )  # fmt: skip
    assert "transposed: true" in text
    assert "# - row 7 'Floor colour'" in text
    done = of_book(
        book, load("a.map.yaml", text.replace("# decimal: point", "decimal: point").encode())
    )
    (refused,) = done.read.refused
    assert (refused.row, refused.column) == (5, "C 'Length [m]'")
    (slip,) = done.read.slips
    assert (slip.row, slip.column, slip.value) == (6, "C 'Heat load [W]'", "'1.150'")
    assert any("row 6 'Heat load [W]': 1 number" in line for line in done.read.assumed)
    assert "L2: {room: Hall}  # Loops, row 3: C -" in done.text
    twice = [list(row) for row in book.sheets[0].rows]
    twice[2][3] = "L2"
    doubled = of_book(Book("a.xlsx", [Sheet("Loops", twice)]), load("a.map.yaml", text.encode()))
    assert any("'L2' is a loop in column C already" in str(one) for one in doubled.read.refused)


def test_loops_of_several_flats_in_one_table_are_told_apart_by_the_flat() -> None:
    text, book = proposed(
        ["Flat", "Loop", "Room", "Length [m]"],
        ["F1", "1", "Bath", 40.0], ["F1", "2", "Den", 60.0], ["F2", "1", "Bath", 41.0],
    )  # fmt: skip
    assert "LOOK: \"split: '{Flat}'\" over 'sheets:'" in text
    assert "Not placed" not in text
    assert [*by_proposal(text, book).read.tree["loops"]] == ["F1.1", "F1.2", "F2.1"]


def test_sheets_whose_names_do_not_tell_what_they_are_stay_apart() -> None:
    rows: list[list[Any]] = [["Loop", "Room", "Length [m]"], ["1", "Hall", 88.0]]
    text = suggest(Book("a.xlsx", [Sheet("Old 1", rows), Sheet("Old 2", rows)]))
    assert "sheet: Old 1" in text
    assert "# - sheet 'Old 2', 6 cells; its headings are the same" in text


@pytest.mark.parametrize(
    ("texts", "pattern"),
    [
        (["Manifold M1 (ground)", "Manifold M2 (first)"], "Manifold {Manifold} *"),
        (["Manifold M1: ground", "Manifold M2: first floor"], "Manifold {Manifold}: *"),
        (["Verteiler 1", "Verteiler 2"], "Verteiler {Verteiler}"),
        (["Verteiler 1", "Verteiler 1"], None),
        (["Verteiler 1", ""], None),
        (["Ground floor", "First floor"], "{Title} floor"),
        (["Nourrice N1 – rez", "Nourrice N2"], "Nourrice {Nourrice}"),
    ],
)
def test_what_titles_have_in_common(texts: list[str], pattern: str | None) -> None:
    found = common(texts, ["Loop", "Length"])
    assert (found.pattern if found else None) == pattern


def test_a_table_of_another_kind_further_down_is_not_read_as_more_loops() -> None:
    text, book = proposed(
        ["Kreis", "Raum", "Länge [m]"], ["A", "Bad", 55.0], ["B", "Flur", 48.0], [],
        ["Raum", "Fläche [m²]", "Heizlast [W]"], ["Bad", 6.1, 520.0], ["Flur", 7.4, 310.0],
    )  # fmt: skip
    done = by_proposal(text, book)
    assert [*done.read.tree["loops"]] == ["A", "B"]
    assert [*done.read.tree["rooms"]] == ["Bad", "Flur"]
    (slip,) = done.read.slips
    assert "from row 5 on there are other headings ('Raum', 'Fläche [m²]', 'Heizlast [W]')" in str(
        slip
    )
