"""The pictures: small, the same each time, and no text of a design is mark-up in them."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from checker.reports.pictures import BAR, INK, Bar, Curve, bars, curves

ROWS = [
    Bar("L1", 106.0, 100.0, broken=True, note="106 m, too long"),
    Bar("L2", 50.0, 100.0, extra=25.0, note="50 m"),
]


def boxes(svg: str) -> list[tuple[str, float, float]]:
    """Every filled shape: what fills it, where it begins and how wide it is, in points."""
    found = []
    for path, fill in re.findall(r'<path d="([^"]*z[^"]*)" style="fill: ([^;]+);', svg):
        xs = [float(x) for x in re.findall(r"[ML] ([0-9.]+) [0-9.]+", path)]
        found.append((fill, min(xs), max(xs) - min(xs)))
    return found


def test_a_bar_is_as_long_as_its_value() -> None:
    broken, kept, spare = boxes(bars("m", ROWS, "limit"))
    assert (broken[0], kept[0], spare[0]) == ("url(#broken)", "var(--bar)", "url(#spare)")
    # Coordinates are written to a tenth of a point.
    assert broken[2] / kept[2] == pytest.approx(106 / 50, rel=0.01)
    assert spare[1] == pytest.approx(kept[1] + kept[2], abs=0.2)
    assert spare[2] / kept[2] == pytest.approx(0.5, rel=0.01)


def test_a_scale_may_begin_above_nought() -> None:
    rows = [Bar("a", 25.0, 29.0), Bar("b", 20.0, 29.0)]
    first, second = boxes(bars("°C", rows, "limit", start=15.0))
    assert first[2] / second[2] == pytest.approx(2, rel=0.02)


def test_a_label_is_text_and_never_mathematics() -> None:
    svg = bars("m", [Bar("<b>$x^2$</b>", 1.0, 2.0, note="$&")], "limit")
    words = [element.text for element in ElementTree.fromstring(svg).iter("text")]
    assert "<b>$x^2$</b>" in words
    assert "$&" in words


def test_letters_that_no_font_here_has_are_left_to_the_reader(
    capsys: pytest.CaptureFixture[str],
) -> None:
    svg = bars("m", [Bar("مطبخ 厨房", 1.0, 2.0)], "limit")
    assert "مطبخ 厨房" in svg
    assert capsys.readouterr().err == ""


def test_pictures_are_small_and_name_nothing() -> None:
    svg = bars("m", ROWS * 5, "limit")
    assert len(svg) < 8_000
    assert " id=" not in svg
    assert "clip-path" not in svg


def test_the_same_data_give_the_same_picture() -> None:
    assert bars("m", ROWS, "limit") == bars("m", ROWS, "limit")


def test_markers_stand_where_their_points_are() -> None:
    lines = [Curve("pump", [(0, 60), (10, 30)], marker="o"), Curve("need", [(5, 45)], "", INK, "D")]
    svg = curves("l/min", "kPa", lines)
    ElementTree.fromstring(svg)
    assert "var(--ink)" in svg
    assert BAR not in svg
    points = re.findall(r'transform="translate\(([0-9.]+) ([0-9.]+)\)"', svg)
    # Those of the legend stand in one line.
    heights = [y for _, y in points]
    places = {(float(x), float(y)) for x, y in points if heights.count(y) == 1}
    assert len(places) == 3
    (left, top), (right, bottom) = min(places), max(places)
    middle = ((left + right) / 2, (top + bottom) / 2)
    assert any(
        x == pytest.approx(middle[0], abs=0.2) and y == pytest.approx(middle[1], abs=0.2)
        for x, y in places
    )


def test_many_loops_are_cut_to_what_can_be_read() -> None:
    svg = bars("m", [Bar(f"L{n}", 1.0 + n, 100.0) for n in range(200)], "limit")
    assert "L39" in svg
    assert "L40" not in svg


@pytest.mark.parametrize("last", [3.71, 3.9, 3.93, 3.97, 4.0, 4.02])
def test_ticks_stand_at_what_their_labels_say(last: float) -> None:
    svg = curves("min", "bar", [Curve("read", [(0, 4.02), (20, last)])], from_nought=False)
    found = re.findall(r'text-anchor: end[^>]* y="([0-9.]+)">([0-9.]+)<', svg)
    ticks = [(float(y), float(label)) for y, label in found]
    assert len(ticks) >= 3
    (low, first), (high, highest) = ticks[0], ticks[-1]
    for y, label in ticks:
        share = (y - low) / (high - low)
        assert label == pytest.approx(first + share * (highest - first), abs=0.001)


def test_a_number_that_is_read_keeps_its_figures() -> None:
    svg = bars("m", [Bar("1.2345", 18.75, 20.0, note="18.75 m")], "limit")
    assert ">1.2345<" in svg
    assert ">18.75 m<" in svg


def test_a_note_ends_within_its_picture() -> None:
    note = "24.9 kPa + 12.3 kPa, too much for this pump"
    svg = bars("kPa", [Bar("a loop by the door", 20.0, 25.0, extra=12.0, note=note)], "limit")
    (x,) = re.findall(rf'<text[^>]*? x="([0-9.]+)"[^>]*>{re.escape(note)}<', svg)
    width = float(re.search(r'viewBox="0 0 ([0-9.]+)', svg)[1])  # type: ignore[index]
    # A letter of a sans serif is about half as wide as it is high.
    assert float(x) + len(note) * 8.5 * 0.5 < width
