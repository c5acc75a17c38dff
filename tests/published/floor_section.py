"""Heat conduction in a cross-section of a floor, by finite elements: a reference of its own.

Knows nothing of EN 1264 but the surface coefficient that the standard works with. Half a spacing
is meshed, from the middle of a pipe to the middle between two: screed above, beside and under the
pipe. What leaves heat no room to spread is a resistance in a boundary: pipe wall and water film
(radial conduction in a cylinder, as in F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and
Mass Transfer, chapter 3; from memory), covering and room above, insulation below.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import inf, log
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementQuad2, FacetBasis, LinearForm, MeshQuad

Floats = NDArray[np.float64]

RAYS, RINGS = 72, 10
"""Divisions round half a pipe, and from the pipe to the outline."""


@dataclass(frozen=True)
class Section:
    """A floor.

    spacing, cover, outside, wall and under, the screed under the pipe, in m; conductivity of the
    screed and pipe_conductivity in W/(m·K); covering and insulation in m²·K/W; film, from the
    water to the bore, infinite for none, and surface, from the floor to the room, in W/(m²·K);
    fineness multiplies the divisions of the mesh.
    """

    spacing: float
    cover: float
    covering: float = 0.0
    conductivity: float = 1.2
    outside: float = 0.016
    wall: float = 0.002
    pipe_conductivity: float = 0.35
    under: float = 0.010
    insulation: float = 2.5
    film: float = inf
    surface: float = 10.8
    fineness: int = 1

    def fluxes(self, excess: float, colder_below: float = 0.0) -> tuple[float, float]:
        """Mean heat up and down, W/m², of water `excess` above the room, K; below it is
        `colder_below` colder than the room, K."""
        solved, half = self._solved, self.spacing / 2
        temperature = excess * solved.warm_water + colder_below * solved.cold_below
        up = self._to_room * float(solved.over_top @ temperature) / half
        down = (float(solved.over_bottom @ temperature) / half + colder_below) / self.insulation
        return up, down

    def heat_coefficient(self) -> float:
        """Heat up over the water's excess, as warm below as above, W/(m²·K)."""
        return self.fluxes(1.0)[0]

    def surface_excess(self, excess: float) -> tuple[float, float]:
        """Mean and largest excess of the surface over the room, K, as warm below as above."""
        solved = self._solved
        largest = excess * float(solved.warm_water[solved.top].max())
        return self.fluxes(excess)[0] / self.surface, largest * self._to_room / self.surface

    @property
    def _to_room(self) -> float:
        """From the screed's top, W/(m²·K)."""
        return 1 / (1 / self.surface + self.covering)

    @property
    def _to_water(self) -> float:
        """From the pipe's outside, W/(m²·K) of the outside."""
        radius, bore = self.outside / 2, self.outside / 2 - self.wall
        wall = radius * log(radius / bore) / self.pipe_conductivity
        return 1 / (wall + radius / bore / self.film)

    @cached_property
    def _solved(self) -> "_Solved":
        """Linear, so two cases give all: warm water alone, and cold below alone."""
        shape = _shape(self.spacing, self.cover, self.outside, self.under, self.fineness)
        over_top, over_bottom, over_pipe = shape.integrals
        conductances = self._to_room, 1 / self.insulation, self._to_water
        matrix = self.conductivity * shape.conduction
        for exchange, conductance in zip(shape.exchanges, conductances, strict=True):
            matrix = matrix + conductance * exchange
        solve = splu(matrix.tocsc()).solve
        return _Solved(
            warm_water=solve(self._to_water * over_pipe),
            cold_below=solve(-over_bottom / self.insulation),
            over_top=over_top,
            over_bottom=over_bottom,
            top=shape.top,
        )


@dataclass(frozen=True)
class _Solved:
    """Temperatures of the two cases; what integrates over top and bottom; the top's nodes."""

    warm_water: Floats
    cold_below: Floats
    over_top: Floats
    over_bottom: Floats
    top: NDArray[np.int64]


@dataclass(frozen=True)
class _Shape:
    """What the outline alone decides: the matrix of conduction at 1 W/(m·K), and of top, bottom
    and pipe what exchanges heat at 1 W/(m²·K) and what integrates; the nodes of the top."""

    conduction: Any
    exchanges: tuple[Any, ...]
    integrals: tuple[Floats, ...]
    top: NDArray[np.int64]


@lru_cache(maxsize=8)
def _shape(spacing: float, cover: float, outside: float, under: float, fineness: int) -> _Shape:
    height, centre = under + outside + cover, under + outside / 2
    outline = _outline(spacing / 2, height, centre, RAYS * fineness)
    mesh = _mesh(outline, np.array([[0.0], [centre]]), outside / 2, RINGS * fineness)
    element = ElementQuad2()
    sides = [
        mesh.facets_satisfying(test, boundaries_only=True)
        for test in (
            lambda x: x[1] > height - 1e-9,
            lambda x: x[1] < 1e-9,
            lambda x: np.hypot(x[0], x[1] - centre) < outside / 2 * 1.001,
        )
    ]
    inside = Basis(mesh, element)
    boundaries = [FacetBasis(mesh, element, facets=side) for side in sides]
    return _Shape(
        conduction=_conduction.assemble(inside),
        exchanges=tuple(_exchange.assemble(boundary) for boundary in boundaries),
        integrals=tuple(_integral.assemble(boundary) for boundary in boundaries),
        top=inside.get_dofs(sides[0]).all(),
    )


def _mesh(outline: Floats, centre: Floats, radius: float, rings: int) -> MeshQuad:
    """Rays from the pipe to the outline, cut into rings that are finer at the pipe."""
    pipe = centre + radius * (outline - centre) / np.hypot(*(outline - centre))
    share = np.linspace(0, 1, rings + 1) ** 1.6
    points = pipe[:, :, None] + (outline - pipe)[:, :, None] * share
    number = np.arange(points[0].size).reshape(points[0].shape)
    corners = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    return MeshQuad(points.reshape(2, -1), np.stack([corner.ravel() for corner in corners]))


def _outline(half: float, height: float, centre: float, count: int) -> Floats:
    """Where the rays end, from under the pipe round to over it, corners among them: evenly by
    the mean of the angle turned and the way walked, which serves pipe and surface."""
    dense = np.linspace(0, 1, 2000)
    across, up = half * dense, height * dense
    walk = np.stack(
        (
            np.concatenate((across, np.full(2000, half), across[::-1])),
            np.concatenate((np.zeros(2000), up, np.full(2000, height))),
        )
    )
    turned = np.arctan2(walk[1] - centre, walk[0])
    walked = np.cumsum(np.hypot(*np.diff(walk, prepend=walk[:, :1])))
    measure = (turned - turned[0]) / np.pi + walked / walked[-1]
    wanted = np.linspace(0, measure[-1], count + 1)
    for corner in measure[[2000, 4000]]:
        wanted[np.argmin(np.abs(wanted - corner))] = corner
    return np.stack([np.interp(wanted, measure, axis) for axis in walk])


def _conduct(u: Any, v: Any, _: Any) -> Any:
    return u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]


_conduction = BilinearForm(_conduct)
_exchange = BilinearForm(lambda u, v, _: u * v)
_integral = LinearForm(lambda v, _: v)
