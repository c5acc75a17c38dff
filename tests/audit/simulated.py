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
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from checker.physics import balance, floor, floor_surface, fluid
from tests.audit.simulated_house import (
    DROP,
    House,
    coefficient_of,
    design_flow_of,
    needed_of,
    sound_house,
)
from tests.audit.simulated_troubles import PLANTS, SUBJECTS, decoys


@dataclass(frozen=True)
class Simulated:
    """One job: its files by name, what is complained of, and what was planted."""

    name: str
    complaint: str
    subject: str
    cause: str
    files: dict[str, str]


def simulate(number: int, seed: int = 0) -> Simulated:
    """One job of the archive; the same for the same call."""
    chance = random.Random(f"{seed}/{number}")
    house = sound_house(chance)
    complaint = chance.choice([*PLANTS])
    cause = chance.choice([*PLANTS[complaint]])
    for decoy in chance.sample(decoys(house), chance.randrange(0, 4)):
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
        name: design_flow_of(house.paper, name)
        * factors.get(name, house.chance.uniform(0.93, 1.07))
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
        flows = {n: true[n] if shows else design_flow_of(paper, n) for n in paper["loops"]}
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
    curve = max(needed_of(house, name, share) for name in paper["loops"] if name != house.loop)
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
        coefficient = coefficient_of(paper, name, min(resistance, 0.15))
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
