"""Floors judged by their section: the balance closes, nothing jumps, nobody is asked for nothing."""

from __future__ import annotations

import numpy as np
import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.graph import Graph
from checker.compute.settling import settled
from checker.design.tables import Tables
from checker.physics import fluid
from checker.physics.build_up import BELOW
from checker.physics.mixed_section import flow as flow_of
from checker.physics.mixed_section import solved

DESIGN = """\
design: 1
project: {stage: design, designed_on: 2026-03-12, region: GB-ENG}
plant: {supply: 40 °C, drop: 7 K, fluid: {kind: water}}
pipes:
  p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}
floors:
  slab:
    construction: wet
    screed: {material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K)}
    insulation: 2.5 m²·K/W
    below: ground
  dry:
    construction: layered
    layers:
      - {material: OSB, thickness: 20 mm}
      - {material: foam, thickness: 30 mm, conductivity: 0.035 W/(m·K), pipe_axis: 8 mm,
         plate: {thickness: 0.5 mm, width: 120 mm, conductivity: 200 W/(m·K)}}
    below: BELOW
rooms:
  a: {use: living, temperature: 20 °C, area: 12 m², covering: {material: tile, resistance: 0.02 m²·K/W}}
headers: {H1: {ports: 4}}
loops:
  L1: {header: H1, port: 1, room: a, floor: FLOOR, pipe: p16, pattern: counterflow, zone: occupied, spacing: 150 mm, area: 12 m², length: 88 m, feeds: 8 m}
"""


def graph(
    floor: str, *changes: tuple[str, str], below: str = "heated", second_opinion: bool = False
) -> Graph:
    text = DESIGN.replace("FLOOR", floor).replace("BELOW", below)
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    tables = Tables()
    tables.add("design.yaml", text.encode())
    return settled(tables, second_opinion=second_opinion)


def value(made: Graph, name: str) -> float:
    return float(made.column("part", name).values[0])


COLD_BELOW = "unheated\n    below_temperature: 8 °C"


@pytest.mark.parametrize("below", ["heated", COLD_BELOW])
@pytest.mark.parametrize("flow", ["", ", flow: 0.6 l/min", ", flow: 2.5 l/min"])
def test_the_balance_of_a_layered_floor_is_that_of_its_section(below: str, flow: str) -> None:
    """A·(q + q_u) = ṁ·c·(θ_V − θ_R), with the section's own fluxes and the film of that flow."""
    made = graph("dry", ("feeds: 8 m", "feeds: 8 m" + flow), below=below)
    output, down = value(made, "output"), value(made, "down_loss")
    assert output == pytest.approx(value(made, "section_output"), rel=1e-4)
    supply, back = 40.0, value(made, "loop.return_temperature")
    heat = fluid.density(0, 0, (supply + back) / 2) * value(made, "loop.flow") * (supply - back)
    heat *= fluid.specific_heat(0, 0, (supply + back) / 2)
    assert 12.0 * (output + down) == pytest.approx(float(heat), rel=1e-4)
    assert value(made, "heat_coefficient") == value(made, "section_coefficient")
    assert value(made, "working_coefficient") < value(made, "heat_coefficient")


BEYOND = ("resistance: 0.02 m²·K/W", "resistance: 0.22 m²·K/W")


@pytest.mark.parametrize("flow", ["", ", flow: 0.6 l/min", ", flow: 2.5 l/min"])
def test_beyond_the_tables_the_balance_is_that_of_the_section(flow: str) -> None:
    """A·(q + q_u) = ṁ·c·(θ_V − θ_R), with the section's own fluxes and film, up carried on from
    the tables' end."""
    made = graph("slab", BEYOND, ("feeds: 8 m", "feeds: 8 m" + flow))
    output, down = value(made, "output"), value(made, "down_loss")
    ratio = value(made, "end_ratio")
    assert 0.8 < ratio <= 1
    assert output == pytest.approx(ratio * value(made, "section_output"), rel=1e-4)
    mixed = made.things.thing(value(made, "section"))
    (floor,) = solved([mixed])  # type: ignore[list-item]  # it is a section
    temperatures = np.array([20 + value(made, "excess"), 20.0, 10.0])
    into = flow_of(floor, value(made, "loop.film")) @ temperatures
    assert down == pytest.approx(-float(into[BELOW]), rel=1e-4)
    supply, back = 40.0, value(made, "loop.return_temperature")
    heat = fluid.density(0, 0, (supply + back) / 2) * value(made, "loop.flow") * (supply - back)
    heat *= fluid.specific_heat(0, 0, (supply + back) / 2)
    assert 12.0 * (output + down) == pytest.approx(float(heat), rel=1e-4)
    assert value(made, "heat_coefficient") == pytest.approx(
        ratio * value(made, "section_coefficient")
    )
    assert value(made, "working_coefficient") < value(made, "heat_coefficient")


def test_a_slower_flow_has_a_thicker_film() -> None:
    films = [
        value(graph("dry", ("feeds: 8 m", f"feeds: 8 m, flow: {flow} l/min")), "loop.film")
        for flow in (0.6, 1.6, 2.5)
    ]
    assert films[0] < films[1] < films[2]


@pytest.mark.parametrize(
    ("inside", "beyond"),
    [
        ("resistance: 0.1499999 m²·K/W", "resistance: 0.1500001 m²·K/W"),
        ("cover: 10.0001 mm", "cover: 9.9999 mm"),
        ("cover: 12.0001 mm", "cover: 11.9999 mm"),
        ("outside: 8.0001 mm, wall: 1 mm", "outside: 7.9999 mm, wall: 1 mm"),
        ("spacing: 50.0001 mm", "spacing: 49.9999 mm"),
    ],
)
def test_nothing_jumps_where_the_tables_end(inside: str, beyond: str) -> None:
    """But to the safe side: the coefficient never rises there, and no surface gets cooler."""
    old = {
        "resistance": "resistance: 0.02 m²·K/W",
        "cover": "cover: 45 mm",
        "outside": "outside: 16 mm, wall: 2 mm",
        "spacing": "spacing: 150 mm",
    }[inside.partition(":")[0]]
    near, past = (graph("slab", (old, new)) for new in (inside, beyond))
    step = value(past, "heat_coefficient") / value(near, "heat_coefficient")
    assert step < 1 + 1e-4
    ratio = value(past, "end_ratio")
    if value(past, "stands_in") and ratio < 1:
        assert step > 1 - 1e-4
    if not np.isnan(value(near, "surface_max")):
        assert value(past, "surface_max") > value(near, "surface_max") - 0.01


def test_a_carpet_beyond_the_tables_is_judged_and_less_warm_the_thicker() -> None:
    outputs = [
        value(graph("slab", ("0.02 m²·K/W", f"{resistance} m²·K/W")), "output")
        for resistance in (0.14, 0.16, 0.22, 0.3)
    ]
    assert np.all(np.diff(outputs) < 0)


def test_within_the_tables_no_section_is_solved_unless_it_is_asked_for() -> None:
    plain = graph("slab")
    assert np.isnan(value(plain, "section"))
    assert np.isnan(value(plain, "section_coefficient"))
    asked = graph("slab", second_opinion=True)
    assert value(asked, "section_coefficient") == pytest.approx(4.625, abs=0.005)
    for name in ("heat_coefficient", "output", "surface_max", "loop.flow"):
        assert value(asked, name) == value(plain, name)
    assert value(asked, "compared") == 1
    assert value(plain, "compared") == 0


def test_a_material_of_the_catalogue_needs_no_conductivity() -> None:
    by_name = graph("dry")
    stated = graph("dry", ("thickness: 20 mm}", "thickness: 20 mm, conductivity: 0.13 W/(m·K)}"))
    assert value(by_name, "heat_coefficient") == value(stated, "heat_coefficient")
    for unknown in ("plywood", "wonder board"):
        column = graph("dry", ("OSB", unknown)).column("part", "heat_coefficient")
        assert np.isnan(column.values[0])
        assert column.reasons is not None


def test_joists_stand_between_some_of_the_pipes() -> None:
    """At twice the pipes' spacing every second gap has one: the mean of with and without."""
    joists = ", joists: {width: 25 mm, spacing: SPACING, conductivity: 0.13 W/(m·K)}"
    plate = "conductivity: 200 W/(m·K)}"

    def coefficient(spacing: str) -> float:
        return value(
            graph("dry", (plate, plate + joists.replace("SPACING", spacing))), "heat_coefficient"
        )

    without = value(graph("dry"), "heat_coefficient")
    assert coefficient("300 mm") == pytest.approx((coefficient("150 mm") + without) / 2, rel=1e-9)


def test_insulation_of_a_layered_floor_is_what_lies_under_the_pipe() -> None:
    """By hand: (30 − 8) mm over 0.035 W/(m·K)."""
    made = graph("dry")
    assert made.column("floor", "insulation").values[1] == pytest.approx(0.022 / 0.035)


def test_the_surface_of_a_layered_floor_and_its_limit_agree() -> None:
    """At the output limit, without film and warm below, the warmest spot is at 29 °C."""
    made = graph("dry")
    excess = value(made, "output_limit") / value(made, "heat_coefficient")
    share = (value(made, "section_surface_max") - 20) / value(made, "open_excess")
    film = value(made, "working_coefficient") / value(made, "heat_coefficient")
    assert 20 + excess * share / film == pytest.approx(29.0, abs=0.05)


@pytest.mark.parametrize(
    ("floor", "changes", "wanted"),
    [
        ("slab", (), 1),
        ("dry", (), 0),
        ("dry", (("material: OSB", "material: cement screed"),), 1),
        ("dry", (("    below: heated", "    edge_strip: 3 mm\n    below: heated"),), 1),
    ],
)
def test_only_a_screed_wants_an_edge_strip(
    floor: str, changes: tuple[tuple[str, str], ...], wanted: float
) -> None:
    made = graph(floor, *changes)
    names = made.tables["floors"].ids
    assert made.column("floor", "has_screed").values[names.index(floor)] == wanted


@pytest.mark.parametrize(
    ("material", "wanted"),
    [
        ("OSB", 1),
        ("cement-bonded particle board", 1),
        ("cement screed", 0),
        ("anhydrite", 0),
        ("Zementestrich", 0),
        ("calcium sulphate", 0),
        ("", float("nan")),
    ],
)
def test_a_floor_of_layers_is_dry_where_each_has_the_name_of_something_dry(
    material: str, wanted: float
) -> None:
    named = f"material: {material}" if material else "conductivity: 0.13 W/(m·K)"
    made = graph("dry", ("material: OSB", named))
    row = made.tables["floors"].ids.index("dry")
    assert made.column("floor", "dry").values[row] == pytest.approx(wanted, nan_ok=True)
    assert made.column("floor", "has_screed").values[row] == pytest.approx(1 - wanted, nan_ok=True)
