"""What comes out whatever a datum is that is not known but lies in a range.

The method. The data of a design that are missing and have a range span a box. The design is judged
again at points of that box, as copies of it in tables of their own, all designs at once:

- a walk along the diagonal, on which all data go from least to most together. A result that hangs
  on one datum alone sees its whole course there, so where it turns is read off the walk;
- for each datum its least and its most, the others in the middle. They tell on which data a result
  hangs, and into which corner each drives it;
- some corners and some points inside, the same ones for every design. Inside, each datum is at a
  step of the walk, so that a floor in section is not solved for further values of it;
- the corners that the second step foretells as the worst of each result that came out alike at
  all points so far.

A result is certain where it came out alike at every point, and where its margin keeps a distance
from zero besides. Where it hangs on one datum and runs one way along the walk, that is what a
curve may do between two points; where it turns back, the largest step of the walk. Where it hangs
on several and runs one way in each, it is a twentieth of its spread, or how far corners stray from
what each datum does alone, added up; else all of its spread. A margin is what evaluation calls
one, as a share of the limit. Nothing is certain of a rule whose value or whose applying leaps
(`Quantity.leaps`).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace

from checker.compute.graph import REGISTRY, TABLE_OF, Graph
from checker.compute.judging import InForce, OfCopies, judged, told_of
from checker.compute.settling import settled
from checker.compute.variants import Copies
from checker.design.materials import SOURCE_ID, catalogue
from checker.design.schema import design_format, words
from checker.design.tables import Tables
from checker.outcome.results import SEVERITIES
from checker.rulebook.evaluation import (
    FAIL,
    NOT_APPLICABLE,
    OPEN,
    PASS,
    REVIEW,
    Outcome,
    governing,
    taken,
    where_holds,
)
from checker.rulebook.model import Described, Range, Rule, Rulebook

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Index = npt.NDArray[np.intp]

STEPS = 16
"""Steps of the walk along the diagonal."""
MIDDLE = STEPS // 2
CORNERS, INSIDE = 8, 8
"""Corners and points inside that every design is judged at, picked by a generator of seed 0."""
SHARE = 0.05
"""The share of its spread that a result on several data keeps from its limit to be certain."""
MOST_ROWS = 40_000
"""Loops in hand at once."""
EXACT = 1e-9
DECIDED = (PASS, FAIL, REVIEW)
"""What comes out where nothing is missing."""


class Unknown(NamedTuple):
    """A datum that is not known: its table, row and slot there, and the number of its range."""

    table: str
    row: int
    slot: int
    range: int


class Certain(NamedTuple):
    """A result that is the same whatever its unknown data are.

    rule: its number; at: the share of its range that each unknown of the design has where the
    result is worst; severity: that of its mildest case; data: the unknowns that it hangs on.
    """

    rule: int
    row: int
    kind: int
    severity: str
    at: Array
    data: tuple[int, ...]


class Turning(NamedTuple):
    """A result that one unknown decides: where it turns, and whether it passes below that."""

    rule: int
    row: int
    unknown: int
    value: float
    passes_below: bool


class Boxed(Struct, frozen=True):
    """What is certain of a design, where results turn, and what each open one hangs on.

    unknowns: the data of the box; hangs: for (rule, row) the unknowns that an open result hangs on,
    where nothing else is missing.
    """

    design: int
    unknowns: list[Unknown]
    certain: list[Certain]
    turning: list[Turning]
    hangs: dict[tuple[int, int], tuple[int, ...]]


LAYERS, CONDUCTIVITY = "layers", "conductivity"


def known_ranges(book: Rulebook) -> tuple[Range, ...]:
    """All ranges: those of the rules, then of what materials of layers conduct."""
    source = book.documents[SOURCE_ID].source
    described = Described("quantity", "W/(m·K)", "conductivity")
    return book.ranges + tuple(
        Range(
            LAYERS,
            CONDUCTIVITY,
            described,
            (),
            material.least,
            material.most,
            replace(source, clause=f"Table 3, {material.name}"),
        )
        for material in catalogue().ranging
    )


def _of_layers(graph: Graph, ranges: tuple[Range, ...]) -> Iterator[tuple[int, Unknown]]:
    """Layers that are given by a material without one value: the design of each, and the datum."""
    table = graph.tables[LAYERS]
    if not len(table):
        return
    slots = {leaf.name: leaf.slot for leaf in table.shape.columns}
    stated, material = table.column(slots[CONDUCTIVITY]), table.column(slots["material"])
    first = next(number for number, one in enumerate(ranges) if one.subject == LAYERS)
    numbers = {own: first + nth for nth, own in enumerate(catalogue().ranging)}
    designs = graph.tables.design_of(LAYERS)
    for row in np.flatnonzero(np.isnan(stated) & ~np.isnan(material)).tolist():
        known = catalogue().find(words.text(material[row]))
        if known in numbers:
            yield int(designs[row]), Unknown(LAYERS, row, slots[CONDUCTIVITY], numbers[known])


def unknowns_of(graph: Graph, ranges: tuple[Range, ...]) -> dict[int, list[Unknown]]:
    """For each design that has some, its data that are missing and lie in a range."""
    found: dict[int, list[Unknown]] = {}
    for design, unknown in _of_layers(graph, ranges):
        found.setdefault(design, []).append(unknown)
    taken: set[tuple[str, int, int]] = set()
    for number, one in enumerate(ranges):
        if one.subject == LAYERS:
            continue
        table = TABLE_OF[one.subject]
        size = graph.size(one.subject)
        if not size:
            continue
        slot = design_format().leaf(table, one.field).slot
        missing = np.isnan(graph.tables[table].column(slot))
        if not missing.any():
            continue
        here, _, _ = where_holds(one.when, one.subject, graph, size)
        designs = graph.tables.design_of(table)
        for row in np.flatnonzero(missing & here).tolist():
            if (table, slot, row) not in taken:
                taken.add((table, slot, row))
                own = found.setdefault(int(designs[row]), [])
                own.append(Unknown(table, row, slot, number))
    return found


def boxed(
    tables: Tables,
    rules: tuple[Rule, ...],
    ranges: tuple[Range, ...],
    force: InForce,
    outcomes: dict[int, Outcome],
) -> Iterator[Boxed]:
    """What is certain, for each design with unknown data that leave a result of it open.

    outcomes: of each rule, by its number, with the data as they are.
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
    concerned = np.zeros(len(tables.designs), dtype=bool)
    for number, rows in waiting.items():
        concerned[tables.design_of(TABLE_OF[told_of(rules[number])])[rows]] = True
    loops = np.bincount(tables.design_of("loops"), minlength=len(tables.designs))
    groups: dict[int, list[int]] = {}
    for design, own in unknown.items():
        if concerned[design]:
            groups.setdefault(len(own), []).append(design)
    for count, designs in sorted(groups.items()):
        shares = _points(count)
        some: list[int] = []
        weight = 0
        for design in designs:
            copies = len(shares) * max(1, int(loops[design]))
            if some and weight + copies > MOST_ROWS:
                yield from _Box(tables, rules, ranges, force, waiting, some, unknown).explored()
                some, weight = [], 0
            some.append(design)
            weight += copies
        yield from _Box(tables, rules, ranges, force, waiting, some, unknown).explored()


def _leaps(rule: Rule) -> bool:
    """Whether the rule's value, or what decides if it applies, leaps between points of a box."""
    names = (rule.value, *(condition.name for condition in rule.applies))
    known = (REGISTRY.get((rule.subject, name)) for name in names)
    return any(one is not None and one.leaps for one in known)


def _waiting(outcome: Outcome) -> Mask:
    """Rows that want a datum, due or not."""
    early = (outcome.kinds == NOT_APPLICABLE) & (outcome.reasons >= 0)
    waiting: Mask = (outcome.kinds == OPEN) | early
    return waiting


def _points(count: int) -> Array:
    """Where every design with so many unknowns is judged, as shares of the ranges, (n, count)."""
    walk = np.repeat(np.linspace(0, 1, STEPS + 1)[:, None], count, axis=1)
    if count == 1:
        return walk
    sides = np.full((2 * count, count), 0.5)
    each = np.arange(count)
    sides[2 * each, each], sides[2 * each + 1, each] = 0.0, 1.0
    generator = np.random.default_rng(0)
    corners = generator.integers(0, 2, (CORNERS, count)).astype(float)
    inside = generator.integers(0, STEPS + 1, (INSIDE, count)) / STEPS
    return np.concatenate([walk, sides, corners, inside])


class _Judged(NamedTuple):
    """A rule at some points for some rows, shape (points, rows)."""

    kinds: npt.NDArray[np.int8]
    severities: npt.NDArray[np.int8]
    margins: Array

    def of(self, column: int) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.int8], Array]:
        """One row at all points."""
        return self.kinds[:, column], self.severities[:, column], self.margins[:, column]


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
    ) -> None:
        self.tables = tables
        self.rules = rules
        self.ranges = ranges
        self.force = force
        self.unknown = unknown
        self._take(np.array(sorted(designs), dtype=np.intp))
        self.waiting: dict[int, Index] = {}
        """Of each rule that wants data here, where its rows stand among those."""
        for number, mask in waiting.items():
            own = self.rows[TABLE_OF[told_of(rules[number])]]
            found = np.flatnonzero(mask[own])
            if len(found):
                self.waiting[number] = found

    def _take(self, designs: Index) -> None:
        """designs: in their order; rows: of each table, those of these designs."""
        self.designs = designs
        self.rows: dict[str, Index] = {
            name: np.flatnonzero(np.isin(self.tables.design_of(name), designs))
            for name in TABLE_OF.values()
        }

    def explored(self) -> Iterator[Boxed]:
        """What is certain of each of the designs."""
        points = _points(len(self.unknown[int(self.designs[0])]))
        every = self.designs.tolist()
        self._narrow(points[:1])
        found = self._found(points) if self.waiting else {}
        for design in every:
            own = self.unknown[design]
            one = found.get(design)
            yield one.boxed(design, own) if one else Boxed(design, own, [], [], {})

    def _narrow(self, point: Array) -> None:
        """Leave out what no datum of the box decides: a result that still wants one at a point of
        it, shape (1, unknowns), is certain nowhere and turns nowhere."""
        judged = self._at(np.repeat(point[:, None, :], len(self.designs), axis=1))
        decided: dict[int, Index] = {}
        concerned = []
        for number, rows in self.waiting.items():
            kinds = judged[number].kinds[0]
            table = TABLE_OF[told_of(self.rules[number])]
            left = self.rows[table][rows[np.isin(kinds, DECIDED)]]
            if len(left):
                decided[number] = left
                concerned.append(self.tables.design_of(table)[left])
        if concerned:
            self._take(np.unique(np.concatenate(concerned)))
        self.waiting = {
            number: np.searchsorted(self.rows[TABLE_OF[told_of(self.rules[number])]], left)
            for number, left in decided.items()
        }

    def _found(self, points: Array) -> dict[int, _Found]:
        everywhere = np.repeat(points[:, None, :], len(self.designs), axis=1)
        at_points = self._at(everywhere)
        found = {int(design): _Found(points, self) for design in self.designs}
        for number, one in at_points.items():
            table = TABLE_OF[told_of(self.rules[number])]
            rows = self.rows[table][self.waiting[number]]
            designs = self.tables.design_of(table)[rows]
            for column, (row, design) in enumerate(
                zip(rows.tolist(), designs.tolist(), strict=True)
            ):
                found[design].take(number, row, column, one)
        worst = {design: one.foretold() for design, one in found.items()}
        most = max(map(len, worst.values()), default=0)
        if most:
            further = np.full((most, len(self.designs), points.shape[1]), 0.5)
            for place, design in enumerate(self.designs.tolist()):
                own_points = worst[design]
                further[: len(own_points), place] = own_points or 0.5
            again = self._at(further)
            for place, design in enumerate(self.designs.tolist()):
                found[design].confirm(further[:, place], again)
        return found

    def _at(self, shares: Array) -> dict[int, _Judged]:
        """The rules that want data, at points of the box, shape (points, designs, unknowns)."""
        count = len(shares)
        designs = np.tile(self.designs, count)
        copies = Copies(self.tables, designs)
        self._fill(copies, shares)
        graph = settled(copies.tables)
        found = {}
        for number, rows in self.waiting.items():
            rule = self.rules[number]
            outcome, which = judged(rule, graph, OfCopies(self.force, designs))
            if which is not None:
                outcome = taken(outcome, which)
            size = len(self.rows[TABLE_OF[told_of(rule)]])
            severities, margins = governing(outcome)
            found[number] = _Judged(
                outcome.kinds.reshape(count, size)[:, rows],
                severities.reshape(count, size)[:, rows],
                margins.reshape(count, size)[:, rows],
            )
        return found

    def _fill(self, copies: Copies, shares: Array) -> None:
        for place, design in enumerate(self.designs.tolist()):
            own = np.arange(place, len(copies.of), len(self.designs))
            for nth, one in enumerate(self.unknown[design]):
                copies.tables[one.table].fill(
                    one.slot,
                    copies.rows(one.table, own, one.row),
                    valued(self.ranges[one.range], shares[:, place, nth]),
                )


def valued(one: Range, share: Array) -> Array:
    """The value at a share of a range, in SI."""
    return one.least + share * (one.most - one.least)


class _Row(Struct):
    """One result at all points so far."""

    rule: int
    row: int
    column: int
    kinds: npt.NDArray[np.int8]
    severities: npt.NDArray[np.int8]
    margins: Array
    points: Array
    data: tuple[int, ...] = ()

    @property
    def alike(self) -> bool:
        """Whether it came out as a pass, or as a fail, or as a review, at all points."""
        first = self.kinds[0]
        return first in DECIDED and bool((self.kinds == first).all())

    @property
    def one_way(self) -> bool:
        """Whether the margin only rises or only falls, along the diagonal and in each datum."""
        count = self.points.shape[1]
        sides = self.margins[STEPS + 1 : STEPS + 1 + 2 * count].reshape(count, 2)
        middle = self.margins[MIDDLE]
        along = np.stack([middle - sides[:, 0], sides[:, 1] - middle])
        return _one_way(np.diff(self.margins[: STEPS + 1])[:, None]) and _one_way(along)

    @property
    def meeting(self) -> float:
        """How far margins at corners stray from what each datum does alone, added up."""
        count = self.points.shape[1]
        sides = self.margins[STEPS + 1 : STEPS + 1 + 2 * count].reshape(count, 2)
        middle = self.margins[MIDDLE]
        corners = (self.points[:, list(self.data)] % 1 == 0).all(axis=1)
        shares = self.points[corners]
        alone = np.where(shares == 0, sides[:, 0] - middle, 0.0)
        alone += np.where(shares == 1, sides[:, 1] - middle, 0.0)
        stray = self.margins[corners] - middle - alone.sum(axis=1)
        return float(np.ptp(stray)) if len(stray) else 0.0

    @property
    def settled(self) -> bool:
        """Whether it came out as a pass or as a fail at each point, so that no more is missing."""
        return bool(np.isin(self.kinds, DECIDED).all())


class _Found:
    """The results of one design that want data."""

    def __init__(self, points: Array, box: _Box) -> None:
        self.points = points
        self.box = box
        self.rows: list[_Row] = []

    def take(self, rule: int, row: int, column: int, judged: _Judged) -> None:
        """Take a result at the points that every design is judged at."""
        one = _Row(rule, row, column, *judged.of(column), self.points)
        one.data = self._hangs_on(one)
        self.rows.append(one)

    def _hangs_on(self, one: _Row) -> tuple[int, ...]:
        count = self.points.shape[1]
        state = np.where(np.isfinite(one.margins), one.margins, one.kinds * 1e6)
        if count == 1:
            return (0,) if np.ptp(state) > EXACT or np.ptp(one.kinds) else ()
        sides = slice(STEPS + 1, STEPS + 1 + 2 * count)
        apart = np.abs(state[sides] - state[MIDDLE]) > EXACT
        apart |= one.kinds[sides] != one.kinds[MIDDLE]
        data = tuple(np.flatnonzero(apart.reshape(count, 2).any(axis=1)).tolist())
        if len(data) <= 1:
            # What shows on the walk but in no single datum hangs on how several meet.
            ends = [0, STEPS]
            shown = [STEPS + 1 + 2 * data[0] + side for side in (0, 1)] if data else [MIDDLE] * 2
            if (np.abs(state[ends] - state[shown]) > EXACT).any():
                return tuple(range(count))
        return data

    def foretold(self) -> list[Array]:
        """The corners that are to be the worst of results on several data, as few as will do."""
        wanted: list[tuple[Mask, Array]] = []
        count = self.points.shape[1]
        seen: set[bytes] = set()
        for one in self.rows:
            if len(one.data) < 2 or not one.alike:
                continue
            sides = one.margins[STEPS + 1 : STEPS + 1 + 2 * count].reshape(count, 2)
            rising = sides[:, 1] > sides[:, 0]
            # A pass is tried where its margin is least, a fail where it is most.
            corner = np.where(rising == (one.kinds[0] == PASS), 0.0, 1.0)
            hangs = np.zeros(count, dtype=bool)
            hangs[list(one.data)] = True
            key = hangs.tobytes() + corner[hangs].tobytes()
            if key not in seen:
                seen.add(key)
                wanted.append((hangs, corner))
        return merged(wanted)[0]

    def confirm(self, points: Array, judged: dict[int, _Judged]) -> None:
        """Take the results at the foretold corners too."""
        for one in self.rows:
            kinds, severities, margins = judged[one.rule].of(one.column)
            one.kinds = np.concatenate([one.kinds, kinds])
            one.severities = np.concatenate([one.severities, severities])
            one.margins = np.concatenate([one.margins, margins])
            one.points = np.concatenate([one.points, points])

    def boxed(self, design: int, unknowns: list[Unknown]) -> Boxed:
        """What is certain, and where results turn."""
        certain, turning = [], []
        hangs = {}
        for one in self.rows:
            found = self._certain(one)
            if found is not None:
                certain.append(found)
                continue
            if one.settled:
                hangs[one.rule, one.row] = one.data
            where = self._turning(one, unknowns)
            if where is not None:
                turning.append(where)
        return Boxed(design, unknowns, certain, turning, hangs)

    def _certain(self, one: _Row) -> Certain | None:
        if not one.alike:
            return None
        if one.kinds[0] == REVIEW:
            return Certain(one.rule, one.row, REVIEW, SEVERITIES[0], one.points[MIDDLE], one.data)
        nearest = np.abs(one.margins).min()
        if nearest < self._distance(one):
            return None
        fails = one.kinds[0] == FAIL
        gravity = one.severities * 1e7 + np.clip(one.margins, -1e6, 1e6) if fails else one.margins
        return Certain(
            one.rule,
            one.row,
            int(one.kinds[0]),
            SEVERITIES[int(one.severities.max() if fails else one.severities[0])],
            one.points[int(gravity.argmin())],
            one.data,
        )

    @staticmethod
    def _distance(one: _Row) -> float:
        """How far from zero the margin must stay for the result to be certain."""
        if len(one.data) > 1:
            # Where a margin rises and falls, it may rise between the points as much as they differ.
            spread = float(np.ptp(one.margins))
            return max(SHARE * spread, one.meeting) if one.one_way else spread
        steps = np.diff(one.margins[: STEPS + 1])
        if not _one_way(steps[:, None]):
            return float(np.abs(steps).max())
        # Between two points a curve leaves its chord by an eighth of its second difference.
        return float(np.abs(np.diff(steps)).max()) / 8

    def _turning(self, one: _Row, unknowns: list[Unknown]) -> Turning | None:
        """Where the walk crosses the limit, for a result on one datum that turns once."""
        if len(one.data) != 1:
            return None
        kinds, margins = one.kinds[: STEPS + 1], one.margins[: STEPS + 1]
        changes = np.flatnonzero(np.diff(kinds))
        if len(changes) != 1 or not one.settled:
            return None
        before = int(changes[0])
        low, high = margins[before], margins[before + 1]
        beside = np.concatenate([margins[:before] - low, margins[before + 2 :] - high])
        if not np.abs(beside).max(initial=0.0) > EXACT:
            return None  # it leaps, somewhere within the step
        part = 0.5 if low == high else float(np.clip(low / (low - high), 0.0, 1.0))
        share = np.array((before + part) / STEPS)
        (unknown,) = one.data
        value = float(valued(self.box.ranges[unknowns[unknown].range], share))
        return Turning(one.rule, one.row, unknown, value, bool(kinds[before] == PASS))


def _one_way(steps: Array) -> bool:
    """Whether the steps of each column, shape (steps, columns), all rise or all fall."""
    rising, falling = (steps >= -EXACT).all(axis=0), (steps <= EXACT).all(axis=0)
    return bool((rising | falling).all())


def merged(wanted: list[tuple[Mask, Array]]) -> tuple[list[Array], list[int]]:
    """Points that say nothing against one another as one, and which of those each became.

    wanted: which shares of a point matter, and the point; what matters to none is in the middle.
    """
    found: list[tuple[Mask, Array]] = []
    became = []
    for matters, point in wanted:
        for number, (others, other) in enumerate(found):
            both = matters & others
            if (point[both] == other[both]).all():
                found[number] = matters | others, np.where(matters, point, other)
                became.append(number)
                break
        else:
            became.append(len(found))
            found.append((matters, np.where(matters, point, 0.5)))
    return [point for _, point in found], became
