"""Floors in section for very many draws: solved at some places of a box, interpolated between.

Thousands of draws of a design differ a little in spacing, cover, conductivity and covering, and
each would be a section of its own. What a section does is smooth in all of them, so it is solved at
places spread over the box that they lie in, and polynomials through these give the rest: of the
logarithms of conductances and surface, in the logarithms of the box. Then sections at other places
are solved to check them, and the largest difference is the error that is reported. Where that is
more than `TOLERATED` the polynomials get a degree more; where that is not enough, each draw is
solved. A solved section itself is right to `section.TOLERANCE` only, eight times as much.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import NamedTuple

import numpy as np

from checker.arrays import Array, Index
from checker.physics.build_up import BELOW, ROOM, WATER, wet_section
from checker.physics.en_1264 import SURFACE_COEFFICIENT
from checker.physics.mixed_section import Layering, Mixed, solved
from checker.physics.section import Solution

TOLERATED = 5e-4
"""The largest error that a place may show: share of a coefficient, or of the surface's excess."""
DEGREES = {3: (24, 5), 4: (48, 6)}
"""By degree of the polynomials: grids to solve, and coverings and films of each grid."""
CHECKED = 10
"""Places at which a family is checked against sections that are solved for it."""
LEAST_FILM = 0.21
"""m·K/W from the water to the bore, the most that a film takes: Nusselt 4.36 with 0.35 W/(m·K)."""
WIDEST = 1.45
"""The largest spacing of a family, as a multiple of its least."""
APART = 0.01
"""m; a larger step between spacings begins a new family."""
_PAD = 0.1
"""Share of a box that is added on either side for draws to come."""
_ROOM = 1 / SURFACE_COEFFICIENT
SPACING, COVER, CONDUCTIVITY, COVERING = range(4)


class Kind(NamedTuple):
    """What sections have in common that one family carries: a layering, or a floor in screed with
    so much of it under the pipe, m; the pipe; and the resistance below. As of `Section`."""

    layering: Layering | None
    outside: float
    wall: float
    pipe_conductivity: float
    below: float
    below_pipe: float

    def section(self, place: Sequence[float]) -> Mixed:
        """The section at a place.

        Args:
            place: spacing, m; cover, m, and conductivity, W/(m·K), which count only in screed;
                covering, m²·K/W.

        Returns:
            The section, with its shares.
        """
        spacing, cover, conductivity, covering = place
        pipe = covering, self.outside, self.wall, self.pipe_conductivity, self.below
        if self.layering is not None:
            return self.layering.section(spacing, *pipe)
        return ((wet_section(spacing, cover, conductivity, *pipe, self.below_pipe), 1.0),)


class _Behaviour(NamedTuple):
    """What sections do, one a row: conductances from water to room and to below, and from room to
    below past the pipes, W/(m²·K), shape (n, 3); and their surface's excess over the room for one
    kelvin of the water, and of what is below, shape (n, points, 2)."""

    conductances: Array
    surface: Array


def solved_at(kind: Kind, places: Array, films: Array) -> _Behaviour | None:
    """Sections at some places, each solved.

    Args:
        kind: what they have in common.
        places: spacing, cover, conductivity, covering, shape (n, 4).
        films: resistance from water to bore, m·K/W, shape (n,).

    Returns:
        What each does; None where their surfaces have not all the same points.

    Source:
        `section.solve`.
    """
    floors = solved([kind.section(place) for place in places.tolist()])
    pairs = list(zip(floors, films.tolist(), strict=True))
    Solution.all_values([(one, film) for floor, film in pairs for one, _ in floor])
    flows, tops = [], []
    for floor, film in pairs:
        values = [(one.values(film), share) for one, share in floor]
        flows.append(sum(share * own.flow for own, share in values))
        tops.append(np.concatenate([own.surface[:, (WATER, BELOW)] for own, _ in values]))
    if len({len(one) for one in tops}) > 1:
        return None
    flow = -np.array(flows)
    ways = [flow[:, ROOM, WATER], flow[:, BELOW, WATER], flow[:, ROOM, BELOW]]
    return _Behaviour(np.stack(ways, axis=1), np.array(tops))


class Family:
    """Sections of one kind over a box of places.

    error: the largest seen, as a share of a coefficient or of the surface's excess; solved: at how
    many places; carries: whether polynomials give the values, else each is solved.
    """

    def __init__(self, kind: Kind, low: Array, high: Array) -> None:
        """Fit polynomials over a box of places.

        Args:
            kind: what the sections have in common.
            low: lower end of the box, shape (4,).
            high: upper end of the box, shape (4,).
        """
        self.kind = kind
        self.low, self.high = low, high
        self.error, self.solved, self.carries = 0.0, 0, False
        ends = [_scaled(np.array([end]))[0] for end in (low, high)]
        self._start = np.append(ends[0], 0.0)
        self._width = np.append(ends[1], LEAST_FILM) - self._start
        self._moves = np.flatnonzero(self._width > 1e-9)
        for degree, (grids, each) in DEGREES.items():
            if self._fitted(degree, grids, each):
                self.carries = True
                break

    def _fitted(self, degree: int, grids: int, each: int) -> bool:
        """Make polynomials of this degree; whether they hold where they are checked."""
        grid = np.repeat(_spread(grids, 3), each, axis=0)
        nodes = np.cos(np.pi * np.concatenate([grid, _spread(grids * each, 2)], axis=1))
        free = 2 * _spread(CHECKED, 5, skipped=500) - 1
        made = [self._solved(shares) for shares in (nodes, free)]
        self.solved += grids + CHECKED
        if made[0] is None or made[1] is None or made[0].shape[1] != made[1].shape[1]:
            return False
        self._powers = np.array(
            [
                one
                for one in product(range(degree + 1), repeat=len(self._moves))
                if sum(one) <= degree
            ]
        )
        self._factors, *_ = np.linalg.lstsq(self._basis(nodes), made[0], rcond=None)
        off = np.abs(self._basis(free) @ self._factors - made[1])
        # Of logarithms a difference is a share; what passes is compared with what goes up.
        off[:, 2] /= np.exp(made[1][:, 0])
        self.error = float(off.max())
        return self.error <= TOLERATED

    def _solved(self, shares: Array) -> Array | None:
        """What polynomials carry, at places by their shares of the box, −1 to 1, shape (n, 5)."""
        scaled = self._start + (shares + 1) / 2 * self._width
        found = solved_at(self.kind, _unscaled(scaled[:, :4]), scaled[:, 4])
        if found is None or not (found.conductances[:, :2] > 0).all():
            return None
        water, below = found.surface[..., 0], found.surface[..., 1]
        if not (water > 0).all():
            return None
        ways = found.conductances
        return np.concatenate([np.log(ways[:, :2]), ways[:, 2:], np.log(water), below], axis=1)

    def _basis(self, shares: Array) -> Array:
        """Chebyshev's polynomials at places by their shares of the box, shape (n, terms)."""
        found = np.ones((len(shares), len(self._powers)))
        degree = int(self._powers.max(initial=0))
        for column, axis in enumerate(self._moves.tolist()):
            powers = np.polynomial.chebyshev.chebvander(shares[:, axis], degree)
            found *= powers[:, self._powers[:, column]]
        return found

    def conductances(self, places: Array, films: Array) -> Array:
        """Conductances at places in the box.

        Args:
            places: shape (n, 4).
            films: resistance from water to bore, m·K/W, shape (n,).

        Returns:
            From water to room and to below, and from room to below past the pipes, W/(m²·K), shape
            (n, 3).

        Source:
            The method of this module.
        """
        if not self.carries:
            return self._each(places, films).conductances
        values = self._carried(places, films, slice(0, 3))
        values[:, :2] = np.exp(values[:, :2])
        return values

    def surface(self, places: Array, films: Array) -> Array:
        """The surface's excess over the room at places in the box.

        Args:
            places: shape (n, 4).
            films: resistance from water to bore, m·K/W, shape (n,).

        Returns:
            For one kelvin of the water and of what is below, shape (n, points, 2).

        Source:
            The method of this module.
        """
        if not self.carries:
            return self._each(places, films).surface
        values = self._carried(places, films, slice(3, None))
        points = values.shape[1] // 2
        return np.stack([np.exp(values[:, :points]), values[:, points:]], axis=2)

    def _each(self, places: Array, films: Array) -> _Behaviour:
        found = solved_at(self.kind, places, films)
        if found is None:
            raise ValueError("sections of one family have unlike surfaces")
        return found

    def _carried(self, places: Array, films: Array, columns: slice) -> Array:
        width = np.where(self._width > 0, self._width, 1.0)
        scaled = np.concatenate([_scaled(places), films[:, None]], axis=1)
        found: Array = (
            self._basis(2 * (scaled - self._start) / width - 1) @ self._factors[:, columns]
        )
        return found


def _scaled(places: Array) -> Array:
    """Places by logarithms, that of the covering with the room's exchange; 0 of what is 0."""
    shifted = places + np.array([0.0, 0.0, 0.0, _ROOM])
    found: Array = np.log(np.where(shifted > 0, shifted, 1.0))
    return found


def _unscaled(scaled: Array) -> Array:
    found: Array = np.exp(scaled) - np.array([0.0, 0.0, 0.0, _ROOM])
    return found


def _spread(count: int, size: int, skipped: int = 7) -> Array:
    """Places spread evenly over a box of this many sides, shares of each, shape (count, size):
    Halton's sequence (J. H. Halton 1960, Numerische Mathematik 2)."""
    found = np.zeros((count, size))
    for column, base in enumerate((2, 3, 5, 7, 11)[:size]):
        digits = np.arange(skipped, skipped + count)
        share = 1.0
        while digits.any():
            share /= base
            found[:, column] += share * (digits % base)
            digits //= base
    return found


class Carried:
    """The sections of a run of draws by number, each interpolated by a family."""

    def __init__(self) -> None:
        self._kinds: dict[Kind, int] = {}
        self._boxes: list[list[tuple[Array, Array]]] = []
        self._families: dict[tuple[int, int], Family] = {}
        self._rows: list[Array] = []
        self._count = 0

    @property
    def families(self) -> list[Family]:
        """The families that were used."""
        return [*self._families.values()]

    def numbers(self, kinds: Sequence[Kind], which: Index, places: Array, ends: Array) -> Array:
        """Give numbers to sections.

        Args:
            kinds: the kinds that occur.
            which: of each section, its place in `kinds`, shape (n,).
            places: spacing, cover, conductivity, covering, shape (n, 4).
            ends: the same places brought back to the ends of the tables, which will be asked for
                too, shape (n, 4).

        Returns:
            One number a section, shape (n,).
        """
        numbers = np.array([self._number(kind) for kind in kinds])[which]
        boxes = np.zeros(len(places))
        for number in np.unique(numbers).tolist():
            own = np.flatnonzero(numbers == number)
            boxes[own] = self._placed(number, places[own], ends[own])
        self._rows.append(np.column_stack([numbers, boxes, places]))
        first = self._count
        self._count += len(places)
        return np.arange(first, self._count, dtype=np.float64)

    def forget_rows(self) -> None:
        """Drop all numbers that were given, and keep the polynomials."""
        self._rows, self._count = [], 0

    def _number(self, kind: Kind) -> int:
        number = self._kinds.setdefault(kind, len(self._boxes))
        if number == len(self._boxes):
            self._boxes.append([])
        return number

    def _placed(self, number: int, places: Array, ends: Array) -> Array:
        """The box of each place, created or widened where it is in none."""
        boxes = self._boxes[number]
        found = np.full(len(places), -1.0)
        for box, (low, high) in enumerate(boxes):
            within = (places[:, SPACING] >= low[SPACING]) & (places[:, SPACING] <= high[SPACING])
            found[within & (found < 0)] = box
        new = np.flatnonzero(found < 0)
        for some in _clusters(places[new, SPACING]):
            rows = new[some]
            found[rows] = len(boxes)
            spacings = places[rows, SPACING]
            low, high = places[rows].min(axis=0), places[rows].max(axis=0)
            low[SPACING], high[SPACING] = spacings.min(), spacings.max()
            boxes.append(_padded(low, high))
        for box, (low, high) in enumerate(boxes):
            own = found == box
            if own.any():
                both = np.concatenate([places[own], ends[own]])
                least, most = both.min(axis=0), both.max(axis=0)
                if (least < low).any() or (most > high).any():
                    wide_low, wide_high = _padded(np.minimum(least, low), np.maximum(most, high))
                    low, high = (
                        np.where(least < low, wide_low, low),
                        np.where(most > high, wide_high, high),
                    )
                    boxes[box] = low, high
                    self._families.pop((number, box), None)
        return found

    def _parted(self, numbers: Array, films: Array) -> Iterator[_Part]:
        """For each family its rows of these."""
        table = np.concatenate(self._rows)[numbers.astype(np.intp)]
        kinds = list(self._kinds)
        for number, box in np.unique(table[:, :2], axis=0).astype(int).tolist():
            rows = np.flatnonzero((table[:, 0] == number) & (table[:, 1] == box))
            family = self._families.get((number, box))
            if family is None:
                family = Family(kinds[number], *self._boxes[number][box])
                self._families[number, box] = family
            bore = family.kind.outside - 2 * family.kind.wall
            yield _Part(family, rows, table[rows, 2:], 1 / (np.pi * bore * films[rows]))

    def conductances(self, numbers: Array, films: Array) -> Array:
        """Conductances of sections by their numbers.

        Args:
            numbers: by `numbers`, shape (n,).
            films: from water to bore, W/(m²·K), infinite for none, shape (n,).

        Returns:
            From water to room and to below, and from room to below past the pipes, W/(m²·K), shape
            (n, 3).

        Source:
            The method of this module.
        """
        found = np.full((len(numbers), 3), np.nan)
        for family, rows, *own in self._parted(numbers, films):
            found[rows] = family.conductances(*own)
        return found

    def warmest(
        self, numbers: Array, films: Array, excess: Array, room: Array, below: Array
    ) -> Array:
        """Highest surface temperature of sections by their numbers.

        Args:
            numbers: by `numbers`, shape (n,).
            films: from water to bore, W/(m²·K), infinite for none, shape (n,).
            excess: of the water over the room, K, shape (n,).
            room: °C, shape (n,).
            below: °C, shape (n,).

        Returns:
            °C, shape (n,).

        Source:
            The method of this module.
        """
        found = np.full(len(numbers), np.nan)
        for family, rows, *own in self._parted(numbers, films):
            surface = family.surface(*own)
            over = surface[..., 0] * excess[rows, None]
            over += surface[..., 1] * (below - room)[rows, None]
            found[rows] = room[rows] + over.max(axis=1)
        return found


class _Part(NamedTuple):
    """The rows that one family covers, with their places and films."""

    family: Family
    rows: Index
    places: Array
    films: Array


def _padded(low: Array, high: Array) -> tuple[Array, Array]:
    """A box a little wider, but no side that is none, and none under half its least."""
    more = _PAD * (high - low)
    return np.maximum(low - more, low / 2), high + more


def _clusters(spacings: Array) -> list[Index]:
    """Rows whose spacings one family can cover, in as few families as their gaps allow."""
    found: list[Index] = []
    order = np.argsort(spacings, kind="stable")
    start = 0
    for place in range(1, len(order) + 1):
        if place < len(order):
            own, last = spacings[order[place]], spacings[order[place - 1]]
            if own - last <= APART and own <= WIDEST * spacings[order[start]]:
                continue
        found.append(order[start:place])
        start = place
    return found
