"""Sections with known results: the standards' own examples, layers in series, fins and plates."""

from __future__ import annotations

from functools import cache
from itertools import product
from math import exp, log, pi, sqrt, tanh

import numpy as np
from msgspec.structs import replace

from checker.arrays import Array
from checker.physics.build_up import Layer, Plate, Section, wet_section
from checker.physics.conduction import reduce, respond
from checker.physics.en_1264 import SURFACE_COEFFICIENT

ISO_10211_1 = (
    (9.7, 13.4, 14.7, 15.1),
    (5.3, 8.6, 10.3, 10.8),
    (3.2, 5.6, 7.0, 7.5),
    (2.0, 3.6, 4.7, 5.0),
    (1.3, 2.3, 3.0, 3.2),
    (0.7, 1.4, 1.8, 1.9),
    (0.3, 0.6, 0.8, 0.9),
)
"""°C, rows from the warm side; half a column of square outline, 20 °C over and 0 °C round it."""

ISO_10211_2 = (7.1, 0.8, 7.9, 6.3, 0.8, 16.4, 16.3, 16.8, 18.3)
"""°C at the points A to I of case 2."""

ISO_10211_2_FLOW = 9.5
"""W/m."""


@cache
def column() -> Array:
    """Case 1: a column twice as high as half of it is wide, at the points of the table."""
    count = 96
    x, y = np.meshgrid(np.linspace(0, 1, count + 1), np.linspace(0, 2, 2 * count + 1))
    line = np.arange(2 * count + 1)
    top = np.stack((np.zeros(count, dtype=int), np.arange(1, count + 1)))
    side = np.stack((line, np.zeros_like(line)))
    bottom = np.stack((np.full(count, 2 * count), np.arange(1, count + 1)))
    held = np.concatenate((top, side, bottom), axis=1)
    degrees = np.concatenate((np.full(count, 20.0), np.zeros(len(line) + count + 2)))
    nothing = np.zeros(1)
    conductivity = np.ones((1, 2 * count, count))
    reduced = reduce(x[None], y[None], conductivity, nothing, held, inside=True)
    found = respond(reduced, nothing).temperatures(reduced, degrees[None])[0]
    step = count // 4
    chosen: Array = found[step:-step:step, step::step]
    return chosen


@cache
def roof() -> tuple[Array, float]:
    """Case 2: concrete on insulation in a frame of aluminium, with a strip of timber between; the
    temperatures at the points, and the heat that flows through, W/m."""
    x = divided((0.0, 0.0015, 0.015, 0.06, 0.5), (6, 24, 40, 60))
    y = divided((0.0, 0.006, 0.011, 0.0125, 0.046, 0.0475), (16, 16, 6, 48, 6))
    across, down = np.meshgrid((x[1:] + x[:-1]) / 2, (y[1:] + y[:-1]) / 2)
    material = np.full(across.shape, 0.029)
    material[down < 0.006] = 1.15
    material[(down > 0.006) & (down < 0.011) & (across < 0.015)] = 0.12
    web, shelf = across < 0.0015, (down < 0.0125) & (across < 0.015)
    material[(down > 0.011) & (web | shelf | (down > 0.046))] = 230.0
    grid = np.meshgrid(x, y)
    reduced = reduce(
        grid[0][None],
        grid[1][None],
        material[None],
        np.array([1 / 0.11]),
        np.zeros((2, 0), dtype=np.intp),
        inside=True,
    )
    response = respond(reduced, np.array([1 / 0.06]))
    degrees = np.array([[0.0, 20.0]])
    found = response.temperatures(reduced, degrees)[0]
    points = [(0, 0), (0.5, 0), (0, 0.006), (0.015, 0.006), (0.5, 0.006)]
    points += [(0, 0.011), (0.015, 0.011), (0, 0.0475), (0.5, 0.0475)]
    seen = [found[np.abs(y - v).argmin(), np.abs(x - u).argmin()] for u, v in points]
    return np.array(seen), float((response.conductance[0] @ degrees[0])[1])


def divided(ends: tuple[float, ...], counts: tuple[int, ...]) -> Array:
    parts = [np.linspace(a, b, n + 1)[1:] for a, b, n in zip(ends, ends[1:], counts, strict=False)]
    return np.concatenate((np.array(ends[:1]), *parts))


def series(section: Section) -> float:
    """Heat up over the water's excess, W/(m²·K), of a row of isothermal pipes in a slab.

    The field of a row of line sources between two planes that exchange heat, as a Fourier series
    along the slab; the pipe's temperature is the field's mean over its circle (after Faxén; the
    derivation stands here). Good to about (D/T)⁴ and (D/2z)² of the rest.
    """
    (layer,) = section.layers
    conductivity, height, depth = layer.conductivity, layer.thickness, section.depth
    above = 1 / (1 / SURFACE_COEFFICIENT + section.covering)
    below = 1 / section.below
    pipe = log(section.spacing / (pi * section.outside))
    for number in range(1, 400):
        wave = 2 * pi * number / section.spacing
        first = (wave * conductivity - above) / (wave * conductivity + above)
        second = (wave * conductivity - below) / (wave * conductivity + below)
        over, under, whole = exp(-wave * depth), exp(-wave * (height - depth)), exp(-wave * height)
        down = first * (over + second * under * whole) / (1 - first * second * whole**2)
        up = second * (under + down * whole)
        pipe += (down * over + up * under) / number
    to_plane = section.spacing * pipe / (2 * pi * conductivity)
    upward = 1 / (1 / above + depth / conductivity)
    downward = 1 / (1 / below + (height - depth) / conductivity)
    return upward / (1 + to_plane * (upward + downward))


def rows_of_pipes() -> list[Section]:
    """Capillaries in slabs: isothermal, and far from the surfaces for their size."""
    return [
        wet_section(t, s, c, r, 0.004, 0.0003, 1e9, u, b)
        for t, s, c, r, u, b in (
            (0.10, 0.036, 1.2, 0.00, 2.5, 0.030),
            (0.15, 0.045, 1.2, 0.10, 2.5, 0.040),
            (0.15, 0.080, 2.1, 0.00, 0.17, 0.100),
            (0.20, 0.060, 1.0, 0.05, 0.75, 0.040),
            (0.30, 0.090, 1.8, 0.00, 0.17, 0.090),
            (0.30, 0.045, 1.4, 0.15, 1.25, 0.040),
        )
    ]


def resistances(section: Section) -> float:
    """Heat up over the water's excess by the resistances of ISO 11855-2 for a slab, W/(m²·K).

    R_x = T·ln(T/(π·d))/(2π·λ) from pipe to its plane, R_r = T·ln(d/(d − 2s))/(2π·λ_r) through its
    wall (reported, as two open libraries for buildings have it: EnergyPlus and the Modelica library
    Buildings); from the plane up and down as in a plane slab.
    """
    (layer,) = section.layers
    round_pipe = section.spacing / (2 * pi)
    to_plane = round_pipe * log(section.spacing / (pi * section.outside)) / layer.conductivity
    bore = section.outside - 2 * section.wall
    wall = round_pipe * log(section.outside / bore) / section.pipe_conductivity
    upward = 1 / (1 / SURFACE_COEFFICIENT + section.covering + section.depth / layer.conductivity)
    under = layer.thickness - section.depth
    downward = 1 / (section.below + under / layer.conductivity)
    return upward / (1 + (to_plane + wall) * (upward + downward))


def slabs() -> list[Section]:
    """In the method's range: T 0.15 to 0.30 m, s/T over 0.3 on both sides, d/T under 0.2."""
    return [
        wet_section(t, share * t, c, r, 0.020, 0.002, 0.35, 0.17, share * t)
        for t, share, c, r in product((0.15, 0.2, 0.3), (0.35, 0.6), (1.4, 2.1), (0.0, 0.1))
    ]


def fin(section: Section) -> float:
    """Heat up over the water's excess of a plate from pipe to pipe, as a fin, W/(m²·K).

    A straight fin with an insulated tip, tanh(m·L)/(m·L) (Incropera and DeWitt, chapter 3; from
    memory), under a board so thin that it carries no heat sideways, with the pipe and its ring as
    warm as the water; the fin begins where the strip's underside leaves the ring.
    """
    plate = section.plate
    assert plate is not None
    half = section.spacing / 2
    over = section.layers[0]
    upward = 1 / (1 / SURFACE_COEFFICIENT + section.covering + over.thickness / over.conductivity)
    below = sum(layer.thickness / layer.conductivity for layer in section.layers[1:])
    downward = 1 / (below + section.below)
    height = section.axis - plate.thickness
    root = sqrt(section.radius**2 - height**2)
    rate = sqrt((upward + downward) / (plate.conductivity * plate.thickness))
    length = half - root
    return upward * (root + tanh(rate * length) / rate) / half


def plates() -> list[Section]:
    """A full plate under a foil, on much insulation, round a pipe of metal."""
    return [
        Section(
            t, r, (Layer(0.0005, 0.2), Layer(0.2, 0.001)), 1, 0.008, 0.016, 0.001, 1e6, 5.0,
            Plate(thickness, t, conductivity),
        )
        for t, r, thickness, conductivity in product(
            (0.15, 0.3), (0.05, 0.15), (0.0003, 0.0005), (50.0, 200.0)
        )
    ]  # fmt: skip


def board(**changes: object) -> Section:
    plain = Section(
        spacing=0.15,
        covering=0.02,
        layers=(Layer(0.020, 0.32), Layer(0.030, 0.035)),
        pipe_layer=1,
        axis=0.008,
        outside=0.016,
        wall=0.002,
        pipe_conductivity=0.35,
        below=0.17,
        plate=Plate(0.0005, 0.120, 200.0),
    )
    return replace(plain, **changes)


DRY = {
    "plate of aluminium under a dry board": board(),
    "the same, sunk by the plate's thickness": board(axis=0.0085),
    "plate of steel": board(plate=Plate(0.0004, 0.120, 50.0)),
    "plate from pipe to pipe": board(plate=Plate(0.0005, 0.150, 200.0)),
    "plate at 300 mm": board(spacing=0.300, plate=Plate(0.0005, 0.280, 200.0)),
    "plate under 45 mm of screed": board(layers=(Layer(0.045, 1.2), Layer(0.030, 0.035))),
    "plate under 2 mm": board(layers=(Layer(0.002, 0.2), Layer(0.030, 0.035))),
    "no plate, pipe under the board": board(plate=None),
    "no plate, pipe 4 mm deeper": board(plate=None, axis=0.012),
    "plate and joist": board(
        spacing=0.200,
        layers=(Layer(0.022, 0.13), Layer(0.150, 0.035, 0.13)),
        plate=Plate(0.0005, 0.130, 200.0),
        joist=0.045,
    ),
    "panel of 18 mm": Section(0.1, 0.02, (Layer(0.018, 0.32),), 0, 0.009, 0.012, 0.0015, 0.35, 0.5),
    "levelling compound": wet_section(0.1, 0.005, 1.2, 0.0, 0.010, 0.0013, 0.35, 0.75, 0.002),
    "carpet of 0.22": wet_section(0.15, 0.045, 1.2, 0.22, 0.016, 0.002, 0.35, 2.5),
    "pipe in a structural slab": Section(
        0.2, 0.0, (Layer(0.05, 1.4), Layer(0.2, 2.1)), 1, 0.1, 0.02, 0.002, 0.35, 0.17
    ),
}
"""Floors that the standard's tables do not know."""
