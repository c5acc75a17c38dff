"""Lines of a drawing to a plan: ends, doubles, branches, outlines and names; the map; and back."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from checker.design.drawings import DrawingMap, load
from checker.geometry.assembly import Roles
from checker.geometry.measuring import measure
from checker.geometry.plan import Path, rounded
from checker.geometry.writing import as_text, corners
from tests.geometry.drawings import BEND, box, house
from tests.geometry.dxf_files import (
    MILLI,
    MM,
    PIPES,
    add_route,
    floor,
    measured,
    new,
    one_spiral,
    shuffled,
    taken,
)


def test_exploded_and_shuffled_it_is_one_route_again() -> None:
    drawn, path = one_spiral()
    made = taken(shuffled(path))
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, abs=1e-3)
    assert made.plan.remarks == ()
    assert made.notes == ["'L1': which end is the flow is not known"]
    assert made.plan.undirected == {"L1"}


@pytest.mark.parametrize("gap", [1.0, 8.0, 20.0])
def test_small_gaps_are_closed_and_counted(gap: float) -> None:
    drawn, path = one_spiral()
    roles = Roles(PIPES.roles.layers, gap=0.025)
    made = taken(shuffled(path, turned=False, gap=gap), DrawingMap("mm", roles))
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, rel=1e-3)
    assert any("gaps up to 25 mm closed" in note for note in made.notes)


def test_wide_gaps_leave_no_route_and_say_how_wide() -> None:
    _, path = one_spiral()
    roles = Roles(PIPES.roles.layers, gap=0.025)
    made = taken(shuffled(path, turned=False, gap=40.0), DrawingMap("mm", roles))
    assert made.plan.routes == {}
    (said,) = made.plan.remarks
    assert "'L1' is in " in said
    assert "gaps of 40 to 40 mm; not taken" in said


@pytest.mark.parametrize("back", [False, True])
def test_a_line_drawn_twice_counts_once_and_is_told_turned_round_too(back: bool) -> None:
    drawn, path = one_spiral()
    document = new()
    add_route(document.modelspace(), path, "UFH-L1")
    other = Path(path.points[::-1], -path.bulges[::-1]) if back else path
    add_route(document.modelspace(), other, "UFH-L1")
    made = taken(document)
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, abs=1e-3)
    assert made.plan.remarks == ("layer 'UFH-L1': 1 drawn twice, taken once",)


def test_half_drawn_over_again_is_told() -> None:
    _, path = one_spiral()
    document = new()
    add_route(document.modelspace(), path, "UFH-L1")
    half = len(path.bulges) // 2
    add_route(document.modelspace(), Path(path.points[:half], path.bulges[: half - 1]), "UFH-L1")
    # Its start joins that of the whole: the pipe turns straight back there, and lies on itself.
    again = float(path.lengths[: half - 1].sum())
    over = measured(document).of_route["drawn_over"][0]
    assert over == pytest.approx(2 * again, rel=0.1)


def test_a_pipe_drawn_as_two_lines_is_no_route() -> None:
    _, path = one_spiral()
    document = new()
    for side in (8.0, -8.0):
        moved = Path(path.points + np.array([side, side]) / MILLI, path.bulges)
        add_route(document.modelspace(), moved, "UFH-L1")
    made = taken(document)
    assert made.plan.routes == {}
    assert "two edges of a pipe" in made.plan.remarks[0]


def test_a_branch_is_told_with_its_place() -> None:
    document = new()
    space = document.modelspace()
    for end in ((2000, 0), (1000, 900), (1000, -900)):
        space.add_line((1000, 0), end, dxfattribs={"layer": "UFH-L1"})
    made = taken(document)
    assert made.plan.remarks[0] == "'L1' branches at 1.00 0.00 (m)"
    assert made.plan.routes == {}


def test_flow_and_return_drawn_to_one_point_are_told_and_opened_there() -> None:
    document = new()
    ring = np.array([(14.8, 0.8), (1.0, 0.8), (1.0, 0.2), (14.8, 0.2), (14.8, 0.8)])
    space = document.modelspace()
    for start, end in pairwise(ring):
        space.add_line(start * MILLI, end * MILLI, dxfattribs={"layer": "UFH-L1"})
    space.add_polyline2d([(14800, 100), (14800, 160)], dxfattribs={"layer": "HEADERS"})
    how = DrawingMap("mm", Roles({"routes": ("UFH-*",), "headers": ("HEADERS",)}))
    made = taken(document, how)
    assert made.plan.remarks == ("'L1' closes to a ring: flow and return end at one point",)
    assert made.plan.routes["L1"].length == pytest.approx(2 * 13.8 + 2 * 0.6)
    assert made.plan.routes["L1"].points[0].tolist() == [14.8, 0.2]


def test_scraps_are_told_and_left() -> None:
    drawn, path = one_spiral()
    document = new()
    add_route(document.modelspace(), path, "UFH-L1")
    document.modelspace().add_line((9000, 0), (9050, 0), dxfattribs={"layer": "UFH-L1"})
    made = taken(document)
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, abs=1e-3)
    assert made.plan.remarks == ("'L1': 1 scraps shorter than 0.2 m, not taken",)


def test_a_pattern_without_a_layer_and_layers_without_a_part_are_told() -> None:
    _, path = one_spiral()
    document = new()
    add_route(document.modelspace(), path, "UFH-L1")
    add_route(document.modelspace(), path, "FURNITURE")
    made = taken(document, DrawingMap("mm", Roles({"routes": ("UFH-*",), "joints": ("JOINT*",)})))
    assert made.plan.remarks == ("no layer is named 'JOINT*' (joints)",)
    assert dict(made.unused) == {"FURNITURE": 1}


def test_rooms_of_loose_lines_are_closed_and_named() -> None:
    document = new()
    space = document.modelspace()
    chance = random.Random(1)
    lines = [((0, 0), (8000, 0)), ((0, 4000), (8000, 4000))]
    lines += [((x, 0), (x, 4000)) for x in (0, 5000, 8000)]
    for start, end in lines:
        rough = [[value + chance.uniform(-3, 3) for value in point] for point in (start, end)]
        space.add_line(*rough, dxfattribs={"layer": "ROOMS"})
    for name, x in (("left", 2500), ("right", 6500)):
        space.add_text(name, dxfattribs={"layer": "ROOMS"}).set_placement((x, 2000))
    made = taken(document, MM)
    found = measure(made.plan)
    assert dict(zip(found.rooms, found.of_room["area"], strict=True)) == {
        "left": pytest.approx(20.0, rel=0.002),
        "right": pytest.approx(12.0, rel=0.002),
    }


def test_an_outline_without_a_name_and_a_second_of_one_name_are_told() -> None:
    document = new()
    space = document.modelspace()
    for x in (0, 5000, 10_000):
        outline = [tuple(point) for point in box(x, 0, 4000, 4000)]
        space.add_lwpolyline(outline, close=True, dxfattribs={"layer": "ROOMS"})
        if x < 10_000:
            text = space.add_mtext("bed", dxfattribs={"layer": "ROOMS", "insert": (x + 100, 100)})
            assert text
    made = taken(document, MM)
    assert [*made.plan.rooms] == ["bed"]
    assert any("two outlines are named 'bed'" in said for said in made.plan.remarks)
    assert any("16.0 m² at 12.00 2.00 (m) has no name" in said for said in made.plan.remarks)


def test_pipes_named_by_text_take_the_nearest() -> None:
    drawn = house()
    document = new()
    space = document.modelspace()
    for name, path in drawn.plan.routes.items():
        add_route(space, path, "PIPES")
        x, y = path.points[len(path.points) // 2] * MILLI
        space.add_text(name, dxfattribs={"layer": "TAGS", "height": 50}).set_placement((x + 20, y))
    add_route(space, rounded(np.array([(30.0, 0.0), (33.0, 0.0)]), BEND), "PIPES")
    roles = Roles({"routes": ("PIPES",)}, labels=("TAGS",), named_by="text")
    made = taken(document, DrawingMap("mm", roles))
    for name, known in drawn.routes.items():
        assert made.plan.routes[name].length == pytest.approx(known.length, abs=1e-3)
    assert made.plan.remarks == ("a pipe of 3.0 m from 30.00 0.00 (m) has no name, not taken",)


def test_names_of_rooms_and_headers_name_no_pipe_that_lies_nearer() -> None:
    drawn = house()
    document = floor(new(), drawn)
    space = document.modelspace()
    for entity in [*space.query("LWPOLYLINE")]:
        if entity.dxf.layer.startswith("UFH-"):
            x, y = entity[len(entity) // 2][:2]
            attributes = {"layer": "TAGS", "height": 50}
            space.add_text(entity.dxf.layer[4:], dxfattribs=attributes).set_placement((x + 20, y))
            entity.dxf.layer = "PIPES"
    layers: dict[str, tuple[str, ...]] = {
        "routes": ("PIPES",),
        "rooms": ("ROOMS",),
        "headers": ("HEADERS",),
    }
    made = taken(document, DrawingMap("mm", Roles(layers, labels=("TAGS",), named_by="text")))
    assert made.plan.remarks == ()
    assert {*made.plan.routes} == {*drawn.routes}
    assert [*made.plan.rooms] == [*drawn.plan.rooms]
    assert [*made.plan.headers] == ["H1"]


def test_two_pipes_whose_ends_stand_within_the_gap_are_told_as_one_with_two_names() -> None:
    document = new()
    space = document.modelspace()
    for name, x in (("L1", 0), ("L2", 3050)):
        space.add_line((x, 0), (x + 3000, 0), dxfattribs={"layer": "PIPES"})
        attributes = {"layer": "PIPES", "height": 50}
        space.add_text(name, dxfattribs=attributes).set_placement((x + 1500, 20))
    roles = Roles({"routes": ("PIPES",)}, named_by="text", gap=0.06)
    made = taken(document, DrawingMap("mm", roles))
    assert made.plan.remarks == ("a pipe of 6.0 m is named 'L1', the nearest text, and also 'L2'",)


def test_feeds_drawn_as_one_line_for_two_pipes_branch_and_are_told() -> None:
    document = new()
    space = document.modelspace()
    ring = [(5000, 0), (5000, 3000), (8000, 3000), (8000, 0), (5100, 0)]
    space.add_line((0, 0), (5000, 0), dxfattribs={"layer": "UFH-L1"})
    space.add_lwpolyline([*ring, (5000, 0)], dxfattribs={"layer": "UFH-L1"})
    made = taken(document)
    assert made.plan.routes == {}
    assert made.plan.remarks[0] == "'L1' branches at 5.00 0.00 (m)"


def test_two_floors_side_by_side_with_the_same_names_are_told() -> None:
    drawn = house()
    document = floor(new(), drawn)
    space = document.modelspace()
    for entity in [*space]:
        copy = entity.copy()
        copy.translate(50_000, 0, 0)
        space.add_entity(copy)
    made = taken(document, MM)
    said = " ".join(made.plan.remarks)
    for name in drawn.plan.rooms:
        assert f"two outlines are named '{name}', the second not taken" in said
    assert "two headers are named 'H1', the second not taken" in said
    assert made.plan.routes == {}
    assert said.count("two edges of a pipe, or two pipes; not taken") == len(drawn.routes)


def test_walls_of_two_lines_give_the_room_within() -> None:
    document = new()
    space = document.modelspace()
    for inner, outer in (((0, 0, 5000, 4000), (-100, -100, 5200, 4200)),):
        for x, y, width, height in (inner, outer):
            points = [tuple(point) for point in box(x, y, width, height)]
            for start, end in pairwise([*points, points[0]]):
                space.add_line(start, end, dxfattribs={"layer": "ROOMS"})
    space.add_text("bed", dxfattribs={"layer": "ROOMS"}).set_placement((2500, 2000))
    made = taken(document, MM)
    found = measure(made.plan)
    assert found.rooms == ["bed"]
    assert found.of_room["area"].tolist() == [pytest.approx(20.0, rel=1e-3)]
    assert not any("crosses itself" in said for said in made.plan.remarks)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("drawing: 1\nlayers: {routes: UFH-*}\nunt: mm\n", "3:1 the key 'unt' is not known"),
        ("drawing: 1\n", "1:1 'layers' is missing"),
        ("drawing: 1\nlayers: {pipes: A}\n", "2:10 there is no part 'pipes' of a plan"),
        ("drawing: 1\nlayers: {routes: {}}\n", "2:18 a layer's name is expected here"),
        ("drawing: 1\nlayers: {routes: A}\ngap: 10\n", "3:6 gap: 10 has no unit"),
        ("drawing: 1\nlayers: {routes: A}\ngap: 1 m\n", "3:6 gap: '1 m' is outside"),
        ("drawing: 1\nlayers: {routes: A}\nunit: mile\n", "3:7 unit: 'mile' is not allowed"),
        ("drawing: 1\nlayers: {routes: A}\nnamed_by: colour\n", "3:11 named_by: 'colour'"),
        ("layers: {routes: A}\n", "1:1 the file starts with 'drawing: 1'"),
    ],
)
def test_a_mistake_in_a_map_is_told_with_its_place(text: str, said: str) -> None:
    from checker.design.drawings import BadMap

    with pytest.raises(BadMap) as bad:
        load(text.encode())
    assert any(f"{p.line}:{p.column} {p.message}".startswith(said) for p in bad.value.problems)


def test_a_whole_map_is_read() -> None:
    how = load(
        b"drawing: 1\nunit: mm\ngap: 25 mm\nbend: 75 mm\nnamed_by: text\nlabels: TAGS\n"
        b"layers: {routes: [UFH-*, PIPES], rooms: ROOMS}\n"
    )
    assert how.unit == "mm"
    assert how.roles == Roles(
        {"routes": ("UFH-*", "PIPES"), "rooms": ("ROOMS",)},
        ("TAGS",),
        "text",
        0.025,
        0.075,
    )


def test_written_as_text_and_read_back_it_measures_the_same() -> None:
    from checker.design.tables import Tables

    drawn = house()
    drawn.plan.routes["L6"] = rounded(drawn.routes["L6"].corners, 0.03)
    text = as_text(taken(floor(new(), drawn), MM).plan, "mm", 0.001)
    assert "  bend: 75 mm\n  bends:\n    L6: 30 mm\n" in text
    tables = Tables()
    tables.add("a.yaml", f"design: 1\n{text}".encode())
    again, plain = tables.drawings[0].measured, measure(drawn.plan)
    for name in ("length", "spacing", "wall_gap", "bend", "area", "port"):
        assert np.allclose(again.of_route[name], plain.of_route[name], atol=2e-3), name


@pytest.mark.parametrize("make", [lambda: one_spiral()[1]])
def test_corners_of_half_circles_are_two(make: Callable[[], Path]) -> None:
    turn = Path(np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 0.2), (0.0, 0.2)]), np.array([0, 1.0, 0]))
    assert np.allclose(corners(turn, 0.1), [(0, 0), (1.1, 0), (1.1, 0.2), (0, 0.2)])
    path = make()
    assert rounded(corners(path, BEND), BEND).length == pytest.approx(path.length, abs=1e-9)
