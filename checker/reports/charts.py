"""Charts as inline SVG: plain data in, one `<svg>` text out, the same bytes for the same data.

A page that shows charts includes `STYLE`. Colours are the page's own custom properties (`--ink`,
`--bar`, …), so that a chart is light, dark or printed like its page. What is wrong differs in
shape, never in colour alone. Hatching and dots are lines, not patterns: a pattern needs a name that
is unique on the page, and prints as points, which take tens of times the space.

All lengths are units of the drawing. It is WIDTH wide and is shown at 0.93 to 1.2 pixels a unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from html import escape
from typing import NamedTuple

from markupsafe import Markup

from checker.reports.chart_parts import (
    GAP,
    LETTER,
    PITCH,
    SAMPLE,
    STYLE,
    WIDTH,
    Mark,
    Shape,
    Stroke,
    broken_lines,
    cut,
    drawn_mark,
    drawn_shape,
    ends_of,
    figure,
    key_of,
    letters_at,
    sample_of,
    stroke_line,
    svg_of,
    width_of,
)
from checker.reports.chart_scales import Scale, set_apart, tick_step
from checker.words import visible
from checker.words.speech import PLAIN, Speech

BELOW = 16
"""Distance between the end of a scale and the bottom of its labels."""

PLOT = 150
"""Height of the area of curves."""

LABEL_ROOM = 130
"""Most that the labels of rows may take of the width."""

MOST_MARKERS = 30
"""At most this many points of a curve are marked; more would overlap."""


class Row(NamedTuple):
    """A subject, its values in the order in which they are drawn, and words at their end."""

    label: str
    marks: Sequence[Mark]
    note: str = ""


class Curve(NamedTuple):
    """A line through points.

    Attributes:
        label: words for the key.
        points: values along and up, in the reader's units.
        stroke: how the points are joined.
        marker: the mark on each of them; None for none.
    """

    label: str
    points: Sequence[tuple[float, float]]
    stroke: Stroke = Stroke.SOLID
    marker: Shape | None = None


class Event(NamedTuple):
    """A date, what happened on it, and whether it is highlighted."""

    name: str
    on: date
    amiss: bool = False


def rows(
    unit: str,
    rows: Sequence[Row],
    key: Mapping[Shape, str],
    start: float | None = None,
    labels_above: bool = False,
    speech: Speech = PLAIN,
    counted: bool = False,
) -> Markup:
    """Values of several subjects on one scale.

    Args:
        unit: of the values, as the reader sees it.
        rows: the subjects, at least one, each with at least one mark, from the top.
        key: words for shapes, of which those that are drawn are shown.
        start: where the scale begins; None for a little below the smallest value.
        labels_above: whether labels are long, and on lines of their own.
        speech: how numbers are written; the values are not converted.
        counted: whether only whole numbers have a meaning.

    Returns:
        The picture as `<svg>`.
    """
    values = [value for row in rows for mark in row.marks for value in ends_of(mark)]
    low, high = set_apart(min(values) if start is None else start, max(values))
    if start is None:
        low, high = low - 0.05 * (high - low), high + 0.05 * (high - low)
    most = WIDTH - 80 - max(width_of(row.note) for row in rows)
    room = WIDTH if labels_above else max(40, min(LABEL_ROOM, most))
    labels = [cut(row.label, room) for row in rows]
    beside = 0 if labels_above else max(map(width_of, labels))
    left = max(beside, width_of(unit) + GAP) + GAP
    right = WIDTH - GAP
    for row in rows:
        if row.note:
            free = right - left - GAP - width_of(row.note)
            end = max(value for mark in row.marks for value in ends_of(mark))
            high = max(high, low + (end - low) * (right - left) / max(free, 20))
    across = Scale(low, high, left, right)
    pitch = 2 * PITCH if labels_above else PITCH
    bottom = pitch * len(rows) + 4
    parts = [*axis_along(across, max(values), 0, bottom, unit, speech, counted)]
    if low <= 0:
        parts.append(stroke_line(across.at(0), 0, across.at(0), bottom, "axis"))
    for place, (row, label) in enumerate(zip(rows, labels, strict=True)):
        y = place * pitch + pitch - PITCH / 2 + 2
        title = row.label if label != row.label else ""
        if labels_above:
            parts.append(letters_at(0, y - PITCH + 5, label, title=title))
        else:
            parts.append(letters_at(left - GAP, y + 4, label, "end", title=title))
        parts += [drawn_mark(mark, across, y) for mark in row.marks]
        if row.note:
            parts.append(_note(row, across, y + 4))
    there = {mark.shape for row in rows for mark in row.marks}
    samples = [(sample_of(shape), words) for shape, words in key.items() if shape in there]
    words, height = key_of(samples, left, bottom + 2 * PITCH)
    return svg_of([*parts, words], height)


def _note(row: Row, across: Scale, y: float) -> str:
    """A row's note, never where it would be read as the number of a limit: at the end of its bar,
    or in the bar where a mark follows too soon; after the last mark of a row that has no room.
    """
    ends = [across.at(max(ends_of(mark))) for mark in row.marks]
    drawn = [mark.shape in (Shape.BAR, Shape.BROKEN_BAR, Shape.SPARE_BAR) for mark in row.marks]
    bars = [end for end, is_bar in zip(ends, drawn, strict=True) if is_bar]
    words = width_of(row.note)
    if bars:
        end = max(bars)
        beyond = [other for other in ends if other > end]
        if all(other > end + words + 2 * GAP for other in beyond):
            return letters_at(end + GAP, y, row.note)
        if len(bars) == 1 and row.marks[0].shape is Shape.BAR:
            room = bars[0] - across.at(min(ends_of(row.marks[0]))) - 2 * GAP
            if words <= room:
                return letters_at(bars[0] - GAP, y, row.note, "end", "within")
    return letters_at(max(ends) + GAP, y, row.note)


def curves(
    across: str,
    up: str,
    lines: Sequence[Curve],
    around: float | None = None,
    speech: Speech = PLAIN,
    counted: bool = False,
) -> Markup:
    """Lines on a common scale.

    Args:
        across: the unit of the horizontal scale, as the reader sees it.
        up: the unit of the vertical scale.
        lines: the curves, with at least one point among them; none of them NaN.
        around: the least free space below and above on the vertical scale, in its unit; None for a
            scale that begins at 0.
        speech: how numbers are written; the values are not converted.
        counted: whether only whole numbers have a meaning, on both scales.

    Returns:
        The picture as `<svg>`.
    """
    xs = [x for line in lines for x, _ in line.points]
    ys = [y for line in lines for _, y in line.points]
    low, high = set_apart(min(0.0, *ys) if around is None else min(ys), max(ys))
    if around is not None:
        free = max(around, 0.15 * (high - low))
        low, high = low - free, high + free
    step = tick_step(low, high, PLOT, lambda label: 2.5 * LETTER, counted)
    low, high = step.below(low), step.above(high)
    samples = [(line_sample(line), line.label) for line in lines]
    quiet = letters_at(0, LETTER, up, cls="quiet")
    words, top = key_of(samples, width_of(up) + 2 * GAP if up else 0, LETTER)
    top += 2
    levels = [(level, speech.marked(label)) for level, label in step.ticks(low, high)]
    left = max(width_of(across) + GAP, *(width_of(label) for _, label in levels)) + GAP
    upward = Scale(low, high, top + PLOT, top)
    right = WIDTH - 2 * GAP
    sideways = Scale(*set_apart(min(xs), max(xs)), left, right)
    parts = [quiet, words, *axis_along(sideways, max(xs), top, top + PLOT, across, speech, counted)]
    for level, label in levels:
        y = upward.at(level)
        parts.append(stroke_line(left, y, right, y, "grid"))
        parts.append(letters_at(left - GAP, y + 4, label, "end"))
    parts.append(stroke_line(left, top, left, top + PLOT, "axis"))
    for line in lines:
        places = [(sideways.at(x), upward.at(y)) for x, y in line.points]
        if line.stroke is not Stroke.NONE:
            d = "L".join(f"{figure(x)} {figure(y)}" for x, y in places)
            parts.append(f'<path class="{line.stroke.value}" d="M{d}"/>')
        if line.marker and len(places) <= MOST_MARKERS:
            parts += [drawn_shape(line.marker, x, x, y) for x, y in places]
    return svg_of(parts, top + PLOT + PITCH + 2)


def timeline(events: Sequence[Event]) -> Markup:
    """Dates below one another at equal distances, with the days between them in words.

    Args:
        events: from the top, in the order in which they are drawn.

    Returns:
        The picture as `<svg>`; empty where there is no event.
    """
    if not events:
        return Markup("")
    line = width_of("2000-00-00") + 2 * GAP
    middle = PITCH / 2 + 2
    bottom = middle + PITCH * 1.3 * (len(events) - 1)
    parts = [stroke_line(line, middle, line, bottom, "axis")]
    for place, event in enumerate(events):
        y = middle + place * PITCH * 1.3
        shape = Shape.CROSS if event.amiss else Shape.DOT
        parts.append(letters_at(0, y + 4, event.on.isoformat()))
        parts.append(drawn_shape(shape, line, line, y))
        parts.append(letters_at(line + 2 * GAP, y + 4, event.name))
        if place:
            days = (event.on - events[place - 1].on).days
            words = f"{abs(days)} {'day' if abs(days) == 1 else 'days'}"
            words += " later" if days >= 0 else " earlier"
            parts.append(letters_at(WIDTH - GAP, y + 4, words, "end", "quiet"))
    return svg_of(parts, bottom + PITCH / 2 + 2, is_read=True)


def axis_along(
    scale: Scale,
    most: float,
    top: float,
    bottom: float,
    unit: str,
    speech: Speech,
    counted: bool = False,
) -> Iterator[str]:
    """Vertical lines up to the highest value, their labels below, and the unit before the first.

    Args:
        scale: the horizontal scale.
        most: the highest value, beyond which no line is drawn.
        top: where the lines begin, in units of the drawing.
        bottom: where they end.
        unit: of the scale, as the reader sees it.
        speech: how the labels are written.
        counted: whether only whole numbers have a meaning.

    Returns:
        SVG, part by part.
    """
    length = scale.last - scale.first
    step = tick_step(
        scale.low, scale.high, length, lambda label: width_of(label) + 2 * GAP, counted
    )
    begins = scale.first
    for value, label in step.ticks(scale.low, most):
        x = scale.at(value)
        yield stroke_line(x, top, x, bottom, "grid")
        if x + width_of(label) / 2 <= WIDTH:
            yield letters_at(x, bottom + BELOW, speech.marked(label), "middle")
            begins = min(begins, x - width_of(label) / 2)
    yield letters_at(begins - GAP / 2, bottom + BELOW, unit, "end", "quiet")


def line_sample(line: Curve) -> str:
    """A curve for the key.

    Args:
        line: the curve, of which only stroke and marker are shown.

    Returns:
        SVG.
    """
    path = f'<path class="{line.stroke.value}" d="M0 0H{SAMPLE}"/>'
    marker = drawn_shape(line.marker, SAMPLE / 2, SAMPLE / 2) if line.marker else ""
    return (path if line.stroke is not Stroke.NONE else "") + marker


PAPER = {
    "card": "#ffffff",
    "ink": "#1c2326",
    "muted": "#556066",
    "line": "#d8d6cf",
    "bar": "#2d6e74",
    "bad": "#a62b1a",
}
"""The light colours of a page, for a picture outside of one."""


def alone(picture: Markup, title: str, says: str) -> str:
    """A picture as a file of its own, with its heading and a description.

    Its colours are written out, because few programs but browsers know a page's properties.

    Args:
        picture: a picture of this module, as it is on a page.
        title: its heading.
        says: what it shows, in a sentence or two.

    Returns:
        The SVG file, on light paper.
    """
    start, _, rest = picture.partition(">")
    content = rest.removesuffix("</svg>")
    height = float(start.partition(f'viewBox="0 0 {WIDTH} ')[2].partition('"')[0])
    rules = STYLE.partition("\n")[2].partition("@media")[0]
    for name, colour in PAPER.items():
        rules = rules.replace(f"var(--{name})", colour)
    lines = [*broken_lines(title, WIDTH), "", *broken_lines(says, WIDTH)]
    words = "".join(letters_at(0, LETTER + PITCH * n, line) for n, line in enumerate(lines) if line)
    top = PITCH * (len(lines) + 0.5)
    around = f"{-GAP} {-GAP} {WIDTH + 2 * GAP} {figure(top + height + 2 * GAP)}"
    paper = f'<rect x="{-GAP}" y="{-GAP}" width="100%" height="100%" fill="{PAPER["card"]}"/>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="{around}" role="img" '
        f'width="{2 * WIDTH}"><title>{escape(visible(title))}</title>'
        f"<desc>{escape(visible(says))}</desc><style>{rules}</style>{paper}{words}"
        f'<g transform="translate(0 {figure(top)})">{content}</g></svg>\n'
    )
