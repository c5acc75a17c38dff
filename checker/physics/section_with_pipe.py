"""A section with its pipe, on one grid: heat and temperatures for one kelvin of water or air."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import prod
from struct import Struct
from typing import NamedTuple

import numpy as np

from checker.arrays import Array
from checker.physics.build_up import WATER, Section
from checker.physics.conduction import respond
from checker.physics.section_around_pipe import CONTACT, TOGETHER, conductance_above, eliminated
from checker.physics.section_grid import Mesh, mesh, size

_HEAD = Struct("<dII")
"""Before a packed grid: its fineness, corners on the circle, corners across."""
_RINGS = 2
"""Divisions of pipe wall and ring, from inside out."""


class Joined(NamedTuple):
    """Grids with their pipes, for one kelvin of WATER, ROOM and BELOW each, in the last place.

    flow: heat in from each of the three, W/(m²·K), shape (grids, 3, 3); top: temperatures under
    the covering, shape (grids, points, 3); circle: those of the nodes round the pipe, shape
    (grids, nodes, 3).
    """

    flow: Array
    top: Array
    circle: Array


class Grid:
    """One section on one grid: what the outside of the pipe does."""

    def __init__(
        self,
        section: Section,
        fineness: float,
        angles: Array,
        across: Array,
        conductance: Array,
        top: Array,
    ) -> None:
        """Keep what the outside of the pipe does.

        Args:
            section: the floor.
            fineness: of the grid, as a multiple of the usual divisions.
            angles: of the circle's corners, shape (nodes,).
            across: of the top's corners, m, shape (columns + 1,).
            conductance: as of `conduction.Response`, of this section alone.
            top: as of `conduction.Response`, of this section alone.
        """
        self.section, self.fineness = section, fineness
        self.angles: Array = angles
        # Copies, so that the solution of many sections at once can be let go of.
        self.across: Array = across
        self._conductance: Array = conductance.copy()
        self._top: Array = top.copy()

    @property
    def mesh(self) -> Mesh:
        """The cells and corners of this grid."""
        return mesh(self.section, self.fineness)

    def packed(self) -> bytes:
        """The grid as bytes, for `unpacked`.

        Returns:
            Bytes, the same for the same grid.
        """
        head = _HEAD.pack(self.fineness, len(self.angles), len(self.across))
        arrays = (self.angles, self.across, self._conductance, self._top)
        return head + b"".join(one.astype("<f8").tobytes() for one in arrays)

    @classmethod
    def unpacked(cls, section: Section, packed: bytes) -> tuple[Grid, bytes]:
        """A grid made of the bytes of `packed`.

        Args:
            section: the floor that it is of.
            packed: bytes that begin with a grid.

        Returns:
            The grid, and the bytes after it.

        Raises:
            ValueError: the bytes do not begin with a grid.
        """
        if len(packed) < _HEAD.size:
            raise ValueError("less than a grid")
        fineness, circle, columns = _HEAD.unpack_from(packed)
        terminals = circle + 2
        shapes = [(circle,), (columns,), (terminals, terminals), (columns, terminals)]
        start, arrays = _HEAD.size, []
        for sides in shapes:
            end = start + 8 * prod(sides)
            if end > len(packed):
                raise ValueError("less than a grid")
            found = np.frombuffer(packed[start:end], "<f8").astype(np.float64)
            arrays.append(found.reshape(sides))
            start = end
        return cls(section, fineness, *arrays), packed[start:]

    @property
    def size(self) -> tuple[object, ...]:
        """What grids have in common that can be joined to their pipes at once."""
        plain = self.section.plate is None
        return plain, self.fineness, len(self.angles), len(self.across)

    @property
    def outside(self) -> tuple[Array, Array]:
        """Conductance and top, as of `conduction.Response`."""
        return self._conductance, self._top

    def joined(self, film: float) -> Joined:
        """The grid joined to its pipe.

        Args:
            film: resistance from the water to the bore of a metre of pipe, m·K/W.

        Returns:
            Heat and temperatures for one kelvin of water, room and below; arrays as of `Joined`,
            without their first axis.

        Source:
            The method of `section`.
        """
        flow, top, circle = joined([self], np.array([film]))
        return Joined(flow[0], top[0], circle[0])

    def temperatures(self, film: float, water: float, room: float, below: float) -> Array:
        """Temperatures of the grid's corners outside the pipe; solves the grid again.

        Args:
            film: as for `joined`, m·K/W.
            water: °C.
            room: °C.
            below: °C.

        Returns:
            °C, shape (rows + 1, columns + 1); NaN inside the pipe.

        Source:
            The method of `section`.
        """
        ((_, found),) = temperatures([(self, film, water, room, below)])
        return found


def temperatures(
    wanted: Sequence[tuple[Grid, float, float, float, float]],
) -> list[tuple[Mesh, Array]]:
    """Temperatures of the corners of many grids outside the pipe.

    Solves all again, those of one size together.

    Args:
        wanted: for each: grid, film as for `joined` (m·K/W), and the temperatures of water, room
            and below, °C.

    Returns:
        For each its mesh, and °C of its corners, shape (rows + 1, columns + 1), NaN inside the
        pipe.

    Source:
        The method of `section`.
    """
    found: dict[int, tuple[Mesh, Array]] = {}
    alike: dict[tuple[object, ...], list[int]] = {}
    for number, (grid, *_) in enumerate(wanted):
        alike.setdefault((grid.fineness, *size(grid.section)), []).append(number)
    for numbers in alike.values():
        for start in range(0, len(numbers), TOGETHER):
            some = numbers[start : start + TOGETHER]
            grids = [wanted[number][0] for number in some]
            ends = np.array([wanted[number][2:] for number in some])
            joints = joined(grids, np.array([wanted[number][1] for number in some]))
            circles = [circle @ own for circle, own in zip(joints.circle, ends, strict=True)]
            meshes = [grid.mesh for grid in grids]
            reduced = eliminated([grid.section for grid in grids], meshes, inside=True)
            response = respond(
                reduced, np.array([conductance_above(grid.section) for grid in grids])
            )
            terminals = np.concatenate((np.stack(circles), ends[:, 1:]), axis=1)
            whole = response.temperatures(reduced, terminals)
            for number, own, degrees, circle in zip(some, meshes, whole, circles, strict=True):
                rows, columns = own.held
                degrees[rows.min() + 1 : rows.max(), : columns.max()] = np.nan
                degrees[rows, columns] = circle
                found[number] = own, degrees
    return [found[number] for number in range(len(wanted))]


def joined(grids: Sequence[Grid], films: Array) -> Joined:
    """Grids of one size, joined to their pipes.

    Args:
        grids: of one size.
        films: resistance from the water to the bore of a metre of each pipe, m·K/W, shape (grids,).

    Returns:
        Heat and temperatures for one kelvin of water, room and below.

    Source:
        The method of `section`.
    """
    count = len(grids[0].angles)
    pipe, water = _pipes(grids, films)
    outer, top = (np.stack(parts) for parts in zip(*(grid.outside for grid in grids), strict=True))
    drive = np.concatenate((water[..., None], outer[:, :count, count:]), axis=2)
    circle = -np.linalg.solve(outer[:, :count, :count] + pipe, drive)
    flow = np.swapaxes(drive, 1, 2) @ circle
    flow[:, WATER, WATER] -= water.sum(axis=1)
    flow[:, 1:, 1:] += outer[:, count:, count:]
    under = top[..., :count] @ circle
    under[..., 1:] += top[..., count:]
    flow *= np.array([2 / grid.section.spacing for grid in grids])[:, None, None]
    return Joined(flow, under, circle)


def _pipes(grids: Sequence[Grid], films: Array) -> tuple[Array, Array]:
    """Pipe wall and ring as the circles' nodes see them: matrices, and the water's part.

    In the logarithm of the radius and the angle, conduction is as in a plane. Rings of one pipe
    have the same matrices round the circle, so that each of their modes goes on its own.
    """
    circles = [grid.angles.tobytes() for grid in grids]
    if len({*circles}) == 1:
        del circles[1:]  # one stands for all
    modes, rates = (np.stack(parts) for parts in zip(*map(_modes, circles), strict=True))
    sections = [grid.section for grid in grids]
    bands = [
        [(one.outside / (one.outside - 2 * one.wall), one.pipe_conductivity) for one in sections]
    ]
    if sections[0].plate:
        bands.append(
            [
                (2 * one.radius / one.outside, one.plate.conductivity)
                for one in sections
                if one.plate
            ]
        )
    through = np.repeat(1 / (2 * np.pi * np.maximum(films, CONTACT))[:, None], len(rates[0]), 1)
    water = -through * modes.sum(axis=1)
    rings = round(_RINGS * grids[0].fineness)
    for band in bands:
        ratio, conductivity = np.array(band).T[..., None]
        step = np.log(ratio) / rings
        near = conductivity * (1 / step + rates * (step / 3))
        far = conductivity * (-1 / step + rates * (step / 6))
        for _ in range(rings):
            share = far / (through + near)
            through, water = near - share * far, -share * water
    turned = np.swapaxes(modes, 1, 2)
    return (modes * through[:, None]) @ turned, (modes @ water[..., None])[..., 0]


@lru_cache(256)
def _modes(angles: bytes) -> tuple[Array, Array]:
    """Of a circle with nodes at these angles: what makes its mass of the unit matrix, times it and
    its transpose, and likewise its stiffness of the diagonal of the second, the modes' rates."""
    steps = np.diff(np.frombuffer(angles, dtype=np.float64))
    mass, stiffness = np.zeros((2, len(steps) + 1, len(steps) + 1))
    place = np.arange(len(steps))
    for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)):
        mass[place + i, place + j] += steps * (2 if i == j else 1) / 6
        stiffness[place + i, place + j] += (1 if i == j else -1) / steps
    root = np.linalg.cholesky(mass)
    half = np.linalg.solve(root, stiffness)
    rates, turned = np.linalg.eigh(np.linalg.solve(root, half.T))
    return root @ turned, rates
