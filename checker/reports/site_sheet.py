"""The sheet that goes to site: what the crew sets, fills in and ticks off, header by header."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import Any

from msgspec import Struct

from checker.outcome.results import HOLDING, DesignReport, Result, Value
from checker.reports.facts import Facts
from checker.reports.joining import Joined, joined
from checker.reports.sentences import (
    cautions,
    cited,
    magnitude,
    wanted_data,
    worst_first,
)
from checker.reports.verdicts import Asked, answered, asked, sentence
from checker.words.speech import Speech

MINUTES_A_DAY = 1440
PARTS = 1000
"""Parts of the page that are written at once."""
COLUMNS = (
    "design",
    "revision",
    "header",
    "port",
    "loop",
    "room",
    "pipe",
    ("length", "m"),
    ("spacing", "mm"),
    ("flow to set", "l/min"),
    ("pressure loss", "kPa"),
    ("valve takes", "kPa"),
    "filled",
    "purged",
    "set",
)
"""Of the sheet as CSV, some with the unit that reports are specified in; the last three are for the
crew."""
JUDGED = {
    "port": ("header-port-exists", "header-port-clash"),
    "length": ("loop-length", "loop-length-plausible"),
    "spacing": ("loop-spacing",),
    "flow": ("loop-flow-setting",),
    "loss": ("loop-pressure-drop",),
}
"""What stands in a loop's row, and the rules that judge it."""
PIPE_RULES = ("oxygen-barrier", "pipe-class", "pipe-size")


NO_LOOP = "no loop: keep it shut and capped"
OPEN_PORT = "not known which loop; ask the designer before anything is connected or capped"
"""What is said of a port that no loop names."""


class Port(Struct):
    """One port of a header, in words; a port without a loop has an empty loop.

    broken: the names of those members that break a limit.
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


class Test(Struct):
    """A pressure test as planned, times to read at, and what the screed asks.

    planned: label, words, limit, whether the words break it.
    """

    name: str
    planned: list[tuple[str, str, str, bool]]
    times: list[str]
    on_screed: str


class Header(Struct):
    """A header with its ports in order, and its tests."""

    name: str
    flow: str
    ports: list[Port]
    tests: list[Test]
    pump: str = ""

    @property
    def is_marked(self) -> bool:
        """Whether something on it breaks a limit."""
        broken = [row[-1] for test in self.tests for row in test.planned]
        return any(port.broken for port in self.ports) or any(broken)


class Ready(Struct):
    """From which day on a floor may be heated; empty where it is not known."""

    floor: str
    laid_on: str
    wait: str
    source: str
    earliest: str


class Step(Struct):
    """A step of the first heating, with its days where they are known."""

    supply: str
    hold: str
    start: str
    end: str
    beyond: bool = False
    """Hotter than the screed tolerates."""


class Sheet(Struct):
    """All that stands on one design's sheet."""

    design: DesignReport
    facts: Facts
    headers: list[Header]
    floors: list[Ready]
    start: str
    steps: list[Step]
    grave: list[Joined]
    reviews: list[Joined]
    asked: list[Asked]
    wanted: dict[str, list[str]]
    cautions: list[str]


def critical(design: DesignReport) -> list[Result]:
    """The findings that keep a design from going to site."""
    fails = design.results_of("fail")
    return [result for result in fails if result.severity == "critical" and not result.waived]


def sheet(design: DesignReport, installed: DesignReport, speech: Speech | None = None) -> Sheet:
    """The sheet of a design; installed: the same, judged as if its records were due.

    Both with what the design states. From the second come the limits of the work ahead. speech: how
    its reader is told values, where not as the design's.
    """
    facts = Facts(design, speech)
    floors = [*_floors(facts, Facts(installed, speech))]
    start = _start(facts, floors)
    fails = (result for result in facts.results if result.kind == "fail" and not result.waived)
    return Sheet(
        design,
        facts,
        [_header(facts, header) for header in _headers(facts)],
        floors,
        start,
        [*_steps(facts, start)],
        [one for one in joined(worst_first(fails), facts.speech) if one.severity in HOLDING],
        joined((r for r in facts.results if r.kind == "review" and not answered(r)), facts.speech),
        asked(design.questions),
        wanted_data(design),
        cautions(installed),
    )


def columns(speech: Speech) -> tuple[str, ...]:
    """The headings of the sheet as CSV."""
    return tuple(
        one if isinstance(one, str) else f"{one[0]} [{speech.unit(one[1])}]" for one in COLUMNS
    )


def csv_rows(sheets: Iterable[Sheet]) -> Iterator[dict[str, str | None]]:
    """One row a port, by its `columns`; the units of all are alike."""
    for one in sheets:
        names = columns(one.facts.speech)
        revision = one.facts.words("design", "project.revision", "")
        for header in one.headers:
            for port in header.ports:
                given = (
                    one.design.name,
                    revision,
                    header.name,
                    port.port,
                    port.loop,
                    port.room,
                    port.pipe,
                    port.length,
                    port.spacing,
                    port.flow,
                    port.loss,
                    port.throttle,
                    None,
                    None,
                    None,
                )
                yield dict(zip(names, given, strict=True))


def _headers(facts: Facts) -> list[str]:
    """The headers, and an empty name where some loop has none."""
    return facts.names("headers") + ([""] if facts.loops_of("headers", "") else [])


def _header(facts: Facts, name: str) -> Header:
    ports = [*_ports(facts, name)]
    tests = [_test(facts, test) for test in facts.tests_of(name)] if name else []
    pump = facts.pump(name) if name else ""
    return Header(name, facts.words(f"headers.{name}", "flow"), ports, tests, pump)


def _ports(facts: Facts, header: str) -> Iterator[Port]:
    loops = facts.header_loops(header)
    used = {magnitude(facts.stated(loop.subject, "port")) for loop in loops}
    # A loop that states no port, or no header, may hang on any that is free.
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
        yield Port(
            facts.words(subject, "port", ""),
            loop.name,
            facts.words(subject, "room", ""),
            _pipe(facts, facts.words(subject, "pipe", "")),
            facts.figure(subject, "length"),
            facts.spacings(subject),
            facts.figure(subject, "flow"),
            facts.figure(subject, "pressure_drop"),
            "open fully" if loop.is_index else throttle,
            _broken(facts, subject),
        )
    yield from (Port(str(port), empty=empty) for port in free)


def _broken(facts: Facts, loop: str) -> tuple[str, ...]:
    """Which of the words in a loop's row break a limit."""
    pipe = f"pipes.{facts.words(loop, 'pipe', '')}"
    judged = [(name, rule, loop) for name, rules in JUDGED.items() for rule in rules]
    judged += [("pipe", rule, pipe) for rule in PIPE_RULES]
    return tuple(dict.fromkeys(name for name, rule, of in judged if facts.fails(rule, of)))


def _count(facts: Facts, header: str) -> int:
    """How many ports the header has, nought where it is not known."""
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
    times = [
        *_times(facts, facts.number(subject, "hold")),
        "screed starts",
        "during screed",
        "screed ends",
    ]
    on_screed = (
        "Hot asphalt softens the pipe: let the pressure off before it is laid. ☐ let off"
        if facts.number(subject, "under_asphalt") == 1
        else "Leave the loops under pressure while the screed is laid, and watch the gauge: "
        "if it falls, stop and look for the leak. ☐ watched"
    )
    return Test(test, planned, times, on_screed)


def _times(facts: Facts, hold: float) -> list[str]:
    """Four times to read at, so that a steady fall can be told from one that slows down.

    hold: min, NaN where it is not known.
    """
    if math.isnan(hold):
        return ["start", "____ min", "____ min", "end"]
    thirds = [hold / 3, 2 * hold / 3]
    between = [facts.said(round(third) if hold >= 4 else third, "min") for third in thirds]
    return ["start", *between, f"{facts.said(hold, 'min')}, end"]


def _floors(facts: Facts, installed: Facts) -> Iterator[Ready]:
    """For each floor how long its screed must wait, by the limit that governs here."""
    for floor in facts.names("floors"):
        subject = f"floors.{floor}"
        asked = installed.result("heat-up-start", subject)
        if asked is None or asked.kind == "notApplicable":
            continue
        wait = installed.limit("heat-up-start", subject)
        laid_on = facts.stated(subject, "screed.laid_on")
        earliest = ""
        if isinstance(laid_on, str) and wait is not None:
            earliest = _later(laid_on, wait)
        yield Ready(
            floor,
            laid_on if isinstance(laid_on, str) else "",
            "" if wait is None else facts.said(wait, "days"),
            cited(asked.source) if asked.source else "",
            earliest,
        )


def _start(facts: Facts, floors: list[Ready]) -> str:
    """The day of the first heating: the planned one, but not before every floor may be heated."""
    if not floors or not all(floor.earliest for floor in floors):
        return ""
    planned = facts.stated("design", "heat_up.started_on")
    days = [floor.earliest for floor in floors]
    if isinstance(planned, str):
        days.append(planned)
    return max(days)  # days of ISO 8601 sort as texts


def _steps(facts: Facts, start: str) -> Iterator[Step]:
    """The planned steps; of one that is hotter than a floor tolerates no water is told."""
    day = 0.0
    limits = [facts.limit("heat-up-temperature", f"floors.{f}") for f in facts.names("floors")]
    hottest = min((limit for limit in limits if limit is not None), default=math.inf)
    for row in facts.rows("design", "heat_up_steps"):
        hold = magnitude(row.get("hold"))
        known = bool(start) and not math.isnan(day)
        begun = _later(start, day) if known else ""
        days = math.nan if hold is None else hold / MINUTES_A_DAY
        day += days
        until = _later(start, day) if known and not math.isnan(day) else ""
        supply = magnitude(row.get("supply"))
        beyond = supply is not None and not supply <= hottest
        yield Step(
            "" if beyond else _told(facts, row.get("supply")),
            _days(facts, days),
            begun,
            until,
            beyond,
        )


def _told(facts: Facts, value: Value | None) -> str:
    return "not stated" if value is None else facts.told(value)


def _days(facts: Facts, days: float) -> str:
    if math.isnan(days):
        return "not stated"
    return facts.said(days, "day" if days == 1 else "days")


def _later(day: str, days: float) -> str:
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()


def page(sheets: Iterable[Sheet], names: str = "") -> Iterator[bytes]:
    """The sheets as one page to be printed, part by part; names: of the designs, for its title."""
    from checker.reports.html import environment, style

    template: Any = environment().get_template("site_sheet.html")
    parts = template.stream(
        sheets=sheets, names=names, sentence=sentence, style=style("site_sheet.css")
    )
    parts.enable_buffering(PARTS)
    for part in parts:
        yield part.encode()
