"""Outcomes to results: the words, the places and the order of what was found."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from datetime import date
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
from msgspec import UNSET, Struct, UnsetType

from checker import units
from checker.design.schema import DESIGNS, design_format
from checker.design.tables import Design, Table, Tables
from checker.graph import REGISTRY, TABLE_OF, Graph
from checker.results import (
    HOLDING,
    KINDS,
    DesignReport,
    Judged,
    Limit,
    Measure,
    Result,
    Value,
)
from checker.rulebook.evaluation import (
    ABSENT,
    FAIL,
    NOT_APPLICABLE,
    OPEN,
    PASS,
    REVIEW,
    Held,
    Outcome,
    evaluate,
)
from checker.rulebook.model import Described, Rule, Rulebook
from checker.wording import apart, measure

DECIMALS = 9
"""Decimals kept when SI turns back into the unit shown, so that 0.15 m is 150 mm, no digit more."""


class Judging(Struct, frozen=True):
    """By what the designs are judged: codes and day, where the call says so."""

    codes: tuple[str, ...] | None = None
    on: date | None = None


def judge(tables: Tables, rulebook: Rulebook, judging: Judging) -> list[DesignReport]:
    """Every rule for every subject of the designs in hand, in the order of the designs."""
    graph = Graph(tables)
    basis = _Basis(tables, rulebook, judging)
    found: list[list[tuple[int, Result]]] = [[] for _ in tables.designs]
    for rule in rulebook.rules:
        _Findings(graph, tables, basis, rule).into(found)
    computed = _computed(graph, tables)
    return [
        _report(design, basis, results, computed[design.row])
        for design, results in zip(tables.designs, found, strict=True)
    ]


def _report(
    design: Design,
    basis: _Basis,
    found: list[tuple[int, Result]],
    computed: dict[str, dict[str, Measure]],
) -> DesignReport:
    found.sort(key=_first)
    results = tuple([result for _, result in found])
    held = any(r.kind == "fail" and r.severity in HOLDING for r in results)
    return DesignReport(
        path=design.path,
        name=design.name,
        verdict="hold" if held else "release",
        judged_by=basis.days[design.row],
        codes=basis.codes[design.row],
        results=results,
        computed=computed,
    )


def _first(pair: tuple[int, Result]) -> int:
    return pair[0]


class _Basis:
    """For each design, the codes and the day it is judged by."""

    def __init__(self, tables: Tables, rulebook: Rulebook, judging: Judging) -> None:
        designs = tables.designs
        self.codes: list[tuple[str, ...]] = []
        regions: dict[str, tuple[str, ...]] = {}
        for design in designs:
            declared = design.codes
            if judging.codes is not None:
                self.codes.append(judging.codes)
            elif declared is not None:
                self.codes.append(tuple(declared))
            else:
                region = design.text("project", "region")
                if region not in regions:
                    regions[region] = rulebook.codes_of(region)
                self.codes.append(regions[region])
        leaf = design_format().leaf(DESIGNS, "project.designed_on")
        if judging.on is not None:
            self.day = np.full(len(designs), float(judging.on.toordinal()))
        elif designs:
            self.day = tables[DESIGNS].column(leaf.slot)
        else:
            self.day = np.zeros(0)
        self.days = [
            "" if np.isnan(day) else date.fromordinal(int(day)).isoformat() for day in self.day
        ]
        stage = design_format().leaf(DESIGNS, "project.stage")
        self.installed = (
            tables[DESIGNS].column(stage.slot) == stage.options.index("installed")
            if designs
            else np.zeros(0, dtype=bool)
        )
        self._under = {
            code: np.array([code in codes for codes in self.codes], dtype=bool)
            for code in {document.code for document in rulebook.documents.values()}
        }
        self._force: dict[str, npt.NDArray[np.bool_]] = {}

    def counts(self, rule: Rule) -> npt.NDArray[np.bool_]:
        """For each limit of the rule and each design, whether its source is in force there."""
        return np.array([self._counts(limit.document) for limit in rule.limits], dtype=bool)

    def _counts(self, document: Any) -> npt.NDArray[np.bool_]:
        found = self._force.get(document.source.id)
        if found is None:
            unknown = np.isnan(self.day)
            start = -np.inf if document.start is None else document.start.toordinal()
            end = np.inf if document.end is None else document.end.toordinal()
            found = (self.day >= start) & (self.day < end)
            found = np.where(unknown, document.in_force(None), found)
            if document.code:
                found = found & self._under[document.code]
            self._force[document.source.id] = found
        return found


class _Shown:
    """A column of one description, as the report shows it."""

    def __init__(self, described: Described) -> None:
        self.described = described
        self.unit = described.unit
        self.scale, self.offset = 1.0, 0.0
        if described.kind == "quantity" and described.measure != "ratio":
            self.scale, self.offset = units.factor(described.unit, described.measure)

    def numbers(self, values: npt.NDArray[np.float64]) -> list[float]:
        """The values in the unit shown."""
        shown: list[float] = np.round((values - self.offset) / self.scale, DECIMALS).tolist()
        return shown

    def differences(self, values: npt.NDArray[np.float64]) -> list[float]:
        """Differences of values in the unit shown."""
        shown: list[float] = np.round(values / self.scale, DECIMALS).tolist()
        return shown

    @property
    def difference_unit(self) -> str:
        """The unit of a difference: kelvin for temperatures, days for dates."""
        if self.described.kind == "date":
            return "day"
        return "K" if self.described.measure == "temperature" else self.unit

    def known(self, number: float) -> Value | UnsetType:
        """The value as a report carries it, unset where it is missing."""
        return self.value(number) if number == number else UNSET

    def value(self, number: float) -> Value:
        """A value that is not missing, as a report carries it."""
        kind = self.described.kind
        if kind in ("quantity", "integer"):
            return self.measured(number)
        if kind == "boolean":
            return number == 1.0
        if kind == "date":
            return date.fromordinal(int(number)).isoformat()
        return self.described.options[int(number)]

    def measured(self, number: float) -> Measure:
        """A number as a report carries it."""
        return Measure(number, self.unit if self.described.kind == "quantity" else "1")

    def words(self, number: float) -> str:
        """The value as a sentence has it."""
        if number != number:
            return "unknown"
        value = self.value(number)
        if isinstance(value, Measure):
            assert value.magnitude is not None
            return measure(value.magnitude, value.unit)
        if isinstance(value, bool):
            return "yes" if value else "no"
        return str(value)


_LIMIT_WORDS = {"at_most": "at most", "at_least": "at least", "before": "by", "after": "from"}


class _HeldWords:
    """One limit of a rule, row by row, in words."""

    def __init__(self, held: Held, shown: _Shown) -> None:
        self.held = held
        self.shown = shown
        self.kinds: list[int] = held.kinds.tolist()
        self.bounds = [shown.numbers(bound) for bound in held.bounds]
        self.margins = shown.differences(held.margins)
        self._limits: dict[tuple[float, ...], Limit | UnsetType] = {}
        self._words: dict[tuple[float, ...], str] = {}

    def limit(self, row: int) -> Limit | UnsetType:
        key = tuple([bound[row] for bound in self.bounds])
        found = self._limits.get(key)
        if found is None:
            found = self._limits[key] = self._limit(key)
        return found

    def _limit(self, bounds: tuple[float, ...]) -> Limit | UnsetType:
        comparison = self.held.limit.comparison
        known = [bound for bound in bounds if bound == bound]
        if not known or (comparison == "between" and len(known) < 2):
            return UNSET
        value, measured = self.shown.value, self.shown.measured
        if comparison == "at_most":
            return Limit(at_most=measured(min(known)))
        if comparison == "at_least":
            return Limit(at_least=measured(max(known)))
        if comparison == "between":
            return Limit(between=(measured(known[0]), measured(known[1])))
        if comparison == "one_of":
            return Limit(one_of=tuple([value(bound) for bound in known]))
        if comparison == "before":
            return Limit(before=str(value(min(known))))
        return Limit(after=str(value(max(known))))

    def words(self, row: int) -> str:
        key = tuple([bound[row] for bound in self.bounds])
        found = self._words.get(key)
        if found is None:
            found = self._words[key] = self._in_words(key)
        return found

    def _in_words(self, bounds: tuple[float, ...]) -> str:
        comparison = self.held.limit.comparison
        known = [bound for bound in bounds if bound == bound]
        words = self.shown.words
        if comparison == "between":
            return " to ".join(words(bound) for bound in known)
        if comparison == "one_of":
            return " or ".join(words(bound) for bound in known)
        nearest = min if comparison in ("at_most", "before") else max
        return f"{_LIMIT_WORDS[comparison]} {words(nearest(known))}" if known else ""

    def message(self, row: int, number: float, kind: int) -> str:
        """What came of this limit for this row, in short."""
        if kind == REVIEW:
            return self.held.limit.review
        if kind == OPEN:
            return "cannot be judged"
        value, limit = self.shown.words(number), self.words(row)
        verb = "is not" if kind == FAIL else "is"
        return f"{value} {verb} {limit}" if kind == FAIL else f"{value}; {limit}"


@lru_cache(maxsize=65_536)
def _digest(text: str) -> str:
    return hashlib.blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).hexdigest()


class _Findings:
    """All results of one rule."""

    def __init__(self, graph: Graph, tables: Tables, basis: _Basis, rule: Rule) -> None:
        self.graph = graph
        self.tables = tables
        self.basis = basis
        self.rule = rule
        self.table_name = TABLE_OF[rule.subject]
        self.table: Table = tables[self.table_name]
        self.design_of = tables.design_of(self.table_name)

    def into(self, found: list[list[tuple[int, Result]]]) -> None:
        """Add each result to its design's list, with the number that orders it."""
        judged = (
            self.basis.installed
            if self.rule.stage == "installed"
            else np.ones(len(self.basis.installed), dtype=bool)
        )
        if len(self.table):
            counts = self.basis.counts(self.rule)[:, self.design_of]
            outcome = evaluate(self.rule, self.graph, counts, judged[self.design_of])
            for row, (design, result) in enumerate(
                zip(self.design_of.tolist(), self._results(outcome), strict=True)
            ):
                found[design].append((self._order(row, result), result))
        for design in self._without_section():
            result = self._absent(design, bool(judged[design]))
            found[design].append((result.line << 20 | result.column, result))

    def _order(self, row: int, result: Result) -> int:
        return result.line << 20 | result.column

    def _without_section(self) -> list[int]:
        present = np.zeros(len(self.tables.designs), dtype=bool)
        present[self.design_of] = True
        absent: list[int] = np.flatnonzero(~present).tolist()
        return absent

    def _absent(self, design: int, judged: bool) -> Result:
        rule = self.rule
        name = self.table_name
        kind = "open" if judged else "notApplicable"
        words = f"the design has no section '{name}'"
        return Result(
            rule=rule.id,
            subject=name,
            kind=kind,
            severity=rule.severity,
            title=rule.title,
            message=f"Cannot be judged: {words}." if judged else NOT_YET,
            remedy=f"State the {name.replace('_', ' ')} in the design." if judged else "",
            missing=words if judged else UNSET,
            fingerprint=self._fingerprint(design, name),
        )

    def _fingerprint(self, design: int, subject: str) -> str:
        return _digest(self.tables.designs[design].name) + _digest(f"{self.rule.id}\0{subject}")

    def _subjects(self) -> list[str]:
        if self.table_name == DESIGNS:
            return ["design"] * len(self.table)
        prefix = self.table_name + "."
        return [prefix + name for name in self.table.ids]

    def _places(self) -> Iterator[Any]:
        """Where each subject's field stands, else the subject itself."""
        path = self.rule.at.split(".")
        leaf = any(leaf.name == self.rule.at for leaf in self.table.shape.columns)
        if not leaf:
            yield from self.table.places
            return
        for source, place in zip(self.table.sources, self.table.places, strict=True):
            found = place
            holder: Any = source
            for step in path:
                places = holder.places.get(step)
                if places is None:
                    break
                found = places[1]
                holder = holder[step]
            yield found

    def _results(self, outcome: Outcome) -> Iterator[Result]:
        rule = self.rule
        shown = _Shown(rule.described)
        held = [_HeldWords(one, shown) for one in outcome.held]
        numbers = shown.numbers(outcome.values)
        several = self._several(outcome)
        margin_unit = shown.difference_unit
        for row, (kind, governing, number, reason, subject, place, design, more) in enumerate(
            zip(
                outcome.kinds.tolist(),
                outcome.governing.tolist(),
                numbers,
                outcome.reasons.tolist(),
                self._subjects(),
                self._places(),
                self.design_of.tolist(),
                several,
                strict=True,
            )
        ):
            limit: Limit | UnsetType = UNSET
            source: Any = UNSET
            margin: Measure | UnsetType = UNSET
            severity = rule.severity
            missing: str | UnsetType = UNSET
            remedy = ""
            if governing >= 0:
                one = held[governing]
                severity = one.held.limit.severity
                source = one.held.limit.source
                limit = one.limit(row) if one.bounds else UNSET
                left = one.margins[row] if one.bounds else number
                if one.bounds and left == left:
                    margin = Measure(left, margin_unit)
            if kind == PASS:
                message = f"{shown.words(number)}; {one.words(row)}."
            elif kind == FAIL:
                message = self._broken(shown, one, row, number)
                remedy = rule.remedy
            elif kind == OPEN:
                words, about = self.graph.reason(reason)
                missing = f"{about}: {words}"
                message = f"Cannot be judged: {missing}."
                remedy = "State what is missing, or correct what is out of range."
            elif kind == REVIEW:
                message = one.held.limit.review
                remedy = rule.remedy
            else:
                message = self._not_applicable(design)
            yield Result(
                rule=rule.id,
                subject=subject,
                kind=KINDS[kind],
                severity=severity,
                title=rule.title,
                value=shown.known(number),
                limit=limit,
                margin=margin,
                source=source,
                message=message,
                remedy=remedy,
                missing=missing,
                also=self._also(held, row, governing, number) if more else UNSET,
                caution=rule.caution or UNSET,
                line=place.line + 1,
                column=place.column + 1,
                fingerprint=self._fingerprint(design, subject),
            )

    def _several(self, outcome: Outcome) -> list[bool]:
        count = np.zeros(len(outcome.kinds), dtype=int)
        for one in outcome.held:
            count += one.kinds != ABSENT
        several: list[bool] = ((count > 1) & (outcome.kinds != NOT_APPLICABLE)).tolist()
        return several

    def _also(
        self, held: Sequence[_HeldWords], row: int, governing: int, number: float
    ) -> tuple[Judged, ...]:
        return tuple(
            Judged(
                KINDS[one.kinds[row]],
                one.held.limit.severity,
                one.limit(row) if one.bounds else UNSET,
                one.held.limit.source,
                one.message(row, number, one.kinds[row]) + ".",
            )
            for position, one in enumerate(held)
            if position != governing and one.kinds[row] != ABSENT
        )

    def _broken(self, shown: _Shown, held: _HeldWords, row: int, number: float) -> str:
        value, limit = shown.words(number), held.words(row)
        if shown.described.kind in ("quantity", "integer") and len(held.bounds) == 1:
            unit = shown.unit if shown.described.kind == "quantity" else "1"
            value, bound = apart(number, held.bounds[0][row], unit)
            comparison = held.held.limit.comparison
            if comparison in _LIMIT_WORDS:
                limit = f"{_LIMIT_WORDS[comparison]} {bound}"
        if self.rule.found:
            return self.rule.found.format(value=value, limit=limit)
        return f"{self.rule.title}: {value}, where {limit} is wanted."

    def _not_applicable(self, design: int) -> str:
        if self.rule.stage == "installed" and not self.basis.installed[design]:
            return NOT_YET
        if self.rule.applies:
            conditions = " and ".join(condition.words for condition in self.rule.applies)
            return f"Only where {conditions}, and a limit is in force."
        codes = ", ".join(self.basis.codes[design]) or "none"
        return f"No limit is in force here (codes: {codes})."


NOT_YET = "A record of work done; it is judged at stage 'installed'."


def _computed(graph: Graph, tables: Tables) -> list[dict[str, dict[str, Measure]]]:
    """For each design, the computed values of each of its subjects."""
    found: list[dict[str, dict[str, Measure]]] = [{} for _ in tables.designs]
    for subject, table_name in TABLE_OF.items():
        known = [q for q in REGISTRY.values() if q.subject == subject and q.shown]
        table = tables[table_name]
        if not known or not len(table):
            continue
        names = [quantity.name for quantity in known]
        columns = [
            _measures(graph, quantity.subject, quantity.name, quantity.unit) for quantity in known
        ]
        prefix = table_name + "."
        for design, name, row in zip(
            tables.design_of(table_name).tolist(),
            table.ids,
            zip(*columns, strict=True),
            strict=True,
        ):
            key = "design" if table_name == DESIGNS else prefix + name
            found[design][key] = dict(zip(names, row, strict=True))
    return found


def _measures(graph: Graph, subject: str, name: str, unit: str) -> list[Measure]:
    column = graph.column(subject, name)
    shown = _Shown(Described("quantity", unit, units.kind_of(unit)))
    numbers = shown.numbers(column.values)
    if column.reasons is None:
        return [Measure(number, unit) for number in numbers]
    measures = []
    for number, reason in zip(numbers, column.reasons.tolist(), strict=True):
        if number == number:
            measures.append(Measure(number, unit))
        else:
            words, about = graph.reason(reason)
            measures.append(Measure(None, unit, f"{about}: {words}"))
    return measures
