"""Drawings written as DXF by construction, and read back."""

from __future__ import annotations

import io
import random
from typing import Any

import numpy as np
from ezdxf.filemanagement import new as new_drawing
from ezdxf.math import bulge_to_arc

from checker.arrays import Array
from checker.design.drawings import DrawingMap, read
from checker.geometry.assembly import Assembled, Roles
from checker.geometry.measured import Measured
from checker.geometry.measuring import measure
from checker.geometry.plan import Path, rounded
from tests.geometry.drawings import BEND, Drawn, House, spiral

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


def arc_points(start: Array, end: Array, bulge: float) -> Array:
    centre, first, last, radius = bulge_to_arc(start, end, bulge)
    angles = np.linspace(first, last if last > first else last + 2 * np.pi, 200)
    points = np.array([centre.x, centre.y]) + radius * np.stack((np.cos(angles), np.sin(angles)), 1)
    return points if np.hypot(*(points[0] - start)) < 1e-6 else points[::-1]


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


def in_block(document: Any, path: Path, name: str = "B", layer: str = "0") -> Any:
    """A block with the route in it, on a layer."""
    add_route(document.blocks.new(name), path, layer)
    return document


# ---- the map


# ---- back to text
