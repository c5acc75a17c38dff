"""Two values between which the heat of a section must be, computed by hand."""

from __future__ import annotations

from checker.physics.build_up import Section
from checker.physics.en_1264 import SURFACE_COEFFICIENT
from checker.physics.section_around_pipe import CONTACT


def bounds(section: Section) -> tuple[float, float]:
    """Between which values the heat lies that the water gives for one kelvin over both sides.

    Least: straight up and down from the bore's width alone, nothing sideways, the way through pipe
    and layer beside it counted at the worse of the two. Most: as if all at the height of the pipe's
    crown, and all at that of its underside, were as warm as the water.

    Args:
        section: the floor.

    Returns:
        The least and the most, W/(m²·K).

    Source:
        What conducts nothing sideways, and what conducts everything, bound the true flow; worked by
        hand.
    """
    own = section.layers[section.pipe_layer]
    pipe = section.outside / 2
    worse = min(own.conductivity, section.pipe_conductivity)
    least = most = 0.0
    for outer, levels in (
        (
            1 / SURFACE_COEFFICIENT + section.covering,
            (section.depth - section.radius, section.depth - pipe),
        ),
        (max(section.below, CONTACT), (section.depth + section.radius, section.depth + pipe)),
    ):
        up = levels[0] < section.depth
        near, far = (_between(section, level, up=up) for level in levels)
        most += 1 / (outer + near[0])
        least += 1 / (outer + far[1] + pipe / worse)
    return least * (section.outside - 2 * section.wall) / section.spacing, most


def _between(section: Section, level: float, *, up: bool) -> tuple[float, float]:
    """Resistance of the layers over or under a level: with joists wherever they help, and without,
    m²·K/W."""
    helped = plain = 0.0
    for layer, top, bottom in zip(
        section.layers, section.heights, section.heights[1:], strict=False
    ):
        over = min(bottom, level) - top if up else bottom - max(top, level)
        thick = max(over, 0.0)
        timber = layer.joist if section.joist else 0.0
        helped += thick / max(layer.conductivity, timber)
        plain += thick / layer.conductivity
    return helped, plain
