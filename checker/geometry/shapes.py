"""Points, outlines and pieces of lines in the plane: what is inside what, and distances."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from checker.arrays import Array, Index, Mask

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


PARALLEL = np.cos(np.radians(15.0))
"""Runs that meet at less than 15° are neighbours; others only cross the line of sight."""


def area(outline: Array) -> float:
    """The area within an outline.

    Args:
        outline: its corners in order, in either direction, m, shape (n, 2).

    Returns:
        m², never below 0.
    """
    around = np.roll(outline, -1, axis=0)
    origin = outline[0]
    first, second = outline - origin, around - origin
    return float(abs((first[:, 0] * second[:, 1] - second[:, 0] * first[:, 1]).sum()) / 2)


def inside(points: Array, outline: Array) -> Mask:
    """Whether each point, shape (n, 2), is within the outline, shape (m, 2)."""
    within = np.zeros(len(points), dtype=bool)
    x, y = points[:, 0], points[:, 1]
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if y0 != y1:
            over = (y0 > y) != (y1 > y)
            within ^= over & (x < x0 + (x1 - x0) * (y - y0) / (y1 - y0))
    return within


def beside(at: Array, along: Array, starts: Array, ends: Array) -> tuple[Array, Mask]:
    """How far the nearest wall is to the left and to the right of each place.

    Args:
        at: the places, m, shape (n, 2).
        along: the direction of the pipe at each, of length 1, shape (n, 2).
        starts: the starts of the walls, m, shape (m, 2).
        ends: the ends of the walls, m, shape (m, 2).

    Returns:
        The distances, m, infinite where there is no wall, and whether that wall is parallel to the
        pipe (within 15°); shapes (2, n), left in row 0.
    """
    gaps = np.full((2, len(at)), np.inf)
    parallel = np.zeros((2, len(at)), dtype=bool)
    across = np.stack((-along[:, 1], along[:, 0]), axis=1)
    for start, end in zip(starts, ends, strict=True):
        step = end - start
        length = float(np.hypot(*step))
        if length == 0:
            continue
        offset = start - at
        slope = along @ step
        with np.errstate(divide="ignore", invalid="ignore"):
            share = -(offset * along).sum(axis=1) / slope
        cut = (share >= 0) & (share <= 1)
        gap = (offset * across).sum(axis=1) + np.where(cut, share, 0.0) * (across @ step)
        same = np.abs(slope) > PARALLEL * length
        for side, sign in enumerate((1.0, -1.0)):
            nearer = cut & (gap * sign >= 0) & (gap * sign < gaps[side])
            gaps[side] = np.where(nearer, gap * sign, gaps[side])
            parallel[side] = np.where(nearer, same, parallel[side])
    return gaps, parallel


def distance_from(points: Array, line: Array, *, closed: bool) -> Array:
    """Distance of each point from a line, or from an outline and everything in it, m, shape
    (n,).
    """
    starts, ends = (line, np.roll(line, -1, axis=0)) if closed else (line[:-1], line[1:])
    found = np.full(len(points), np.inf)
    for start, end in zip(starts, ends, strict=True):
        step = end - start
        square = float(step @ step)
        if square == 0:
            continue
        share = np.clip(((points - start) @ step) / square, 0, 1)
        found = np.minimum(found, apart(points, start + share[:, None] * step))
    return np.where(inside(points, line), 0.0, found) if closed else found


def meeting(a0: Array, a1: Array, b0: Array, b1: Array) -> tuple[Array, Index]:
    """Where pairs of pieces cut each other.

    Args:
        a0: the starts of the first pieces, m, shape (n, 2).
        a1: their ends.
        b0: the starts of the second pieces.
        b1: their ends.

    Returns:
        The places, m, and the numbers of their pairs.
    """
    a, b, offset = a1 - a0, b1 - b0, b0 - a0
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        first = (offset[:, 0] * b[:, 1] - offset[:, 1] * b[:, 0]) / cross
        second = (offset[:, 0] * a[:, 1] - offset[:, 1] * a[:, 0]) / cross
    slack = 1e-9
    size = np.hypot(a[:, 0], a[:, 1]) * np.hypot(b[:, 0], b[:, 1])
    met = (
        (np.abs(cross) > 1e-3 * size)
        & (first >= -slack)
        & (first <= 1 + slack)
        & (second >= -slack)
        & (second <= 1 + slack)
    )
    which = np.flatnonzero(met)
    return a0[which] + a[which] * first[which][:, None], which


def unlike(places: Array) -> Array:
    """The places without those within 20 mm of one before."""
    kept: list[int] = []
    for number, place in enumerate(places):
        if all(np.hypot(*(place - places[other])) > 0.02 for other in kept):
            kept.append(number)
    return places[kept]


def apart(first: Array, second: Array) -> Array:
    """The distance between the points of each pair.

    Args:
        first: m, shape (n, 2).
        second: m, shape (n, 2); or (1, 2) for the distance of all from one point.

    Returns:
        m, shape (n,).
    """
    steps = first - second
    apart_by: Array = np.hypot(steps[:, 0], steps[:, 1])
    return apart_by


def sides_of(polygon: BaseGeometry) -> tuple[float, float]:
    """The two sides of the smallest rectangle around a shapely polygon, m."""
    import shapely

    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(polygon))
    first, second = np.hypot(*np.diff(corners[:3], axis=0).T)
    return float(first), float(second)


def grown(mask: Mask, radius: float, side: float) -> Mask:
    """The marked squares, of this side (m), and all within a radius (m) of them."""
    reach = int(radius / side)
    found = mask.copy()
    for step in range(-reach, reach + 1):
        wide = int(np.sqrt(radius**2 - (step * side) ** 2) / side + 1e-9)
        row = _shifted(mask, step, 0)
        # One row of the disc by doubling: shifts by 1, 2, 4 … cover its whole width.
        spread, done = row.copy(), 0
        while done < wide:
            more = min(max(done, 1), wide - done)
            spread = spread | _shifted(spread, 0, more) | _shifted(spread, 0, -more)
            done += more
        found |= spread
    return found


def _shifted(mask: Mask, rows: int, columns: int) -> Mask:
    moved = np.zeros_like(mask)
    height, width = mask.shape
    if abs(rows) >= height or abs(columns) >= width:
        return moved
    moved[max(rows, 0) : height + min(rows, 0), max(columns, 0) : width + min(columns, 0)] = mask[
        max(-rows, 0) : height + min(-rows, 0), max(-columns, 0) : width + min(-columns, 0)
    ]
    return moved
