"""The example house that has a plan, and its drawing: drawn by construction, written as files.

python -m tests.geometry.example_house writes both into example_designs/drawings.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from ezdxf.filemanagement import new

from checker.arrays import Array
from checker.design.drawings import load
from checker.geometry.plan import rounded
from checker.intake.drawings import plan_text
from tests.geometry.drawings import PITCH, Drawn, box, spiral, width_of

FOLDER = Path(__file__).parents[2] / "example_designs" / "drawings"
NAME = "orchard-row-7"
BEND, SPACING, GAP = 0.09, 0.2, 0.1
HALL, WALL, HEADER = 1.5, 0.1, 10.8
ABOVE = [("shower", 1, 3, 3.9), ("study", 1, 4, 4.1), ("bed", 1, 4, 4.1)]
BELOW = [("living", 2, 4, 4.2), ("kitchen", 1, 4, 4.2)]
"""Rooms on both sides of the hall: loops side by side, rings of each, depth in m."""
MAP = """\
# How to read the drawing of Orchard Row 7.
drawing: 1
unit: mm
gap: 10 mm
layers:
  rooms: [ROOMS]
  routes: ['HEATING-*']
  joints: [JOINTS]
  outer_walls: [OUTER-WALLS]
  headers: [HEADER]
"""


def floor() -> tuple[dict[str, Array], dict[str, Drawn], dict[str, dict[str, Array]]]:
    """Rooms, routes and everything else, m."""
    rooms = {"hall": box(0, 0, 11.2, HALL)}
    routes: dict[str, Drawn] = {}
    ports, doors = [], []
    for names, up in ((ABOVE, True), (BELOW, False)):
        left, lanes = 0.0, []
        for name, loops, rings, depth in names:
            own = width_of(rings, SPACING, GAP)
            step = own - 2 * GAP + SPACING
            rooms[name] = box(
                left, HALL + WALL if up else -WALL - depth, own + (loops - 1) * step, depth
            )
            door = HALL + WALL / 2 if up else -WALL / 2
            doors.append(np.array([(left, door), (left + own + (loops - 1) * step, door)]))
            for loop in range(loops):
                title = name if loops == 1 else f"{name} {('west', 'east')[loop]}"
                lanes.append((title, left + loop * step, spiral(rings, SPACING, GAP, depth, BEND)))
            left += own + (loops - 1) * step + WALL
        for place, (title, x, one) in enumerate(lanes):
            offsets = [(2 * place + 0.5) * PITCH, (2 * place + 1.5) * PITCH]
            flow, back = (HALL / 2 + d if up else HALL / 2 - d for d in offsets)
            line = one.corners.copy()
            edge = HALL + WALL if up else -WALL
            line[:, 1] = edge + line[:, 1] if up else edge - line[:, 1]
            line[:, 0] += x
            start = np.array([(HEADER, flow), (line[0, 0], flow)])
            end = np.array([(line[-1, 0], back), (HEADER, back)])
            corners = np.concatenate((start, line[1:-1], end))
            routes[title] = Drawn(corners, BEND, 0.0, SPACING, GAP, one.area)
            ports.append((HEADER, (flow + back) / 2))
    wide = max(float(outline[:, 0].max()) for outline in rooms.values())
    top, low = HALL + WALL + 4.1, -WALL - 4.2
    others = {
        "joints": {f"door {number + 1}": door for number, door in enumerate(doors)},
        "outer_walls": {
            "north": np.array([(0.0, top), (wide, top)]),
            "south": np.array([(0.0, low), (wide, low)]),
        },
        "headers": {"H1": np.array(ports)},
    }
    return rooms, routes, others


def drawing() -> bytes:
    """The drawing as DXF, with texts as names."""
    rooms, routes, others = floor()
    document = new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()

    def add(line: Array, layer: str, *, closed: bool = False) -> None:
        points = [tuple(point) for point in line * 1000]
        space.add_lwpolyline(points, close=closed, dxfattribs={"layer": layer})

    def name(words: str, at: Array, layer: str) -> None:
        space.add_text(words, dxfattribs={"layer": layer, "height": 150}).set_placement(at * 1000)

    for room, outline in rooms.items():
        add(outline, "ROOMS", closed=True)
        name(room, outline.mean(axis=0), "ROOMS")
    for loop, one in routes.items():
        path = rounded(one.corners, one.bend)
        ends = [*path.bulges.tolist(), 0.0]
        bulged = [(x * 1000, y * 1000, b) for (x, y), b in zip(path.points, ends, strict=True)]
        space.add_lwpolyline(bulged, format="xyb", dxfattribs={"layer": f"HEATING-{loop}"})
    for layer, part in (("JOINTS", "joints"), ("OUTER-WALLS", "outer_walls")):
        document.layers.add(layer)
        for line in others[part].values():
            add(line, layer)
    add(others["headers"]["H1"], "HEADER")
    name("H1", others["headers"]["H1"][0] + np.array([0.1, 0.0]), "HEADER")
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def plan() -> str:
    """The plan that the drawing makes, as the design has it."""
    text, remarks = plan_text(
        f"{NAME}.dxf", (FOLDER / f"{NAME}.dxf").read_bytes(), load(MAP.encode())
    )
    assert not remarks, remarks
    return text[text.index("plan:") :]


def main() -> None:
    """Write the drawing and its map, and put its plan into the design."""
    (FOLDER / f"{NAME}.dxf").write_bytes(drawing())
    (FOLDER / f"{NAME}.map.yaml").write_text(MAP, "utf-8")
    design = FOLDER / f"{NAME}.yaml"
    text = design.read_text("utf-8") if design.exists() else "\nplan:\n"
    design.write_text(text[: text.index("\nplan:") + 1] + plan(), "utf-8")


if __name__ == "__main__":
    main()
