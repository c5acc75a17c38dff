"""Rows that stand for several loops: never read as one."""

from __future__ import annotations

import time

import pytest

from checker.intake.maps import load
from checker.intake.reading import of_book
from checker.intake.several import several
from tests.intake.test_suggesting import proposed

MORE = [
    "1 thru 3", "HK1 u. HK2", "1~3", "1…3", "1\n2", "(1-3)", "1-3.", "#1-#3", "nr. 1 - 3", "A & B",
    "1a/1b", "1a-c", "2-fach", "2x HK", "2 no.", "Bad 1.1/1.2", "01-03", "Loops 1,2",
]  # fmt: skip


@pytest.mark.parametrize(
    ("ids", "names"),
    [
        (["1-3", "4", "5"], ["1-3"]), (["1-3", "4-6"], ["1-3", "4-6"]), (["1-3"], ["1-3"]),
        (["4 & 5", "1 und 2", "L1, L2", "1 to 3"], ["4 & 5", "1 und 2", "L1, L2", "1 to 3"]),
        (["L1/L2", "1.1-1.3", "V1-3", "L4"], ["L1/L2", "1.1-1.3", "V1-3"]),
        (["2x", "3 Stk", "3 Stk.", "1 (x2)", "HK 1 (2x)"], ["2x", "3 Stk", "3 Stk.", "1 (x2)", "HK 1 (2x)"]),
        (["1-2", "3-4", "1-3", "4-5"], ["1-2", "3-4", "1-3", "4-5"]),  # of two headers
        (["1-1", "1-2", "2-1", "2-3"], []), (["2-3", "2-4"], []), (["V1/1", "V1/2"], []),
        (["M1-L2", "EG-1", "L1", "X2", "1.3", "1x", "Bath", "Nr 2", "Bath & WC", "1a", "2 HK", "A-1"], []),
        ([*MORE, "7"], MORE), (["1-2", "1-1", "2"], ["1-2"]), (["1/2/3", "4"], ["1/2/3"]), (["1/1/2", "1/1/3"], []),
    ],
)  # fmt: skip
def test_which_ids_may_stand_for_several_loops(ids: list[str], names: list[str]) -> None:
    assert several(ids).names == {*names}


def test_a_row_of_several_loops_is_refused_and_looked_at() -> None:
    text, book = proposed(
        ["Loop", "Room", "Length [m]"], ["1-3", "Hall", 80.0], ["4 & 5", "Bath", 60.0], ["6", "Den", 70.0]
    )  # fmt: skip
    assert "LOOK: '1-3', '4 & 5' may be several loops in one row" in text
    read = of_book(book, load("a.map.yaml", text.encode())).read
    assert [*read.tree["loops"]] == ["6"]
    assert [(one.row, one.value) for one in read.refused] == [(2, "'1-3'"), (3, "'4 & 5'")]


def test_ids_of_header_and_loop_stay_ids_and_are_looked_at() -> None:
    text, book = proposed(
        ["Loop", "Room", "Length [m]"], ["1-1", "Hall", 80.0], ["1-2", "Bath", 60.0], ["2-1", "Den", 70.0]
    )  # fmt: skip
    assert "LOOK: is '1-1' one loop, not a run of loops?" in text
    assert [*of_book(book, load("a.map.yaml", text.encode())).read.tree["loops"]] == [
        "1-1",
        "1-2",
        "2-1",
    ]


@pytest.mark.parametrize(
    "text",
    ["1," * 31 + "!", "1-" * 31 + "!", "1 & " * 15 + "!", "1 a " * 15 + "!", "1" + "\n" * 32_000],
)
def test_no_text_keeps_the_reader_long(text: str) -> None:
    started = time.process_time()
    several([text])
    assert time.process_time() - started < 1.0
