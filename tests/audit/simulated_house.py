"""The sound house that a simulated job begins with, on paper and in truth."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from checker.physics import floor, floor_coefficient

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


def sound_house(chance: random.Random) -> House:
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
    needed = max(needed_of(house, name, 1.0) for name in loops)
    paper["supply"] = round(needed + chance.uniform(1, 2.5), 1)
    return house


def coefficient_of(paper: dict[str, Any], name: str, resistance: float) -> float:
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


def flux_of(paper: dict[str, Any], name: str) -> float:
    room = paper["loops"][name]["room"]
    area = sum(loop["area"] for loop in paper["loops"].values() if loop["room"] == room)
    return float(paper["rooms"][room]["load"] / area)


def needed_of(house: House, name: str, share: float) -> float:
    paper = house.paper
    room = paper["rooms"][paper["loops"][name]["room"]]
    coefficient = coefficient_of(paper, name, room["resistance"])
    flux = flux_of(paper, name) * share
    return float(floor.needed_supply(room["temperature"], DROP * share, coefficient, flux))


def design_flow_of(paper: dict[str, Any], name: str) -> float:
    """l/min"""
    loop = paper["loops"][name]
    room = paper["rooms"][loop["room"]]
    flux = flux_of(paper, name)
    up = floor.upward_resistance(room["resistance"], paper["cover"] / 1000, 1.2)
    down = floor.down_loss(flux, room["temperature"], up, paper["insulation"], 10.0)
    return float(loop["area"] * (flux + down) / (4180.0 * DROP) / 993 * 6e4)
