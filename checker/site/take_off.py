"""What a job needs, counted and measured from its design: no prices, no makes.

Every line says what it was taken from. What the design does not state is a line to fill in, with
the datum that is missing; where only a part is known, the amount is "at least".
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from msgspec import Struct

from checker.outcome.report import DesignReport
from checker.outcome.results import Measure
from checker.physics import fluid
from checker.reports.facts import Facts
from checker.site.coils import CoilPlan, plan_coils
from checker.words import how_many, listed, measure, number
from checker.words.speech import PLAIN

SCREED_DENSITIES = {
    "cement": (2_000.0, "DIN 4108-4 (2020), Table 1, from memory"),
    "calcium sulphate": (2_100.0, "DIN 4108-4 (2020), Table 1, from memory"),
    "mastic asphalt": (2_300.0, "DIN 4108-4 (2020), Table 1, from memory"),
}
"""kg/m³, of the finished screed, dry."""
FILLED_AT = 10.0
"""Temperature of the water that a system is filled with, °C; EN 12828 (2012), Annex D, from
memory.
"""
GLYCOLS = {"propylene glycol": fluid.PROPYLENE_GLYCOL, "ethylene glycol": fluid.ETHYLENE_GLYCOL}


class _Metric(Facts):
    """A design's numbers in the units of reports, and how values are shown to its reader."""

    def __init__(self, design: DesignReport) -> None:
        super().__init__(design, PLAIN)
        self.reader = design.speech

    def measure(self, value: float, unit: str) -> str:
        """A value in a unit of reports, in the reader's words."""
        return self.reader.measure(value, unit)

    def size_of(self, subject: str, name: str, unit: str) -> str:
        """A stated number in the reader's words; empty where there is none."""
        found = self.number(subject, name)
        return "" if math.isnan(found) else self.measure(found, unit)


class Line(Struct, frozen=True):
    """One thing that the job needs.

    Attributes:
        item: in words.
        of: what it was taken from.
        amount: in a unit of reports; None where it is not known.
        at_least: whether more is needed than is known here.
        missing: what to find out where it is not known.
    """

    item: str
    of: str
    amount: Measure | None = None
    at_least: bool = False
    missing: str = ""


class Cut(Struct, frozen=True):
    """One coil of a pipe: its loops in the order of cutting, and what is left."""

    pipe: str
    size: Measure
    loops: tuple[str, ...]
    left: Measure


class Coils(Struct, frozen=True):
    """What to buy, and how it is cut.

    Attributes:
        coils: each with its loops.
        too_long: loops that fit in no coil.
        unknown: loops whose length or pipe is not stated, or whose pipe has no coil.
        bought: m.
        bound: m; no plan without a buried joint buys less.
    """

    coils: tuple[Cut, ...]
    too_long: tuple[str, ...]
    unknown: tuple[str, ...]
    bought: Measure
    bound: Measure

    @property
    def verdict(self) -> str:
        """How good the plan is, in words."""
        bought, bound = self.bought.magnitude or 0.0, self.bound.magnitude or 0.0
        if bought <= bound * (1 + 1e-12):
            return "No plan without a buried joint needs less pipe."
        over = measure((bought - bound) / bound * 100, "%")
        return f"It is not proved that none buys less: at best {over} less could be enough."


class TakeOff(Struct, frozen=True):
    """All that a design needs, in groups, and the plan of its coils where sizes are given."""

    groups: dict[str, tuple[Line, ...]]
    coils: Coils | None = None


def take_off(
    design: DesignReport, sizes: Mapping[str, Sequence[float]], allowance: float
) -> TakeOff:
    """Count and measure a design.

    Args:
        design: its report, made with what it states (`with_given`).
        sizes: m, the available coils of each pipe; under "" those of any other; empty for no plan.
        allowance: m that is cut for each loop in addition to its length.

    Returns:
        What the design needs, without groups that have no line; a plan of coils only with sizes.
    """
    facts = _Metric(design)
    coils = _coils(facts, sizes, allowance) if sizes else None
    groups = {
        "pipe": (*_pipe(facts, coils),),
        "headers": (*_headers(facts),),
        "floor": (*_floor(facts),),
        "screed": (*_screed(facts),),
        "water": (*_water(facts),),
    }
    return TakeOff({name: lines for name, lines in groups.items() if lines}, coils)


def _length(facts: _Metric, loop: str) -> float:
    return facts.number(f"loops.{loop}", "length")


def _pipe_of(facts: _Metric, loop: str) -> str:
    found = facts.stated(f"loops.{loop}", "pipe")
    return found if isinstance(found, str) else ""


def _coils(facts: _Metric, sizes: Mapping[str, Sequence[float]], allowance: float) -> Coils:
    """A plan for each pipe."""
    by_pipe: dict[str, dict[str, float]] = {}
    unknown = []
    for loop in facts.names("loops"):
        length = _length(facts, loop)
        pipe = _pipe_of(facts, loop)
        to_be_had = sizes.get(pipe, sizes.get(""))
        if math.isnan(length) or not pipe or not to_be_had:
            unknown.append(loop)
        else:
            by_pipe.setdefault(pipe, {})[loop] = length + allowance
    plans: dict[str, CoilPlan] = {}
    for pipe, lengths in by_pipe.items():
        plans[pipe] = plan_coils(lengths, sizes.get(pipe, sizes.get("", ())))
    return Coils(
        tuple(
            Cut(pipe, Measure(coil.size, "m"), coil.loops, Measure(coil.left, "m"))
            for pipe, plan in plans.items()
            for coil in plan.coils
        ),
        tuple(loop for plan in plans.values() for loop in plan.too_long),
        tuple(unknown),
        Measure(sum(plan.bought for plan in plans.values()), "m"),
        Measure(sum(plan.bound for plan in plans.values()), "m"),
    )


def _pipe(facts: _Metric, coils: Coils | None) -> Iterator[Line]:
    loops = facts.names("loops")
    for pipe in (*facts.names("pipes"), ""):
        own = [loop for loop in loops if _pipe_of(facts, loop) == pipe]
        if not own:
            continue
        lengths = [_length(facts, loop) for loop in own]
        unknown = [loop for loop, length in zip(own, lengths, strict=True) if math.isnan(length)]
        known = sum(length for length in lengths if not math.isnan(length))
        name = f"{_described(facts, pipe)}, laid" if pipe else "Pipe that is not named, laid"
        yield Line(
            name,
            f"the lengths of {how_many(len(own) - len(unknown), 'loop')}",
            Measure(known, "m") if known else None,
            at_least=bool(unknown and known),
            missing=f"the length of {listed(unknown)}" if unknown else "",
        )
        if coils is not None and pipe:
            bought = [cut for cut in coils.coils if cut.pipe == pipe]
            uncut = [loop for loop in own if loop in (*coils.too_long, *coils.unknown)]
            for size in sorted({cut.size.magnitude or 0.0 for cut in bought}):
                count = sum(cut.size.magnitude == size for cut in bought)
                yield Line(
                    f"{_described(facts, pipe)}, coils of {facts.measure(size, 'm')}",
                    "the plan of the coils",
                    Measure(count, "1"),
                    at_least=bool(uncut),
                    missing=f"a coil for {listed(uncut)}" if uncut else "",
                )
        yield Line(
            f"Connections to the header for p{_described(facts, pipe)[1:]}"
            if pipe
            else "Connections to the header for pipe that is not named",
            "two a loop",
            Measure(2 * len(own), "1"),
        )
    joints = {loop: facts.number(f"loops.{loop}", "joints") for loop in loops}
    unstated = [loop for loop, joint in joints.items() if math.isnan(joint)]
    buried = sum(joint for joint in joints.values() if not math.isnan(joint))
    if buried:
        yield Line(
            "Couplings in the floor",
            "the joints of the loops",
            Measure(buried, "1"),
            at_least=bool(unstated),
            missing=f"the joints of {listed(unstated)}" if unstated else "",
        )
    yield from _sleeves(facts, loops)


def _sleeves(facts: _Metric, loops: Sequence[str]) -> Iterator[Line]:
    crossings = [facts.number(f"loops.{loop}", "joint_crossings") for loop in loops]
    known = [crossing for crossing in crossings if not math.isnan(crossing)]
    if facts.design.sketch is not None and facts.design.sketch.joints:
        yield Line(
            "Sleeves over movement joints, one a heating run that crosses",
            "the plan; feeds that cross need theirs too",
            Measure(sum(known), "1"),
            at_least=True,
        )
    else:
        yield Line(
            "Sleeves over movement joints",
            "one where a pipe crosses a joint",
            missing="where the joints run (a plan with joints)",
        )


def _described(facts: _Metric, pipe: str) -> str:
    """A pipe as it is ordered: material and size, else its id."""
    words = [facts.size_of(f"pipes.{pipe}", name, "mm") for name in ("outside", "wall")]
    size = " × ".join(word for word in words if word)
    material = facts.words(f"pipes.{pipe}", "material", "")
    return f"Pipe {pipe}" + (f" ({' '.join(part for part in (material, size) if part)})")


def _headers(facts: _Metric) -> Iterator[Line]:
    unplaced = facts.loops_of("headers", "")
    wanted = f"the header of {listed(unplaced)}" if unplaced else ""
    for header in facts.names("headers"):
        ports = facts.number(f"headers.{header}", "ports")
        used = len(facts.loops_of("headers", header))
        yield Line(
            f"Header {header}, loops joined",
            "the loops that name it",
            Measure(used, "1"),
            at_least=bool(unplaced),
            missing=wanted,
        )
        least = "at least " if unplaced else ""
        yield Line(
            f"Header {header}, ports",
            "the design" if not math.isnan(ports) else "",
            None if math.isnan(ports) else Measure(ports, "1"),
            missing=f"how many ports it has; its loops need {least}{used}"
            if math.isnan(ports)
            else "",
        )
        if ports > used:
            # A loop that names no header may be on one of these.
            yield Line(
                f"Header {header}, ports to cap",
                "" if unplaced else "ports without a loop",
                None if unplaced else Measure(ports - used, "1"),
                missing=wanted,
            )


def _where(facts: _Metric, loop: str) -> Iterator[tuple[str, str]]:
    """Room and floor of each part and feed of a loop; empty where they are not stated."""
    subject = f"loops.{loop}"
    rows = facts.rows(subject, "loop_parts") or ({},)
    for row in (*rows, *facts.rows(subject, "loop_feeds")):
        named = (row.get(name, facts.stated(subject, name)) for name in ("room", "floor"))
        room, floor = (name if isinstance(name, str) else "" for name in named)
        yield room, floor


def _rooms_on(facts: _Metric, floor: str) -> dict[str, bool]:
    """The rooms with loops on a floor, and whether it is the room's only floor."""
    floors: dict[str, set[str]] = {}
    for loop in facts.names("loops"):
        for room, own in _where(facts, loop):
            if room and own:
                floors.setdefault(room, set()).add(own)
    return {room: len(own) == 1 for room, own in floors.items() if floor in own}


def _area(facts: _Metric, floor: str) -> tuple[float, bool, list[str]]:
    """Floor area of the rooms on a floor, m²; whether it is "at least"; what is missing."""
    rooms = _rooms_on(facts, floor)
    areas = {room: facts.number(f"rooms.{room}", "area") for room in rooms}
    lacks = [f"the area of {room}" for room, area in areas.items() if math.isnan(area)]
    # A loop that may lie on this floor in a room that is not counted.
    lost = [
        loop
        for loop in facts.names("loops")
        if any(not (room and own) and own in ("", floor) for room, own in _where(facts, loop))
    ]
    lacks += [f"room and floor of {loop}" for loop in lost]
    whole = [area for room, area in areas.items() if rooms[room] and not math.isnan(area)]
    return sum(whole), bool(lacks) or not all(rooms.values()), lacks


def _floor(facts: _Metric) -> Iterator[Line]:
    for floor in facts.names("floors"):
        area, at_least, lacks = _area(facts, floor)
        rooms = [*_rooms_on(facts, floor)]
        resistance = facts.size_of(f"floors.{floor}", "insulation", "m²·K/W")
        of = f"the areas of {listed(rooms)}" if rooms else "no loop lies on it"
        yield Line(
            f"Floor {floor}, insulation or panels{f' of {resistance}' if resistance else ''}",
            of,
            Measure(area, "m²") if area else None,
            at_least=at_least and area > 0,
            missing=listed(lacks),
        )
        yield _edge(facts, floor, rooms)


def _edge(facts: _Metric, floor: str, rooms: Sequence[str]) -> Line:
    """The edge strip: round the rooms of the plan, else the least that the rooms could need."""
    thickness = facts.size_of(f"floors.{floor}", "edge_strip", "mm")
    item = f"Floor {floor}, edge strip{f' of {thickness}' if thickness else ''}"
    sketch = facts.design.sketch
    drawn = dict(sketch.rooms) if sketch is not None else {}
    if rooms and all(room in drawn for room in rooms):
        round_them = sum(_round(drawn[room]) for room in rooms)
        return Line(
            item, "the outlines of its rooms on the plan, doors included", Measure(round_them, "m")
        )
    areas = [facts.number(f"rooms.{room}", "area") for room in rooms]
    least = sum(4 * math.sqrt(area) for area in areas if not math.isnan(area))
    return Line(
        item,
        "as if the rooms were square, the rectangle with the shortest walls" if least else "",
        Measure(least, "m") if least else None,
        at_least=least > 0,
        missing="the perimeter of the rooms (measure it, or give a plan with their outlines)",
    )


def _round(outline: Sequence[tuple[float, float]]) -> float:
    return sum(math.dist(one, other) for one, other in pairwise((*outline, outline[0])))


def _screed(facts: _Metric) -> Iterator[Line]:
    for floor in facts.names("floors"):
        subject = f"floors.{floor}"
        if facts.words(subject, "construction", "") == "layered":
            continue
        area, at_least, lacks = _area(facts, floor)
        cover = facts.number(subject, "screed.cover")
        below = facts.number(subject, "screed.below_pipe")
        pipes = {_pipe_of(facts, loop) for loop in facts.loops_of("floors", floor)}
        outside = [facts.number(f"pipes.{pipe}", "outside") for pipe in pipes]
        lacks += ["the screed's cover"] if math.isnan(cover) else []
        sizes = [size for size in outside if not math.isnan(size)]
        unsized = len(sizes) < len(outside)
        lacks += ["the pipe's outside diameter"] if unsized or not sizes else []
        if math.isnan(cover) or not sizes or not area:
            yield Line(f"Floor {floor}, screed", "", missing=listed(lacks) or "a room's area")
            continue
        thick = cover + max(sizes) + (0.0 if math.isnan(below) else below)
        volume = area * thick / 1_000
        under = "" if math.isnan(below) else f" and {facts.measure(below, 'mm')} under it"
        over = f"{facts.measure(cover, 'mm')} over pipe of {facts.measure(max(sizes), 'mm')}"
        of = (
            f"{facts.measure(area, 'm²')} at {facts.measure(thick, 'mm')} ({over}{under}), "
            "the pipe's volume not deducted"
        )
        yield Line(
            f"Floor {floor}, screed",
            of,
            Measure(volume, "m³"),
            at_least=at_least or unsized,
            missing=listed(lacks),
        )
        material = facts.words(subject, "screed.material", "")
        density, source = SCREED_DENSITIES.get(material, (math.nan, ""))
        yield Line(
            f"Floor {floor}, screed's mass",
            f"{number(density)} kg/m³, {source}" if source else "",
            None if math.isnan(density) else Measure(round(volume * density, -1), "kg"),
            at_least=(at_least or unsized) and not math.isnan(density),
            missing="" if source else "the screed's density",
        )


def _water(facts: _Metric) -> Iterator[Line]:
    content = facts.number("design", "content")
    if math.isnan(content):
        yield Line("Water in the loops", "", missing="the length and bore of every loop")
        return
    yield Line("Water in the loops", "their lengths and bores", Measure(content, "l"))
    kind = facts.words("design", "plant.fluid.kind", "")
    fraction = facts.number("design", "plant.fluid.mass_fraction") / 100
    supply = facts.number("design", "plant.supply")
    code = GLYCOLS.get(kind, fluid.WATER)
    if kind in GLYCOLS:
        mixture = (
            float(fluid.density(code, fraction, FILLED_AT)) if fraction == fraction else math.nan
        )
        known = not math.isnan(mixture)
        yield Line(
            f"{kind.capitalize()}, pure",
            f"{measure(fraction * 100, '%')} by mass of what the loops hold; header, plant and "
            "inhibitors besides"
            if known
            else "",
            Measure(content / 1_000 * mixture * fraction, "kg") if known else None,
            at_least=known,
            missing="" if known else "its share by mass",
        )
    if not kind or math.isnan(supply) or (kind in GLYCOLS and math.isnan(fraction)):
        yield Line(
            "Expansion of the loops' water", "", missing="the fluid and the supply temperature"
        )
        return
    cold, hot = (float(fluid.density(code, fraction, at)) for at in (FILLED_AT, supply))
    yield Line(
        "Expansion of the loops' water",
        f"filled at {facts.measure(FILLED_AT, '°C')} and heated to {facts.measure(supply, '°C')}; "
        "without header and plant (EN 12828)",
        Measure(content * (cold / hot - 1), "l"),
        at_least=True,
    )
