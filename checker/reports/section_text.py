"""A floor in section as lines of a terminal: half as many rows as columns, because letters are
tall.
"""

from __future__ import annotations

import textwrap
from bisect import bisect_right
from collections.abc import Sequence

from checker.outcome.drawn_records import FloorPicture
from checker.words.speech import Speech

WIDTH = 78
"""Columns of the whole drawing, so that it fits every terminal and sheet."""
WIDE = 40
"""Columns of the section itself, over one spacing."""
MOST_ROWS = 30
"""Rows of the section; a deeper one is drawn compressed."""
SHADES = "·░▒▓█"
"""Signs for bands of temperature, from the coldest."""
STEPS = " ▁▂▃▄▅▆▇█"
CURVE_ROWS = 3
"""Rows of the surface's temperature."""
BORE, WALL, METAL, TIMBER = " ", "O", "=", "|"


def section_text(picture: FloorPicture, speech: Speech) -> list[str]:
    """A floor in section for a terminal.

    Args:
        picture: the floor, in m and °C.
        speech: how temperatures are shown.

    Returns:
        Lines of at most 78 columns: the surface's temperature over one spacing, the layers below it
        in shades, and their key.
    """
    beside = [f"surface: {_degrees(max(t for _, t in picture.surface), speech)} at most,"]
    beside.append(f"{_degrees(picture.mean, speech)} in the mean")
    if picture.limit is not None:
        beside[-1] += ","
        beside.append(f"limit {_degrees(picture.limit, speech)}")
    drawn = [
        f" {row} {words}".rstrip()
        for row, words in zip(_curve(picture.surface), _filled(beside, CURVE_ROWS), strict=True)
    ]
    drawn.append(_bordered("┌─┐", picture.covering))
    heights = _heights(picture)
    grid = _temperatures(picture, heights)
    warm = [t for row in grid for t in row if t is not None]
    low, high = min(warm), max(warm)
    bounds = [low + (high - low) * one / len(SHADES) for one in range(1, len(SHADES))]
    place = top = 0.0
    number = 0
    for nth, (words, thickness, timber) in enumerate(picture.layers):
        if nth:
            drawn.append(f"├{'─' * WIDE}┤")
        own = heights[nth]
        for within, said in enumerate(_filled(_wrapped(words), own)):
            place = top + (within + 0.5) * thickness / own
            first = within == 0
            row = _row(picture, grid[number], place, bounds, first=first, timber=timber)
            drawn.append(f"│{row}│ {said}".rstrip())
            number += 1
        top += thickness
    drawn.append(f"└{'─' * WIDE}┘")
    key = "  ".join(
        f"{shade} to {_degrees(end, speech)}"
        for shade, end in zip(SHADES, (*bounds, high), strict=True)
    )
    signs = [f"{WALL} pipe"]
    if picture.plate:
        signs.append(f"{METAL} plate")
    if any(timber for _, _, timber in picture.layers):
        signs.append(f"{TIMBER} joist's side")
    drawn += textwrap.wrap(key.replace(" to ", "\u00a0to ").replace(" °", "\u00a0°"), WIDTH)
    return [*(line.replace("\u00a0", " ") for line in drawn), "  ".join(signs)]


def _rounded(degrees: float, speech: Speech) -> float:
    return round(speech.converted(degrees, "°C"), 1)


def _degrees(degrees: float, speech: Speech) -> str:
    return speech.said(_rounded(degrees, speech), "°C")


def _wrapped(words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH - WIDE - 3, break_on_hyphens=False)


def _filled(lines: list[str], count: int) -> list[str]:
    return [*lines, *[""] * (count - len(lines))]


def _bordered(border: str, words: str) -> str:
    said = _wrapped(words)
    return f"{border[0]}{border[1] * WIDE}{border[2]} {said[0] if said else ''}".rstrip()


def _heights(picture: FloorPicture) -> list[int]:
    """Rows of each layer: enough for its words too."""
    whole = sum(thickness for _, thickness, _ in picture.layers)
    scale = min(WIDE / 2 / picture.spacing, MOST_ROWS / whole)
    return [
        max(round(thickness * scale), len(_wrapped(words)), 1)
        for words, thickness, _ in picture.layers
    ]


def _places(spacing: float) -> list[float]:
    """The distance of each column's middle from the pipe's, m."""
    half = [(column + 0.5) / WIDE * spacing for column in range(WIDE // 2)]
    return [*half[::-1], *half]


def _temperatures(picture: FloorPicture, heights: Sequence[int]) -> list[list[float | None]]:
    """The temperature at the middle of each place, row by row; None inside the pipe."""
    levels = []
    top = 0.0
    for (_, thickness, _), rows in zip(picture.layers, heights, strict=True):
        levels += [top + (row + 0.5) * thickness / rows for row in range(rows)]
        top += thickness
    lines = picture.lines.tolist()
    columns = []
    for across in _places(picture.spacing):
        downward = [spot for line in lines if (spot := _at(line, across)) is not None]
        depths, degrees = zip(*downward, strict=True)
        columns.append([_between(depths, degrees, level) for level in levels])
    found: list[list[float | None]] = []
    for row, level in enumerate(levels):
        found.append(
            [
                None if _is_pipe(picture, across, level) else column[row]
                for across, column in zip(_places(picture.spacing), columns, strict=True)
            ]
        )
    return found


def _at(line: Sequence[tuple[float, float, float]], across: float) -> tuple[float, float] | None:
    """Depth and temperature on a line of the grid; None inside the pipe."""
    known = [point for point in line if point[2] == point[2]]
    if not known or across < known[0][0]:
        return None
    ways = [x for x, _, _ in known]
    return (
        _between(ways, [y for _, y, _ in known], across),
        _between(ways, [t for _, _, t in known], across),
    )


def _between(places: Sequence[float], values: Sequence[float], place: float) -> float:
    """Linear between the neighbours, and equal to the first or last beyond them."""
    after = bisect_right(places, place)
    if after in (0, len(places)):
        return values[min(after, len(places) - 1)]
    before = after - 1
    share = (place - places[before]) / (places[after] - places[before])
    return values[before] + share * (values[after] - values[before])


def _is_pipe(picture: FloorPicture, across: float, depth: float) -> bool:
    return across**2 + (depth - picture.depth) ** 2 <= (picture.outside / 2) ** 2


def _row(
    picture: FloorPicture,
    degrees: list[float | None],
    depth: float,
    bounds: Sequence[float],
    *,
    first: bool,
    timber: bool,
) -> str:
    """The signs of one row; first: whether it is the first of its layer."""
    middle = (picture.spacing - picture.joist) / 2 if timber else picture.spacing
    edge = int(middle / picture.spacing * WIDE + 1e-9)
    plate = picture.plate
    signs = []
    for place, (across, t) in enumerate(zip(_places(picture.spacing), degrees, strict=True)):
        if t is None:
            beside = degrees[place - 1 : place] + degrees[place + 1 : place + 2]
            signs.append(BORE if beside == [None, None] else WALL)
        elif plate and first and across < plate[1] / 2 and _holds(picture, depth):
            signs.append(METAL)
        elif int(across / picture.spacing * WIDE) == edge:
            signs.append(TIMBER)
        else:
            signs.append(SHADES[bisect_right(bounds, t)])
    return "".join(signs)


def _holds(picture: FloorPicture, depth: float) -> bool:
    """Whether this depth is in the layer of which the plate is the top."""
    assert picture.plate is not None
    top = 0.0
    for _, thickness, _ in picture.layers:
        if abs(top - picture.plate[2]) < 1e-9:
            return top < depth < top + thickness
        top += thickness
    return False


def _curve(surface: Sequence[tuple[float, float]]) -> list[str]:
    """The surface's temperature from its lowest to its highest as bars, the top row first."""
    ways, degrees = zip(*surface, strict=True)
    low, high = min(degrees), max(degrees)
    full = len(STEPS) - 1
    tall = [
        1 + round((_between(ways, degrees, across) - low) / (high - low) * (CURVE_ROWS * full - 1))
        if high > low
        else full
        for across in _places(2 * ways[-1])
    ]
    return [
        "".join(STEPS[max(0, min(full, bar - full * row))] for bar in tall)
        for row in reversed(range(CURVE_ROWS))
    ]
