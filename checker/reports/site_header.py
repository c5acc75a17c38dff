"""One header on the site sheet: ports, pressure tests, and the floors of its loops."""

from __future__ import annotations

import math
from collections.abc import Iterator

from msgspec import Struct

from checker.reports.facts import Facts, LoopFacts
from checker.reports.sentences import (
    cited,
    magnitude,
)
from checker.words.speech import METRIC, US

JUDGED = {
    "port": ("header-port-exists", "header-port-clash"),
    "length": ("loop-length", "loop-length-plausible"),
    "spacing": ("loop-spacing",),
    "flow": ("loop-flow-setting",),
    "loss": ("loop-pressure-drop",),
}
"""The words in a loop's row, and the rules that judge them."""
PIPE_RULES = ("oxygen-barrier", "pipe-class", "pipe-size")
"""The rules that judge the pipe of a row."""
NO_LOOP = "no loop: keep it shut and capped"
OPEN_PORT = "not known which loop; ask the designer before anything is connected or capped"
"""The words for a port that no loop names."""


class Port(Struct):
    """One port of a header, in words.

    Attributes:
        port: its number; empty where the loop states none.
        loop: empty for a port without one.
        room: the rooms that the loop heats.
        pipe: with material and size.
        length: of the loop.
        spacing: of its pipes.
        flow: as its setter is set.
        loss: of pressure in the loop.
        throttle: what its valve takes, or that it is open fully or shut.
        broken: the names of those members that break a limit.
        empty: what to do with a port without a loop.
        floor: the floors of the loop.
        pattern: how it is laid.
        feeds: length of its feeds.
        through: the rooms that they pass through.
        gap: distance from the wall.
        order: in which it is set; empty where that is not known.
        kind: the id of its pipe.
    """

    port: str
    loop: str = ""
    room: str = ""
    pipe: str = ""
    length: str = ""
    spacing: str = ""
    flow: str = ""
    loss: str = ""
    throttle: str = ""
    broken: tuple[str, ...] = ()
    empty: str = NO_LOOP
    floor: str = ""
    pattern: str = ""
    feeds: str = ""
    through: str = ""
    gap: str = ""
    order: str = ""
    kind: str = ""


class Bed(Struct):
    """What is under and over the pipe of a floor; what is not stated is empty.

    Attributes:
        name: the floor's id.
        insulation: in words, as all that follows.
        strip: along its edge.
        build_up: how the floor is built.
        cover: of screed over the pipe.
        flows: whether its screed is self-levelling, and so runs through every gap of the apron.
        moisture: the limit before it is covered.
        moisture_by: the source of that limit.
    """

    name: str
    insulation: str
    strip: str
    build_up: str
    cover: str
    flows: bool
    moisture: str
    moisture_by: str


class Test(Struct):
    """A pressure test as planned, times of readings, and what the screed requires.

    Attributes:
        name: its id.
        planned: label, words, limit, whether the words break it.
        times: of readings, in words.
        on_screed: what to do while the screed is laid.
        keep: whether the pressure stays on during the screed.
    """

    name: str
    planned: list[tuple[str, str, str, bool]]
    times: list[str]
    on_screed: str
    keep: bool = True


class Header(Struct):
    """A header with its ports in order, its tests, and the floors of its loops.

    Attributes:
        name: its id; empty for loops that name none.
        flow: of all loops.
        ports: in order, those without a loop among them.
        tests: its pressure tests.
        pump: whose pump serves it, where that is to be said.
        height: above the floor.
        fitted: what it must have, with what the design says about it.
        beds: the floors of its loops.
        pipes: each kind with its smallest bend.
        step: to which its flows are rounded.
        setting: of its pump.
        operating: the pressure left on.
    """

    name: str
    flow: str
    ports: list[Port]
    tests: list[Test]
    pump: str = ""
    height: str = ""
    fitted: list[tuple[str, str]] = []
    beds: list[Bed] = []
    pipes: list[tuple[str, str]] = []
    step: str = ""
    setting: str = ""
    operating: str = ""

    @property
    def ports_to_set(self) -> list[Port]:
        """The ports with a loop, in the order in which they are set."""
        loops = [port for port in self.ports if port.loop]
        return sorted(loops, key=lambda port: int(port.order) if port.order else math.inf)

    @property
    def is_marked(self) -> bool:
        """Whether something on it breaks a limit."""
        broken = [row[-1] for test in self.tests for row in test.planned]
        return any(port.broken for port in self.ports) or any(broken)


FITTED = {
    "main valves to the plant": "main_valves",
    "a valve at each loop": "isolation_valves",
    "vents": "vents",
    "a gauge": "gauge",
}
"""What a header must have before it is filled, and the field in which the design says so."""
FLOWING = ("calcium sulphate",)
"""Self-levelling screeds; EN 13813 calls them so (2002), from memory."""
STEP = {METRIC: 0.1, US: 0.05}
"""The step to which flows are rounded where the marks of the setter are not stated, l/min or gpm;
common practice, no source.
"""


def made_header(facts: Facts, later: Facts, name: str) -> Header:
    """A header for the sheet.

    Args:
        facts: the design as it is judged.
        later: the same, judged as if its records were due.
        name: the header's id; empty for the loops that name none.

    Returns:
        The header in words, as the design's reader has them.
    """
    subject = f"headers.{name}"
    stated = facts.number(subject, "flow_setters.step")
    step = stated if stated > 0 else STEP[facts.speech.system]
    ports = [*_ports(facts, name, step)]
    tests = facts.tests_of(name) if name else []
    loops = facts.loops_of("headers", name)
    floors = dict.fromkeys(floor for loop in loops for floor in facts.named(loop, "floor"))
    pipes = dict.fromkeys(
        facts.words(f"loops.{x}", "pipe", "") for x in facts.loops_of("headers", name)
    )
    setting = f"{facts.said(step, 'l/min')}"
    kept = [facts.words(f"pressure_tests.{test}", "operating_pressure", "") for test in tests]
    return Header(
        name,
        facts.words(subject, "flow"),
        ports,
        [_test(facts, test) for test in tests],
        facts.pump(name) if name else "",
        facts.words(subject, "height", ""),
        [(what, facts.words(subject, field, "")) for what, field in FITTED.items()],
        [_bed(facts, later, floor) for floor in floors],
        [
            (_pipe(facts, pipe), facts.words(f"pipes.{pipe}", "bend_radius", ""))
            for pipe in pipes
            if pipe
        ],
        setting if stated > 0 else f"{setting}, as the marks of its setters are not stated",
        facts.words(subject, "pump.setting", ""),
        next(filter(None, kept), ""),
    )


def _bed(facts: Facts, later: Facts, floor: str) -> Bed:
    subject = f"floors.{floor}"
    moisture = later.result("screed-moisture", subject)
    known = moisture is not None and moisture.limit and moisture.source
    return Bed(
        floor,
        facts.words(subject, "insulation", ""),
        facts.words(subject, "edge_strip", ""),
        facts.words(subject, "build_up", ""),
        facts.words(subject, "screed.cover", ""),
        facts.words(subject, "screed.material", "") in FLOWING,
        facts.bounded(moisture.limit) if known and moisture and moisture.limit else "",
        cited(moisture.source) if known and moisture and moisture.source else "",
    )


def _rounded(flow: float, step: float) -> str:
    """A flow rounded to the marks of its setter, never to zero where water must flow."""
    if math.isnan(flow) or flow == 0:
        return "–" if math.isnan(flow) else "0"
    marks = max(1, round(flow / step))
    return f"{marks * step:.{_places(step)}f}"


def _places(step: float) -> int:
    return next(places for places in range(4) if places == 3 or abs(step * 10**places % 1) < 1e-9)


def _order(loops: list[LoopFacts]) -> dict[str, str]:
    """The order in which loops are set: the one whose valve takes most first, the index loop
    last.
    """
    known = [loop for loop in loops if not math.isnan(loop.throttle)]
    if len(known) < len(loops):
        return {}
    ordered = sorted(known, key=lambda loop: -loop.throttle)
    return {loop.name: str(place) for place, loop in enumerate(ordered, 1)}


def _feeds(facts: Facts, loop: str) -> tuple[str, str]:
    """The length of a loop's feeds, and the rooms that they pass through."""
    rows = facts.rows(loop, "loop_feeds")
    if not rows:
        return facts.figure(loop, "feeds"), ""
    lengths = [magnitude(row.get("length")) for row in rows]
    whole = "–" if None in lengths else facts.speech.number(sum(x or 0.0 for x in lengths))
    rooms = dict.fromkeys(str(row["room"]) for row in rows if "room" in row)
    return whole, ", ".join(rooms)


def _ports(facts: Facts, header: str, step: float) -> Iterator[Port]:
    loops = facts.header_loops(header)
    order = _order(loops)
    used = {magnitude(facts.stated(loop.subject, "port")) for loop in loops}
    # A loop that states no port, or no header, may be on any that is free.
    unplaced = None in used or bool(header and facts.loops_of("headers", ""))
    empty = OPEN_PORT if unplaced else NO_LOOP
    free = [port for port in range(1, _count(facts, header) + 1) if port not in used]
    for loop in loops:
        subject = loop.subject
        own = facts.number(subject, "port")
        while free and free[0] < own:
            yield Port(str(free.pop(0)), empty=empty)
        throttle = "" if math.isnan(loop.throttle) else facts.speech.number(loop.throttle)
        if facts.number(subject, "flow") == 0:
            throttle = "shut"
        feeds, through = _feeds(facts, subject)
        yield Port(
            facts.words(subject, "port", ""),
            loop.name,
            facts.naming(loop.name, "room", ""),
            _pipe(facts, facts.words(subject, "pipe", "")),
            facts.figure(subject, "length"),
            facts.spacings(subject),
            facts.speech.marked(_rounded(facts.number(subject, "flow"), step)),
            facts.figure(subject, "pressure_drop"),
            "open fully" if loop.is_index else throttle,
            _broken(facts, subject),
            floor=facts.naming(loop.name, "floor", ""),
            pattern=facts.words(subject, "pattern", ""),
            feeds=feeds,
            through=through,
            gap=facts.figure(subject, "wall_gap"),
            order=order.get(loop.name, ""),
            kind=facts.words(subject, "pipe", ""),
        )
    yield from (Port(str(port), empty=empty) for port in free)


def _broken(facts: Facts, loop: str) -> tuple[str, ...]:
    """Which of the words in a loop's row break a limit."""
    pipe = f"pipes.{facts.words(loop, 'pipe', '')}"
    judged = [(name, rule, loop) for name, rules in JUDGED.items() for rule in rules]
    judged += [("pipe", rule, pipe) for rule in PIPE_RULES]
    return tuple(dict.fromkeys(name for name, rule, of in judged if facts.fails(rule, of)))


def _count(facts: Facts, header: str) -> int:
    """How many ports the header has, zero where it is not known."""
    count = facts.number(f"headers.{header}", "ports")
    return 0 if math.isnan(count) else int(count)


def _pipe(facts: Facts, pipe: str) -> str:
    """A pipe's name with its material and size, where they are stated."""
    subject = f"pipes.{pipe}"
    outside, wall = (facts.figure(subject, name) for name in ("outside", "wall"))
    material = facts.words(subject, "material", "")
    size = f"{outside} × {wall} {facts.unit('mm')}" if "–" not in (outside, wall) else ""
    return ", ".join(part for part in (pipe, f"{material} {size}".strip()) if part)


def _test(facts: Facts, test: str) -> Test:
    subject = f"pressure_tests.{test}"
    planned = []
    for label, name, rule in (
        ("Medium", "medium", "test-medium"),
        ("Pressure", "pressure", "test-pressure"),
        ("Hold", "hold", "test-hold"),
        ("Day", "tested_on", "test-before-screed"),
    ):
        asked = facts.result(rule, subject)
        limit = ""
        if asked is not None and asked.limit and asked.source and name != "tested_on":
            limit = f"{facts.bounded(asked.limit)}; {cited(asked.source)}"
        none = "" if name == "tested_on" else "not stated"
        words = facts.words(subject, name, none)
        planned.append((label, words, limit, facts.fails(rule, subject)))
    times = _times(facts, facts.number(subject, "hold"))
    on_screed = (
        "Hot asphalt softens the pipe: let the pressure off before it is laid. ☐ let off"
        if facts.number(subject, "under_asphalt") == 1
        else "Leave the loops under pressure while the screed is laid, and watch the gauge: "
        "if it falls, stop and look for the leak. ☐ watched"
    )
    keep = facts.number(subject, "under_asphalt") != 1
    return Test(test, planned, times, on_screed, keep)


def _times(facts: Facts, hold: float) -> list[str]:
    """Four times of readings, so that a steady fall can be distinguished from one that slows down.

    Args:
        facts: how values are shown.
        hold: min, NaN where it is not known.

    Returns:
        Words for each; blanks to fill in where the hold is not known.
    """
    if math.isnan(hold):
        return ["start", "____ min", "____ min", "end"]
    thirds = [hold / 3, 2 * hold / 3]
    between = [facts.said(round(third) if hold >= 4 else third, "min") for third in thirds]
    return ["start", *between, f"{facts.said(hold, 'min')}, end"]
