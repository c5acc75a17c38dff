"""The data of pictures, as plain frozen records."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:  # a start over unchanged designs does without NumPy
    from checker.arrays import Array

Points = tuple[tuple[float, float], ...]
"""Points on a plan, m."""


class Sketch(Struct, frozen=True):
    """A design's plan for pictures; all points in m.

    Attributes:
        rooms: outlines, by name.
        routes: of pipes, by the loop's name.
        joints: movement joints, by name.
        fixed: what stands on the floor for good, by name.
        keep_clear: where no pipe may lie, by name.
        crossings: where pipes cross.
        bare: middles of squares of floor without pipe.
    """

    rooms: tuple[tuple[str, Points], ...] = ()
    routes: tuple[tuple[str, Points], ...] = ()
    joints: tuple[tuple[str, Points], ...] = ()
    fixed: tuple[tuple[str, Points], ...] = ()
    keep_clear: tuple[tuple[str, Points], ...] = ()
    crossings: Points = ()
    bare: Points = ()


class FloorPicture(Struct, frozen=True):
    """A floor in section for a picture: half of it, from a pipe's middle to the middle between two
    pipes.

    Attributes:
        loops: the loops above it.
        spacing: m.
        covering: in words.
        layers: each in words, with its thickness, m, and whether it has a joist.
        depth: of the pipe's axis under the top of the layers, m.
        outside: diameter of the pipe, m.
        wall: of the pipe, m.
        plate: thickness, width and depth of its top, m; None for none.
        joist: its width, m, zero for none.
        lines: rows of points, shape (rows, points, 3): m across, m down, and °C, which is NaN
            inside the pipe.
        surface: points: m across, °C.
        mean: of the surface, °C.
        limit: of the surface, °C; None where there is none.
        water: mean temperature, °C.
        room: °C.
        heat: up and down, W/m².
        note: a sentence about what is assumed, empty where nothing is.
    """

    loops: tuple[str, ...]
    spacing: float
    covering: str
    layers: tuple[tuple[str, float, bool], ...]
    depth: float
    outside: float
    wall: float
    plate: tuple[float, float, float] | None
    joist: float
    lines: Array
    surface: tuple[tuple[float, float], ...]
    mean: float
    limit: float | None
    water: float
    room: float
    heat: tuple[float, float]
    note: str = ""


class OverSupply(Struct, frozen=True):
    """The flow and loss of a header at supplies from the least that every room needs to the
    design's.

    Attributes:
        header: its id.
        supply: °C, rising.
        flow: at each supply, l/min.
        loss: of the worst header on its pump, kPa.
        head: of the pump at the flow of all its headers, kPa, NaN where it is not known.
    """

    header: str
    supply: tuple[float, ...]
    flow: tuple[float, ...]
    loss: tuple[float, ...]
    head: tuple[float, ...]
