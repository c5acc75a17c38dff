"""Drawings read back from DXF: the same figures, and nothing wrong in silence."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from ezdxf.filemanagement import new as new_drawing
from ezdxf.math import Matrix44

from checker.design.drawings import DrawingMap, read
from checker.geometry import dxf
from checker.geometry.assembly import Roles
from checker.geometry.dxf import WORTH_SIEVING, Unread
from checker.geometry.measuring import measure
from checker.geometry.plan import Path, rounded
from tests.geometry.drawings import BEND, house
from tests.geometry.dxf_files import (
    MILLI,
    MM,
    PIPES,
    VERSIONS,
    add_piece,
    add_route,
    arc_points,
    exploded,
    floor,
    in_block,
    length,
    measured,
    new,
    one_spiral,
    saved,
    taken,
)


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
    assert "1 on layer 'UFH-L1', which is off or frozen, not read" in made.plan.remarks


def test_what_stands_in_paper_space_alone_is_told() -> None:
    _, path = one_spiral()
    document = new()
    add_route(document.paperspace(), path, "UFH-L1")
    made = taken(document)
    assert made.plan.routes == {}
    assert "1 in paper space, not read: only the model is" in made.plan.remarks


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
def test_a_small_file_that_unfolds_to_a_million_lines_is_refused(
    grid: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert dxf.MOST_WANTED == 50_000
    monkeypatch.setattr(dxf, "MOST_WANTED", 2000)
    document = new()
    last = document.blocks.new("B0")
    last.add_line((0, 0), (1, 0), dxfattribs={"layer": "UFH-L1"})
    for level in range(1, 7):
        block = document.blocks.new(f"B{level}")
        for number in range(10):
            block.add_blockref(f"B{level - 1}", (number, 0))
    attributes = {"column_count": 3000, "row_count": 3000} if grid else {}
    document.modelspace().add_blockref("B0" if grid else "B6", (0, 0), dxfattribs=attributes)
    with pytest.raises(Unread, match=r"2,000 entities|stands 9,000,000 times"):
        read(saved(document), MM)


def test_what_stands_in_paper_space_within_blocks_is_counted() -> None:
    _, path = one_spiral()
    document = in_block(new(), path, layer="UFH-L1")
    nest = document.blocks.new("NEST")
    for x in (0, 9000):
        nest.add_blockref("B", (x, 0))
    document.paperspace().add_blockref("NEST", (0, 0))
    document.paperspace().add_blockref("B", (0, 0), dxfattribs={"layer": "FRAME"})
    made = taken(document)
    assert made.plan.routes == {}
    assert "3 in paper space, not read: only the model is" in made.plan.remarks


@pytest.mark.parametrize("way", [(0, 1, 1), (1, 0, 0), (0.1, 0, 1)])
def test_a_tilted_insert_is_told_with_what_it_holds(way: tuple[float, float, float]) -> None:
    _, path = one_spiral()
    document = in_block(new(), path)
    document.blocks.get("B").add_line((0, 0), (1, 0), dxfattribs={"layer": "FURNITURE"})
    attributes = {"layer": "UFH-L1", "extrusion": way}
    document.modelspace().add_blockref("B", (0, 0), dxfattribs=attributes)
    made = taken(document)
    assert made.plan.routes == {}
    assert "1 not in the plane of the plan, not read" in made.plan.remarks


def test_a_block_on_a_layer_that_is_off_is_told_only_for_what_is_wanted_of_it() -> None:
    drawn, path = one_spiral()
    document = in_block(new(), path, layer="UFH-L2")
    document.blocks.new("SOFA").add_line((0, 0), (1, 0))
    document.layers.add("FURNITURE").off()
    for name in ("SOFA", "B"):
        document.modelspace().add_blockref(name, (0, 0), dxfattribs={"layer": "FURNITURE"})
    add_route(document.modelspace(), path, "UFH-L1")
    made = taken(document)
    assert made.plan.remarks == ("1 on layer 'FURNITURE', which is off or frozen, not read",)
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, abs=1e-3)


def test_what_is_invisible_is_no_pipe_and_is_told() -> None:
    drawn, path = one_spiral()
    document = new()
    space = document.modelspace()
    add_route(space, path, "UFH-L1")
    for end in ((3000, 9000), (5000, 9000)):
        attributes = {"layer": "UFH-L1", "invisible": 1}
        space.add_line((9000, 9000), end, dxfattribs=attributes)
    made = taken(document)
    assert made.plan.remarks == ("2 invisible, not read",)
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, abs=1e-3)


def test_an_external_reference_and_a_missing_block_are_told() -> None:
    _, path = one_spiral()
    document = new()
    document.add_xref_def("walls.dxf", "WALLS")
    space = document.modelspace()
    add_route(space, path, "UFH-L1")
    for name in ("WALLS", "GONE"):
        space.add_blockref(name, (0, 0))
    assert set(taken(document).plan.remarks) == {
        "1 × external reference 'WALLS', not read",
        "1 × block 'GONE' that is not in the file, not read",
    }


def test_a_clipped_block_is_told() -> None:
    drawn, path = one_spiral()
    document = in_block(new(), path)
    insert = document.modelspace().add_blockref("B", (0, 0), dxfattribs={"layer": "UFH-L1"})
    insert.new_extension_dict().add_dictionary("ACAD_FILTER")
    made = taken(document)
    assert made.plan.remarks == ("block 'B' is clipped: taken whole, with 1 entities",)
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, abs=1e-3)


@pytest.mark.parametrize("version", ["R12", "R2018"])
def test_a_3d_polyline_that_climbs_is_told_and_one_that_does_not_is_like_any(version: str) -> None:
    drawn, path = one_spiral()
    flat = [(x * MILLI, y * MILLI, 70) for x, y in drawn.corners.tolist()]
    climbing = [*flat[:-1], (*flat[-1][:2], 570)]
    roles = DrawingMap("mm", Roles(PIPES.roles.layers, bend=BEND))
    for points, remarks in (
        (flat, ()),
        (climbing, ("1 lines rise or fall, by up to 0.50 m: taken as they are seen from above",)),
    ):
        document = new(version)
        document.modelspace().add_polyline3d(points, dxfattribs={"layer": "UFH-L1"})
        made = taken(document, roles)
        assert made.plan.remarks == remarks
        assert made.plan.routes["L1"].length == pytest.approx(path.length, abs=1e-3)


def test_a_3d_polyline_is_not_mirrored_by_the_plane_that_it_names() -> None:
    drawn, _ = one_spiral()
    document = new()
    points = [(x * MILLI, y * MILLI, 0) for x, y in drawn.corners.tolist()]
    attributes = {"layer": "UFH-L1", "extrusion": (0, 0, -1)}
    document.modelspace().add_polyline3d(points, dxfattribs=attributes)
    assert taken(document).plan.routes["L1"].points[0].tolist() == drawn.corners[0].tolist()


def test_a_line_that_names_a_tilted_plane_lies_where_its_ends_are() -> None:
    document = new()
    attributes = {"layer": "UFH-L1", "extrusion": (0, 1, 0)}
    document.modelspace().add_line((0, 0), (5000, 0), dxfattribs=attributes)
    made = taken(document)
    assert made.plan.remarks == ()
    assert made.plan.routes["L1"].length == pytest.approx(5.0)


def test_floors_over_one_another_are_told_also_from_blocks() -> None:
    _, path = one_spiral()
    document = in_block(new(), path)
    for number, height in enumerate((0, 2800)):
        attributes = {"layer": f"UFH-L{number}"}
        document.modelspace().add_blockref("B", (0, 0, height), dxfattribs=attributes)
    (said,) = taken(document).plan.remarks
    assert said.startswith("lines lie at heights from 0.00 to 2.80 m: if they are of several")


def test_what_has_no_length_is_told() -> None:
    drawn, path = one_spiral()
    document = new()
    space = document.modelspace()
    add_route(space, path, "UFH-L1")
    space.add_line((5, 5), (5, 5), dxfattribs={"layer": "UFH-L1"})
    made = taken(document)
    assert made.plan.remarks == ("1 × LINE that is not a line in plan, not read",)
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, abs=1e-3)


def test_a_dimension_on_a_layer_of_pipes_is_told() -> None:
    drawn, path = one_spiral()
    document = new_drawing("R2018", setup=True)
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    add_route(space, path, "UFH-L1")
    space.add_linear_dim(
        base=(0, -500), p1=(0, 0), p2=(4000, 0), dxfattribs={"layer": "UFH-L1"}
    ).render()
    made = taken(document)
    assert made.plan.remarks == ("1 × DIMENSION, not read",)
    assert made.plan.routes["L1"].length == pytest.approx(drawn.length, abs=1e-3)


def test_r12_which_can_name_no_unit_wants_one_in_the_map() -> None:
    drawn, path = one_spiral()
    document = new("R12", unit=None)
    add_route(document.modelspace(), path, "UFH-L1")
    with pytest.raises(Unread, match="write 'unit: mm'"):
        taken(document, DrawingMap("", PIPES.roles))
    assert length(document) == pytest.approx(drawn.length, abs=1e-3)


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
