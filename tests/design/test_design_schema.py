"""The schema of the design file: valid, explained throughout, and in step with the units."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from checker.run.batch import check
from checker.units import KINDS, parse
from checker.units.table import ROWS
from tests.example import changed as changed_text

Node = dict[str, Any]

SCHEMA: Node = json.loads(
    (Path(__file__).parents[2] / "schemas" / "design.schema.json").read_text(encoding="utf-8")
)
VALIDATOR = Draft202012Validator(SCHEMA, format_checker=Draft202012Validator.FORMAT_CHECKER)

DESIGN = """
design: 1
project: {units: US, name: Invented Row 3, revision: 3, stage: design, designed_on: '2026-03-12',
          region: GB-ENG, work: new, building: dwelling, floor_area: 90 m², designer: Invented Designer, contractor: Invented Contractor}
codes: [EN-1264]
defaults: {loops: {zone: occupied}, rooms: {control: own}, floors: {below: ground}}
plant: {source: heat pump, supply: 45 °C, drop: 7 K, primary_supply: 65 °C, outside: -3 °C,
        flows: by room, fluid: {kind: propylene glycol, mass_fraction: 25 %}, lowest_feasible: false,
        operation: intermittent, setback: true, zones: 2, water: {flushed: true, inhibitor: true, ph: 8.6}}
pipes:
  p16: {material: PE-RT, outside: 16 mm, wall: 2 mm, conductivity: 0.4 W/mK, roughness: 0.0015 mm, metal: 0.2 mm,
        max_length: 300 ft, oxygen_barrier: true, service_class: 4, bend_radius: 80 mm,
        rated_pressure: 100 psi}
floors:
  slab:
    construction: wet
    screed: {material: calcium sulphate, cover: 45 mm, below_pipe: 5 mm, conductivity: 1.2 W/(m·K),
             field_area: 36 m2, field_length: 7.5 m, laid_on: '2026-04-06',
             strength: F4, least_cover: 35 mm, moisture: 0.4 %, humidity: 70 %,
             doorway_joints: true, covering_joints: true, l_shaped: false}
    insulation: 2.5 m2K/W
    below: ground
    below_temperature: 10 degC
    edge_strip: 8mm
    u_value: 0.15 W/(m²·K)
    load: 2 kN/m²
    bed: structural slab
    slab_thickness: 150 mm
    thermal_break: true
    edge_insulation: 1 m²·K/W
  joists:
    construction: layered
    layers:
      - {material: plywood, thickness: 22 mm, conductivity: 0.13 W/(m·K)}
      - {material: mineral wool, thickness: 150 mm, conductivity: 0.035 W/(m·K), pipe_axis: 8 mm,
         plate: {thickness: 0.5 mm, width: 120 mm, conductivity: 200 W/(m·K)},
         joists: {width: 45 mm, spacing: 400 mm, conductivity: 0.13 W/(m·K)}}
    below: heated
    build_up: 180 mm
  boards: {construction: tested, heat_coefficient: 4.2 W/(m2 K), excess_limit: 24 K}
rooms:
  bath 1: {use: bathroom, temperature: 24 °C, area: 9 m², heat_load: 900 W,
           other_heat: 200 W, covered_area: 1 m², control: own,
           covering: {material: tile, resistance: 0.02 m²·K/W, max_temperature: 29 °C}}
headers:
  H1: {ports: 8, bore: 25 mm, height: 0.5 m, isolation_valves: true, own_loss: 80 mbar,
       main_valves: true, vents: true, gauge: true, purge_flow: 12 l/min,
       flow_setters: {least: 0.5 l/min, most: 5 l/min, step: 0.25 l/min}, supply: 113 degF,
       pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 4.6 mH2O], [0.04 m3/min, 10 kPa]]}}
  H2: {pump: {curves: {low: [[0 l/min, 30 kPa], [9 l/min, 5 kPa]]}, setting: low}}
  H3: {pump: {with: H1}}
loops:
  L1: {header: H1, port: 1, room: bath 1, floor: slab, pipe: p16, pattern: counterflow,
       zone: occupied, spacing: 150 mm, area: 8 m², length: 60 m, feeds: 8 m, flow: 1.8 l/min,
       supply: 44 °C, wall_gap: 60 mm, joints: 1, sleeved: true,
       flue_gap: 300 mm, fixing: 400 mm, repaired_on: '2026-04-03', sleeve: 300 mm,
       crosses_structural_joint: false, crosses_joint: true}
  L2: {parts: [{room: bath 1, floor: slab, zone: perimeter, spacing: 100 mm, area: 3 m²}],
       feeds: [{room: bath 1, floor: slab, length: 4 m, spacing: 75 mm, insulated: true}]}
pressure_tests:
  first: {header: H1, medium: water, pressure: 4 bar, hold: 20 min, tested_on: '2026-04-02',
          kept_during_screed: true, operating_pressure: 1.5 bar, plant_shut: true,
          antifreeze: true, water_changes: 3, after_screed: false,
          readings: [{at: 0 min, pressure: 4.02 bar, temperature: 17 °C},
                     {at: 20 min, pressure: 4.00 bar}]}
heat_up: {started_on: '2026-04-28',
          steps: [{supply: 25 °C, hold: 3 day}, {supply: 45 °C, hold: 4 days}]}
balance: {L1: {flow: 1.7 l/min}}
plan:
  drawing: floor.dxf
  map: floor.map.yaml
  unit: mm
  bend: 75 mm
  bends: {L1: 80 mm}
  rooms: {bath 1: '0 0, 3000 0, 3000 3000, 0 3000'}
  routes: {L1: '100 100, 2900 100, 2900 250, 100 250'}
  joints: {door: '3000 0, 3000 900'}
  fixed: {bath: '0 2300, 1700 2300, 1700 3000, 0 3000'}
  keep_clear: {flue: '2500 2500, 3000 2500, 3000 3000'}
  outer_walls: {north: '0 3000, 3000 3000'}
  headers: {H1: '100 100'}
seen: [{rule: mixing-needed, subject: design, result: as wanted, by: A. Fitter, "on": "2026-04-02", what: tried, values: {plant.supply: 45 °C}}]
"""


def nodes(node: Node, path: str = "") -> Iterator[tuple[str, Node]]:
    """Every subschema that describes a part of the design, with its path."""
    yield path, node
    for name, inner in node.get("properties", {}).items():
        yield from nodes(inner, f"{path}.{name}")
    if isinstance(node.get("additionalProperties"), dict):
        yield from nodes(node["additionalProperties"], f"{path}.*")
    if "items" in node:
        yield from nodes(node["items"], f"{path}[]")
    for kind in ("prefixItems", "oneOf"):
        for number, inner in enumerate(node.get(kind, [])):
            yield from nodes(inner, f"{path}[{number}]")


NODES = dict(nodes(SCHEMA))
QUANTITIES = {path: node for path, node in NODES.items() if "x-quantity" in node}


def errors(design: object) -> list[str]:
    return [f"{error.json_path}: {error.message}" for error in VALIDATOR.iter_errors(design)]


def changed(path: str, value: object) -> Any:
    """The design above with one value put in, at keys and positions parted by slashes."""
    design = yaml.safe_load(DESIGN)
    *way, last = [int(step) if step.isdigit() else step for step in path.split("/")]
    inner = design
    for step in way:
        inner = inner[step]
    inner[last] = value
    return design


def test_schema_is_valid() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("path", NODES)
def test_everything_is_described_and_closed(path: str) -> None:
    node = NODES[path]
    assert len(node["description"].split()) >= 2
    if "oneOf" in node or node.get("$ref", "").startswith("#/properties/"):
        return
    if node["type"] == "object":
        named = "x-table" in node or "x-lines" in node
        if "properties" in node or named:
            assert node["additionalProperties"] is False or named
            assert named == ("propertyNames" in node)
        else:  # what is named freely
            assert node["examples"]
    for example in node.get("examples", []):
        assert not [*VALIDATOR.evolve(schema=node).iter_errors(example)]


@pytest.mark.parametrize("path", QUANTITIES)
def test_quantity_has_bounds_and_an_example_between(path: str) -> None:
    node = QUANTITIES[path]
    kind = node["x-quantity"]
    assert kind in KINDS
    least, most = parse(node["x-least"], kind), parse(node["x-most"], kind)
    assert least < most
    assert node["examples"]
    assert all(least <= parse(example, kind) <= most for example in node["examples"])
    drawn = "_or_drawn" if "x-drawn" in node else ""
    plain = "plain_number" if kind == "ratio" else f"quantity{drawn}"
    assert node["$ref"] == f"#/$defs/{plain}"


def test_tables_are_those_of_the_program() -> None:
    tables = [node["x-table"] for node in NODES.values() if "x-table" in node]
    assert sorted(tables) == [
        "balance",
        "floors",
        "headers",
        "heat_up_steps",
        "layers",
        "loop_feeds",
        "loop_parts",
        "loops",
        "pipes",
        "pressure_tests",
        "pump_curve",
        "pump_curves",
        "readings",
        "rooms",
        "seen",
    ]
    assert NODES[".balance"]["x-keys-refer-to"] == "loops"
    references = {
        path: node["x-refers-to"] for path, node in NODES.items() if "x-refers-to" in node
    }
    assert references == {
        ".headers.*.pump.with": "headers",
        ".loops.*.header": "headers",
        ".loops.*.room": "rooms",
        ".loops.*.floor": "floors",
        ".loops.*.pipe": "pipes",
        ".loops.*.parts[].room": "rooms",
        ".loops.*.parts[].floor": "floors",
        ".loops.*.feeds[1][].room": "rooms",
        ".loops.*.feeds[1][].floor": "floors",
        ".pressure_tests.*.header": "headers",
    }


def test_nothing_is_required_that_may_still_be_missing() -> None:
    required = {path: node["required"] for path, node in NODES.items() if "required" in node}
    assert required == {
        "": ["design"],
        ".loops.*.feeds[1][]": ["length"],
        ".pressure_tests.*.readings[]": ["at", "pressure"],
        ".seen[]": ["rule", "subject", "result", "by", "on"],
    }
    assert NODES[".headers.*.pump.curve[]"]["minItems"] == 2
    assert errors({"design": 1}) == []


def test_a_full_design_validates_and_uses_every_key() -> None:
    design = yaml.safe_load(DESIGN)
    assert errors(design) == []

    def unused(node: Node, values: list[Any], path: str) -> Iterator[str]:
        for name, inner in node.get("properties", {}).items():
            found = [value[name] for value in values if name in value]
            if not found:
                yield f"{path}.{name}"
            for one in inner.get("oneOf", [inner]):
                of_type = [value for value in found if isinstance(value, list)]
                several = found if one is inner else of_type
                yield from unused(one, several if "items" in one else found, f"{path}.{name}")
        if ("x-table" in node or "x-lines" in node) and node["type"] == "object":
            rows = [row for value in values for row in value.values()]
            yield from unused(node["additionalProperties"], rows, f"{path}.*")
        elif "items" in node:
            rows = [row for value in values for row in value]
            yield from unused(node["items"], rows, f"{path}[]")

    assert [*unused(SCHEMA, [design], "")] == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("lops", {}),
        ("plant/suply", "45 °C"),
        ("loops/L1/lenght", "60 m"),
        ("floors/slab/screed/thickness", "60 mm"),
        ("pressure_tests/first/readings/0/time", "0 min"),
        ("heat_up/steps/0/days", 3),
        ("design", 2),
        ("loops/L1/length", 60),
        ("loops/L1/length", "60"),
        ("loops/L1/length", "1e5"),
        ("loops/L1/length", "60,5 m"),
        ("loops/L1/length", "1 000 m"),
        ("loops/L1/length", "nan m"),
        ("loops/L1/port", 0),
        ("loops/L1/port", 1.5),
        ("loops/L1/joints", -1),
        ("loops/L1/pattern", "spiral"),
        ("loops/L1/sleeved", "yes"),
        ("loops/L1/header", 1),
        ("loops/ L2", {}),
        ("loops/", {}),
        ("pipes/" + "p" * 65, {}),
        ("pipes/p16/service_class", 6),
        ("project/designed_on", "12.03.2026"),
        ("project/region", "England"),
        ("codes", "EN-1264"),
        ("headers/H1/pump/curve/0", ["0 l/min"]),
        ("headers/H1/pump/curve/0", ["0 l/min", "60 kPa", "1 W"]),
        ("headers/H1/pump/curve/0", ["0", "60 kPa"]),
        ("pressure_tests/first/readings/0", {"at": "0 min"}),
    ],
)
def test_a_slip_is_refused(path: str, value: object) -> None:
    assert len(errors(changed(path, value))) >= 1


def test_pattern_takes_what_the_program_takes() -> None:
    pattern = re.compile(SCHEMA["$defs"]["quantity"]["pattern"])
    spellings = [spelling for row in ROWS if row[0] != "ratio" for spelling in row[4]]
    numbers = ["12", "-3", "+3", "\u22123", ".5", "1.5", "1.5e3", "2E-1"]
    spaces = ["", " ", "\u00a0", "\u202f"]
    refused = [
        text
        for number in numbers
        for space in spaces
        for spelling in [*spellings, "degC", "℃", "ºF", "m2", "yd"]
        if not pattern.search(text := f"{number}{space}{spelling}")
    ]
    assert refused == []


def test_every_quantity_that_may_be_nothing_says_how_small_it_can_be_else() -> None:
    lacking = [
        path
        for path, node in _nodes(SCHEMA)
        if "x-quantity" in node
        and node["x-quantity"] != "temperature"
        and node["x-least"].split(" ")[0] == "0"
        and "x-smallest" not in node
    ]
    assert lacking == []


def _nodes(node: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(node, dict):
        yield path, node
        for key, inner in node.items():
            yield from _nodes(inner, f"{path}/{key}")
    elif isinstance(node, list):
        for number, inner in enumerate(node):
            yield from _nodes(inner, f"{path}/{number}")


@pytest.mark.parametrize("value", ["1e-300", "5e-324", "1e-12", "0.0000001"])
@pytest.mark.parametrize(
    "change", ["insulation: 4 m²·K/W", "heat_load: 700 W", "pressure: 4.00 bar"]
)
def test_a_value_too_small_to_be_one_is_refused(change: str, value: str) -> None:
    name, _, quantity = change.partition(": ")
    unit = quantity.partition(" ")[2]
    text = changed_text((change, f"{name}: {value} {unit}"))
    _, unreadable = check([("house.yaml", text.encode())])
    (one,) = unreadable
    assert "more than nothing and less than is possible here" in one.message
    assert text.splitlines()[one.line - 1][one.column - 1 :].startswith(value)


@pytest.mark.parametrize("day", ["1900-01-01", "0001-01-01", "9999-12-31", "1949-12-31"])
def test_a_day_that_no_design_can_have_is_refused(day: str) -> None:
    text = changed_text(("designed_on: 2026-03-12", f"designed_on: {day}"))
    _, unreadable = check([("house.yaml", text.encode())])
    assert "look at the year" in unreadable[0].message
