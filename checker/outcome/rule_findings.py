"""Turns the outcome of one rule for all rows into results: words, places, fingerprints."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt
from msgspec import UNSET
from msgspec.structs import replace

from checker.arrays import Array, Index, Mask
from checker.compute.graph import Graph
from checker.compute.judging import asked_designs, judged
from checker.compute.meanings import Names
from checker.compute.naming import leaf_named
from checker.compute.reasons import no_section
from checker.compute.registry import REGISTRY
from checker.design.schema import DESIGNS, PARTS
from checker.design.table import Table
from checker.design.tables import Tables
from checker.outcome.applicable import ApplicableLimits
from checker.outcome.columns import NOBODY, Findings, Results, Subjects
from checker.outcome.patterns import Ways, result_of
from checker.outcome.phrasing import Bound, Speaking, Telling, shown_as
from checker.outcome.report import Records
from checker.outcome.results import Result, fingerprint_of
from checker.reading.documents import START, column_of, line_of
from checker.rulebook.model import GAP, Rule
from checker.rulebook.outcomes import FAIL, NOT_APPLICABLE, OPEN, PASS, REVIEW, Outcome, taken
from checker.words.speech import Speech

Objects = npt.NDArray[np.object_]

NOT_YET = "Asked for from stage '{}' on: {}."
"""The message of a rule that is not due yet: the stage, and what is missing."""


class Tabled(Subjects):
    """The rows of one table as reports name and place them."""

    def __init__(
        self, tables: Tables, table: str, designs: list[str], speech: list[Speech]
    ) -> None:
        self.table = tables[table]
        self.section = table
        self.of = tables.design_of(table)
        self.speaking = Speaking([speech[row] for row in self.of.tolist()])
        present = np.zeros(len(designs), dtype=bool)
        present[self.of] = True
        self.absent = np.flatnonzero(~present)
        """The designs that have no such row."""
        ids = self.table.ids
        names = ["design"] * len(ids) if table == DESIGNS else [f"{table}.{name}" for name in ids]
        cells = {row: one.cells for row, one in enumerate(tables.designs) if one.cells is not None}
        super().__init__(names, designs, self.of.tolist(), cells)
        self._places: dict[str, npt.NDArray[np.int64]] = {}

    def release(self) -> None:
        """Drop the table, when every result has its place."""
        self.table, self._places = Table(self.table.shape), {}

    def places(self, at: str) -> npt.NDArray[np.int64]:
        """Give the place at which each subject's result points.

        Args:
            at: the name of a field of the subject; empty, or that of none, for the subject itself.

        Returns:
            For each row the place of the field, else of the subject, shape (n,); read-only.
        """
        found = self._places.get(at)
        if found is None:
            found = self._places[at] = _places(self.table, at)
            found.setflags(write=False)
        return found

    def places_of_parts(self, parts: Table, at: str) -> npt.NDArray[np.int64]:
        """Give the place at which the result of each part points.

        Args:
            parts: the table of parts.
            at: the name of a field of a part; empty, or that of none, for the part itself.

        Returns:
            For each part the place of the field, else of the part, shape (parts,); shared, not to
            be changed.
        """
        key = f"{PARTS}.{at}"
        found = self._places.get(key)
        if found is None:
            found = self._places[key] = _places(parts, at)
        return found


def _places(table: Table, at: str) -> npt.NDArray[np.int64]:
    """The place of the field, else of the row's subject, for each row."""
    return table.places_at("" if leaf_named(table.shape.name, at) is None else at)


_ONE_OF_MANY = re.compile(r"\.(parts|feeds)\[(\d+)\]$")
_KIND_OF_PART = {"parts": "Part", "feeds": "Feed"}


class RuleFindings:
    """All results of one rule."""

    def __init__(self, graph: Graph, basis: ApplicableLimits, rule: Rule, tabled: Tabled) -> None:
        self.graph = graph
        self.basis = basis
        self.rule = rule
        self.tabled = tabled
        self.due = basis.due(rule)
        self.telling = Telling(rule.described, tabled.speaking)
        self.shown = self.telling.plain
        self.counts = basis.counts(rule)
        self.of, self.lacking = tabled.of, tabled.absent
        """The design of each row, NOBODY where none is asked; and those that have no such row."""
        self.asks_anybody = len(self.of) > 0
        self._nobody: Mask | None = None
        planned = asked_designs(rule, graph.tables)
        if planned is not None:
            self.lacking = self.lacking[planned[self.lacking]]
            self._nobody = ~planned[self.of]
            self.of = np.where(self._nobody, NOBODY, self.of)
            self.asks_anybody = bool(planned[tabled.of].any())
        title = rule.title.replace("{", "{{").replace("}", "}}")
        self.raw: Outcome
        self.rows: Index | None = None
        """Of a rule on parts, the part that gives each loop's result."""
        self.broken = rule.found or f"{title}: {{value}}, where {{limit}} is wanted."

    def outcome(self) -> Outcome:
        """The outcome of the rule for all rows; it does not apply to those of NOBODY."""
        self.raw, self.rows = judged(self.rule, self.graph, self.basis)
        found = self.raw if self.rows is None else taken(self.raw, self.rows)
        if self._nobody is not None:
            found.kinds[self._nobody] = NOT_APPLICABLE
            found.governing[self._nobody] = -1
            found.reasons[self._nobody] = -1
        return found

    def absent(self) -> Iterator[tuple[Index, npt.NDArray[np.int64], Results]]:
        """The results of designs without such rows, as in `_Judged.found`."""
        absent = self.lacking
        if len(absent):
            places = np.full(len(absent), START, dtype=np.int64)
            yield absent, places, Records(map(self._absent, absent.tolist()))

    def findings(self, outcome: Outcome) -> Findings:
        """Word the outcome of the rule for all rows.

        Args:
            outcome: what `outcome` has given; it must have been called on this object.

        Returns:
            The results of all rows, as columns.
        """
        shown, kinds = self.shown, outcome.kinds
        numbers = shown.numbers(outcome.values)
        compared = (kinds == PASS) | (kinds == FAIL)
        telling = self.telling
        words = np.empty(len(numbers), dtype=object)
        margins = [np.nan] * len(numbers)
        if np.count_nonzero(compared):
            words[:] = telling.in_words(numbers)
            margins = shown.differences(np.where(compared, _margins(outcome), np.nan))
        ways = np.empty(len(numbers), dtype=object)
        said = self._said()
        besides = self._besides(np.flatnonzero(kinds == FAIL)) if self.rule.besides else None
        made = Ways(outcome, telling, self.broken, placed=said is not None)
        for rows in made.rows():
            first = int(rows[0])
            kind = kinds[first]
            ways[rows] = made.of(first)
            if kind == FAIL:
                for row, value, way in made.with_more_digits(rows.tolist(), numbers, words):
                    words[row], ways[row] = value, way
                if said is not None:
                    for row in rows.tolist():
                        value = words[row] + telling.of(row).end
                        place = telling.of(row).speech.words(said.get(row, "{value}"))
                        words[row] = place.replace("{value}", value)
                if besides is not None:
                    for way in dict.fromkeys(ways[rows].tolist()):
                        more = (*way.message, besides)
                        further = replace(way, message=more, bounds=(*way.bounds, besides))
                        ways[rows] = [further if one is way else one for one in ways[rows]]
            elif kind == OPEN:
                words[rows] = telling.reasons(rows, self.graph.sentences(outcome.reasons[rows]))
            elif kind == REVIEW:
                review = outcome.limits[outcome.governing[first]].limit.review
                words[rows] = self._review(review, rows)
            elif kind == NOT_APPLICABLE:
                words[rows] = self._why_not(self.tabled.of[rows], outcome.reasons[rows])
        places = self.tabled.places(self.rule.at)
        if self.rows is not None:
            places = self.tabled.places_of_parts(self.graph.tables[PARTS], self.rule.at)[self.rows]
            self._name_parts(ways, kinds)
        return Findings(
            self.tabled,
            places,
            ways.tolist(),
            numbers,
            margins,
            shown.difference_unit,
            words.tolist(),
        )

    def _said(self) -> dict[int, str] | None:
        """Remarks of plans on the values, such as where each was found; None where there are none.

        By row, with `{value}` for the value itself.
        """
        known = REGISTRY.get((self.rule.subject, self.rule.value))
        if known is None or not known.places:
            return None
        return self.graph.drawn(known.subject).words(known.places)

    def _name_parts(self, ways: Objects, kinds: npt.NDArray[np.int8]) -> None:
        """Add to the message of each loop in parts which part it is about."""
        assert self.rows is not None
        ids, named = self.graph.tables[PARTS].ids, {}
        for row in np.flatnonzero((kinds == FAIL) | (kinds == REVIEW)).tolist():
            which = _ONE_OF_MANY.search(ids[self.rows[row]])
            if which is not None:
                words = f"{_KIND_OF_PART[which[1]]} {which[2]}: "
                key = (id(ways[row]), words)
                if key not in named:
                    message = (words, *ways[row].message)
                    named[key] = replace(ways[row], message=message, spelled={})
                ways[row] = named[key]

    def _review(self, review: str, rows: Index) -> str | list[str]:
        """What a person must judge, with each row's values where the words name them."""
        # All rows that came out alike have one reader.
        speech = self.telling.of(int(rows[0])).speech
        if not GAP.search(review):
            return speech.words(review)
        return [
            "".join("unknown" if part is None else part for part in parts)
            for parts in self._filled(review, rows, speech)
        ]

    def _besides(self, rows: Index) -> Bound | None:
        """The sentence that follows a fail, for these rows, as a part of the message."""
        text = self.rule.besides
        words = [""] * len(self.tabled.names)
        for number, speech in enumerate(self.telling.speeches):
            own = rows if self.telling.which is None else rows[self.telling.which[rows] == number]
            for row, parts in zip(own.tolist(), self._filled(text, own, speech), strict=True):
                known = [part for part in parts if part is not None]
                if len(known) == len(parts):
                    words[row] = f" {''.join(known)}"
        if not any(words):
            return None
        return Bound([float(number) for number in range(len(words))], words)

    def _filled(self, text: str, rows: Index, speech: Speech) -> list[tuple[str | None, ...]]:
        """A text of the rule in parts, for each of these rows, with values of the rule's subject
        for its placeholders; None where one is not known.
        """
        at = rows if self.rows is None else self.rows[rows]
        texts = GAP.split(speech.words(text))
        columns: list[list[str | None]] = [
            self._values(part, at, speech) if number % 2 else [part] * len(at)
            for number, part in enumerate(texts)
        ]
        return [*zip(*columns, strict=True)]

    def _values(self, name: str, at: Index, speech: Speech) -> list[str | None]:
        """The values of a column of the subject at these rows, None where one is not known."""
        subject = self.rule.subject
        known, described = REGISTRY.get((subject, name)), Names().describe(subject, name)
        values = self.graph.column(subject, name).values[at]
        if known is not None and known.described_by is not None:
            described_by = known.described_by
            return [
                "; ".join(described_by(self.graph.things, n)) if n == n else None for n in values
            ]
        if described is None:
            return [None] * len(at)
        shown = shown_as(described, speech)
        return [shown.words(n) if n == n else None for n in shown.numbers(values)]

    def _why_not(self, designs: Index, reasons: npt.NDArray[np.int64]) -> str | Objects:
        """For each of these designs, why the rule does not apply; reasons: what is missing yet."""
        why: str | Objects
        if self.rule.applies:
            conditions = " and ".join(condition.words for condition in self.rule.applies)
            why = f"Only where {conditions}, and a limit is in force."
        else:
            why = self.rule.unlimited or self.basis.no_limit[designs]
        early = reasons >= 0
        if not np.count_nonzero(early):
            return why
        found = np.empty(len(designs), dtype=object)
        found[:] = why
        lacking = self.graph.sentences(reasons[early])
        said = {missing: self._not_yet(missing) for missing in {*lacking}}
        found[early] = [said[missing] for missing in lacking]
        return found

    def _not_yet(self, missing: str) -> str:
        """The message of a rule that is not due yet and lacks this."""
        return NOT_YET.format(self.rule.stage, missing)

    def _absent(self, design: int) -> Result:
        """The result for a design without the whole section."""
        name = self.tabled.section
        members: dict[str, Any] = {
            "subject": name,
            "line": line_of(START),
            "column": column_of(START),
            "fingerprint": self.tabled.fingerprint(design, name) + fingerprint_of(self.rule.id),
            "caution": UNSET,
        }
        lacking = no_section(name)
        if not self.counts[:, design].any():
            members["message"] = self.basis.no_limit[design]
            return result_of(self.rule, "notApplicable", **members)
        if not self.due[design]:
            message = self._not_yet(lacking)
            members["due"] = self.rule.stage
            return result_of(self.rule, "notApplicable", message=message, **members)
        members["message"] = f"Cannot be judged: {lacking}."
        members["remedy"] = f"State the {name.replace('_', ' ')} in the design."
        return result_of(self.rule, "open", missing=lacking, **members)


def _margins(outcome: Outcome) -> Array:
    """For each row, the margin to its governing limit."""
    margins = np.full(len(outcome.kinds), np.nan)
    for number, limit_outcome in enumerate(outcome.limits):
        if limit_outcome.applies_anywhere:
            margins = np.where(outcome.governing == number, limit_outcome.margins, margins)
    return margins
