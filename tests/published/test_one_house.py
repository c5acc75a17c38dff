"""Random houses with parts, feeds and stated flows against the plain solver of `one_house`."""

from __future__ import annotations

import random
from functools import cache

import pytest

from checker.outcome.report import DesignReport
from tests.example import computed, reports
from tests.published.one_house import Floor, House, Loop, Part, Room, Solved

SEEDS = range(24)
AGREES = 1e-6


def invented(seed: int) -> tuple[House, str]:
    """A house of three to seven rooms, and the design file that states it."""
    pick = random.Random(seed)
    floors: dict[str, Floor] = {}
    rooms: dict[str, Room] = {}
    loops: dict[str, Loop] = {}
    text = ["design: 1", "pipes: {p: {material: PE-RT, outside: 16 mm, wall: 2 mm}}", "floors:"]
    for number in range(3):
        over_room = number == 1
        floor = Floor(
            coefficient=pick.uniform(2.5, 7),
            cover=pick.uniform(0.03, 0.08),
            conductivity=pick.uniform(0.9, 1.8),
            insulation=pick.uniform(0.75, 4),
            over_room=over_room,
            below=pick.uniform(5, 20),
        )
        floors[f"f{number}"] = floor
        text.append(
            f"  f{number}: {{construction: tested, heat_coefficient: {floor.coefficient!r} "
            f"W/(m²·K), screed: {{cover: {floor.cover!r} m, conductivity: "
            f"{floor.conductivity!r} W/(m·K)}}, insulation: {floor.insulation!r} m²·K/W, "
            f"below: {'heated' if over_room else 'ground'}, below_temperature: {floor.below!r} °C}}"
        )
    count = pick.randint(3, 7)
    inside = {f"r{number}": pick.uniform(18, 24) for number in range(count)}
    house = House(pick.uniform(3, 9), seed % 3 == 2, rooms, loops)
    supply = pick.uniform(36, 48)
    text.append("loops:")
    for number in range(count + 2):
        flow = pick.uniform(0.4, 3) if pick.random() < 0.15 else None
        loop = loops[f"L{number}"] = Loop(supply, flow)
        stated = "" if flow is None else f", flow: {flow!r} l/min"
        if flow is not None:
            loop.flow = flow / 6e4
        parts = []
        for _ in range(1 if pick.random() < 0.6 else pick.randint(2, 3)):
            room_name, floor_name = f"r{min(number, count - 1)}", pick.choice([*floors])
            if pick.random() < 0.3:
                room_name = pick.choice([*inside])
            area = pick.uniform(2, 14)
            loop.parts.append(Part(room_name, floors[floor_name], area))
            parts.append(f"{{room: {room_name}, floor: {floor_name}, area: {area!r} m²}}")
        feeds = []
        for _ in range(pick.choice([0, 0, 1, 2])):
            room_name, floor_name = pick.choice([*inside]), pick.choice([*floors])
            length, spacing = pick.uniform(2, 16), pick.uniform(0.05, 0.15)
            insulated = pick.random() < 0.2
            if not insulated:
                loop.parts.append(Part(room_name, floors[floor_name], length * spacing, feed=True))
            feeds.append(
                f"{{room: {room_name}, floor: {floor_name}, length: {length!r} m, spacing: "
                f"{spacing!r} m, insulated: {str(insulated).lower()}}}"
            )
        feeds.append("{length: 2 m}")
        text.append(
            f"  L{number}: {{pipe: p, pattern: counterflow, length: 90 m{stated}, "
            f"parts: [{', '.join(parts)}], feeds: [{', '.join(feeds)}]}}"
        )
    text.append("rooms:")
    for name, warmth in inside.items():
        # From a quarter of what the floor gives at most to a quarter more than that.
        most = sum(
            part.area * part.floor.coefficient * (supply - house.drop / 2 - warmth)
            for loop in loops.values()
            for part in loop.parts
            if part.room == name and not part.feed
        )
        load: float | None = pick.uniform(0.25, 1.25) * most
        if pick.random() < 0.1:
            load = pick.choice([None, 0.0])
        # No covering that lets through less than the floor's own coefficient gives.
        there = (part for loop in loops.values() for part in loop.parts if part.room == name)
        best = max((part.floor.coefficient for part in there), default=1.0)
        room = rooms[name] = Room(warmth, pick.uniform(0, min(0.15, 1 / best - 1 / 11.6)), load)
        stated = "" if load is None else f", heat_load: {load!r} W"
        text.append(
            f"  {name}: {{use: living, temperature: {warmth!r} °C, "
            f"covering: {{resistance: {room.resistance!r} m²·K/W}}{stated}}}"
        )
    flows = "by drop" if house.by_drop else "by room"
    text.append(
        f"plant: {{supply: {supply!r} °C, drop: {house.drop!r} K, fluid: {{kind: water}}, "
        f"flows: {flows}}}"
    )
    return house, "\n".join(text)


@cache
def judged() -> list[tuple[House, DesignReport]]:
    """Each house with its report, all judged together."""
    houses, texts = zip(*map(invented, SEEDS), strict=True)
    return [*zip(houses, reports(texts), strict=True)]


@pytest.mark.parametrize("seed", SEEDS)
def test_every_value_is_that_of_the_plain_solver(seed: int) -> None:
    house, found = judged()[seed]
    solved = Solved(house)
    heated = {p.room for loop in house.loops.values() for p in loop.parts if not p.feed}
    for section, names, of in (
        ("loops", [*house.loops], solved.loop),
        ("rooms", [*heated], solved.room),
    ):
        for name in names:
            for quantity, expected in of(name).items():
                ours = computed(found, f"{section}.{name}", quantity)
                assert ours == pytest.approx(expected, rel=AGREES, abs=1e-6, nan_ok=True), (
                    name,
                    quantity,
                )
