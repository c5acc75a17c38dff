"""Finds results that are the same wherever unknown data lie in their ranges.

The method. The missing data of a design that have a range span a box. Copies of the design are
judged at points of that box, in tables of their own, all designs at once:

- a walk along the diagonal, on which all data go from least to most together. A result that depends
on one datum only shows its whole course there, so the value at which it changes is read off the
walk;
- for each datum its least and its most, the others in the middle. These show on which data a result
depends, and towards which corner each moves it;
- some corners and some points inside, the same for every design. Inside, each datum is at a step of
the walk, so that a floor in section is not solved for further values of it;
- for each result that was the same at all points so far, the corners that the second step predicts
as its worst.

`certainty` then decides whether a result is certain.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.compute.certainty import DECIDED, AtPoints, Boxed, DependentResults, points_of
from checker.compute.dependencies import fields_of_rule
from checker.compute.graph import Graph
from checker.compute.judging import InForce, OfCopies, judged, result_subject
from checker.compute.naming import TABLE_OF
from checker.compute.ranges import Unknown, unknowns_of, valued
from checker.compute.registry import REGISTRY
from checker.compute.settling import settled
from checker.compute.variants import Copies
from checker.design.tables import Tables
from checker.rulebook.beside_records import Range
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import NOT_APPLICABLE, OPEN, Outcome, governing, taken

MOST_ROWS = 40_000
"""Most loops that are judged at once."""
MOST_IN_SECTION = 6_000
"""The same for designs with floors in section, each of which takes some 20 kB."""


def boxed(
    tables: Tables,
    rules: tuple[Rule, ...],
    ranges: tuple[Range, ...],
    force: InForce,
    outcomes: dict[int, Outcome],
) -> Iterator[Boxed]:
    """What is certain, for each design with unknown data that leave a result open.

    Args:
        tables: the designs.
        rules: all rules.
        ranges: the ranges of unknown data.
        force: which limits are in force.
        outcomes: of each rule, by its place in `rules`, with the data as they are; only rules with
            an outcome here are looked at.

    Returns:
        One for each design that has such data and such results, in no particular order; with empty
        lists where none of the results depends on them.
    """
    graph = Graph(tables)
    unknown = unknowns_of(graph, ranges)
    if not unknown:
        return
    waiting = {
        number: _waiting(outcome)
        for number, outcome in outcomes.items()
        if not _leaps(rules[number])
    }
    open_somewhere = np.zeros(len(tables.designs), dtype=bool)
    for number, rows in waiting.items():
        open_somewhere[tables.design_of(TABLE_OF[result_subject(rules[number])])[rows]] = True
    depending = _may_depend(tables, rules, ranges, waiting, unknown)
    loops = np.bincount(tables.design_of("loops"), minlength=len(tables.designs))
    groups: dict[int, list[int]] = {}
    for design, own in unknown.items():
        if open_somewhere[design]:
            groups.setdefault(len(own), []).append(design)
    for count, designs in sorted(groups.items()):
        yield from (_undecided(one, unknown[one]) for one in designs if not depending[one])
        designs = [one for one in designs if depending[one]]
        points = points_of(count)
        weights: Index = len(points) * np.maximum(loops, 1).astype(np.intp)
        for together in _in_groups(designs, weights, MOST_ROWS):
            box = _Box(tables, rules, ranges, force, waiting, together, unknown, MOST_ROWS)
            # One point shows which results lack data outside the box too, before all are judged.
            decided = box.decided(points[:1])
            left, in_section = box.of(decided), box.in_section()
            yield from (_undecided(one, unknown[one]) for one in together if one not in left)
            for most, those in (
                (MOST_ROWS, left - in_section),
                (MOST_IN_SECTION, left & in_section),
            ):
                for few in _in_groups(sorted(those), weights, most):
                    box = _Box(tables, rules, ranges, force, decided, few, unknown, most)
                    yield from box.explored()


def _undecided(design: int, unknowns: list[Unknown]) -> Boxed:
    """A design none of whose results its box decides."""
    return Boxed(design, unknowns, [], [], {})


def _may_depend(
    tables: Tables,
    rules: tuple[Rule, ...],
    ranges: tuple[Range, ...],
    waiting: dict[int, Mask],
    unknown: dict[int, list[Unknown]],
) -> Mask:
    """The designs with results that need a datum and may depend on one with a range.

    waiting: of each rule the rows that need a datum; those of other designs are removed.
    """
    with_unknown: dict[str, Mask] = {}
    for design, own in unknown.items():
        for one in own:
            field = ranges[one.range].field
            with_unknown.setdefault(field, np.zeros(len(tables.designs), dtype=bool))[design] = True
    depending = np.zeros(len(tables.designs), dtype=bool)
    for number, rows in waiting.items():
        if not rows.any():
            continue
        may = np.zeros(len(tables.designs), dtype=bool)
        for field in with_unknown.keys() & fields_of_rule(rules[number]):
            may |= with_unknown[field]
        of = tables.design_of(TABLE_OF[result_subject(rules[number])])
        waiting[number] = rows & may[of]
        depending[of[waiting[number]]] = True
    return depending


def _in_groups(designs: list[int], weights: Index, most: int) -> Iterator[list[int]]:
    """These designs in groups small enough to be judged at once.

    weights: of every design its loops at all points; most: of a group with several designs.
    """
    group: list[int] = []
    weight = 0
    for design in designs:
        if group and weight + weights[design] > most:
            yield group
            group, weight = [], 0
        group.append(design)
        weight += int(weights[design])
    if group:
        yield group


def _leaps(rule: Rule) -> bool:
    """Whether the rule's value, or the condition of applying, jumps between points of a box."""
    names = (rule.value, *(condition.name for condition in rule.applies))
    known = (REGISTRY.get((rule.subject, name)) for name in names)
    return any(one is not None and one.leaps for one in known)


def _waiting(outcome: Outcome) -> Mask:
    """Rows that need a datum, due or not."""
    early = (outcome.kinds == NOT_APPLICABLE) & (outcome.reasons >= 0)
    waiting: Mask = (outcome.kinds == OPEN) | early
    return waiting


class _Box:
    """Designs with equally many unknowns, judged at points of their boxes."""

    def __init__(
        self,
        tables: Tables,
        rules: tuple[Rule, ...],
        ranges: tuple[Range, ...],
        force: InForce,
        waiting: dict[int, Mask],
        designs: list[int],
        unknown: dict[int, list[Unknown]],
        most: int,
    ) -> None:
        """most: loops judged at once, so that a design with many data takes no more memory."""
        self.tables = tables
        self.rules = rules
        self.ranges = ranges
        self.force = force
        self.unknown = unknown
        self.designs: Index = np.array(sorted(designs), dtype=np.intp)
        self.rows: dict[str, Index] = {
            name: np.flatnonzero(np.isin(tables.design_of(name), self.designs))
            for name in TABLE_OF.values()
        }
        """For each table, the rows of these designs."""
        self.at_once = max(1, most // max(1, len(self.rows["loops"])))
        """Points that are judged together."""
        self.shape = len(designs), len(unknown[designs[0]])
        self.waiting: dict[int, Index] = {}
        """For each rule that needs data here, the places of its rows among those."""
        for number, mask in waiting.items():
            own = self.rows[TABLE_OF[result_subject(rules[number])]]
            found = np.flatnonzero(mask[own])
            if len(found):
                self.waiting[number] = found

    def explored(self) -> Iterator[Boxed]:
        """What is certain about each of the designs."""
        points = points_of(len(self.unknown[int(self.designs[0])]))
        for design, found in self._found(points).items():
            yield found.boxed(design, self.unknown[design])

    def decided(self, point: Array) -> dict[int, Mask]:
        """The rows that data of the box decide: those that still need one at a point of it, shape
        (1, unknowns), are never certain.
        """
        judged = self._at(np.repeat(point[:, None, :], len(self.designs), axis=1))
        found = {}
        for number, rows in self.waiting.items():
            table = TABLE_OF[result_subject(self.rules[number])]
            left = rows[np.isin(judged[number].kinds[0], DECIDED)]
            if len(left):
                found[number] = np.zeros(len(self.tables[table]), dtype=bool)
                found[number][self.rows[table][left]] = True
        return found

    def of(self, rows: dict[int, Mask]) -> set[int]:
        """The designs of these rows of rules."""
        tables = {number: TABLE_OF[result_subject(self.rules[number])] for number in rows}
        designs = (self.tables.design_of(tables[number])[mask] for number, mask in rows.items())
        return {design for each in designs for design in each.tolist()}

    def in_section(self) -> set[int]:
        """The designs with a floor solved in section at an end of the box."""
        ends = np.stack([np.full(self.shape, end) for end in (0.0, 1.0)])
        graph = Graph(self._copies(ends).tables)
        stands_in = graph.column("part", "stands_in").values == 1
        copies = graph.tables.design_of(TABLE_OF["part"])[stands_in]
        return {*self.designs[copies % len(self.designs)].tolist()}

    def _found(self, points: Array) -> dict[int, DependentResults]:
        """By design the results at these points, and at the corners that these predict as worst."""
        everywhere = np.repeat(points[:, None, :], len(self.designs), axis=1)
        at_points = self._at(everywhere)
        found = {int(design): DependentResults(points, self.ranges) for design in self.designs}
        for number, one in at_points.items():
            table = TABLE_OF[result_subject(self.rules[number])]
            rows = self.rows[table][self.waiting[number]]
            designs = self.tables.design_of(table)[rows]
            for column, (row, design) in enumerate(
                zip(rows.tolist(), designs.tolist(), strict=True)
            ):
                found[design].take(number, row, column, one)
        worst = {design: one.predictions() for design, one in found.items()}
        most = max(map(len, worst.values()), default=0)
        if most:
            further = np.full((most, len(self.designs), points.shape[1]), 0.5)
            for place, design in enumerate(self.designs.tolist()):
                further[: len(worst[design]), place] = worst[design] or 0.5
            again = self._at(further)
            for place, design in enumerate(self.designs.tolist()):
                found[design].confirm(further[:, place], again)
        return found

    def _copies(self, shares: Array) -> Copies:
        """The designs at points of the box, shape (points, designs, unknowns)."""
        copies = Copies(self.tables, np.tile(self.designs, len(shares)))
        for place, design in enumerate(self.designs.tolist()):
            own = np.arange(place, len(copies.of), len(self.designs))
            for nth, one in enumerate(self.unknown[design]):
                copies.tables[one.table].fill(
                    one.slot,
                    copies.rows(one.table, own, one.row),
                    valued(self.ranges[one.range], shares[:, place, nth]),
                )
        return copies

    def _at(self, shares: Array) -> dict[int, AtPoints]:
        """The rules that need data, at points of the box, shape (points, designs, unknowns)."""
        starts = range(0, len(shares), self.at_once)
        parts = [self._at_once(shares[start : start + self.at_once]) for start in starts]
        if len(parts) == 1:
            return parts[0]
        return {
            number: AtPoints(
                *map(np.concatenate, zip(*(part[number] for part in parts), strict=True))
            )
            for number in self.waiting
        }

    def _at_once(self, shares: Array) -> dict[int, AtPoints]:
        """The same in one pass."""
        count = len(shares)
        copies = self._copies(shares)
        graph = settled(copies.tables)
        found = {}
        for number, rows in self.waiting.items():
            rule = self.rules[number]
            outcome, which = judged(rule, graph, OfCopies(self.force, copies.of))
            if which is not None:
                outcome = taken(outcome, which)
            size = len(self.rows[TABLE_OF[result_subject(rule)]])
            severities, margins = governing(outcome)
            found[number] = AtPoints(
                outcome.kinds.reshape(count, size)[:, rows],
                severities.reshape(count, size)[:, rows],
                margins.reshape(count, size)[:, rows],
            )
        return found
