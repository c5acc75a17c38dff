"""The floor in section against what nobody here made: ISO 10211's cases, series, finite elements.

ISO 10211:2007, Annex A, gives temperatures at points of two sections and the heat that flows
through the second; both are reported (reproduced in the documents of general programs for thermal
bridges), not read in the standard. Measured values of dry constructions with plates that anyone
may read could not be found; the finite elements stand in for them.
"""

from __future__ import annotations

from functools import cache
from itertools import product
from math import pi

import numpy as np
import pytest

from checker.arrays import Array
from checker.physics import floor_coefficient
from checker.physics.build_up import ROOM, WATER, Section, wet_section
from checker.physics.en_1264 import SURFACE_COEFFICIENT
from checker.physics.film import film_coefficient, film_resistance, nusselt
from checker.physics.section import solve, solve_once
from tests.published.figures import Figure, absolute, relative
from tests.published.floor_section import Section as EmbeddedModel
from tests.published.layered_section import modelled
from tests.published.section_cases import (
    DRY,
    ISO_10211_1,
    ISO_10211_2,
    ISO_10211_2_FLOW,
    column,
    fin,
    plates,
    resistances,
    roof,
    rows_of_pipes,
    series,
    slabs,
)
from tests.published.test_floor_section import CONDUCTIVITY, COVERINGS, COVERS, SPACINGS, signed


@cache
def against_elements() -> tuple[Array, Array]:
    """Ours and the finite elements': up, down, highest excess, shape (floors, 3)."""
    ours = [
        (one.coefficient, one.downward_coefficient, one.highest)
        for one in (solution.values() for solution in solve([*DRY.values()]))
    ]
    return np.array(ours), np.array([modelled(section) for section in DRY.values()])


FILM = 1 / (2200 * pi * 0.012)
"""m·K/W: 2200 W/(m²·K) on a bore of 12 mm, as in the model of embedded pipes."""


@cache
def embedded() -> tuple[Array, Array]:
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
def rated() -> tuple[Array, Array]:
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
