"""One design's numbers in its reader's units: by header, by room, by test."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import cached_property
from typing import NamedTuple, TypeVar

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from checker.outcome.report import DesignReport
from checker.outcome.results import Given, Limit, Measure, Result, Value
from checker.reports.floor_plan import State, states
from checker.reports.sentences import bounded, magnitude, told
from checker.words.speech import METRIC, Speech

Before = TypeVar("Before")
After = TypeVar("After")


class LoopFacts(NamedTuple):
    """A loop on its header.

    loss, throttle: in the reader's unit of pressure loss, NaN where unknown or without water;
    throttle: the loss of its valve with which every loop has the same loss.
    """

    name: str
    subject: str
    loss: float
    throttle: float

    @property
    def is_index(self) -> bool:
        """Whether it is the loop with the largest loss."""
        return self.throttle == 0


class LoopColumn(NamedTuple):
    """A column of the table of a header's loops: its heading, its unit, and its cells."""

    title: str
    unit: str
    cells: list[str]


class LoopColumns(NamedTuple):
    """The columns in which something is known about a loop, and the titles of the others."""

    known: list[LoopColumn]
    unknown: list[str]


UNKNOWN = "–"
COMPUTED_OF_LOOPS = (
    ("Flow", "l/min", "flow"),
    ("Speed", "m/s", "velocity"),
    ("Loss", "kPa", "pressure_drop"),
    ("Valve takes", "kPa", "valve_drop"),
    ("Water out", "°C", "supply_temperature"),
    ("Water back", "°C", "return_temperature"),
    ("Heat", "W/m²", "output"),
    ("Floor at most", "°C", "surface_max"),
)
"""Columns of computed values: title, unit of reports, and name."""


class Facts:
    """What a design states and what was computed, by subject and name, in its reader's units.

    `unit("kPa")` is the reader's unit for one of reports.
    """

    def __init__(self, design: DesignReport, speech: Speech | None = None) -> None:
        """speech: how values are shown to the reader, where not as to the design's own."""
        self.design = design
        self.speech = design.speech if speech is None else speech
        self.sections = design.sections
        self.supplies = design.supplies
        self.given: Mapping[str, Mapping[str, Given]] = design.given
        self.computed: Mapping[str, Mapping[str, Measure]] = design.computed
        self.further: Mapping[str, Mapping[str, Measure]] = design.further
        self.results = design.results
        if self.speech.system != METRIC:
            self.given = _all(design.given, self._given)
            self.computed = _all(design.computed, self._measure)
            self.further = _all(design.further, self._measure)
            self.results = [*map(self._result, design.results)]
        self._by_rule = {(result.rule, result.subject): result for result in self.results}

    def names(self, table: str) -> list[str]:
        """The ids in a table, in file order."""
        return [*self._names.get(table, ())]

    # A design may have thousands of loops and hundreds of headers, so what a page asks for each
    # header of all loops is sorted out once.

    @cached_property
    def _names(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for subject in self.given:
            table, point, name = subject.partition(".")
            if point:
                found.setdefault(table, []).append(name)
        return found

    @cached_property
    def _loops_of(self) -> dict[tuple[str, str], list[str]]:
        """The loops by field and the id that it names."""
        found: dict[tuple[str, str], list[str]] = {}
        for loop in self._names.get("loops", ()):
            own = self.given[f"loops.{loop}"]
            for field in ("header", "room", "floor", "pipe"):
                for name in dict.fromkeys(_each_named(own, field)):
                    if isinstance(name, str):
                        found.setdefault((field, name), []).append(loop)
        return found

    @cached_property
    def loop_states(self) -> dict[str, State]:
        """For each loop, how its gravest finding is drawn."""
        return states(self.design)

    @cached_property
    def room_states(self) -> dict[str, State]:
        """The same for each room."""
        return states(self.design, "rooms")

    def stated(self, subject: str, name: str) -> Given | None:
        """What the design states, None where it does not."""
        return self.given.get(subject, {}).get(name)

    def rows(self, subject: str, table: str) -> tuple[dict[str, Value], ...]:
        """The rows of a list that belongs to the subject."""
        found = self.stated(subject, table)
        return found if isinstance(found, tuple) else ()

    def words(self, subject: str, name: str, none: str = "–") -> str:
        """What is stated or computed, in words; `none` where there is nothing."""
        found = self.computed.get(subject, {}).get(name, self.stated(subject, name))
        return none if found is None or isinstance(found, tuple) else told(found, self.speech)

    def figure(self, subject: str, name: str) -> str:
        """The number of what is stated or computed, for a column with its unit in the heading."""
        found = self.number(subject, name)
        return UNKNOWN if math.isnan(found) else self.speech.number(found)

    def unit(self, specified: str) -> str:
        """The reader's unit for one of reports."""
        return self.speech.unit(specified)

    def said(self, value: float, specified: str) -> str:
        """A number that is already in the reader's unit, with that unit."""
        return self.speech.said(value, specified)

    def told(self, value: Value | UnsetType) -> str:
        """A value that is already in the reader's unit, in words."""
        return told(value, self.speech)

    def bounded(self, limit: Limit) -> str:
        """A limit that is already in the reader's unit, in words."""
        return bounded(limit, self.speech)

    def number(self, subject: str, name: str) -> float:
        """A computed or stated number, NaN where there is none."""
        for source in (self.computed, self.given, self.further):
            found = magnitude(source.get(subject, {}).get(name))
            if found is not None:
                return found
        return math.nan

    def result(self, rule: str, subject: str) -> Result | None:
        """The outcome of one rule for one subject."""
        return self._by_rule.get((rule, subject))

    def limit(self, rule: str, subject: str) -> float | None:
        """The number of a rule's limit for a subject, where it is a single "at most" or "at
        least".
        """
        found = self.result(rule, subject)
        if found is None or not found.limit:
            return None
        return magnitude(found.limit.at_most) or magnitude(found.limit.at_least)

    def fails(self, rule: str, subject: str) -> bool:
        """Whether the subject breaks the rule."""
        found = self.result(rule, subject)
        return found is not None and found.kind == "fail"

    def is_settled(self, rule: str, subject: str) -> bool:
        """Whether the rule has all data that it needs to judge the subject."""
        found = self.result(rule, subject)
        return found is not None and found.kind != "open"

    def margin(self, rule: str, subject: str) -> float:
        """The distance to the rule's limit, negative where it is broken; infinite where unknown."""
        found = self.result(rule, subject)
        left = magnitude(found.margin) if found is not None and found.margin else None
        return math.inf if left is None else left

    def fall(self, test: str) -> float:
        """The fall of the pressure without the effect of temperature, as test-drop judges it.

        It is measured to the lowest reading where that is below the last; where the temperature has
        not settled and nothing can be judged, to the last.
        """
        judged = self.number(test, "settled_drop")
        return self.number(test, "corrected_drop") if math.isnan(judged) else judged

    def _measure(self, value: Measure) -> Measure:
        if value.magnitude is None:
            return value
        unit = value.unit
        return Measure(self.speech.converted(value.magnitude, unit), self.speech.unit(unit))

    def _given(self, value: Given) -> Given:
        if isinstance(value, tuple):
            return tuple({name: self._value(one) for name, one in row.items()} for row in value)
        return self._value(value)

    def _value(self, value: Value) -> Value:
        return self._measure(value) if isinstance(value, Measure) else value

    def _result(self, result: Result) -> Result:
        return replace(
            result,
            value=UNSET if result.value is UNSET else self._value(result.value),
            limit=UNSET if result.limit is UNSET else self._limit(result.limit),
            margin=UNSET if result.margin is UNSET else self._measure(result.margin),
        )

    def _limit(self, limit: Limit) -> Limit:
        return Limit(
            at_most=UNSET if limit.at_most is UNSET else self._measure(limit.at_most),
            at_least=UNSET if limit.at_least is UNSET else self._measure(limit.at_least),
            between=UNSET
            if limit.between is UNSET
            else (self._measure(limit.between[0]), self._measure(limit.between[1])),
            one_of=UNSET if limit.one_of is UNSET else tuple(map(self._value, limit.one_of)),
            before=limit.before,
            after=limit.after,
        )

    def loops_of(self, table: str, name: str) -> list[str]:
        """The loops that name this header, room and so on; with an empty name those that name
        none.
        """
        return [*self._loops_of.get((table.removesuffix("s"), name), ())]

    def header_loops(self, header: str) -> list[LoopFacts]:
        """The loops of a header, by port and then in file order."""
        loops = self.loops_of("headers", header)
        loops.sort(key=lambda loop: self._port(loop))
        found = []
        for loop in loops:
            subject = f"loops.{loop}"
            loss, throttle = (
                self.number(subject, name) for name in ("pressure_drop", "valve_drop")
            )
            found.append(LoopFacts(loop, subject, loss, throttle))
        return found

    def loop_columns(self, loops: list[LoopFacts]) -> LoopColumns:
        """The columns of a table of these loops, after those that identify each."""
        known = [
            LoopColumn("Length", "m", [self.figure(one.subject, "length") for one in loops]),
            LoopColumn("Spacing", "mm", [self.spacings(one.subject) for one in loops]),
        ]
        unknown = []
        for title, unit, name in COMPUTED_OF_LOOPS:
            if name == "valve_drop":
                cells = [
                    "index loop" if one.is_index else self.figure(one.subject, name)
                    for one in loops
                ]
            else:
                cells = [self.figure(one.subject, name) for one in loops]
            if all(cell == UNKNOWN for cell in cells):
                unknown.append(title.lower())
            else:
                known.append(LoopColumn(title, unit, cells))
        return LoopColumns(known, unknown)

    def on_pump(self, header: str) -> list[str]:
        """The headers that this one's pump serves."""
        return [*self._on_pump.get(self._pump_of(header), ())]

    def _pump_of(self, header: str) -> Given:
        return self.stated(f"headers.{header}", "pump.with") or header

    @cached_property
    def _on_pump(self) -> dict[Given, list[str]]:
        """The headers by the header whose pump serves them."""
        found: dict[Given, list[str]] = {}
        for header in self._names.get("headers", ()):
            found.setdefault(self._pump_of(header), []).append(header)
        return found

    def pump(self, header: str) -> str:
        """Whose pump serves the header and at which setting, in words; empty where it is its own
        and has one speed.
        """
        own = self.words(f"headers.{header}", "pump.with", "")
        setting = self.words(f"headers.{own or header}", "pump.setting", "")
        words = [f"pump of {own}" if own else "pump"] if own or setting else []
        return " ".join(words + ([f"at setting {setting}"] if setting else []))

    def spacings(self, loop: str) -> str:
        """The spacing of each of a loop's parts."""
        parts = self.rows(loop, "loop_parts")
        if not parts:
            return self.figure(loop, "spacing")
        known = [magnitude(part.get("spacing")) for part in parts]
        told = ("–" if one is None else self.speech.number(one) for one in dict.fromkeys(known))
        return ", ".join(told)

    def named(self, loop: str, field: str) -> list[str]:
        """The rooms, floors and so on that a loop or its parts name, each once."""
        return named(self.given.get(f"loops.{loop}", {}), field)

    def naming(self, loop: str, field: str, none: str = "–") -> str:
        """The same in words."""
        return ", ".join(self.named(loop, field)) or none

    def _port(self, loop: str) -> float:
        port = self.stated(f"loops.{loop}", "port")
        return port.magnitude or 0.0 if isinstance(port, Measure) else math.inf

    def tests_of(self, header: str) -> list[str]:
        """The pressure tests of a header."""
        return [
            test
            for test in self.names("pressure_tests")
            if self.stated(f"pressure_tests.{test}", "header") == header
        ]


def named(loop: Mapping[str, Given], field: str) -> list[str]:
    """The rooms, floors and so on that a loop, as it is stated, or its parts name, each once."""
    names = _each_named(loop, field)
    return [*dict.fromkeys(name for name in names if isinstance(name, str) and name)]


def _each_named(loop: Mapping[str, Given], field: str) -> list[Given]:
    """What the loop, or each of its parts, names in a field; an empty name where it names
    nothing.
    """
    parts = loop.get("loop_parts")
    if isinstance(parts, tuple) and any(field in part for part in parts):
        return [part.get(field, "") for part in parts]
    return [loop.get(field) or ""]


def _all(
    found: Mapping[str, Mapping[str, Before]], made: Callable[[Before], After]
) -> dict[str, dict[str, After]]:
    return {
        subject: {name: made(value) for name, value in own.items()}
        for subject, own in found.items()
    }
