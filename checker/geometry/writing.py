"""Writes a plan as text for a design: corners and radii instead of arcs."""

from __future__ import annotations

from collections import Counter

import numpy as np

from checker.arrays import Array
from checker.geometry.plan import Path, Plan, flattened, tightest

ALIKE = 0.01
"""Arcs whose radius differs from the route's bend by less than this share become corners."""
CHORD = np.pi / 16
"""Largest turn of a chord that replaces an arc of another radius."""


def as_text(plan: Plan, unit: str, metre: float) -> str:
    """A plan as the `plan:` of a design file.

    Args:
        plan: the plan, m.
        unit: the unit that its points are written in, such as `mm`.
        metre: one of that unit in metres.

    Returns:
        Lines of YAML from `plan:` on, with a line break at the end. Arcs of a route's usual radius
        are written as corners and their `bend`, others as chords.
    """
    bends = {name: _radius(path) for name, path in plan.routes.items()}
    usual = Counter(round(radius, 4) for radius in bends.values() if radius > 0).most_common(1)
    bend = usual[0][0] if usual else 0.0
    said = ["plan:", f"  unit: {unit}"]
    if bend:
        said.append(f"  bend: {bend * 1000:g} mm")
    other = {name: r for name, r in bends.items() if abs(r - bend) > ALIKE * max(bend, 1e-9)}
    if other and bend:
        said.append("  bends:")
        said += [f"    {_quoted(name)}: {r * 1000:.4g} mm" for name, r in other.items()]
    lines = {
        "rooms": plan.rooms,
        "routes": {name: corners(path, bends[name]) for name, path in plan.routes.items()},
        "joints": plan.joints,
        "fixed": plan.fixed,
        "keep_clear": plan.keep_clear,
        "outer_walls": plan.outer_walls,
        "headers": plan.headers,
    }
    for part, own in lines.items():
        if own:
            said.append(f"  {part}:")
            said += [f"    {_quoted(name)}: {_points(line, metre)}" for name, line in own.items()]
        elif part in plan.parts:
            said.append(f"  {part}: {{}}")
    return "\n".join(said) + "\n"


def corners(path: Path, radius: float) -> Array:
    """The corners that make the path when each is rounded to the radius, m, shape (n, 2).

    Arcs of another radius become chords.
    """
    if not path.bulges.any():
        return path.points
    found: list[Array] = [path.points[0]]
    for start, end, bulge, turn, own in zip(
        path.points[:-1], path.points[1:], path.bulges, path.turns, path.radii, strict=True
    ):
        if bulge == 0:
            found.append(end)
            continue
        if abs(own - radius) > ALIKE * radius:
            arc = Path(np.array([start, end]), np.array([bulge]))
            found += [*flattened(arc, CHORD)[0][1:]]
            continue
        pieces = max(1, int(np.ceil(abs(turn) / (np.pi / 2) - 1e-9)))
        chord = end - start
        way = np.arctan2(chord[1], chord[0]) - turn / 2
        at = start
        for _ in range(pieces):
            part = turn / pieces
            tangent = own * np.tan(abs(part) / 2)
            found.append(at + tangent * np.array([np.cos(way), np.sin(way)]))
            step = 2 * own * np.sin(abs(part) / 2)
            at = at + step * np.array([np.cos(way + part / 2), np.sin(way + part / 2)])
            way += part
        found.append(end)
    return _without_straight(np.array(found))


def _without_straight(points: Array) -> Array:
    """The points without those on the straight line between their neighbours."""
    kept = [0]
    for number in range(1, len(points) - 1):
        before, after = points[number] - points[kept[-1]], points[number + 1] - points[number]
        cross = before[0] * after[1] - before[1] * after[0]
        lengths = float(np.hypot(*before) * np.hypot(*after))
        if lengths < 1e-12 or (abs(cross) < 1e-6 * lengths and before @ after > 0):
            continue
        kept.append(number)
    return points[[*kept, len(points) - 1]]


def _radius(path: Path) -> float:
    found = tightest(path)
    return 0.0 if np.isnan(found) else found


def _points(line: Array, metre: float) -> str:
    digits = 1 if metre < 0.005 else 4
    return ", ".join(
        " ".join(_number(value, digits) for value in point) for point in (line / metre).tolist()
    )


def _number(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _quoted(name: str) -> str:
    plain = name.replace(" ", "").replace("-", "").replace("_", "").replace(".", "")
    sure = plain.isalnum() and plain.isascii() and not plain[0].isdigit()
    word = name.casefold() not in ("true", "false", "yes", "no", "on", "off", "null")
    if sure and word and name == name.strip() and name[0].isalpha():
        return name
    return "'" + name.replace("'", "''") + "'"
