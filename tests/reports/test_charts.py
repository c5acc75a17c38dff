"""The charts: small, the same each time, and no text of a design is mark-up in them."""

from __future__ import annotations

import re
from datetime import date
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checker.reports.chart_parts import STYLE, WIDTH, Mark, Shape, Stroke
from checker.reports.charts import Curve, Event, Row, curves, rows, timeline

ROWS = [
    Row("L1", [Mark(Shape.BROKEN_BAR, 0, 106.0), Mark(Shape.UPRIGHT, 100.0)], "106 m"),
    Row(
        "L2",
        [
            Mark(Shape.BAR, 0, 50.0),
            Mark(Shape.SPARE_BAR, 50.0, 75.0),
            Mark(Shape.UPRIGHT, 100.0),
        ],
        "50 + 25 m",
    ),
]
KEY = {Shape.UPRIGHT: "limit", Shape.BROKEN_BAR: "too long", Shape.DIAMOND: "not here"}


def boxes(svg: str) -> list[tuple[str, float, float]]:
    """Every filled rectangle of the plot: its class, where it begins and how wide it is."""
    found = re.findall(r'<rect class="([^"]+)" x="([0-9.]+)" y="[0-9.]+" width="([0-9.]+)"', svg)
    return [(cls, float(x), float(width)) for cls, x, width in found]


def words(svg: str) -> list[tuple[float, float, str]]:
    """Every text with where it stands."""
    return [
        (float(one.attrib["x"]), float(one.attrib["y"]), one.text or "")
        for one in ElementTree.fromstring(svg).iter("text")
    ]


def test_a_bar_is_as_long_as_its_value() -> None:
    broken, kept, spare = boxes(rows("m", ROWS, {}, start=0))
    assert (broken[0], kept[0], spare[0]) == ("broken", "bar", "spare")
    # Coordinates are written to a tenth of a unit.
    assert broken[2] / kept[2] == pytest.approx(106 / 50, rel=0.01)
    assert spare[1] == pytest.approx(kept[1] + kept[2], abs=0.2)
    assert spare[2] / kept[2] == pytest.approx(0.5, rel=0.01)


def test_a_scale_may_begin_above_nought() -> None:
    made = [Row(name, [Mark(Shape.BAR, 15, value)]) for name, value in (("a", 25.0), ("b", 20.0))]
    first, second = boxes(rows("°C", made, {}, start=15))
    assert first[2] / second[2] == pytest.approx(2, rel=0.02)


def test_the_hatching_stays_within_its_bar() -> None:
    svg = rows("m", ROWS[:1], {}, start=0)
    _, begins, width = boxes(svg)[0]
    lines = re.findall(r'class="hatch" d="([^"]+)"', svg)[0]
    ends = re.findall(r"M([0-9.]+) ([0-9.]+)l([0-9.]+) (-[0-9.]+)", lines)
    assert len(ends) == lines.count("M") > 10
    for x, y, across, up in ends:
        assert begins - 0.2 <= float(x) <= float(x) + float(across) <= begins + width + 0.2
        # As steep everywhere, cut ones too.
        assert float(across) == pytest.approx(-float(up), abs=0.2)
        assert float(y) + float(up) >= 0


def test_a_key_tells_of_what_is_drawn_and_nothing_else() -> None:
    found = [text for _, _, text in words(rows("m", ROWS, KEY, start=0))]
    assert {"limit", "too long"} <= {*found}
    assert "not here" not in found
    assert "too long" not in [text for _, _, text in words(rows("m", ROWS[1:], KEY, start=0))]


def test_a_label_is_text_and_never_mark_up() -> None:
    svg = rows("m", [Row("<b>$x^2$</b>", [Mark(Shape.BAR, 0, 1.0)], "$&")], {}, start=0)
    found = [text for _, _, text in words(svg)]
    assert "<b>$x^2$</b>" in found
    assert "$&" in found


def test_signs_that_turn_the_order_of_reading_are_shown() -> None:
    assert "\u202e" not in rows("m", [Row("a\u202eb", [Mark(Shape.BAR, 0, 1.0)])], {}, start=0)


def test_a_long_label_keeps_both_its_ends_and_tells_the_whole() -> None:
    names = [f"living room by the garden door {n}" for n in (1, 2)]
    svg = rows("m", [Row(name, [Mark(Shape.BAR, 0, 1.0)]) for name in names], {}, start=0)
    drawing = ElementTree.fromstring(svg)
    assert [one.text for one in drawing.iter("title")] == names
    cut = [title.tail for text in drawing.iter("text") for title in text if title.text in names]
    assert all(one and "…" in one and one.startswith("living") for one in cut)
    assert [one[-1] for one in cut if one] == ["1", "2"]


def test_charts_are_small_and_name_nothing() -> None:
    svg = rows("m", ROWS * 5, KEY, start=0)
    assert len(svg) < 8_000
    for spare in (" id=", "clip-path", "url(", "style=", "<pattern"):
        assert spare not in svg


def test_every_class_that_is_drawn_has_its_look() -> None:
    # A marker without one would be a black blot, in the dark too.
    marks = [Mark(shape, 1.0, 2.0) for shape in Shape]
    lines = [
        Curve(stroke.value, [(0, 0), (1, 1)], stroke, shape)
        for stroke, shape in zip(
            Stroke, (Shape.DOT, Shape.SQUARE, Shape.DIAMOND, None), strict=True
        )
    ]
    drawn = [
        rows("m", [Row("a", marks)], {}),
        curves("min", "bar", lines),
        timeline([Event("laid", date(2026, 3, 1)), Event("tested", date(2026, 3, 2), amiss=True)]),
    ]
    classes = {name for svg in drawn for name in re.findall(r'class="([^"]+)"', svg)}
    assert len(classes) > 15
    for name in classes - {"chart"}:
        assert re.search(rf"\.{name.replace(' ', '.')}[ ,]", STYLE), name
    for svg in drawn:
        for element in ElementTree.fromstring(svg).iter():
            if element.tag not in ("svg", "g", "text", "title"):
                assert element.get("class"), ElementTree.tostring(element)


def test_colours_are_those_of_the_page() -> None:
    assert not re.findall(r"#[0-9a-f]{3}", STYLE)
    assert {*re.findall(r"var\((--[a-z]+)\)", STYLE)} == {
        "--ink", "--muted", "--line", "--bar", "--bad", "--card",
    }  # fmt: skip


def test_the_same_data_give_the_same_picture() -> None:
    assert rows("m", ROWS, KEY, start=0) == rows("m", ROWS, KEY, start=0)


def test_markers_stand_where_their_points_are() -> None:
    lines = [
        Curve("pump", [(0, 60), (10, 30)], marker=Shape.DOT),
        Curve("need", [(5, 45)], Stroke.NONE, Shape.SQUARE),
    ]
    svg = curves("l/min", "kPa", lines)
    plot = re.sub(r"<g .*?</g>", "", svg)  # without the key
    dots = re.findall(r'cx="([0-9.]+)" cy="([0-9.]+)"', plot)
    (left, top), (right, bottom) = [(float(x), float(y)) for x, y in dots]
    ((x, y),) = re.findall(r'class="square" x="([0-9.]+)" y="([0-9.]+)"', plot)
    assert float(x) + 4 == pytest.approx((left + right) / 2, abs=0.2)
    assert float(y) + 4 == pytest.approx((top + bottom) / 2, abs=0.2)


def test_a_long_record_is_a_line_without_markers() -> None:
    points = [(float(n), 4.0 - n / 1000) for n in range(200)]
    svg = curves("min", "bar", [Curve("read", points, marker=Shape.DOT)], around=0.1)
    assert svg.count("<circle") == 1  # that of the key


MAGNITUDE = st.floats(-1e6, 1e6).map(lambda value: round(value, 3))


@given(MAGNITUDE, MAGNITUDE)
def test_ticks_stand_at_what_their_labels_say_and_are_round(one: float, other: float) -> None:
    svg = curves("min", "bar", [Curve("read", [(0, one), (20, other)])], around=0.1)
    ticks = [(y, text) for _, y, text in words(svg) if re.fullmatch(r"-?[0-9.]+", text)]
    up = [(y, float(text)) for y, text in ticks if sum(y == other for other, _ in ticks) == 1]
    assert len(up) >= 3
    (low, first), (high, highest) = up[0], up[-1]
    assert first <= min(one, other)
    assert highest >= max(one, other)
    step = f"{up[1][1] - up[0][1]:.6e}"
    assert float(step.partition("e")[0]) in (1, 2, 5), step
    for y, label in up:
        share = (y - low) / (high - low)
        # A place is written to a tenth of a unit, of which the scale has 150.
        assert label == pytest.approx(
            first + share * (highest - first), abs=0.1 / 140 * (highest - first)
        )


@given(st.lists(MAGNITUDE.map(abs), min_size=1, max_size=5), st.text(max_size=40))
def test_what_stands_in_a_row_stays_within_the_picture(values: list[float], note: str) -> None:
    made = [Row("a loop", [Mark(Shape.BAR, 0, value)], note) for value in values]
    svg = rows("m", made, {}, start=0)
    for _, begins, width in boxes(svg):
        assert 0 <= begins <= begins + width <= WIDTH


def test_all_values_alike_or_nought_make_a_picture() -> None:
    for value in (0.0, 5.0):
        ElementTree.fromstring(rows("m", [Row("a", [Mark(Shape.DOT, value)])], {}))
        ElementTree.fromstring(rows("m", [Row("a", [Mark(Shape.BAR, 0, value)])], {}, start=0))
        ElementTree.fromstring(curves("min", "bar", [Curve("read", [(value, value)] * 2)]))


def test_a_number_that_is_read_keeps_its_figures() -> None:
    svg = rows("m", [Row("1.2345", [Mark(Shape.BAR, 0, 18.75)], "18.75 m")], {}, start=0)
    assert ">1.2345<" in svg
    assert ">18.75 m<" in svg


def test_a_note_ends_within_its_picture() -> None:
    note = "24.9 kPa + 12.3 kPa, too much for this pump"
    marks = [Mark(Shape.BAR, 0, 20.0), Mark(Shape.SPARE_BAR, 20.0, 32.0)]
    svg = rows("kPa", [Row("a loop by the door", marks, note)], {}, start=0)
    x = next(x for x, _, text in words(svg) if text == note)
    # A letter of a sans serif is about half as wide as it is high.
    assert x + len(note) * 12 * 0.5 < WIDTH


def test_a_day_before_the_one_that_should_come_first_says_so() -> None:
    events = [
        Event("laid", date(2026, 3, 10)),
        Event("tested", date(2026, 3, 9), amiss=True),
        Event("screeded", date(2026, 3, 12)),
    ]
    svg = timeline(events)
    found = [text for _, _, text in words(svg)]
    assert found == [
        "2026-03-10", "laid",
        "2026-03-09", "tested", "1 day earlier",
        "2026-03-12", "screeded", "3 days later",
    ]  # fmt: skip
    assert svg.count("<circle") == 2
    assert svg.count('class="cross"') == 1
    # Its days stand nowhere else on the page.
    assert "aria-hidden" not in svg


def test_a_note_is_never_read_as_the_number_of_a_limit() -> None:
    bar, limit = Mark(Shape.BAR, 0, 96.0), Mark(Shape.UPRIGHT, 100.0)
    near = Row("a", [bar, limit], "96 m")
    far = Row("b", [bar._replace(to=30.0), limit], "30 m")
    over = Row("c", [Mark(Shape.BROKEN_BAR, 0, 130.0), limit], "130 m")
    svg = rows("m", [near, far, over], {}, start=0)
    ends = [x + width for _, x, width in boxes(svg)]
    found = {text: x for x, _, text in words(svg)}
    assert found["96 m"] < ends[0]
    assert 'class="within">96 m<' in svg
    assert ends[1] < found["30 m"] < ends[0]
    assert found["130 m"] > ends[2]
    assert svg.count("within") == 1
