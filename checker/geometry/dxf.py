"""Reads a DXF drawing into lines in metres: every entity is read, or counted with the reason why
not.

The one place that imports ezdxf (extra `drawing`). Blocks are expanded here and not by the library,
so that their number is known before time is spent on them.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from checker.arrays import Array
from checker.geometry.entities import (
    PATHS,
    copies,
    heights,
    lift_of,
    made,
    moved,
    place_of_text,
    tilted,
)
from checker.geometry.plan import Path

LARGEST = 64 * 1024 * 1024
"""Largest drawing, in bytes; a floor of twelve loops has 0.1 MB, an architect's whole plan 20."""
MOST_ENTITIES = 200_000
"""Most entities of a drawing, each block counted wherever it is inserted."""
MOST_WANTED = 50_000
"""Most entities on the layers that are used; twelve loops in lines and arcs are some 800."""
DEEPEST = 8
"""Most levels of blocks within blocks."""
WORTH_SIEVING = 1_000_000
"""A drawing of at least this many characters is filtered before the library reads it."""
FLATNESS = 0.0005
"""Largest distance between a curve that is not an arc and the chords that replace it, m."""
RISES = 0.01
"""m; a line whose ends differ more in height is longer than it looks from above."""
STOREY = 1.0
"""m; lines that differ more in height are of two floors, drawn over one another."""

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
    """A file cannot be used as a drawing; the message is for the user."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a drawing: its layer, its path (m), and whether it is closed."""

    layer: str
    path: Path
    closed: bool
    low: float = 0.0
    high: float = 0.0
    """The heights (m) of its lowest and its highest point."""


@dataclass(frozen=True, slots=True)
class Label:
    """One text of a drawing: its layer, its words, and where it is (m)."""

    layer: str
    text: str
    at: tuple[float, float]


@dataclass(slots=True)
class Drawing:
    """What a drawing has on the layers that are used.

    unit: in its header, empty where it names none; unread: what was left out, with the number of
    each.
    """

    unit: str
    lines: list[Line] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    layers: Counter[str] = field(default_factory=Counter)
    """The number of lines and texts on every layer that is switched on."""
    unread: Counter[str] = field(default_factory=Counter)
    remarks: list[str] = field(default_factory=list)


def read_drawing(data: bytes, wanted: Callable[[str], bool], metre: float | None) -> Drawing:
    """Read the lines and texts in a drawing's model space.

    Args:
        data: the bytes of the DXF file, in text form.
        wanted: says of a layer's name whether its lines and texts are used; others are only
            counted.
        metre: one of the drawing's units in metres; None for the unit that its own header names.

    Returns:
        Lines and texts, m; what was left out is in `unread` and `remarks`.

    Raises:
        Unread: the file is no whole DXF file, is too large, or names no unit where `metre` is None;
            or ezdxf is not installed.
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
    walk.entities(document.modelspace(), FLAT, "", 0)
    walk.remark_on_rest(document)
    return found


def _document(data: bytes, wanted: Callable[[str], bool], layers: Counter[str]) -> tuple[Any, int]:
    """Have the library read a drawing, and count its layers that are left out beforehand.

    Returns:
        The document, and how many faults in it were repaired.

    Raises:
        Unread: it cannot be used.
    """
    if len(data) > LARGEST:
        raise Unread(f"The drawing has more than the {LARGEST:,} bytes that are allowed.")
    if data[:4] == b"AC10":
        raise Unread("This is a DWG file; save the drawing as DXF.")
    if data[:22] == b"AutoCAD Binary DXF\r\n\x1a\x00":
        raise Unread("This is a binary DXF file; save the drawing as DXF in text form.")
    if b"SECTION" not in data[:4096]:
        raise Unread("This is no DXF file; save the drawing as DXF.")
    if b"EOF" not in data[-64:]:
        raise Unread("The DXF file is cut off: its end is missing; save the drawing again.")
    try:
        from ezdxf import recover
        from ezdxf.filemanagement import dxf_stream_info
        from ezdxf.filemanagement import read as read_sound
        from ezdxf.lldxf.const import DXFError
    except ImportError:
        raise Unread(
            "A drawing needs the extra 'drawing': pip install '.[drawing]' in the folder of the "
            "program's source."
        ) from None
    faults = (DXFError, OSError, ValueError, KeyError, IndexError, AttributeError, TypeError)
    try:
        encoding = dxf_stream_info(io.StringIO(data.decode("latin-1"))).encoding
        text = data.decode(encoding, "surrogateescape").replace("\r\n", "\n")
        return read_sound(io.StringIO(sieved(text, wanted, layers))), 0
    except (*faults, LookupError):
        layers.clear()
    try:
        # Ten times slower, but it repairs what it can.
        document, auditor = recover.read(io.BytesIO(data), errors="surrogateescape")
    except faults as bad:
        said = " ".join(str(bad).split())[:200] or type(bad).__name__
        raise Unread(f"The DXF file cannot be read ({said}); save the drawing again.") from None
    return document, max(1, len(auditor.fixes) + len(auditor.errors))


def sieved(text: str, wanted: Callable[[str], bool], layers: Counter[str]) -> str:
    """The text of a drawing without simple entities on layers that are not used, which makes
    reading much faster.

    They are counted in `layers`. An architect's drawing has a hundred times as many as are used.
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


class _Placed(NamedTuple):
    """How a block is placed: its transformation in plan, shape (3, 3), and a factor and an offset
    for its heights.
    """

    plan: Array
    scale: float
    lift: float


FLAT = _Placed(np.eye(3), 1.0, 0.0)
_NO_LINES = frozenset(("VIEWPORT", "ATTDEF", "SEQEND"))
_TEXTS = frozenset(("TEXT", "MTEXT", "ATTRIB"))


class _Walk:
    """All entities of a drawing, blocks at their places."""

    def __init__(
        self, document: Any, found: Drawing, wanted: Callable[[str], bool], metre: float
    ) -> None:
        self.document = document
        self.found = found
        self.wanted = wanted
        self.metre = metre
        self.count = 0
        self.taken = 0
        self.left: Counter[str] = Counter()
        """What could be read and is left out, with how many: hidden, tilted and the like."""
        self.clipped: Counter[str] = Counter()
        self.counts: dict[tuple[str, str], int] = {}
        self.off = {
            layer.dxf.name.casefold(): layer.dxf.name
            for layer in document.layers
            if layer.is_off() or layer.is_frozen()
        }

    def entities(self, space: Any, placed: _Placed, layer: str, depth: int) -> None:
        """Read the entities of a block or of the model."""
        for entity in space:
            self.count += 1
            if self.count > MOST_ENTITIES:
                raise Unread(
                    f"With all its blocks the drawing has more than {MOST_ENTITIES:,} entities; "
                    "save the floor alone."
                )
            own = _layer_of(entity, layer)
            why = self.hidden(entity, own)
            if why:
                self.left[why] += self.count_in(entity, layer)
            elif entity.dxftype() == "INSERT":
                self.insert(entity, placed, own, depth)
            else:
                self.entity(entity, placed, own)

    def hidden(self, entity: Any, layer: str) -> str:
        """Why an entity cannot be seen, or not from above; empty where it can."""
        if entity.dxf.get("invisible", 0):
            return "invisible"
        if layer.casefold() in self.off:
            return f"on layer '{layer}', which is off or frozen"
        return "not in the plane of the plan" if tilted(entity) else ""

    def count_in(self, entity: Any, layer: str) -> int:
        """The number of entities on used layers that an entity is or, for a block, contains."""
        own = _layer_of(entity, layer)
        kind = entity.dxftype()
        if kind in _NO_LINES:
            return 0
        if kind != "INSERT":
            return int(self.wanted(own))
        key = (entity.dxf.name, own)
        if key not in self.counts:
            self.counts[key] = 0  # of a block in itself
            block = self.document.blocks.get(entity.dxf.name)
            inner = sum(self.count_in(one, own) for one in block or ())
            self.counts[key] = min(inner, MOST_ENTITIES)
        return self.counts[key] + sum(self.count_in(one, own) for one in entity.attribs)

    def insert(self, entity: Any, placed: _Placed, layer: str, depth: int) -> None:
        for attribute in entity.attribs:
            self.entity(attribute, placed, _layer_of(attribute, layer))
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
        if entity.has_extension_dict and "ACAD_FILTER" in entity.get_extension_dict():
            self.clipped[name[:40]] += self.count_in(entity, layer)
        point = block.block.dxf.base_point
        base = np.eye(3)
        base[:2, 2] = [-point.x, -point.y]
        scale, lift = lift_of(entity, point.z)
        try:
            for copy in copies(entity, MOST_ENTITIES):
                there = _Placed(
                    placed.plan @ copy @ base,
                    placed.scale * scale,
                    placed.scale * lift + placed.lift,
                )
                self.entities(block, there, layer, depth + 1)
        except ValueError as many:
            raise Unread(f"The block '{name[:40]}' {many}; save it once.") from None

    def entity(self, entity: Any, placed: _Placed, layer: str) -> None:
        kind = entity.dxftype()
        if kind in _NO_LINES:
            return
        self.found.layers[layer] += 1
        if not self.wanted(layer):
            return
        self.taken += 1
        if self.taken > MOST_WANTED:
            raise Unread(f"More than {MOST_WANTED:,} entities lie on the layers of the map.")
        if kind in _TEXTS:
            self.label(entity, placed.plan, layer)
            return
        if kind not in PATHS:
            self.found.unread[kind] += 1
            return
        size = float(np.sqrt(abs(np.linalg.det(placed.plan[:2, :2])))) * self.metre
        own = made(entity, FLATNESS / max(size, 1e-12))
        line = own and moved(own[0], own[1], placed.plan, self.metre)
        if not own or line is None:
            self.found.unread[f"{kind} that is not a line in plan"] += 1
            return
        low, high = sorted(
            (placed.scale * height + placed.lift) * self.metre for height in heights(entity)
        )
        self.found.lines.append(Line(layer, line, own[2], low, high))

    def label(self, entity: Any, matrix: Array, layer: str) -> None:
        text = entity.plain_text() if entity.dxftype() == "MTEXT" else entity.dxf.text
        text = " ".join(str(text).split())
        x, y = matrix[:2, :2] @ place_of_text(entity) + matrix[:2, 2]
        if text and text.isprintable():
            place = (float(x) * self.metre, float(y) * self.metre)
            self.found.labels.append(Label(layer, text, place))

    def remark_on_rest(self, document: Any) -> None:
        """Note what was left out: hidden or tilted entities, paper space, other things."""
        remarks = self.found.remarks
        remarks += [f"{count} {why}, not read" for why, count in self.left.items() if count]
        paper = sum(
            self.count_in(entity, "")
            for layout in document.layouts
            if layout.name != "Model"
            for entity in layout
        )
        if paper:
            remarks.append(f"{paper} in paper space, not read: only the model is")
        remarks += [
            f"block '{name}' is clipped: taken whole, with {count} entities"
            for name, count in self.clipped.items()
            if count
        ]
        self.remark_on_heights()
        remarks += [f"{count} × {what}, not read" for what, count in self.found.unread.items()]

    def remark_on_heights(self) -> None:
        """Note which lines slope, and whether two floors are drawn over one another."""
        rise = [line.high - line.low for line in self.found.lines if line.high - line.low > RISES]
        if rise:
            self.found.remarks.append(
                f"{len(rise)} lines rise or fall, by up to {max(rise):.2f} m: taken as they are "
                "seen from above"
            )
        levels = [line.low for line in self.found.lines if line.high - line.low <= RISES]
        if levels and max(levels) - min(levels) > STOREY:
            self.found.remarks.append(
                f"lines lie at heights from {min(levels):.2f} to {max(levels):.2f} m: if they are "
                "of several floors, save each alone"
            )


def _layer_of(entity: Any, block: str) -> str:
    """The layer of an entity; in a block, what is on layer 0 is on the block's own."""
    own = str(entity.dxf.get("layer", "0"))
    return block if own == "0" and block else own
