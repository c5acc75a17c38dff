"""The fields into which a floor's joints cut the screed of each room."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.geometry.plan import Plan
from checker.geometry.shapes import sides_of

SLIVER = 0.01
"""m²; a smaller piece between joints is the trace of a line that misses another, not a field."""


def fields_between_joints(plan: Plan) -> dict[str, Array]:
    """The largest field of screed of each room, cut by its joints.

    A field's sides are those of the smallest rectangle around it.

    Args:
        plan: the floor, with its rooms and joints, m.

    Returns:
        One value a room, of all its fields the largest, NaN where its outline crosses itself:
        `field_area`, m²; `field_length`, the longest side, m; `field_aspect`, longer over shorter
        side.
    """
    import shapely
    from shapely.ops import polygonize, unary_union

    table = np.full((3, len(plan.rooms)), np.nan)
    joints = [shapely.LineString(line) for line in plan.joints.values() if len(line) > 1]
    for room, outline in enumerate(plan.rooms.values()):
        polygon = shapely.Polygon(outline)
        if not polygon.is_valid:
            continue
        own = [joint for joint in joints if joint.intersects(polygon)]
        fields = [polygon]
        if own:
            lines = unary_union([polygon.exterior, *own])
            fields = [
                part
                for part in polygonize(lines)
                if part.area > SLIVER and polygon.contains(part.representative_point())
            ]
        sides = [sides_of(part) for part in fields]
        table[:, room] = (
            max(part.area for part in fields),
            max(max(pair) for pair in sides),
            max(max(pair) / min(pair) for pair in sides),
        )
    return dict(zip(("field_area", "field_length", "field_aspect"), table, strict=True))
