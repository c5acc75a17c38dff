from __future__ import annotations

import pytest

from checker.geometry.lines import BadPoints, points


def test_points_are_read_in_metres() -> None:
    assert points("0 0, 4200 0,\n 4200.5 -3e3", 0.001).tolist() == [[0, 0], [4.2, 0], [4.2005, -3]]


@pytest.mark.parametrize(
    ("text", "start", "words"),
    [
        ("0 0, 42OO 0", 5, "'42OO' is not a number"),
        ("0 0, 4200 mm 0", 10, "'mm' is not a number"),
        ("0 0, 4200 0 4200 3000", 12, "comma is missing"),
        ("0 0, 4200, 1 2", 5, "this one has one"),
        ("0 0,, 4200 1", 4, "a point is missing here"),
        ("0 0, 1 1,", 9, "a point is missing here"),
        ("0 0, nan 1", 5, "'nan' is not a number"),
        ("0 0, 1_0 1", 5, "'1_0' is not a number"),
        ("0 0, 1 1e400", 7, "'1e400' is not a number"),
        ("0 0", 0, "1 points are too few; 2 are expected"),
        ("", 0, "a point is missing here"),
        ("0 0, 1e12 0", 0, "look at the unit"),
    ],
)
def test_what_is_no_line_of_points_is_told_with_its_place(
    text: str, start: int, words: str
) -> None:
    with pytest.raises(BadPoints, match=words.replace("(", r"\(")) as told:
        points(text, 0.001)
    assert told.value.start == start
