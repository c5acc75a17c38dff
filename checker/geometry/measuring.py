"""One pass over a plan: lengths, spacings, gaps, crossings and areas, as columns."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from checker.geometry.plan import Array, Index, Path, Plan
from checker.geometry.sampling import AT_ONCE, LONGEST_PIECE, REACH, Sampled
from checker.geometry.shapes import (
    Mask,
    apart,
    area,
    beside,
    distance_from,
    grown,
    inside,
    meeting,
    sides_of,
    unlike,
)

TWO_LINES = 0.03
"""m; if most of a route has its own neighbour this near, the pipe is drawn as two lines."""
EDGE_HALF = 0.15
"""m; the most that a field reaches beyond its outermost pipe (half a spacing of 300 mm)."""
FIELD_SHARE = 0.5
"""A pass through a room heats it if this share of it lies beside another run of the same pass."""
SHORTEST_FIELD = 1.5
"""m; less pipe than this in a room heats nothing that was meant to be heated."""
LEAST_WALL_RUN = 0.1
"""m of pipe along a wall before its distance counts as a wall gap."""
SHARP = np.radians(35.0)
"""A corner of a line without arcs that turns by more is drawn sharp: its bend is not known."""
NEAR_END = 0.05
"""m from a pipe's end within which it may touch another: ports stand side by side."""
BARE_RADIUS = 0.3
"""m; floor is bare where a disc of this radius finds neither pipe nor wall nor unit."""
CELL = 0.05
"""m, side of the squares that bare floor is counted in."""
MOST_CELLS = 4_000_000
FEED_CROSSINGS = 2
"""Times that the feeds of one loop cross a joint: out and back. Heating runs cross it more."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the floor: m from the drawing's origin, the room there (empty for none)."""

    x: float
    y: float
    room: str = ""


@dataclass(frozen=True, slots=True)
class Feed:
    """What a route leaves in a room that it only passes through: m of pipe, and their pitch."""

    room: str
    length: float
    pitch: float


@dataclass(slots=True)
class Measured:
    """What a plan shows. Columns by name: one value a route or a room, SI, NaN where unknown."""

    plan: Plan
    routes: list[str]
    rooms: list[str]
    of_route: dict[str, Array] = field(default_factory=dict)
    of_room: dict[str, Array] = field(default_factory=dict)
    spots: dict[tuple[str, str], list[Spot]] = field(default_factory=dict)
    """By name of a column and of a route or room: where it happens."""
    feeds: dict[str, list[Feed]] = field(default_factory=dict)
    fields: dict[str, list[tuple[str, float, float]]] = field(default_factory=dict)
    """By route: the rooms that it heats, with the length (m) and the floor (m²) there."""
    bare: dict[str, list[Spot]] = field(default_factory=dict)
    """By room: the middle of each bare square, for pictures."""


def measure(plan: Plan) -> Measured:
    """Everything that can be told from the plan alone; raises TooDense."""
    angle = _main_direction(plan)
    turned = _turned(plan, -angle)
    found = Measured(plan, [*plan.routes], [*plan.rooms])
    _Measuring(turned, found, angle).do()
    return found


def _main_direction(plan: Plan) -> float:
    """The direction, rad, that most of the drawing runs in or square to: boxes fit it best."""
    steps = [np.diff(path.points, axis=0) for path in plan.routes.values()]
    steps += [np.diff(room, axis=0) for room in plan.rooms.values()]
    if not steps:
        return 0.0
    every = np.concatenate(steps)
    lengths = np.hypot(every[:, 0], every[:, 1])
    quarter = np.mod(np.arctan2(every[:, 1], every[:, 0]), np.pi / 2)
    # The mean of four times the angle, weighed by length, so that 0° and 90° are the same.
    mean = np.angle((lengths**2 * np.exp(4j * quarter)).sum()) / 4
    return 0.0 if abs(mean) < 1e-9 else float(mean)


def _rotation(angle: float) -> Array:
    return np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])


def _turned(plan: Plan, angle: float) -> Plan:
    """The plan turned about its origin; the same where the angle is 0."""
    if angle == 0:
        return plan
    turn = _rotation(angle)

    def lines(of: dict[str, Array]) -> dict[str, Array]:
        return {name: line @ turn for name, line in of.items()}

    return Plan(
        rooms=lines(plan.rooms),
        routes={name: Path(path.points @ turn, path.bulges) for name, path in plan.routes.items()},
        joints=lines(plan.joints),
        fixed=lines(plan.fixed),
        keep_clear=lines(plan.keep_clear),
        outer_walls=lines(plan.outer_walls),
        headers=lines(plan.headers),
    )


class _Measuring(Sampled):
    """The pass itself, on a plan whose main direction lies along the axes."""

    def __init__(self, plan: Plan, found: Measured, angle: float) -> None:
        super().__init__(plan)
        self.found = found
        self.angle = angle

    def do(self) -> None:
        found, count = self.found, len(self.paths)
        found.of_route["length"] = np.array([path.length for path in self.paths])
        found.of_route["bend"] = np.array([tightest(path) for path in self.paths])
        found.of_room["area"] = np.array([area(outline) for outline in self.outlines])
        self._fields_between_joints()
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

    # ---- rooms: what a route heats and what it only passes

    def _passes(self) -> None:
        """Cut every route where it goes from room to room, and tell fields from feeds."""
        samples, sides = self.samples, self.sides
        count = len(samples.at)
        self.field = np.zeros(count, dtype=bool)
        if not count:
            return
        change = np.flatnonzero((np.diff(samples.route) != 0) | (np.diff(self.room) != 0)) + 1
        firsts = np.concatenate(([0], change))
        lasts = np.concatenate((change, [count]))
        number = np.repeat(np.arange(len(firsts)), lasts - firsts)
        begins, ends = self._borders(firsts, lasts)
        paired = np.zeros(count, dtype=bool)
        begin_of, end_of = begins[number], ends[number]
        for side in range(2):
            paired |= (
                (sides.route[side] == samples.route)
                & sides.parallel[side]
                & (sides.distance[side] >= begin_of)
                & (sides.distance[side] <= end_of)
            )
        weights = np.bincount(number, samples.weight, len(firsts))
        share = np.bincount(number, samples.weight * paired, len(firsts)) / weights
        heats = (self.room[firsts] >= 0) & (share >= FIELD_SHARE) & (weights >= SHORTEST_FIELD)
        self.field = heats[number]
        routes, rooms = samples.route[firsts], self.room[firsts]
        lengths = ends - begins
        self._tell_rooms(routes, rooms, lengths, heats)
        self._tell_feeds(routes, rooms, lengths, heats, number)

    def _borders(self, firsts: Index, lasts: Index) -> tuple[Array, Array]:
        """Where each pass starts and ends on its route, m: the border found between two samples."""
        samples = self.samples
        begins = np.zeros(len(firsts))
        ends = samples.total[samples.route[firsts]].copy()
        inner = np.flatnonzero(samples.route[firsts[1:]] == samples.route[firsts[:-1]]) + 1
        if not len(inner):
            return begins, ends
        low, high = samples.distance[lasts[inner - 1] - 1], samples.distance[firsts[inner]]
        routes = samples.route[firsts[inner]]
        leaving, entering = self.room[firsts[inner - 1]], self.room[firsts[inner]]
        # A wall may stand between: the end of the one room and the start of the other.
        ends[inner - 1] = self._border(routes, low, high, leaving, stays=True)
        begins[inner] = self._border(routes, low, high, entering, stays=False)
        return begins, ends

    def _border(self, routes: Index, low: Array, high: Array, room: Index, *, stays: bool) -> Array:
        low, high = low.copy(), high.copy()
        for _ in range(10):
            middle = (low + high) / 2
            same = self.rooms_at(self.points_at(routes, middle)) == room
            first = same if stays else ~same
            low, high = np.where(first, middle, low), np.where(first, high, middle)
        border: Array = (low + high) / 2
        return border

    def _tell_rooms(self, routes: Index, rooms: Index, lengths: Array, heats: Mask) -> None:
        """The room that each route heats most, and how many it heats."""
        found, count, size = self.found, len(self.paths), max(len(self.outlines), 1)
        self.heated = np.zeros((count, size))
        np.add.at(self.heated, (routes[heats], rooms[heats]), lengths[heats])
        heated = self.heated.sum(axis=1)
        most = self.heated.argmax(axis=1)
        found.of_route["room"] = np.where(heated > 0, most, np.nan)
        found.of_route["rooms"] = np.where(heated > 0, (self.heated > 0).sum(axis=1), np.nan)
        found.of_route["feeds"] = np.where(heated > 0, found.of_route["length"] - heated, np.nan)

    def _tell_feeds(
        self, routes: Index, rooms: Index, lengths: Array, heats: Mask, number: Index
    ) -> None:
        """For each route and room that it only passes through: length, and pitch of its runs."""
        samples, sides = self.samples, self.sides
        size = max(len(self.outlines), 1) + 1
        near = np.where(sides.parallel & (sides.gap <= REACH), sides.gap, np.nan)
        passing = np.flatnonzero(~self.field)
        keys = samples.route[passing] * size + self.room[passing] + 1
        totals: dict[tuple[int, int], float] = {}
        for route, room, length, heat in zip(
            routes.tolist(), rooms.tolist(), lengths.tolist(), heats.tolist(), strict=True
        ):
            if not heat:
                totals[(route, room)] = totals.get((route, room), 0.0) + length
        for name in self.found.routes:
            self.found.feeds[name] = []
        for (route, room), length in totals.items():
            own = passing[keys == route * size + room + 1]
            gaps = near[:, own]
            gaps = gaps[~np.isnan(gaps)]
            room_name = "" if room < 0 else self.found.rooms[room]
            pitch = float(np.median(gaps)) if len(gaps) else float("nan")
            self.found.feeds[self.found.routes[route]].append(Feed(room_name, length, pitch))

    # ---- what the neighbours tell

    def _spacing(self, count: int) -> None:
        """Distance between neighbouring runs of the same field: median and percentiles."""
        samples, sides = self.samples, self.sides
        table = np.full((4, count), np.nan)
        for route in range(count):
            own = np.flatnonzero((samples.route == route) & self.field)
            gaps, weights = [], []
            for side in range(2):
                seen = (sides.route[side, own] == route) & sides.parallel[side, own]
                gaps.append(sides.gap[side, own[seen]])
                weights.append(samples.weight[own[seen]])
            if own.size and sum(map(len, gaps)):
                table[:3, route] = _percentiles(
                    np.concatenate(gaps), np.concatenate(weights), (0.5, 0.1, 0.9)
                )
            every = samples.route == route
            twin = (sides.route == samples.route) & sides.parallel & (sides.gap < TWO_LINES)
            close = every & twin.any(axis=0)
            total = samples.weight[every].sum()
            table[3, route] = samples.weight[close].sum() / total if total else np.nan
        names = ("spacing", "spacing_least", "spacing_most", "two_lines")
        self.found.of_route |= dict(zip(names, table, strict=True))
        over = np.bincount(samples.route, samples.weight * self.drawn_over, count)
        self.found.of_route["drawn_over"] = over.astype(float)

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
        along it; infinite where no wall is in reach. Shapes (2, n)."""
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
        """How uneven the water's age is over three neighbouring runs, against a floor without any.

        The run itself counts twice, its neighbours once, so that flow beside return comes out even;
        0 for an even floor, 1 for one that is as uneven as the water's own way.
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
            uneven[route] = min(1.0, _spread(mean, samples.weight[both]) * np.sqrt(12.0))
        self.found.of_route["unevenness"] = uneven

    # ---- what pipes must not meet

    def _crossings(self, count: int) -> None:
        """Where pipes lie over one another."""
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
        told: set[tuple[int, int, int, int]] = set()
        for place, one, other in zip(
            at[kept], routes[first[kept]].tolist(), routes[second[kept]].tolist(), strict=True
        ):
            key = (one, other, round(place[0] * 50), round(place[1] * 50))
            if key in told:
                continue
            told.add(key)
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
        """Length of pipe under what stands on the floor for good."""
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
        """The header and port nearest to where each route starts, and how far its ends are off."""
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

    def _fields_between_joints(self) -> None:
        """Largest field of screed of each room, cut by its joints: area and longest side."""
        import shapely
        from shapely.ops import polygonize, unary_union

        areas, lengths, aspects = [], [], []
        joints = [shapely.LineString(line) for line in self.plan.joints.values() if len(line) > 1]
        for outline in self.outlines:
            polygon = shapely.Polygon(outline)
            if not polygon.is_valid:
                areas.append(np.nan)
                lengths.append(np.nan)
                aspects.append(np.nan)
                continue
            own = [joint for joint in joints if joint.intersects(polygon)]
            fields = [polygon]
            if own:
                lines = unary_union([polygon.exterior, *own])
                fields = [
                    part
                    for part in polygonize(lines)
                    if part.area > 0.01 and polygon.contains(part.representative_point())
                ]
            areas.append(max(part.area for part in fields))
            sides = [sides_of(part) for part in fields]
            lengths.append(max(max(pair) for pair in sides))
            aspects.append(max(max(pair) / min(pair) for pair in sides))
        self.found.of_room["field_area"] = np.array(areas)
        self.found.of_room["field_length"] = np.array(lengths)
        self.found.of_room["field_aspect"] = np.array(aspects)

    def _bare(self) -> None:
        """Floor of each heated room that a disc of 0.6 m finds without pipe, wall or unit."""
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
            # Samples stand up to 200 mm apart: the squares between two are marked as well.
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
        """Of a pipe whose two edges are drawn, nothing is known but that."""
        double = self.found.of_route["two_lines"] > FIELD_SHARE
        for name, column in self.found.of_route.items():
            if name != "two_lines":
                column[double] = np.nan

    def _back(self, places: Array) -> Array:
        """Places in the drawing's own directions."""
        return places if self.angle == 0 else places @ _rotation(self.angle)

    def _room_spot(self, name: str, room: str, middle: Array, places: Array) -> None:
        nearest = places[apart(places, middle[None]).argmin()]
        ((x, y),) = self._back(nearest[None])
        self.found.spots.setdefault((name, room), []).append(Spot(float(x), float(y), room))

    def _spot(self, name: str, route: int, places: Array) -> None:
        rooms = self.rooms_at(places).tolist()
        spots = self.found.spots.setdefault((name, self.found.routes[route]), [])
        for (x, y), room in zip(self._back(places).tolist(), rooms, strict=True):
            spots.append(Spot(x, y, "" if room < 0 else self.found.rooms[room]))


def tightest(path: Path) -> float:
    """Tightest bend of a path, m; NaN where a corner is drawn sharp, or nothing bends.

    Short straight pieces that turn a little each are taken for an arc drawn in chords.
    """
    arcs = path.radii[path.bulges != 0]
    least = float(arcs.min()) if len(arcs) else np.inf
    steps = np.diff(path.points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    if len(steps) > 1:
        start = np.arctan2(steps[:, 1], steps[:, 0]) - path.turns / 2
        end = np.arctan2(steps[:, 1], steps[:, 0]) + path.turns / 2
        turn = np.abs(np.angle(np.exp(1j * (start[1:] - end[:-1]))))
        if (turn > SHARP).any():
            return float("nan")
        bent = (turn > np.radians(2.0)) & (path.bulges[1:] == 0) & (path.bulges[:-1] == 0)
        chord = np.minimum(lengths[1:], lengths[:-1])[bent]
        if len(chord):
            least = min(least, float((chord / (2 * np.sin(turn[bent] / 2))).min()))
    return least if np.isfinite(least) else float("nan")


def _percentiles(values: Array, weights: Array, shares: tuple[float, ...]) -> list[float]:
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    return [
        float(values[order[int(np.searchsorted(reached, share * reached[-1] - 1e-12))]])
        for share in shares
    ]


def _spread(values: Array, weights: Array) -> float:
    mean = np.average(values, weights=weights)
    return float(np.sqrt(np.average((values - mean) ** 2, weights=weights)))
