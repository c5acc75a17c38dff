"""The `plan:` of a design: read, measured, and compared with what the design states.

Imported only for a design that has one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from checker.arrays import Array
from checker.design.plan_text import MOST_PIPE, MOST_POINTS, PlanReader
from checker.geometry.measured import Measured
from checker.geometry.measuring import measure
from checker.geometry.plan import Path, Plan
from checker.geometry.sampling import TooDense
from checker.reading.documents import Mapping, Place, shown
from checker.words import choices

if TYPE_CHECKING:
    from checker.design.leaves import Leaf
    from checker.design.taking import Walk


TO_SCALE = 0.1
"""A plan counts as not to scale where no size of its pipes is within this of the stated one."""
LEAST_SIZES = 3
"""A plan is only called not to scale where at least this many sizes are stated."""
LEAST_FEED = 0.05
"""m; a shorter feed in a room is only the width of a border."""
FROM_PLAN = "left to the plan"
"""Replaces what was typed, for a value that is taken from the plan though the design does not ask
for it.
"""
IN_MEMORY = 64
"""Plans whose measurements are cached, for designs that are judged again with other data."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """What a design's plan shows.

    Attributes:
        measured: what was measured in it.
        unit: the plan's own.
        metre: that unit in metres.
        misfit: the smallest difference between a drawn and a stated size, as a share, NaN where too
            little is stated.
    """

    measured: Measured
    unit: str
    metre: float
    misfit: float
    scale: float
    """The median ratio of drawn to stated sizes."""
    taken: set[tuple[str, int, str]] = field(default_factory=set)
    """Table, row and column of each value that was taken from the plan without `drawn`."""

    @property
    def to_scale(self) -> bool:
        """Whether sizes can be taken from it; also where nothing stated contradicts it."""
        return not self.misfit > TO_SCALE

    @property
    def words(self) -> str:
        """How far a plan that is not to scale is off."""
        way = "long" if self.scale >= 1 else "short"
        times = self.scale if self.scale >= 1 else 1 / self.scale
        return f"most is drawn {times:.2g} times as {way} as stated"


def take_plan(walk: Walk, data: bytes) -> Drawing | None:
    """Read and measure the plan of a design, and fill in the values that are given as `drawn`.

    Args:
        walk: the design that is being read; mistakes are noted in it.
        data: the file, in which places of mistakes are looked up.

    Returns:
        What the plan shows; None where there is none, or it has mistakes.
    """
    if walk.plan is None:
        for _, _, place, where in walk.from_plan:
            walk.problem(where, "'drawn' needs a plan, and the design has none", place)
        return None
    before = len(walk.problems)
    part, raw, _ = walk.plan
    if "drawing" in raw:
        plan, unit, metre = _from_drawing(walk, raw)
    else:
        plan, unit, metre = PlanReader(walk, part, raw, data).plan()
    if plan is None or len(walk.problems) > before:
        return None
    try:
        measured = _measured(plan)
    except TooDense as dense:
        walk.problem("plan", str(dense), raw.place)
        return None
    misfit, scale = _misfit(walk, measured)
    drawing = Drawing(measured, unit, metre, misfit, scale)
    for row, leaf, place, where in walk.from_plan:
        _fill(walk, drawing, (row, leaf, place, where))
    if drawing.to_scale:
        _fill_gaps(walk, drawing)
    return drawing


def _from_drawing(walk: Walk, raw: Mapping) -> tuple[Plan | None, str, float]:
    """The plan in the drawing that is named, and its unit."""
    from checker.design.drawings import BadMap, beside, load, read
    from checker.geometry.dxf import Unread

    nothing = (None, "", 1.0)
    for key in raw:
        if key not in ("drawing", "map"):
            words = f"'{shown(key)}' cannot be given with a drawing; write it in the map"
            walk.problem("plan", words, raw.places[key][0])
            return nothing
    name, own_map = raw["drawing"], raw.get("map")
    place = raw.places["drawing"][1]
    if not isinstance(name, str) or not name.lower().endswith(".dxf"):
        walk.problem("plan.drawing", "a DXF file is expected here, such as 'floor.dxf'", place)
        return nothing
    if not isinstance(own_map, str) or not own_map.lower().endswith((".yaml", ".yml")):
        words = "'map' is missing here: the file that says which layers are what"
        walk.problem("plan", words, raw.place)
        return nothing
    try:
        try:
            how = load(beside(walk.path, own_map))
        except BadMap as bad:
            first = bad.problems[0]
            raise Unread(f"{own_map}:{first.line}:{first.column}: {first.message}") from None
        made, unit, metre = read(beside(walk.path, name), how)
    except Unread as unread:
        walk.problem("plan.drawing", str(unread), place)
        return nothing
    points = sum(len(path.points) for path in made.plan.routes.values())
    pipe = sum(path.length for path in made.plan.routes.values())
    if points > MOST_POINTS or pipe > MOST_PIPE:
        words = f"{pipe / 1000:.0f} km of pipe in {points:,} points are more than is taken"
        walk.problem("plan.drawing", f"{words}; look at the unit", place)
        return nothing
    return made.plan, unit, metre


def _rows_of(names: list[str], ids: list[str], start: int = 0) -> list[tuple[int, int]]:
    """Pairs (row, number in names) of the ids that are among the names; rows count from `start`."""
    numbers = {name: number for number, name in enumerate(names)}
    return [(start + row, numbers[own]) for row, own in enumerate(ids) if own in numbers]


def _fill(walk: Walk, drawing: Drawing, wanted: tuple[Any, Leaf, Place, str]) -> None:
    """Fill in one value that is left to the plan by `drawn`."""
    row, leaf, place, where = wanted
    name = where.split(".", 1)[1].rsplit(".", 1)[0]
    routes = drawing.measured.routes
    if name not in routes:
        near = choices(name, routes)
        walk.problem(where, f"'drawn' needs a route of this name under plan.routes; {near}", place)
    elif not drawing.to_scale:
        words = "'drawn' cannot be taken from a plan that is not to scale"
        walk.problem(where, f"{words}: {drawing.words}", place)
    else:
        value = float(drawing.measured.of_route[leaf.drawn][routes.index(name)])
        if np.isnan(value):
            walk.problem(where, f"the plan does not show {leaf.drawn}; write it", place)
        else:
            row[leaf.slot] = value


def _fill_gaps(walk: Walk, drawing: Drawing) -> None:
    """Take wall gaps, crossed joints and fields of screed from the plan where none are stated."""
    measured = drawing.measured
    start = walk.starts["loops"]
    loops = walk.tables["loops"]
    rows = _rows_of(measured.routes, loops.ids[start:], start)
    for row, number in rows:
        _take(walk, drawing, "loops", row, "wall_gap", measured.of_route["wall_gap"][number])
        crossed = measured.of_route["joint_crossings"] + measured.of_route["feed_crossings"]
        _take(walk, drawing, "loops", row, "crosses_joint", float(np.sign(crossed[number])))
    _fill_feeds(walk, drawing, rows)
    # A floor's fields are those of the rooms that its loops heat; all of them must be drawn.
    room, floor = (walk.tables.format.leaf("loops", name).slot for name in ("room", "floor"))
    numbers = dict(_rows_of(measured.rooms, walk.tables["rooms"].ids[walk.starts["rooms"] :]))
    first = walk.starts["rooms"]
    fields: dict[int, list[int]] = {}
    for own in loops.rows[start:]:
        if own[floor] == own[floor]:
            drawn = numbers.get(int(own[room]) - first, -1) if own[room] == own[room] else -1
            fields.setdefault(int(own[floor]), []).append(drawn)
    for row, drawn_rooms in fields.items():
        if min(drawn_rooms) >= 0:
            for name in ("field_area", "field_length"):
                largest = measured.of_room[name][drawn_rooms].max()
                _take(walk, drawing, "floors", row, f"screed.{name}", largest)


def _fill_feeds(walk: Walk, drawing: Drawing, rows: list[tuple[int, int]]) -> None:
    """Take the rooms that feeds pass through from the plan where a loop states none.

    Their floor is that of their loop, their spacing the one that is drawn.
    """
    measured = drawing.measured
    loops, feeds = walk.tables["loops"], walk.tables["loop_feeds"]
    leaf = walk.tables.format.leaf
    whole, floor = leaf("loops", "feeds").slot, leaf("loops", "floor").slot
    slots = {leaf.name: leaf.slot for leaf in feeds.shape.columns}
    start = walk.starts["rooms"]
    rooms = {name: start + at for at, name in enumerate(walk.tables["rooms"].ids[start:])}
    listed = set(feeds.parents[walk.starts["loop_feeds"] :])
    for row, number in rows:
        own = loops.rows[row]
        if own[whole] == own[whole] or row in listed:
            continue
        if np.isnan(measured.of_route["room"][number]):
            continue
        for feed in measured.feeds[measured.routes[number]]:
            if feed.length < LEAST_FEED:
                continue
            place = loops.places[row]
            values = {"length": feed.length}
            if feed.room in rooms:
                values |= {"room": rooms[feed.room], "floor": own[floor], "spacing": feed.spacing}
            typed = Mapping(place)
            typed.update(dict.fromkeys(values, FROM_PLAN))
            typed.places = dict.fromkeys(values, (place, place))
            added = walk.add_row(feeds, "", row, typed, place)
            for name, value in values.items():
                added[slots[name]] = value
                added[slots[name] + len(slots)] = place
        drawing.taken.add(("loops", row, "feeds"))


def _take(walk: Walk, drawing: Drawing, table: str, row: int, column: str, value: float) -> None:
    """Take a value from the plan where the design states none."""
    slot = walk.tables.format.leaf(table, column).slot
    values = walk.tables[table].rows[row]
    if np.isnan(values[slot]) and not np.isnan(value):
        values[slot] = value
        drawing.taken.add((table, row, column))


def _misfit(walk: Walk, measured: Measured) -> tuple[float, float]:
    """The smallest difference between a drawn and a stated size, as a share, and the median of
    their ratios.

    Only of pipes where enough of these are stated, because rooms may be to scale under a schematic
    of pipes.
    """
    rooms = _ratios(walk, measured, "rooms", "area") ** 0.5
    lengths = _ratios(walk, measured, "loops", "length")
    spacings = _ratios(walk, measured, "loops", "spacing")
    pipes = np.concatenate((lengths, spacings))
    alone = len(spacings) > 0 and len(pipes) >= LEAST_SIZES
    found = pipes if alone else np.concatenate((rooms, pipes))
    if len(found) < LEAST_SIZES:
        return float("nan"), float("nan")
    off = np.maximum(found, 1 / found) - 1
    return float(off.min()), float(np.median(found))


def _ratios(walk: Walk, measured: Measured, table: str, column: str) -> Array:
    """The ratios of drawn to stated sizes of rooms or loops, where both are known."""
    drawn, names = (
        (measured.of_room, measured.rooms)
        if table == "rooms"
        else (measured.of_route, measured.routes)
    )
    start, own = walk.starts[table], walk.tables[table]
    slot = walk.tables.format.leaf(table, column).slot
    pairs = _rows_of(names, own.ids[start:], start)
    found = np.array([drawn[column][number] / own.rows[row][slot] for row, number in pairs])
    known: Array = found[np.isfinite(found) & (found > 0)]
    return known


_KEPT: dict[Any, Measured] = {}


def _measured(plan: Plan) -> Measured:
    """What the plan shows, cached where the same one was measured just before."""
    key = tuple(
        (part, name, path.tobytes() if isinstance(path, np.ndarray) else _bytes(path))
        for part in ("rooms", "routes", "joints", "fixed", "keep_clear", "outer_walls", "headers")
        for name, path in getattr(plan, part).items()
    )
    found = _KEPT.get(key)
    if found is None:
        if len(_KEPT) >= IN_MEMORY:
            _KEPT.clear()
        found = _KEPT[key] = measure(plan)
    return found


def _bytes(path: Path) -> bytes:
    return path.points.tobytes() + path.bulges.tobytes()
