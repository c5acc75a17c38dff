"""Floors by their layers: what fits is taken, what does not is told with what to write."""

from __future__ import annotations

import pytest

from checker.design.materials import catalogue
from checker.design.tables import BadDesign, Tables

DESIGN = """\
design: 1
pipes:
  p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}
floors:
  boards:
    construction: layered
    layers:
      - {material: plywood, thickness: 20 mm, conductivity: 0.13 W/(m·K)}
      - {material: foam, thickness: 30 mm, conductivity: 0.035 W/(m·K), pipe_axis: 8 mm, PLATE}
      - {material: concrete, thickness: 150 mm, conductivity: 2 W/(m·K)}
    below: heated
loops:
  L1: {floor: boards, pipe: p16, spacing: 150 mm}
"""
PLATE = "plate: {thickness: 0.5 mm, width: 120 mm, conductivity: 200 W/(m·K)}"
WHOLE = DESIGN.replace("PLATE", PLATE)


def problems(design: str) -> list[str]:
    try:
        Tables().add("design.yaml", design.encode())
    except BadDesign as refused:
        return [f"{p.line}:{p.column} {p.message}" for p in refused.problems]
    return []


def test_a_floor_that_fits_is_taken() -> None:
    assert problems(WHOLE) == []
    tables = Tables()
    tables.add("design.yaml", WHOLE.encode())
    assert len(tables["layers"]) == 3
    assert list(tables["layers"].parents) == [0, 0, 0]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "pipe_axis: 8 mm",
            "pipe_axis: 7 mm",
            "9:84 floors.boards.layers[2].pipe_axis: a pipe of 16 mm sticks out of the top of its "
            "layer; write at least 8 mm.",
        ),
        (
            "pipe_axis: 8 mm",
            "pipe_axis: 9 mm",
            "9:84 floors.boards.layers[2].pipe_axis: the plate does not touch its pipe; for a pipe "
            "of 16 mm write 8 mm to 8.5 mm.",
        ),
        (
            "thickness: 30 mm",
            "thickness: 12 mm",
            "9:37 floors.boards.layers[2].thickness: a pipe of 16 mm with its axis 8 mm deep sticks "
            "out under its layer of 12 mm; that layer takes 16.5 mm.",
        ),
        (
            "width: 120 mm",
            "width: 160 mm",
            "9:124 floors.boards.layers[2].plate.width: the plate is wider than the 150 mm between "
            "its pipes; write at most that.",
        ),
        (
            "width: 120 mm",
            "width: 17 mm",
            "9:124 floors.boards.layers[2].plate.width: the plate hardly covers a pipe of 16 mm; "
            "write at least 18 mm.",
        ),
        (
            "thickness: 0.5 mm",
            "thickness: 5 mm",
            "9:109 floors.boards.layers[2].plate.thickness: the plate is too thick for a pipe of "
            "16 mm; look at the unit and the decimal point.",
        ),
        (
            "thickness: 150 mm, ",
            "thickness: 150 mm, pipe_axis: 60 mm, ",
            "10:60 floors.boards.layers[3].pipe_axis: a layer above holds the pipe already; a "
            "section has one layer of pipes.",
        ),
        (
            "pipe_axis: 8 mm, " + PLATE,
            "joists: {width: 45 mm, spacing: 400 mm, conductivity: 0.13 W/(m·K)}",
            "7:5 floors.boards.layers: no layer holds the pipe; give one 'pipe_axis: 8 mm', the "
            "depth under its top.",
        ),
        (
            "      - {material: plywood, thickness: 20 mm, conductivity: 0.13 W/(m·K)}\n",
            "",
            "8:84 floors.boards.layers[1].pipe_axis: the plate's ring stands out of the floor's "
            "top; put a layer over it, or write 8.5 mm.",
        ),
        (
            "thickness: 20 mm, conductivity: 0.13 W/(m·K)",
            "thickness: 20 mm, conductivity: 0.13 W/(m·K), " + PLATE,
            "8:94 floors.boards.layers[1].plate: the plate belongs to the layer that holds the "
            "pipe; write it there.",
        ),
        (
            "construction: layered",
            "construction: wet",
            "7:5 floors.boards.layers: a floor with layers is written 'construction: layered'.",
        ),
        (
            "    below: heated",
            "    screed: {material: cement}\n    below: heated",
            "11:5 floors.boards.screed: a layered floor has its screed among its layers; leave "
            "this out.",
        ),
        (
            "conductivity: 0.035 W/(m·K), pipe_axis: 8 mm, " + PLATE + "}",
            "conductivity: 1.4 W/(m·K), pipe_axis: 15 mm, "
            "joists: {width: 45 mm, spacing: 120 mm, conductivity: 0.13 W/(m·K)}}",
            "9:121 floors.boards.layers[2].joists.spacing: pipes 150 mm apart do not run between "
            "joists that are nearer; write the joists' own spacing.",
        ),
        (
            PLATE,
            "joists: {width: 135 mm, spacing: 400 mm, conductivity: 0.13 W/(m·K)}",
            "9:106 floors.boards.layers[2].joists.width: pipe and plate do not fit between joists "
            "with pipes 150 mm apart.",
        ),
        (
            "conductivity: 2 W/(m·K)}\n    below: heated",
            "conductivity: 2 W/(m·K)}\n    below: heated\n    build_up: 0 mm",
            "12:15 floors.boards.build_up: '0 mm' is outside what is possible here (1 mm to 2 m); "
            "look at the unit and the decimal point.",
        ),
    ],
)
def test_what_does_not_fit_is_told_with_what_to_write(old: str, new: str, told: str) -> None:
    assert old in WHOLE
    assert told in problems(WHOLE.replace(old, new))


def test_a_floor_over_the_ground_without_insulation_is_asked_for_it() -> None:
    bare = WHOLE.replace(PLATE, "").replace(", }", "}").replace("0.035", "1.4")
    assert problems(bare) == []
    ground = bare.replace("below: heated", "below: ground")
    (told,) = problems(ground)
    assert told.startswith("7:5 floors.boards.layers: nothing under the pipe insulates it")
    assert (
        problems(ground.replace("below: ground", "below: ground\n    insulation: 0 m²·K/W")) == []
    )


def test_each_pipe_and_spacing_is_told_once() -> None:
    more = WHOLE.replace("axis: 8 mm", "axis: 7 mm")
    more += "  L2: {floor: boards, pipe: p16, spacing: 150 mm}\n"
    assert len(problems(more)) == 1


def test_parts_and_feeds_of_a_loop_are_held_to_the_floor_too() -> None:
    whole = "L1: {floor: boards, pipe: p16, spacing: 150 mm}"
    for parts in (
        "L1: {pipe: p16, parts: [{floor: boards, spacing: 100 mm}, {floor: boards, spacing: 150 mm}]}",
        "L1: {pipe: p16, feeds: [{floor: boards, length: 4 m, spacing: 100 mm}]}",
    ):
        (told,) = problems(WHOLE.replace(whole, parts))
        assert "the plate is wider than the 100 mm between its pipes" in told


def test_layers_that_are_not_known_yet_may_be_left_out() -> None:
    some = DESIGN.splitlines()
    assert problems("\n".join([*some[:6], *some[10:]])) == []
    for part in (
        "thickness: 20 mm, ",
        "thickness: 30 mm, ",
        "thickness: 0.5 mm, ",
        "width: 120 mm, ",
    ):
        assert problems(WHOLE.replace(part, "")) == []


def test_the_catalogue_has_a_value_or_a_range_for_each_material() -> None:
    known = catalogue()
    assert known.source == "ISO 10456:2007, Table 3"
    for name, material in known.by_name.items():
        assert name == name.casefold()
        assert 0.01 <= material.least <= material.most <= 500
    assert known.find("OSB") is known.find("oriented  strand Board")
    plywood = known.find("plywood")
    assert plywood is not None
    assert plywood.conductivity is None
    softwood = known.find("Softwood")
    assert softwood is not None
    assert softwood.conductivity == 0.13
    assert known.find("wonder board") is None
