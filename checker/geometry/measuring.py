"""Measures a plan in one pass: lengths, spacings, gaps, crossings and areas, as columns."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.geometry.measured import Gaps, Measured, Spot, percentiles, spread
from checker.geometry.passes import FIELD_SHARE, Passed
from checker.geometry.plan import Plan, main_direction, rotation, tightest, turned
from checker.geometry.sampling import AT_ONCE, LONGEST_PIECE, REACH
from checker.geometry.screed_fields import fields_between_joints
from checker.geometry.shapes import (
    apart,
    area,
    beside,
    distance_from,
    grown,
    inside,
    meeting,
    unlike,
)

TWO_LINES = 0.03
"""m; a pipe that mostly has a run of its own this close is drawn as two lines."""
EDGE_HALF = 0.15
"""Largest distance that a field reaches beyond its outermost pipe, m (half a spacing of 300 mm)."""
LEAST_WALL_RUN = 0.1
"""Least length of pipe along a wall before its distance counts as a wall gap, m."""
NEAR_END = 0.05
"""Distance from a pipe's end within which it may touch another, m: ports are side by side."""
BARE_RADIUS = 0.3
"""m; floor is bare where a disc of this radius touches no pipe, wall or unit."""
CELL = 0.05
"""Side of the squares in which bare floor is counted, m."""
MOST_CELLS = 4_000_000
FEED_CROSSINGS = 2
"""How often the feeds of a loop cross a joint: out and back. Heating runs cross it more often."""


def measure(plan: Plan) -> Measured:
    """Measure everything that a plan by itself shows, in one pass.

    Args:
        plan: the floor as drawn, in any direction; it may lack any part.

    Returns:
        Columns of its routes and rooms, with places in the plan's own coordinates. Of a
        pipe drawn by its two edges every column but `two_lines` is NaN.

    Raises:
        TooDense: there is more pipe in a square metre than a layout can have.
    """
    angle = main_direction(plan)
    found = Measured(plan, [*plan.routes], [*plan.rooms])
    _Measuring(turned(plan, -angle), found, angle).do()
    return found


class _Measuring(Passed):
    """The measurement of a plan whose main direction is along the axes."""

    def __init__(self, plan: Plan, found: Measured, angle: float) -> None:
        super().__init__(plan, found)
        self.angle = angle

    def do(self) -> None:
        found, count = self.found, len(self.paths)
        found.of_route["length"] = np.array([path.length for path in self.paths])
        found.of_route["bend"] = np.array([tightest(path) for path in self.paths])
        found.of_room["area"] = np.array([area(outline) for outline in self.outlines])
        found.of_room |= fields_between_joints(self.plan)
        self._passes()
        self._spacing(count)
        self._area(count)
        self._walls(count)
        self._ages(count)
        self._crossings(count)
        self._joints(count)
        self._under(count)
        self._ports(count)
        self._bare()
        self._leave_double_lines()

    # ---- what the neighbours tell

    def _spacing(self, count: int) -> None:
        """Distance between neighbouring runs of the same field: median and percentiles."""
        samples, sides = self.samples, self.sides
        table = np.full((4, count), np.nan)
        for route in range(count):
            own = np.flatnonzero((samples.route == route) & self.field)
            gaps, weights, rooms = [], [], []
            for side in range(2):
                seen = own[(sides.route[side, own] == route) & sides.parallel[side, own]]
                gaps.append(sides.gap[side, seen])
                weights.append(samples.weight[seen])
                rooms.append(self.room[seen])
            if own.size and sum(map(len, gaps)):
                values, weighs = np.concatenate(gaps), np.concatenate(weights)
                table[:3, route] = percentiles(values, weighs, (0.5, 0.1, 0.9))
                self._gaps(route, values, weighs, np.concatenate(rooms))
            every = samples.route == route
            twin = (sides.route == samples.route) & sides.parallel & (sides.gap < TWO_LINES)
            close = every & twin.any(axis=0)
            total = samples.weight[every].sum()
            table[3, route] = samples.weight[close].sum() / total if total else np.nan
        names = ("spacing", "spacing_least", "spacing_most", "two_lines")
        self.found.of_route |= dict(zip(names, table, strict=True))
        over = np.bincount(samples.route, samples.weight * self.drawn_over, count)
        self.found.of_route["drawn_over"] = over.astype(float)

    def _gaps(self, route: int, values: Array, weights: Array, rooms: Index) -> None:
        """Record the distances of a route's runs, room by room."""
        order = np.argsort(values, kind="stable")
        order = order[np.argsort(rooms[order], kind="stable")]
        for own in np.split(order, np.flatnonzero(np.diff(rooms[order])) + 1):
            name = self.found.rooms[rooms[own[0]]]
            kept = self.found.gaps.setdefault(self.found.routes[route], [])
            kept.append(Gaps(name, values[own], weights[own]))

    def _area(self, count: int) -> None:
        """Floor that each field covers: every run has the strip up to half way to its neighbour.

        Beside the outermost runs that is half a spacing, at most 150 mm, and never beyond the wall.
        """
        samples, sides = self.samples, self.sides
        spacing = self.found.of_route["spacing"][samples.route] if count else np.empty(0)
        edge = np.minimum(np.nan_to_num(spacing, nan=2 * EDGE_HALF) / 2, EDGE_HALF)
        self.wall_gap, self.wall_parallel = self._wall_gaps()
        width = np.zeros(len(samples.at))
        for side in range(2):
            own = sides.route[side] == samples.route
            gap = sides.gap[side]
            half = np.where(own, gap / 2, np.minimum(gap / 2, edge))
            # In a bend, and before one, the view sideways slants past neighbours that bend as well.
            slant = ~sides.parallel[side] | (samples.mitre != 1)
            half = np.where(slant, np.minimum(edge, gap), half)
            width += np.minimum(half, self.wall_gap[side])
        covered = width * samples.weight * samples.mitre * self.field
        whole = np.bincount(samples.route, covered, count)
        self.found.of_route["area"] = np.where(whole > 0, whole, np.nan)
        size = max(len(self.outlines), 1)
        by_room = np.zeros((count, size))
        heats = self.field
        np.add.at(by_room, (samples.route[heats], self.room[heats]), covered[heats])
        for route, name in enumerate(self.found.routes):
            self.found.fields[name] = [
                (
                    self.found.rooms[room],
                    float(self.heated[route, room]),
                    float(by_room[route, room]),
                )
                for room in np.flatnonzero(self.heated[route] > 0).tolist()
            ]

    def _wall_gaps(self) -> tuple[Array, Mask]:
        """To its left and right, how far each sample is from its room's wall, and whether it runs
        along it; infinite where no wall is near. Shapes (2, n).
        """
        samples = self.samples
        gaps = np.full((2, len(samples.at)), np.inf)
        parallel = np.zeros((2, len(samples.at)), dtype=bool)
        for number, outline in enumerate(self.outlines):
            own = np.flatnonzero(self.room == number)
            if len(own):
                gaps[:, own], parallel[:, own] = beside(
                    samples.at[own], samples.along[own], outline, np.roll(outline, -1, axis=0)
                )
        return gaps, parallel

    def _walls(self, count: int) -> None:
        """Least distance of the field's runs from the wall beside them, and of the outer wall."""
        samples, found = self.samples, self.found
        along_wall = self.wall_parallel & self.field & (self.wall_gap < REACH * 2)
        nearest = np.where(along_wall, self.wall_gap, np.inf).min(axis=0, initial=np.inf)
        found.of_route["wall_gap"] = self._least_along(nearest, count, "wall_gap")
        clear = np.full(len(samples.at), np.inf)
        for outline in self.plan.keep_clear.values():
            clear = np.minimum(clear, distance_from(samples.at, outline, closed=True))
        # Where there is nothing to keep clear of, the distance stays unknown.
        found.of_route["clearance"] = self._least_along(clear, count, "clearance", least=0.0)
        self._outer_walls(count)

    def _least_along(
        self, gaps: Array, count: int, name: str, least: float = LEAST_WALL_RUN
    ) -> Array:
        """Least distance that at least so many metres of each route have, NaN where none has."""
        samples = self.samples
        found = np.full(count, np.nan)
        for route in range(count):
            own = np.flatnonzero((samples.route == route) & np.isfinite(gaps))
            if not len(own):
                continue
            order = own[np.argsort(gaps[own], kind="stable")]
            enough = np.cumsum(samples.weight[order]) >= least - 1e-9
            if enough.any():
                found[route] = gaps[order[int(enough.argmax())]]
                self._spot(name, route, samples.at[order[:1]])
        return found

    def _outer_walls(self, count: int) -> None:
        """Age of the water in the run along an outer wall; how far the field reaches from it."""
        samples, found = self.samples, self.found
        hot = np.full(count, np.nan)
        reach = np.full(count, np.nan)
        found.of_route["hot_at_wall"] = hot
        found.of_route["from_outer_wall"] = reach
        if not self.plan.outer_walls or not count:
            return
        gaps = np.full((2, len(samples.at)), np.inf)
        parallel = np.zeros((2, len(samples.at)), dtype=bool)
        away = np.full(len(samples.at), np.inf)
        for wall in self.plan.outer_walls.values():
            own, along = beside(samples.at, samples.along, wall[:-1], wall[1:])
            nearer = own < gaps
            gaps, parallel = np.where(nearer, own, gaps), np.where(nearer, along, parallel)
            away = np.minimum(away, distance_from(samples.at, wall, closed=False))
        # The first thing that the run sees on that side is the wall, not another run.
        first = (gaps <= REACH) & parallel & (gaps < self.sides.gap) & self.field
        next_to = first.any(axis=0)
        age = samples.distance / np.where(samples.total > 0, samples.total, 1)[samples.route]
        weight = np.bincount(samples.route, samples.weight * next_to, count)
        with np.errstate(invalid="ignore"):
            hot[:] = np.bincount(samples.route, samples.weight * next_to * age, count) / weight
        for route, name in enumerate(found.routes):
            if name in found.plan.undirected:
                hot[route] = np.nan
        half = np.minimum(np.nan_to_num(found.of_route["spacing"], nan=0.0) / 2, EDGE_HALF)
        for route in range(count):
            own_field = (samples.route == route) & self.field
            if own_field.any():
                reach[route] = away[own_field].max() + half[route]

    def _ages(self, count: int) -> None:
        """How uneven the water's age is over three neighbouring runs, compared with its whole
        range.

        The run itself counts twice, its neighbours once, so that flow beside return is even; 0 for
        an even floor, 1 for one that is as uneven as the water's age along the pipe.
        """
        samples, sides = self.samples, self.sides
        age = samples.distance / np.where(samples.total > 0, samples.total, 1)[samples.route]
        uneven = np.full(count, np.nan)
        for route in range(count):
            own = np.flatnonzero((samples.route == route) & self.field)
            if not len(own):
                continue
            seen = (sides.route[:, own] == route) & sides.parallel[:, own]
            both = own[seen.all(axis=0)]
            if not len(both):
                continue
            other = sides.distance[:, both] / samples.total[route]
            mean = age[both] / 2 + other.sum(axis=0) / 4
            uneven[route] = min(1.0, spread(mean, samples.weight[both]) * np.sqrt(12.0))
        self.found.of_route["unevenness"] = uneven

    # ---- what pipes must not meet

    def _crossings(self, count: int) -> None:
        """Where pipes cross."""
        crossings = np.zeros(count)
        self.found.of_route["crossings"] = crossings
        if not len(self.start):
            return
        found = []
        for begin in range(0, len(self.boxes), AT_ONCE):
            first, second = self.tree.query(self.boxes[begin : begin + AT_ONCE])
            first += begin
            found.append(np.stack((first, second))[:, first < second])
        first, second = np.concatenate(found, axis=1)
        at, where = meeting(
            self.start[first], self.end[first], self.start[second], self.end[second]
        )
        first, second = first[where], second[where]
        routes = self.piece_route
        own = routes[first] == routes[second]
        along = np.abs(self.piece_distance[first] - self.piece_distance[second])
        kept = ~(own & (along <= LONGEST_PIECE) & (second - first <= 1))
        first_points = np.array([path.points[0] for path in self.paths])
        last_points = np.array([path.points[-1] for path in self.paths])
        for one in (first, second):
            left = np.minimum(
                apart(at, first_points[routes[one]]), apart(at, last_points[routes[one]])
            )
            kept &= (left > NEAR_END) | own
        reported: set[tuple[int, int, int, int]] = set()
        for place, one, other in zip(
            at[kept], routes[first[kept]].tolist(), routes[second[kept]].tolist(), strict=True
        ):
            key = (one, other, round(place[0] * 50), round(place[1] * 50))
            if key in reported:
                continue
            reported.add(key)
            for route in {one, other}:
                crossings[route] += 1
                self._spot("crossings", route, place[None])

    def _joints(self, count: int) -> None:
        """How often heating runs, and how often feeds, cross a movement joint."""
        heating, feeding = np.full(count, np.nan), np.full(count, np.nan)
        self.found.of_route["joint_crossings"] = heating
        self.found.of_route["feed_crossings"] = feeding
        if not self.found.plan.shows("joints"):
            return
        heating[:], feeding[:] = 0.0, 0.0
        for joint in self.plan.joints.values():
            starts = np.repeat(joint[:-1], len(self.start), axis=0)
            ends = np.repeat(joint[1:], len(self.start), axis=0)
            pieces = np.tile(np.arange(len(self.start)), len(joint) - 1)
            at, where = meeting(self.start[pieces], self.end[pieces], starts, ends)
            routes = self.piece_route[pieces[where]]
            for route in np.unique(routes).tolist():
                places = unlike(at[routes == route])
                heats = len(places) > FEED_CROSSINGS
                (heating if heats else feeding)[route] += len(places)
                self._spot("joint_crossings" if heats else "feed_crossings", route, places)

    def _under(self, count: int) -> None:
        """Length of pipe under fixed units and baths."""
        samples = self.samples
        under = np.zeros(len(samples.at), dtype=bool)
        for outline in self.plan.fixed.values():
            under |= inside(samples.at, outline)
        known = self.found.plan.shows("fixed")
        metres = np.bincount(samples.route, samples.weight * under, count).astype(float)
        self.found.of_route["under_fixed"] = metres if known else np.full(count, np.nan)
        for route in np.unique(samples.route[under]).tolist():
            own = samples.at[under & (samples.route == route)]
            self._spot("under_fixed", route, own[len(own) // 2][None])

    def _ports(self, count: int) -> None:
        """The header and port nearest to the start of each route, and the distance of its ends."""
        table = np.full((3, count), np.nan)
        names = ("header", "port", "end_gap")
        self.found.of_route |= dict(zip(names, table, strict=True))
        if not self.plan.headers:
            return
        ports = np.concatenate([*self.plan.headers.values()])
        header = np.repeat(
            np.arange(len(self.plan.headers)), [*map(len, self.plan.headers.values())]
        )
        nth = np.concatenate([np.arange(len(line)) + 1 for line in self.plan.headers.values()])
        for route, path in enumerate(self.paths):
            away = apart(path.points[:1], ports)
            nearest = int(away.argmin())
            back = float(apart(path.points[-1:], ports[header == header[nearest]]).min())
            table[:, route] = header[nearest], nth[nearest], max(float(away[nearest]), back)
            if back > away[nearest]:
                self._spot("end_gap", route, path.points[-1:])
            else:
                self._spot("end_gap", route, path.points[:1])

    # ---- the floor itself

    def _bare(self) -> None:
        """Area of each heated room in which a disc of 0.6 m touches no pipe, wall or unit."""
        bare = np.full(len(self.outlines), np.nan)
        self.found.of_room["bare_area"] = bare
        blocked = [*self.plan.fixed.values(), *self.plan.keep_clear.values()]
        for number, outline in enumerate(self.outlines):
            heated = self.field & (self.room == number)
            if not heated.any():
                continue
            low, high = outline.min(axis=0) - CELL, outline.max(axis=0) + CELL
            shape = np.ceil((high - low) / CELL).astype(int) + 1
            if shape.prod() > MOST_CELLS:
                continue
            columns, rows = (low[axis] + CELL * (np.arange(shape[axis]) + 0.5) for axis in (0, 1))
            x, y = np.meshgrid(columns, rows, indexing="ij")
            middles = np.stack((x.ravel(), y.ravel()), axis=1)
            taken = ~inside(middles, outline).reshape(shape)
            for unit in blocked:
                taken |= inside(middles, unit).reshape(shape)
            stops = taken.copy()
            own = self.room == number
            cells = np.floor((self.samples.at[own] - low) / CELL).astype(int)
            # Samples are up to 200 mm apart: the squares between two are marked as well.
            stretch = self.samples.along[own] * (self.samples.weight[own] / 2)[:, None]
            for step in np.linspace(-1, 1, 9):
                cells = np.floor((self.samples.at[own] + stretch * step - low) / CELL).astype(int)
                cells = np.clip(cells, 0, shape - 1)
                stops[cells[:, 0], cells[:, 1]] = True
            free = ~grown(stops, BARE_RADIUS, CELL)
            empty = grown(free, BARE_RADIUS / 2, CELL) & ~taken
            bare[number] = float(empty.sum()) * CELL**2
            name = self.found.rooms[number]
            if bare[number] > 0:
                places = middles.reshape(*shape, 2)[free]
                self._room_spot("bare_area", name, places.mean(axis=0), places)
                self.found.bare[name] = [
                    Spot(float(px), float(py))
                    for px, py in self._back(middles.reshape(*shape, 2)[empty])
                ]

    def _leave_double_lines(self) -> None:
        """Leave everything else about a pipe unknown that is drawn by its two edges."""
        double = self.found.of_route["two_lines"] > FIELD_SHARE
        for name, column in self.found.of_route.items():
            if name != "two_lines":
                column[double] = np.nan
        for route in np.flatnonzero(double).tolist():
            self.found.gaps.pop(self.found.routes[route], None)

    def _back(self, places: Array) -> Array:
        """Places in the drawing's own directions."""
        return places if self.angle == 0 else places @ rotation(self.angle)

    def _room_spot(self, name: str, room: str, middle: Array, places: Array) -> None:
        nearest = places[apart(places, middle[None]).argmin()]
        ((x, y),) = self._back(nearest[None])
        self.found.spots.setdefault((name, room), []).append(Spot(float(x), float(y), room))

    def _spot(self, name: str, route: int, places: Array) -> None:
        rooms = self.rooms_at(places).tolist()
        spots = self.found.spots.setdefault((name, self.found.routes[route]), [])
        for (x, y), room in zip(self._back(places).tolist(), rooms, strict=True):
            spots.append(Spot(x, y, "" if room < 0 else self.found.rooms[room]))
