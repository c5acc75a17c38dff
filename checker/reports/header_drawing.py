"""A header as inline SVG: its ports in order, the loop on each, and the rooms that they heat.

What is wrong differs in dash and sign as on the floor's plan, never in colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from html import escape

from markupsafe import Markup

from checker.outcome.results import Measure
from checker.reports.facts import Facts
from checker.reports.floor_plan import CARD, FINE, INK, LINE, MUTED, State
from checker.words import listed, visible

WIDTH = 760
"""Units across; all lengths here are in them."""
ROW = 30
"""Height of a port."""
TOP = 34
"""Height of the headings."""
LETTER = 14
"""Height of letters."""
BAR = 26
"""Width of the header itself."""
PORTS, LOOPS, FLOWS, LINES, ROOMS = 64, 96, 272, 400, 520
"""Left ends of the columns."""
ROOM = 34
"""Height of a room's box."""
PITCH = 40
"""Least distance between the boxes of two rooms."""
MOST_ON_PAPER = 26
"""Ports that fit on a page."""
LONGEST_LOOP, LONGEST_ROOM = 20, 26
"""Characters of a name that fit."""
MOST_PORTS = 200
"""A header with more ports than this is a typing mistake, and is drawn with those that have
loops.
"""


NO_LOOP, NOT_KNOWN = "no loop", "not known which loop"
"""The words for a port that no loop names."""

HEADER_KEY = (
    "Ports in order, the flow that each loop is set to, and the rooms with how much of their heat "
    "they get. Dotted and ?: data are missing; dashed and !: short of good practice; long dashes "
    "and ✕: must change; W: accepted by a waiver."
)
"""The meaning of the lines."""


def header_drawing(facts: Facts, header: str, links: Mapping[str, str] | None = None) -> Markup:
    """The picture of a header.

    Args:
        facts: the design's numbers.
        header: its id; empty for the loops that name no header.
        links: by subject, the id on the page of its finding; a subject that is not there is no
            link.

    Returns:
        The picture; empty for a header without a loop.
    """
    loops = facts.header_loops(header)
    rows = _rows(facts, header, [one.name for one in loops]) if loops else []
    return _drawn(facts, header, rows, _empty(facts, rows), links or {}) if rows else Markup("")


def on_paper(facts: Facts, header: str) -> list[Markup]:
    """A header in several pictures, each with few enough ports to fit on a page.

    Args:
        facts: the design's numbers.
        header: its id; empty for the loops that name no header.

    Returns:
        The pictures in the order of the ports, without links; none for a header without a loop.
    """
    loops = facts.header_loops(header)
    rows = _rows(facts, header, [one.name for one in loops]) if loops else []
    count = -(-len(rows) // MOST_ON_PAPER)
    parts = [
        rows[number * len(rows) // count : (number + 1) * len(rows) // count]
        for number in range(count)
    ]
    empty = _empty(facts, rows)
    return [_drawn(facts, header, part, empty, {}) for part in parts]


def _empty(facts: Facts, rows: list[tuple[str, str]]) -> str:
    """The words for a port that no loop names: a loop whose port is not known may be on it."""
    unplaced = any(port == "?" for port, _ in rows) or bool(facts.loops_of("headers", ""))
    return NOT_KNOWN if unplaced else NO_LOOP


def _drawn(
    facts: Facts,
    header: str,
    rows: list[tuple[str, str]],
    empty: str,
    links: Mapping[str, str],
) -> Markup:
    of = facts.loop_states
    rooms = _rooms(facts, rows)
    height = TOP + max(ROW * len(rows), PITCH * len(rooms)) + 12
    spots = _spots(rooms, height)
    parts = [_head(), _bar(len(rows))]
    for at, (port, loop) in enumerate(rows):
        y = TOP + ROW * at + ROW / 2
        state = of.get(loop, FINE)
        drawn = _port(y, port, state) if loop else _empty_port(y, port, empty)
        if loop:
            drawn += _loop(facts, y, loop, state)
            drawn += "".join(_way(y, spots[room], state) for room in rooms if loop in rooms[room])
        parts.append(_linked(drawn, links.get(f"loops.{loop}") if loop else None))
    of_rooms = facts.room_states
    for room, y in spots.items():
        drawn = _room(facts, y, room, of_rooms.get(room, FINE))
        parts.append(_linked(drawn, links.get(f"rooms.{room}")))
    return Markup(
        f'<svg class="header-drawing" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} '
        f'{height:.0f}" width="100%" role="img" aria-label="{_words(_says(header, rows, rooms))}" '
        f'font-family="system-ui, sans-serif" font-size="{LETTER}" fill="none">'
        f"{''.join(parts)}</svg>"
    )


def _rows(facts: Facts, header: str, loops: list[str]) -> list[tuple[str, str]]:
    """Each port with its loop, by number; then loops whose port is not known."""
    named: dict[int, list[str]] = {}
    unknown = []
    for loop in loops:
        port = facts.stated(f"loops.{loop}", "port")
        if isinstance(port, Measure) and port.magnitude is not None:
            named.setdefault(int(port.magnitude), []).append(loop)
        else:
            unknown.append(loop)
    ports = facts.number(f"headers.{header}", "ports")
    empty = range(1, int(ports) + 1) if ports <= MOST_PORTS else ()
    rows = []
    for port in sorted({*named, *empty}):
        rows += [(str(port), loop) for loop in named.get(port, [""])]
    return rows + [("?", loop) for loop in unknown]


def _rooms(facts: Facts, rows: list[tuple[str, str]]) -> dict[str, list[str]]:
    """The rooms in the order of their first loops, with their loops."""
    found: dict[str, list[str]] = {}
    for _, loop in rows:
        for room in facts.named(loop, "room"):
            found.setdefault(room, []).append(loop)
    return found


def _spots(rooms: Mapping[str, list[str]], height: float) -> dict[str, float]:
    """The middle of each room's box: spread over the height."""
    step = (height - TOP) / max(len(rooms), 1)
    return {room: TOP + step * (at + 0.5) for at, room in enumerate(rooms)}


def _says(header: str, rows: list[tuple[str, str]], rooms: Mapping[str, list[str]]) -> str:
    loops = sum(bool(loop) for _, loop in rows)
    return f"Header {header}: {loops} loops on {len(rows)} ports, to {listed([*rooms])}"


def _head() -> str:
    heads = (
        (PORTS, "middle", "Port"),
        (LOOPS, "start", "Loop"),
        (LINES - 12, "end", "Flow to set"),
        (ROOMS, "start", "Room"),
    )
    return "".join(
        f'<text x="{x}" y="20" text-anchor="{anchor}" fill="{MUTED}" font-size="12">{words}</text>'
        for x, anchor, words in heads
    )


def _bar(rows: int) -> str:
    return (
        f'<rect x="8" y="{TOP}" width="{BAR}" height="{ROW * rows}" rx="5" fill="{CARD}" '
        f'stroke="{INK}" stroke-width="2"/>'
    )


def _empty_port(y: float, port: str, words: str) -> str:
    """A port without a loop ends in a cap; one that may have a loop does not."""
    end = "m0 -7v14" if words == NO_LOOP else ""
    stub = f'<path d="M{BAR + 8} {y}h14{end}" stroke="{LINE}" stroke-width="2"/>'
    return _text(PORTS, y, port, "middle", INK) + stub + _text(LOOPS, y, words, "start", MUTED)


def _port(y: float, port: str, state: State) -> str:
    """The stub of a port."""
    number = _text(PORTS, y, port, "middle", INK)
    dash = f' stroke-dasharray="{state.dash}"' if state.dash else ""
    return f'<path d="M{BAR + 8} {y}h18" stroke="{state.colour}" stroke-width="4"{dash}/>{number}'


def _loop(facts: Facts, y: float, loop: str, state: State) -> str:
    sign = f" {state.sign}" if state.sign else ""
    name = _text(LOOPS, y, _cut(loop, LONGEST_LOOP) + sign, "start", state.colour, bold=True)
    flow = facts.words(f"loops.{loop}", "flow")
    title = f"<title>{_words(loop)}: {state.words}</title>"
    return title + name + _text(LINES - 12, y, flow, "end", INK)


def _way(y: float, to: float, state: State) -> str:
    """The line from a loop to its room."""
    dash = f' stroke-dasharray="{state.dash}"' if state.dash else ""
    middle = (LINES + ROOMS) / 2
    return (
        f'<path d="M{LINES} {y}C{middle} {y} {middle} {to:.1f} {ROOMS - 10} {to:.1f}" '
        f'stroke="{state.colour}" stroke-width="{state.width}"{dash}/>'
    )


def _room(facts: Facts, y: float, room: str, state: State) -> str:
    sign = f" {state.sign}" if state.sign else ""
    dash = f' stroke-dasharray="{state.dash}"' if state.dash else ""
    known = not math.isnan(facts.number(f"rooms.{room}", "coverage"))
    covered = facts.words(f"rooms.{room}", "coverage")
    heat = f"{covered} of its heat" if known else "heat not known"
    return (
        f"<title>{_words(room)}: {state.words}</title>"
        f'<rect x="{ROOMS - 10}" y="{y - ROOM / 2:.1f}" width="{WIDTH - ROOMS + 2}" '
        f'height="{ROOM}" rx="4" fill="{CARD}" stroke="{state.colour}" stroke-width="1.6"{dash}/>'
        + _text(ROOMS, y - 7, _cut(room, LONGEST_ROOM) + sign, "start", state.colour, bold=True)
        + _text(ROOMS, y + 8, heat, "start", MUTED, size=12)
    )


def _linked(drawn: str, link: str | None) -> str:
    group = f"<g>{drawn}</g>"
    return f'<a href="#{escape(link)}">{group}</a>' if link else group


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _text(
    x: float,
    y: float,
    words: str,
    anchor: str,
    colour: str,
    *,
    bold: bool = False,
    size: int = LETTER,
) -> str:
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x}" y="{y:.1f}" dy=".35em" font-size="{size}" text-anchor="{anchor}" '
        f'fill="{colour}"{weight}>{_words(words)}</text>'
    )


def _words(text: str) -> str:
    return escape(visible(text))
