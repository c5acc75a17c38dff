"""A floor in section as SVG: its layers, pipes, surface temperature and what is below."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from markupsafe import Markup

from checker.reports.chart_parts import (
    LETTER,
    PITCH,
    WIDTH,
    cut,
    figure,
    figures,
    letters_at,
    stroke_line,
    svg_of,
)
from checker.reports.chart_scales import Scale, set_apart, tick_step
from checker.words.speech import PLAIN, Speech

Points = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

FLOOR_TALL = 190
"""Largest height of a floor in section."""

SURFACE_TALL = 70
"""Height of the curve of its surface's temperature."""

WORDS_BESIDE = 104
"""Width of the words beside that curve."""


class Layer(NamedTuple):
    """A layer of a floor in section: words, thickness, m, and whether it has a joist."""

    words: str
    thickness: float
    timber: bool = False


class Floor(NamedTuple):
    """A floor in section over one spacing, in m and the reader's degrees.

    Attributes:
        spacing: between two pipes.
        covering: words for the covering.
        layers: from the top.
        depth: of the pipe's axis.
        outside: the pipe's outside diameter.
        wall: thickness of the pipe's wall.
        plate: thickness, width and depth of its top; None for none.
        joist: width, zero for none.
        lines: rows of points, shape (rows, points, 3): across, down, degrees, from the pipe's
            middle to the middle between two, NaN inside the pipe.
        surface: points (across, degrees).
        mean: of the surface.
        limit: for its highest; None for none.
        speech: how values are shown.
    """

    spacing: float
    covering: str
    layers: Sequence[Layer]
    depth: float
    outside: float
    wall: float
    plate: tuple[float, float, float] | None
    joist: float
    lines: Points
    surface: Sequence[tuple[float, float]]
    mean: float
    limit: float | None
    speech: Speech = PLAIN


def section(floor: Floor) -> Markup:
    """A floor in section: bands of equal temperature, and above it the curve of its surface's.

    Args:
        floor: over one spacing, in m and the reader's degrees.

    Returns:
        The picture as `<svg>`.
    """
    height = sum(layer.thickness for layer in floor.layers)
    scale = min((WIDTH - WORDS_BESIDE) / floor.spacing, FLOOR_TALL / height)
    middle = WORDS_BESIDE + (WIDTH - WORDS_BESIDE) / 2
    curve, top = _surface_curve(floor, scale, middle)
    parts = [curve, letters_at(middle, top + LETTER, floor.covering, "middle", "quiet")]
    top += PITCH
    half = floor.spacing / 2 * scale
    left, right = middle - half, middle + half
    degrees = floor.lines[..., 2]
    coldest, warmest = float(np.nanmin(degrees)), float(np.nanmax(degrees))
    step = tick_step(coldest, warmest, WIDTH, lambda _: 0.0)
    levels = [level for level, _ in step.ticks(coldest, warmest)]
    for d in _bands(floor.lines, levels, middle, top, scale):
        parts.append(f'<path class="band" d="{d}"/>' if d else "")
    low = top
    for layer in floor.layers:
        deep = layer.thickness * scale
        place = f'x="{figure(left)}" y="{figure(low)}" width="{figure(2 * half)}"'
        parts.append(f'<rect class="cut" {place} height="{figure(deep)}"/>')
        if layer.timber:
            wide = floor.joist / 2 * scale
            for x in (left + wide, right - wide):
                parts.append(stroke_line(x, low, x, low + deep, "timber"))
        low += deep
    if floor.plate:
        thick, width, depth = floor.plate
        tall = max(thick * scale, 1.5)
        place = f'x="{figure(middle - width / 2 * scale)}" y="{figure(top + depth * scale)}"'
        size = f'width="{figure(width * scale)}" height="{figure(tall)}"'
        parts.append(f'<rect class="metal" {place} {size}/>')
    axis = f'cx="{figure(middle)}" cy="{figure(top + floor.depth * scale)}"'
    radius = floor.outside / 2 * scale
    if floor.plate:
        ring = radius + max(floor.plate[0] * scale, 1.5)
        parts.append(f'<circle class="metal" {axis} r="{figure(ring)}"/>')
    parts.append(f'<circle class="hole" {axis} r="{figure(radius)}"/>')
    bore = radius - floor.wall * scale
    parts.append(f'<circle class="hole" {axis} r="{figure(bore)}"/>')
    low += PITCH
    said = floor.speech.said
    first, last = floor.speech.number(levels[0]), said(levels[-1], "°C")
    bands = f"bands of {said(step.value(1), 'K')}, {first} to {last}"
    for words in (*(layer.words for layer in floor.layers), bands):
        parts.append(letters_at(0, low, cut(words, WIDTH), cls="quiet"))
        low += PITCH
    return svg_of(parts, low - PITCH + 4)


def _surface_curve(floor: Floor, scale: float, middle: float) -> tuple[str, float]:
    """The surface's temperature over one spacing with its highest, mean and limit, and its lower
    end.
    """
    highest = max(degrees for _, degrees in floor.surface)
    levels = [(highest, "highest", "solid"), (floor.mean, "mean", "dashed")]
    if floor.limit is not None:
        levels.append((floor.limit, "limit", "dotted"))
    least = min(degrees for _, degrees in floor.surface)
    low, high = set_apart(least, max(level for level, _, _ in levels))
    free = 0.1 * (high - low)
    upward = Scale(low - free, high + free, SURFACE_TALL + PITCH, PITCH)
    half = floor.spacing / 2 * scale
    points = [(middle + x * scale, upward.at(t)) for x, t in floor.surface]
    points = [(2 * middle - x, y) for x, y in reversed(points)] + points[1:]
    d = "L".join(map(" ".join, zip(*map(figures, zip(*points, strict=True)), strict=True)))
    parts = [f'<path class="solid" d="M{d}"/>']
    taken: list[float] = []
    for level, words, cls in levels:
        y = upward.at(level)
        if cls != "solid":
            parts.append(stroke_line(middle - half, y, middle + half, y, cls))
        place = y + 4
        while any(abs(place - other) < LETTER for other in taken):
            place += 2
        taken.append(place)
        parts.append(letters_at(0, place, f"{words} {floor.speech.said(round(level, 1), '°C')}"))
    return "".join(parts), SURFACE_TALL + 1.5 * PITCH


def _bands(
    lines: Points, levels: Sequence[float], middle: float, top: float, scale: float
) -> Iterator[str]:
    """For each level the area round the pipe that is at least as warm, as a path; mirrored at its
    middle.
    """
    x, y, degrees = np.moveaxis(lines, -1, 0)
    # Inside the pipe nothing has a temperature; in a row that is what comes first.
    first = np.argmax(~np.isnan(degrees), axis=1)
    rows = np.arange(len(lines))
    start = degrees[rows, first]
    for level in levels:
        own = np.flatnonzero(start >= level)
        if not len(own):
            yield ""
            continue
        colder = degrees[own] < level
        after = np.where(colder.any(axis=1), np.argmax(colder, axis=1), -1)
        before = np.where(after < 0, after, after - 1)
        t, further = degrees[own, before], degrees[own, after]
        share = np.divide(t - level, t - further, out=np.zeros(len(own)), where=after > 0)
        across = x[own, before] + share * (x[own, after] - x[own, before])
        down = y[own, before] + share * (y[own, after] - y[own, before])
        ends = y[own[[0, -1]], first[own[[0, -1]]]]
        across = scale * np.concatenate(([0.0], across, [0.0]))
        low = figures(top + scale * np.concatenate((ends[:1], down, ends[1:])))
        right = map(" ".join, zip(figures(middle + across), low, strict=True))
        left = map(" ".join, zip(figures(middle - across), low, strict=True))
        yield "M" + "L".join((*right, *reversed([*left]))) + "Z"
