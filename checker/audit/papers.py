"""One design of a past job, judged: what it states, what follows from it, and what was found."""

from __future__ import annotations

from datetime import date
from functools import cached_property
from typing import Any

import numpy as np

from checker.audit.readings import digest_of
from checker.compute.graph import Graph
from checker.compute.meanings import meaning
from checker.compute.naming import TABLE_OF
from checker.design.schema import DESIGNS, design_format
from checker.design.tables import Design, Tables
from checker.outcome.report import DesignReport
from checker.outcome.results import Result

DESIGN = "design"
"""The stage of a design that states none."""


class JudgedDesign:
    """One judged design of a job.

    Attributes:
        tables: those that hold it, maybe with other designs.
        design: as it was read.
        report: what was found about it.
        graph: computes its values.
        digest: of its file.
        stage: that it states.
    """

    def __init__(
        self,
        tables: Tables,
        design: Design,
        report: DesignReport,
        graph: Graph,
        content: bytes,
    ) -> None:
        self.tables = tables
        self.design = design
        self.report = report
        self.graph = graph
        self.digest = digest_of(content)
        self.stage = design.text("project", "stage") or DESIGN

    @cached_property
    def results(self) -> list[Result]:
        """Every result; they are made once."""
        return self.report.results

    @cached_property
    def _rows(self) -> dict[str, dict[str, int]]:
        rows: dict[str, dict[str, int]] = {}
        for table in TABLE_OF.values():
            own = np.flatnonzero(self.tables.design_of(table) == self.design.row)
            rows[table] = {self.tables[table].ids[row]: int(row) for row in own}
        return rows

    def ids(self, table: str) -> list[str]:
        """List the ids of a section.

        Args:
            table: the section ('loops').

        Returns:
            The ids in file order; empty where the design lacks the section.
        """
        return [*self._rows[table]]

    def value(self, subject: str, name: str, of: str = "") -> float:
        """Look up a field or quantity.

        Args:
            subject: in the singular ('loop', 'design').
            name: of the field or quantity. One that only parts have is looked up in the part with
                this id; a loop without parts is one.
            of: the id of the subject; empty for the whole design.

        Returns:
            SI, temperatures in °C; NaN where it is missing, or there is no such subject.
        """
        if subject == "loop" and meaning(subject, name) is None:
            subject = "part"  # of a loop without parts, which has the loop's id
        rows = self._rows[TABLE_OF[subject]]
        row = self.design.row if subject == "design" else rows.get(of, -1)
        return float("nan") if row < 0 else float(self.graph.column(subject, name).values[row])

    def largest_pump_flow(self, header: str) -> float:
        """Give the flow at which a header's pump curve ends.

        Args:
            header: its id.

        Returns:
            m³/s; NaN where there is no curve, or no such header.
        """
        row = self._rows["headers"].get(header, -1)
        flows = self.graph.members.grouped("header", "pump_curve.flow")
        return float(flows.largest()[row]) if row >= 0 and flows.count()[row] else float("nan")

    def text(self, section: str, of: str, key: str) -> str:
        """Look up a text or an id as it was typed.

        Args:
            section: at the top of the design ('loops').
            of: the id of the record in it.
            key: in the record, with dots for fields within others.

        Returns:
            The text; empty where it is not stated.
        """
        record: Any = self.design.document.get(section, {}).get(of, {})
        for step in key.split("."):
            record = record.get(step, {}) if isinstance(record, dict) else {}
        return record if isinstance(record, str) else ""

    def named(self, loop: str, key: str) -> list[str]:
        """List the records that a loop or its parts name.

        Args:
            loop: its id.
            key: of a loop or part that names a record ('room', 'floor', 'header', 'pipe').

        Returns:
            Their ids, each once, the loop's own first.
        """
        record: Any = self.design.document.get("loops", {}).get(loop, {})
        names = [record.get(key), *(part.get(key) for part in self.parts(loop))]
        return [*dict.fromkeys(name for name in names if isinstance(name, str) and name)]

    def parts(self, loop: str) -> list[dict[str, Any]]:
        """List the parts of a loop as they were typed.

        Args:
            loop: its id.

        Returns:
            Each part's keys and values; empty where the loop has no parts.
        """
        record: Any = self.design.document.get("loops", {}).get(loop, {})
        return list(record.get("parts") or ())

    def day(self, name: str) -> date | None:
        """Look up a date of the whole design.

        Args:
            name: with its section ('project.designed_on').

        Returns:
            The date; None where it is not stated.
        """
        column = self.tables[DESIGNS].column(design_format().leaf(DESIGNS, name).slot)
        number = column[self.design.row]
        return None if np.isnan(number) else date.fromordinal(int(number))

    def days(self, table: str, name: str) -> list[date]:
        """List the dates that the records of a section state.

        Args:
            table: the section ('pressure_tests').
            name: of a date in its records.

        Returns:
            The dates in rising order; records without one are left out.
        """
        column = self.tables[table].column(design_format().leaf(table, name).slot)
        own = [column[row] for row in self._rows[table].values()]
        return sorted(date.fromordinal(int(day)) for day in own if not np.isnan(day))

    def related(self, subject: str) -> set[str]:
        """List the subjects that can affect one: what it is made of, what feeds it, where it is.

        Args:
            subject: a room, loop, header, floor or pipe ('rooms.kitchen').

        Returns:
            Names of subjects, and of sections, which stand for records that the design lacks
            altogether; everything that there is where `subject` is none of these.
        """
        loops = self._loops_of(subject)
        if not loops:
            known = [f"{table}.{name}" for table, rows in self._rows.items() for name in rows]
            return {*known, *TABLE_OF.values(), "design"}
        found = {"design", subject} | {f"loops.{loop}" for loop in loops}
        for loop in loops:
            for table, key in _REFERENCES.items():
                found |= {f"{table}.{name}" for name in self.named(loop, key)}
        for test in self._rows["pressure_tests"]:
            if f"headers.{self.text('pressure_tests', test, 'header')}" in found:
                found.add(f"pressure_tests.{test}")
        # The section itself stands for a record that the design lacks altogether.
        return found | {*TABLE_OF.values()}

    def loops_at(self, header: str) -> list[str]:
        """List the loops of a header.

        Args:
            header: its id; empty for loops that state none.

        Returns:
            Their ids in file order.
        """
        return [one for one in self.ids("loops") if self.text("loops", one, "header") == header]

    def _loops_of(self, subject: str) -> list[str]:
        """The loops that belong to a subject."""
        section, _, name = subject.partition(".")
        if section == "loops":
            return [name] if name in self._rows["loops"] else []
        key = _REFERENCES.get(section)
        if key is None:
            return []
        return [loop for loop in self._rows["loops"] if name in self.named(loop, key)]


_REFERENCES = {"rooms": "room", "headers": "header", "floors": "floor", "pipes": "pipe"}
