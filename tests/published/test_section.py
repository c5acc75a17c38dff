"""The floor in section against what nobody here made: ISO 10211's cases, series, finite elements.

ISO 10211:2007, Annex A, gives temperatures at points of two sections and the heat that flows
through the second; both are reported (reproduced in the documents of general programs for thermal
bridges), not read in the standard. Measured values of dry constructions with plates that anyone
may read could not be found; the finite elements stand in for them.
"""

from __future__ import annotations

from functools import cache
from itertools import product
from math import exp, log, pi, sqrt, tanh

import numpy as np
import pytest
from msgspec.structs import replace

from checker.physics import floor_coefficient
from checker.physics.arrays import Floats
from checker.physics.build_up import Layer, Plate, Section, wet_section
from checker.physics.conduction import reduce, respond
from checker.physics.en_1264 import SURFACE_COEFFICIENT
from checker.physics.film import film_coefficient, film_resistance, nusselt
from checker.physics.section import solve, solve_once
from checker.physics.section_with_pipe import ROOM, WATER
from tests.published.figures import Figure, absolute, relative
from tests.published.floor_section import Section as EmbeddedModel
from tests.published.layered_section import modelled
from tests.published.test_floor_section import CONDUCTIVITY, COVERINGS, COVERS, SPACINGS, signed

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
def column() -> Floats:
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
    chosen: Floats = found[step:-step:step, step::step]
    return chosen


@cache
def roof() -> tuple[Floats, float]:
    """Case 2: concrete on insulation in a frame of aluminium, with a strip of timber between; the
    temperatures at the points, and the heat that flows through, W/m."""
    x = _divided((0.0, 0.0015, 0.015, 0.06, 0.5), (6, 24, 40, 60))
    y = _divided((0.0, 0.006, 0.011, 0.0125, 0.046, 0.0475), (16, 16, 6, 48, 6))
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


def _divided(ends: tuple[float, ...], counts: tuple[int, ...]) -> Floats:
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


def _board(**changes: object) -> Section:
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
    "plate of aluminium under a dry board": _board(),
    "the same, sunk by the plate's thickness": _board(axis=0.0085),
    "plate of steel": _board(plate=Plate(0.0004, 0.120, 50.0)),
    "plate from pipe to pipe": _board(plate=Plate(0.0005, 0.150, 200.0)),
    "plate at 300 mm": _board(spacing=0.300, plate=Plate(0.0005, 0.280, 200.0)),
    "plate under 45 mm of screed": _board(layers=(Layer(0.045, 1.2), Layer(0.030, 0.035))),
    "plate under 2 mm": _board(layers=(Layer(0.002, 0.2), Layer(0.030, 0.035))),
    "no plate, pipe under the board": _board(plate=None),
    "no plate, pipe 4 mm deeper": _board(plate=None, axis=0.012),
    "plate and joist": _board(
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


@cache
def against_elements() -> tuple[Floats, Floats]:
    """Ours and the finite elements': up, down, highest excess, shape (floors, 3)."""
    ours = [
        (one.coefficient, one.downward_coefficient, one.highest)
        for one in (solution.values() for solution in solve([*DRY.values()]))
    ]
    return np.array(ours), np.array([modelled(section) for section in DRY.values()])


FILM = 1 / (2200 * pi * 0.012)
"""m·K/W: 2200 W/(m²·K) on a bore of 12 mm, as in the model of embedded pipes."""


@cache
def embedded() -> tuple[Floats, Floats]:
    """Ours and the other model's, with quadrilaterals: shape (builds · floors, 3)."""
    cases = [
        (EmbeddedModel(t, s, r, under=under, film=film), resistance)
        for t, s, r in product(SPACINGS, COVERS, COVERINGS)
        for under, film, resistance in ((0.010, float("inf"), 0.0), (0.0005, 2200.0, FILM))
    ]
    solved = solve([_as_section(model) for model, _ in cases])
    ours = []
    for solution, (_, resistance) in zip(solved, cases, strict=True):
        values = solution.values(resistance)
        ours.append((values.coefficient, values.downward_coefficient, values.highest))
    theirs = [(*model.fluxes(1.0), model.surface_excess(1.0)[1]) for model, _ in cases]
    return np.array(ours), np.array(theirs)


def _as_section(model: EmbeddedModel) -> Section:
    return wet_section(
        model.spacing,
        model.cover,
        model.conductivity,
        model.covering,
        model.outside,
        model.wall,
        model.pipe_conductivity,
        model.insulation,
        model.under,
    )


@cache
def rated() -> tuple[Floats, Floats]:
    """The section's coefficient and EN 1264-2's, pipe embedded with 10 mm of screed under it,
    shape (spacings, covers, coverings)."""
    cases = np.array([*product(SPACINGS, COVERS, COVERINGS)])
    spacing, cover, covering = cases.T
    rating = floor_coefficient.heat_coefficient(
        spacing, cover, CONDUCTIVITY, covering, 0.016, 0.002, 0.35
    )
    solved = solve(
        [wet_section(t, s, CONDUCTIVITY, r, 0.016, 0.002, 0.35, 2.5, 0.010) for t, s, r in cases]
    )
    shape = len(SPACINGS), len(COVERS), len(COVERINGS)
    found = np.array([one.values().coefficient for one in solved])
    return found.reshape(shape), rating.reshape(shape)


CONVERGING = (
    wet_section(0.15, 0.045, 1.2, 0.02, 0.016, 0.002, 0.35, 2.67),
    wet_section(0.15, 0.045, 1.2, 0.0, 0.016, 0.002, 0.35, 2.67, 0.010),
    wet_section(0.30, 0.045, 1.2, 0.0, 0.016, 0.002, 0.35, 2.67, 0.010),
)
"""Of one material round the pipe, and so without corners but the pipe's own."""


def laws() -> tuple[Figure, ...]:
    """What holds of conduction whatever the floor, and what a finer grid changes."""
    flows = [one.values(FILM).flow for one in solve([*DRY.values()])]
    shares = [flow / np.abs(flow).max() for flow in flows]
    whole: list[float] = []
    parts: list[float] = []
    for one in solve([*DRY.values()]):
        values = one.values(FILM)
        whole += values.fluxes(55.0, 22.0, 4.0)
        each = [values.fluxes(*degrees) for degrees in ((55, 0, 0), (0, 22, 0), (0, 0, 4))]
        parts += np.sum(each, axis=0).tolist()
    alike = [
        wet_section(t, 0.045, 1.2, r, 0.016, 0.002, 0.35, 1 / SURFACE_COEFFICIENT + r, 0.045)
        for t, r in product((0.1, 0.15, 0.3), (0.0, 0.1))
    ]
    sides = [one.values(FILM) for one in solve(alike)]
    orders = []
    for section in CONVERGING:
        once, twice, four = (
            solve_once([section], fineness)[0].fine.joined(0.0).flow[ROOM, WATER]
            for fineness in (1, 2, 4)
        )
        orders.append(np.log2((twice - once) / (four - twice)))
    return (
        absolute(
            "heat into the floor from the water, the room and below, of the largest; 14 floors",
            "zero: what goes in comes out",
            100 * np.array([share.sum(axis=0) for share in shares]),
            0.0,
            "%",
            1e-6,
            "rounding",
        ),
        absolute(
            "heat at one for a kelvin at another, and the other way round, of the largest",
            "each other (reciprocity)",
            100 * np.array(shares),
            100 * np.array([share.T for share in shares]),
            "%",
            1e-6,
            "rounding",
        ),
        relative(
            "heat up and down at 55, 22 and 4 °C",
            "the sum of what each temperature alone gives (linearity)",
            whole,
            parts,
            1e-6,
            "rounding",
        ),
        relative(
            "heat up of a floor that is alike above and below",
            "its heat down (symmetry)",
            [one.coefficient for one in sides],
            [one.downward_coefficient for one in sides],
            1e-4,
            "rounding",
            noise=1e-5,
        ),
        absolute(
            "order of convergence on grids of single, double and fourfold divisions",
            "2, of bilinear elements away from corners",
            orders,
            2.0,
            "",
            0.25,
            "what the next power of the step leaves",
            noise=1e-4,
        ),
        *(
            relative(
                f"heat up, down and highest excess; {many} floors {of}",
                "the same on a grid of half the cells' size",
                _seen(sections, 1),
                _seen(sections, 2),
                allowed,
                "the error that is told",
                noise=1e-4,
            )
            for many, of, sections, allowed in (
                (6, "without a plate", [one for one in DRY.values() if not one.plate], 0.5),
                (8, "with a plate", [one for one in DRY.values() if one.plate], 1.0),
            )
        ),
    )


def _seen(sections: list[Section], fineness: int) -> list[tuple[float, float, float]]:
    return [
        (one.coefficient, one.downward_coefficient, one.highest)
        for one in (found.values(FILM) for found in solve_once(sections, fineness))
    ]


ELEMENTS = "finite elements on triangles halved at every change of material (scikit-fem)"


@cache
def figures() -> tuple[Figure, ...]:
    dry, elements = against_elements()
    quadratic, model = embedded()
    points, flow = roof()
    return (
        absolute(
            "temperatures in a column, 28 points",
            "ISO 10211:2007, case 1 of Annex A (analytic)",
            column(),
            ISO_10211_1,
            "K",
            0.055,
            "printed to 0.1 °C; the standard asks for 0.1 K",
        ),
        absolute(
            "temperatures in a roof with timber and aluminium, 9 points",
            "ISO 10211:2007, case 2 of Annex A",
            points,
            ISO_10211_2,
            "K",
            0.1,
            "the standard asks for 0.1 K",
        ),
        absolute(
            "heat through the same",
            "ISO 10211:2007, case 2 of Annex A",
            [flow],
            [ISO_10211_2_FLOW],
            "W/m",
            0.1,
            "the standard asks for 0.1 W/m",
        ),
        relative(
            "coefficient of a row of capillaries in a slab, spacing 100–300 mm",
            "Fourier series (after Faxén)",
            [one.values().coefficient for one in solve(rows_of_pipes())],
            [series(section) for section in rows_of_pipes()],
            0.1,
            "the series takes the mean over the pipe's circle, good to (D/2z)²",
            noise=1e-4,
        ),
        relative(
            "coefficient of pipes in a slab, T 0.15–0.30 m, s/T from 0.35, d/T to 0.13",
            "ISO 11855-2, method of resistances (reported)",
            [one.values().coefficient for one in solve(slabs())],
            [resistances(section) for section in slabs()],
            (-1.0, 3.0),
            "the method leaves out how the surfaces draw the heat to themselves; most at s/T 0.35",
            noise=1e-4,
        ),
        relative(
            "coefficient of a plate from pipe to pipe under a foil",
            "a straight fin",
            [one.values().coefficient for one in solve(plates())],
            [fin(section) for section in plates()],
            1.0,
            "where the fin begins is known to about half a plate's ring",
            noise=1e-4,
        ),
        relative(
            "heat up; 14 floors that the tables do not know: plates, joist, panel, slab, carpet",
            ELEMENTS,
            dry[:, 0],
            elements[:, 0],
            0.6,
            "error of the grid, up to 0.4 %, and of the triangles' steps",
            noise=1e-4,
        ),
        relative(
            "heat down; the same floors",
            ELEMENTS,
            dry[:, 1],
            elements[:, 1],
            0.4,
            "the same",
            noise=1e-4,
        ),
        relative(
            "highest excess of the surface; the same floors",
            ELEMENTS,
            dry[:, 2],
            elements[:, 2],
            0.6,
            "the same",
            noise=1e-4,
        ),
        relative(
            "heat up, down and highest excess; 80 floors with pipes in screed, embedded and on "
            "insulation with a film",
            "finite elements on quadrilaterals (scikit-fem), with the pipe's wall as a resistance",
            quadratic,
            model,
            0.4,
            "a wall carries heat round the pipe, which the other model leaves out: most on "
            "insulation at 300 mm",
            noise=1e-4,
        ),
        relative(
            "coefficient; spacing 100–300 mm, cover 35–65 mm, covering 0–0.15 m²·K/W, pipe embedded",
            "EN 1264-2 Annex A (reported)",
            *rated(),
            (-6.0, 6.0),
            "the rating's one-dimensional covering factor; each deviation is listed below",
        ),
        *laws(),
    )


def details() -> str:
    """The section against the rating, floor by floor, and against the elements."""
    ours, rating = rated()
    heads = "".join(f" {covering:.2f} m²·K/W |" for covering in COVERINGS)
    lines = [
        "The section's coefficient over EN 1264-2's, pipe embedded, for each covering:",
        "",
        f"| spacing | cover |{heads}",
        "|" + "---|" * (2 + len(COVERINGS)),
    ]
    for (i, spacing), (j, cover) in product(enumerate(SPACINGS), enumerate(COVERS)):
        cells = [f"{1e3 * spacing:.0f} mm", f"{1e3 * cover:.0f} mm"]
        cells += [
            f"{signed(float(100 * (o / r - 1)))} %"
            for o, r in zip(ours[i, j], rating[i, j], strict=True)
        ]
        lines.append("| " + " | ".join(cells) + " |")
    lines += [
        "",
        "Floors that the tables do not know, ours and the finite elements' coefficient, W/(m²·K). "
        "No measured values of such floors that anyone may read were found.",
        "",
        "| floor | ours | finite elements |",
        "|---|---|---|",
    ]
    for name, one, other in zip(DRY, *against_elements(), strict=True):
        lines.append(f"| {name} | {one[0]:.3f} | {other[0]:.3f} |")
    return "\n".join(lines)


def test_laminar_film_is_known_and_the_transition_has_no_jump() -> None:
    """4.36 at an even heat flux: Incropera and DeWitt, chapter 8; from memory."""
    assert nusselt(np.array([100.0, 2299.9]), 4.0) == pytest.approx([4.36, 4.36])
    # By hand: f = (0.79·9.2103 − 1.64)⁻² = 0.03148; Nu = 0.003935·9000·4/(1 + 12.7·0.06273·1.5198).
    assert float(nusselt(1e4, 4.0)) == pytest.approx(64.1, abs=0.05)
    around = nusselt(np.array([2299.999, 2300.001, 3999.999, 4000.001]), 4.0)
    assert around[0] == pytest.approx(around[1], abs=1e-3)
    assert around[2] == pytest.approx(around[3], abs=1e-3)
    # 4.36 · 0.62 W/(m·K) over a bore of 12 mm is 225 W/(m²·K), whatever the Prandtl number.
    laminar = float(film_coefficient(1500.0, 7e-4, 4180.0, 0.62, 0.012))
    assert laminar == pytest.approx(225.3, rel=1e-3)
    around_bore = film_resistance(DRY["carpet of 0.22"], laminar)
    assert 1 / around_bore == pytest.approx(pi * 0.012 * 225.3, rel=1e-3)
