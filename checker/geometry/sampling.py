"""Routes as short pieces and as places along them, and the neighbours of each place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.geometry.plan import Plan, flattened
from checker.geometry.shapes import PARALLEL, inside

SAMPLE = 0.2
"""Distance between the places along a straight run, m."""
LONGEST_PIECE = 1.0
"""m; longer straight pieces are cut, so that their boxes in the tree stay small."""
REACH = 0.6
"""m; a run this close on either side is a neighbour: twice the widest usual spacing."""
SAME_PIPE = 0.005
"""m; two runs closer than this are one line drawn twice."""
AT_ONCE = 2_000
"""Most samples or pieces whose neighbours are searched at once."""
DENSEST = 300.0
"""Most m of pipe in a square metre; feeds side by side at 20 mm, before a header, are 50."""
MOST_PIECES = 10_000
"""Most pieces of line in a square metre; arcs of 10 mm radius, side by side, are 5,000."""


class TooDense(Exception):
    """There is more pipe in one place than a layout can have; the message is for the user."""


@dataclass(slots=True)
class Samples:
    """Places along all routes: position, direction, route and the length that each represents."""

    at: Array
    along: Array
    route: Index
    weight: Array
    mitre: Array
    """Weight of a bent run in area: its corner's two sides over its arc; 1 elsewhere."""
    distance: Array
    """m from the route's start."""
    total: Array
    """m, length of each route."""


@dataclass(slots=True)
class Sides:
    """What is next to each sample on its left (row 0) and right (row 1); inf or -1 for nothing."""

    gap: Array
    route: Index
    distance: Array
    parallel: Mask


class Sampled:
    """A plan's routes, sampled at places along them.

    The plan's main direction is along the axes, so that boxes fit its lines.

    Raises:
        TooDense: there is more pipe in a square metre than a layout can have.
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.paths = [*plan.routes.values()]
        self.outlines = [*plan.rooms.values()]
        self.flat = [flattened(path) for path in self.paths]
        self.ends = [np.concatenate(([0.0], np.cumsum(lengths))) for _, lengths, _ in self.flat]
        self._pieces()
        self._sample()
        self._look_sideways()

    def _pieces(self) -> None:
        """All routes as short straight pieces, and a tree of their boxes."""
        import shapely

        starts, ends, routes, distances = [], [], [], []
        for number, (points, _, _) in enumerate(self.flat):
            steps = np.hypot(*np.diff(points, axis=0).T)
            counts = np.maximum(1, np.ceil(steps / LONGEST_PIECE)).astype(np.intp)
            at = np.repeat(np.arange(len(counts)), counts)
            nth = np.arange(len(at)) - np.repeat(np.cumsum(counts) - counts, counts)
            step = (points[1:] - points[:-1])[at] / counts[at][:, None]
            start = points[:-1][at] + step * nth[:, None]
            own = self.ends[number]
            starts.append(start)
            ends.append(start + step)
            routes.append(np.full(len(at), number, dtype=np.intp))
            distances.append(own[:-1][at] + np.diff(own)[at] * (nth + 0.5) / counts[at])
        empty = np.empty((0, 2))
        self.start = np.concatenate([empty, *starts])
        self.end = np.concatenate([empty, *ends])
        self.piece_route = np.concatenate([np.empty(0, dtype=np.intp), *routes])
        self.piece_distance = np.concatenate([np.empty(0), *distances])
        lower, upper = np.minimum(self.start, self.end), np.maximum(self.start, self.end)
        self._refuse_too_dense()
        self.boxes = shapely.box(lower[:, 0], lower[:, 1], upper[:, 0], upper[:, 1])
        self.tree = shapely.STRtree(self.boxes)

    def _refuse_too_dense(self) -> None:
        """Refuse a drawing that is not a layout and would take too long.

        Raises:
            TooDense: it has too much pipe, or too many pieces, in a square metre.
        """
        if not len(self.start):
            return
        cells = np.floor((self.start + self.end) / 2).astype(np.int64)
        _, which = np.unique(cells, axis=0, return_inverse=True)
        lengths = np.hypot(*(self.end - self.start).T)
        metres = np.bincount(which.reshape(-1), lengths)
        if metres.max() > DENSEST or np.bincount(which.reshape(-1)).max() > MOST_PIECES:
            raise TooDense(
                f"{metres.max():.0f} m of pipe lie in one square metre; look at the unit"
            )

    def _sample(self) -> None:
        at, along, routes, weights, mitres, distances = [], [], [], [], [], []
        for number, (points, lengths, piece) in enumerate(self.flat):
            counts = np.maximum(1, np.ceil(lengths / SAMPLE)).astype(np.intp)
            of = np.repeat(np.arange(len(counts)), counts)
            nth = np.arange(len(of)) - np.repeat(np.cumsum(counts) - counts, counts)
            share = (nth + 0.5) / counts[of]
            step = points[1:] - points[:-1]
            at.append(points[:-1][of] + step[of] * share[:, None])
            norm = np.hypot(step[:, 0], step[:, 1])
            along.append((step / np.where(norm == 0, 1, norm)[:, None])[of])
            routes.append(np.full(len(of), number, dtype=np.intp))
            weights.append((lengths / counts)[of])
            mitres.append(_mitre(self.paths[number].turns)[piece][of])
            distances.append(self.ends[number][:-1][of] + lengths[of] * share)
        empty = np.empty((0, 2))
        self.samples = Samples(
            np.concatenate([empty, *at]),
            np.concatenate([empty, *along]),
            np.concatenate([np.empty(0, dtype=np.intp), *routes]),
            np.concatenate([np.empty(0), *weights]),
            np.concatenate([np.empty(0), *mitres]),
            np.concatenate([np.empty(0), *distances]),
            np.array([ends[-1] for ends in self.ends]),
        )
        self.room = self.rooms_at(self.samples.at)

    def rooms_at(self, points: Array) -> Index:
        """The number of the room of each point, -1 for none, shape (n,)."""
        found = np.full(len(points), -1, dtype=np.intp)
        for number, outline in enumerate(self.outlines):
            low, high = outline.min(axis=0), outline.max(axis=0)
            near = np.flatnonzero(((points >= low) & (points <= high)).all(axis=1) & (found < 0))
            found[near[inside(points[near], outline)]] = number
        return found

    def _look_sideways(self) -> None:
        """The first run to the left and right of each sample, within a distance."""
        import shapely

        samples = self.samples
        count = len(samples.at)
        sides = Sides(
            np.full((2, count), np.inf),
            np.full((2, count), -1, dtype=np.intp),
            np.full((2, count), np.nan),
            np.zeros((2, count), dtype=bool),
        )
        self.sides = sides
        self.drawn_over = np.zeros(count, dtype=bool)
        if not count:
            return
        across = np.stack((-samples.along[:, 1], samples.along[:, 0]), axis=1)
        tip = np.abs(across) * REACH
        low, high = samples.at - tip, samples.at + tip
        views = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
        for begin in range(0, count, AT_ONCE):
            which, piece = self.tree.query(views[begin : begin + AT_ONCE])
            self._look(which + begin, piece, across)

    def _look(self, which: Index, piece: Index, across: Array) -> None:
        """Record the neighbours of some samples; which, piece: samples, and pieces that may be
        near.
        """
        samples, sides = self.samples, self.sides
        offset = self.start[piece] - samples.at[which]
        step = self.end[piece] - self.start[piece]
        normal = across[which]
        # The piece crosses the sample's normal at `share` of its length, `gap` m to the left.
        ahead = samples.along[which]
        slope = (step * ahead).sum(axis=1)
        here = -(offset * ahead).sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = here / slope
        cut = (share >= -1e-9) & (share <= 1 + 1e-9)
        gap = (offset * normal).sum(axis=1) + share * (step * normal).sum(axis=1)
        length = np.hypot(step[:, 0], step[:, 1])
        parallel = np.abs(slope) > PARALLEL * length
        own = samples.route[which] == self.piece_route[piece]
        along = np.abs(samples.distance[which] - self.piece_distance[piece])
        # The run that the sample itself lies on.
        itself = own & (np.abs(gap) < SAME_PIPE) & (along < 2 * LONGEST_PIECE)
        seen = cut & ~itself & (np.abs(gap) <= REACH)
        twice = seen & parallel & (np.abs(gap) < SAME_PIPE)
        self.drawn_over[which[twice]] = True
        seen &= ~twice
        which, piece, gap, parallel = which[seen], piece[seen], gap[seen], parallel[seen]
        for side, sign in enumerate((1.0, -1.0)):
            beside = np.flatnonzero(gap * sign > 0)
            order = beside[np.lexsort((gap[beside] * sign, which[beside]))]
            if not len(order):
                continue
            first = order[np.concatenate(([True], np.diff(which[order]) > 0))]
            at = which[first]
            sides.gap[side, at] = gap[first] * sign
            sides.route[side, at] = self.piece_route[piece[first]]
            sides.distance[side, at] = self.piece_distance[piece[first]]
            sides.parallel[side, at] = parallel[first]

    def points_at(self, routes: Index, distance: Array) -> Array:
        """Places on routes.

        Args:
            routes: the number of the route for each, shape (n,).
            distance: along it from its start, m, shape (n,).

        Returns:
            The places, m, shape (n, 2).
        """
        points = np.empty((len(routes), 2))
        for route in np.unique(routes).tolist():
            own = routes == route
            line, ends = self.flat[route][0], self.ends[route]
            points[own, 0] = np.interp(distance[own], ends, line[:, 0])
            points[own, 1] = np.interp(distance[own], ends, line[:, 1])
        return points


def _mitre(turns: Array) -> Array:
    """The two sides of a corner over the arc that rounds it, by how far each arc turns, rad."""
    corners = np.maximum(1, np.ceil(np.abs(turns) / (np.pi / 2) - 1e-9))
    half = np.abs(turns) / corners / 2
    return np.where(half > 1e-6, np.tan(half) / np.where(half > 1e-6, half, 1), 1.0)
