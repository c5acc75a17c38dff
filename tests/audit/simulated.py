"""An invented archive: jobs with a planted trouble, what was read there, and what is on paper.

A house is drawn up soundly, the trouble is planted in the house itself, and readings are what the
model gives for the house as it truly is, with the instruments' errors. Whether papers or readings
show the trouble is left to chance, as is what else is wrong on paper and what nobody wrote down.
The same seed makes the same job, byte for byte. `python -m tests.audit.simulated FOLDER 2000`
writes an archive.
"""

from __future__ import annotations

import copy
import random
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from checker.physics import balance, floor, floor_coefficient, floor_surface, fluid

DESIGNERS = (
    "Invented Design North",
    "Invented Design South",
    "Invented Heat Office",
    "Made-up Plans",
)
CONTRACTORS = ("Invented Floors One", "Invented Floors Two", "Made-up Screeds", "Invented Pipework")
PIPES = (("PE-RT", 16), ("PE-Xa", 17), ("PE-Xc", 16), ("multilayer", 16))
COVERINGS = (
    ("tile", 0.01, 0.03),
    ("stone", 0.01, 0.025),
    ("timber", 0.05, 0.09),
    ("resilient", 0.01, 0.03),
)
USES = ("living", "kitchen", "bedroom", "office", "hall", "bathroom")
DROP = 6.0  # K


@dataclass
class House:
    """A house on paper and in truth. Lengths in m, spacing and cover in mm, flows in l/min."""

    chance: random.Random
    paper: dict[str, Any]
    truth: dict[str, Any]
    visit: dict[str, Any] = field(default_factory=dict)
    room: str = ""

    @property
    def loop(self) -> str:
        """The loop of the room that is complained of."""
        loops: dict[str, Any] = self.paper["loops"]
        return next(name for name, loop in loops.items() if loop["room"] == self.room)

    def likely(self, share: float) -> bool:
        """Whether something happens that happens in this share of cases."""
        return self.chance.random() < share


@dataclass(frozen=True)
class Simulated:
    """One job: its files by name, what is complained of, and what was planted."""

    name: str
    complaint: str
    subject: str
    cause: str
    files: dict[str, str]


# ---- a sound house


def _house(chance: random.Random) -> House:
    material, outside = chance.choice(PIPES)
    count = chance.randrange(4, 8)
    rooms: dict[str, Any] = {}
    loops: dict[str, Any] = {}
    for number in range(count):
        use = chance.choice(USES)
        covering, least, most = COVERINGS[0] if use == "bathroom" else chance.choice(COVERINGS)
        spacing = 100 if use == "bathroom" else 150
        area = round(chance.uniform(5.5, 7.5) if use == "bathroom" else chance.uniform(8, 12), 1)
        name = f"{use} {number + 1}"
        rooms[name] = {
            "use": use,
            "temperature": 24 if use == "bathroom" else 20,
            "area": round(area * 1.1, 1),
            "load": round(area * chance.uniform(35, 50)),
            "covering": covering,
            "resistance": round(chance.uniform(least, most), 3),
        }
        feeds = round(chance.uniform(3, 12), 1)
        loops[f"L{number + 1}"] = {
            "room": name,
            "spacing": spacing,
            "area": area,
            "length": round(area / spacing * 1000 + feeds, 1),
            "feeds": feeds,
            "pattern": "counterflow",
            "joints": 0,
            "sleeved": True,
        }
    day = date(chance.randrange(2012, 2026), chance.randrange(1, 13), chance.randrange(1, 29))
    paper: dict[str, Any] = {
        "day": day,
        "designer": chance.choice(DESIGNERS),
        "contractor": chance.choice(CONTRACTORS),
        "source": chance.choice(("heat pump", "boiler")),
        "primary": 60.0,
        "outside": float(chance.choice((-3, -5, -8))),
        "pipe": {"material": material, "outside": outside, "barrier": True, "bend": 5 * outside},
        "cover": 45,
        "insulation": 3.0,
        "edge": 10,
        "field_area": 30.0,
        "field_length": 6.0,
        "heat_up": [(25, 3), (None, 4)],
        "heat_up_after": 35,
        "rooms": rooms,
        "loops": loops,
        "valves": True,
        "header_bore": 32,
        "pump": [(0, 40), (2.5 * count, 28), (5 * count, 6)],
        "test": {"pressure": 5.0, "hold": 30, "medium": "water", "kept": True, "end": 4.98},
        "balance": chance.random() < 0.6,
    }
    house = House(chance, paper, {}, room=chance.choice([*rooms]))
    needed = max(_needed(house, name, 1.0) for name in loops)
    paper["supply"] = round(needed + chance.uniform(1, 2.5), 1)
    return house


def _coefficient(paper: dict[str, Any], name: str, resistance: float) -> float:
    loop, pipe = paper["loops"][name], paper["pipe"]
    material = pipe["material"]
    conductivity = 0.4 if material == "multilayer" else 0.35
    return float(
        floor_coefficient.heat_coefficient(
            loop["spacing"] / 1000,
            paper["cover"] / 1000,
            1.2,
            resistance,
            pipe["outside"] / 1000,
            0.002,
            conductivity,
        )
    )


def _flux(paper: dict[str, Any], name: str) -> float:
    room = paper["loops"][name]["room"]
    area = sum(loop["area"] for loop in paper["loops"].values() if loop["room"] == room)
    return float(paper["rooms"][room]["load"] / area)


def _needed(house: House, name: str, share: float) -> float:
    paper = house.paper
    room = paper["rooms"][paper["loops"][name]["room"]]
    coefficient = _coefficient(paper, name, room["resistance"])
    flux = _flux(paper, name) * share
    return float(floor.needed_supply(room["temperature"], DROP * share, coefficient, flux))


def _design_flow(paper: dict[str, Any], name: str) -> float:
    """l/min"""
    loop = paper["loops"][name]
    room = paper["rooms"][loop["room"]]
    flux = _flux(paper, name)
    up = floor.upward_resistance(room["resistance"], paper["cover"] / 1000, 1.2)
    down = floor.down_loss(flux, room["temperature"], up, paper["insulation"], 10.0)
    return float(loop["area"] * (flux + down) / (4180.0 * DROP) / 993 * 6e4)


# ---- planted troubles: each changes the truth, and by chance what papers show


def _covering(house: House) -> None:
    thick = round(house.chance.uniform(0.11, 0.15), 3)
    house.truth["resistance"] = {house.room: thick}
    if house.likely(0.4):
        house.paper["rooms"][house.room].update(
            covering="carpet", resistance=round(thick + 0.02, 3)
        )


def _starved(house: House) -> None:
    house.truth["flow"] = {house.loop: house.chance.uniform(0.3, 0.6)}
    house.visit["balance_shows"] = house.likely(0.6)


def _too_long(house: House) -> None:
    loop = house.paper["loops"][house.loop]
    longer = round(max(loop["length"] * house.chance.uniform(1.35, 1.7), 112.0), 1)
    house.truth["length"] = {house.loop: longer}
    house.truth["flow"] = {house.loop: house.chance.uniform(0.6, 0.8)}
    if house.likely(0.7):
        loop["length"] = longer
    house.visit["pressure_loss"] = house.likely(0.5)


def _pump_weak(house: House) -> None:
    short = house.chance.uniform(0.45, 0.65)
    house.truth["flow"] = dict.fromkeys(house.paper["loops"], short)
    if house.likely(0.6):
        house.paper["pump"] = [(flow, head * 0.35) for flow, head in house.paper["pump"]]
    house.visit["balance_shows"] = house.likely(0.3)


def _supply_cool(house: House) -> None:
    # The room that needs the warmest water is the one that goes short.
    loops = house.paper["loops"]
    house.room = loops[max(loops, key=lambda name: _needed(house, name, 1.0))]["room"]
    house.truth["supply"] = -house.chance.uniform(4, 8)
    if house.likely(0.4):
        house.paper["supply"] = round(house.paper["supply"] - house.chance.uniform(3, 6), 1)


def _load(house: House) -> None:
    room = house.paper["rooms"][house.room]
    room["load"] = round(room["load"] * house.chance.uniform(1.35, 1.8))


def _insulation(house: House) -> None:
    house.truth["insulation"] = house.chance.uniform(0.3, 0.6)
    if house.likely(0.5):
        house.paper["insulation"] = round(house.chance.uniform(0.5, 0.8), 2)


def _thick_screed(house: House) -> None:
    house.paper["cover"] = house.chance.randrange(85, 120)


def _supply_hot(house: House) -> None:
    house.truth["supply"] = house.chance.uniform(8, 15)
    if house.likely(0.4):
        house.paper["supply"] = 58.0
    elif house.likely(0.4):
        house.paper["primary"] = None


def _surface(house: House) -> None:
    room = house.paper["rooms"][house.room]
    room["load"] = round(room["load"] * 1.1)
    house.paper["loops"][house.loop].update(supply=52.0, spacing=100)
    loop = house.paper["loops"][house.loop]
    loop["length"] = round(loop["area"] * 10 + loop["feeds"], 1)
    loop["flow"] = 2.6
    room.update(covering="stone", resistance=0.01)


def _much_water(house: House) -> None:
    house.truth["flow"] = {house.loop: house.chance.uniform(1.9, 2.8)}
    house.visit["balance_shows"] = house.likely(0.6)


def _wide(house: House) -> None:
    loop = house.paper["loops"][house.loop]
    loop["spacing"] = house.chance.choice((330, 360, 400))
    loop["length"] = round(loop["area"] / loop["spacing"] * 1000 + loop["feeds"], 1)


def _one_sided(house: House) -> None:
    house.paper["loops"][house.loop]["pattern"] = "serpentine"
    house.truth["flow"] = {house.loop: house.chance.uniform(0.7, 0.9)}


def _fast(house: House) -> None:
    # At 0.7 to 0.9 m/s; a litre a minute through 12 mm is 0.147 m/s.
    bore = house.paper["pipe"]["outside"] - 4
    stated = house.likely(0.5)
    for name, loop in house.paper["loops"].items():
        fast = house.chance.uniform(0.7, 0.9) / 0.147 * (bore / 12) ** 2
        house.truth.setdefault("flow", {})[name] = fast / _design_flow(house.paper, name)
        if stated:
            loop["flow"] = round(fast * 1.3, 2)
    house.visit["balance_shows"] = house.likely(0.4)


def _air(house: House) -> None:
    house.paper["loops"][house.loop]["flow"] = round(house.chance.uniform(0.35, 0.6), 2)
    house.truth["flow"] = {house.loop: house.chance.uniform(0.3, 0.7)}
    house.paper["valves"] = house.likely(0.5)


def _pump_strong(house: House) -> None:
    house.paper["pump"] = [(flow, head * 2.2) for flow, head in house.paper["pump"]]


def _leak(house: House) -> None:
    house.truth["gauge"] = house.chance.uniform(0.4, 0.9)
    if house.likely(0.5):
        house.paper["test"]["end"] = round(5.0 - house.chance.uniform(0.3, 0.8), 2)
    else:
        house.paper["test"].update(
            hold=house.chance.choice((5, 10)), pressure=2.5, end=2.49, kept=False
        )


def _joint(house: House) -> None:
    house.truth["gauge"] = house.chance.uniform(0.4, 0.9)
    house.paper["loops"][house.loop]["joints"] = house.chance.choice((1, 2))


def _outside(house: House) -> None:
    house.truth["gauge"] = house.chance.uniform(0.0, 0.05)


def _rushed(house: House) -> None:
    house.paper["heat_up_after"] = house.chance.randrange(7, 16)
    if house.likely(0.5):
        house.paper["heat_up"] = [(None, 2)]


def _field(house: House) -> None:
    house.paper["field_area"] = round(house.chance.uniform(48, 80), 1)
    house.paper["field_length"] = round(house.chance.uniform(9, 14), 1)


def _edge(house: House) -> None:
    house.paper["edge"] = house.chance.choice((0, 3))


def _thin_screed(house: House) -> None:
    house.paper["cover"] = house.chance.randrange(18, 27)


def _hot_covering(house: House) -> None:
    room = house.paper["rooms"][house.room]
    room.update(covering="timber", resistance=0.05, temperature=22)
    house.paper["loops"][house.loop].update(supply=52.0, flow=2.4)


def _mixing(house: House) -> None:
    if house.likely(0.5):
        house.paper["primary"] = round(house.paper["supply"] - house.chance.uniform(2, 5), 1)
    else:
        house.paper["loops"][house.loop]["supply"] = round(house.paper["supply"] + 11, 1)


def _oxygen(house: House) -> None:
    house.paper["pipe"]["barrier"] = False


Plant = Callable[[House], None]

PLANTS: dict[str, dict[str, Plant]] = {
    "cold-room": {
        "covering-too-resistive": _covering,
        "loop-starved": _starved,
        "loop-too-long": _too_long,
        "pump-weak": _pump_weak,
        "supply-too-cool": _supply_cool,
        "load-beyond-floor": _load,
    },
    "slow-room": {
        "covering-too-resistive": _covering,
        "screed-too-thick": _thick_screed,
        "supply-too-cool": _supply_cool,
        "pump-weak": _pump_weak,
        "insulation-too-thin": _insulation,
    },
    "hot-floor": {
        "supply-too-hot": _supply_hot,
        "surface-too-hot": _surface,
        "too-much-water": _much_water,
    },
    "uneven-floor": {
        "loop-starved": _starved,
        "loop-too-long": _too_long,
        "pipes-far-apart": _wide,
        "pattern-one-sided": _one_sided,
    },
    "noise": {
        "water-too-fast": _fast,
        "air-in-loop": _air,
        "pump-too-strong": _pump_strong,
    },
    "pressure-falling": {
        "leak-in-loop": _leak,
        "buried-joint-leaks": _joint,
        "outside-the-floor": _outside,
    },
    "cracked-screed": {
        "first-heating-rushed": _rushed,
        "field-too-large": _field,
        "edge-held": _edge,
        "screed-too-thin": _thin_screed,
        "supply-too-hot": _supply_hot,
    },
    "damaged-covering": {
        "covering-overheated": _hot_covering,
        "first-heating-rushed": _rushed,
        "supply-too-hot": _supply_hot,
    },
    "mixing-trouble": {
        "pump-weak": _pump_weak,
        "mixing-wrong": _mixing,
        "oxygen-corrosion": _oxygen,
        "supply-too-cool": _supply_cool,
    },
    "high-bills": {
        "insulation-too-thin": _insulation,
        "supply-too-hot": _supply_hot,
        "covering-too-resistive": _covering,
    },
}  # fmt: skip
SUBJECTS = {
    "noise": "headers.H1",
    "pressure-falling": "headers.H1",
    "mixing-trouble": "headers.H1",
    "cracked-screed": "floors.slab",
    "high-bills": "",
}
"""What the complaint is about, where it is not a room."""


# ---- what else is wrong on paper: small faults and other people's


def _decoys(house: House) -> list[Plant]:
    others = [name for name, loop in house.paper["loops"].items() if loop["room"] != house.room]
    other = house.chance.choice(others)
    loop = house.paper["loops"][other]
    room = house.paper["rooms"][loop["room"]]

    def slightly_long(h: House) -> None:
        own = h.paper["loops"][h.loop]
        own["length"] = max(own["length"], round(h.chance.uniform(100.5, 104), 1))

    def slightly_short_of_heat(h: House) -> None:
        own = h.paper["rooms"][h.room]
        own["load"] = round(own["load"] * 1.08)

    return [
        lambda h: loop.update(length=round(loop["length"] * 1.5 + 25, 1)),
        lambda h: room.update(covering="carpet", resistance=0.18),
        lambda h: room.update(load=round(room["load"] * 1.5)),
        lambda h: h.paper["test"].update(pressure=2.5, end=2.49),
        lambda h: h.paper["test"].update(kept=False),
        lambda h: h.paper.update(heat_up_after=h.chance.randrange(17, 21)),
        lambda h: h.paper.update(edge=4),
        lambda h: h.paper.update(field_area=round(h.chance.uniform(40.5, 44), 1)),
        lambda h: h.paper.update(valves=False),
        lambda h: h.paper["pipe"].update(barrier=False),
        lambda h: h.paper.update(insulation=round(h.chance.uniform(1.1, 1.6), 2)),
        lambda h: h.paper["pipe"].update(bend=8 * h.paper["pipe"]["outside"]),
        slightly_long,
        slightly_short_of_heat,
    ]


# ---- files


def simulate(number: int, seed: int = 0) -> Simulated:
    """One job of the archive; the same for the same call."""
    chance = random.Random(f"{seed}/{number}")
    house = _house(chance)
    complaint = chance.choice([*PLANTS])
    cause = chance.choice([*PLANTS[complaint]])
    for decoy in chance.sample(_decoys(house), chance.randrange(0, 4)):
        decoy(house)
    as_drawn = copy.deepcopy(house.paper)
    PLANTS[complaint][cause](house)
    # What the pipes' layer did otherwise stands in the record only.
    drawn_too = cause not in ("loop-too-long", "buried-joint-leaks", "edge-held") or house.likely(
        0.3
    )
    drawn = house.paper if drawn_too else as_drawn
    name = f"Invented Close {number}"
    files = {"design.yaml": _design(house, drawn, name, "design")}
    if house.likely(0.85):
        files["installed.yaml"] = _design(house, house.paper, name, "installed")
    else:
        files["design.yaml"] = _design(house, house.paper, name, "design")
    files["site.readings.yaml"] = _readings(house)
    return Simulated(name, complaint, SUBJECTS.get(complaint, f"rooms.{house.room}"), cause, files)


def _flows(house: House) -> dict[str, float]:
    """l/min that truly pass."""
    factors = house.truth.get("flow", {})
    return {
        name: _design_flow(house.paper, name) * factors.get(name, house.chance.uniform(0.93, 1.07))
        if "flow" not in house.paper["loops"][name]
        else house.paper["loops"][name]["flow"]
        * (factors.get(name, 1.0) if factors.get(name, 1.0) < 1 else 1.0)
        for name in house.paper["loops"]
    }


def _design(house: House, paper: dict[str, Any], name: str, stage: str) -> str:
    day: date = paper["day"]
    pipe, test = paper["pipe"], paper["test"]
    screeded = day + timedelta(days=40)
    heated = screeded + timedelta(days=paper["heat_up_after"])
    primary = "" if paper["primary"] is None else f"primary_supply: {paper['primary']} °C, "
    if paper["primary"] is None:
        primary = "primary_supply: 75 °C, " if house.likely(0.5) else ""
    steps = ", ".join(
        f"{{supply: {at or paper['supply']} °C, hold: {hold} day}}" for at, hold in paper["heat_up"]
    )
    conductivity = "conductivity: 0.4 W/(m·K), " if pipe["material"] == "multilayer" else ""
    curve = ", ".join(f"[{flow:.1f} l/min, {head:.1f} kPa]" for flow, head in paper["pump"])
    lines = [
        "# An invented job.",
        "design: 1",
        f"project: {{name: {name}, stage: {stage}, designed_on: {day}, region: GB-ENG, designer: {paper['designer']}, contractor: {paper['contractor']}}}",
        f"plant: {{source: {paper['source']}, {primary}supply: {paper['supply']} °C, drop: {DROP:.0f} K, flows: by drop, fluid: {{kind: water}}, outside: {paper['outside']} °C}}",
        f"pipes: {{p: {{material: {pipe['material']}, outside: {pipe['outside']} mm, wall: 2 mm, {conductivity}max_length: 100 m, oxygen_barrier: {str(pipe['barrier']).lower()}, service_class: 4, bend_radius: {pipe['bend']} mm}}}}",
        f"floors: {{slab: {{construction: wet, screed: {{material: cement, cover: {paper['cover']} mm, conductivity: 1.2 W/(m·K), field_area: {paper['field_area']} m², field_length: {paper['field_length']} m, laid_on: {screeded}}}, insulation: {paper['insulation']} m²·K/W, below: ground, below_temperature: 10 °C, edge_strip: {paper['edge']} mm}}}}",
        "rooms:",
    ]
    for room, r in paper["rooms"].items():
        lines.append(
            f"  {room}: {{use: {r['use']}, temperature: {r['temperature']} °C, area: {r['area']} m², heat_load: {r['load']} W, covering: {{material: {r['covering']}, resistance: {r['resistance']} m²·K/W}}}}"
        )
    lines.append(
        f"headers: {{H1: {{ports: 8, bore: {paper['header_bore']} mm, height: 0.5 m, isolation_valves: {str(paper['valves']).lower()}, flow_setters: {{least: 0.3 l/min, most: 6 l/min}}, own_loss: 6 kPa, pump: {{curve: [{curve}]}}}}}}"
    )
    lines.append("loops:")
    for number, (loop, own) in enumerate(paper["loops"].items(), 1):
        extra = f", flow: {own['flow']} l/min" if "flow" in own else ""
        extra += f", supply: {own['supply']} °C" if "supply" in own else ""
        lines.append(
            f"  {loop}: {{header: H1, port: {number}, room: {own['room']}, floor: slab, pipe: p, pattern: {own['pattern']}, zone: occupied, spacing: {own['spacing']} mm, area: {own['area']} m², length: {own['length']} m, feeds: {own['feeds']} m, wall_gap: 100 mm, joints: {own['joints']}, sleeved: true{extra}}}"
        )
    # Some folders have lost a paper.
    if not house.likely(0.12):
        lines.append(
            f"pressure_tests: {{first: {{header: H1, medium: {test['medium']}, pressure: {test['pressure']} bar, hold: {test['hold']} min, tested_on: {screeded - timedelta(days=4)}, kept_during_screed: {str(test['kept']).lower()}, operating_pressure: 1.5 bar, readings: [{{at: 0 min, pressure: {test['pressure']} bar, temperature: 16 °C}}, {{at: {test['hold']} min, pressure: {test['end']} bar, temperature: 16 °C}}]}}}}"
        )
    if not house.likely(0.15):
        lines.append(f"heat_up: {{started_on: {heated}, steps: [{steps}]}}")
    if stage == "installed" and paper["balance"]:
        true = _flows(house)
        shows = house.visit.get("balance_shows", True)
        flows = {n: true[n] if shows else _design_flow(paper, n) for n in paper["loops"]}
        inner = ", ".join(f"{n}: {{flow: {f:.2f} l/min}}" for n, f in flows.items())
        lines.append(f"balance: {{{inner}}}")
    return "\n".join(lines) + "\n"


def _readings(house: House) -> str:
    chance, paper, truth = house.chance, house.paper, house.truth
    handed = paper["day"] + timedelta(days=150)
    called = handed + timedelta(days=chance.randrange(60, 900))
    lines = [
        "# Invented readings.",
        "readings: 1",
        f"events: {{handed_over: {handed}, complaint: {called}}}",
    ]
    visits = chance.choices((0, 1, 2), (0.2, 0.5, 0.3))[0]
    if visits:
        lines.append("visits:")
    flows = _flows(house)
    if visits and truth.get("gauge") is not None:
        lines += _gauge(called + timedelta(days=3), truth["gauge"])
    for visit in range(visits):
        on = called + timedelta(days=5 + 20 * visit)
        outside = round(chance.uniform(-4, 7), 1)
        lines.append(f"- on: {on}\n  outside: {outside} °C")
        lines += _waters(house, outside, flows)
    return "\n".join(lines) + "\n"


def _gauge(on: date, fall: float) -> list[str]:
    """The header shut off for a day; fall: of its gauge in the first hour, bar."""
    hours = (0, 0.25, 0.5, 1, 23)
    return [
        f'- {{on: {on}, at: "{int(hour):02d}:{int(hour % 1 * 60):02d}", '
        f"headers: {{H1: {{pressure: {max(1.6 - fall * hour, 0):.2f} bar, temperature: 21.0 °C}}}}}}"
        for hour in hours
    ]


def _waters(house: House, outside: float, flows: dict[str, float]) -> list[str]:
    chance, paper, truth = house.chance, house.paper, house.truth
    share = (20 - outside) / (20 - paper["outside"])
    curve = max(_needed(house, name, share) for name in paper["loops"] if name != house.loop)
    own = house.paper["loops"][house.loop].get("supply")
    supply = curve + 1.5 + truth.get("supply", 0.0) * chance.uniform(0.8, 1.0)
    cold = house.room if truth else ""
    every = chance.random() < 0.6
    lines = ["  loops:"]
    rooms = []
    for name, loop in paper["loops"].items():
        if not every and name != house.loop and chance.random() < 0.6:
            continue
        room = paper["rooms"][loop["room"]]
        warm = own if own is not None and name == house.loop else supply
        air = room["temperature"] + chance.uniform(-0.6, 0.6)
        if loop["room"] == cold:
            air -= chance.uniform(0.5, 2)
        resistance = truth.get("resistance", {}).get(loop["room"], room["resistance"])
        coefficient = _coefficient(paper, name, min(resistance, 0.15))
        up = floor.upward_resistance(resistance, paper["cover"] / 1000, 1.2)
        insulation = truth.get("insulation", paper["insulation"])
        back = float(
            balance.return_at_volume_flow(
                flows[name] / 6e4, warm, air, loop["area"], coefficient, up, insulation, 10.0,
                fluid.WATER, 0.0,
            )
        )  # fmt: skip
        if np.isnan(back):
            continue
        output = coefficient * float(floor.excess(warm, back, air))
        surface = float(floor_surface.surface_mean(air, output))
        parts = [
            f"flow: {flows[name] * (1 + chance.gauss(0, 0.05)):.2f} l/min",
            f"supply: {warm + chance.gauss(0, 0.25):.1f} °C",
            f"return: {back + chance.gauss(0, 0.25):.1f} °C",
        ]
        if chance.random() < 0.4:
            parts.append(f"surface: {surface + chance.gauss(0, 0.5):.1f} °C")
        if house.visit.get("pressure_loss") and name == house.loop:
            length = truth["length"][name]
            speed = flows[name] / 6e4 / (np.pi / 4 * ((paper["pipe"]["outside"] - 4) / 1000) ** 2)
            loss = (
                0.3164
                * (speed * 0.012 / 7.5e-7) ** -0.25
                * length
                / ((paper["pipe"]["outside"] - 4) / 1000)
                * 994
                * speed**2
                / 2
            )
            parts.append(f"pressure_drop: {loss / 1000 + chance.gauss(0, 0.5):.1f} kPa")
        lines.append(f"    {name}: {{{', '.join(parts)}}}")
        rooms.append(f"    {loop['room']}: {{temperature: {air + chance.gauss(0, 0.25):.1f} °C}}")
    return [*lines, "  rooms:", *rooms] if len(lines) > 1 else []


def write(folder: Path, count: int, seed: int = 0) -> None:
    """An archive of so many jobs, a folder each."""
    for number in range(count):
        job = simulate(number, seed)
        own = folder / job.name.lower().replace(" ", "-")
        own.mkdir(parents=True, exist_ok=True)
        for name, text in job.files.items():
            (own / name).write_text(text, "utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]), int(sys.argv[2]))
