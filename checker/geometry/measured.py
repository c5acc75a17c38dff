"""What a plan shows, as columns: one value a route or a room, SI, NaN where unknown."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from checker.arrays import Array
from checker.geometry.plan import Plan


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the floor: m from the drawing's origin, and the room there (empty for none)."""

    x: float
    y: float
    room: str = ""


@dataclass(frozen=True, slots=True)
class Feed:
    """The part of a route in a room that it only passes through: length and spacing, m."""

    room: str
    length: float
    spacing: float


@dataclass(frozen=True, slots=True)
class Gaps:
    """Distances (m) of neighbouring runs of one field in a room, in rising order, shape (n,).

    weights: m of pipe that each represents, shape (n,).
    """

    room: str
    values: Array
    weights: Array

    def middles(self, lengths: Array) -> Array:
        """The median distance in each of several parts of the field; the closest are in the first.

        Args:
            lengths: of pipe in each part, in any one unit, the part laid closest first, shape (k,);
                for one part alone any value.

        Returns:
            Distances, m, shape (k,).
        """
        shares = np.cumsum(lengths) / lengths.sum() if len(lengths) > 1 else np.ones(1)
        middle = (np.concatenate(([0.0], shares[:-1])) + shares) / 2
        reached = np.cumsum(self.weights)
        at = np.searchsorted(reached, middle * reached[-1] - 1e-12)
        middles: Array = self.values[np.minimum(at, len(self.values) - 1)]
        return middles


@dataclass(slots=True)
class Measured:
    """What a plan shows. Columns by name: one value a route or a room, SI, NaN where unknown."""

    plan: Plan
    routes: list[str]
    rooms: list[str]
    of_route: dict[str, Array] = field(default_factory=dict)
    of_room: dict[str, Array] = field(default_factory=dict)
    spots: dict[tuple[str, str], list[Spot]] = field(default_factory=dict)
    """By the names of a column and of a route or room: the places that it is about."""
    feeds: dict[str, list[Feed]] = field(default_factory=dict)
    fields: dict[str, list[tuple[str, float, float]]] = field(default_factory=dict)
    """By route: the rooms that it heats, with the length (m) and the floor (m²) there."""
    gaps: dict[str, list[Gaps]] = field(default_factory=dict)
    """By route: the distances of its neighbouring runs, room by room."""
    bare: dict[str, list[Spot]] = field(default_factory=dict)
    """By room: the middle of each bare square, for pictures."""


def percentiles(values: Array, weights: Array, shares: tuple[float, ...]) -> list[float]:
    """The values that these shares of the total weight are at or below."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    return [
        float(values[order[int(np.searchsorted(reached, share * reached[-1] - 1e-12))]])
        for share in shares
    ]


def spread(values: Array, weights: Array) -> float:
    """Standard deviation of weighted values.

    Args:
        values: of any unit, shape (n,).
        weights: above 0, for example the length that each value represents, shape (n,).

    Returns:
        In the unit of the values.
    """
    mean = np.average(values, weights=weights)
    return float(np.sqrt(np.average((values - mean) ** 2, weights=weights)))
