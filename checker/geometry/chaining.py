"""Joins pieces of pipe into one route each, and recognises branches and rings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from checker.arrays import Array
from checker.geometry.plan import Path
from checker.geometry.shapes import apart

SAME_LINE = 0.001
"""m; two lines whose points are all this close are one line drawn twice."""


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """Pieces joined to one path. directed: whether all of them were drawn in its direction."""

    path: Path
    ring: bool
    directed: bool


def chain(pieces: list[Path], gap: float) -> tuple[list[Chain], int, list[tuple[float, float]]]:
    """Join pieces where two ends are within a distance.

    Where more than two ends meet, nothing is joined.

    Args:
        pieces: the pieces.
        gap: the distance, m.

    Returns:
        The chains, the number of gaps that were closed, and the places where more than two ends
            meet, m.
    """
    if not pieces:
        return [], 0, []
    import shapely

    ends = np.array([path.points[end] for path in pieces for end in (0, -1)])
    places: Any = shapely.points(ends)
    first, second = shapely.STRtree(places).query(places, predicate="dwithin", distance=gap)
    near: list[list[int]] = [[] for _ in ends]
    for one, other in zip(first.tolist(), second.tolist(), strict=True):
        if one != other:
            near[one].append(other)
    branches: dict[tuple[float, float], tuple[float, float]] = {}
    partner = [-1] * len(ends)
    for end, others in enumerate(near):
        if len(others) == 1 and near[others[0]] == [end]:
            partner[end] = others[0]
        elif len(others) > 1:
            x, y = (float(value) for value in ends[end])
            branches[(round(x, 1), round(y, 1))] = (x, y)
    gaps = sum(
        1
        for end, other in enumerate(partner)
        if other > end and np.hypot(*(ends[end] - ends[other])) > SAME_LINE
    )
    used = [False] * len(pieces)
    chains = []
    starts = [end for end, other in enumerate(partner) if other < 0]
    for end in [*starts, *range(len(ends))]:
        if not used[end // 2]:
            chains.append(_followed(end, pieces, partner, used))
    return chains, gaps, [*branches.values()]


def _followed(end: int, pieces: list[Path], partner: list[int], used: list[bool]) -> Chain:
    """The chain from one end of a piece on."""
    order: list[tuple[int, bool]] = []
    ring = False
    while True:
        used[end // 2] = True
        order.append((end // 2, end % 2 == 1))
        following = partner[end ^ 1]
        if following < 0:
            break
        if used[following // 2]:
            ring = following // 2 == order[0][0]
            break
        end = following
    forward = sum(pieces[number].length for number, back in order if not back)
    whole = sum(pieces[number].length for number, _ in order)
    turned = forward < whole / 2
    if turned:
        order = [(number, not back) for number, back in reversed(order)]
    points: list[Array] = []
    bulges: list[Array] = []
    for number, back in order:
        path = pieces[number]
        own_points = path.points[::-1] if back else path.points
        own_bulges = -path.bulges[::-1] if back else path.bulges
        if points:
            bulges.append(np.zeros(1))
        points.append(own_points)
        bulges.append(own_bulges)
    joined, turns = np.concatenate(points), np.concatenate(bulges)
    kept = np.hypot(*np.diff(joined, axis=0).T) > 1e-7
    path = Path(joined[np.concatenate(([True], kept))], turns[kept])
    return Chain(path, ring, directed=max(forward, whole - forward) > 0.999 * whole)


def opened(path: Path, headers: dict[str, Array]) -> Path:
    """A ring of pipe opened at its corner nearest to a port, so that it has a start and an end.

    Args:
        path: the ring; its last point is its first.
        headers: the ports of each header, m, shape (n, 2) each; without any, or for a path of fewer
            than three points, the path stays as it is.

    Returns:
        The same line, from that corner once around to it.
    """
    if not headers or len(path.points) < 3:
        return path
    ports = np.concatenate([*headers.values()])
    away = [float(apart(ports, point[None]).min()) for point in path.points[:-1]]
    start = int(np.argmin(away))
    points = np.concatenate((path.points[start:], path.points[1 : start + 1]))
    return Path(points, np.concatenate((path.bulges[start:], path.bulges[:start])))


def toward(path: Path, headers: dict[str, Array]) -> Path:
    """The path from the end that is nearer to a port, where its direction is not known."""
    if not headers:
        return path
    ports = np.concatenate([*headers.values()])
    first, last = (float(apart(ports, path.points[[end]]).min()) for end in (0, -1))
    return path if first <= last else Path(path.points[::-1], -path.bulges[::-1])
