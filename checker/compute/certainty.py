"""Decides which results are certain, from judgements all over a box of unknown data.

A result is certain where it was the same at every point, and its margin keeps a distance from zero.
Where it depends on one datum and only rises or falls along the walk, that distance is what a curve
may do between two points; where it turns back, the largest step of the walk. Where it depends on
several data and rises or falls in each, it is a twentieth of its spread, or the sum of what corners
differ from the effects of the single data; else all of its spread. A margin is that of the
evaluation, as a share of the limit. Nothing is certain about a rule whose value or condition jumps
(`Quantity.leaps`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from checker.arrays import Array, Mask
from checker.compute.ranges import Unknown, valued
from checker.outcome.results import SEVERITIES
from checker.rulebook.beside_records import Range
from checker.rulebook.outcomes import FAIL, PASS, REVIEW

STEPS = 16
"""Steps of the walk along the diagonal."""
MIDDLE = STEPS // 2
CORNERS, INSIDE = 8, 8
"""Corners and points inside at which every design is judged, picked by a generator with seed 0."""
SHARE = 0.05
"""The share of its spread that a result on several data must keep from its limit to be certain."""
EXACT = 1e-9
DECIDED = (PASS, FAIL, REVIEW)
"""Outcomes that leave nothing missing."""


class Certain(NamedTuple):
    """A result that is the same whatever its unknown data are.

    Attributes:
        rule: its number among all rules.
        row: of the table that the result is about.
        kind: PASS, FAIL or REVIEW.
        severity: that of its mildest case.
        at: the share of its range of each unknown where the result is worst, shape (unknowns,).
        data: the numbers of the unknowns that it depends on.
    """

    rule: int
    row: int
    kind: int
    severity: str
    at: Array
    data: tuple[int, ...]


class Turning(NamedTuple):
    """A result that one unknown decides.

    Attributes:
        rule: its number among all rules.
        row: of the table that the result is about.
        unknown: its number among the design's unknowns.
        value: of the unknown at which the result changes, SI.
        passes_below: whether it passes below that value.
    """

    rule: int
    row: int
    unknown: int
    value: float
    passes_below: bool


class Boxed(Struct, frozen=True):
    """What is certain about a design with unknown data.

    Attributes:
        design: its row.
        unknowns: the data of the box.
        certain: results that are the same all over it.
        turning: results that one datum decides.
        depends_on: for (rule, row) the numbers of the unknowns that an open result depends on,
            where nothing else is missing.
    """

    design: int
    unknowns: list[Unknown]
    certain: list[Certain]
    turning: list[Turning]
    depends_on: dict[tuple[int, int], tuple[int, ...]]


def points_of(count: int) -> Array:
    """The points at which every design with so many unknowns is judged.

    Args:
        count: unknowns of the design, at least 1.

    Returns:
        Shares of the ranges, 0 to 1, shape (points, count): the walk first, then the two sides of
        each unknown, the corners and the points inside; for one unknown the walk alone.
    """
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


class AtPoints(NamedTuple):
    """A rule at some points for some rows.

    Attributes:
        kinds: shape (points, rows).
        severities: numbers of SEVERITIES, the same shape.
        margins: as shares of the limit, negative beyond it, NaN where nothing was compared; the
            same shape.
    """

    kinds: npt.NDArray[np.int8]
    severities: npt.NDArray[np.int8]
    margins: Array

    def of(self, column: int) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.int8], Array]:
        """One row at all points.

        Args:
            column: the row's place in the second dimension.

        Returns:
            Its kinds, severities and margins, shape (points,) each.
        """
        return self.kinds[:, column], self.severities[:, column], self.margins[:, column]


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
        """Whether it was a pass, or a fail, or a review, at all points."""
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
        """The sum of what margins at corners differ from the effects of the single data."""
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
        """Whether it was a pass or a fail at each point, so that nothing else is missing."""
        return bool(np.isin(self.kinds, DECIDED).all())


class DependentResults:
    """The results of one design that depend on missing data."""

    def __init__(self, points: Array, ranges: tuple[Range, ...]) -> None:
        """Begin without any result.

        Args:
            points: those at which every design is judged (`points_of`).
            ranges: all ranges, by whose numbers unknown data name theirs.
        """
        self.points = points
        self.ranges = ranges
        self.rows: list[_Row] = []

    def take(self, rule: int, row: int, column: int, judged: AtPoints) -> None:
        """Add a result at the points at which every design is judged.

        Args:
            rule: its number among all rules.
            row: of the table that the rule's results are about.
            column: the row's place in `judged`.
            judged: the rule at these points, in their order.
        """
        one = _Row(rule, row, column, *judged.of(column), self.points)
        one.data = self._depends_on(one)
        self.rows.append(one)

    def _depends_on(self, one: _Row) -> tuple[int, ...]:
        count = self.points.shape[1]
        state = np.where(np.isfinite(one.margins), one.margins, one.kinds * 1e6)
        if count == 1:
            return (0,) if np.ptp(state) > EXACT or np.ptp(one.kinds) else ()
        sides = slice(STEPS + 1, STEPS + 1 + 2 * count)
        apart = np.abs(state[sides] - state[MIDDLE]) > EXACT
        apart |= one.kinds[sides] != one.kinds[MIDDLE]
        data = tuple(np.flatnonzero(apart.reshape(count, 2).any(axis=1)).tolist())
        if len(data) <= 1:
            # What shows on the walk but in no single datum depends on how several meet.
            ends = [0, STEPS]
            shown = [STEPS + 1 + 2 * data[0] + side for side in (0, 1)] if data else [MIDDLE] * 2
            if (np.abs(state[ends] - state[shown]) > EXACT).any():
                return tuple(range(count))
        return data

    def predictions(self) -> list[Array]:
        """The corners that should be the worst of results on several data, as few as possible."""
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
            matters = np.zeros(count, dtype=bool)
            matters[list(one.data)] = True
            key = matters.tobytes() + corner[matters].tobytes()
            if key not in seen:
                seen.add(key)
                wanted.append((matters, corner))
        return merged(wanted)[0]

    def confirm(self, points: Array, judged: dict[int, AtPoints]) -> None:
        """Add all results of the design at further points, such as the corners of `foretold`.

        Args:
            points: shares of the ranges, shape (points, unknowns).
            judged: by number of the rule, the rule at these points; rows as in `take`.
        """
        of_all = np.concatenate([self.points, points])
        for one in self.rows:
            kinds, severities, margins = judged[one.rule].of(one.column)
            one.kinds = np.concatenate([one.kinds, kinds])
            one.severities = np.concatenate([one.severities, severities])
            one.margins = np.concatenate([one.margins, margins])
            one.points = of_all

    def boxed(self, design: int, unknowns: list[Unknown]) -> Boxed:
        """What is certain, and where results change.

        Args:
            design: row of the design.
            unknowns: its unknown data, in the order of the points' columns.

        Returns:
            Of the results taken, those that are certain, those that one datum decides, and those
            that nothing else is missing for; the others are left out.
        """
        certain, turning = [], []
        depends_on = {}
        for one in self.rows:
            found = self._certain(one)
            if found is not None:
                certain.append(found)
                continue
            if one.settled:
                depends_on[one.rule, one.row] = one.data
            where = self._turning(one, unknowns)
            if where is not None:
                turning.append(where)
        return Boxed(design, unknowns, certain, turning, depends_on)

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
        """Where the walk crosses the limit, for a result on one datum that changes once."""
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
        value = float(valued(self.ranges[unknowns[unknown].range], share))
        return Turning(one.rule, one.row, unknown, value, bool(kinds[before] == PASS))


def _one_way(steps: Array) -> bool:
    """Whether the steps of each column, shape (steps, columns), all rise or all fall."""
    rising, falling = (steps >= -EXACT).all(axis=0), (steps <= EXACT).all(axis=0)
    return bool((rising | falling).all())


def merged(wanted: list[tuple[Mask, Array]]) -> tuple[list[Array], list[int]]:
    """Join points that do not contradict one another.

    Args:
        wanted: for each point which of its shares matter, and the shares, shape (unknowns,) both.

    Returns:
        The joined points, each with 0.5 for a share that matters to none; and for each of `wanted`
        the place of the point that it became.
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
