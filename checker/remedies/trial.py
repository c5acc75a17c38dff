"""Judges variants of designs in one pass, and compares each with the unchanged design."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from checker.arrays import Index, Mask
from checker.compute.graph import Graph
from checker.compute.judging import OfTheSame, asked_designs, judged, result_subject
from checker.compute.naming import TABLE_OF
from checker.compute.ranges import known_ranges, unknowns_of, valued
from checker.compute.settling import settled
from checker.compute.variants import Cell, Copies
from checker.design.schema import DESIGNS
from checker.design.tables import Tables
from checker.outcome.applicable import ApplicableLimits, JudgingOptions
from checker.outcome.results import HOLDING, SEVERITIES, Severity, Source
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import (
    FAIL,
    NOT_APPLICABLE,
    OPEN,
    PASS,
    REVIEW,
    Outcome,
    governing,
    taken,
)

WORSE = 1e-6
"""A margin that is already negative may not grow by more than this share of the limit."""

Named = tuple[str, str]
"""A rule and the subject of its result."""


class Variant(NamedTuple):
    """A design with changes in it.

    Attributes:
        design: its row.
        prototype: the row of the design that is copied, which is the design itself or one whose
            structure was changed already.
        cells: what is put into the copy.
    """

    design: int
    prototype: int
    cells: tuple[Cell, ...]


class Added(NamedTuple):
    """A result that a variant adds, or makes graver: a fail, an open result or a review.

    Attributes:
        rule: its id.
        subject: 'loops.L1'.
        kind: FAIL, OPEN or REVIEW.
        severity: of the result.
        forbidden: whether no proposal may cause it.
    """

    rule: str
    subject: str
    kind: int
    severity: Severity
    forbidden: bool


class Effect(Struct):
    """The effect of a variant.

    Attributes:
        cleared: fails that pass now, or whose record is gone, by rule and subject.
        added: results that are new or graver, those that forbid the variant among them.
    """

    cleared: set[Named]
    added: list[Added]

    @property
    def forbidden(self) -> bool:
        """Whether a result forbids the variant."""
        return any(one.forbidden for one in self.added)


class Bench:
    """The designs that are tried, and how they are judged."""

    def __init__(self, tables: Tables, book: Rulebook, judging: JudgingOptions) -> None:
        self.tables = tables
        self.book = book
        self.judging = judging

    def tried(
        self, variants: Sequence[Variant], rules: Sequence[Rule] | None = None
    ) -> list[Effect]:
        """Judge variants, and compare each with its design as it is.

        A datum that is unknown but has a published range counts with the middle of it.

        Args:
            variants: all of designs in the tables.
            rules: those that are judged; None for all of the rulebook.

        Returns:
            The effect of each variant, in their order.
        """
        designs = [*dict.fromkeys(one.design for one in variants)]
        base = {design: copy for copy, design in enumerate(designs)}
        wanted = np.array([*designs, *(one.prototype for one in variants)], dtype=np.intp)
        copies = Copies(self.tables, wanted)
        copies.fill(
            cell._replace(copy=len(designs) + number)
            for number, one in enumerate(variants)
            for cell in one.cells
        )
        self._fill_in(copies)
        basis = ApplicableLimits(self.tables, self.book, self.judging)
        graph = settled(copies.tables)
        effects = [Effect(set(), []) for _ in variants]
        of = np.array([*range(len(designs)), *(base[one.design] for one in variants)])
        structural = [
            len(designs) + n for n, one in enumerate(variants) if one.prototype != one.design
        ]
        twins = _Twins(copies, of, len(designs), structural)
        for rule in self.book.rules if rules is None else rules:
            _Held(rule, graph, OfTheSame(basis, wanted), twins).enter(effects)
        return effects

    def _fill_in(self, copies: Copies) -> None:
        """Fill in the middle of its range for each unknown datum.

        So a variant can be tried; a full check then tells whether it works for the whole range.
        """
        if self.judging.strict or not self.book.ranges:
            return
        ranges = known_ranges(self.book)
        unknown = unknowns_of(Graph(copies.tables), ranges)
        for own in unknown.values():
            for one in own:
                middle = valued(ranges[one.range], np.array(0.5))
                copies.tables[one.table].fill(one.slot, [one.row], middle)


class _Twins:
    """For each row of the copies' tables, the row with the same id in the unchanged design."""

    def __init__(self, copies: Copies, of: Index, designs: int, structural: list[int]) -> None:
        self.copies = copies
        self.structural = structural
        self.of = of
        self.designs = designs
        self._known: dict[str, Index] = {}

    def __call__(self, table: str) -> Index:
        """Shape (n,); -1 for a row that the design does not have."""
        found = self._known.get(table)
        if found is None:
            found = self._known[table] = self._found(table)
        return found

    def _found(self, table: str) -> Index:
        """The twin of each row, looked up by id."""
        ids = self.copies.tables[table].ids
        copy = self.copies.tables.design_of(table)
        if table == DESIGNS:
            return self.of[copy].astype(np.intp)
        base = self.of[copy].tolist()
        rows: dict[tuple[int, str], int] = {}
        twins = np.empty(len(ids), dtype=np.intp)
        for row, (own, name) in enumerate(zip(base, ids, strict=True)):
            twins[row] = rows.setdefault((own, name), row)  # the first is the design as it is
        twins[(twins == np.arange(len(ids))) & (copy >= self.designs)] = -1
        return twins

    def name(self, table: str, row: int) -> str:
        """A row as reports name it."""
        return "design" if table == DESIGNS else f"{table}.{self.copies.tables[table].ids[row]}"


def is_binding(source: Source) -> bool:
    """Whether a limit is law or from a maker's papers: no proposal may break one.

    Args:
        source: of the limit.

    Returns:
        False for standards and practice, whose limits count by their severity.
    """
    return source.standing == "code" or source.id.startswith("declared-")


class _Held:
    """One rule over all copies, each row compared with its twin."""

    def __init__(self, rule: Rule, graph: Graph, force: OfTheSame, twins: _Twins) -> None:
        self.rule = rule
        self.table = TABLE_OF[result_subject(rule)]
        self.twins = twins
        tables = twins.copies.tables
        self.copy = tables.design_of(self.table)
        outcome, rows = judged(rule, graph, force)
        self.outcome: Outcome = outcome if rows is None else taken(outcome, rows)
        planned = asked_designs(rule, tables)
        if planned is not None:
            self.outcome.kinds[~planned[self.copy]] = NOT_APPLICABLE
        self.severities, self.margins = governing(self.outcome)
        self.severities = np.where(
            (self.outcome.kinds == OPEN) & (self.outcome.governing < 0),
            SEVERITIES.index(rule.severity),
            self.severities,
        )

    def enter(self, effects: list[Effect]) -> None:
        """Enter into each variant's effect what it clears of this rule, and what it adds."""
        kinds, severities = self.outcome.kinds, self.severities
        if not len(kinds):
            return
        twin = self.twins(self.table)
        fresh = self.copy >= self.twins.designs
        known = twin >= 0
        at = np.where(known, twin, 0)
        before = np.where(known, kinds[at], PASS)
        failed, fails = before == FAIL, kinds == FAIL
        cleared = fresh & known & failed & (kinds == PASS)
        graver = fails & (~failed | (severities < severities[at]))
        with np.errstate(invalid="ignore"):
            deeper = fails & failed & (self.margins < self.margins[at] - WORSE)
        opened = (kinds == OPEN) & (before != OPEN)
        asked = (kinds == REVIEW) & (before != REVIEW) & (severities == 0)
        grave = np.isin(severities, [SEVERITIES.index(one) for one in HOLDING])
        binding = self._binding(at, known)
        new = fresh & (graver | opened | asked | (deeper & grave) | binding)
        forbidden = binding | (grave & (graver | opened | deeper)) | asked
        self._gone(effects)
        offset = self.twins.designs
        for row in np.flatnonzero(cleared).tolist():
            name = self.twins.name(self.table, row)
            effects[self.copy[row] - offset].cleared.add((self.rule.id, name))
        for row in np.flatnonzero(new).tolist():
            effects[self.copy[row] - offset].added.append(
                Added(
                    self.rule.id,
                    self.twins.name(self.table, row),
                    int(kinds[row]),
                    SEVERITIES[int(severities[row])],
                    bool(forbidden[row]),
                )
            )

    def _binding(self, at: Index, known: Mask) -> Mask:
        """Rows that break a code's or a maker's limit which their twin keeps."""
        found = np.zeros(len(at), dtype=bool)
        for limit_outcome in self.outcome.limits:
            if limit_outcome.applies_anywhere and is_binding(limit_outcome.limit.source):
                broken = limit_outcome.kinds == FAIL
                found |= broken & ~(known & broken[at])
        return found

    def _gone(self, effects: list[Effect]) -> None:
        """Count the fails of a record that a variant no longer has as cleared."""
        moved = self.twins.structural
        base = np.flatnonzero((self.outcome.kinds == FAIL) & (self.copy < self.twins.designs))
        if not len(base) or not len(moved):
            return
        twin = self.twins(self.table)
        rows = np.flatnonzero(np.isin(self.copy, moved))
        there = {*zip(self.copy[rows].tolist(), twin[rows].tolist(), strict=True)}
        of = self.twins.of
        failed: dict[int, list[int]] = {}
        for row, copy in zip(base.tolist(), self.copy[base].tolist(), strict=True):
            failed.setdefault(copy, []).append(row)
        for number in moved:
            effect = effects[number - self.twins.designs]
            for row in failed.get(int(of[number]), ()):
                if (number, row) not in there:
                    name = self.twins.name(self.table, row)
                    effect.cleared.add((self.rule.id, name))
