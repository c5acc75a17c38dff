"""The papers and readings of an invented job, as its owner would keep them: text, made from truth."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from tests.audit.independent import vessel
from tests.audit.independent.floor import Section, star
from tests.audit.independent.house import Array, House, Loop, Seen, balanced, live

if TYPE_CHECKING:
    from tests.audit.independent.kinds import Kind

NAMES = ("study", "lounge", "dining", "office", "gallery", "snug", "nursery", "den")


@dataclass(frozen=True)
class Building:
    """What buildings differ in: areas in m², loads in W/m², mm, m²·K/W, K and °C as drawn."""

    rooms: int = 5
    area: tuple[float, float] = (8.5, 13)
    load: tuple[float, float] = (33, 46)
    timber: float = 0.35
    spacing: int = 150
    cover: int = 45
    insulation: float = 2.5
    pipe: tuple[int, int] = (16, 2)
    drop: float = 6.0
    outside: float = -4.0
    source: str = "heat pump"


@dataclass(frozen=True)
class Instruments:
    """Standard deviations, K or a share, of a whole visit's error and of scatter; and the readings'
    steps, l/min and K; and what they are declared to be good to, %, K, K."""

    warm: float = 0.15
    scale: float = 0.03
    infrared: float = 0.4
    flow_scatter: float = 0.03
    scatter: float = 0.1
    flow_step: float = 0.05
    step: float = 0.1
    declared: tuple[float, float, float] = (8, 0.4, 1)


USUAL, GOOD = Building(), Instruments()


@dataclass
class Paper:
    """What a designer drew: whole numbers of mm, m², W."""

    building: Building
    rooms: list[dict[str, Any]]
    values: dict[str, Any] = field(default_factory=dict)
    pump: tuple[float, float] = (40.0, 0.1)
    supply: float = 40.0


@dataclass
class Visit:
    """What was read on one day; arrays are of shape (loops,)."""

    on: date
    outside: float
    flow: Array
    supply: Array
    back: Array
    room: Array
    surface: Array
    hottest: Array
    loss: Array
    header: tuple[float, float]
    asked: Array
    shown: Array


@dataclass(frozen=True)
class Made:
    """One job: its files, and the true causes."""

    name: str
    kind: Kind
    complaint: str
    subject: str
    files: dict[str, str]


def drawn(building: Building, chance: np.random.Generator) -> Paper:
    """A sound design of rooms with a loop each."""
    rooms = []
    for name in NAMES[: building.rooms]:
        area = round(float(chance.uniform(*building.area)), 1)
        timber = bool(chance.random() < building.timber)
        rooms.append(
            {
                "name": name,
                "area": area,
                "load": round(area * float(chance.uniform(*building.load))),
                "covering": "timber" if timber else "tile",
                "resistance": 0.05 if timber else 0.02,
                "joints": 0,
            }
        )
    values = {
        "spacing": building.spacing,
        "cover": building.cover,
        "insulation": building.insulation,
    }
    return Paper(building, rooms, values)


def true_house(paper: Paper) -> House:
    """The house as a good fitter would have built and set it."""
    loops, asked = [], []
    warmest = 0.0
    outside, wall = (size / 1e3 for size in paper.building.pipe)
    drop = paper.building.drop
    for room in paper.rooms:
        section = Section(
            paper.values["spacing"] / 1e3, paper.values["cover"] / 1e3, 1.2, room["resistance"],
            paper.values["insulation"], outside, wall, 0.35,
        )  # fmt: skip
        to_water, to_room, to_ground = star(section)
        flux = room["load"] / room["area"]
        slab = 20 + flux / to_room
        carried = flux + to_ground * (slab - 10)
        warmest = max(warmest, slab + carried / to_water + drop / 2)
        length = room["area"] / section.spacing + 8
        loops.append(Loop(room["name"], section, room["area"], length, room["load"], 20.0, 3000.0))
        asked.append(carried * room["area"] / 4180 / drop * 60)
    paper.supply = round(warmest + 0.5, 1)
    total = float(np.sum(asked))
    head = 42e3
    paper.pump = (42.0, 12e3 / total**2 / 1e3)
    house = House(loops, paper.building.outside, paper.supply, head, 12e3 / total**2)
    return balanced(house, np.array(asked))


def make(kind: Kind, seed: int) -> Made:
    """One job of this kind; the same for the same seed."""
    chance = np.random.default_rng([seed, sum(map(ord, kind.name))])
    paper = drawn(kind.building, chance)
    house = kind.truth(true_house(paper), chance)
    kind.paper(paper, chance)
    number = 1 if chance.random() < 0.3 else 2
    visits, truly = [], []
    start = date(2025, 1, 10)
    for place in range(number):
        coldest = kind.building.outside
        outside = float(chance.uniform(coldest + 0.5, coldest + 7.0))
        seen = live(house, outside, chance)
        truly.append(seen.room)
        visits.append(_read(seen, start + timedelta(days=16 * place), kind.instruments, chance))
    # Of a stream of its own, so that the jobs that do not read these are as they were.
    beside = np.random.default_rng([seed, sum(map(ord, kind.name)), 1])
    displays = np.random.default_rng([seed, sum(map(ord, kind.name)), 2])
    for visit, felt in zip(visits, truly, strict=True):
        visit.header = _at_header(visit, beside)
        visit.asked = np.array([loop.asked for loop in house.loops])
        off = np.array([loop.sensor for loop in house.loops])
        visit.shown = felt + off + displays.normal(0, 0.25, len(off))
    for visit in visits:
        kind.reading(visit, chance)
    files = {
        "installed.yaml": _design(paper, kind),
        "site.readings.yaml": _readings(visits, kind, house, chance),
    }
    coldest = paper.rooms[int(np.argmin(visits[-1].room))]["name"]
    # Who is cold calls; a loop or a drive that was exchanged makes another room cold than its own.
    about = {
        "cold-room": f"rooms.{coldest if kind.elsewhere else 'study'}",
        "slow-room": "rooms.study",
        "high-bills": "",
    }
    subject = about.get(kind.complaint, "headers.H1")
    if kind.complaint in ("hot-floor", "uneven-floor"):
        subject = "rooms.study"
    return Made(f"{kind.name} {seed}", kind, kind.complaint, subject, files)


def _read(seen: Seen, on: date, by: Instruments, chance: np.random.Generator) -> Visit:
    """Each instrument has an error of its own for the whole visit, and scatters besides."""
    count = len(seen.flow)
    warm, scale = chance.normal(0, by.warm), 1 + chance.normal(0, by.scale)
    infrared = chance.normal(0, by.infrared)

    def read(values: Array, off: float, scatter: float, step: float) -> Array:
        shown = values + off + chance.normal(0, scatter, count)
        return np.asarray(np.round(shown / step) * step)

    flow = seen.flow * scale * (1 + chance.normal(0, by.flow_scatter, count))
    flow = np.round(flow / by.flow_step) * by.flow_step
    return Visit(
        on,
        round(seen.outside + float(chance.normal(0, 0.3)), 1),
        flow,
        read(seen.supply, warm, by.scatter, by.step),
        read(seen.back, warm, by.scatter, by.step),
        read(seen.room, warm, by.scatter, by.step),
        read(seen.surface, infrared, 0.2, 0.1),
        read(seen.surface + 1.2, infrared, 0.2, 0.1),
        read(seen.loss / 1e3, 0.0, 0.2, 0.1),
        (0.0, 0.0),
        np.zeros(count),
        np.zeros(count),
    )


def _at_header(visit: Visit, chance: np.random.Generator) -> tuple[float, float]:
    """Supply and return by the header's own thermometers, each with an error of its own."""
    flow = np.maximum(visit.flow, 1e-6)
    mixed = float(np.sum(flow * visit.back) / np.sum(flow))
    both = (float(np.mean(visit.supply)), mixed)
    supply, back = (round(one + float(chance.normal(0, 0.35)), 1) for one in both)
    return supply, back


def _design(paper: Paper, kind: Kind) -> str:
    values, (head, steep) = paper.values, paper.pump
    building = paper.building
    outside, wall = building.pipe
    end = (head / steep) ** 0.5
    points = [(end * n / 8, head * (1 - (n / 8) ** 2)) for n in range(9)]
    curve = ", ".join(f"[{q:.2f} l/min, {p:.1f} kPa]" for q, p in points)
    lines = [
        "# An invented job.",
        "design: 1",
        "project: {name: Invented, stage: installed, designed_on: 2019-05-02, region: GB-ENG, designer: Invented, contractor: Invented}",
        "codes: [EN-1264]",
        f"plant: {{source: {building.source}, supply: {paper.supply} °C, drop: {building.drop:g} K, fluid: {{kind: water}}, outside: {building.outside:g} °C, flows: by drop}}",
        f"pipes: {{p16: {{material: PE-RT, outside: {outside} mm, wall: {wall} mm, max_length: 120 m, oxygen_barrier: true, service_class: 4}}}}",
        f"floors: {{slab: {{construction: wet, screed: {{material: cement, cover: {values['cover']} mm, conductivity: 1.2 W/(m·K), field_area: 30 m², field_length: 6 m, laid_on: 2019-07-01}}, insulation: {values['insulation']} m²·K/W, below: ground, below_temperature: 10 °C, edge_strip: 10 mm}}}}",
        "rooms:",
    ]
    for room in paper.rooms:
        lines.append(
            f"  {room['name']}: {{use: living, temperature: 20 °C, area: {room['area']} m², heat_load: {room['load']} W, covering: {{material: {room['covering']}, resistance: {room['resistance']} m²·K/W}}}}"
        )
    lines.append(
        f"headers: {{H1: {{ports: {max(6, len(paper.rooms))}, bore: 32 mm, height: 0.5 m, isolation_valves: true, flow_setters: {{least: 0.3 l/min, most: 5 l/min}}, own_loss: 3 kPa, pump: {{curve: [{curve}]}}}}}}"
    )
    lines.append("loops:")
    for number, room in enumerate(paper.rooms, 1):
        length = room["area"] / values["spacing"] * 1e3 + 8
        lines.append(
            f"  L{number}: {{header: H1, port: {number}, room: {room['name']}, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, spacing: {values['spacing']} mm, area: {room['area']} m², length: {length:.1f} m, feeds: 8 m, joints: {room['joints']}, sleeved: true}}"
        )
    lines.append(
        "pressure_tests: {first: {header: H1, medium: water, pressure: 6 bar, hold: 60 min, tested_on: 2019-06-20, kept_during_screed: true, operating_pressure: 1.5 bar}}"
    )
    lines.append("heat_up: {started_on: 2019-08-05, steps: [{supply: 25 °C, hold: 3 day}, {supply: 40 °C, hold: 4 day}]}")  # fmt: skip
    return "\n".join(lines) + "\n"


def _readings(visits: list[Visit], kind: Kind, house: House, chance: np.random.Generator) -> str:
    lines = [
        "# Invented readings.",
        "readings: 1",
        "events: {handed_over: 2019-11-01, complaint: 2025-01-05}",
        "accuracy: {{flow: {:g} %, temperature: {:g} K, surface: {:g} K}}".format(
            *kind.instruments.declared
        ),
        "visits:",
    ]
    if kind.gauge:
        content = sum(
            loop.length * np.pi / 4 * (loop.section.outside - 2 * loop.section.wall) ** 2
            for loop in house.loops
        )
        for on, at, bar, celsius in vessel.gauge(kind.gauge, content, chance):
            lines.append(f"- on: {on}")
            if at:
                lines.append(f'  at: "{at}"')
            lines.append(
                f"  headers: {{H1: {{pressure: {bar:.2f} bar, temperature: {celsius:.1f} °C}}}}"
            )
        return "\n".join(lines) + "\n"
    for visit in visits:
        lines.append(f"- on: {visit.on}\n  outside: {visit.outside} °C")
        at_header = []
        if "refractometer" in kind.reads:
            at_header.append(f"glycol: {100 * house.glycol:.0f} %")
        if "header" in kind.reads:
            supply, back = visit.header
            at_header += [f"supply: {supply:.1f} °C", f"return: {back:.1f} °C"]
        if at_header:
            lines.append(f"  headers: {{H1: {{{', '.join(at_header)}}}}}")
        lines.append("  rooms:")
        each = zip(house.loops, visit.room, visit.asked, visit.shown, strict=True)
        for loop, room, asked, display in each:
            shown = f", set: {asked:.1f} °C" if "set" in kind.reads else ""
            shown += f", shown: {display:.1f} °C" if "shown" in kind.reads else ""
            lines.append(f"    {loop.room}: {{temperature: {room:.1f} °C{shown}}}")
        lines.append("  loops:")
        for number in range(len(house.loops)):
            parts = [
                f"flow: {visit.flow[number]:.2f} l/min",
                f"supply: {visit.supply[number]:.1f} °C",
                f"return: {visit.back[number]:.1f} °C",
            ]
            if "surface" in kind.reads or "surface_max" in kind.reads:
                parts.append(f"surface: {visit.surface[number]:.1f} °C")
            if "surface_max" in kind.reads:
                parts.append(f"surface_max: {visit.hottest[number]:.1f} °C")
            if "purge" in kind.reads and number == 0:
                parts.append(f"flow_purged: {visit.flow[0] if kind.causes != ('air-in-loop',) else float(np.median(visit.flow[1:])):.2f} l/min")  # fmt: skip
            if "heads" in kind.reads and number == 0:
                parts.append(f"flow_other_head: {visit.flow[0] if kind.causes != ('controls',) else float(np.median(visit.flow[1:])):.2f} l/min")  # fmt: skip
            if "pressure_drop" in kind.reads and number == 0 and visit.flow[0] > 0:
                parts.append(f"pressure_drop: {visit.loss[0]:.1f} kPa")
            lines.append(f"    L{number + 1}: {{{', '.join(parts)}}}")
    return "\n".join(lines) + "\n"
