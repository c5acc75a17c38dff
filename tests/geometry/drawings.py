"""Floors drawn by construction, so that every figure of them is known by hand."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from checker.arrays import Array
from checker.geometry.plan import Plan, rounded

BEND = 0.075
"""m, radius at the corners."""
PITCH = 0.06
"""m between the lanes of feeds in the hall."""
CORNER = 2 - np.pi / 2
"""A right corner rounded to r is shorter than the sharp one by this times r: two tangents r,
less a quarter of a circle."""


@dataclass
class Drawn:
    """A route's corners, and what is known of it by hand (SI)."""

    corners: Array
    bend: float
    length: float
    spacing: float
    wall_gap: float
    area: float
    feeds: float = 0.0


@dataclass
class House:
    """A plan and the figures of its routes."""

    plan: Plan
    routes: dict[str, Drawn] = field(default_factory=dict)


def by_hand(corners: Array, bend: float) -> float:
    """Length of a line whose corners are all right angles with room for the bend, m."""
    sharp = np.abs(np.diff(corners, axis=0)).sum()
    return float(sharp - (len(corners) - 2) * CORNER * bend)


def width_of(rings: int, spacing: float, gap: float) -> float:
    """Width of the floor that a spiral of so many rings fills to the middle, m."""
    return 2 * gap + (4 * rings + 1) * spacing


def spiral(
    rings: int, spacing: float, gap: float, height: float, bend: float = BEND, entry: float = 0.0
) -> Drawn:
    """Flow and return wound into each other, entering from below at the left, m.

    The floor is `width_of` wide and `height` high, with its corner at the origin.
    """
    width = width_of(rings, spacing, gap)
    ways = []
    for first in (gap, gap + spacing):
        way = [(first, -entry)]
        for ring in range(rings):
            inset = first + 2 * ring * spacing
            way += [
                (inset, height - inset),
                (width - inset, height - inset),
                (width - inset, inset),
                (inset + 2 * spacing, inset),
            ]
        ways.append(way)
    top = height - gap - 2 * rings * spacing
    middle = gap + 2 * rings * spacing
    corners = np.array([*ways[0], (middle, top), (middle + spacing, top), *reversed(ways[1])])
    edge = min(spacing / 2, 0.15)
    area = (width - 2 * gap + 2 * edge) * (height - 2 * gap + 2 * edge)
    return Drawn(corners, bend, by_hand(corners, bend), spacing, gap, area)


def serpentine(
    runs: int, spacing: float, gap: float, height: float, bend: float = BEND, entry: float = 0.0
) -> Drawn:
    """Runs side by side from left to right, an even number, entering and leaving below, m."""
    corners = []
    for run in range(runs):
        x = gap + run * spacing
        ends = [(x, gap), (x, height - gap)]
        corners += ends if run % 2 == 0 else ends[::-1]
    corners[0] = (gap, -entry)
    corners[-1] = (corners[-1][0], -entry)
    line = np.array(corners)
    edge = min(spacing / 2, 0.15)
    area = ((runs - 1) * spacing + 2 * edge) * (height - 2 * gap + 2 * edge)
    return Drawn(line, bend, by_hand(line, bend), spacing, gap, area)


def plan_of(drawn: dict[str, Drawn], rooms: dict[str, Array], **others: Any) -> Plan:
    """The plan of these routes and rooms."""
    routes = {name: rounded(one.corners, one.bend) for name, one in drawn.items()}
    return replace(Plan(rooms=rooms, routes=routes), **others)


def box(x: float, y: float, width: float, height: float) -> Array:
    """A rectangle's corners, m."""
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def house() -> House:
    """Seven rooms along a hall 15 m long, and twelve loops from a header at its right end.

    Lanes of feeds lie 60 mm apart; those of the rooms nearest to the header lie outermost, so
    that no pipe crosses another. All lengths follow from right angles.
    """
    wall, hall = 0.1, 1.7
    above = [("bed 1", 2, 4), ("bed 2", 2, 4), ("bath", 1, 3), ("study", 1, 4)]
    below = [("living", 3, 4), ("kitchen", 2, 4), ("dining", 1, 5)]
    rooms = {"hall": box(0, 0, 15, hall)}
    routes: dict[str, Drawn] = {}
    number = 0
    header = []
    for names, up in ((above, True), (below, False)):
        left, lanes = 0.2, []
        for name, loops, rings in names:
            spacing, gap, height = 0.15, 0.075, 4.3 if up else 4.6
            # Two loops side by side leave one spacing between them, not two gaps.
            own = width_of(rings, spacing, gap)
            step = own - 2 * gap + spacing
            width = own + (loops - 1) * step
            rooms[name] = box(left, hall + wall if up else -wall - height, width, height)
            for loop in range(loops):
                lanes.append((left + loop * step, spiral(rings, spacing, gap, height)))
            left += width + wall
        # From the left, a lane lies nearer to the middle of the hall.
        for place, (x, one) in enumerate(lanes):
            number += 1
            offsets = [(2 * place + 0.5) * PITCH, (2 * place + 1.5) * PITCH]
            depth = [hall / 2 + d if up else hall / 2 - d for d in offsets]
            line = one.corners.copy()
            door = hall + wall if up else -wall
            line[:, 1] = door + line[:, 1] if up else door - line[:, 1]
            line[:, 0] += x
            flow, back = depth
            start, end = (
                np.array([(14.8, flow), (line[0, 0], flow)]),
                np.array([(line[-1, 0], back), (14.8, back)]),
            )
            corners = np.concatenate((start, line[1:-1], end))
            feeds = 2 * 14.8 - line[0, 0] - line[-1, 0] - 2 * CORNER * BEND
            feeds += abs((hall if up else 0.0) - flow) + abs((hall if up else 0.0) - back)
            routes[f"L{number}"] = Drawn(
                corners, BEND, by_hand(corners, BEND), 0.15, 0.075, one.area, feeds
            )
            header.append((14.8, (flow + back) / 2))
    plan = plan_of(routes, rooms, headers={"H1": np.array(header)})
    return House(plan, routes)


def as_text(house: House, unit: str = "mm", bend: str = "75 mm") -> str:
    """The plan as a design writes it."""
    metre = {"mm": 0.001, "m": 1.0, "in": 0.0254}[unit]

    def line(points: Array) -> str:
        return ", ".join(" ".join(f"{value:.10g}" for value in point) for point in points / metre)

    parts = {"rooms": house.plan.rooms}
    parts["routes"] = {name: one.corners for name, one in house.routes.items()}
    for name in ("joints", "fixed", "keep_clear", "outer_walls", "headers"):
        parts[name] = getattr(house.plan, name)
    said = ["plan:", f"  unit: {unit}", f"  bend: {bend}"]
    for name, lines in parts.items():
        if lines:
            said += [f"  {name}:", *(f"    {own}: {line(points)}" for own, points in lines.items())]
    return "\n".join(said) + "\n"


def rooms_of(house: House) -> dict[str, str]:
    """By route, the room that it heats, as the house is drawn."""
    rooms = ["bed 1"] * 2 + ["bed 2"] * 2 + ["bath", "study"] + ["living"] * 3
    return dict(zip(house.routes, [*rooms, "kitchen", "kitchen", "dining"], strict=True))


def design(house: House, plan: str = "", **changes: str) -> str:
    """A design of the house in which everything agrees with the plan.

    changes: for a loop (`L3="length: 80 m"`), keys that take the place of its own.
    """
    rooms = "".join(
        f"  {name}: {{temperature: 20 °C, area: {np.ptp(box, axis=0).prod():.3f} m²}}\n"
        for name, box in house.plan.rooms.items()
    )
    loops = ""
    for number, (name, one) in enumerate(house.routes.items()):
        keys = {
            "header": "H1", "port": f"{number + 1}", "room": rooms_of(house)[name], "floor": "slab",
            "pipe": "p16", "pattern": "counterflow", "spacing": "150 mm",
            "area": f"{one.area:.2f} m²", "length": f"{one.length:.1f} m",
        }  # fmt: skip
        changed = dict(part.split(": ") for part in changes.get(name, "").split(", ") if part)
        said = {key: value for key, value in (keys | changed).items() if value != "none"}
        loops += f"  {name}: {{{', '.join(f'{key}: {value}' for key, value in said.items())}}}\n"
    return (
        "design: 1\nproject: {designed_on: 2026-03-12, region: GB-ENG}\n"
        "pipes: {p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}}\n"
        "floors: {slab: {construction: wet, screed: {material: cement}}}\n"
        f"rooms:\n{rooms}headers: {{H1: {{ports: 12}}}}\nloops:\n{loops}{plan or as_text(house)}"
    )
