"""Converts one entity of a drawing into points and bulges with their height; places blocks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from checker.arrays import Array
from checker.geometry.plan import Path, flattened

FINE = np.pi / 64
"""Largest turn of a chord of a stretched arc: 0.01 % short."""
MOST_CHORDS = 2_000
"""Most points that one such curve becomes."""
NOT_FLAT = 1e-3
"""Largest tilt of an entity's plane out of the drawing's with which it is still read."""

Made = tuple[Array, Array, bool] | None
"""Points, shape (n, 2), bulges, shape (n - 1,), and whether it is closed; in its own units."""


def tilted(entity: Any) -> bool:
    """Whether its plane is tilted out of the drawing's, so that it cannot be read."""
    extrusion = entity.dxf.get("extrusion", None)
    if extrusion is None or entity.dxftype() in _IN_SPACE or _is_3d(entity):
        return False
    return bool(abs(extrusion.z) < (1 - NOT_FLAT) * extrusion.magnitude)


def from_below(entity: Any) -> bool:
    """Whether its coordinates are those of a plane seen from below: its x axis points left."""
    if entity.dxftype() not in _OF_PLANE or _is_3d(entity):
        return False
    extrusion = entity.dxf.get("extrusion", None)
    return extrusion is not None and bool(extrusion.z < 0)


def place_of_text(entity: Any) -> tuple[float, float]:
    """Where a text is in its own block, in its own units."""
    at = entity.dxf.insert
    if entity.dxf.hasattr("align_point") and (
        entity.dxf.get("halign", 0) or entity.dxf.get("valign", 0)
    ):
        at = entity.dxf.align_point
    extrusion = entity.dxf.get("extrusion", None)
    below = entity.dxftype() != "MTEXT" and extrusion is not None and extrusion.z < 0
    return (-at.x if below else at.x), at.y


def heights(entity: Any) -> tuple[float, float]:
    """How high an entity of a drawing lies.

    Args:
        entity: an entity of ezdxf, of any kind.

    Returns:
        The heights of its lowest and its highest point, in the units of its own block; 0 and 0 for
        kinds without a height.
    """
    kind, dxf = entity.dxftype(), entity.dxf
    if kind == "LINE":
        found = [dxf.start.z, dxf.end.z]
    elif kind == "LWPOLYLINE":
        found = [dxf.get("elevation", 0.0)]
    elif kind == "POLYLINE":
        # A polyline in the plane has one height for all of it; its vertices may state any.
        every = [one.dxf.location.z for one in entity.vertices]
        flat = dxf.elevation.z if dxf.hasattr("elevation") else 0.0
        found = every if _is_3d(entity) else [flat]
    elif kind == "SPLINE":
        found = [float(one[2]) for one in (*entity.control_points, *entity.fit_points)]
    else:
        found = [dxf.center.z] if dxf.hasattr("center") else []
    sign = -1.0 if from_below(entity) else 1.0
    found = [sign * value for value in found] or [0.0]
    return min(found), max(found)


def copies(entity: Any, most: int) -> Iterator[Array]:
    """The transformation for each place at which an INSERT puts its block, row by row.

    Args:
        entity: an INSERT of ezdxf, which may repeat its block in columns and rows.
        most: the largest number of places.

    Returns:
        Matrices from the block's coordinates, counted from its base point, to those of the space
        that the INSERT is in, shape (3, 3) each.

    Raises:
        ValueError: there are more than `most`; the message has how many.
    """
    dxf = entity.dxf
    columns, rows = max(1, dxf.get("column_count", 1)), max(1, dxf.get("row_count", 1))
    if columns * rows > most:
        raise ValueError(f"stands {columns * rows:,} times")
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


def lift_of(entity: Any, base: float) -> tuple[float, float]:
    """How an INSERT changes the heights in its block.

    Args:
        entity: an INSERT of ezdxf.
        base: the height of the block's base point, in the block's units.

    Returns:
        A factor for heights in the block, and an offset, in the units of the space that the INSERT
        is in.
    """
    sign = -1.0 if entity.dxf.get("extrusion", None) and entity.dxf.extrusion.z < 0 else 1.0
    scale = sign * float(entity.dxf.get("zscale", 1.0))
    return scale, sign * float(entity.dxf.insert.z) - scale * base


def made(entity: Any, flatness: float) -> Made:
    """One entity of a drawing as points and bulges.

    Args:
        entity: an entity of ezdxf, of a kind that is in PATHS.
        flatness: largest distance between a curve that is not an arc and its chords, in the
            entity's own units.

    Returns:
        Points, bulges and whether the line is closed, in the units of its own block; None where it
        is not a line in plan, or cannot be computed.
    """
    make = PATHS[entity.dxftype()]
    try:
        found = make(entity, flatness)
    except (ValueError, ZeroDivisionError, AttributeError, IndexError):
        return None
    if found is None or not from_below(entity):
        return found
    points, bulges, closed = found
    return points * [-1, 1], -bulges, closed


def moved(points: Array, bulges: Array, matrix: Array, metre: float) -> Path | None:
    """A line of a block at its place in the drawing; arcs that are stretched become chords.

    Args:
        points: in the block's units, shape (n, 2).
        bulges: as in `Path`, shape (n - 1,).
        matrix: from the block's coordinates to the drawing's, shape (3, 3).
        metre: one of the drawing's units in metres.

    Returns:
        The line, m; None where all its points are one, or a coordinate is not a finite number.
    """
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
    there = (points @ linear.T + matrix[:2, 2]) * metre
    kept = np.hypot(*np.diff(there, axis=0).T) > 1e-7
    if not kept.any():
        return None
    return Path(there[np.concatenate(([True], kept))], bulges[kept])


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
    # A fitted curve keeps the points that it was fitted to; the curve does not pass them.
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
_IN_SPACE = frozenset(("LINE", "SPLINE"))
"""Kinds whose coordinates are the drawing's, whatever plane is named."""


def _is_3d(entity: Any) -> bool:
    return entity.dxftype() == "POLYLINE" and bool(entity.is_3d_polyline)


PATHS: dict[str, Callable[[Any, float], Made]] = {
    "LINE": _of_line,
    "LWPOLYLINE": _of_lwpolyline,
    "POLYLINE": _of_polyline,
    "ARC": _of_arc,
    "CIRCLE": _of_circle,
    "ELLIPSE": _of_curve,
    "SPLINE": _of_curve,
}
"""The function that converts each kind of entity that is a line."""
