"""A floor as drawn: rooms, the routes of pipes, and other lines, in metres."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from checker.arrays import Array, Index

FOLDED = np.radians(175.0)
"""A corner that turns by more goes straight back; no bend fits into it."""
STEP = np.pi / 8
"""Largest turn of a piece of a flattened arc: its chord is 0.6 % short, its rise 2 % of the
radius.
"""
SHARP = np.radians(35.0)
"""A corner of a line without arcs that turns by more is drawn sharp: its bend is not known."""
SAME = 1e-6
"""Points closer than this (m) are one."""


@dataclass(frozen=True, slots=True)
class Path:
    """A line of straight pieces and arcs.

    points: m, shape (n, 2); bulges: tangent of a quarter of the angle that the piece turns by,
    positive to the left, 0 where it is straight, shape (n - 1,).
    """

    points: Array
    bulges: Array

    @property
    def turns(self) -> Array:
        """The angle that each piece turns by, rad, shape (n - 1,)."""
        turns: Array = 4 * np.arctan(self.bulges)
        return turns

    @property
    def radii(self) -> Array:
        """Radius of each piece, m, infinite where it is straight, shape (n - 1,)."""
        with np.errstate(divide="ignore"):
            radii: Array = _lengths(self.points) / (2 * np.abs(np.sin(self.turns / 2)))
        return np.where(self.bulges == 0, np.inf, radii)

    @property
    def lengths(self) -> Array:
        """Length of each piece along it, m, shape (n - 1,)."""
        with np.errstate(invalid="ignore"):
            along: Array = self.radii * np.abs(self.turns)
        return np.where(self.bulges == 0, _lengths(self.points), along)

    @property
    def length(self) -> float:
        """Length of the whole, m."""
        return float(self.lengths.sum())


@dataclass(frozen=True, slots=True)
class Plan:
    """One floor. Outlines are points in order, shape (n, 2), closed without repeating the first.

    routes: each pipe from its flow port to its return port; joints and outer_walls: lines; fixed:
    units that are fixed to the floor; keep_clear: areas that pipes must avoid; headers: the ports
    of each in order; remarks: sentences about what was not read as it was drawn.
    """

    rooms: dict[str, Array] = field(default_factory=dict)
    routes: dict[str, Path] = field(default_factory=dict)
    joints: dict[str, Array] = field(default_factory=dict)
    fixed: dict[str, Array] = field(default_factory=dict)
    keep_clear: dict[str, Array] = field(default_factory=dict)
    outer_walls: dict[str, Array] = field(default_factory=dict)
    headers: dict[str, Array] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()
    undirected: frozenset[str] = frozenset()
    """Routes of which it is not known which end is the flow."""
    parts: frozenset[str] = frozenset()
    """The kinds of line that the drawing states, even where there is none of that kind."""

    def shows(self, part: str) -> bool:
        """Whether the drawing states such lines: it has some, or says that there are none.

        Args:
            part: the name of a part of the plan, such as `joints` or `outer_walls`.

        Returns:
            False where nothing is known of them.
        """
        return part in self.parts or bool(getattr(self, part))


def straight(points: Array) -> Path:
    """The line through these points, shape (n, 2), sharp at every corner."""
    points = distinct(points)
    return Path(points, np.zeros(max(len(points) - 1, 0)))


def rounded(corners: Array, radius: float) -> Path:
    """The line through corners, each rounded to a radius.

    Where two corners are too close for it, both get the largest radius that fits, like a pipe that
    turns back within one spacing. A corner that goes straight back stays.

    Args:
        corners: m, shape (n, 2).
        radius: m; at 0 the corners stay sharp.

    Returns:
        Straight pieces and arcs, from the first corner to the last.
    """
    corners = distinct(corners)
    if len(corners) < 3 or radius <= 0:
        return straight(corners)
    legs = np.diff(corners, axis=0)
    lengths = np.hypot(legs[:, 0], legs[:, 1])
    ahead = legs / lengths[:, None]
    before, after = ahead[:-1], ahead[1:]
    turn = np.arctan2(
        before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1)
    )
    bent = (np.abs(turn) > 1e-4) & (np.abs(turn) < FOLDED)
    half = np.where(bent, np.tan(np.abs(turn) / 2), 0.0)
    wanted = np.concatenate(([0.0], radius * half, [0.0]))
    with np.errstate(divide="ignore"):
        room = np.minimum(1.0, lengths / (wanted[:-1] + wanted[1:]))
    tangent = wanted[1:-1] * np.minimum(room[:-1], room[1:])
    starts = corners[1:-1] - before * tangent[:, None]
    ends = corners[1:-1] + after * tangent[:, None]
    points = np.concatenate((corners[:1], np.stack((starts, ends), 1).reshape(-1, 2), corners[-1:]))
    bulges = np.zeros(len(points) - 1)
    bulges[1:-1:2] = np.where(bent, np.tan(turn / 4), 0.0)
    kept = np.hypot(*np.diff(points, axis=0).T) > SAME
    return Path(points[np.concatenate(([True], kept))], bulges[kept])


def flattened(path: Path, step: float = STEP) -> tuple[Array, Array, Index]:
    """A path as straight pieces, in order.

    Args:
        path: straight pieces and arcs, m.
        step: largest turn of a piece that replaces a part of an arc, rad.

    Returns:
        The m + 1 ends of the m pieces, m, shape (m + 1, 2); the length along the path that each
        represents, m, shape (m,), so that their sum is that of the path; the number of the path's
        own piece that each is a part of, shape (m,).
    """
    turns = path.turns
    counts = np.maximum(1, np.ceil(np.abs(turns) / step - 1e-9)).astype(np.intp)
    which = np.repeat(np.arange(len(counts)), counts)
    nth = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts) + 1
    start, end = path.points[:-1][which], path.points[1:][which]
    share = nth / counts[which]
    # Along an arc: the chord from its start has the direction of the whole one, turned by half of
    # what is still to come, and the length that belongs to its own angle.
    whole = turns[which]
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.where(whole == 0, share, np.sin(whole * share / 2) / np.sin(whole / 2))
    back = -whole * (1 - share) / 2
    chord = end - start
    turned = np.stack(
        (
            chord[:, 0] * np.cos(back) - chord[:, 1] * np.sin(back),
            chord[:, 0] * np.sin(back) + chord[:, 1] * np.cos(back),
        ),
        axis=1,
    )
    points = start + turned * reach[:, None]
    return (
        np.concatenate((path.points[:1], points)),
        np.repeat(path.lengths / counts, counts),
        which,
    )


def distinct(points: Array) -> Array:
    """Points without those that repeat the one before.

    Args:
        points: in order, m, shape (n, 2).

    Returns:
        Those farther than `SAME` from the point before, shape (m, 2); the first always.
    """
    if len(points) < 2:
        return points
    return points[np.concatenate(([True], _lengths(points) > SAME))]


def tightest(path: Path) -> float:
    """Smallest bend radius of a path, m; NaN where a corner is drawn sharp, or nothing bends.

    Short straight pieces that turn a little each count as an arc drawn in chords.
    """
    arcs = path.radii[path.bulges != 0]
    least = float(arcs.min()) if len(arcs) else np.inf
    steps = np.diff(path.points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    if len(steps) > 1:
        start = np.arctan2(steps[:, 1], steps[:, 0]) - path.turns / 2
        end = np.arctan2(steps[:, 1], steps[:, 0]) + path.turns / 2
        turn = np.abs(np.angle(np.exp(1j * (start[1:] - end[:-1]))))
        if (turn > SHARP).any():
            return float("nan")
        bent = (turn > np.radians(2.0)) & (path.bulges[1:] == 0) & (path.bulges[:-1] == 0)
        chord = np.minimum(lengths[1:], lengths[:-1])[bent]
        if len(chord):
            least = min(least, float((chord / (2 * np.sin(turn[bent] / 2))).min()))
    return least if np.isfinite(least) else float("nan")


def main_direction(plan: Plan) -> float:
    """The direction, rad, to which most lines are parallel or at right angles, so that boxes fit
    them.
    """
    steps = [np.diff(path.points, axis=0) for path in plan.routes.values()]
    steps += [np.diff(room, axis=0) for room in plan.rooms.values()]
    if not steps:
        return 0.0
    every = np.concatenate(steps)
    lengths = np.hypot(every[:, 0], every[:, 1])
    quarter = np.mod(np.arctan2(every[:, 1], every[:, 0]), np.pi / 2)
    # The mean of four times the angle, weighed by length, so that 0° and 90° are the same.
    mean = np.angle((lengths**2 * np.exp(4j * quarter)).sum()) / 4
    return 0.0 if abs(mean) < 1e-9 else float(mean)


def rotation(angle: float) -> Array:
    """The matrix that rotates by an angle, rad, shape (2, 2)."""
    return np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])


def turned(plan: Plan, angle: float) -> Plan:
    """A plan rotated about its origin.

    Args:
        plan: the plan, which is not changed.
        angle: rad, from the x axis to the y axis.

    Returns:
        A plan of the rotated lines alone, without `remarks`, `undirected` and `parts`; the plan
        itself where the angle is 0.
    """
    if angle == 0:
        return plan
    turn = rotation(angle)

    def lines(of: dict[str, Array]) -> dict[str, Array]:
        return {name: line @ turn for name, line in of.items()}

    return Plan(
        rooms=lines(plan.rooms),
        routes={name: Path(path.points @ turn, path.bulges) for name, path in plan.routes.items()},
        joints=lines(plan.joints),
        fixed=lines(plan.fixed),
        keep_clear=lines(plan.keep_clear),
        outer_walls=lines(plan.outer_walls),
        headers=lines(plan.headers),
    )


def _lengths(points: Array) -> Array:
    steps = np.diff(points, axis=0)
    lengths: Array = np.hypot(steps[:, 0], steps[:, 1])
    return lengths
