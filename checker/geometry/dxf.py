"""A drawing in DXF to lines in metres: every entity read, or told and counted.

The one place that imports ezdxf (extra `drawing`). Blocks are walked here and not unfolded by the
library, so that their number is known before it is paid for.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from checker.geometry.plan import Array, Path, flattened

LARGEST = 64 * 1024 * 1024
"""Bytes of one drawing; a floor of twelve loops has 0.1 MB, a whole architect's plan some 20."""
MOST_ENTITIES = 200_000
"""Entities of one drawing, every block counted at each place where it stands."""
MOST_WANTED = 50_000
"""Entities on the layers asked for; twelve loops in single lines and arcs are some 800."""
DEEPEST = 8
"""Blocks within blocks."""
WORTH_SIEVING = 1_000_000
"""Characters of a drawing from which on it is sieved before the library reads it."""
FLATNESS = 0.0005
"""m between a curve that is no arc and the chords that it is read as."""
FINE = np.pi / 64
"""The most that a chord of a stretched arc turns: 0.01 % short."""
MOST_CHORDS = 2_000
"""Points that one such curve becomes at most."""
NOT_FLAT = 1e-3
"""Lean of an entity's plane out of the drawing's from which on it is not taken."""

UNITS = {
    1: ("in", 0.0254),
    2: ("ft", 0.3048),
    4: ("mm", 0.001),
    5: ("cm", 0.01),
    6: ("m", 1.0),
    14: ("dm", 0.1),
}
"""Units by the number in a DXF's header ($INSUNITS), and in metres."""


_LAYER = re.compile(r"\n *8\n([^\n]*)\n")
_SINGLE = frozenset(
    (
        "LINE",
        "LWPOLYLINE",
        "ARC",
        "CIRCLE",
        "ELLIPSE",
        "SPLINE",
        "POINT",
        "SOLID",
        "HATCH",
        "3DFACE",
    )
)
"""Kinds of entity that consist of one record."""


class Unread(Exception):
    """A file that is no drawing that can be taken, in words for the person."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a drawing: its layer, its way (m), and whether it closes itself."""

    layer: str
    path: Path
    closed: bool


@dataclass(frozen=True, slots=True)
class Label:
    """One text of a drawing: its layer, what it says, and where it stands (m)."""

    layer: str
    text: str
    at: tuple[float, float]


@dataclass(slots=True)
class Drawing:
    """What a drawing holds on the layers asked for.

    unit: as its header has it, empty where it says none; unread: what was left, with how many.
    """

    unit: str
    lines: list[Line] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    layers: Counter[str] = field(default_factory=Counter)
    """Lines and texts of every layer that is on, wanted or not."""
    unread: Counter[str] = field(default_factory=Counter)
    remarks: list[str] = field(default_factory=list)


def read_drawing(data: bytes, wanted: Callable[[str], bool], metre: float | None) -> Drawing:
    """The lines and texts of a drawing's model space on wanted layers, m.

    metre: what one of its units is in metres; None for what its own header says. Raises Unread.
    """
    layers: Counter[str] = Counter()
    document, notes = _document(data, wanted, layers)
    unit, own = UNITS.get(document.header.get("$INSUNITS", 0), ("", 0.0))
    if metre is None and not unit:
        raise Unread("The drawing names no unit; write 'unit: mm', or what it is, in the map.")
    found = Drawing(unit, layers=layers)
    if notes:
        found.remarks.append(f"the file is damaged, and {notes} faults of it were mended")
    walk = _Walk(document, found, wanted, own if metre is None else metre)
    walk.entities(document.modelspace(), np.eye(3), "", 0)
    walk.tell(document)
    return found


def _document(data: bytes, wanted: Callable[[str], bool], layers: Counter[str]) -> tuple[Any, int]:
    """The document, and how many faults of it were mended; raises Unread."""
    if len(data) > LARGEST:
        raise Unread(f"The drawing has more than the {LARGEST:,} bytes that are taken.")
    if data[:4] == b"AC10":
        raise Unread("This is a DWG file; save the drawing as DXF.")
    if data[:22] == b"AutoCAD Binary DXF\r\n\x1a\x00":
        raise Unread("This is a binary DXF file; save the drawing as DXF in text form.")
    if b"SECTION" not in data[:4096]:
        raise Unread("This is no DXF file; save the drawing as DXF.")
    if b"EOF" not in data[-64:]:
        raise Unread("The DXF file is cut off: its end is missing; save the drawing anew.")
    try:
        from ezdxf import recover
        from ezdxf.filemanagement import dxf_stream_info
        from ezdxf.filemanagement import read as read_sound
        from ezdxf.lldxf.const import DXFError
    except ImportError:
        raise Unread("Drawings want the package ezdxf: pip install 'prescreed[drawing]'.") from None
    faults = (DXFError, OSError, ValueError, KeyError, IndexError, AttributeError, TypeError)
    try:
        encoding = dxf_stream_info(io.StringIO(data.decode("latin-1"))).encoding
        text = data.decode(encoding, "surrogateescape").replace("\r\n", "\n")
        return read_sound(io.StringIO(sieved(text, wanted, layers))), 0
    except (*faults, LookupError):
        layers.clear()
    try:
        # Ten times slower, and it mends what can be.
        document, auditor = recover.read(io.BytesIO(data), errors="surrogateescape")
    except faults as bad:
        said = " ".join(str(bad).split())[:200] or type(bad).__name__
        raise Unread(f"The DXF file cannot be read ({said}); save the drawing anew.") from None
    return document, max(1, len(auditor.fixes) + len(auditor.errors))


def sieved(text: str, wanted: Callable[[str], bool], layers: Counter[str]) -> str:
    """The text of a drawing without single entities on layers that nobody asks for.

    They are counted in `layers`. An architect's drawing has a hundred times as many as are wanted,
    and the library takes its time over each.
    """
    if len(text) < WORTH_SIEVING:
        return text
    start = re.search(r"\n *0\nSECTION\n *2\nENTITIES\n", text)
    end = start and re.compile(r"\n *0\nENDSEC\n").search(text, start.end() - 1)
    if start is None or end is None:
        return text
    kept = []
    known: dict[str, bool] = {}
    for record in re.split(r"\n *0\n", text[start.end() - 1 : end.start()]):
        kind = record.split("\n", 1)[0].strip()
        layer = _LAYER.search(record)
        if kind in _SINGLE and layer is not None:
            name = layer[1]
            if name not in known:
                known[name] = wanted(name)
            if not known[name]:
                layers[name] += 1
                continue
        kept.append(record)
    whole = "\n  0\n".join(kept)
    return text[: start.end() - 1] + whole + text[end.start() :]


class _Walk:
    """All entities of a drawing, blocks where they stand."""

    def __init__(
        self, document: Any, found: Drawing, wanted: Callable[[str], bool], metre: float
    ) -> None:
        self.document = document
        self.found = found
        self.wanted = wanted
        self.metre = metre
        self.count = 0
        self.taken = 0
        self.hidden: Counter[str] = Counter()
        self.tilted = 0
        self.off = {
            layer.dxf.name.casefold(): layer.dxf.name
            for layer in document.layers
            if layer.is_off() or layer.is_frozen()
        }

    def entities(self, space: Any, matrix: Any, layer: str, depth: int) -> None:
        """Take the entities of a block or of the model; matrix: to the drawing, shape (3, 3)."""
        for entity in space:
            self.count += 1
            if self.count > MOST_ENTITIES:
                raise Unread(
                    f"With all its blocks the drawing has more than {MOST_ENTITIES:,} entities; "
                    "save the floor alone."
                )
            own = str(entity.dxf.get("layer", "0"))
            own = layer if own == "0" and layer else own
            if entity.dxftype() == "INSERT":
                self.insert(entity, matrix, own, depth)
            else:
                self.entity(entity, matrix, own)

    def insert(self, entity: Any, matrix: Any, layer: str, depth: int) -> None:
        for attribute in entity.attribs:
            own = str(attribute.dxf.get("layer", "0"))
            self.entity(attribute, matrix, layer if own == "0" else own)
        name = entity.dxf.name
        block = self.document.blocks.get(name)
        if block is None:
            self.found.unread[f"block '{name[:40]}' that is not in the file"] += 1
            return
        if block.block.dxf.get("flags", 0) & 0b1100:
            self.found.unread[f"external reference '{name[:40]}'"] += 1
            return
        if depth >= DEEPEST:
            self.found.unread[f"block deeper than {DEEPEST} levels"] += 1
            return
        if layer.casefold() in self.off:
            self.found.unread[f"block on layer '{layer}', which is off or frozen"] += 1
            return
        base = np.eye(3)
        base[:2, 2] = [-block.block.dxf.base_point.x, -block.block.dxf.base_point.y]
        copies = [*_copies(entity)]
        for copy in copies:
            self.entities(block, matrix @ copy @ base, layer, depth + 1)

    def entity(self, entity: Any, matrix: Any, layer: str) -> None:
        kind = entity.dxftype()
        if layer.casefold() in self.off:
            self.hidden[layer] += 1
            return
        if kind in ("VIEWPORT", "ATTDEF", "SEQEND"):
            return
        self.found.layers[layer] += 1
        if not self.wanted(layer):
            return
        self.taken += 1
        if self.taken > MOST_WANTED:
            raise Unread(f"More than {MOST_WANTED:,} entities lie on the layers of the map.")
        if kind in ("TEXT", "MTEXT", "ATTRIB"):
            self.label(entity, matrix, layer)
            return
        make = _PATHS.get(kind)
        if make is None:
            self.found.unread[kind] += 1
            return
        tilt = entity.dxf.get("extrusion", None)
        if tilt is not None and abs(tilt.z) < (1 - NOT_FLAT) * tilt.magnitude:
            self.tilted += 1
            return
        scale = float(np.sqrt(abs(np.linalg.det(matrix[:2, :2])))) * self.metre
        try:
            made = make(entity, FLATNESS / max(scale, 1e-12))
        except (ValueError, ZeroDivisionError, AttributeError, IndexError):
            made = None
        if made is None:
            self.found.unread[f"{kind} that is no line in plan"] += 1
            return
        points, bulges, closed = made
        if kind in _OF_PLANE and tilt is not None and tilt.z < 0:
            # Seen from below: such an entity's own x runs to the left.
            points, bulges = points * [-1, 1], -bulges
        line = _moved(points, bulges, matrix, self.metre)
        if line is not None and len(line.points) > 1:
            self.found.lines.append(Line(layer, line, closed))

    def label(self, entity: Any, matrix: Any, layer: str) -> None:
        text = entity.plain_text() if entity.dxftype() == "MTEXT" else entity.dxf.text
        text = " ".join(str(text).split())
        at = entity.dxf.insert
        if entity.dxf.hasattr("align_point") and (
            entity.dxf.get("halign", 0) or entity.dxf.get("valign", 0)
        ):
            at = entity.dxf.align_point
        tilt = entity.dxf.get("extrusion", None)
        below = entity.dxftype() != "MTEXT" and tilt is not None and tilt.z < 0
        x, y = matrix[:2, :2] @ [-at.x if below else at.x, at.y] + matrix[:2, 2]
        if text and text.isprintable():
            place = (float(x) * self.metre, float(y) * self.metre)
            self.found.labels.append(Label(layer, text, place))

    def tell(self, document: Any) -> None:
        """Say what was passed over: layers that are off, paper space, other things."""
        remarks = self.found.remarks
        for layer, count in self.hidden.items():
            if self.wanted(layer):
                remarks.append(f"layer '{layer}' is off or frozen: {count} not read")
        paper = sum(
            1
            for layout in document.layouts
            if layout.name != "Model"
            for entity in layout
            if self.wanted(str(entity.dxf.get("layer", "0"))) and entity.dxftype() != "VIEWPORT"
        )
        if paper:
            remarks.append(f"paper space: {paper} not read, for only the model is")
        if self.tilted:
            remarks.append(f"{self.tilted} not in the plane of the plan, not read")
        for what, count in self.found.unread.items():
            remarks.append(f"{count} × {what}, not read")


def _copies(entity: Any) -> Iterator[Array]:
    """For each place where an INSERT puts its block, the way there, shape (3, 3)."""
    dxf = entity.dxf
    columns, rows = max(1, dxf.get("column_count", 1)), max(1, dxf.get("row_count", 1))
    if columns * rows > MOST_ENTITIES:
        raise Unread(f"The block '{dxf.name[:40]}' stands {columns * rows:,} times; save it once.")
    angle = np.radians(dxf.get("rotation", 0.0))
    cos, sin = np.cos(angle), np.sin(angle)
    turn = np.array([[cos, -sin], [sin, cos]])
    mirror = (
        np.diag([-1.0, 1.0]) if dxf.get("extrusion", None) and dxf.extrusion.z < 0 else np.eye(2)
    )
    scale = np.diag([dxf.get("xscale", 1.0), dxf.get("yscale", 1.0)])
    at = np.array([dxf.insert.x, dxf.insert.y])
    for row in range(rows):
        for column in range(columns):
            step = turn @ [
                column * dxf.get("column_spacing", 0.0),
                row * dxf.get("row_spacing", 0.0),
            ]
            made = np.eye(3)
            made[:2, :2] = mirror @ turn @ scale
            made[:2, 2] = mirror @ (at + step)
            yield made


def _moved(points: Array, bulges: Array, matrix: Array, metre: float) -> Path | None:
    """A line of a block where it stands in the drawing, m; arcs that are stretched in chords."""
    linear = matrix[:2, :2]
    if not (np.isfinite(points).all() and np.isfinite(linear).all()):
        return None
    if bulges.any():
        first, second = linear[:, 0], linear[:, 1]
        size = max(float(first @ first), 1e-300)
        alike = abs(first @ second) < 1e-6 * size and abs(second @ second - size) < 1e-6 * size
        if not alike:
            points = flattened(Path(points, bulges), FINE)[0]
            bulges = np.zeros(len(points) - 1)
        elif np.linalg.det(linear) < 0:
            bulges = -bulges
    moved = (points @ linear.T + matrix[:2, 2]) * metre
    kept = np.hypot(*np.diff(moved, axis=0).T) > 1e-7
    return Path(moved[np.concatenate(([True], kept))], bulges[kept])


Made = tuple[Array, Array, bool] | None


def _of_line(entity: Any, flatness: float) -> Made:
    start, end = entity.dxf.start, entity.dxf.end
    return np.array([[start.x, start.y], [end.x, end.y]]), np.zeros(1), False


def _closed(points: npt.NDArray[Any], bulges: npt.NDArray[Any], closed: bool) -> Made:
    if len(points) < 2:
        return None
    if closed:
        points = np.concatenate((points, points[:1]))
    else:
        bulges = bulges[:-1]
    return points, bulges, closed


def _of_lwpolyline(entity: Any, flatness: float) -> Made:
    points = np.array([*entity.get_points("xyb")], dtype=float).reshape(-1, 3)
    return _closed(points[:, :2], points[:, 2], bool(entity.closed))


def _of_polyline(entity: Any, flatness: float) -> Made:
    if not (entity.is_2d_polyline or entity.is_3d_polyline):
        return None
    # A fitted curve keeps the points that it was fitted to; they are no part of its way.
    found = [one for one in entity.vertices if not one.dxf.get("flags", 0) & 16]
    places = np.array([[one.dxf.location.x, one.dxf.location.y] for one in found]).reshape(-1, 2)
    bulges = np.array([one.dxf.get("bulge", 0.0) for one in found])
    if entity.is_3d_polyline:
        bulges = np.zeros(len(found))
    return _closed(places, bulges, bool(entity.is_closed))


def _arc(centre: Any, radius: float, start: float, sweep: float) -> tuple[Array, Array]:
    pieces = max(1, int(np.ceil(sweep / (np.pi / 2) - 1e-9)))
    angles = start + np.linspace(0, sweep, pieces + 1)
    points = np.stack((np.cos(angles), np.sin(angles)), 1) * radius + [centre.x, centre.y]
    return points, np.full(pieces, np.tan(sweep / pieces / 4))


def _of_arc(entity: Any, flatness: float) -> Made:
    dxf = entity.dxf
    sweep = np.radians((dxf.end_angle - dxf.start_angle) % 360) or 2 * np.pi
    return (*_arc(dxf.center, dxf.radius, np.radians(dxf.start_angle), sweep), False)


def _of_circle(entity: Any, flatness: float) -> Made:
    return (*_arc(entity.dxf.center, entity.dxf.radius, 0.0, 2 * np.pi), True)


def _of_curve(entity: Any, flatness: float) -> Made:
    points = np.array([[at.x, at.y] for at in _some(entity.flattening(flatness))]).reshape(-1, 2)
    if len(points) < 2:
        return None
    closed = bool(np.hypot(*(points[0] - points[-1])) < flatness)
    return points, np.zeros(len(points) - 1), closed


def _some(points: Iterator[Any]) -> Iterator[Any]:
    for number, one in enumerate(points):
        if number > MOST_CHORDS:
            raise ValueError("too many points")
        yield one


_OF_PLANE = frozenset(("LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE"))
"""Kinds whose coordinates are those of their own plane."""

_PATHS: dict[str, Callable[[Any, float], Made]] = {
    "LINE": _of_line,
    "LWPOLYLINE": _of_lwpolyline,
    "POLYLINE": _of_polyline,
    "ARC": _of_arc,
    "CIRCLE": _of_circle,
    "ELLIPSE": _of_curve,
    "SPLINE": _of_curve,
}
