"""Invented designs and revisions of them of which it is known what was done.

Shares nothing with `checker.revisions`: each record carries a number of its own from revision to
revision, whatever it is called.
"""

from __future__ import annotations

import copy
import random
from typing import Any, NamedTuple

USES = (
    "living",
    "bedroom",
    "bedroom",
    "bedroom",
    "kitchen",
    "office",
    "hall",
    "bathroom",
    "utility",
)
EDITS = (
    "inserted", "renumbered", "swapped", "split", "left out", "renamed", "moved", "merged",
    "shortened", "respaced", "rooms renamed", "loads", "headers renamed", "renumbered", "left out",
)  # fmt: skip


class Job(NamedTuple):
    """A design: records by their own numbers, each with its `id`; loops name others by number."""

    rooms: dict[int, dict[str, Any]]
    headers: dict[int, dict[str, Any]]
    loops: dict[int, dict[str, Any]]


class Truth(NamedTuple):
    """What became of each loop: its new self, or the parts that it was split to or merged from."""

    same: dict[str, str]
    joined: list[tuple[tuple[str, ...], tuple[str, ...]]]
    edits: tuple[str, ...]


def job(chance: random.Random) -> Job:
    """Some rooms of a house or flat, many alike, with one to three loops each."""
    floors = chance.choice((1, 1, 2))
    headers = {n: {"id": f"H{n + 1}"} for n in range(chance.choice((1, 2, 2, 3)))}
    made = Job({}, headers, {})
    bedroom = (chance.choice((11.5, 12.0, 13.2)), chance.choice((600, 720)))
    for number in range(chance.randrange(3, 10)):
        use = chance.choice(USES)
        area = round(chance.uniform(6, 34), 1)
        load = chance.randrange(30, 190) * 10
        if use == "bedroom" and chance.random() < 0.6:
            area, load = bedroom
        name = f"{use} {number + 1}"
        made.rooms[number] = {
            "id": name, "use": use, "temperature": 24 if use == "bathroom" else 20,
            "area": area, "heat_load": load, "covering": chance.choice(("tile", "timber")),
            "floor": chance.randrange(floors),
        }  # fmt: skip
        header = chance.choice([*headers])
        several = 1 if area < 14 else 2 if area < 24 else 3
        for _ in range(several):
            loop = _loop(chance, number, round(0.9 * area / several, 1), header)
            made.loops[len(made.loops)] = loop
    _number(made, chance.choice(("L{n}", "{header}.{port}", "HK {n}")))
    return made


def _loop(chance: random.Random, room: int, area: float, header: int) -> dict[str, Any]:
    spacing = chance.choice((100, 150, 150, 200))
    feeds = round(chance.uniform(2, 18), chance.choice((0, 1)))
    length = round(
        area * 1000 / spacing * chance.choice((1, 1, 1, 1.5)) + feeds, chance.choice((0, 1))
    )
    return {"room": room, "header": header, "area": area, "spacing": spacing, "feeds": feeds,
            "length": length}  # fmt: skip


def _number(made: Job, scheme: str) -> None:
    ports: dict[int, int] = {}
    for n, loop in enumerate(made.loops.values(), 1):
        loop["port"] = ports[loop["header"]] = ports.get(loop["header"], 0) + 1
        header = made.headers[loop["header"]]["id"]
        loop["id"] = scheme.format(n=n, header=header, port=loop["port"])


def _free_port(made: Job, header: int) -> int:
    used = {loop["port"] for loop in made.loops.values() if loop["header"] == header}
    return next(port for port in range(1, 99) if port not in used)


def _free_id(made: Job, base: str) -> str:
    used = {loop["id"] for loop in made.loops.values()}
    return next(name for n in range(1, 99) if (name := f"{base}{n}") not in used)


def revised(before: Job, chance: random.Random, edits: int = 0) -> tuple[Job, Truth]:
    """The next revision, with one to three things done to it, and what became of each loop."""
    after = Job(*(copy.deepcopy(part) for part in before))
    joined: list[tuple[tuple[int, ...], tuple[int, ...]]] = []
    touched: set[int] = set()
    done = []
    for _ in range(edits or chance.choice((1, 1, 2, 3))):
        edit = chance.choice(EDITS)
        loops = [n for n in after.loops if n not in touched]
        if not loops:
            break
        one = chance.choice(loops)
        own = after.loops[one]
        fresh = max(*before.loops, *after.loops) + 1
        if edit == "inserted":
            if chance.random() < 0.5:
                room = max(after.rooms) + 1
                after.rooms[room] = {**after.rooms[own["room"]], "id": f"new {room}",
                                     "area": round(chance.uniform(5, 30), 1), "heat_load": 910}  # fmt: skip
            else:
                room = own["room"]
            made = _loop(chance, room, round(chance.uniform(4, 14), 1), own["header"])
            made.update(port=_free_port(after, own["header"]), id=_free_id(after, "N"))
            place = chance.randrange(len(after.loops) + 1)
            items = [*after.loops.items()]
            items.insert(place, (fresh, made))
            after.loops.clear()
            after.loops.update(items)
            touched.add(fresh)
        elif edit in ("renumbered", "renamed"):
            _number(after, chance.choice(("L{n}", "{header}.{port}", "loop {n}", "{n}")))
        elif edit == "swapped" and len(loops) > 1:
            other = chance.choice([n for n in loops if n != one])
            keys = ("id",) if chance.random() < 0.5 else ("id", "port", "header")
            for key in keys:
                own[key], after.loops[other][key] = after.loops[other][key], own[key]
        elif edit == "split" and own["area"] > 8:
            part = round(own["area"] * chance.choice((0.5, 0.5, 0.4)), 1)
            rest = round(own["area"] - part, 1)
            feeds = own["feeds"]
            several = []
            for number, area in ((fresh, part), (fresh + 1, rest)):
                length = round(area * 1000 / own["spacing"] + feeds, 1)
                after.loops[number] = {**own, "area": area, "length": length}
                several.append(number)
            after.loops[fresh]["id"] = (
                _free_id(after, own["id"]) if chance.random() < 0.5 else own["id"]
            )
            after.loops[fresh + 1]["id"] = _free_id(after, f"{own['id']}x")
            after.loops[fresh + 1]["port"] = _free_port(after, own["header"])
            del after.loops[one]
            joined.append(((one,), tuple(several)))
            touched.update(several)
        elif edit == "merged":
            others = [n for n in loops if n != one and after.loops[n]["room"] == own["room"]]
            if others and one in before.loops and others[0] in before.loops:
                other = others[0]
                area = round(own["area"] + after.loops[other]["area"], 1)
                length = round(own["length"] + after.loops[other]["length"] - 5, 1)
                after.loops[fresh] = {**own, "area": area, "length": length}
                del after.loops[one], after.loops[other]
                joined.append(((one, other), (fresh,)))
                touched.add(fresh)
        elif edit == "left out" and len(after.loops) > 2:
            del after.loops[one]
            if chance.random() < 0.5:
                _number(after, "L{n}")
        elif edit == "moved" and len(after.headers) > 1:
            own["header"] = chance.choice([h for h in after.headers if h != own["header"]])
            own["port"] = _free_port(after, own["header"])
        elif edit == "shortened":
            own["length"] = round(own["length"] * chance.choice((0.75, 0.9, 1.1)), 1)
        elif edit == "respaced":
            own["spacing"] = 100 if own["spacing"] != 100 else 150
            own["length"] = round(own["area"] * 1000 / own["spacing"] + own["feeds"], 1)
        elif edit == "rooms renamed":
            for n, record in after.rooms.items():
                record["id"] = f"R{n + 1:02}"
        elif edit == "loads":
            for record in after.rooms.values():
                record["heat_load"] = round(record["heat_load"] * 1.07)
        elif edit == "headers renamed":
            for n, header in after.headers.items():
                header["id"] = (
                    f"V{n + 1}" if chance.random() < 0.5 else f"H{len(after.headers) - n}"
                )
            if len({h["id"] for h in after.headers.values()}) < len(after.headers):
                for n, record in after.headers.items():
                    record["id"] = f"V{n + 1}"
        else:
            continue
        done.append(edit)
    inside = {n for some, _ in joined for n in some}
    same = {loop["id"]: after.loops[n]["id"] for n, loop in before.loops.items()
            if n in after.loops and n not in inside}  # fmt: skip
    told = [
        (tuple(before.loops[n]["id"] for n in was), tuple(after.loops[n]["id"] for n in now))
        for was, now in joined
        if all(n in after.loops for n in now)
    ]
    return after, Truth(same, told, tuple(done))


def written(made: Job, revision: str = "A", name: str = "Invented Job") -> str:
    """The design as YAML."""
    rooms = [
        f"  {r['id']}: {{use: {r['use']}, temperature: {r['temperature']} °C, area: {r['area']} m², "
        f"heat_load: {r['heat_load']} W, covering: {{material: {r['covering']}, "
        f"resistance: {0.02 if r['covering'] == 'tile' else 0.08} m²·K/W}}}}"
        for r in made.rooms.values()
    ]
    floors = sorted({r["floor"] for r in made.rooms.values()})
    lines = [
        "design: 1",
        f"project: {{name: {name}, revision: {revision}, designed_on: 2026-03-12, region: GB-ENG}}",
        "plant: {source: heat pump, supply: 40 °C, drop: 5 K, fluid: {kind: water}}",
        "pipes: {p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}}",
        "floors:",
        *(f"  F{n}: {{construction: wet, screed: {{material: cement, cover: 45 mm, conductivity: "
          f"1.2 W/(m·K)}}, insulation: {2.5 + n} m²·K/W, below: heated}}" for n in floors),
        "rooms:", *rooms,
        "headers:", *(f"  {h['id']}: {{ports: 12, bore: 25 mm}}" for h in made.headers.values()),
        "loops:",
    ]  # fmt: skip
    for loop in made.loops.values():
        room = made.rooms[loop["room"]]
        lines.append(
            f"  '{loop['id']}': {{header: {made.headers[loop['header']]['id']}, port: {loop['port']}, "
            f"room: {room['id']}, floor: F{room['floor']}, pipe: p16, pattern: counterflow, "
            f"zone: occupied, spacing: {loop['spacing']} mm, area: {loop['area']} m², "
            f"length: {loop['length']} m, feeds: {loop['feeds']} m}}"
        )
    return "\n".join(lines) + "\n"


def exact(loop: dict[str, Any]) -> tuple[Any, ...]:
    """What a loop is but for its id and port."""
    return tuple(sorted((k, v) for k, v in loop.items() if k not in ("id", "port")))
