"""Heat conduction in a floor of layers, by finite elements: a reference of its own.

Triangles that are halved wherever they hold more than one material, until the steps along pipe,
ring and plate are hundredths of a millimetre: nothing is fitted to the pipe. Quadratic elements.
The water is a lump of the bore's temperature; the pipe's wall is meshed like all else.
"""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray
from skfem import (
    Basis,
    BilinearForm,
    ElementTriP0,
    ElementTriP2,
    FacetBasis,
    LinearForm,
    MeshTri,
    condense,
    solve,
)

from checker.physics.build_up import Section

Floats = NDArray[np.float64]

SURFACE = 10.8
COARSEST = 0.007
"""m, the first cells."""
LUMP = 1e4
"""W/(m·K), within the bore, where the temperature is held."""


def modelled(section: Section, halvings: int = 7) -> tuple[float, float, float]:
    """Heat up and down, W/(m²·K), and the surface's highest excess, for one kelvin of the water
    over both sides."""
    mesh = _mesh(section, halvings)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    basis = Basis(mesh, ElementTriP2())
    conductivity = basis.with_element(ElementTriP0()).interpolate(_material(section, *middle))
    matrix = _conduction.assemble(basis, k=conductivity)
    height = section.heights[-1]
    sides = []
    for level, exchange in (
        (0.0, 1 / (1 / SURFACE + section.covering)),
        (height, 1 / section.below),
    ):
        facets = mesh.facets_satisfying(
            lambda x, at=level: np.abs(x[1] - at) < 1e-9, boundaries_only=True
        )
        side = FacetBasis(mesh, ElementTriP2(), facets=facets)
        matrix = matrix + exchange * _exchange.assemble(side)
        sides.append((exchange * _integral.assemble(side), basis.get_dofs(facets).all()))
    bore = section.outside / 2 - section.wall
    inside = np.hypot(middle[0], middle[1] - section.depth) < bore
    water = np.unique(basis.element_dofs[:, inside])
    found = np.zeros(matrix.shape[0])
    found[water] = 1.0
    found = solve(*condense(matrix, x=found, D=water))
    (up, top), (down, _) = sides
    half = section.spacing / 2
    highest = float(found[top].max()) / (1 + SURFACE * section.covering)
    return float(up @ found) / half, float(down @ found) / half, highest


def _mesh(section: Section, halvings: int) -> Any:
    half, depth, plate = section.spacing / 2, section.depth, section.plate
    across, down = {0.0, section.radius, *section.ends}, {*section.heights, depth}
    down |= {depth - section.radius, depth + section.radius}
    top = section.heights[section.pipe_layer]
    if plate:
        down.add(top + plate.thickness)
    inside = {min(max(level, 0.0), section.heights[-1]) for level in down}
    mesh = MeshTri.init_tensor(_filled(across), _filled(inside))
    for step in range(halvings):
        corners = mesh.p[:, mesh.t]
        middle = corners.mean(axis=1)
        near = middle[:, None] + 0.999 * (corners - middle[:, None])
        points = [near[:, i] for i in range(3)]
        points += [(near[:, i] + near[:, j]) / 2 for i, j in combinations(range(3), 2)]
        seen = np.stack([_material(section, *point) for point in (*points, middle)])
        marked = seen.max(axis=0) > seen.min(axis=0)
        if plate and step < 5:
            tip = np.hypot(middle[0] - min(plate.width / 2, half), middle[1] - top)
            marked |= tip < 0.004 / 2**step
        if step < 2:
            marked |= np.hypot(middle[0], middle[1] - depth) < 2.5 * section.radius
        mesh = mesh.refined(np.flatnonzero(marked))
    return mesh


def _filled(levels: set[float]) -> Floats:
    """The levels, and between them as many more as keep the steps small."""
    kept: list[float] = []
    for level in sorted(levels):
        if kept and level - kept[-1] < 1e-7:
            continue
        if kept:
            steps = int(np.ceil((level - kept[-1]) / COARSEST))
            kept += np.linspace(kept[-1], level, steps + 1)[1:-1].tolist()
        kept.append(level)
    return np.array(kept)


def _material(section: Section, x: Floats, y: Floats) -> Floats:
    """Conductivity at points, W/(m·K)."""
    found = np.zeros_like(x)
    heights = section.heights
    joist = x > (section.spacing - section.joist) / 2
    for layer, top, bottom in zip(section.layers, heights, heights[1:], strict=False):
        within = (y > top) & (y <= bottom)
        found[within] = layer.conductivity
        if section.joist and layer.joist:
            found[within & joist] = layer.joist
    distance = np.hypot(x, y - section.depth)
    plate = section.plate
    if plate:
        top = heights[section.pipe_layer]
        strip = (y > top) & (y < top + plate.thickness) & (x < plate.width / 2)
        found[strip | (distance < section.radius)] = plate.conductivity
    found[distance < section.outside / 2] = section.pipe_conductivity
    found[distance < section.outside / 2 - section.wall] = LUMP
    return found


def _conduct(u: Any, v: Any, w: Any) -> Any:
    return w.k * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1])


_conduction = BilinearForm(_conduct)
_exchange = BilinearForm(lambda u, v, _: u * v)
_integral = LinearForm(lambda v, _: v)
