"""One design's numbers in its reader's units: by header, by room, by test."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property
from typing import NamedTuple

from msgspec import UnsetType

from checker.outcome.report import DesignReport
from checker.outcome.results import Given, Limit, Measure, Result, Value
from checker.reports.floor_plan import State, states
from checker.reports.loop_parts import each_named, named
from checker.reports.reader_units import ReaderUnits, of_all
from checker.reports.sentences import bounded, magnitude, value_text
from checker.words.speech import METRIC, Speech


class LoopFacts(NamedTuple):
    """A loop on its header.

    Attributes:
        name: its id.
        subject: as reports name it.
        loss: in the reader's unit of pressure loss, NaN where unknown or without water.
        throttle: the loss of its valve with which every loop has the same loss, likewise.
    """

    name: str
    subject: str
    loss: float
    throttle: float

    @property
    def is_index(self) -> bool:
        """Whether it is the loop with the largest loss."""
        return self.throttle == 0


UNKNOWN = "–"
"""The cell of a number that is not known."""


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
            into = ReaderUnits(self.speech)
            self.given = of_all(design.given, into.given)
            self.computed = of_all(design.computed, into.measure)
            self.further = of_all(design.further, into.measure)
            self.results = [*map(into.result, design.results)]
        self._by_rule = {(result.rule, result.subject): result for result in self.results}

    def names(self, table: str) -> list[str]:
        """The ids in a table.

        Args:
            table: as a design names it, such as `loops` or `pressure_tests`.

        Returns:
            A new list, in file order; empty where the design has no such section.
        """
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
                for name in dict.fromkeys(each_named(own, field)):
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
        """What the design states.

        Args:
            subject: as reports name it, such as `loops.L1` or `design`.
            name: of the field, with points for a field within another (`pump.setting`).

        Returns:
            A text, a measure in the reader's unit, or the rows of a list; None where it is not
            stated.
        """
        return self.given.get(subject, {}).get(name)

    def rows(self, subject: str, table: str) -> tuple[dict[str, Value], ...]:
        """The rows of a list that belongs to the subject.

        Args:
            subject: as reports name it.
            table: the list, such as `readings` or `loop_parts`.

        Returns:
            For each row its values by field, in the reader's units; empty where there is none.
        """
        found = self.stated(subject, table)
        return found if isinstance(found, tuple) else ()

    def words(self, subject: str, name: str, none: str = "–") -> str:
        """What is computed, or else what is stated, in words.

        Args:
            subject: as reports name it.
            name: of the quantity or field.
            none: the text where there is neither, or where it is a list.

        Returns:
            A text, or number and unit; a dash where a quantity could not be computed.
        """
        found = self.computed.get(subject, {}).get(name, self.stated(subject, name))
        return none if found is None or isinstance(found, tuple) else value_text(found, self.speech)

    def figure(self, subject: str, name: str) -> str:
        """The number of what is computed or stated, for a column with its unit in the heading.

        Args:
            subject: as reports name it.
            name: of the quantity or field.

        Returns:
            The number in the reader's unit, without it; a dash where there is none.
        """
        found = self.number(subject, name)
        return UNKNOWN if math.isnan(found) else self.speech.number(found)

    def unit(self, unit: str) -> str:
        """The reader's unit for one of reports.

        Args:
            unit: of reports, such as `kPa`.

        Returns:
            The unit as the reader sees it.
        """
        return self.speech.unit(unit)

    def said(self, value: float, unit: str) -> str:
        """A number that is already in the reader's unit, with that unit.

        Args:
            value: in the reader's unit, as every number here.
            unit: the unit of reports to which the reader's belongs.

        Returns:
            Number and unit.
        """
        return self.speech.said(value, unit)

    def value_text(self, value: Value | UnsetType) -> str:
        """A value that is already in the reader's unit, in words.

        Args:
            value: of a field, a quantity or a result; UNSET where there is none.

        Returns:
            Number and unit, or the text; a dash where it could not be computed, nothing for UNSET.
        """
        return value_text(value, self.speech)

    def bounded(self, limit: Limit) -> str:
        """A limit that is already in the reader's unit, in words.

        Args:
            limit: of a result in `results`.

        Returns:
            Words such as `at most 100 m`.
        """
        return bounded(limit, self.speech)

    def number(self, subject: str, name: str) -> float:
        """A computed number, or else one that is stated.

        Args:
            subject: as reports name it.
            name: of the quantity or field; also of one that reports do not list.

        Returns:
            The number in the reader's unit, NaN where there is none.
        """
        for source in (self.computed, self.given, self.further):
            found = magnitude(source.get(subject, {}).get(name))
            if found is not None:
                return found
        return math.nan

    def result(self, rule: str, subject: str) -> Result | None:
        """The outcome of one rule for one subject.

        Args:
            rule: its id.
            subject: as reports name it.

        Returns:
            The result in the reader's units; None where the rule does not judge the subject.
        """
        return self._by_rule.get((rule, subject))

    def limit(self, rule: str, subject: str) -> float | None:
        """The number of a rule's limit for a subject.

        Args:
            rule: its id.
            subject: as reports name it.

        Returns:
            The number in the reader's unit; None where the limit is no single "at most" or "at
            least".
        """
        found = self.result(rule, subject)
        if found is None or not found.limit:
            return None
        most = magnitude(found.limit.at_most)
        return magnitude(found.limit.at_least) if most is None else most

    def fails(self, rule: str, subject: str) -> bool:
        """Whether the subject breaks the rule.

        Args:
            rule: its id.
            subject: as reports name it.

        Returns:
            False also where the rule does not judge the subject, or cannot; true also where the
            finding is waived.
        """
        found = self.result(rule, subject)
        return found is not None and found.kind == "fail"

    def is_settled(self, rule: str, subject: str) -> bool:
        """Whether the rule has all data that it needs to judge the subject.

        Args:
            rule: its id.
            subject: as reports name it.

        Returns:
            False also where there is no result.
        """
        found = self.result(rule, subject)
        return found is not None and found.kind != "open"

    def margin(self, rule: str, subject: str) -> float:
        """The distance to the rule's limit.

        Args:
            rule: its id.
            subject: as reports name it.

        Returns:
            The distance in the reader's unit, negative where the limit is broken; infinite where it
            is not known.
        """
        found = self.result(rule, subject)
        left = magnitude(found.margin) if found is not None and found.margin else None
        return math.inf if left is None else left

    def fall(self, test: str) -> float:
        """The fall of the pressure without the effect of temperature, as test-drop judges it.

        It is measured to the lowest reading where that is below the last; where the temperature has
        not settled and nothing can be judged, to the last.

        Args:
            test: as reports name it (`pressure_tests.first`).

        Returns:
            The fall in the reader's unit of pressure, negative for a rise; NaN where it is not
            known.
        """
        judged = self.number(test, "settled_drop")
        return self.number(test, "corrected_drop") if math.isnan(judged) else judged

    def loops_of(self, table: str, name: str) -> list[str]:
        """The loops that name a header, room, floor or pipe, themselves or by one of their parts.

        Args:
            table: `headers`, `rooms`, `floors` or `pipes`.
            name: the id; empty for the loops, or parts of loops, that name none.

        Returns:
            Ids of loops in file order, each once.
        """
        return [*self._loops_of.get((table.removesuffix("s"), name), ())]

    def header_loops(self, header: str) -> list[LoopFacts]:
        """The loops of a header, by port and then in file order.

        Args:
            header: its id; empty for the loops that name none.

        Returns:
            The loops; those without a port last.
        """
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

    def on_pump(self, header: str) -> list[str]:
        """The headers that this one's pump serves, itself included.

        Args:
            header: its id.

        Returns:
            Ids of headers, in file order.
        """
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
        """Whose pump serves the header, and at which setting.

        Args:
            header: its id.

        Returns:
            Words; empty where the pump is the header's own and has one speed.
        """
        own = self.words(f"headers.{header}", "pump.with", "")
        setting = self.words(f"headers.{own or header}", "pump.setting", "")
        words = [f"pump of {own}" if own else "pump"] if own or setting else []
        return " ".join(words + ([f"at setting {setting}"] if setting else []))

    def spacings(self, loop: str) -> str:
        """The spacing of each of a loop's parts.

        Args:
            loop: as reports name it (`loops.L1`).

        Returns:
            Numbers in the reader's unit without it, each once, with a dash for one that is not
            stated; of a loop without parts its own.
        """
        parts = self.rows(loop, "loop_parts")
        if not parts:
            return self.figure(loop, "spacing")
        known = [magnitude(part.get("spacing")) for part in parts]
        numbers = ("–" if one is None else self.speech.number(one) for one in dict.fromkeys(known))
        return ", ".join(numbers)

    def named(self, loop: str, field: str) -> list[str]:
        """The rooms, floors and so on that a loop or its parts name.

        Args:
            loop: its id.
            field: `room`, `floor`, `header` or `pipe`.

        Returns:
            Ids in the order of the parts, each once.
        """
        return named(self.given.get(f"loops.{loop}", {}), field)

    def naming(self, loop: str, field: str, none: str = "–") -> str:
        """The rooms, floors and so on that a loop or its parts name, in words.

        Args:
            loop: its id.
            field: as in `named`.
            none: the text where they name none.

        Returns:
            The ids with commas between them.
        """
        return ", ".join(self.named(loop, field)) or none

    def _port(self, loop: str) -> float:
        port = self.stated(f"loops.{loop}", "port")
        return port.magnitude or 0.0 if isinstance(port, Measure) else math.inf

    def tests_of(self, header: str) -> list[str]:
        """The pressure tests of a header.

        Args:
            header: its id.

        Returns:
            Ids of tests, in file order.
        """
        return [
            test
            for test in self.names("pressure_tests")
            if self.stated(f"pressure_tests.{test}", "header") == header
        ]
