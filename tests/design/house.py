"""A small house that states something of everything, and what is said of a design."""

from __future__ import annotations

import pytest

from checker.arrays import Array
from checker.design.schema import design_format
from checker.design.tables import BadDesign, Tables

START = "design: 1\n"
HOUSE = """\
design: 1
project: {name: House, revision: 3.10, stage: installed, designed_on: 2026-03-12, region: GB-ENG, contractor: no}
codes: [EN-1264, GB-ENG]
plant: {source: boiler, supply: 113 °F, drop: 9 °F, fluid: {kind: propylene glycol, mass_fraction: 25 %}}
pipes:
  thin: {material: PB, outside: 12 mm}
  p16: {material: PE-RT, outside: 16 mm, wall: 2 mm, oxygen_barrier: yes, service_class: 4}
floors:
  slab: {construction: wet, screed: {material: cement, cover: 45 mm}, below: ground}
  boards: {layers: [{material: plywood, thickness: 22 mm}]}
rooms:
  bath: {temperature: 24 °C}
  kitchen: {temperature: 20 °C, heat_load: 0.9 kW}
headers:
  H1: {ports: 4, isolation_valves: off, pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa]]}}
  H2: {pump: {curves: {only: [[0 l/min, 30 kPa]]}, setting: only}}
loops:
  L1: {header: H2, port: 1, room: kitchen, floor: slab, pipe: p16, spacing: 6 in, length: 300 ft}
  L2: {header: H1, room: bath, pipe: thin}
  L3: {parts: [{room: bath, area: 2 m²}], feeds: [{room: kitchen, length: 4 m}]}
pressure_tests:
  first: {header: H2, hold: 0.5 h, readings: [{at: 0 min, pressure: 4 bar}, {at: 30 min, pressure: 58 psi}]}
heat_up: {started_on: 2026-04-28, steps: [{supply: 25 °C, hold: 3 day}]}
balance: {L2: {flow: 1.7 l/min}}
seen: [{rule: mixing-needed, subject: design, result: as wanted, by: A. Fitter, on: 2026-04-02}]
"""


def mistakes(text: str | bytes, path: str = "house.yaml") -> list[str]:
    """What is said of this design: "line:column message" each."""
    with pytest.raises(BadDesign) as found:
        Tables().add(path, text if isinstance(text, bytes) else text.encode())
    assert str(found.value) == found.value.problems[0].message
    return [
        f"{problem.line}:{problem.column} {problem.message}" for problem in found.value.problems
    ]


def column(tables: Tables, table: str, name: str) -> Array:
    names = [leaf.name for leaf in tables[table].shape.columns]
    return tables[table].column(names.index(name))


def word(tables: Tables, table: str, name: str, row: int = 0) -> str:
    return design_format().leaf(table, name).options[int(column(tables, table, name)[row])]
