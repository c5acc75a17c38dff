"""Outcomes to results: the words, the places and the order of what was found."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date
from functools import cached_property, partial
from typing import Any

import numpy as np
import numpy.typing as npt
from msgspec import UNSET, Struct
from msgspec.structs import replace

from checker import units
from checker.compute.graph import (
    REGISTRY,
    TABLE_OF,
    Graph,
    Names,
    Quantity,
    no_section,
    of_plan,
)
from checker.compute.judging import asked_designs, judged, told_of
from checker.compute.ranges import Boxed
from checker.compute.settling import settled
from checker.design.given import given, sketch
from checker.design.schema import DESIGNS, PARTS, design_format
from checker.design.tables import Table, Tables
from checker.outcome.answers import answers
from checker.outcome.assumed import assumed
from checker.outcome.causes import tell_under
from checker.outcome.columns import NOBODY, Batch, Computed, Findings, Results, Subjects
from checker.outcome.floor_pictures import floor_pictures
from checker.outcome.over_supply import over_supply
from checker.outcome.patterns import Ways, result_of
from checker.outcome.phrasing import Shown, Speaking, Telling
from checker.outcome.questions import questions
from checker.outcome.results import DesignReport, Records, Result, Severity, fingerprint_of
from checker.outcome.whatever import settle
from checker.reading.yaml_reader import START, column_of, line_of
from checker.rulebook.evaluation import (
    FAIL,
    NOT_APPLICABLE,
    OPEN,
    PASS,
    REVIEW,
    Outcome,
    taken,
)
from checker.rulebook.model import REVIEW_GAP, STAGES, Described, Rule, Rulebook
from checker.words.speech import AS_WRITTEN, POINT, Speech

Objects = npt.NDArray[np.object_]

STAGE = "project.stage"
NOT_YET = "Asked for from stage '{}' on: {}."
"""What a rule that is not due yet says: the stage, and what is missing."""
NO_LIMIT = "No limit is in force here (codes: {})."
"""What a rule without a limit for a design says: by which codes that is judged."""


class JudgingOptions(Struct, frozen=True):
    """By what the designs are judged: codes, day and stage, where the call says so.

    further_codes: those that count besides the ones that the design or its region says.
    """

    codes: tuple[str, ...] | None = None
    on: date | None = None
    stage: str = ""
    """The stage to judge by, whatever the design's own."""
    further_codes: tuple[str, ...] = ()
    strict: bool = False
    """Whether a datum that is missing is never taken to lie in its range."""
    accepted: tuple[str, ...] | None = None
    """The answers that count, by their digests, where not all that designs carry do."""
    second_opinion: bool = False
    """Whether floors are worked out by their section beside the standard too."""
    units: str = AS_WRITTEN
    """The system of units that readers are told values in."""
    decimal: str = POINT
    """The decimal mark that readers are told values with."""


def judge(
    tables: Tables, rulebook: Rulebook, judging: JudgingOptions, with_given: bool = False
) -> list[DesignReport]:
    """Every rule for every subject of the designs in hand, in the order of the designs.

    with_given: the reports also carry what the designs state.
    """
    basis = ApplicableLimits(tables, rulebook, judging)
    whole = _Judged(tables, rulebook, basis, range(len(rulebook.rules)))
    boxes: list[Boxed] = []
    if not judging.strict:

        def copies(made: Tables, rules: list[int]) -> _Judged:
            return _Judged(made, rulebook, ApplicableLimits(made, rulebook, judging), rules)

        boxes = settle(whole, rulebook, basis, copies)
    tell_under(whole, rulebook, basis)
    asides = answers(whole, rulebook, judging.accepted)
    asked, unasked = questions(whole, whole.graph, rulebook, boxes, len(tables.designs))
    names = whole.names
    batch = Batch(len(names), whole.found(), partial(_computed, whole.graph, whole.tabled))
    stated = given(tables) if with_given else [{} for _ in names]
    loops = np.bincount(tables.design_of("loops"), minlength=len(names))
    drawn = (
        floor_pictures(whole.graph, basis.speech) if with_given and judging.second_opinion else {}
    )
    supplies = over_supply(whole.graph) if with_given and judging.second_opinion else {}
    own_rules, own_limits = rulebook.has_own, rulebook.own_limits
    stand_ins: dict[int, list[str]] = {}
    for number, words in assumed(whole.graph):
        stand_ins.setdefault(number, []).append(words)
    reports = []
    for design, own, by_name in zip(tables.designs, batch.designs(), stated, strict=True):
        row = design.row
        made = DesignReport(design.path, names[row], basis.days[row], basis.codes[row], own)
        made.own_rules, made.own_limits = own_rules, own_limits
        made.remarks = (*basis.remarks[row], *stand_ins.get(row, ()))
        made.speech = basis.speech[row]
        made.given = by_name
        if row in tables.drawings:
            made.sketch = sketch(tables.drawings[row])
        made.stage = STAGES[basis.stage[row]]
        made.loopless = bool(loops[row] == 0)
        if design.cells is not None:
            made.sheet, made.told = design.cells.file, design.cells.told
            made.unread = design.cells.refused
        made.questions, made.asides, made.unasked = asked[row], asides[row], unasked[row]
        made.sections = tuple(drawn.get(row, ()))
        made.supplies = tuple(supplies.get(row, ()))
        reports.append(made)
    return reports


class _Judged:
    """Designs judged by some rules: of each rule, by its number, the outcome and the results."""

    def __init__(
        self, tables: Tables, rulebook: Rulebook, basis: ApplicableLimits, rules: Iterable[int]
    ) -> None:
        self.tables = tables
        self.graph = settled(tables, second_opinion=basis.judging.second_opinion)
        self.names = [design.name for design in tables.designs]
        self.speech = basis.speech
        self.tabled = {
            subject: _Tabled(tables, table, self.names, basis.speech)
            for subject, table in TABLE_OF.items()
            if table != PARTS
        }
        self.outcomes: dict[int, Outcome] = {}
        self.findings: dict[int, Findings] = {}
        self._rules: dict[int, _RuleFindings] = {}
        for number in rules:
            rule = rulebook.rules[number]
            own = _RuleFindings(self.graph, basis, rule, self.tabled[told_of(rule)])
            self._rules[number] = own
            if (own.of != NOBODY).any():
                outcome = own.outcome()
                self.outcomes[number] = outcome
                self.findings[number] = own.findings(outcome)

    def raw(self, rule: int) -> tuple[Outcome, npt.NDArray[np.intp] | None]:
        """A rule's outcome for the rows of its own subject, and which of those results tell of."""
        own = self._rules[rule]
        return own.raw, own.rows

    def lacking(self, rule: int) -> Iterator[tuple[int, Severity]]:
        """The designs for which a rule is open because they lack the whole section."""
        own = self._rules[rule]
        for design in own.lacking.tolist():
            if own.due[design]:
                yield design, own.rule.severity

    def found(self) -> list[tuple[npt.NDArray[np.intp], npt.NDArray[np.int64], Results]]:
        """All results, each with the row of its design and its place there."""
        found: list[tuple[npt.NDArray[np.intp], npt.NDArray[np.int64], Results]] = []
        for number, own in self._rules.items():
            if number in self.findings:
                findings = self.findings[number]
                found.append((own.of, findings.places, findings))
            found += own.absent()
        return found


class ApplicableLimits:
    """For each design, the codes and the day it is judged by.

    remarks: for each design, what a reader must know of that: a region without a code of its own,
    or a day that no known edition is of.
    """

    def __init__(self, tables: Tables, rulebook: Rulebook, judging: JudgingOptions) -> None:
        self.judging = judging
        self.codes: list[tuple[str, ...]] = []
        for design in tables.designs:
            declared = design.codes
            if judging.codes is not None:
                self.codes.append(judging.codes)
            elif declared is not None:
                self.codes.append(tuple(declared))
            else:
                self.codes.append(rulebook.codes_of(design.text("project", "region")))
            more = [code for code in judging.further_codes if code not in self.codes[-1]]
            self.codes[-1] = (*self.codes[-1], *more)
        whole = tables[DESIGNS]
        designed_on = whole.column(design_format().leaf(DESIGNS, "project.designed_on").slot)
        self.day = designed_on
        if judging.on is not None:
            self.day = np.full(len(whole), float(judging.on.toordinal()))
        self.days = [
            "" if np.isnan(day) else date.fromordinal(int(day)).isoformat() for day in self.day
        ]
        leaf = design_format().leaf(DESIGNS, STAGE)
        stage = np.nan_to_num(whole.column(leaf.slot), nan=0.0)
        self.stage = stage.astype(np.intp)
        """For each design, the number of its stage; one that states none is at the first."""
        if judging.stage:
            self.stage = np.full(len(whole), STAGES.index(judging.stage))
        self.speech = [
            Speech(
                design.text("project", "units") or design.system
                if judging.units == AS_WRITTEN
                else judging.units,
                judging.decimal,
            )
            for design in tables.designs
        ]
        """For each design, how its reader is told values."""
        self.ageless = np.zeros(len(whole), dtype=bool)
        """Designs older than every edition known: judged as if undated, lest findings be lost."""
        covers = rulebook.covers
        self.remarks = [
            tuple(
                self._remarks(
                    row,
                    design.text("project", "region"),
                    rulebook,
                    covers,
                    by_region=judging.codes is None and design.codes is None,
                )
            )
            for row, design in enumerate(tables.designs)
        ]
        self._under = {
            code: np.array([code in codes for codes in self.codes], dtype=bool)
            for code in {document.code for document in rulebook.documents.values()}
        }
        self._force: dict[str, npt.NDArray[np.bool_]] = {}

    @cached_property
    def no_limit(self) -> Objects:
        """For each design, what a rule says that has no limit by its codes."""
        words = {codes: NO_LIMIT.format(", ".join(codes)) for codes in {*self.codes}}
        return np.array([words[codes] for codes in self.codes], dtype=object)

    def counts(self, rule: Rule) -> npt.NDArray[np.bool_]:
        """For each limit of the rule and each design, whether its source is in force there."""
        return np.array([self._counts(one.document) for one in rule.limits], dtype=bool)

    def due(self, rule: Rule) -> npt.NDArray[np.bool_]:
        """For each design, whether its stage asks for the rule."""
        return np.asarray(self.stage >= STAGES.index(rule.stage))

    def _remarks(
        self, row: int, region: str, rulebook: Rulebook, covers: dict[str, date], *, by_region: bool
    ) -> Iterator[str]:
        if region and by_region and not rulebook.has_own_code(region):
            yield f"no code of {region}'s own is known"
        day = self.day[row]
        before = [one for one in self.codes[row] if one in covers and day < covers[one].toordinal()]
        if before and len(before) == len(self.codes[row]):
            self.ageless[row] = True
        for code in before:
            so = "its newest editions count" if self.ageless[row] else "none of its limits counts"
            yield (
                f"the day is before the oldest edition of {code} that is known ({covers[code]}), "
                f"so that {so}; see whether the date is right"
            )
        if rulebook.is_after(self.day[row]):
            yield (
                f"the day is after these rules (edition {rulebook.published}), so that newer "
                "editions may hold; see whether the date is right"
            )

    def _counts(self, document: Any) -> npt.NDArray[np.bool_]:
        found = self._force.get(document.source.id)
        if found is None:
            found = document.in_force(np.where(self.ageless, np.nan, self.day))
            if document.code:
                found &= self._under[document.code]
            self._force[document.source.id] = found
        return found


class _Tabled(Subjects):
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

    def places(self, at: str) -> npt.NDArray[np.int64]:
        """Where the field stands, else where the subject does."""
        return _places(self.table, at)


def _places(table: Table, at: str) -> npt.NDArray[np.int64]:
    """For each row where the field stands, else where the row does."""
    known = any(leaf.name == at for leaf in table.shape.columns)
    return table.places_at(at if known else "")


_ONE_OF_MANY = re.compile(r"\.(parts|feeds)\[(\d+)\]$")
_KIND_OF_PART = {"parts": "Part", "feeds": "Feed"}


class _RuleFindings:
    """All results of one rule."""

    def __init__(self, graph: Graph, basis: ApplicableLimits, rule: Rule, tabled: _Tabled) -> None:
        self.graph = graph
        self.basis = basis
        self.rule = rule
        self.tabled = tabled
        self.shown = Shown(rule.described)
        self.due = basis.due(rule)
        self.told = Telling(rule.described, tabled.speaking)
        self.counts = basis.counts(rule)
        self.of, self.lacking = tabled.of, tabled.absent
        """The design of each row, NOBODY where none is asked; and those that have no such row."""
        planned = asked_designs(rule, graph.tables)
        if planned is not None:
            self.lacking = self.lacking[planned[self.lacking]]
            self.of = np.where(planned[self.of], self.of, NOBODY)
        title = rule.title.replace("{", "{{").replace("}", "}}")
        self.raw: Outcome
        self.rows: npt.NDArray[np.intp] | None = None
        """Of a rule on parts, the part that gives each loop's result."""
        self.broken = rule.found or f"{title}: {{value}}, where {{limit}} is wanted."

    def outcome(self) -> Outcome:
        """How the rule came out for all rows; those of NOBODY do not apply."""
        self.raw, self.rows = judged(self.rule, self.graph, self.basis)
        found = self.raw if self.rows is None else taken(self.raw, self.rows)
        nobody = self.of == NOBODY
        if nobody.any():
            found.kinds[nobody] = NOT_APPLICABLE
            found.governing[nobody] = -1
            found.reasons[nobody] = -1
        return found

    def absent(self) -> Iterator[tuple[npt.NDArray[np.intp], npt.NDArray[np.int64], Results]]:
        """The results of designs that have no such rows, as `_Judged.found` has them."""
        absent = self.lacking
        if len(absent):
            places = np.full(len(absent), START, dtype=np.int64)
            yield absent, places, Records(map(self._absent, absent.tolist()))

    def findings(self, outcome: Outcome) -> Findings:
        """The results of all rows."""
        shown, kinds = self.shown, outcome.kinds
        numbers = shown.numbers(outcome.values)
        margins = np.where((kinds == PASS) | (kinds == FAIL), _margins(outcome), np.nan)
        told = self.told
        words = np.array(told.in_words(numbers), dtype=object)
        ways = np.empty(len(numbers), dtype=object)
        said = self._said()
        made = Ways(outcome, told, self.broken, placed=said is not None)
        for rows in made.rows():
            first = int(rows[0])
            kind = kinds[first]
            ways[rows] = made.of(first)
            if kind == FAIL:
                for row, value, way in made.told_apart(rows.tolist(), numbers, words):
                    words[row], ways[row] = value, way
                if said is not None:
                    for row in rows.tolist():
                        value = words[row] + told.of(row).end
                        place = told.of(row).speech.words(said.get(row, "{value}"))
                        words[row] = place.replace("{value}", value)
            elif kind == OPEN:
                words[rows] = told.reasons(rows, self.graph.sentences(outcome.reasons[rows]))
            elif kind == REVIEW:
                review = outcome.held[outcome.governing[first]].limit.review
                words[rows] = self._review(review, rows)
            elif kind == NOT_APPLICABLE:
                words[rows] = self._why_not(self.tabled.of[rows], outcome.reasons[rows])
        places = self.tabled.places(self.rule.at)
        if self.rows is not None:
            places = _places(self.graph.tables[PARTS], self.rule.at)[self.rows]
            self._name_parts(ways, kinds)
        return Findings(
            self.tabled,
            places,
            ways.tolist(),
            numbers,
            shown.differences(margins),
            shown.difference_unit,
            words.tolist(),
        )

    def _said(self) -> dict[int, str] | None:
        """What plans say of the values, such as where each was found; None where they say nothing.

        By row, with `{value}` where the value itself belongs.
        """
        known = REGISTRY.get((self.rule.subject, self.rule.value))
        if known is None or not known.places:
            return None
        return self.graph.drawn(known.subject).words(known.places)

    def _name_parts(self, ways: Objects, kinds: npt.NDArray[np.int8]) -> None:
        """Say in the message of each loop in parts which of them it is about."""
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

    def _review(self, review: str, rows: npt.NDArray[np.intp]) -> str | list[str]:
        """What a person must judge, with each row's values where the words name them."""
        gaps = dict.fromkeys(REVIEW_GAP.findall(review))
        # All rows that came out alike have one reader.
        speech = self.told.of(int(rows[0])).speech
        review = speech.words(review)
        if not gaps:
            return review
        subject, at = self.rule.subject, rows if self.rows is None else self.rows[rows]
        told = {}
        for name in gaps:
            described = Names().describe(subject, name)
            values = self.graph.column(subject, name).values[at]
            if described is None:
                told[name] = ["unknown"] * len(at)
                continue
            shown = Shown(described, speech)
            told[name] = [
                shown.words(number) if number == number else "unknown"
                for number in shown.numbers(values)
            ]

        def filled(row: int) -> str:
            return REVIEW_GAP.sub(lambda gap: told[gap[1]][row], review)

        return [*map(filled, range(len(at)))]

    def _why_not(
        self, designs: npt.NDArray[np.intp], reasons: npt.NDArray[np.int64]
    ) -> str | Objects:
        """For each of these designs, why the rule does not apply; reasons: what is missing yet."""
        why: str | Objects
        if self.rule.applies:
            conditions = " and ".join(condition.words for condition in self.rule.applies)
            why = f"Only where {conditions}, and a limit is in force."
        else:
            why = self.rule.unlimited or self.basis.no_limit[designs]
        early = reasons >= 0
        if not early.any():
            return why
        found = np.empty(len(designs), dtype=object)
        found[:] = why
        found[early] = [*map(self._not_yet, self.graph.sentences(reasons[early]))]
        return found

    def _not_yet(self, missing: str) -> str:
        """What a rule says that is not due yet, and lacks this."""
        return NOT_YET.format(self.rule.stage, missing)

    def _absent(self, design: int) -> Result:
        """The result for a design that lacks the whole section."""
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


def _margins(outcome: Outcome) -> npt.NDArray[np.float64]:
    """Of each row, the margin to its governing limit."""
    margins = np.full(len(outcome.kinds), np.nan)
    for number, held in enumerate(outcome.held):
        if held.anywhere:
            margins = np.where(outcome.governing == number, held.margins, margins)
    return margins


def _computed(graph: Graph, tabled: dict[str, _Tabled], shown: bool) -> list[Computed]:
    """The computed values of all subjects; shown: those of every report.

    What plans show is among those of designs that have one.
    """
    found = []
    planned = [*graph.tables.drawings]
    for subject, own in tabled.items():
        every = [q for q in REGISTRY.values() if q.subject == subject and q.shown is shown]
        plain = [q for q in every if not of_plan(subject, q.name)]
        if not planned:
            found.append(_columns(graph, own, plain))
            continue
        with_plan = np.isin(own.of, planned)
        for known, rows in ((plain, ~with_plan), (every, with_plan)):
            some = np.flatnonzero(rows).tolist()
            found.append(_columns(graph, own, known, some))
    return [one for one in found if one.units and one.subjects.names]


def _columns(
    graph: Graph, own: _Tabled, known: list[Quantity], rows: list[int] | None = None
) -> Computed:
    """These values of a subject, of all its rows or of some."""
    columns = [_numbers(graph, quantity) for quantity in known]
    units_of = {q.name: q.unit for q in known}
    if rows is None:
        return Computed(own, units_of, [n for n, _ in columns], [m for _, m in columns])
    return Computed(
        own.of_rows(rows),
        units_of,
        [[numbers[row] for row in rows] for numbers, _ in columns],
        [
            {place: missing[row] for place, row in enumerate(rows) if row in missing}
            for _, missing in columns
        ],
    )


def _numbers(graph: Graph, quantity: Quantity) -> tuple[list[float], dict[int, str]]:
    """The numbers of a quantity in its unit, and why some are missing, by row."""
    column = graph.column(quantity.subject, quantity.name)
    shown = Shown(Described("quantity", quantity.unit, units.kind_of(quantity.unit)))
    missing: dict[int, str] = {}
    if column.reasons is not None:
        rows = np.flatnonzero(np.isnan(column.values))
        missing = dict(zip(rows.tolist(), graph.sentences(column.reasons[rows]), strict=True))
    return shown.numbers(column.values), missing
