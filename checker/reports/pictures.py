"""Pictures as inline SVG: plain data in, one `<svg>` text out, the same bytes for the same data.

Colours are the page's own custom properties (`--ink`, `--bar`, …), so that a picture is light or
dark with its page. What breaks a limit is hatched and said in words, never told by colour alone.
"""

from __future__ import annotations

import io
import logging
import re
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, NamedTuple

logging.getLogger("matplotlib").setLevel(logging.ERROR)  # it tells of its font cache

import matplotlib  # noqa: E402
from matplotlib.axes import Axes  # noqa: E402
from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: E402
from matplotlib.figure import Figure  # noqa: E402
from matplotlib.ticker import MaxNLocator  # noqa: E402

INK, MUTED, LINE, BAR, BAD, SOFT = (
    "#010203",
    "#010204",
    "#010205",
    "#010206",
    "#010207",
    "#010208",
)
"""Stand-ins for the page's colours, exchanged once the picture is drawn.

The last two are patterns that the page brings, `#broken` and `#spare`.
"""
_PROPERTIES = {
    INK: "var(--ink)",
    MUTED: "var(--muted)",
    LINE: "var(--line)",
    BAR: "var(--bar)",
    BAD: "url(#broken)",
    SOFT: "url(#spare)",
}

WIDTH = 4.7
"""Inches; as wide as a phone, so that letters keep their size there."""
SIZE = 8.5
"""Points; letters, as the page's style sheet has them."""
LETTER = 0.56
"""Width of a letter, as a share of its size; a sans serif's mean is about a half."""
LEAST_ROOM = 1.42
"""Of the scale over its highest value."""
MOST_ROWS = 40
LONGEST_LABEL = 18


class Bar(NamedTuple):
    """One row of a picture of values against their limits.

    extra: what is added at the end of the bar, dotted; broken: whether the limit is not kept.
    """

    label: str
    value: float
    limit: float | None = None
    broken: bool = False
    extra: float = 0.0
    note: str = ""


class Curve(NamedTuple):
    """A line through points; how it is drawn, and what it is called."""

    label: str
    points: Sequence[tuple[float, float]]
    style: str = "-"
    colour: str = BAR
    marker: str = ""


def bars(unit: str, rows: Sequence[Bar], limit_label: str, start: float = 0) -> str:
    """Values as bars, each with a tick at its limit. start: where the scale begins."""
    rows = rows[:MOST_ROWS]
    labels = [_short(row.label) for row in rows]
    height = 0.5 + 0.21 * len(rows)
    with _figure(height) as figure:
        left = min(0.36, 0.03 + 0.0155 * max(len(label) for label in labels))
        axes = _axes(figure, (left, 0.34 / height, 0.985 - left, 1 - 0.5 / height))
        highest = max(max(row.value + row.extra, row.limit or 0) for row in rows)
        places = range(len(rows))
        for place, row in zip(places, rows, strict=True):
            colour = BAD if row.broken else BAR
            axes.barh(
                place,
                row.value - start,
                left=start,
                height=0.62,
                facecolor=colour,
                edgecolor=INK if row.broken else MUTED,
                linewidth=0.6,
            )
            if row.extra:
                axes.barh(
                    place,
                    row.extra,
                    left=row.value,
                    height=0.62,
                    facecolor=SOFT,
                    edgecolor=MUTED,
                    linewidth=0.6,
                )
            if row.limit is not None:
                axes.plot(
                    [row.limit] * 2, [place - 0.46, place + 0.46], color=INK, linewidth=2, zorder=3
                )
            end = max(row.value + row.extra, row.limit or 0)
            axes.text(end + (highest - start) * 0.02, place, row.note, va="center", color=INK)
        axes.set_yticks([*places], labels)
        axes.set_ylim(len(rows) - 0.4, -0.6)
        axes.set_xlim(start, start + (highest - start) * _room(rows, highest, start, left))
        axes.set_xlabel(f"{unit}   ▏{limit_label}", labelpad=1)
        axes.xaxis.set_major_locator(_ticks())
        axes.grid(axis="x", color=LINE, linewidth=0.5)
        return _svg(figure)


def curves(
    across: str,
    up: str,
    lines: Sequence[Curve],
    from_nought: bool = True,
) -> str:
    """Lines over a common scale."""
    with _figure(2.45) as figure:
        axes = _axes(figure, (0.115, 0.17, 0.865, 0.665))
        for line in lines:
            xs, ys = zip(*line.points, strict=True)
            axes.plot(
                xs,
                ys,
                line.style,
                color=line.colour,
                marker=line.marker,
                markersize=5.5,
                linewidth=1.8,
                label=line.label,
            )
        if from_nought:
            axes.set_ylim(bottom=0)
        else:
            low, high = axes.get_ylim()
            room = max(0.1, (high - low) * 0.15)
            axes.set_ylim(low - room, high + room)
        axes.set_xlabel(across, labelpad=1)
        axes.set_title(up, loc="left", color=MUTED, fontsize=SIZE, pad=20)
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(-0.02, 0.985),
            ncols=4,
            frameon=False,
            labelcolor=INK,
            handlelength=1.8,
            columnspacing=1.0,
        )
        axes.xaxis.set_major_locator(_ticks())
        axes.yaxis.set_major_locator(_ticks())
        axes.grid(color=LINE, linewidth=0.5)
        return _svg(figure)


def _ticks() -> MaxNLocator:
    """Ticks at steps of 1, 2 or 5."""
    return MaxNLocator(5, steps=[1, 2, 5, 10])


def _room(rows: Sequence[Bar], highest: float, start: float, left: float) -> float:
    """How wide the scale must be, as a multiple of the highest value, for every note to fit in.

    left: where the scale begins, as a share of the width.
    """
    across = WIDTH * 72 * (0.985 - left)  # points
    found = LEAST_ROOM
    for row in rows:
        end = max(row.value + row.extra, row.limit or 0)
        share = (end - start) / (highest - start) + 0.02 if highest > start else 1.0
        free = 1 - len(row.note) * SIZE * LETTER / across
        found = max(found, share / max(free, 0.2))
    return found


def _short(label: str) -> str:
    return label if len(label) <= LONGEST_LABEL else label[: LONGEST_LABEL - 1] + "…"


@contextmanager
def _figure(height: float) -> Iterator[Figure]:
    look: dict[Any, Any] = {
        "svg.fonttype": "none",
        "text.parse_math": False,  # a room may be called "$"
        "font.size": SIZE,
    }
    with matplotlib.rc_context(look), warnings.catch_warnings():
        # A letter that the measuring font lacks is drawn by the reader's own font.
        warnings.simplefilter("ignore")
        yield Figure(figsize=(WIDTH, height))


def _axes(figure: Figure, place: tuple[float, float, float, float]) -> Axes:
    axes = figure.add_axes(place)
    axes.patch.set_visible(False)
    axes.tick_params(length=0, labelsize=SIZE, labelcolor=INK, pad=3)
    axes.xaxis.label.set_color(MUTED)
    axes.set_axisbelow(True)
    for side in ("top", "right", "bottom"):
        axes.spines[side].set_visible(False)
    axes.spines["left"].set_color(MUTED)
    return axes


_ROOT = re.compile(r".*?<svg[^>]*?(viewBox=\"[^\"]*\")[^>]*>", re.DOTALL)
_MARKER = re.compile(r'<path id="(m[0-9a-f]+)"([^>]*)/>')
_USE = re.compile(r'<use xlink:href="#(m[0-9a-f]+)" x="([0-9.]+)" y="([0-9.]+)"[^>]*/>')
_SPARE = re.compile(
    r"<metadata>.*?</metadata>|<defs>.*?</defs>|<!--.*?-->"
    r"| (?:id|clip-path)=\"[^\"]*\"|"
    r" transform=\"rotate\(-0[^\"]*\"|; stroke-line(?:join: miter|cap: square)",
    re.DOTALL,
)
_COMMON = re.compile(r"font(?:-size)?: [0-9.]+px[^\"]*?; (?=text-anchor)|text-anchor: start; ")
"""What the page says of all letters, so that none need say it."""
_LONG_NUMBER = re.compile(r"\d+\.\d{2,}(?=[^<>]*>)")
"""A coordinate; a number that is read stays as it is."""
_SPACE = re.compile(r"\s*\n\s*|(?<=>)\s+(?=<)")
_BETWEEN = re.compile(r">\s+<")
_GROUP = re.compile(r"</?g>|<g/>")


def _svg(figure: Figure) -> str:
    """The picture, of which nothing is left but what is seen."""
    figure.patch.set_visible(False)
    stream = io.StringIO()
    canvas: Any = FigureCanvasSVG(figure)
    canvas.print_svg(stream, metadata={"Date": None, "Creator": None})
    text = stream.getvalue()
    # A marker drawn where it stands needs no name, which another picture of the page could share.
    markers = dict(_MARKER.findall(text))
    text = _USE.sub(
        lambda use: f'<path transform="translate({use[2]} {use[3]})"{markers[use[1]]}/>', text
    )
    text = _SPARE.sub("", text)
    text = _ROOT.sub(r'<svg \1 aria-hidden="true" focusable="false">', text, count=1)
    text = _LONG_NUMBER.sub(lambda found: f"{float(found[0]):.1f}", text)
    text = _GROUP.sub("", _SPACE.sub(" ", _COMMON.sub("", text)))
    for stand_in, value in _PROPERTIES.items():
        text = text.replace(stand_in, value)
    return _BETWEEN.sub("><", text).strip()
