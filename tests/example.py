"""A small design, invented, that tests change one thing in."""

from __future__ import annotations

from collections.abc import Iterable

from checker.outcome.report import DesignReport
from checker.outcome.results import Result
from checker.reports import FormatOptions, writer
from checker.run.batch import BY_THE_DESIGN, Plan, check

DESIGN = """\
design: 1
project: {name: Test House, stage: installed, designed_on: 2026-03-12, region: GB-ENG}
plant:
  source: heat pump
  supply: 42 °C
  drop: 7 K
  flows: by drop
  primary_supply: 55 °C
  fluid: {kind: water}
  outside: -3 °C
pipes:
  p16: {material: PE-RT, outside: 16 mm, wall: 2 mm, bend_radius: 80 mm, oxygen_barrier: true, service_class: 4}
floors:
  slab:
    construction: wet
    screed: {material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K), field_area: 30 m², field_length: 6 m, laid_on: 2026-04-05, moisture: 1.6 %}
    insulation: 4 m²·K/W
    below: ground
    edge_strip: 8 mm
rooms:
  kitchen: {use: kitchen, temperature: 20 °C, area: 13 m², heat_load: 700 W, covering: {material: tile, resistance: 0.02 m²·K/W}}
  bath: {use: bathroom, temperature: 24 °C, area: 8 m², heat_load: 400 W, covering: {material: tile, resistance: 0.02 m²·K/W}}
headers:
  H1:
    ports: 4
    bore: 25 mm
    height: 0.5 m
    isolation_valves: true
    flow_setters: {least: 0.5 l/min, most: 5 l/min}
    own_loss: 8 kPa
    pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}
loops:
  L1: {header: H1, port: 1, room: kitchen, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, spacing: 150 mm, area: 12 m², length: 88 m, feeds: 8 m, wall_gap: 100 mm, joints: 0}
  L2: {header: H1, port: 2, room: bath, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, spacing: 100 mm, area: 7 m², length: 80 m, feeds: 10 m, wall_gap: 100 mm, joints: 0}
pressure_tests:
  first:
    header: H1
    medium: water
    pressure: 4 bar
    hold: 20 min
    tested_on: 2026-04-02
    kept_during_screed: true
    operating_pressure: 1.5 bar
    plant_shut: true
    readings:
      - {at: 0 min, pressure: 4.02 bar, temperature: 17 °C}
      - {at: 20 min, pressure: 4.00 bar, temperature: 17 °C}
heat_up:
  started_on: 2026-04-28
  steps: [{supply: 25 °C, hold: 3 day}, {supply: 42 °C, hold: 4 day}]
balance: {L1: {flow: 1.5 l/min}}
"""

SEEN = """\
seen:
  - {rule: mixing-needed, subject: design, result: as wanted, by: A. Fitter, on: 2026-04-20}
"""
READ_AT_LENGTH = (
    (
        "at: 0 min, pressure: 4.02 bar, temperature: 17 °C",
        "at: 0 min, pressure: 4.02 bar, temperature: 17.0 °C",
    ),
    (
        "at: 20 min, pressure: 4.00 bar, temperature: 17 °C",
        "at: 1 h, pressure: 4.01 bar, temperature: 17.0 °C}\n      - {at: 4 h, pressure: 4.00 bar, temperature: 17.0 °C",
    ),
)
"""Readings long and steady enough to tell tight loops from leaking ones."""


def changed(*changes: tuple[str, str], text: str = DESIGN) -> str:
    """The design with some of its text replaced; each must be there."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


SOUND = changed(*READ_AT_LENGTH, text=DESIGN + SEEN)
"""The same with all that its stage asks for."""


TWO_ROOMS = changed(
    (
        "room: kitchen, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, "
        "spacing: 150 mm, area: 12 m²",
        "pipe: p16, pattern: counterflow, parts: [{room: kitchen, floor: slab, zone: occupied, "
        "spacing: 150 mm, area: 8 m²}, {room: bath, floor: slab, zone: occupied, spacing: 150 mm, "
        "area: 4 m²}]",
    )
)
"""Its first loop lies in the kitchen and in the bath."""


def sound_but(*changes: tuple[str, str]) -> str:
    """The sound design with some of its text replaced."""
    return changed(*changes, text=SOUND)


def report(text: str, path: str = "house.yaml", plan: Plan = BY_THE_DESIGN) -> DesignReport:
    """The report of one design that can be read."""
    designs, unreadable = check([(path, text.encode())], plan)
    assert not unreadable, unreadable
    return designs[0]


def reports(texts: Iterable[str]) -> list[DesignReport]:
    """Those of many designs that can be read, judged together, which is quicker."""
    files = [(f"house {number}.yaml", text.encode()) for number, text in enumerate(texts)]
    designs, unreadable = check(files)
    assert not unreadable, unreadable
    return designs


def result(found: DesignReport, rule: str, subject: str) -> Result:
    """The one result of a rule for a subject."""
    results = [r for r in found.results if r.rule == rule and r.subject == subject]
    assert len(results) == 1, [(r.rule, r.subject) for r in found.results]
    return results[0]


def as_json(found: DesignReport) -> bytes:
    """The design as the JSON report has it."""
    return writer(FormatOptions("json")).piece(found)


def computed(found: DesignReport, subject: str, name: str) -> float:
    """A computed value, in the unit of the report; NaN where it is missing."""
    magnitude = found.computed[subject][name].magnitude
    return float("nan") if magnitude is None else magnitude
