"""Defaults mean what the same values mean in each record."""

from __future__ import annotations

import pytest

from checker.design.tables import BadDesign, Tables
from checker.run import batch

HEAD = """design: 1
project: {name: Mill Row 1, region: GB-ENG}
plant: {source: heat pump, supply: 42 °C, drop: 7 K, fluid: {kind: water}}
pipes: {p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}}
headers: {H1: {ports: 4}}
"""
LONG = """floors:
  slab: {construction: wet, screed: {material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K)}, insulation: 2.5 m²·K/W, below: ground}
  dry: {construction: layered, insulation: 2.5 m²·K/W, below: heated, layers: [{material: OSB, thickness: 18 mm}, {material: mineral wool, thickness: 100 mm, conductivity: 0.035 W/(m·K), pipe_axis: 9 mm}]}
rooms:
  kitchen: {temperature: 20 °C, use: kitchen, heat_load: 700 W, covering: {material: tile, resistance: 0.02 m²·K/W}}
  study: {temperature: 21 °C, use: office, heat_load: 400 W, covering: {material: carpet}}
loops:
  L1: {pipe: p16, header: H1, zone: occupied, spacing: 150 mm, floor: slab, room: kitchen, area: 12 m², length: 88 m, port: 1}
  L2: {pipe: p16, header: H1, length: 90 m, port: 2, parts: [{room: study, floor: slab, zone: perimeter, spacing: 100 mm, area: 3 m²}, {zone: occupied, spacing: 150 mm, floor: dry, room: study, area: 6 m²}]}
"""
SHORT = """defaults:
  loops: {pipe: p16, header: H1, zone: occupied, spacing: 150 mm, floor: slab}
  rooms: {temperature: 20 °C, covering: {material: tile, resistance: 0.02 m²·K/W}}
  floors: {construction: wet, screed: {material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K)}, insulation: 2.5 m²·K/W, below: ground}
floors:
  slab: {}
  dry: {construction: layered, below: heated, layers: [{material: OSB, thickness: 18 mm}, {material: mineral wool, thickness: 100 mm, conductivity: 0.035 W/(m·K), pipe_axis: 9 mm}]}
rooms:
  kitchen: {use: kitchen, heat_load: 700 W}
  study: {temperature: 21 °C, use: office, heat_load: 400 W, covering: {material: carpet}}
loops:
  L1: {room: kitchen, area: 12 m², length: 88 m, port: 1}
  L2: {length: 90 m, port: 2, parts: [{room: study, zone: perimeter, spacing: 100 mm, area: 3 m²}, {floor: dry, room: study, area: 6 m²}]}
"""


def test_a_design_with_defaults_is_the_design_written_out() -> None:
    found = []
    for text in (HEAD + LONG, HEAD + SHORT):
        (report,), unreadable = batch.check([("house.yaml", text.encode())])
        assert unreadable == []
        found.append(
            (
                sorted((r.rule, r.subject, r.kind, r.message) for r in report.results),
                report.found.computed(),
            )
        )
    assert found[0] == found[1]


def test_a_value_from_a_default_stands_where_it_was_written() -> None:
    (report,), _ = batch.check([("house.yaml", (HEAD + SHORT).encode())])
    line = next(r.line for r in report.results if r.rule == "loop-spacing")
    assert (HEAD + SHORT).splitlines()[line - 1].lstrip().startswith("loops: {pipe")


def test_half_a_covering_is_not_made_whole_by_another() -> None:
    design = Tables().add("house.yaml", (HEAD + SHORT).encode())
    assert design.document["rooms"]["study"]["covering"] == {"material": "carpet"}


@pytest.mark.parametrize(
    ("defaults", "message"),
    [
        ("loops: {spacing: 150}", "defaults.loops.spacing: 150 has no unit; write '150 mm'."),
        ("loops: {spacin: 150 mm}", "defaults.loops: the key 'spacin' is not known here; "
         "did you mean 'spacing'?"),
        ("loop: {spacing: 150 mm}", "defaults: 'loop' has no defaults; did you mean 'loops'?"),
        ("loops: {pipe: p20}", "defaults: there is no 'p20' in pipes; write one of 'p16'."),
        ("rooms: {covering: {material: tyle}}", "did you mean 'tile'?"),
        ("floors: {layers: []}", "a list is each record's own; it cannot be a default"),
        ("loops: []", "keys with their values are expected here"),
        ("loops: {zone: }", "there is no value"),
    ],
)  # fmt: skip
def test_a_mistake_in_a_default_is_told_once(defaults: str, message: str) -> None:
    text = f"""{HEAD}defaults: {{{defaults}}}
floors: {{slab: {{}}}}
rooms: {{a: {{}}, b: {{}}}}
loops: {{L1: {{room: a}}, L2: {{room: b}}, L3: {{room: b}}}}
"""
    with pytest.raises(BadDesign) as caught:
        Tables().add("house.yaml", text.encode())
    (problem,) = caught.value.problems
    assert message in problem.message
    assert problem.line == 6
