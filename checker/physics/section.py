"""A heated floor in section: two-dimensional conduction through half a spacing.

From the middle of a pipe to the middle between two: covering, layers, pipe wall, plate, joist,
insulation. The room's exchange is EN 1264-2's 10.8 W/(m²·K), what is below as in R_u of
EN 1264-3 (both reported). The covering conducts nothing sideways: it is a resistance of the top.

Inside the pipe and the plate's ring round it the grid is polar, outside it has rows and columns
that end on the circle. The two are joined at the circle's nodes, so one solution of the outside
serves every film of water.

Each section is solved on a grid and on one of half its divisions. Bilinear elements converge with
the square of the cells' size, so values are carried on by a third of the difference (Richardson's
extrapolation), and that third is the error reported. Heat is balanced exactly on both grids, and so
on the result.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress

import numpy as np

from checker.arrays import Array
from checker.physics import section_around_pipe
from checker.physics.build_up import BELOW, ROOM, WATER, Section
from checker.physics.conduction import Reduced, respond
from checker.physics.en_1264 import SURFACE_COEFFICIENT
from checker.physics.film import NO_FILM
from checker.physics.section_around_pipe import conductance_above, outsides_of
from checker.physics.section_grid import size
from checker.physics.section_with_pipe import Grid, joined
from checker.physics.shelf import Shelf, at_hand

TOLERANCE = 0.004
"""A coefficient with a larger relative error than this is solved on a finer grid."""
_MOST_FILMS = 200
"""Number of films whose values a solution keeps."""
_AT_ONCE = 500
"""Solutions joined to their pipes at once, of 30 kB each."""


class Values:
    """What a section does at any temperatures, with one film of water.

    flow: shape (3, 3), W/(m²·K): times the temperatures of WATER, ROOM and BELOW it is the heat
    that goes in from each. surface: shape (points, 3): times the same it is the temperature of the
    floor's surface at `across`, m from over the pipe.
    """

    def __init__(
        self, across: Array, flow: Array, flow_step: Array, surface: Array, surface_step: Array
    ) -> None:
        """…_step: by how much refinement moved each."""
        self.across = across
        self.flow, self._flow_step = flow, flow_step
        self.surface, self._surface_step = surface, surface_step

    @property
    def coefficient(self) -> float:
        """Heat up over the water's excess, the room's temperature on both sides, W/(m²·K)."""
        return float(-self.flow[ROOM, WATER])

    @property
    def coefficient_error(self) -> float:
        """Error of the coefficient, by refinement of the grid, W/(m²·K)."""
        return float(abs(self._flow_step[ROOM, WATER]))

    @property
    def downward_coefficient(self) -> float:
        """Heat down over the water's excess, the room's temperature on both sides, W/(m²·K)."""
        return float(-self.flow[BELOW, WATER])

    @property
    def highest(self) -> float:
        """Highest excess of the surface for a kelvin of water, with the room on both sides."""
        return float(self.surface[:, WATER].max())

    @property
    def highest_error(self) -> float:
        """Error of the highest excess, by refinement of the grid."""
        return float(abs(self._surface_step[self.surface[:, WATER].argmax(), WATER]))

    def fluxes(self, water: float, room: float, below: float) -> tuple[float, float]:
        """Heat fluxes up and down.

        Args:
            water: °C.
            room: °C.
            below: °C.

        Returns:
            Up and down, W/m².

        Source:
            The method of `section`.
        """
        into = self.flow @ np.array([water, room, below])
        return float(-into[ROOM]), float(-into[BELOW])

    def surface_temperatures(self, water: float, room: float, below: float) -> Array:
        """Temperatures of the floor's surface at `across`.

        Args:
            water: °C.
            room: °C.
            below: °C.

        Returns:
            °C, shape (points,).

        Source:
            The method of `section`.
        """
        found: Array = self.surface @ np.array([water, room, below])
        return found


class Solution:
    """A section solved for every film and all temperatures."""

    def __init__(self, section: Section, fine: Grid, coarse: Grid) -> None:
        self.section, self.fine, self.coarse = section, fine, coarse
        self._found: dict[float, Values] = {}

    def packed(self) -> bytes:
        """The solution as bytes, for `unpacked`.

        Returns:
            Bytes, the same for the same solution.
        """
        return b"".join(grid.packed() for grid in (self.fine, self.coarse))

    @classmethod
    def unpacked(cls, section: Section, packed: bytes) -> Solution:
        """A solution made of the bytes of `packed`, the same to the last digit.

        Args:
            section: the floor that it is of.
            packed: bytes of a solution.

        Returns:
            The solution.

        Raises:
            ValueError: the bytes are not those of a solution.
        """
        grids = []
        for _ in range(2):
            grid, packed = Grid.unpacked(section, packed)
            grids.append(grid)
        if packed:
            raise ValueError("more than a solution")
        return cls(section, *grids)

    def values(self, film: float = NO_FILM) -> Values:
        """What the section does with one film of water.

        Args:
            film: resistance from the water to the bore of a metre of pipe, m·K/W.

        Returns:
            The values, kept for the next call.

        Source:
            The method of `section`.
        """
        (found,) = self.all_values([(self, film)])
        return found

    @staticmethod
    def all_values(wanted: Sequence[tuple[Solution, float]]) -> list[Values]:
        """The `values` of each section; those of one size are worked out together.

        Args:
            wanted: solutions with films as for `values`, m·K/W.

        Returns:
            The values of each, in order.

        Source:
            The method of `section`.
        """
        alike: dict[tuple[object, ...], list[tuple[Solution, float]]] = {}
        known: dict[tuple[Solution, float], Values] = {}
        for pair in dict.fromkeys(wanted):
            one, film = pair
            found = one._found.get(film)
            if found is not None:
                known[pair] = found
            else:
                alike.setdefault(one.fine.size, []).append(pair)
        for pairs in alike.values():
            for start in range(0, len(pairs), _AT_ONCE):
                some = pairs[start : start + _AT_ONCE]
                for (one, film), found in zip(some, _worked_out(some), strict=True):
                    if len(one._found) >= _MOST_FILMS:
                        one._found.clear()
                    known[one, film] = one._found[film] = found
        return [known[pair] for pair in wanted]


def _worked_out(wanted: Sequence[tuple[Solution, float]]) -> list[Values]:
    """Solutions of one size with their films, m·K/W."""
    films = np.array([film for _, film in wanted])
    fine = joined([one.fine for one, _ in wanted], films)
    coarse = joined([one.coarse for one, _ in wanted], films)
    covering = np.array([one.section.covering for one, _ in wanted])
    share = (1 / (1 + SURFACE_COEFFICIENT * covering))[:, None, None]
    flow_step = (fine.flow - coarse.flow) / 3
    surface_step = (fine.top[:, ::2] - coarse.top) / 3 * share
    surface = fine.top[:, ::2] * share + surface_step
    surface[..., ROOM] += 1 - share[..., 0]
    across = [one.fine.across[::2] for one, _ in wanted]
    columns = zip(across, fine.flow + flow_step, flow_step, surface, surface_step, strict=True)
    return [Values(*own) for own in columns]


_MOST_KEPT = 1000
"""Solutions that are kept, of 50 kB each."""
_kept: dict[Section, Solution] = {}


def forget() -> None:
    """Drop all solutions that this process has kept."""
    _kept.clear()
    section_around_pipe.forget()


def kept(sections: Sequence[Section]) -> list[Solution]:
    """As `solve`, but nothing is solved again that this process has solved, or a shelf has.

    Args:
        sections: the floors.

    Returns:
        The solution of each, in order.

    Source:
        The method of `section`.
    """
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
    """Solve sections, those of one size together, and on a finer grid those that need it.

    Args:
        sections: the floors.

    Returns:
        The solution of each, in order.

    Source:
        The method of `section`.
    """
    found = solve_once(sections, 1)
    plain = Solution.all_values([(one, NO_FILM) for one in found])
    rough = [number for number, one in enumerate(plain) if _error(one) > TOLERANCE]
    finer = solve_once([sections[number] for number in rough], 2)
    for number, one in zip(rough, finer, strict=True):
        found[number] = one
    return found


def _error(values: Values) -> float:
    return values.coefficient_error / values.coefficient


def solve_once(sections: Sequence[Section], fineness: int) -> list[Solution]:
    """Solve sections on one fineness of the grid, those of one size together.

    Args:
        sections: the floors.
        fineness: as a multiple of the usual divisions.

    Returns:
        The solution of each, in order.

    Source:
        The method of `section`.
    """
    outsides = outsides_of(sections, fineness)
    found: dict[int, Solution] = {}
    alike: dict[tuple[object, ...], list[int]] = {}
    for number, section in enumerate(sections):
        alike.setdefault(size(section), []).append(number)
    for numbers in alike.values():
        above = np.array([conductance_above(sections[number]) for number in numbers])
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
