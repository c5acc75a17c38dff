"""Floors in section as a loop passes them: some spacings with a joist between, the others
without.

A joist runs in the middle between two pipes, but seldom between all of them. Both sections carry
heat side by side, each its share, as the pipe's own water is one temperature: all that a floor
gives is the mean of the two, and its warmest spot is the warmer of theirs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from checker.arrays import Array
from checker.physics.build_up import Layer, Plate, Section
from checker.physics.film import film_resistance

if TYPE_CHECKING:
    from checker.physics.section import Solution, Values

Mixed: TypeAlias = tuple[tuple[Section, float], ...]
"""Sections, each with its share of the floor."""
Solved: TypeAlias = "Sequence[tuple[Solution, float]]"
"""The same solved."""
Valued: TypeAlias = "Sequence[tuple[Values, float]]"
"""What they do, with one film of water."""


class Layering(Struct, frozen=True):
    """A floor by its layers, before pipe and spacing are known.

    layers, pipe_layer, axis, plate: as of `Section`; joist: width of the joists, joist_spacing
    from one to the next, m, both zero where there are none.
    """

    layers: tuple[Layer, ...]
    pipe_layer: int
    axis: float
    plate: Plate | None = None
    joist: float = 0.0
    joist_spacing: float = 0.0

    def section(
        self,
        spacing: float,
        covering: float,
        outside: float,
        wall: float,
        pipe_conductivity: float,
        below: float,
    ) -> Mixed:
        """The floor with a pipe at a spacing.

        Args:
            spacing: m.
            covering: resistance, m²·K/W.
            outside: diameter of the pipe, m.
            wall: of the pipe, m.
            pipe_conductivity: W/(m·K).
            below: resistance under the layers, m²·K/W.

        Returns:
            Its sections with and without a joist, each with its share of the floor.
        """
        section = Section(
            spacing,
            covering,
            self.layers,
            self.pipe_layer,
            self.axis,
            outside,
            wall,
            pipe_conductivity,
            below,
            self.plate,
            self.joist,
        )
        share = spacing / self.joist_spacing if self.joist else 1.0
        if share >= 1:
            return ((section, 1.0),)
        return ((section, share), (replace(section, joist=0.0), 1 - share))


def solved(mixed: Iterable[Mixed]) -> list[Solved]:
    """The solutions of each floor's sections, with their shares.

    Args:
        mixed: the floors.

    Returns:
        For each floor its solutions, in order.

    Source:
        `section.kept`.
    """
    from checker.physics.section import kept  # few designs have a floor that wants it

    wanted = list(mixed)
    flat = [section for one in wanted for section, _ in one]
    found = iter(kept(flat))
    return [[(next(found), share) for _, share in one] for one in wanted]


def valued(floors: Sequence[tuple[Solved, float]]) -> list[Valued]:
    """Floors with their films of water, all computed at once.

    Args:
        floors: solved, each with its film from water to bore, W/(m²·K), infinite for none.

    Returns:
        What each floor does with its film, in order.

    Source:
        The method of `section`.
    """
    from checker.physics.section import Solution

    each = [(one, film_resistance(one.section, film)) for floor, film in floors for one, _ in floor]
    found = iter(Solution.all_values(each))
    return [[(next(found), share) for _, share in floor] for floor, _ in floors]


def flow(floor: Solved, film: float = inf) -> Array:
    """Heat into a floor from water, room and below, for one kelvin of each.

    Args:
        floor: solved.
        film: from water to bore, W/(m²·K), infinite for none.

    Returns:
        As `section.Values.flow`, W/(m²·K), shape (3, 3).

    Source:
        Mean of its sections, by their shares.
    """
    found: Array = flows(valued([(floor, film)]))[0]
    return found


def flows(floors: Sequence[Valued]) -> Array:
    """As `flow`, of many floors at once.

    Args:
        floors: as `valued` gives them.

    Returns:
        W/(m²·K), shape (floors, 3, 3).

    Source:
        Mean of their sections, by their shares.
    """
    one = np.stack([own.flow for floor in floors for own, _ in floor])
    share = np.array([share for floor in floors for _, share in floor])
    first = np.cumsum([0, *(len(floor) for floor in floors[:-1])])
    found: Array = np.add.reduceat(share[:, None, None] * one, first, axis=0)
    return found


def surface(floor: Valued, water: float, room: float, below: float) -> float:
    """The floor's highest surface temperature.

    Args:
        floor: as `valued` gives it.
        water: °C.
        room: °C.
        below: °C.

    Returns:
        °C.

    Source:
        The warmer of its sections.
    """
    return max(float(one.surface_temperatures(water, room, below).max()) for one, _ in floor)
