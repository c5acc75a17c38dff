"""A heated floor in section: two-dimensional conduction through half a spacing.

From the middle of a pipe to the middle between two: covering, layers, pipe wall, plate, joist,
insulation. The room's exchange is EN 1264-2's 10.8 W/(m²·K), what is below as in R_u of
EN 1264-3 (both reported). The covering conducts nothing sideways: it is a resistance of the top.

Inside the pipe and the plate's ring round it the grid is polar, outside it has rows and columns
that end on the circle. The two are joined at the circle's nodes, so one solution of the outside
serves every film of water.

Each section is solved on a grid and on one of half its divisions. Bilinear elements converge with
the square of the cells' size, so values are carried on by a third of the difference (Richardson's
extrapolation), and that third is the error told. Heat is balanced exactly on both grids, and so
on the result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from math import prod
from struct import Struct
from typing import NamedTuple

import numpy as np

from checker.physics.arrays import Floats, Numbers, elementwise
from checker.physics.build_up import Section
from checker.physics.conduction import Reduced, reduce, respond
from checker.physics.section_grid import Mesh, conductivities, mesh, shape, size
from checker.physics.shelf import Shelf, at_hand

SURFACE = 10.8
"""W/(m²·K), floor to room; EN 1264-2, reported."""

NO_FILM = 0.0
"""m·K/W: a bore as warm as the water."""

_CONTACT = 1e-6
"""Stands for a resistance of zero, which has no inverse: m²·K/W or m·K/W."""
TOLERANCE = 0.004
"""Of a coefficient: where the error is a larger share, the section is solved on a finer grid."""
_HEAD = Struct("<dII")
"""Before a packed grid: its fineness, corners on the circle, corners across."""
_RINGS = 2
"""Divisions of pipe wall and ring, from inside out."""
_MOST_FILMS = 200
"""Films whose values a solution keeps in hand."""
_AT_ONCE = 500
"""Solutions joined to their pipes at once, of 30 kB each."""
WATER, ROOM, BELOW = 0, 1, 2
"""Places in what is asked for each of the three temperatures."""

# Re below which flow is laminar and above which it is turbulent; Nusselt number of fully developed
# laminar flow at an even heat flux. F. P. Incropera and D. P. DeWitt, chapter 8; from memory.
_LAMINAR, _TURBULENT, _LAMINAR_NUSSELT = 2300.0, 4000.0, 4.36


@elementwise
def nusselt(reynolds: Numbers, prandtl: Numbers) -> Numbers:
    """Nusselt number of water in a pipe: 4.36 below Re 2300, Gnielinski's above 4000, linear in
    Re between.

    reynolds, prandtl: pure numbers; shapes broadcast. Returns a pure number. Gnielinski's formula
    with Petukhov's friction for smooth pipes; Incropera and DeWitt, chapter 8; from memory.
    """
    turbulent = np.maximum(reynolds, _TURBULENT)
    friction = (0.79 * np.log(turbulent) - 1.64) ** -2 / 8
    full = (
        friction
        * (turbulent - 1000)
        * prandtl
        / (1 + 12.7 * np.sqrt(friction) * (prandtl ** (2 / 3) - 1))
    )
    share = np.clip((reynolds - _LAMINAR) / (_TURBULENT - _LAMINAR), 0, 1)
    return np.asarray(_LAMINAR_NUSSELT + share * (full - _LAMINAR_NUSSELT))


@elementwise
def film_coefficient(
    reynolds: Numbers,
    viscosity: Numbers,
    specific_heat: Numbers,
    conductivity: Numbers,
    bore: Numbers,
) -> Numbers:
    """Heat transfer from the water to the bore.

    reynolds: pure number; viscosity: Pa·s; specific_heat: J/(kg·K); conductivity: of the water,
    W/(m·K); bore: m. Shapes broadcast. Returns W/(m²·K): Nu·λ/d.
    """
    prandtl = viscosity * specific_heat / conductivity
    return np.asarray(nusselt(reynolds, prandtl) * conductivity / bore)


def film_resistance(section: Section, coefficient: float) -> float:
    """From the water to the bore of a metre of pipe, m·K/W; coefficient: W/(m²·K), or infinite."""
    return float(1 / (np.pi * (section.outside - 2 * section.wall) * coefficient))


def bounds(section: Section) -> tuple[float, float]:
    """What heat the water can give for one kelvin over both sides, worked by hand: W/(m²·K).

    Least: straight up and down from the bore's width alone, nothing sideways, the way through pipe
    and layer beside it counted at the worse of the two. Most: as if all at the height of the pipe's
    crown, and all at that of its underside, were as warm as the water. What conducts nothing
    sideways, and what conducts all, bound the true flow.
    """
    own = section.layers[section.pipe_layer]
    pipe = section.outside / 2
    worse = min(own.conductivity, section.pipe_conductivity)
    least = most = 0.0
    for outer, levels in (
        (1 / SURFACE + section.covering, (section.depth - section.radius, section.depth - pipe)),
        (max(section.below, _CONTACT), (section.depth + section.radius, section.depth + pipe)),
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


class Values:
    """What a section does at any temperatures, with one film of water.

    flow: shape (3, 3), W/(m²·K): times the temperatures of WATER, ROOM and BELOW it is the heat
    that goes in from each. surface: shape (points, 3): times the same it is the temperature of the
    floor's surface at `across`, m from over the pipe.
    """

    def __init__(self, across: Floats, fine: Joined, coarse: Joined, covering: float) -> None:
        share = 1 / (1 + SURFACE * covering)
        self.across = across
        self._flow_step: Floats = (fine.flow - coarse.flow) / 3
        self._surface_step: Floats = (fine.top[::2] - coarse.top) / 3 * share
        self.flow: Floats = fine.flow + self._flow_step
        self.surface: Floats = fine.top[::2] * share + self._surface_step
        self.surface[:, ROOM] += 1 - share

    @property
    def coefficient(self) -> float:
        """Heat up over the water's excess, the room's temperature on both sides, W/(m²·K)."""
        return float(-self.flow[ROOM, WATER])

    @property
    def coefficient_error(self) -> float:
        """Of the coefficient, by refinement, W/(m²·K)."""
        return float(abs(self._flow_step[ROOM, WATER]))

    @property
    def downward_coefficient(self) -> float:
        """Heat down over the water's excess, the room's temperature on both sides, W/(m²·K)."""
        return float(-self.flow[BELOW, WATER])

    @property
    def highest(self) -> float:
        """The surface's highest excess for one kelvin of the water's, the room's temperature on
        both sides."""
        return float(self.surface[:, WATER].max())

    @property
    def highest_error(self) -> float:
        """Of the highest, by refinement."""
        return float(abs(self._surface_step[self.surface[:, WATER].argmax(), WATER]))

    def fluxes(self, water: float, room: float, below: float) -> tuple[float, float]:
        """Heat up and down, W/m², at temperatures in °C."""
        into = self.flow @ np.array([water, room, below])
        return float(-into[ROOM]), float(-into[BELOW])

    def surface_temperatures(self, water: float, room: float, below: float) -> Floats:
        """Of the floor's surface at `across`, °C."""
        found: Floats = self.surface @ np.array([water, room, below])
        return found


@dataclass(frozen=True)
class Joined:
    """One grid with its pipe, for one kelvin of WATER, ROOM and BELOW each, in the last place.

    flow: heat in from each of the three, W/(m²·K), shape (3, 3); top: temperatures under the
    covering; circle: those of the nodes round the pipe, shape (nodes, 3).
    """

    flow: Floats
    top: Floats
    circle: Floats


class Solution:
    """A section solved for every film and all temperatures."""

    def __init__(self, section: Section, fine: Grid, coarse: Grid) -> None:
        self.section, self.fine, self.coarse = section, fine, coarse
        self._found: dict[float, Values] = {}

    def packed(self) -> bytes:
        """What `unpacked` makes the same solution of."""
        return b"".join(grid.packed() for grid in (self.fine, self.coarse))

    @classmethod
    def unpacked(cls, section: Section, packed: bytes) -> Solution:
        """The solution of a section, to the last digit; raises ValueError where it is not one."""
        grids = []
        for _ in range(2):
            grid, packed = Grid.unpacked(section, packed)
            grids.append(grid)
        if packed:
            raise ValueError("more than a solution")
        return cls(section, *grids)

    def values(self, film: float = NO_FILM) -> Values:
        """film: resistance from the water to the bore of a metre of pipe, m·K/W."""
        found = self._found.get(film)
        if found is None:
            if len(self._found) >= _MOST_FILMS:
                self._found.clear()
            fine, coarse = self.fine.joined(film), self.coarse.joined(film)
            found = self._found[film] = self._made(fine, coarse)
        return found

    def _made(self, fine: Joined, coarse: Joined) -> Values:
        return Values(self.fine.across[::2], fine, coarse, self.section.covering)

    @staticmethod
    def prepare(wanted: Iterable[tuple[Solution, float]]) -> None:
        """Work out values for these films, m·K/W, those of one size at once, so that `values` has
        them in hand."""
        alike: dict[tuple[object, ...], list[tuple[Solution, float]]] = {}
        for one, film in dict.fromkeys(wanted):
            if film not in one._found:
                alike.setdefault(one.fine.size, []).append((one, film))
        for pairs in alike.values():
            for start in range(0, len(pairs), _AT_ONCE):
                some = pairs[start : start + _AT_ONCE]
                films = np.array([film for _, film in some])
                fine = joined([one.fine for one, _ in some], films)
                coarse = joined([one.coarse for one, _ in some], films)
                for (one, film), *grids in zip(some, fine, coarse, strict=True):
                    if len(one._found) >= _MOST_FILMS:
                        one._found.clear()
                    one._found[film] = one._made(*grids)


_MOST_KEPT = 2000
"""Solutions in hand, of 50 kB each."""
_kept: dict[Section, Solution] = {}


def forget() -> None:
    """Let all solutions go that this process has kept."""
    _kept.clear()
    _outsides.clear()


def kept(sections: Sequence[Section]) -> list[Solution]:
    """As `solve`, but what this process has solved before, or a shelf has, is not solved again."""
    new = [section for section in dict.fromkeys(sections) if section not in _kept]
    if len(_kept) + len(new) > _MOST_KEPT:
        _kept.clear()
        new = list(dict.fromkeys(sections))
    shelf = at_hand()
    if new and shelf is not None:
        _kept.update(_taken(new, shelf))
        new = [section for section in new if section not in _kept]
    solved = dict(zip(new, solve(new), strict=True))
    if solved and shelf is not None:
        shelf.keep({section: found.packed() for section, found in solved.items()})
    _kept.update(solved)
    return [_kept[section] for section in sections]


def _taken(sections: Sequence[Section], shelf: Shelf) -> Iterator[tuple[Section, Solution]]:
    for section, packed in shelf.take(sections).items():
        # What is none is solved as if it were not there.
        with suppress(ValueError):
            yield section, Solution.unpacked(section, packed)


def solve(sections: Sequence[Section]) -> list[Solution]:
    """Solve sections, those of one size together, and on a finer grid those that need it."""
    found = solve_once(sections, 1)
    Solution.prepare((one, NO_FILM) for one in found)
    rough = [number for number, one in enumerate(found) if _error(one) > TOLERANCE]
    finer = solve_once([sections[number] for number in rough], 2)
    for number, one in zip(rough, finer, strict=True):
        found[number] = one
    return found


def _error(solution: Solution) -> float:
    values = solution.values()
    return values.coefficient_error / values.coefficient


def solve_once(sections: Sequence[Section], fineness: int) -> list[Solution]:
    """Solve sections, those of one size together; fineness: times the divisions."""
    outsides = _outsides_of(sections, fineness)
    found: dict[int, Solution] = {}
    alike: dict[tuple[object, ...], list[int]] = {}
    for number, section in enumerate(sections):
        alike.setdefault(size(section), []).append(number)
    for numbers in alike.values():
        above = np.array([_above(sections[number]) for number in numbers])
        responses = [
            respond(Reduced.together([outsides[number][nth].reduced for number in numbers]), above)
            for nth in (0, 1)
        ]
        for place, number in enumerate(numbers):
            fine, coarse = (
                Grid(
                    sections[number],
                    fineness / divisor,
                    own.angles,
                    own.across,
                    response.conductance[place],
                    response.top[place],
                )
                for own, response, divisor in zip(outsides[number], responses, (1, 2), strict=True)
            )
            found[number] = Solution(sections[number], fine, coarse)
    return [found[number] for number in range(len(sections))]


def _above(section: Section) -> float:
    return 1 / (1 / SURFACE + section.covering)


class _Outside(NamedTuple):
    """What is round the pipe and under the covering, on one grid; angles, across: as of `Grid`."""

    angles: Floats
    across: Floats
    reduced: Reduced


_MOST_OUTSIDES = 1000
"""Kept in hand, fine and coarse, of 25 kB together."""
_TOGETHER = 32
"""Grids eliminated at once, so that they lie in the processor's own memory."""
_outsides: dict[tuple[Section, int], tuple[_Outside, _Outside]] = {}


def _outsides_of(sections: Sequence[Section], fineness: int) -> list[tuple[_Outside, _Outside]]:
    """Of each section, on the grid and on that of half its divisions.

    Sections that differ in nothing but covering and pipe wall have one outside, worked once.
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
        alike.setdefault(size(outside), []).append(outside)
    for those in alike.values():
        grids = [_reduced(those, fineness / divisor) for divisor in (1, 2)]
        for outside, *own in zip(those, *grids, strict=True):
            _outsides[outside, fineness] = own[0], own[1]
    return [_outsides[outside, fineness] for outside in plain]


def _reduced(outsides: Sequence[Section], fineness: float) -> list[_Outside]:
    """Of one size; those that differ in nothing but what conducts have the same corners."""
    of_shape = {shape(outside): outside for outside in outsides}
    meshes = {own: mesh(outside, fineness) for own, outside in of_shape.items()}
    found = []
    for start in range(0, len(outsides), _TOGETHER):
        some = outsides[start : start + _TOGETHER]
        own = [meshes[shape(outside)] for outside in some]
        # The top's corners are copied, so that the meshes can be let go of.
        found += [
            _Outside(one.angles, one.x[0].copy(), reduced)
            for one, reduced in zip(own, _eliminated(some, own).apart(), strict=True)
        ]
    return found


def _eliminated(
    outsides: Sequence[Section], meshes: Sequence[Mesh], *, inside: bool = False
) -> Reduced:
    conducting = zip(map(conductivities, outsides), meshes, strict=True)
    return reduce(
        np.stack([own.x for own in meshes]),
        np.stack([own.y for own in meshes]),
        np.stack([np.array(values)[own.materials] for values, own in conducting]),
        np.array([1 / max(outside.below, _CONTACT) for outside in outsides]),
        meshes[0].held,
        inside=inside,
    )


class Grid:
    """One section on one grid: what the outside of the pipe does."""

    def __init__(
        self,
        section: Section,
        fineness: float,
        angles: Floats,
        across: Floats,
        conductance: Floats,
        top: Floats,
    ) -> None:
        """fineness: times the divisions; angles: of the circle's corners; across: of the top's, m;
        conductance and top: as of `Response`, of this section alone."""
        self.section, self.fineness = section, fineness
        self.angles: Floats = angles
        # Copies, so that the solution of many sections at once can be let go of.
        self.across: Floats = across
        self._conductance: Floats = conductance.copy()
        self._top: Floats = top.copy()

    @property
    def mesh(self) -> Mesh:
        """The grid itself."""
        return mesh(self.section, self.fineness)

    def packed(self) -> bytes:
        """What `unpacked` makes the same grid of."""
        head = _HEAD.pack(self.fineness, len(self.angles), len(self.across))
        arrays = (self.angles, self.across, self._conductance, self._top)
        return head + b"".join(one.astype("<f8").tobytes() for one in arrays)

    @classmethod
    def unpacked(cls, section: Section, packed: bytes) -> tuple[Grid, bytes]:
        """The grid, and the bytes after it; raises ValueError where it is none."""
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
        """What grids have in common that are joined to their pipes at once."""
        plain = self.section.plate is None
        return plain, self.fineness, len(self.angles), len(self.across)

    @property
    def outside(self) -> tuple[Floats, Floats]:
        """Conductance and top, as of `Response`."""
        return self._conductance, self._top

    def joined(self, film: float) -> Joined:
        """With the pipe, and this resistance from the water to the bore, m·K/W."""
        (found,) = joined([self], np.array([film]))
        return found

    def temperatures(self, film: float, water: float, room: float, below: float) -> Floats:
        """Of the grid's corners outside the pipe, °C; NaN inside it. Solves it again."""
        ((_, found),) = temperatures([(self, film, water, room, below)])
        return found


def temperatures(
    wanted: Sequence[tuple[Grid, float, float, float, float]],
) -> list[tuple[Mesh, Floats]]:
    """Of the corners of each grid outside the pipe, °C, NaN inside it, with the grid itself.

    wanted: grid, film as of `joined`, water, room and below, °C. Solves all again, those of one
    size together.
    """
    found: dict[int, tuple[Mesh, Floats]] = {}
    alike: dict[tuple[object, ...], list[int]] = {}
    for number, (grid, *_) in enumerate(wanted):
        alike.setdefault((grid.fineness, *size(grid.section)), []).append(number)
    for numbers in alike.values():
        for start in range(0, len(numbers), _TOGETHER):
            some = numbers[start : start + _TOGETHER]
            grids = [wanted[number][0] for number in some]
            ends = np.array([wanted[number][2:] for number in some])
            joints = joined(grids, np.array([wanted[number][1] for number in some]))
            circles = [joint.circle @ own for joint, own in zip(joints, ends, strict=True)]
            meshes = [grid.mesh for grid in grids]
            reduced = _eliminated([grid.section for grid in grids], meshes, inside=True)
            response = respond(reduced, np.array([_above(grid.section) for grid in grids]))
            terminals = np.concatenate((np.stack(circles), ends[:, 1:]), axis=1)
            whole = response.temperatures(reduced, terminals)
            for number, own, degrees, circle in zip(some, meshes, whole, circles, strict=True):
                rows, columns = own.held
                degrees[rows.min() + 1 : rows.max(), : columns.max()] = np.nan
                degrees[rows, columns] = circle
                found[number] = own, degrees
    return [found[number] for number in range(len(wanted))]


def joined(grids: Sequence[Grid], films: Floats) -> list[Joined]:
    """Grids of one size with their pipes, and these resistances from the water to the bore, m·K/W,
    shape (grids,)."""
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
    return [Joined(*own) for own in zip(flow, under, circle, strict=True)]


def _pipes(grids: Sequence[Grid], films: Floats) -> tuple[Floats, Floats]:
    """Pipe wall and ring as the circles' nodes see them: matrices, and the water's part.

    In the logarithm of the radius and the angle, conduction is as in a plane. Rings of one pipe
    have the same matrices round the circle, so that each of their modes goes on its own.
    """
    circles = zip(*(_modes(grid.angles.tobytes()) for grid in grids), strict=True)
    modes, rates = (np.stack(parts) for parts in circles)
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
    through = np.repeat(1 / (2 * np.pi * np.maximum(films, _CONTACT))[:, None], len(rates[0]), 1)
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
def _modes(angles: bytes) -> tuple[Floats, Floats]:
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
