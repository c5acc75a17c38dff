"""Floors by their layers from sheets: one row a layer, with plate and joists, each cell known."""

from __future__ import annotations

from typing import Any

import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.settling import settled
from checker.design.tables import Tables
from checker.intake.maps import load
from checker.intake.reading import Intake, of_book
from checker.intake.sheets import Book, Sheet
from tests.example import changed
from tests.intake.test_schedules import round_trip

MAP = """\
map: 1
design:
  project: {name: Sheet, stage: design, designed_on: 2026-03-12, region: GB-ENG}
  plant: {source: heat pump, supply: 33 °C, drop: 5 K, fluid: {kind: water}}
  pipes: {p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}}
  headers: {H1: {ports: 3}}
  rooms: {study: {use: office, temperature: 20 °C, area: 20 m², heat_load: 420 W, covering: {material: laminate, resistance: 0.05 m²·K/W}}}
every:
  floors: {construction: layered, below: heated}
  loops: {pipe: p16, header: H1, room: study, pattern: counterflow, zone: occupied}
sheets:
  - sheet: Loops
    ids: {loops: "{Loop}"}
    columns:
      - {heading: Floor, field: loops.floor}
      - {heading: Spacing, field: loops.spacing, unit: mm}
      - {heading: Area, field: loops.area, unit: m²}
      - {heading: Length, field: loops.length, unit: m}
  - sheet: Build-ups
    ids: {floors: "{Build-up}"}
    fill_down: [Build-up]
    columns:
      - {heading: Layer, field: floors.layers.material}
      - {heading: Thickness, field: floors.layers.thickness, unit: mm}
      - {heading: Lambda, field: floors.layers.conductivity, unit: W/(m·K)}
      - {heading: Axis, field: floors.layers.pipe_axis, unit: mm}
      - {heading: Plate, field: floors.layers.plate.thickness, unit: mm}
      - {heading: Width, field: floors.layers.plate.width, unit: mm}
      - {heading: Plate λ, field: floors.layers.plate.conductivity, unit: W/(m·K)}
      - {heading: Joist, field: floors.layers.joists.width, unit: mm}
      - {heading: Centres, field: floors.layers.joists.spacing, unit: mm}
      - {heading: Joist λ, field: floors.layers.joists.conductivity, unit: W/(m·K)}
"""
LOOPS: list[list[Any]] = [
    ["Loop", "Floor", "Spacing", "Area", "Length"],
    ["L1", "boards", 150, 11, 79],
]
HEAD: list[Any] = ["Build-up", "Layer", "Thickness", "Lambda", "Axis", "Plate", "Width", "Plate λ"]
HEAD += ["Joist", "Centres", "Joist λ"]
BOARDS: list[list[Any]] = [
    ["boards", "gypsum fibre board", 20, 0.32, "", "", "", "", "", "", ""],
    ["", "insulation board", 30, 0.035, 8, 0.5, 120, 200, "", "", ""],
    ["", "OSB", 22, 0.13, "", "", "", "", "", "", ""],
]
JOISTS: list[list[Any]] = [
    ["joists", "chipboard", 22, 0.13, "", "", "", "", "", "", ""],
    ["", "mineral wool", 100, 0.035, 20, "", "", "", 47, 400, 0.13],
]


def taken(*rows: list[Any]) -> Intake:
    sheets = [Sheet("Loops", [[*row] for row in LOOPS]), Sheet("Build-ups", [HEAD, *rows])]
    return of_book(Book("a.xlsx", sheets), load("a.map.yaml", MAP.encode()))


def wrong(intake: Intake) -> list[str]:
    return [str(one) for one in (*intake.read.refused, *intake.read.mistakes)]


def test_each_row_is_a_layer() -> None:
    done = taken(*BOARDS, *JOISTS)
    assert wrong(done) == []
    assert done.read.unused == []
    floors = done.read.tree["floors"]
    assert floors["boards"]["layers"] == [
        {"material": "gypsum fibre board", "thickness": "20 mm", "conductivity": "0.32 W/(m·K)"},
        {
            "material": "insulation board",
            "thickness": "30 mm",
            "conductivity": "0.035 W/(m·K)",
            "pipe_axis": "8 mm",
            "plate": {"thickness": "0.5 mm", "width": "120 mm", "conductivity": "200 W/(m·K)"},
        },
        {"material": "OSB", "thickness": "22 mm", "conductivity": "0.13 W/(m·K)"},
    ]
    assert floors["joists"]["layers"][1]["joists"] == {
        "width": "47 mm", "spacing": "400 mm", "conductivity": "0.13 W/(m·K)",
    }  # fmt: skip
    assert floors["joists"]["construction"] == "layered"


def test_what_was_read_is_judged_by_its_section() -> None:
    tables = Tables()
    tables.add("a.yaml", taken(*BOARDS).text.encode())
    graph = settled(tables)
    heat, section = (
        graph.column("loop", name).values for name in ("heat_coefficient", "section_coefficient")
    )
    assert heat.tolist() == section.tolist()
    assert heat[0] > 0


def test_a_cell_of_a_layer_that_cannot_be_read_is_told() -> None:
    rows = [[*row] for row in BOARDS]
    rows[1][3] = "lots"
    (told,) = wrong(taken(*rows))
    assert told.startswith("a.xlsx, sheet 'Build-ups', row 3, column D 'Lambda': 'lots' is not a")


@pytest.mark.parametrize(
    ("place", "value", "told"),
    [
        (
            (1, 6), 400,
            "row 3, column G: floors.boards.layers[2].plate.width: the plate is wider than the "
            "150 mm between its pipes",
        ),
        (
            (1, 4), 40,
            "row 3, column E: floors.boards.layers[2].pipe_axis: the plate does not touch its pipe",
        ),
        (
            (0, 4), 10,
            "row 3, column E: floors.boards.layers[2].pipe_axis: a layer above holds the pipe",
        ),
    ],
)  # fmt: skip
def test_a_floor_that_cannot_be_built_is_refused_with_its_cell(
    place: tuple[int, int], value: float, told: str
) -> None:
    rows = [[*row] for row in BOARDS]
    rows[place[0]][place[1]] = value
    (found,) = wrong(taken(*rows))
    assert found.startswith(f"a.xlsx, sheet 'Build-ups', {told}")


def test_plates_and_joists_go_to_a_workbook_and_come_back() -> None:
    layers = """construction: layered
    build_up: 140 mm
    layers:
      - {material: OSB, thickness: 20 mm}
      - {material: foam, thickness: 100 mm, conductivity: 0.035 W/(m·K), pipe_axis: 8.25 mm, plate: {thickness: 0.5 mm, width: 60 mm, conductivity: 200 W/(m·K)}, joists: {width: 20 mm, spacing: 400 mm, conductivity: 0.13 W/(m·K)}}
      - {thickness: 0.7 in, conductivity: 0.13 W/(m·K)}"""
    screed = "construction: wet\n    screed: {material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K), field_area: 30 m², field_length: 6 m, laid_on: 2026-04-05, moisture: 1.6 %}"
    round_trip("house.yaml", changed((screed, layers)).encode())
