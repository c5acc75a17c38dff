"""Pictures of an audit as inline SVG: plain data in, one `<svg>` text out, the same for the same.

Colours are the page's own custom properties, so that a picture is light or dark with its page.
What is apart is also said by its shape and in words, never by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import NamedTuple

from markupsafe import Markup, escape

from checker.words import measure, number

WIDE, NARROW = 640, 400
"""Units of a drawing across the page, and beside another; a unit is about a pixel."""
LETTER = 7.2
"""Units that a letter of a label takes, at most."""
ROW = 30
RIGHT = 20


class Compared(NamedTuple):
    """One row of a picture of measured against computed."""

    label: str
    measured: float
    accuracy: float
    computed: float
    apart: bool


class Ranged(NamedTuple):
    """One row of a picture of what readings say: a range, and what is stated."""

    label: str
    value: float
    low: float
    high: float
    stated: float | None


class Weighed(NamedTuple):
    """One row of a picture of causes: points for, against (below 0), and together."""

    label: str
    speaks_for: float
    against: float
    total: float


class _Scale:
    """Turns values into places on a drawing so wide, right of its labels."""

    def __init__(self, low: float, high: float, width: int, labels: Iterable[str]) -> None:
        room = (high - low) * 0.08 or 1.0
        self.low, self.high, self.width = low - room, high + room, width
        self.left = round(max(LETTER * len(label) for label in labels) + 16)

    def at(self, value: float) -> float:
        """Where the value stands."""
        share = (value - self.low) / (self.high - self.low)
        return round(self.left + share * (self.width - self.left - RIGHT), 1)

    def ticks(self) -> list[float]:
        """About five round values on the scale."""
        span = self.high - self.low
        step = 10.0 ** int(f"{span / 5:e}".split("e")[1])
        step *= next(m for m in (1, 2, 5, 10) if span / (step * m) <= 6)
        first = int(self.low / step) if self.low < 0 else int(self.low / step) + 1
        return [i * step for i in range(first, int(self.high / step) + 1) if i * step >= self.low]


def _text(x: float, y: float, words: str, anchor: str = "start", style: str = "") -> str:
    return f'<text x="{x}" y="{y}" text-anchor="{anchor}" {style}>{escape(words)}</text>'


def _line(x1: float, y1: float, x2: float, y2: float, style: str) -> str:
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" style="{style}"/>'


def _drawing(title: str, width: int, height: float, parts: Iterable[str]) -> Markup:
    return Markup(
        f'<svg viewBox="0 0 {width} {height:g}" role="img" aria-label="{escape(title)}" '
        f'xmlns="http://www.w3.org/2000/svg">{"".join(parts)}</svg>'
    )  # every word in it went through escape


def _axis(scale: _Scale, rows: int, unit: str) -> list[str]:
    bottom = rows * ROW + 8
    parts = []
    for tick in scale.ticks():
        x = scale.at(tick)
        parts.append(_line(x, 0, x, bottom, "stroke:var(--line)"))
        parts.append(_text(x, bottom + 16, number(tick), "middle", 'class="tick"'))
    parts.append(_text(scale.width - 2, bottom + 32, unit, "end", 'class="tick"'))
    return parts


def compared(title: str, unit: str, rows: Sequence[Compared]) -> Markup:
    """Readings (dots with what the instruments allow) against what the model gives (diamonds)."""
    lows = [min(row.measured - row.accuracy, row.computed) for row in rows]
    highs = [max(row.measured + row.accuracy, row.computed) for row in rows]
    scale = _Scale(min(lows), max(highs), NARROW, [row.label for row in rows])
    parts = _axis(scale, len(rows), unit)
    for place, row in enumerate(rows):
        y = place * ROW + ROW / 2 + 4
        colour = "var(--bad)" if row.apart else "var(--bar)"
        x, low, high, model = (
            scale.at(value)
            for value in (
                row.measured,
                row.measured - row.accuracy,
                row.measured + row.accuracy,
                row.computed,
            )
        )
        parts.append(_text(scale.left - 10, y + 4, row.label, "end"))
        parts.append(_line(low, y, high, y, f"stroke:{colour};stroke-width:5;opacity:.35"))
        shape = f"M{model} {y - 7}L{model + 7} {y}L{model} {y + 7}L{model - 7} {y}Z"
        parts.append(f'<path d="{shape}" style="fill:none;stroke:var(--ink);stroke-width:1.6"/>')
        parts.append(f'<circle cx="{x}" cy="{y}" r="4.5" style="fill:{colour}"/>')
    return _drawing(title, NARROW, len(rows) * ROW + 46, parts)


def ranged(title: str, unit: str, rows: Sequence[Ranged]) -> Markup:
    """What readings say of a property: the range of 95 %, its middle, and what is stated."""
    values = [v for r in rows for v in (r.low, r.high, r.stated) if v is not None]
    scale = _Scale(min(values), max(values), NARROW, [row.label for row in rows])
    parts = _axis(scale, len(rows), unit)
    for place, row in enumerate(rows):
        y = place * ROW + ROW / 2 + 4
        stated = row.stated
        outside = stated is not None and not row.low <= stated <= row.high
        colour = "var(--bad)" if outside else "var(--bar)"
        low, high, x = scale.at(row.low), scale.at(row.high), scale.at(row.value)
        parts.append(_text(scale.left - 10, y + 4, row.label, "end"))
        parts.append(_line(low, y, high, y, f"stroke:{colour};stroke-width:7;opacity:.4"))
        parts.append(f'<circle cx="{x}" cy="{y}" r="4.5" style="fill:{colour}"/>')
        if stated is not None:
            x = scale.at(stated)
            parts.append(_line(x, y - 10, x, y + 10, "stroke:var(--ink);stroke-width:2.5"))
    return _drawing(title, NARROW, len(rows) * ROW + 46, parts)


def weighed(title: str, rows: Sequence[Weighed]) -> Markup:
    """Points for and against each cause, and what they come to with how often it is met."""
    lows = [min(row.against, row.total) for row in rows]
    highs = [max(row.speaks_for, row.total) for row in rows]
    scale = _Scale(min(-1.0, *lows), max(1.0, *highs), WIDE, [row.label for row in rows])
    parts = _axis(scale, len(rows), "points")
    zero = scale.at(0)
    for place, row in enumerate(rows):
        y = place * ROW + 6
        plus, minus, x = scale.at(row.speaks_for), scale.at(row.against), scale.at(row.total)
        parts.append(_text(scale.left - 10, y + 13, row.label, "end"))
        parts.append(
            f'<rect x="{zero}" y="{y}" width="{round(plus - zero, 1)}" height="18" '
            'style="fill:var(--bar)"/>'
        )
        parts.append(
            f'<rect x="{minus}" y="{y}" width="{round(zero - minus, 1)}" height="18" '
            'style="fill:url(#spare);stroke:var(--muted)"/>'
        )
        parts.append(_line(x, y - 4, x, y + 22, "stroke:var(--ink);stroke-width:3"))
    parts.append(_line(zero, 0, zero, len(rows) * ROW + 8, "stroke:var(--ink)"))
    return _drawing(title, WIDE, len(rows) * ROW + 46, parts)


def timeline(title: str, events: Sequence[tuple[str, date]]) -> Markup:
    """Days along a line; every step has the same length, and the days between stand on it."""
    if not events:
        return Markup("")
    step = (WIDE - 110) / max(1, len(events) - 1)
    parts = [_line(55, 60, 55 + step * (len(events) - 1), 60, "stroke:var(--ink);stroke-width:2")]
    for place, (name, on) in enumerate(events):
        x = round(55 + place * step, 1)
        late = place and on < events[place - 1][1]
        colour = "var(--bad)" if name == "complaint" or late else "var(--bar)"
        parts.append(f'<circle cx="{x}" cy="60" r="6" style="fill:{colour}"/>')
        parts.append(_text(x, 40, name, "middle", 'style="font-weight:700"'))
        parts.append(_text(x, 86, on.isoformat(), "middle"))
        if place:
            days = (on - events[place - 1][1]).days
            parts.append(_text(round(x - step / 2, 1), 54, f"{days} d", "middle", 'class="tick"'))
    return _drawing(title, WIDE, 100, parts)


def told(row: Compared, unit: str) -> str:
    """A row in words, for who does not see the picture."""
    return (
        f"{row.label}: {measure(row.measured, unit)} read, {measure(row.computed, unit)} computed"
    )
