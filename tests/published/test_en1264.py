"""EN 1264 against figures computed independently from its formulas.

Source of every expected number, where nothing else is named: EN 1264-2:2021 Annex A formulas and
tables (reported), computed independently in double precision, then rounded as shown.
"""

from functools import cache

import numpy as np
import pytest

from checker.arrays import Array
from checker.physics import balance, en_1264, floor, floor_coefficient, floor_surface
from tests.published.figures import Figure, absolute, relative

# spacing, cover, conductivity, covering, outside, wall, pipe conductivity:
#   K_H, B_G, n_G, Δθ_H,G and q_G at 20 °C room and 29 °C surface
VECTORS = {
    (0.15, 0.045, 1.2, 0.10, 0.016, 0.002, 0.35): (3.3682, 76.30, 0.0760, 29.281, 98.62),
    (0.10, 0.045, 1.2, 0.00, 0.016, 0.002, 0.35): (6.4274, 89.30, 0.0330, 15.199, 97.69),
    (0.15, 0.045, 1.2, 0.05, 0.014, 0.002, 0.35): (4.0980, 76.30, 0.0760, 23.681, 97.05),
}


@pytest.mark.parametrize(("floor_build", "expected"), VECTORS.items())
def test_whole_chain(floor_build: tuple[float, ...], expected: tuple[float, ...]) -> None:
    spacing, cover, conductivity, *_ = floor_build
    coefficient = floor_coefficient.heat_coefficient(*floor_build)
    factor, exponent = floor_surface.limit_curve(spacing, cover, conductivity)
    unit = floor_surface.unit_limit_excess(spacing, cover, conductivity, coefficient)
    excess = floor_surface.limit_excess(unit, coefficient, 20.0, 29.0)
    output = floor_surface.limit_output(unit, coefficient, 20.0, 29.0)
    computed = coefficient, factor, exponent, excess, output
    for value, figure, digits in zip(computed, expected, (4, 2, 4, 3, 2), strict=True):
        assert round(float(value), digits) == figure


# Sums of the rows and of the columns of each table, added up from the printed values: one wrong
# cell shows in two of them.
SUMS: dict[str, tuple[Array, float | list[float], float | list[float]]] = {
    "A.1": (en_1264.SPACING_FACTOR, 4.708, 4.708),
    "A.2": (
        en_1264.COVER_FACTOR,
        [4.205, 4.195, 4.1855, 4.1685, 4.151, 4.1415, 4.1155, 4.0852],
        [8.4235, 8.3371, 8.2611, 8.2255],
    ),
    "A.3": (
        en_1264.DIAMETER_FACTOR,
        [4.049, 4.07, 4.094, 4.127, 4.151, 4.163, 4.185, 4.195],
        [8.307, 8.274, 8.242, 8.211],
    ),
    "A.4": (
        en_1264.LIMIT_FACTOR,
        [873.3, 844.5, 807.9, 712.5, 607.3, 554.0, 399.5, 255.3],
        [380.8, 442.7, 491.6, 536.1, 571.8, 603.3, 645.9, 677.5, 704.6],
    ),
    "A.5": (en_1264.THICK_LIMIT_FACTOR, 1025.7, 1025.7),
    "A.6": (
        en_1264.LIMIT_EXPONENT,
        [0.015, 0.076, 0.182, 0.468, 0.826, 1.022, 1.357, 1.773, 2.277, 2.934],
        [1.647, 1.629, 1.616, 1.539, 1.385, 1.166, 0.83, 0.638, 0.48],
    ),
    "A.7": (en_1264.THICK_LIMIT_EXPONENT, 0.994, 0.994),
}


@pytest.mark.parametrize("name", SUMS)
def test_table_adds_up(name: str) -> None:
    table, rows, columns = SUMS[name]
    np.testing.assert_allclose(table.sum(axis=0), columns, rtol=0, atol=1e-9)
    np.testing.assert_allclose(table.T.sum(axis=0), rows, rtol=0, atol=1e-9)


def test_pipe_conductivities() -> None:
    """EN 1264-2:2021 table A.13 (reported)."""
    assert en_1264.PIPE_CONDUCTIVITY == {
        "PB": 0.22,
        "PP": 0.22,
        "PE-X": 0.35,
        "PE-RT": 0.35,
        "steel": 52,
        "copper": 390,
    }


@pytest.mark.parametrize(
    ("wall", "conductivity", "expected"),
    [
        (0.002, 0.22, 3.2294),
        (0.0025, 0.35, 3.2957),
        (0.002, 0.41, 3.4044),
        (0.001, 390.0, 3.6321),
    ],
)
def test_other_pipes(wall: float, conductivity: float, expected: float) -> None:
    coefficient = floor_coefficient.heat_coefficient(
        0.15, 0.045, 1.2, 0.10, 0.016, wall, conductivity
    )
    assert round(float(coefficient), 4) == expected


def test_factors_of_one_floor_by_hand() -> None:
    """a_B 0.5980, a_T 1.156^−1, a_D 1.029^−1, a_u^0, B 6.7."""
    by_hand = 6.7 * 0.5980 / 1.156 / 1.029
    coefficient = floor_coefficient.heat_coefficient(0.15, 0.045, 1.2, 0.10, 0.016, 0.002, 0.35)
    np.testing.assert_allclose(coefficient, by_hand, rtol=1e-4)


@pytest.mark.parametrize("row", range(8))
@pytest.mark.parametrize("column", range(4))
def test_every_cell_stands_at_its_spacing_and_covering(row: int, column: int) -> None:
    """A.2 and A.3 by the spacings and coverings at their edges, of a 16 × 2 mm pipe under 35 mm:
    m_u = 1, m_D = −1."""
    spacing = (0.050, 0.075, 0.100, 0.150, 0.200, 0.225, 0.300, 0.375)[row]
    covering = (0.0, 0.05, 0.10, 0.15)[column]
    covering_factor = (1 / 10.8 + 0.045) / (1 / 10.8 + 0.045 / 1.2 + covering)
    by_hand = 6.7 * covering_factor * (1.23, 1.188, 1.156, 1.134)[column] ** (1 - spacing / 0.075)
    by_hand *= en_1264.COVER_FACTOR[row, column] / en_1264.DIAMETER_FACTOR[row, column]
    coefficient = floor_coefficient.heat_coefficient(
        spacing, 0.035, 1.2, covering, 0.016, 0.002, 0.35
    )
    np.testing.assert_allclose(coefficient, by_hand, rtol=1e-12)


@pytest.mark.parametrize(
    ("spacing", "factor", "exponent"),
    [
        (0.15, 97.8, 0.006),
        (0.20, 90.0, 0.028),
        (0.225, 86.1, 0.041),
        (0.30, 72.4, 0.086),
        (0.375, 58.3, 0.142),
    ],
)
def test_tables_for_thin_and_thick_cover_join_at_the_conductivity_they_were_made_for(
    spacing: float, factor: float, exponent: float
) -> None:
    """Tables A.5 and A.7 read at 95 mm and 1.2 W/(m·K) give the last column of A.4 and A.6."""
    thin = floor_surface.limit_curve(spacing, 0.0792 * 1.2, 1.2)
    thick = floor_surface.limit_curve(spacing, 0.0792 * 1.2 + 1e-6, 1.2)
    np.testing.assert_allclose(thin, (factor, exponent), atol=1e-12)
    np.testing.assert_allclose(thick[0], factor, atol=0.1)
    np.testing.assert_allclose(thick[1], exponent, atol=0.001)


@pytest.mark.parametrize(("conductivity", "thick"), [(1.0, 43.9), (1.4, 68.5), (2.0, 86.1)])
def test_tables_for_thin_and_thick_cover_part_at_other_conductivities(
    conductivity: float, thick: float
) -> None:
    """At 0.375 m A.4 gives 58.3 for every conductivity, A.5 what the thickness gives."""
    cover = 0.0792 * conductivity
    below, _ = floor_surface.limit_curve(0.375, cover, conductivity)
    above, _ = floor_surface.limit_curve(0.375, cover + 1e-7, conductivity)
    np.testing.assert_allclose(below, 58.3)
    assert round(float(above), 1) == thick


@pytest.mark.parametrize(
    ("surface_excess", "expected"),
    [(9.0, 100.0), (15.0, 175.4)],
)
def test_largest_output(surface_excess: float, expected: float) -> None:
    """EN 1264-2, basic characteristic curve: 100 W/m² in the occupied zone, 175 in the perimeter
    zone (the two figures are given in published planning texts as well)."""
    assert round(float(floor_surface.basic_output(surface_excess)), 1) == expected


def test_wide_spacing_cannot_reach_the_largest_output() -> None:
    """At 0.30 m, no covering, 45 mm of 1.2 W/(m·K): between 76 and 77 W/m² for a 17 mm pipe."""
    coefficient = floor_coefficient.heat_coefficient(0.30, 0.045, 1.2, 0.0, 0.017, 0.002, 0.35)
    unit = floor_surface.unit_limit_excess(0.30, 0.045, 1.2, coefficient)
    assert 76 < floor_surface.limit_output(unit, coefficient, 20.0, 29.0) < 77


@pytest.mark.parametrize(("below", "loss", "flow"), [(20.0, 11.10, 210.0), (10.0, 20.74, 243.1)])
def test_flow_of_one_room(below: float, loss: float, flow: float) -> None:
    """EN 1264-3:2021 (reported): 20 m², 50 W/m², 5 K, R_o 0.2301 with 45 mm at 1.2 W/(m·K) under a
    covering of 0.10 m²·K/W, R_u 1.0367 m²·K/W, c 4190 J/(kg·K); kg/h."""
    upward = floor.upward_resistance(0.10, 0.045, 1.2)
    assert round(float(upward), 4) == 0.2301
    down = floor.down_loss(50.0, 20.0, upward, 1.0367, below)
    # With a heat coefficient of 1 the excess is the heat flux.
    slope, constant = balance.taken_from_water(
        *(np.array([value]) for value in (20.0, 1.0, upward, 1.0367, 20.0, below))
    )
    mass_flow = (slope[0] * 50.0 + constant[0]) / (4190.0 * 5.0)
    assert round(float(down), 2) == loss
    assert round(float(mass_flow) * 3600, 1) == flow


@pytest.mark.parametrize(("ratio", "error"), [(0.25, -0.0046), (0.5, -0.0163), (1.0, -0.052)])
def test_simple_design_supply_of_the_standard(ratio: float, error: float) -> None:
    """EN 1264-3: Δθ_V = Δθ_H + σ/2 falls short of the exact form by so much of Δθ_V."""
    drop = ratio * 10.0
    exact = floor.needed_supply(20.0, drop, 5.0, 50.0) - 20.0
    np.testing.assert_allclose((10.0 + drop / 2) / exact - 1, error, atol=6e-5 + 1e-3 * ratio**3)


@pytest.mark.parametrize(
    ("spacing", "covering", "ratio"), [(0.15, 0.10, 1.015), (0.20, 0.0, 1.10), (0.30, 0.10, 1.15)]
)
def test_warmest_spot_against_mean(spacing: float, covering: float, ratio: float) -> None:
    """Limit curve solved for the surface temperature, computed independently; a two-dimensional
    conduction model gives 1.019, 1.12 and 1.18 for the same floors."""
    coefficient = floor_coefficient.heat_coefficient(
        spacing, 0.045, 1.2, covering, 0.020, 0.002, 0.35
    )
    unit = floor_surface.unit_limit_excess(spacing, 0.045, 1.2, coefficient)
    excess = floor_surface.limit_excess(unit, coefficient, 20.0, 29.0)
    warmest = floor_surface.surface_max(20.0, excess, coefficient, unit) - 20.0
    mean = floor_surface.surface_mean(20.0, coefficient * excess) - 20.0
    np.testing.assert_allclose(warmest / mean, ratio, atol=0.006)


SMOOTH = {
    "A.2": (en_1264.COVER_FACTOR, -1, -1),
    "A.3": (en_1264.DIAMETER_FACTOR, 1, -1),
    "A.4": (en_1264.LIMIT_FACTOR, -1, 1),
    "A.6": (en_1264.LIMIT_EXPONENT, 1, -1),
}
"""Tables of two inputs, and whether they rise (1) or fall down the rows and along the columns."""


@pytest.mark.parametrize("name", SMOOTH)
def test_table_is_monotone(name: str) -> None:
    table, down, along = SMOOTH[name]
    assert (down * np.diff(table, axis=0) >= 0).all()
    assert (along * np.diff(table, axis=1) >= 0).all()


@pytest.mark.parametrize("name", SMOOTH)
def test_table_is_smooth(name: str) -> None:
    """No cell stands out from the mean of its neighbours on both sides by more than a twelfth of
    the table's range, which the kinks at its saturated corner (100, 0) need; one cell mistaken by
    a fifth of the range would."""
    table, *_ = SMOOTH[name]
    span = np.ptp(table)
    for axis in (0, 1):
        middle = np.moveaxis(table, axis, 0)
        bend = np.abs(middle[1:-1] - (middle[:-2] + middle[2:]) / 2)
        assert bend.max() < span / 12


def test_thick_cover_tables_run_from_end_to_end() -> None:
    """EN 1264-2 tables A.5 and A.7 (reported): 27.5 and 0.320 at 0.173, 100 and 0 from 0.75 up,
    where the floor is as good as even."""
    factor, exponent = en_1264.THICK_LIMIT_FACTOR, en_1264.THICK_LIMIT_EXPONENT
    assert (factor[0], factor[-1]) == (27.5, 100.0)
    assert (exponent[0], exponent[-1]) == (0.320, 0.0)
    assert (np.diff(factor) > 0).all()
    assert (np.diff(exponent) < 0).all()


def test_an_even_floor_has_the_fixed_points_of_the_standard() -> None:
    """At φ = 1 with B_G 100 and n_G 0 the limit is 100 W/m² (EN 1264-2, occupied zone and
    bathrooms); at 15 K it is 175 W/m² (perimeter zone)."""
    coefficient = floor_coefficient.heat_coefficient(0.05, 0.065, 1.2, 0.0, 0.016, 0.002, 0.35)
    unit = floor_surface.unit_limit_excess(0.05, 0.065, 1.2, coefficient)
    limits = floor_surface.limit_output(unit, coefficient, 20.0, np.array([29.0, 35.0]))
    np.testing.assert_allclose(limits, [100.0, 175.4], atol=0.05)


@cache
def figures() -> tuple[Figure, ...]:
    floors = np.array(list(VECTORS)).T
    printed = np.array(list(VECTORS.values())).T
    coefficient = floor_coefficient.heat_coefficient(*floors)
    unit = floor_surface.unit_limit_excess(floors[0], floors[1], floors[2], coefficient)
    excess = floor_surface.limit_excess(unit, coefficient, 20.0, 29.0)
    vectors = "worked out apart from the program, and rounded"
    # The last three columns, where the two tables meet: 75, 85 and 95 mm.
    spacings, resistances = (
        np.array([[0.2], [0.225], [0.3], [0.375]]),
        en_1264.COVER_RESISTANCES[-3:],
    )
    thin, _ = floor_surface.limit_curve(spacings, resistances * 1.2, 1.2)
    ratios = resistances * 1.2 / spacings
    known = ratios >= 0.173
    thick = np.interp(ratios, en_1264.COVER_TO_SPACING, en_1264.THICK_LIMIT_FACTOR)
    return (
        relative(
            "heat coefficient of three floors",
            vectors,
            coefficient,
            printed[0],
            2e-3,
            "five digits",
        ),
        relative("limit excess of three floors", vectors, excess, printed[3], 2e-3, "five digits"),
        absolute(
            "largest output at 9 and 15 K of the surface over the room",
            "100 and 175 W/m², EN 1264-2 (reported, and in planning texts)",
            floor_surface.basic_output(np.array([9.0, 15.0])),
            [100.0, 175.0],
            "W/m²",
            0.5,
            "the standard rounds to whole numbers",
        ),
        absolute(
            "B_G of table A.4 at 1.2 W/(m·K), covers 75 to 95 mm, spacing from 200 mm",
            "table A.5 at the same cover over spacing",
            thin[known],
            thick[known],
            "W/m²",
            0.4,
            "two tables of one surface, read straight between their cells",
        ),
    )
