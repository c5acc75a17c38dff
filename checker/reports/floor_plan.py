"""The plan of a floor as inline SVG: each loop by its result, and the places of findings.

Colours are the page's own custom properties, with defaults for pages without them. What is wrong
differs in dash and sign too, never in colour alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape
from itertools import pairwise
from math import dist
from typing import NamedTuple

from markupsafe import Markup

from checker.outcome.drawn_records import Points, Sketch
from checker.outcome.report import DesignReport
from checker.words import visible

WIDTH = 1000
"""Units of the drawing across; all lengths here are in them."""
TALLEST = 1600
"""Largest height of the picture."""
EDGE = 14
"""Free space on each side."""
LETTER = 21
"""Height of letters."""
SMALLEST = 13
"""Height of letters that would otherwise extend beyond their room."""
ARROW = 11
"""Length of the head of an arrow."""
RING = 12
"""Radius of the ring around a crossing."""
MOST_RINGS = 200
"""More would hide the plan."""


class State(NamedTuple):
    """How a loop's line looks, and the sign beside its name."""

    colour: str
    dash: str
    width: float
    sign: str
    words: str


FINE = State("var(--bar, #2d6e74)", "", 1.7, "", "within its limits")
WAIVED = FINE._replace(sign="W", words="accepted by a waiver")
OPEN = State("var(--open, #34529b)", "2 4", 2.0, "?", "open: data are missing")
MILD = State("var(--minor, #7d5600)", "9 4", 1.9, "!", "minor")
GRAVE = State("var(--bad, #a62b1a)", "16 3", 2.4, "✕", "must change")
INK, MUTED, LINE = "var(--ink, #1c2326)", "var(--muted, #556066)", "var(--line, #b5b2a8)"
CARD = "var(--card, #fff)"


def states(design: DesignReport, table: str = "loops") -> dict[str, State]:
    """How the gravest finding of each loop, or record of another table, is drawn.

    Args:
        design: the design's report.
        table: as a design names it.

    Returns:
        By id, without those that have neither a fail nor an open result. Observations do not
        count.
    """
    found: dict[str, State] = {}
    order = (FINE, WAIVED, OPEN, MILD, GRAVE)
    for result in design.results_of("fail", "open"):
        section, _, name = result.subject.partition(".")
        if section != table or result.severity == "observation":
            continue
        own = OPEN
        if result.waived:
            own = WAIVED
        elif result.kind == "fail":
            own = GRAVE if result.severity in ("critical", "major") else MILD
        found[name] = max(found.get(name, FINE), own, key=order.index)
    return found


def floor_plan(design: DesignReport, links: Mapping[str, str] | None = None) -> Markup:
    """The plan of a design, each loop drawn by its gravest finding.

    Args:
        design: the design's report.
        links: by loop, the id on the page of its finding; a loop that is not there is no link.

    Returns:
        The picture; empty for a design without a plan.
    """
    sketch = design.sketch
    if sketch is None or not (sketch.rooms or sketch.routes):
        return Markup("")
    place = _Place(sketch)
    of = states(design)
    parts = [
        *(_outline(place, "room", name, line) for name, line in sketch.rooms),
        *_bare(place, sketch),
        *(_hatched(place, name, line) for name, line in sketch.fixed),
        *(_hatched(place, name, line) for name, line in sketch.keep_clear),
    ]
    for name, line in sketch.routes:
        drawn = _route(place, name, line, of.get(name, FINE))
        link = (links or {}).get(name)
        parts.append(f'<a href="#{escape(link)}">{drawn}</a>' if link else drawn)
    parts += [
        _line(place, line, f'stroke="{INK}" stroke-width="4" stroke-dasharray="2 7"', name)
        for name, line in sketch.joints
    ]
    parts += [
        f'<circle cx="{x}" cy="{y}" r="{RING}" fill="none" stroke="{GRAVE.colour}" '
        'stroke-width="3"/>'
        for x, y in (place.at(spot) for spot in sketch.crossings[:MOST_RINGS])
    ]
    parts += [_name(place, name, line) for name, line in sketch.rooms]
    names = [_tag(place, name, line, of.get(name, FINE)) for name, line in sketch.routes]
    for (name, _), tag in zip(sketch.routes, names, strict=True):
        link = (links or {}).get(name)
        parts.append(f'<a href="#{escape(link)}">{tag}</a>' if link else tag)
    title = f"Plan of {len(sketch.rooms)} rooms and {len(sketch.routes)} loops"
    return Markup(
        f'<svg class="floor-plan" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} '
        f'{place.height}" width="100%" role="img" aria-label="{title}" '
        f'font-family="system-ui, sans-serif" fill="none">{"".join(parts)}</svg>'
    )


def plan_key(design: DesignReport) -> str:
    """The meaning of the lines that occur on the plan.

    Args:
        design: the design's report.

    Returns:
        A sentence; empty for a design without a plan.
    """
    sketch = design.sketch
    if sketch is None:
        return ""
    looks = {
        FINE: "a plain line: within its limits",
        WAIVED: "W: accepted by a waiver",
        OPEN: "dotted and ?: data are missing",
        MILD: "dashed and !: short of good practice",
        GRAVE: "long dashes and ✕: must change",
    }
    of = states(design)
    there = {of.get(name, FINE) for name, _ in sketch.routes}
    said = [words for look, words in looks.items() if look in there]
    if sketch.crossings:
        said.append("rings: pipes over one another")
    if sketch.joints:
        said.append("heavy dots: movement joints")
    if sketch.fixed or sketch.keep_clear:
        said.append("hatched: fixed units")
    if sketch.bare:
        said.append("small dots: bare floor")
    return "Arrows: the way of the flow. " + "; ".join(said).capitalize() + "."


class _Place:
    """Converts metres on the drawing into units of the picture, y upwards."""

    def __init__(self, sketch: Sketch) -> None:
        lines = [line for _, line in (*sketch.rooms, *sketch.routes)]
        xs = [x for line in lines for x, _ in line]
        ys = [y for line in lines for _, y in line]
        self.left, self.top = min(xs), max(ys)
        wide, high = max(max(xs) - self.left, 1e-3), max(self.top - min(ys), 1e-3)
        self.scale = min((WIDTH - 2 * EDGE) / wide, (TALLEST - 2 * EDGE) / high)
        self.aside = (WIDTH - wide * self.scale) / 2
        self.height = round(high * self.scale + 2 * EDGE)

    def at(self, point: tuple[float, float]) -> tuple[float, float]:
        x, y = point
        return (
            round(self.aside + (x - self.left) * self.scale, 1),
            round(EDGE + (self.top - y) * self.scale, 1),
        )

    def path(self, line: Points, *, closed: bool = False) -> str:
        points = [f"{x:g} {y:g}" for x, y in map(self.at, line)]
        return f"M{'L'.join(points)}{'Z' if closed else ''}"


def _outline(place: _Place, kind: str, name: str, line: Points) -> str:
    return (
        f'<path d="{place.path(line, closed=True)}" fill="{CARD}" stroke="{INK}" '
        f'stroke-width="2.5"><title>{_words(name)}</title></path>'
    )


def _hatched(place: _Place, name: str, line: Points) -> str:
    """An outline filled with slanting lines."""
    corners = [place.at(point) for point in line]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    strokes = []
    step, offset = 14.0, min(xs) + min(ys) + 7
    while offset < max(xs) + max(ys):
        cut = _cut(corners, offset)
        strokes += [
            f"M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}"
            for a, b in zip(cut[::2], cut[1::2], strict=False)
        ]
        offset += step
    return (
        f'<g stroke="{MUTED}" stroke-width="1.5"><title>{_words(name)}</title>'
        f'<path d="{place.path(line, closed=True)}" stroke-width="2"/>'
        f'<path d="{"".join(strokes)}"/></g>'
    )


def _cut(corners: list[tuple[float, float]], offset: float) -> list[tuple[float, float]]:
    """Where the line x + y = offset cuts an outline, from left to right."""
    found = []
    for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1], strict=True):
        first, second = x0 + y0 - offset, x1 + y1 - offset
        if (first < 0) != (second < 0):
            share = first / (first - second)
            found.append((x0 + share * (x1 - x0), y0 + share * (y1 - y0)))
    return sorted(found)


def _bare(place: _Place, sketch: Sketch) -> Iterable[str]:
    if sketch.bare:
        dots = "".join("M{:g} {:g}h0".format(*place.at(spot)) for spot in sketch.bare)
        yield (
            f'<path d="{dots}" stroke="{MUTED}" stroke-width="3" stroke-linecap="round">'
            "<title>bare floor</title></path>"
        )


def _route(place: _Place, name: str, line: Points, state: State) -> str:
    dash = f' stroke-dasharray="{state.dash}"' if state.dash else ""
    path = (
        f'<path d="{place.path(line)}" stroke="{state.colour}" stroke-width="{state.width}"{dash} '
        f'stroke-linejoin="round"><title>{_words(name)}: {state.words}</title></path>'
    )
    return path + _arrow(place, line, state)


def _arrow(place: _Place, line: Points, state: State) -> str:
    """The head of an arrow a quarter of the way along, on a run long enough to show it."""
    points = [place.at(point) for point in line]
    lengths = [dist(start, end) for start, end in pairwise(points)]
    quarter, done = sum(lengths) / 4, 0.0
    for (x0, y0), (x1, y1), length in zip(points, points[1:], lengths, strict=False):
        done += length
        if done >= quarter and length > 3 * ARROW:
            ux, uy = (x1 - x0) / length, (y1 - y0) / length
            tip = ((x0 + x1) / 2, (y0 + y1) / 2)
            back = (tip[0] - ux * ARROW, tip[1] - uy * ARROW)
            side = (-uy * ARROW / 2.2, ux * ARROW / 2.2)
            head = (
                tip,
                (back[0] + side[0], back[1] + side[1]),
                (back[0] - side[0], back[1] - side[1]),
            )
            words = " ".join(f"{x:.1f},{y:.1f}" for x, y in head)
            return f'<polygon points="{words}" fill="{state.colour}"/>'
    return ""


def _line(place: _Place, line: Points, look: str, name: str) -> str:
    return f'<path d="{place.path(line)}" {look}><title>{_words(name)}</title></path>'


def _name(place: _Place, name: str, line: Points) -> str:
    """A room's name along its upper wall."""
    corners = [place.at(point) for point in line]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    size = max(SMALLEST, min(LETTER, (max(xs) - min(xs)) / max(len(name), 1) * 1.6))
    middle = (min(xs) + max(xs)) / 2
    return _text(middle, min(ys) + size * 1.2, name, size, INK, bold=False)


def _tag(place: _Place, name: str, line: Points, state: State) -> str:
    """A loop's name in the middle of its route, where its pipe is densest."""
    x, y = place.at(line[len(line) // 2])
    sign = f" {state.sign}" if state.sign else ""
    return _text(x, y, f"{name}{sign}", LETTER, state.colour, bold=True)


def _text(x: float, y: float, words: str, size: float, colour: str, *, bold: bool) -> str:
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:.0f}" text-anchor="middle" '
        f'fill="{colour}" stroke="{CARD}" stroke-width="7" stroke-linejoin="round" '
        f'paint-order="stroke"{weight}>{_words(words)}</text>'
    )


def _words(text: str) -> str:
    return escape(visible(text))
