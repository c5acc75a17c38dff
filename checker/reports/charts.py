"""Charts as inline SVG: plain data in, one `<svg>` text out, the same bytes for the same data.

A page that shows charts carries `STYLE`. Colours are the page's own custom properties (`--ink`,
`--bar`, …), so that a chart is light, dark or printed with its page. What is amiss differs in
shape, never in colour alone. Hatching and dots are lines, not patterns: a pattern needs a name
that is the page's own, and is printed as points, tens of times as large.

All lengths are units of the drawing. It is WIDTH wide and is shown at 0.93 to 1.2 pixels a unit.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from enum import Enum
from functools import lru_cache
from html import escape
from itertools import count, pairwise
from typing import NamedTuple

from markupsafe import Markup

from checker.words import visible
from checker.words.speech import PLAIN, Speech

WIDTH = 360
LETTER = 12
"""Height of letters."""
PITCH = 18
"""From one row to the next, and from one line of words to the next."""
THICK = 11
"""Of a bar."""
GAP = 7
"""Between words and what they belong to."""
SAMPLE = 18
"""Width of a shape in the key."""
BELOW = 16
"""From the end of a scale to the foot of its labels."""
PLOT = 150
"""Height of what curves are drawn on."""
MOST_TICKS = 7
LABEL_ROOM = 130
TALL = 400
"""From this height on a chart has `tall` in its class, so that a page can give it two places."""
MOST_MARKERS = 30
"""Points of a curve that are marked; more would run into one another."""

STYLE = Markup(f"""\
.chart {{ display: block; width: 100%; min-width: 21rem; max-width: 27rem; height: auto; margin-top: .4rem; }}
.chart text {{ font: {LETTER}px system-ui, "Segoe UI", Roboto, "Noto Sans", sans-serif; fill: var(--ink); font-variant-numeric: tabular-nums; paint-order: stroke; stroke: var(--card); stroke-width: 3px; stroke-linejoin: round; }} .chart .quiet {{ fill: var(--muted); }}
.chart path, .chart line {{ fill: none; stroke: var(--ink); }}
.chart .grid {{ stroke: var(--line); }} .chart .axis {{ stroke: var(--muted); }}
.chart .bar {{ fill: var(--bar); }} .chart .broken {{ fill: var(--bad); }} .chart .spare {{ fill: none; stroke: var(--muted); }}
.chart .hatch {{ stroke: var(--card); stroke-width: 1.8; }} .chart .dots {{ stroke: var(--muted); stroke-width: 1.8; stroke-linecap: round; stroke-dasharray: 0 4; }}
.chart .span {{ stroke: var(--bar); stroke-width: 6; opacity: .45; }} .chart .span.apart {{ stroke: var(--bad); }}
.chart .dot, .chart .square {{ fill: var(--bar); stroke: var(--card); }} .chart .diamond {{ fill: var(--ink); stroke: var(--card); }}
.chart .cross {{ stroke: var(--bad); stroke-width: 3; }} .chart .upright {{ stroke-width: 2.4; }}
.chart .solid, .chart .dashed, .chart .dotted {{ stroke-width: 2; stroke-linejoin: round; }}
.chart .solid {{ stroke: var(--bar); }} .chart .dashed {{ stroke-dasharray: 6 3; }} .chart .dotted {{ stroke: var(--muted); stroke-dasharray: 2 3; }}
.chart .band {{ fill: var(--bar); fill-opacity: .13; stroke: none; }} .chart .hole {{ fill: var(--card); stroke: var(--ink); }} .chart .metal {{ fill: var(--ink); }} .chart .timber {{ stroke: var(--muted); stroke-dasharray: 5 2; }} .chart .cut {{ fill: none; stroke: var(--muted); }}
@media print {{ .chart text {{ stroke: none; }} }} /* with a stroke, letters are printed as outlines */
""")  # noqa: E501


class Shape(Enum):
    """What stands for a value, or for the range between two."""

    BAR = "bar"
    BROKEN_BAR = "broken bar"
    SPARE_BAR = "spare bar"
    SPAN = "span"
    APART_SPAN = "span of what is apart"
    DOT = "dot"
    CROSS = "cross"
    DIAMOND = "diamond"
    SQUARE = "square"
    UPRIGHT = "upright"


class Stroke(Enum):
    """How the points of a curve are joined."""

    SOLID = "solid"
    DASHED = "dashed"
    DOTTED = "dotted"
    NONE = ""


class Mark(NamedTuple):
    """A value, or the range from `at` to `to`."""

    shape: Shape
    at: float
    to: float | None = None


class Row(NamedTuple):
    """A subject, its values in the order in which they are drawn, and words at their end."""

    label: str
    marks: Sequence[Mark]
    note: str = ""


class Curve(NamedTuple):
    """A line through points; marker: what stands at each of them."""

    label: str
    points: Sequence[tuple[float, float]]
    stroke: Stroke = Stroke.SOLID
    marker: Shape | None = None


class Event(NamedTuple):
    """A day, what happened on it, and whether it is one to look at."""

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

    key: words for shapes, of which those that are drawn are shown; start: where the scale begins,
    None for a little below the least value; labels_above: long labels, on lines of their own;
    speech: how numbers are written, whose unit is the reader's already; counted: only whole numbers
    have a meaning.
    """
    values = [value for row in rows for mark in row.marks for value in _ends(mark)]
    low, high = _apart(min(values) if start is None else start, max(values))
    if start is None:
        low, high = low - 0.05 * (high - low), high + 0.05 * (high - low)
    most = WIDTH - 80 - max(_width(row.note) for row in rows)
    room = WIDTH if labels_above else max(40, min(LABEL_ROOM, most))
    labels = [_cut(row.label, room) for row in rows]
    beside = 0 if labels_above else max(map(_width, labels))
    left = max(beside, _width(unit) + GAP) + GAP
    right = WIDTH - GAP
    for row in rows:
        if row.note:
            free = right - left - GAP - _width(row.note)
            end = max(value for mark in row.marks for value in _ends(mark))
            high = max(high, low + (end - low) * (right - left) / max(free, 20))
    across = _Scale(low, high, left, right)
    pitch = 2 * PITCH if labels_above else PITCH
    bottom = pitch * len(rows) + 4
    parts = [*_across(across, max(values), 0, bottom, unit, speech, counted)]
    if low <= 0:
        parts.append(_line(across.at(0), 0, across.at(0), bottom, "axis"))
    for place, (row, label) in enumerate(zip(rows, labels, strict=True)):
        y = place * pitch + pitch - PITCH / 2 + 2
        title = row.label if label != row.label else ""
        if labels_above:
            parts.append(_text(0, y - PITCH + 5, label, title=title))
        else:
            parts.append(_text(left - GAP, y + 4, label, "end", title=title))
        parts += [_mark(mark, across, y) for mark in row.marks]
        if row.note:
            end = max(value for mark in row.marks for value in _ends(mark))
            parts.append(_text(across.at(end) + GAP, y + 4, row.note))
    there = {mark.shape for row in rows for mark in row.marks}
    samples = [(_sample(shape), words) for shape, words in key.items() if shape in there]
    words, height = _key(samples, left, bottom + 2 * PITCH)
    return _svg([*parts, words], height)


def curves(
    across: str,
    up: str,
    lines: Sequence[Curve],
    around: float | None = None,
    speech: Speech = PLAIN,
    counted: bool = False,
) -> Markup:
    """Lines over a common scale. across, up: the units; speech: how numbers are written; counted:
    only whole numbers have a meaning, on both scales.

    around: how much of the upward scale is left free below and above at least; None for a scale
    that begins at 0.
    """
    xs = [x for line in lines for x, _ in line.points]
    ys = [y for line in lines for _, y in line.points]
    low, high = _apart(min(0.0, *ys) if around is None else min(ys), max(ys))
    if around is not None:
        free = max(around, 0.15 * (high - low))
        low, high = low - free, high + free
    step = _step(low, high, PLOT, lambda label: 2.5 * LETTER, counted)
    low, high = step.below(low), step.above(high)
    samples = [(_line_sample(line), line.label) for line in lines]
    quiet = _text(0, LETTER, up, cls="quiet")
    words, top = _key(samples, _width(up) + 2 * GAP if up else 0, LETTER)
    top += 2
    levels = [(level, speech.marked(label)) for level, label in step.ticks(low, high)]
    left = max(_width(across) + GAP, *(_width(label) for _, label in levels)) + GAP
    upward = _Scale(low, high, top + PLOT, top)
    right = WIDTH - 2 * GAP
    sideways = _Scale(*_apart(min(xs), max(xs)), left, right)
    parts = [quiet, words, *_across(sideways, max(xs), top, top + PLOT, across, speech, counted)]
    for level, label in levels:
        y = upward.at(level)
        parts.append(_line(left, y, right, y, "grid"))
        parts.append(_text(left - GAP, y + 4, label, "end"))
    parts.append(_line(left, top, left, top + PLOT, "axis"))
    for line in lines:
        places = [(sideways.at(x), upward.at(y)) for x, y in line.points]
        if line.stroke is not Stroke.NONE:
            d = "L".join(f"{_figure(x)} {_figure(y)}" for x, y in places)
            parts.append(f'<path class="{line.stroke.value}" d="M{d}"/>')
        if line.marker and len(places) <= MOST_MARKERS:
            parts += [_shape(line.marker, x, x, y) for x, y in places]
    return _svg(parts, top + PLOT + PITCH + 2)


def timeline(events: Sequence[Event]) -> Markup:
    """Days below one another; the steps are alike, and the days between are written on them."""
    if not events:
        return Markup("")
    line = _width("2000-00-00") + 2 * GAP
    middle = PITCH / 2 + 2
    bottom = middle + PITCH * 1.3 * (len(events) - 1)
    parts = [_line(line, middle, line, bottom, "axis")]
    for place, event in enumerate(events):
        y = middle + place * PITCH * 1.3
        shape = Shape.CROSS if event.amiss else Shape.DOT
        parts.append(_text(0, y + 4, event.on.isoformat()))
        parts.append(_shape(shape, line, line, y))
        parts.append(_text(line + 2 * GAP, y + 4, event.name))
        if place:
            days = (event.on - events[place - 1].on).days
            words = f"{abs(days)} {'day' if abs(days) == 1 else 'days'}"
            words += " later" if days >= 0 else " earlier"
            parts.append(_text(WIDTH - GAP, y + 4, words, "end", "quiet"))
    return _svg(parts, bottom + PITCH / 2 + 2, is_read=True)


FLOOR_TALL = 190
"""Height of a floor in section at most."""
SURFACE_TALL = 70
"""Height of the curve of its surface's temperature."""
WORDS_BESIDE = 104
"""Width of the words beside that curve."""


class Layer(NamedTuple):
    """A layer of a floor in section: words, thickness, m, and whether a joist is in it."""

    words: str
    thickness: float
    timber: bool = False


class Floor(NamedTuple):
    """A floor in section over one spacing, in m and the reader's degrees.

    covering: words for what lies on it; depth: of the pipe's axis; plate: thickness, width and
    depth of its top; joist: width, nought for none; lines: rows of points (across, down, °C) from
    the pipe's middle to the middle between two, NaN inside the pipe; surface: points (across, °C);
    mean: of it; limit: for its highest, None for none; speech: the reader's.
    """

    spacing: float
    covering: str
    layers: Sequence[Layer]
    depth: float
    outside: float
    wall: float
    plate: tuple[float, float, float] | None
    joist: float
    lines: Sequence[Sequence[tuple[float, float, float]]]
    surface: Sequence[tuple[float, float]]
    mean: float
    limit: float | None
    speech: Speech = PLAIN


def section(floor: Floor) -> Markup:
    """A floor in section: bands of one temperature each, and over it that of its surface."""
    height = sum(layer.thickness for layer in floor.layers)
    scale = min((WIDTH - WORDS_BESIDE) / floor.spacing, FLOOR_TALL / height)
    middle = WORDS_BESIDE + (WIDTH - WORDS_BESIDE) / 2
    curve, top = _surface_curve(floor, scale, middle)
    parts = [curve, _text(middle, top + LETTER, floor.covering, "middle", "quiet")]
    top += PITCH
    half = floor.spacing / 2 * scale
    left, right = middle - half, middle + half
    # Inside the pipe nothing has a temperature.
    lines = [[point for point in line if point[2] == point[2]] for line in floor.lines]
    degrees = [t for line in lines for _, _, t in line]
    step = _step(min(degrees), max(degrees), WIDTH, lambda _: 0.0)
    levels = [level for level, _ in step.ticks(min(degrees), max(degrees))]
    for level in levels:
        d = _band(lines, level, lambda x: middle + x * scale, lambda y: top + y * scale)
        parts.append(f'<path class="band" d="{d}"/>' if d else "")
    low = top
    for layer in floor.layers:
        deep = layer.thickness * scale
        place = f'x="{_figure(left)}" y="{_figure(low)}" width="{_figure(2 * half)}"'
        parts.append(f'<rect class="cut" {place} height="{_figure(deep)}"/>')
        if layer.timber:
            wide = floor.joist / 2 * scale
            for x in (left + wide, right - wide):
                parts.append(_line(x, low, x, low + deep, "timber"))
        low += deep
    if floor.plate:
        thick, width, depth = floor.plate
        tall = max(thick * scale, 1.5)
        place = f'x="{_figure(middle - width / 2 * scale)}" y="{_figure(top + depth * scale)}"'
        size = f'width="{_figure(width * scale)}" height="{_figure(tall)}"'
        parts.append(f'<rect class="metal" {place} {size}/>')
    axis = f'cx="{_figure(middle)}" cy="{_figure(top + floor.depth * scale)}"'
    radius = floor.outside / 2 * scale
    if floor.plate:
        ring = radius + max(floor.plate[0] * scale, 1.5)
        parts.append(f'<circle class="metal" {axis} r="{_figure(ring)}"/>')
    parts.append(f'<circle class="hole" {axis} r="{_figure(radius)}"/>')
    bore = radius - floor.wall * scale
    parts.append(f'<circle class="hole" {axis} r="{_figure(bore)}"/>')
    low += PITCH
    said = floor.speech.said
    first, last = floor.speech.number(levels[0]), said(levels[-1], "°C")
    bands = f"bands of {said(step.value(1), 'K')}, {first} to {last}"
    for words in (*(layer.words for layer in floor.layers), bands):
        parts.append(_text(0, low, _cut(words, WIDTH), cls="quiet"))
        low += PITCH
    return _svg(parts, low - PITCH + 4)


def _surface_curve(floor: Floor, scale: float, middle: float) -> tuple[str, float]:
    """The surface's temperature over one spacing with its highest, mean and limit, and its end."""
    highest = max(degrees for _, degrees in floor.surface)
    levels = [(highest, "highest", "solid"), (floor.mean, "mean", "dashed")]
    if floor.limit is not None:
        levels.append((floor.limit, "limit", "dotted"))
    least = min(degrees for _, degrees in floor.surface)
    low, high = _apart(least, max(level for level, _, _ in levels))
    free = 0.1 * (high - low)
    upward = _Scale(low - free, high + free, SURFACE_TALL + PITCH, PITCH)
    half = floor.spacing / 2 * scale
    points = [(middle + x * scale, upward.at(t)) for x, t in floor.surface]
    points = [(2 * middle - x, y) for x, y in reversed(points)] + points[1:]
    d = "L".join(f"{_figure(x)} {_figure(y)}" for x, y in points)
    parts = [f'<path class="solid" d="M{d}"/>']
    taken: list[float] = []
    for level, words, cls in levels:
        y = upward.at(level)
        if cls != "solid":
            parts.append(_line(middle - half, y, middle + half, y, cls))
        place = y + 4
        while any(abs(place - other) < LETTER for other in taken):
            place += 2
        taken.append(place)
        parts.append(_text(0, place, f"{words} {floor.speech.said(round(level, 1), '°C')}"))
    return "".join(parts), SURFACE_TALL + 1.5 * PITCH


def _band(
    lines: Sequence[Sequence[tuple[float, float, float]]],
    level: float,
    across: Callable[[float], float],
    down: Callable[[float], float],
) -> str:
    """What is at least this warm round the pipe, as a path; mirrored at the pipe's middle."""
    edge: list[tuple[float, float]] = []
    for warm in lines:
        if not warm or warm[0][2] < level:
            continue
        if not edge:
            edge.append((0.0, warm[0][1]))
        for (x, y, t), (further, lower, colder) in pairwise(warm):
            if colder < level:
                share = (t - level) / (t - colder)
                edge.append((x + share * (further - x), y + share * (lower - y)))
                break
        else:
            edge.append(warm[-1][:2])
        last = warm[0][1]
    if len(edge) < 2:
        return ""
    edge.append((0.0, last))
    low = [_figure(down(y)) for _, y in edge]
    right = [f"{_figure(across(x))} {y}" for (x, _), y in zip(edge, low, strict=True)]
    left = [f"{_figure(across(-x))} {y}" for (x, _), y in zip(edge, low, strict=True)]
    return "M" + "L".join((*right, *reversed(left))) + "Z"


class _Scale(NamedTuple):
    """Where values from low to high stand, from first to last."""

    low: float
    high: float
    first: float
    last: float

    def at(self, value: float) -> float:
        return self.first + (value - self.low) / (self.high - self.low) * (self.last - self.first)


class _Step(NamedTuple):
    """From one tick to the next: 1, 2 or 5 times a power of ten."""

    times: int
    power: int

    def value(self, place: int) -> float:
        # Dividing by a power of ten gives the number nearest to what is read, multiplying not.
        whole = place * self.times
        return whole * 10.0**self.power if self.power >= 0 else whole / 10.0**-self.power

    def below(self, value: float) -> float:
        return self.value(math.floor(value / self.value(1) + 1e-9))

    def above(self, value: float) -> float:
        return self.value(math.ceil(value / self.value(1) - 1e-9))

    def ticks(self, low: float, high: float) -> list[tuple[float, str]]:
        """Each tick from low to high, with its label."""
        first = math.ceil(low / self.value(1) - 1e-9)
        last = math.floor(high / self.value(1) + 1e-9)
        places = [self.value(place) for place in range(first, last + 1)]
        return [(value, f"{value:.{max(0, -self.power)}f}") for value in places]


def _step(
    low: float,
    high: float,
    length: float,
    room: Callable[[str], float],
    counted: bool = False,
) -> _Step:
    """The smallest step at which every label has the room that it takes; counted: a whole one."""
    least = math.floor(math.log10((high - low) / MOST_TICKS))
    for power in count(max(0, least) if counted else least):
        for times in (1, 2, 5):
            step = _Step(times, power)
            ticks = step.ticks(low, high)
            if len(ticks) > MOST_TICKS:
                continue
            needs = max((room(label) for _, label in ticks), default=0.0)
            if needs <= step.value(1) / (high - low) * length:
                return step
    raise AssertionError  # some step is as long as the scale


def _across(
    scale: _Scale,
    most: float,
    top: float,
    bottom: float,
    unit: str,
    speech: Speech,
    counted: bool = False,
) -> Iterator[str]:
    """Upright lines up to the highest value, their labels below, and the unit before the first."""
    length = scale.last - scale.first
    step = _step(scale.low, scale.high, length, lambda label: _width(label) + 2 * GAP, counted)
    begins = scale.first
    for value, label in step.ticks(scale.low, most):
        x = scale.at(value)
        yield _line(x, top, x, bottom, "grid")
        if x + _width(label) / 2 <= WIDTH:
            yield _text(x, bottom + BELOW, speech.marked(label), "middle")
            begins = min(begins, x - _width(label) / 2)
    yield _text(begins - GAP / 2, bottom + BELOW, unit, "end", "quiet")


def _ends(mark: Mark) -> tuple[float, ...]:
    return (mark.at,) if mark.to is None else (mark.at, mark.to)


def _apart(low: float, high: float) -> tuple[float, float]:
    """A scale needs two ends."""
    return (low, high) if high > low else (low, low + (abs(low) / 10 or 1.0))


def _key(samples: Iterable[tuple[str, str]], left: float, y: float) -> tuple[str, float]:
    """What shapes mean, in as many lines as it takes, and where it ends; y: of the first line."""
    parts = []
    x = left
    end = y - PITCH
    for sample, words in samples:
        needs = SAMPLE + GAP / 2 + _width(words)
        if x > left and x + needs > WIDTH:
            x, y = left, y + PITCH
        parts.append(f'<g transform="translate({_figure(x)} {_figure(y - 4)})">{sample}</g>')
        parts.append(_text(x + SAMPLE + GAP / 2, y, words))
        x += needs + 2 * GAP
        end = y
    return "".join(parts), max(end, y - PITCH) + LETTER / 2


def _sample(shape: Shape) -> str:
    return _shape(shape, *((0, SAMPLE) if "BAR" in shape.name or "SPAN" in shape.name else (9, 9)))


def _line_sample(line: Curve) -> str:
    path = f'<path class="{line.stroke.value}" d="M0 0H{SAMPLE}"/>'
    marker = _shape(line.marker, SAMPLE / 2, SAMPLE / 2) if line.marker else ""
    return (path if line.stroke is not Stroke.NONE else "") + marker


def _mark(mark: Mark, scale: _Scale, y: float) -> str:
    x, to = scale.at(mark.at), scale.at(mark.at if mark.to is None else mark.to)
    return _shape(mark.shape, min(x, to), max(x, to), y)


def _shape(shape: Shape, x: float, to: float, y: float = 0) -> str:
    top = y - THICK / 2
    match shape:
        case Shape.BAR:
            return _rect(x, to, top, "bar")
        case Shape.BROKEN_BAR:
            return _rect(x, to, top, "broken") + _hatch(x, to, top)
        case Shape.SPARE_BAR:
            dots = (f"M{_figure(x + 3)} {_figure(y + by)}H{_figure(to - 2)}" for by in (-2.5, 2.5))
            inside = f'<path class="dots" d="{"".join(dots)}"/>' if to - x > 6 else ""
            return _rect(x, to, top, "spare") + inside
        case Shape.SPAN:
            return _line(x, y, to, y, "span")
        case Shape.APART_SPAN:
            return _line(x, y, to, y, "span apart")
        case Shape.DOT:
            return f'<circle class="dot" cx="{_figure(x)}" cy="{_figure(y)}" r="3.8"/>'
        case Shape.CROSS:
            corner = f"{_figure(x - 4)} {_figure(y - 4)}"
            return f'<path class="cross" d="M{corner}l8 8m0-8l-8 8"/>'
        case Shape.DIAMOND:
            return f'<path class="diamond" d="M{_figure(x)} {_figure(y - 7)}l7 7l-7 7l-7-7z"/>'
        case Shape.SQUARE:
            corner = f'x="{_figure(x - 4)}" y="{_figure(y - 4)}"'
            return f'<rect class="square" {corner} width="8" height="8"/>'
        case Shape.UPRIGHT:
            return _line(x, y - PITCH / 2 + 1, x, y + PITCH / 2 - 1, "upright")


def _hatch(x: float, to: float, top: float) -> str:
    """Slanting lines over a bar, cut at its ends."""
    width = to - x
    parts = []
    for foot in range(6 - THICK, math.ceil(width), 6):
        first, last = max(0, foot), min(width, foot + THICK)
        start = f"M{_figure(x + first)} {_figure(top + THICK - (first - foot))}"
        parts.append(f"{start}l{_figure(last - first)} {_figure(first - last)}")
    return f'<path class="hatch" d="{"".join(parts)}"/>'


def _rect(x: float, to: float, top: float, cls: str) -> str:
    place = f'x="{_figure(x)}" y="{_figure(top)}" width="{_figure(to - x)}"'
    return f'<rect class="{cls}" {place} height="{THICK}"/>'


def _line(x1: float, y1: float, x2: float, y2: float, cls: str) -> str:
    ends = f'x1="{_figure(x1)}" y1="{_figure(y1)}" x2="{_figure(x2)}" y2="{_figure(y2)}"'
    return f'<line class="{cls}" {ends}/>'


def _text(
    x: float, y: float, words: str, anchor: str = "start", cls: str = "", title: str = ""
) -> str:
    """Words; title: the whole of what was cut."""
    said = "" if anchor == "start" else f' text-anchor="{anchor}"'
    said += f' class="{cls}"' if cls else ""
    whole = f"<title>{escape(visible(title))}</title>" if title else ""
    place = f'x="{_figure(x)}" y="{_figure(y)}"'
    return f"<text {place}{said}>{whole}{escape(visible(words))}</text>"


def _svg(parts: Iterable[str], height: float, is_read: bool = False) -> Markup:
    """is_read: whether its words stand nowhere else, so that they are read out."""
    hidden = "" if is_read else ' aria-hidden="true"'
    cls = "chart tall" if height >= TALL else "chart"
    start = f'<svg class="{cls}" viewBox="0 0 {WIDTH} {_figure(height)}"{hidden} focusable="false">'
    return Markup(f"{start}{''.join(parts)}</svg>")  # every word in it went through `escape`


PAPER = {
    "card": "#ffffff",
    "ink": "#1c2326",
    "muted": "#556066",
    "line": "#d8d6cf",
    "bar": "#2d6e74",
    "bad": "#a62b1a",
}
"""The colours of a page in daylight, for a picture that stands in no page."""


def alone(picture: Markup, title: str, says: str) -> str:
    """A picture as a file of its own, under its heading and what is to be seen in it.

    Its colours are written out, because few programs but browsers know a page's properties.
    """
    start, _, rest = picture.partition(">")
    content = rest.removesuffix("</svg>")
    height = float(start.partition(f'viewBox="0 0 {WIDTH} ')[2].partition('"')[0])
    rules = STYLE.partition("\n")[2].partition("@media")[0]
    for name, colour in PAPER.items():
        rules = rules.replace(f"var(--{name})", colour)
    lines = [*_lines(title, WIDTH), "", *_lines(says, WIDTH)]
    words = "".join(_text(0, LETTER + PITCH * n, line) for n, line in enumerate(lines) if line)
    top = PITCH * (len(lines) + 0.5)
    around = f"{-GAP} {-GAP} {WIDTH + 2 * GAP} {_figure(top + height + 2 * GAP)}"
    paper = f'<rect x="{-GAP}" y="{-GAP}" width="100%" height="100%" fill="{PAPER["card"]}"/>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="{around}" role="img" '
        f'width="{2 * WIDTH}"><title>{escape(visible(title))}</title>'
        f"<desc>{escape(visible(says))}</desc><style>{rules}</style>{paper}{words}"
        f'<g transform="translate(0 {_figure(top)})">{content}</g></svg>\n'
    )


def _lines(words: str, room: float) -> list[str]:
    """Words in lines that fit."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and _width(longer) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _figure(value: float) -> str:
    return f"{round(value, 1):g}"


def _width(words: str) -> float:
    """How wide words are at most, in the widest of the fonts that a page names."""
    return LETTER * sum(map(_letter, words))


@lru_cache(4096)
def _letter(sign: str) -> float:
    if unicodedata.east_asian_width(sign) in "WF" or sign in "mwMW@%…—":
        return 1.0
    if sign in "ijl.,:;'|!()[]/-· trf":
        return 0.42
    return 0.8 if sign.isupper() else 0.65


def _cut(label: str, room: float) -> str:
    """The label, without its middle where it is too long: names often differ at their ends."""
    if _width(label) <= room:
        return label
    keep = len(label) - 1
    while keep > 2:
        start, end = label[: keep - keep // 2], label[len(label) - keep // 2 :]
        if _width(cut := f"{start.rstrip()}…{end.lstrip()}") <= room:
            return cut
        keep -= 1
    return label[:1] + "…"
