"""Rows of sums and of spare outlets, and loops of rooms that are called like them."""

from __future__ import annotations

from typing import Any

import pytest

from checker.intake.maps import load
from checker.intake.reading import of_book
from checker.intake.totals import skips
from tests.intake.test_suggesting import proposed

HEAD = ["Loop", "Room", "Length [m]"]


def loops(*rows: list[Any], skip: str = "") -> tuple[Any, dict[str, Any]]:
    text, book = proposed(HEAD, *rows)
    if skip:
        text = text.replace(text[text.index("skip: [") : text.index("]", text.index("skip: ["))],
                            f"skip: [{skip}")  # fmt: skip
    read = of_book(book, load("a.map.yaml", text.encode())).read
    assert read.mistakes == []
    return read, read.tree.get("loops", {})


@pytest.mark.parametrize(
    ("pattern", "text", "fits"),
    [("sum*", "summer room", False), ("sum*", "sum", True), ("sum*", "sum: 3", True), ("total*", "total gf", True),
     ("total*", "totally new", False), ("summe*", "summe eg", True), ("attic*", "attics", True)],
)  # fmt: skip
def test_a_word_of_sums_in_a_pattern_stands_whole(pattern: str, text: str, fits: bool) -> None:
    assert skips(pattern, text) is fits


@pytest.mark.parametrize("skip", ["", '"Sum*", "Total*"'])
def test_rooms_called_like_sums_stay_loops_and_sums_do_not(skip: str) -> None:
    read, found = loops(
        ["1", "Summer room", 80.0], ["2", "Total loft", 60.0], ["3", "Den", 50.0],
        ["Sum", "", 190.0], ["Total", "all", 190.0], skip=skip,
    )  # fmt: skip
    assert [*found] == ["1", "2", "3"]
    assert any(
        "row 3 ('Total loft') has an id and values of its own" in one for one in read.assumed
    )
    assert sum("the total 190 is the sum of what was read" in one for one in read.assumed) == 2


def test_a_count_beside_a_total_makes_no_loop_of_it() -> None:
    for label in ("Total", "Total:", "Total loops of GF"):
        _, found = loops(["1", "Hall", 80.0], ["2", "Den", 60.0], [5.0, label, 140.0])
        assert [*found] == ["1", "2"], label


@pytest.mark.parametrize(
    "row",
    [["Reserve", "", ""], ["3", "spare", ""], ["3", "Reserve 2", "-"], ["3", "nicht belegt", ""]],
)
def test_a_spare_outlet_is_passed_over_and_told(row: list[Any]) -> None:
    read, found = loops(["1", "Hall", 80.0], ["2", "Den", 60.0], row, ["4", "Bath", 40.0])
    assert [*found] == ["1", "2", "4"]
    assert [*read.tree["rooms"]] == ["Hall", "Den", "Bath"]
    assert any("there is no value in row 4 (" in one for one in read.unused)


def test_a_spare_name_without_a_room_column_gives_no_loop() -> None:
    text, book = proposed(["Loop", "Length [m]"], ["1", 80.0], ["Reserve", ""], ["Spare 2", 60.0])
    read = of_book(book, load("a.map.yaml", text.encode())).read
    assert [*read.tree["loops"]] == ["1", "Spare 2"]
    assert any("there is no value in row 3 ('Reserve')" in one for one in read.unused)


def test_a_room_called_like_a_sum_below_an_empty_storey_stays_a_loop() -> None:
    text, book = proposed(
        ["Geschoss", "Kreis", "Raum", "Länge [m]"], ["EG", "1", "Bad", 60.0], ["OG", "2", "Bad", 40.0],
        ["", "3", "Gesamtküche", 30.0],
    )  # fmt: skip
    read = of_book(book, load("a.map.yaml", text.encode())).read
    assert read.tree["loops"]["3"] == {"room": "OG Gesamtküche", "length": "30 m"}
