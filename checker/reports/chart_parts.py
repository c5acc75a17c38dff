"""The parts of charts as SVG: marks, lines, text and its width."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable
from enum import Enum
from functools import lru_cache
from html import escape
from typing import NamedTuple

from markupsafe import Markup

from checker.reports.chart_scales import Scale
from checker.words import visible

WIDTH = 360
"""Width of a picture in units of the drawing; it is shown at about a pixel a unit."""

LETTER = 12
"""Height of letters."""

PITCH = 18
"""Distance between rows, and between lines of text."""

THICK = 11
"""Height of a bar."""

GAP = 7
"""Space between text and what it belongs to."""

SAMPLE = 18
"""Width of a shape in the key."""

TALL = 400
"""A chart of at least this height has `tall` in its class, so that a page can give it two
places.
"""

STYLE = Markup(f"""\
.chart {{ display: block; width: 100%; min-width: 21rem; max-width: 27rem; height: auto; margin-top: .4rem; }}
.chart text {{ font: {LETTER}px system-ui, "Segoe UI", Roboto, "Noto Sans", sans-serif; fill: var(--ink); font-variant-numeric: tabular-nums; paint-order: stroke; stroke: var(--card); stroke-width: 3px; stroke-linejoin: round; }} .chart .quiet {{ fill: var(--muted); }}
.chart text.within {{ fill: var(--card); stroke: none; }}
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
    """The shape of a value, or of the range between two."""

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


def ends_of(mark: Mark) -> tuple[float, ...]:
    """The value of a mark, or both ends of its range.

    Args:
        mark: a value, or a range.

    Returns:
        One or two values, in the unit of the mark.
    """
    return (mark.at,) if mark.to is None else (mark.at, mark.to)


def key_of(samples: Iterable[tuple[str, str]], left: float, y: float) -> tuple[str, float]:
    """The key of the shapes, in as many lines as it needs.

    Args:
        samples: each shape as SVG, and its words.
        left: where each line begins, in units of the drawing.
        y: the base of the first line's letters.

    Returns:
        The SVG, and the lower end of the key; where there is no sample, the end that it would have
        without its first line.
    """
    parts = []
    x = left
    end = y - PITCH
    for sample, words in samples:
        needs = SAMPLE + GAP / 2 + width_of(words)
        if x > left and x + needs > WIDTH:
            x, y = left, y + PITCH
        parts.append(f'<g transform="translate({figure(x)} {figure(y - 4)})">{sample}</g>')
        parts.append(letters_at(x + SAMPLE + GAP / 2, y, words))
        x += needs + 2 * GAP
        end = y
    return "".join(parts), max(end, y - PITCH) + LETTER / 2


def sample_of(shape: Shape) -> str:
    """A shape for the key.

    Args:
        shape: any shape.

    Returns:
        SVG with its left end at 0 and its middle at a height of 0.
    """
    return drawn_shape(
        shape, *((0, SAMPLE) if "BAR" in shape.name or "SPAN" in shape.name else (9, 9))
    )


def drawn_mark(mark: Mark, scale: Scale, y: float) -> str:
    """A mark on its scale.

    Args:
        mark: a value, or a range.
        scale: the horizontal scale.
        y: the middle of the mark, in units of the drawing.

    Returns:
        SVG.
    """
    x, to = scale.at(mark.at), scale.at(mark.at if mark.to is None else mark.to)
    return drawn_shape(mark.shape, min(x, to), max(x, to), y)


def drawn_shape(shape: Shape, x: float, to: float, y: float = 0) -> str:
    """A shape between two places.

    Args:
        shape: any shape; one for a single value is drawn at `x`.
        x: the left end, in units of the drawing.
        to: the right end.
        y: the middle.

    Returns:
        SVG.
    """
    top = y - THICK / 2
    match shape:
        case Shape.BAR:
            return rect(x, to, top, "bar")
        case Shape.BROKEN_BAR:
            return rect(x, to, top, "broken") + _hatch(x, to, top)
        case Shape.SPARE_BAR:
            dots = (f"M{figure(x + 3)} {figure(y + by)}H{figure(to - 2)}" for by in (-2.5, 2.5))
            inside = f'<path class="dots" d="{"".join(dots)}"/>' if to - x > 6 else ""
            return rect(x, to, top, "spare") + inside
        case Shape.SPAN:
            return stroke_line(x, y, to, y, "span")
        case Shape.APART_SPAN:
            return stroke_line(x, y, to, y, "span apart")
        case Shape.DOT:
            return f'<circle class="dot" cx="{figure(x)}" cy="{figure(y)}" r="3.8"/>'
        case Shape.CROSS:
            corner = f"{figure(x - 4)} {figure(y - 4)}"
            return f'<path class="cross" d="M{corner}l8 8m0-8l-8 8"/>'
        case Shape.DIAMOND:
            return f'<path class="diamond" d="M{figure(x)} {figure(y - 7)}l7 7l-7 7l-7-7z"/>'
        case Shape.SQUARE:
            corner = f'x="{figure(x - 4)}" y="{figure(y - 4)}"'
            return f'<rect class="square" {corner} width="8" height="8"/>'
        case Shape.UPRIGHT:
            return stroke_line(x, y - PITCH / 2 + 1, x, y + PITCH / 2 - 1, "upright")


def _hatch(x: float, to: float, top: float) -> str:
    """Slanting lines over a bar, cut at its ends."""
    width = to - x
    parts = []
    for foot in range(6 - THICK, math.ceil(width), 6):
        first, last = max(0, foot), min(width, foot + THICK)
        start = f"M{figure(x + first)} {figure(top + THICK - (first - foot))}"
        parts.append(f"{start}l{figure(last - first)} {figure(first - last)}")
    return f'<path class="hatch" d="{"".join(parts)}"/>'


def rect(x: float, to: float, top: float, cls: str) -> str:
    """A rectangle of a bar's height.

    Args:
        x: the left end, in units of the drawing.
        to: the right end.
        top: the upper end.
        cls: its class in STYLE.

    Returns:
        SVG.
    """
    place = f'x="{figure(x)}" y="{figure(top)}" width="{figure(to - x)}"'
    return f'<rect class="{cls}" {place} height="{THICK}"/>'


def stroke_line(x1: float, y1: float, x2: float, y2: float, cls: str) -> str:
    """A straight line.

    Args:
        x1: where it begins, in units of the drawing.
        y1: likewise.
        x2: where it ends.
        y2: likewise.
        cls: its class in STYLE.

    Returns:
        SVG.
    """
    ends = f'x1="{figure(x1)}" y1="{figure(y1)}" x2="{figure(x2)}" y2="{figure(y2)}"'
    return f'<line class="{cls}" {ends}/>'


def letters_at(
    x: float, y: float, words: str, anchor: str = "start", cls: str = "", title: str = ""
) -> str:
    """A text on one line.

    Args:
        x: the place of its anchor, in units of the drawing.
        y: the base of its letters.
        words: what is shown; it is escaped.
        anchor: which part of the text is at `x`: `start`, `middle` or `end`.
        cls: its class in STYLE; empty for plain text.
        title: the full text, where what is shown was cut; empty where it was not.

    Returns:
        SVG.
    """
    said = "" if anchor == "start" else f' text-anchor="{anchor}"'
    said += f' class="{cls}"' if cls else ""
    whole = f"<title>{escape(visible(title))}</title>" if title else ""
    place = f'x="{figure(x)}" y="{figure(y)}"'
    return f"<text {place}{said}>{whole}{escape(visible(words))}</text>"


def svg_of(parts: Iterable[str], height: float, is_read: bool = False) -> Markup:
    """A picture of parts.

    Args:
        parts: SVG; every text in it is escaped already.
        height: of the picture, in units of the drawing; it is WIDTH wide.
        is_read: whether screen readers read its text, because it is nowhere else.

    Returns:
        The picture as `<svg>`.
    """
    hidden = "" if is_read else ' aria-hidden="true"'
    cls = "chart tall" if height >= TALL else "chart"
    start = f'<svg class="{cls}" viewBox="0 0 {WIDTH} {figure(height)}"{hidden} focusable="false">'
    return Markup(f"{start}{''.join(parts)}</svg>")  # every word in it went through `escape`


def broken_lines(words: str, room: float) -> list[str]:
    """A text in lines that fit.

    Args:
        words: the text; its blanks and line ends are where it may be broken.
        room: units of the drawing.

    Returns:
        At least one line; a word that is too long for one is on a line alone.
    """
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and width_of(longer) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


class _Tenths(dict[int, str]):
    """Numbers in tenths as text, each made once, because a page has thousands of coordinates."""

    def __missing__(self, tenths: int) -> str:
        text = f"{tenths / 10:g}"
        if len(self) < MOST_FIGURES:
            self[tenths] = text
        return text


MOST_FIGURES = 20_000
"""Texts for two thousand units on either side of zero, to a tenth."""

_TENTHS = _Tenths()


def figure(value: float) -> str:
    """A coordinate in a picture.

    Args:
        value: units of the drawing.

    Returns:
        The number to a tenth, without a trailing zero.
    """
    return _TENTHS[round(10 * value)]


def figures(values: Iterable[float]) -> list[str]:
    """Many coordinates, as `figure` writes each.

    Args:
        values: units of the drawing; none NaN.

    Returns:
        A text for each, in order.
    """
    import numpy as np  # only where something is drawn: a start over kept pages does without

    tenths = np.rint(10 * np.asarray(values, dtype=np.float64)).astype(np.int64).tolist()
    return [*map(_TENTHS.__getitem__, tenths)]


def width_of(words: str) -> float:
    """The largest width of a text, in the widest of the fonts that a page names.

    Args:
        words: on one line.

    Returns:
        Units of the drawing.
    """
    return LETTER * sum(map(_letter, words))


@lru_cache(4096)
def _letter(sign: str) -> float:
    if unicodedata.east_asian_width(sign) in "WF" or sign in "mwMW@%…—":
        return 1.0
    if sign in "ijl.,:;'|!()[]/-· trf":
        return 0.42
    return 0.8 if sign.isupper() else 0.65


def cut(label: str, room: float) -> str:
    """A label, shortened in the middle where it is too long, because names often differ at their
    ends.

    Args:
        label: the whole name.
        room: units of the drawing.

    Returns:
        The label, or its start and end with an ellipsis between; a letter and the ellipsis, even
        where there is no room for them.
    """
    if width_of(label) <= room:
        return label
    keep = len(label) - 1
    while keep > 2:
        start, end = label[: keep - keep // 2], label[len(label) - keep // 2 :]
        if width_of(cut := f"{start.rstrip()}…{end.lstrip()}") <= room:
            return cut
        keep -= 1
    return label[:1] + "…"
