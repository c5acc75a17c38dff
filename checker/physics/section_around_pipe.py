"""A section without its pipe: what lies around the pipe and under the covering, on two grids.

It does not depend on covering, pipe wall or film, so it is worked once for all of these.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from checker.arrays import Array
from checker.physics import section_in_parts
from checker.physics.build_up import Section
from checker.physics.conduction import Reduced, reduce
from checker.physics.en_1264 import SURFACE_COEFFICIENT
from checker.physics.section_grid import Mesh, conductivities, mesh, shape, size
from checker.physics.section_in_parts import parted, put_together

CONTACT = 1e-6
"""Replaces a resistance of zero, which has no inverse: m²·K/W or m·K/W."""


def forget() -> None:
    """Drop everything that this process keeps of sections without their pipes."""
    _outsides.clear()
    section_in_parts.forget()


def conductance_above(section: Section) -> float:
    """Conductance of covering and the room's exchange together.

    Args:
        section: the floor.

    Returns:
        W/(m²·K).

    Source:
        1/(1/10.8 + R_λ,B), EN 1264-2:2021, reported.
    """
    return 1 / (1 / SURFACE_COEFFICIENT + section.covering)


class _Outside(NamedTuple):
    """What is round the pipe and under the covering, on one grid; angles, across: as of `Grid`."""

    angles: Array
    across: Array
    reduced: Reduced


_MOST_OUTSIDES = 500
"""Most solutions that are kept in memory, fine and coarse, 25 kB a pair."""
TOGETHER = 32
"""Grids eliminated at once, so that they lie in the processor's own memory."""
_outsides: dict[tuple[Section, int], tuple[_Outside, _Outside]] = {}


def outsides_of(sections: Sequence[Section], fineness: int) -> list[tuple[_Outside, _Outside]]:
    """What lies around the pipe in each section, on its grid and on that of half its divisions.

    Sections that differ in nothing but covering and pipe wall have one outside, worked once.

    Args:
        sections: the floors.
        fineness: of the grid, as a multiple of the usual divisions.

    Returns:
        For each section the two grids, in order.

    Source:
        The method of `section`.
    """
    plain = [
        replace(section, covering=0.0, wall=0.0, pipe_conductivity=1.0) for section in sections
    ]
    wanted = dict.fromkeys((outside, fineness) for outside in plain)
    new = [key for key in wanted if key not in _outsides]
    if len(_outsides) + len(new) > _MOST_OUTSIDES:
        _outsides.clear()
        new = list(wanted)
    alike: dict[tuple[object, ...], list[Section]] = {}
    for outside, _ in new:
        alike.setdefault((parted(outside), *size(outside)), []).append(outside)
    for (parts, *_), those in alike.items():
        make = _of_parts if parts else _whole
        for start in range(0, len(those), TOGETHER):
            some = those[start : start + TOGETHER]
            fine, coarse = (make(some, fineness / divisor) for divisor in (1, 2))
            for outside, *own in zip(some, fine, coarse, strict=True):
                _outsides[outside, fineness] = own[0], own[1]
    return [_outsides[outside, fineness] for outside in plain]


def _of_parts(outsides: Sequence[Section], fineness: float) -> list[_Outside]:
    """Of one size."""
    below = _exchange_below(outsides)
    return [
        _Outside(part.angles, part.across, reduced)
        for part, reduced in put_together(outsides, fineness, below)
    ]


def _whole(outsides: Sequence[Section], fineness: float) -> list[_Outside]:
    """Of one size; those that differ in nothing but what conducts have the same corners."""
    of_shape = {shape(outside): outside for outside in outsides}
    meshes = {own: mesh(outside, fineness) for own, outside in of_shape.items()}
    own = [meshes[shape(outside)] for outside in outsides]
    # The top's corners are copied, so that the meshes can be let go of.
    return [
        _Outside(one.angles, one.x[0].copy(), reduced)
        for one, reduced in zip(own, eliminated(outsides, own).apart(), strict=True)
    ]


def _exchange_below(outsides: Sequence[Section]) -> Array:
    """W/(m²·K), shape (sections,)."""
    return np.array([1 / max(outside.below, CONTACT) for outside in outsides])


def eliminated(
    outsides: Sequence[Section], meshes: Sequence[Mesh], *, inside: bool = False
) -> Reduced:
    """Sections of one size on their grids, all eliminated but the top line and the terminals.

    Args:
        outsides: the floors.
        meshes: the grid of each, all of one size.
        inside: keep the way back to the temperatures inside.

    Returns:
        All together, as `conduction.reduce` gives them.

    Source:
        `conduction.reduce`.
    """
    conducting = zip(map(conductivities, outsides), meshes, strict=True)
    return reduce(
        np.stack([own.x for own in meshes]),
        np.stack([own.y for own in meshes]),
        np.stack([np.array(values)[own.materials] for values, own in conducting]),
        _exchange_below(outsides),
        meshes[0].held,
        inside=inside,
    )
