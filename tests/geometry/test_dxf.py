"""Drawings written as DXF and read back: the same figures, and nothing wrong in silence."""

from __future__ import annotations

import io
import random
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from ezdxf.filemanagement import new as new_drawing
from ezdxf.math import Matrix44, bulge_to_arc

from checker.design.drawings import DrawingMap, load, read
from checker.geometry.assembly import Assembled, Roles
from checker.geometry.dxf import WORTH_SIEVING, Unread
from checker.geometry.measuring import Measured, measure
from checker.geometry.plan import Array, Path, rounded
from checker.geometry.writing import as_text, corners
from tests.geometry.drawings import BEND, Drawn, House, box, house, spiral

VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
ROLES = Roles({"rooms": ("ROOMS",), "routes": ("UFH-*",), "headers": ("HEADERS",)}, gap=0.01)
MM = DrawingMap("mm", ROLES)
PIPES = DrawingMap("mm", Roles({"routes": ("UFH-*",)}, gap=0.01))
MILLI = 1000.0


def new(version: str = "R2018", unit: int | None = 4) -> Any:
    document = new_drawing(version)
    document.header["$INSUNITS"] = unit or 0
    return document


def saved(document: Any) -> bytes:
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8", "surrogateescape")


def one_spiral() -> tuple[Drawn, Path]:
    drawn = spiral(6, 0.15, 0.1, 4.9)
    return drawn, rounded(drawn.corners, BEND)


def bulged(path: Path, scale: float = MILLI) -> list[tuple[float, float, float]]:
    ends = [*path.bulges.tolist(), 0.0]
    return [(x * scale, y * scale, b) for (x, y), b in zip(path.points.tolist(), ends, strict=True)]


def add_route(space: Any, path: Path, layer: str, scale: float = MILLI) -> None:
    if space.doc.dxfversion == "AC1009":
        polyline = space.add_polyline2d(
            [(x, y) for x, y, _ in bulged(path, scale)], dxfattribs={"layer": layer}
        )
        for vertex, (_, _, bulge) in zip(polyline.vertices, bulged(path, scale), strict=True):
            vertex.dxf.bulge = bulge
    else:
        space.add_lwpolyline(bulged(path, scale), format="xyb", dxfattribs={"layer": layer})


def exploded(path: Path) -> list[tuple[str, Any]]:
    """The path as lines and arcs, in mm."""
    made: list[tuple[str, Any]] = []
    for start, end, bulge in zip(path.points[:-1], path.points[1:], path.bulges, strict=True):
        if bulge == 0:
            made.append(("line", (start * MILLI, end * MILLI)))
            continue
        centre, first, last, radius = bulge_to_arc(start * MILLI, end * MILLI, bulge)
        made.append(("arc", (centre, radius, np.degrees(first), np.degrees(last))))
    return made


def add_piece(space: Any, piece: tuple[str, Any], layer: str, *, back: bool = False) -> None:
    kind, given = piece
    if kind == "line":
        start, end = given[::-1] if back else given
        space.add_line(start, end, dxfattribs={"layer": layer})
    else:
        space.add_arc(*given, dxfattribs={"layer": layer})


def floor(document: Any, drawn: House) -> Any:
    """The whole house in a drawing, a layer a loop."""
    space = document.modelspace()
    for name, outline in drawn.plan.rooms.items():
        points = [tuple(point) for point in outline * MILLI]
        if document.dxfversion == "AC1009":
            space.add_polyline2d(points, close=True, dxfattribs={"layer": "ROOMS"})
        else:
            space.add_lwpolyline(points, close=True, dxfattribs={"layer": "ROOMS"})
        middle = outline.mean(axis=0) * MILLI
        space.add_text(name, dxfattribs={"layer": "ROOMS", "height": 200}).set_placement(middle)
    for name, path in drawn.plan.routes.items():
        add_route(space, path, f"UFH-{name}")
    ports = [tuple(point) for point in drawn.plan.headers["H1"] * MILLI]
    space.add_polyline2d(ports, dxfattribs={"layer": "HEADERS"})
    space.add_text("H1", dxfattribs={"layer": "HEADERS", "height": 100}).set_placement(
        (15000, ports[0][1])
    )
    return document


def taken(document: Any, how: DrawingMap = PIPES) -> Assembled:
    return read(saved(document), how)[0]


def measured(document: Any, how: DrawingMap = PIPES) -> Measured:
    return measure(taken(document, how).plan)


def length(document: Any, how: DrawingMap = PIPES, route: str = "L1") -> float:
    return taken(document, how).plan.routes[route].length


@pytest.mark.parametrize("version", VERSIONS)
def test_the_house_is_the_same_in_every_version(version: str) -> None:
    drawn = house()
    made = taken(floor(new(version), drawn), MM)
    assert made.plan.remarks == ()
    assert [*made.plan.rooms] == [*drawn.plan.rooms]
    plain, found = measure(drawn.plan), measure(made.plan)
    assert found.routes == plain.routes
    for name in ("length", "spacing", "wall_gap", "bend", "room", "port", "area", "crossings"):
        assert np.allclose(found.of_route[name], plain.of_route[name], atol=1e-4), name


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_blocks_mirrored_turned_nested_and_scaled_come_out_the_same(version: str) -> None:
    drawn, path = one_spiral()
    document = new(version)
    for name, scale in (("MM", MILLI), ("M", 1.0)):
        add_route(document.blocks.new(name), path, "0", scale)
    for piece in exploded(path):
        add_piece(document.blocks.get("MM2") or document.blocks.new("MM2"), piece, "0")
    nest = document.blocks.new("NEST")
    nest.add_blockref("MM2", (500, 0), dxfattribs={"layer": "0", "xscale": -1, "rotation": 30})
    space = document.modelspace()
    stands: list[tuple[str, dict[str, Any]]] = [
        ("MM", {}),
        ("MM", {"xscale": -1}),
        ("MM", {"xscale": -1, "rotation": 37}),
        ("MM", {"extrusion": (0, 0, -1)}),
        ("M", {"xscale": 1000, "yscale": 1000, "zscale": 1000}),
        ("MM2", {"yscale": -1, "rotation": 200}),
        ("NEST", {"xscale": -1}),
    ]
    for number, (block, attributes) in enumerate(stands):
        space.add_blockref(
            block, (50_000 * number, 0), dxfattribs={"layer": f"UFH-{number}", **attributes}
        )
    made = taken(document)
    assert made.plan.remarks == ()
    for number in range(7):
        assert made.plan.routes[f"{number}"].length == pytest.approx(drawn.length, abs=1e-3)


def test_a_stretched_block_is_as_long_as_it_then_is() -> None:
    _, path = one_spiral()
    document = new()
    add_route(document.blocks.new("B"), path, "0")
    document.modelspace().add_blockref(
        "B", (0, 0), dxfattribs={"layer": "UFH-L1", "xscale": 1.1, "yscale": 1.0}
    )
    # By hand: every chord of a fine one stretched in x.
    fine = np.concatenate(
        [
            np.array([start, end]) if not bulge else arc_points(start, end, bulge)
            for start, end, bulge in zip(
                path.points[:-1], path.points[1:], path.bulges, strict=True
            )
        ]
    ) * [1.1, 1.0]
    assert length(document) == pytest.approx(np.hypot(*np.diff(fine, axis=0).T).sum(), rel=2e-4)


def arc_points(start: Array, end: Array, bulge: float) -> Array:
    centre, first, last, radius = bulge_to_arc(start, end, bulge)
    angles = np.linspace(first, last if last > first else last + 2 * np.pi, 200)
    points = np.array([centre.x, centre.y]) + radius * np.stack((np.cos(angles), np.sin(angles)), 1)
    return points if np.hypot(*(points[0] - start)) < 1e-6 else points[::-1]


def test_far_from_the_origin_nothing_is_lost() -> None:
    drawn, path = one_spiral()
    document = new()
    add_route(document.modelspace(), Path(path.points + 5e6, path.bulges), "UFH-L1")
    assert length(document) == pytest.approx(drawn.length, rel=1e-4)


def test_curves_that_are_no_arcs_are_followed() -> None:
    document = new()
    space = document.modelspace()
    space.add_ellipse((0, 0), (1000, 0), 0.999999, 0, np.pi, dxfattribs={"layer": "UFH-half"})
    space.add_spline(
        fit_points=[(1000 * np.cos(a), 1000 * np.sin(a)) for a in np.linspace(0, np.pi, 60)],
        dxfattribs={"layer": "UFH-spline"},
    )
    space.add_arc((0, 0), 1000, 350, 170, dxfattribs={"layer": "UFH-arc"})
    routes = taken(document).plan.routes
    for name in ("half", "spline", "arc"):
        assert routes[name].length == pytest.approx(np.pi, rel=1e-3)
    assert measure(taken(document).plan).of_route["bend"][2] == pytest.approx(1.0)


def shuffled(path: Path, *, turned: bool = True, gap: float = 0.0) -> Any:
    """The route in single pieces, in any order, some of them turned round, with gaps (mm)."""
    chance = random.Random(3)
    document = new()
    pieces = exploded(path)
    chance.shuffle(pieces)
    for piece in pieces:
        if piece[0] == "line" and gap:
            start, end = (np.array(own) for own in piece[1])
            way = (end - start) / np.hypot(*(end - start))
            piece = ("line", (start + way * gap, end))
        back = turned and chance.random() < 0.5
        add_piece(document.modelspace(), piece, "UFH-L1", back=back)
    return document


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


def test_sharp_corners_get_the_maps_bend_also_of_a_3d_polyline() -> None:
    drawn, _ = one_spiral()
    document = new()
    points = [(x * MILLI, y * MILLI, 70) for x, y in drawn.corners.tolist()]
    document.modelspace().add_polyline3d(points, dxfattribs={"layer": "UFH-L1"})
    sharp = length(document)
    assert sharp == pytest.approx(np.abs(np.diff(drawn.corners, axis=0)).sum())
    roles = Roles(PIPES.roles.layers, bend=BEND)
    assert length(document, DrawingMap("mm", roles)) == pytest.approx(drawn.length, abs=1e-3)


@pytest.mark.parametrize("hide", ["off", "freeze"])
def test_layers_that_are_off_are_told(hide: str) -> None:
    _, path = one_spiral()
    document = new()
    getattr(document.layers.add("UFH-L1"), hide)()
    add_route(document.modelspace(), path, "UFH-L1")
    made = taken(document)
    assert made.plan.routes == {}
    assert "layer 'UFH-L1' is off or frozen: 1 not read" in made.plan.remarks


def test_what_stands_in_paper_space_alone_is_told() -> None:
    _, path = one_spiral()
    document = new()
    add_route(document.paperspace(), path, "UFH-L1")
    made = taken(document)
    assert made.plan.routes == {}
    assert "paper space: 1 not read, for only the model is" in made.plan.remarks


def test_a_pattern_without_a_layer_and_layers_without_a_part_are_told() -> None:
    _, path = one_spiral()
    document = new()
    add_route(document.modelspace(), path, "UFH-L1")
    add_route(document.modelspace(), path, "FURNITURE")
    made = taken(document, DrawingMap("mm", Roles({"routes": ("UFH-*",), "joints": ("JOINT*",)})))
    assert made.plan.remarks == ("no layer is named 'JOINT*' (joints)",)
    assert dict(made.unused) == {"FURNITURE": 1}


def test_hatches_and_dimensions_on_a_layer_are_told() -> None:
    _, path = one_spiral()
    document = new()
    space = document.modelspace()
    add_route(space, path, "UFH-L1")
    hatch = space.add_hatch(dxfattribs={"layer": "UFH-L1"})
    hatch.paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
    assert taken(document).plan.remarks == ("1 × HATCH, not read",)


def test_a_unit_that_contradicts_the_map_is_told_and_no_unit_is_refused() -> None:
    drawn, path = one_spiral()
    document = new(unit=1)
    add_route(document.modelspace(), path, "UFH-L1")
    made = taken(document)
    assert made.plan.remarks == ("it says that it is drawn in in; mm is taken",)
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, abs=1e-3)
    none = new(unit=None)
    add_route(none.modelspace(), path, "UFH-L1")
    with pytest.raises(Unread, match="write 'unit: mm'"):
        taken(none, DrawingMap("", PIPES.roles))
    inches = taken(document, DrawingMap("", PIPES.roles))
    assert inches.plan.routes["L1"].length == pytest.approx(drawn.length * 25.4, rel=1e-6)


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


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "This is no DXF file"),
        (b"AC1027\0\0", "This is a DWG file; save the drawing as DXF"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00rest", "binary DXF"),
        (b"  0\nSECTION\n  2\nENTITIES\n  0\nLINE\n 10\nx\n", "cut off"),
        (b"%PDF-1.7", "This is no DXF file"),
    ],
)
def test_what_is_no_drawing_is_refused_in_words(data: bytes, said: str) -> None:
    with pytest.raises(Unread, match=said):
        read(data, MM)


def test_a_block_in_itself_stops_and_is_told() -> None:
    document = new()
    block = document.blocks.new("B")
    block.add_blockref("B", (10, 0), dxfattribs={"layer": "0"})
    add_route(block, rounded(np.array([(0.0, 0.0), (1.0, 0.0)]), 0.1), "0")
    document.modelspace().add_blockref("B", (0, 0), dxfattribs={"layer": "UFH-L1"})
    made = taken(document)
    assert any("block deeper than 8 levels" in said for said in made.plan.remarks)


@pytest.mark.parametrize("grid", [False, True])
def test_a_small_file_that_unfolds_to_a_million_lines_is_refused(grid: bool) -> None:
    document = new()
    last = document.blocks.new("B0")
    last.add_line((0, 0), (1, 0), dxfattribs={"layer": "UFH-L1"})
    for level in range(1, 7):
        block = document.blocks.new(f"B{level}")
        for number in range(10):
            block.add_blockref(f"B{level - 1}", (number, 0))
    attributes = {"column_count": 3000, "row_count": 3000} if grid else {}
    document.modelspace().add_blockref("B0" if grid else "B6", (0, 0), dxfattribs=attributes)
    with pytest.raises(Unread, match=r"50,000 entities|stands 9,000,000 times"):
        read(saved(document), MM)


def test_a_tilted_entity_is_told() -> None:
    document = new()
    document.modelspace().add_circle(
        (0, 0), 100, dxfattribs={"layer": "UFH-L1", "extrusion": (0, 1, 1)}
    )
    assert "1 not in the plane of the plan, not read" in taken(document).plan.remarks


def test_mirrored_whole_it_is_the_same() -> None:
    drawn = house()
    document = floor(new(), drawn)
    for entity in document.modelspace():
        if entity.dxftype() != "TEXT":
            entity.transform(Matrix44.scale(-1, 1, 1))
        else:
            x, y, _ = entity.dxf.insert
            entity.set_placement((-x, y))
    plain, found = measure(drawn.plan), measured(document, MM)
    for name in ("length", "spacing", "wall_gap", "bend", "port"):
        assert np.allclose(found.of_route[name], plain.of_route[name], atol=1e-4), name


def test_among_ten_thousand_foreign_lines_it_is_the_same() -> None:
    drawn = house()
    document = floor(new(), drawn)
    space = document.modelspace()
    for number in range(10_000):
        space.add_line((number, 0), (number, 10), dxfattribs={"layer": "FURNITURE"})
    data = saved(document)
    assert len(data) > WORTH_SIEVING
    made = read(data.replace(b"\n", b"\r\n"), MM)[0]
    assert made.plan.remarks == ()
    assert dict(made.unused) == {"FURNITURE": 10_000}
    for name, known in drawn.routes.items():
        assert made.plan.routes[name].length == pytest.approx(known.length, abs=1e-3)


def test_a_damaged_drawing_is_mended_and_told() -> None:
    _, path = one_spiral()
    document = new()
    add_route(document.modelspace(), path, "UFH-L1")
    made = read(saved(document).replace(b"AcDbPolyline\n 90\n", b"AcDbPolyline\n 90\nx", 1), PIPES)[
        0
    ]
    assert made.plan.remarks == ("the file is damaged, and 1 faults of it were mended",)
    assert made.plan.routes["L1"].length == pytest.approx(path.length, abs=1e-3)


# ---- the map


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("drawing: 1\nlayers: {routes: UFH-*}\nunt: mm\n", "3:1 the key 'unt' is not known"),
        ("drawing: 1\n", "1:1 'layers' is missing"),
        ("drawing: 1\nlayers: {pipes: A}\n", "2:10 there is no part 'pipes' of a plan"),
        ("drawing: 1\nlayers: {routes: {}}\n", "2:18 a layer's name is wanted here"),
        ("drawing: 1\nlayers: {routes: A}\ngap: 10\n", "3:6 gap: 10 has no unit"),
        ("drawing: 1\nlayers: {routes: A}\ngap: 1 m\n", "3:6 gap: '1 m' is outside"),
        ("drawing: 1\nlayers: {routes: A}\nunit: mile\n", "3:7 unit: 'mile' is not taken"),
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


# ---- back to text


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
