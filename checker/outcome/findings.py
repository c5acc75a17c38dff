"""Outcomes to results: the words, the places and the order of what was found."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import date
from itertools import pairwise
from operator import itemgetter
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import UNSET, Struct
from msgspec.json import encode

from checker import units
from checker.compute.graph import REGISTRY, TABLE_OF, Graph, Names, Quantity, no_section
from checker.design.given import given
from checker.design.schema import DESIGNS, design_format
from checker.design.tables import Tables
from checker.outcome.patterns import Patterns, result_of
from checker.outcome.phrasing import Shown, written
from checker.outcome.results import (
    GAP_WORDS,
    HEAD,
    Computed,
    DesignReport,
    Found,
    Pattern,
    Result,
    computed_template,
    filled,
    fingerprint_of,
    missing_number,
    subject_part,
    whole,
)
from checker.reading.yaml_reader import START, column_of, line_of
from checker.rulebook.evaluation import (
    FAIL,
    NOT_APPLICABLE,
    OPEN,
    PASS,
    REVIEW,
    Outcome,
    evaluate,
)
from checker.rulebook.model import REVIEW_GAP, STAGES, Described, Rule, Rulebook

STAGE = "project.stage"
NOT_YET = "Asked for from stage '{}' on: {}."
"""What a rule that is not due yet says: the stage, and what is missing."""


class Judging(Struct, frozen=True):
    """By what the designs are judged: codes, day and stage, where the call says so."""

    codes: tuple[str, ...] | None = None
    on: date | None = None
    stage: str = ""
    """The stage to judge by, whatever the design's own."""


def judge(
    tables: Tables, rulebook: Rulebook, judging: Judging, with_given: bool = False
) -> list[DesignReport]:
    """Every rule for every subject of the designs in hand, in the order of the designs.

    with_given: the reports also carry what the designs state, and what only pictures show.
    """
    graph = Graph(tables)
    basis = Basis(tables, rulebook, judging)
    names = [design.name for design in tables.designs]
    subjects = {subject: _Subjects(tables, table, names) for subject, table in TABLE_OF.items()}
    found = _Gathered()
    for rule in rulebook.rules:
        _Findings(graph, basis, rule, subjects[rule.subject]).into(found)
    computed = _computed(graph, tables, subjects)
    has_own, own_limits = rulebook.has_own, rulebook.own_limits
    reports = []
    for design, own in zip(tables.designs, found.of_designs(len(tables.designs)), strict=True):
        row = design.row
        reports.append(
            DesignReport(
                design.path, names[row], basis.days[row], basis.codes[row], own, computed[row]
            )
        )
        reports[-1].own_rules = has_own
        reports[-1].own_limits = own_limits
    if with_given:
        further = _computed(graph, tables, subjects, shown=False)
        for report, stated, own_further in zip(reports, given(tables), further, strict=True):
            report.given = stated
            report.further_of = own_further
    return reports


class _Gathered:
    """Results of all designs, as they come, and what each is to be ordered by."""

    def __init__(self) -> None:
        self._patterns: list[Pattern] = []
        self._texts: list[bytes] = []
        self._designs: list[npt.NDArray[np.intp]] = []
        self._places: list[npt.NDArray[np.int64]] = []

    def add(
        self,
        designs: npt.NDArray[np.intp],
        places: npt.NDArray[np.int64],
        results: Found,
    ) -> None:
        """Add results, each with the row of its design and its place there."""
        self._designs.append(designs)
        self._places.append(places)
        self._patterns += results.patterns
        self._texts += results.texts

    def of_designs(self, count: int) -> list[Found]:
        """The results of each design: rules come by id, so in file order and then by rule."""
        if not self._texts:
            return [Found([], []) for _ in range(count)]
        designs, places = np.concatenate(self._designs), np.concatenate(self._places)
        # By one number: each rule's rows come nearly sorted, which a stable sort is quick at.
        order = np.argsort(designs * (places.max() + 1) + places, kind="stable")
        ends = np.cumsum(np.bincount(designs, minlength=count)).tolist()
        # The quickest way to so many; one more, so that it is always a tuple.
        in_order = itemgetter(*order.tolist(), 0)
        patterns, texts = in_order(self._patterns), in_order(self._texts)
        return [
            Found([*patterns[start:end]], [*texts[start:end]])
            for start, end in pairwise([0, *ends])
        ]


class Basis:
    """For each design, the codes and the day it is judged by."""

    def __init__(self, tables: Tables, rulebook: Rulebook, judging: Judging) -> None:
        self.codes: list[tuple[str, ...]] = []
        for design in tables.designs:
            declared = design.codes
            if judging.codes is not None:
                self.codes.append(judging.codes)
            elif declared is not None:
                self.codes.append(tuple(declared))
            else:
                self.codes.append(rulebook.codes_of(design.text("project", "region")))
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
        self._under = {
            code: np.array([code in codes for codes in self.codes], dtype=bool)
            for code in {document.code for document in rulebook.documents.values()}
        }
        self._force: dict[str, npt.NDArray[np.bool_]] = {}

    def counts(self, rule: Rule) -> npt.NDArray[np.bool_]:
        """For each limit of the rule and each design, whether its source is in force there."""
        return np.array([self._counts(one.document) for one in rule.limits], dtype=bool)

    def due(self, rule: Rule) -> npt.NDArray[np.bool_]:
        """For each design, whether its stage asks for the rule."""
        return np.asarray(self.stage >= STAGES.index(rule.stage))

    def _counts(self, document: Any) -> npt.NDArray[np.bool_]:
        found = self._force.get(document.source.id)
        if found is None:
            start = -np.inf if document.start is None else document.start.toordinal()
            end = np.inf if document.end is None else document.end.toordinal()
            known = (self.day >= start) & (self.day < end)
            found = np.where(np.isnan(self.day), document.in_force(None), known).astype(bool)
            if document.code:
                found &= self._under[document.code]
            self._force[document.source.id] = found
        return found


class _Heads(NamedTuple):
    """For each row of a table: the place of its results, and how their JSON begins."""

    places: npt.NDArray[np.int64]
    begin: list[bytes]


class _Subjects:
    """The rows of one table as reports name and place them."""

    def __init__(self, tables: Tables, table: str, designs: list[str]) -> None:
        """designs: the name of each."""
        self.table = tables[table]
        self.section = table
        self._designs = designs
        self.of = tables.design_of(table)
        self.design_rows: list[int] = self.of.tolist()
        self.absent = np.setdiff1d(np.arange(len(designs)), self.of)
        """The designs that have no such row."""
        if table == DESIGNS:
            names = ["design"] * len(self.table)
        else:
            names = [f"{table}.{name}" for name in self.table.ids]
        self.quoted = list(map(encode, names))
        """Their names as JSON has them."""
        marks = map(self.fingerprint, self.design_rows, names)
        self.parts = list(map(subject_part, self.quoted, marks))
        self._heads: dict[str, _Heads] = {}

    def fingerprint(self, design: int, name: str) -> bytes:
        """A subject's half of its results' fingerprints."""
        return fingerprint_of(f"{self._designs[design]}\0{name}")

    def heads(self, at: str) -> _Heads:
        """For results that stand where the field does, else where the subject does."""
        at = at if any(leaf.name == at for leaf in self.table.shape.columns) else ""
        found = self._heads.get(at)
        if found is None:
            places = self.table.places_at(at)
            lines, columns = line_of(places).tolist(), column_of(places).tolist()
            begin = list(map(HEAD.__mod__, zip(lines, columns, self.parts, strict=True)))
            found = self._heads[at] = _Heads(places, begin)
        return found


class _Made(dict[Any, Any]):
    """What is made of a key, once."""

    def __init__(self, make: Callable[[Any], Any]) -> None:
        super().__init__()
        self._make = make

    def __missing__(self, key: Any) -> Any:
        made = self[key] = self._make(key)
        return made


class _Findings:
    """All results of one rule."""

    def __init__(
        self,
        graph: Graph,
        basis: Basis,
        rule: Rule,
        subjects: _Subjects,
    ) -> None:
        self.graph = graph
        self.basis = basis
        self.rule = rule
        self.subjects = subjects
        self.shown = Shown(rule.described)
        self.due = basis.due(rule)
        title = rule.title.replace("{", "{{").replace("}", "}}")
        self.broken = rule.found or f"{title}: {{value}}, where {{limit}} is wanted."
        self.says_value = GAP_WORDS in self.broken.format(value=GAP_WORDS, limit="", bound="")

    def into(self, found: _Gathered) -> None:
        """Add the results of all designs."""
        of = self.subjects.of
        if len(of):
            counts = self.basis.counts(self.rule)[:, of]
            outcome = evaluate(self.rule, self.graph, counts, self.due[of])
            found.add(of, self.subjects.heads(self.rule.at).places, self._results(outcome))
        absent = self.subjects.absent
        if len(absent):
            places = np.full(len(absent), START, dtype=np.int64)
            found.add(absent, places, whole(map(self._absent, absent.tolist())))

    def _results(self, outcome: Outcome) -> Found:
        """The results of all rows."""
        shown, kinds = self.shown, outcome.kinds
        numbers = shown.numbers(outcome.values)
        margins = np.where((kinds == PASS) | (kinds == FAIL), _margins(outcome), np.nan)
        words, missing = shown.in_words(numbers), [b""] * len(numbers)
        patterns: list[Any] = [None] * len(numbers)
        made = Patterns(outcome, shown, self.broken)
        for rows in made.ways():
            for row, pattern in zip(rows, made.of_way(rows), strict=True):
                patterns[row] = pattern
            kind = kinds[rows[0]]
            if kind == FAIL:
                for row, value, pattern in made.told_apart(rows, numbers, words):
                    words[row], patterns[row] = value, pattern
                if not self.says_value:
                    for row in rows:
                        words[row] = b""
            elif kind == OPEN:
                reasons = self.graph.sentences(outcome.reasons[rows])
                for row, reason in zip(rows, map(_inner, reasons), strict=True):
                    words[row] = missing[row] = reason
            elif kind == REVIEW:
                for row in rows:
                    words[row] = self._review(
                        outcome.held[outcome.governing[row]].limit.review, row
                    )
            elif kind == NOT_APPLICABLE:
                designs = self.subjects.of[rows]
                for row, why in zip(
                    rows, self._why_not(designs, outcome.reasons[rows]), strict=True
                ):
                    words[row] = why
        return filled(
            patterns,
            self.subjects.heads(self.rule.at).begin,
            shown.written(numbers),
            written(shown.differences(margins)),
            words,
            missing,
        )

    def _review(self, review: str, row: int) -> bytes:
        """What a person must judge, with the row's values where the words name them."""

        def filled(found: re.Match[str]) -> str:
            subject, name = self.rule.subject, found[1]
            described = Names().describe(subject, name)
            number = self.graph.column(subject, name).values[row]
            if described is None or np.isnan(number):
                return "unknown"
            shown = Shown(described)
            return shown.words(shown.numbers(np.array([number]))[0])

        return _inner(REVIEW_GAP.sub(filled, review))

    def _why_not(
        self, designs: npt.NDArray[np.intp], reasons: npt.NDArray[np.int64]
    ) -> Iterator[bytes]:
        """For each of these designs, why the rule does not apply; reasons: what is missing yet."""
        if self.rule.applies:
            conditions = " and ".join(condition.words for condition in self.rule.applies)
            here = _inner(f"Only where {conditions}, and a limit is in force.")
            words = _Made(lambda codes: here)
        else:
            words = _Made(
                lambda codes: _inner(f"No limit is in force here (codes: {', '.join(codes)}).")
            )
        codes = self.basis.codes
        lacking = iter(self.graph.sentences(reasons[reasons >= 0]))
        for design, early in zip(designs.tolist(), (reasons >= 0).tolist(), strict=True):
            yield _inner(self._not_yet(next(lacking))) if early else words[codes[design]]

    def _not_yet(self, missing: str) -> str:
        """What a rule says that is not due yet, and lacks this."""
        return NOT_YET.format(self.rule.stage, missing)

    def _absent(self, design: int) -> Result:
        """The result for a design that lacks the whole section."""
        name = self.subjects.section
        members: dict[str, Any] = {
            "subject": name,
            "line": line_of(START),
            "column": column_of(START),
            "fingerprint": (
                self.subjects.fingerprint(design, name) + fingerprint_of(self.rule.id)
            ).decode(),
            "caution": UNSET,
        }
        lacking = no_section(name)
        if not self.due[design]:
            members["due"] = self.rule.stage
            return result_of(self.rule, "notApplicable", self._not_yet(lacking), **members)
        members["remedy"] = f"State the {name.replace('_', ' ')} in the design."
        members["missing"] = lacking
        return result_of(self.rule, "open", f"Cannot be judged: {lacking}.", **members)


def _inner(text: str) -> bytes:
    """A text as JSON has it, without its quotes."""
    return encode(text)[1:-1]


def _margins(outcome: Outcome) -> npt.NDArray[np.float64]:
    """Of each row, the margin to its governing limit."""
    margins = np.full(len(outcome.kinds), np.nan)
    for number, held in enumerate(outcome.held):
        if held.anywhere:
            margins = np.where(outcome.governing == number, held.margins, margins)
    return margins


def _computed(
    graph: Graph,
    tables: Tables,
    subjects: dict[str, _Subjects],
    shown: bool = True,
) -> list[dict[bytes, Computed]]:
    """For each design, the computed values of each of its subjects; shown: in every report."""
    found: list[dict[bytes, Computed]] = [{} for _ in tables.designs]
    for subject, own in subjects.items():
        known = [q for q in REGISTRY.values() if q.subject == subject and q.shown is shown]
        if not known or not own.design_rows:
            continue
        template = computed_template({quantity.name: quantity.unit for quantity in known})
        columns = [_numbers(graph, quantity) for quantity in known]
        for design, name, row in zip(
            own.design_rows, own.quoted, zip(*columns, strict=True), strict=True
        ):
            found[design][name] = Computed(template, row)
    return found


def _numbers(graph: Graph, quantity: Quantity) -> list[bytes]:
    """The numbers of a quantity as their gaps take them."""
    column = graph.column(quantity.subject, quantity.name)
    shown = Shown(Described("quantity", quantity.unit, units.kind_of(quantity.unit)))
    numbers = written(shown.numbers(column.values))
    if column.reasons is not None:
        missing = np.flatnonzero(np.isnan(column.values))
        said = graph.sentences(column.reasons[missing])
        for row, reason in zip(missing.tolist(), map(_inner, said), strict=True):
            numbers[row] = missing_number(reason)
    return numbers
