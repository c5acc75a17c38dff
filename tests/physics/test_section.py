"""What holds for every section: balance, symmetry, bounds, order of convergence."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from checker.physics.build_up import BELOW, ROOM, WATER, Layer, Plate, Section, wet_section
from checker.physics.conduction import reduce, respond
from checker.physics.en_1264 import SURFACE_COEFFICIENT
from checker.physics.section import TOLERANCE, Solution, Values, solve, solve_once
from checker.physics.section_bounds import bounds

SCREED = wet_section(0.15, 0.045, 1.2, 0.02, 0.016, 0.002, 0.35, 2.67)
EMBEDDED = wet_section(0.15, 0.045, 1.2, 0.0, 0.016, 0.002, 0.35, 2.67, 0.010)
DRY = Section(
    0.15,
    0.02,
    (Layer(0.020, 0.32), Layer(0.030, 0.035)),
    1,
    0.008,
    0.016,
    0.002,
    0.35,
    0.17,
    Plate(0.0005, 0.120, 200.0),
)
JOISTS = replace(
    DRY,
    spacing=0.2,
    layers=(Layer(0.022, 0.13), Layer(0.150, 0.035, 0.13)),
    plate=None,
    joist=0.045,
)
LAMINAR = 0.118
"""m·K/W: 1/(π·4.36·0.62 W/(m·K))."""


def values(section: Section, film: float = 0.0) -> Values:
    return solve([section])[0].values(film)


@st.composite
def sections(draw: st.DrawFn) -> Section:
    """Floors as they are built, and somewhat beyond."""
    outside = draw(st.sampled_from([0.010, 0.012, 0.014, 0.016, 0.017, 0.020, 0.025]))
    spacing = draw(st.sampled_from([0.05, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4]))
    thickness = st.sampled_from([0.0003, 0.002, 0.010, 0.020, 0.050, 0.150])
    conductivity = st.floats(0.025, 2.5)
    layer = st.builds(Layer, thickness, conductivity, st.sampled_from([0.0, 0.13]))
    over = draw(st.lists(layer, max_size=3))
    under = draw(st.lists(layer, max_size=3))
    radius, plate = outside / 2, None
    axis = radius + draw(st.sampled_from([0.001, 0.010, 0.050]))
    sheet = draw(st.sampled_from([0.0002, 0.0005, 0.001]))
    widest = min(spacing, 0.3)
    plated: bool = draw(st.booleans())
    above = sum(one.thickness for one in over)
    if above >= sheet and plated and 2.5 * (radius + sheet) < widest:
        width = draw(st.floats(2.4 * (radius + sheet), widest))
        plate = Plate(sheet, width, draw(st.sampled_from([20.0, 50.0, 200.0])))
        axis = radius + draw(st.floats(0.0, 1.0)) * sheet
    room = draw(st.sampled_from([0.001, 0.010, 0.080]))
    own = Layer(axis + radius + sheet + room, draw(st.floats(0.03, 2.5)), 0.13)
    lateral = max(plate.width / 2 if plate else 0.0, 1.1 * (radius + sheet))
    joist = 0.04 if draw(st.booleans()) and spacing / 2 - 0.02 > 1.05 * lateral else 0.0
    return Section(
        spacing,
        draw(st.sampled_from([0.0, 0.01, 0.1, 0.25])),
        (*over, own, *under),
        len(over),
        axis,
        outside,
        outside * draw(st.sampled_from([0.1, 0.125, 0.15])),
        draw(st.sampled_from([0.22, 0.35, 0.41])),
        draw(st.sampled_from([0.17, 0.5, 2.5])),
        plate,
        joist,
    )


A_HAIR_SHORT = replace(DRY, plate=Plate(0.0005, 0.15 - 1e-12, 20.0))
"""Its plate ends a hair before the middle between two pipes, where no cell fits any more."""


@example(A_HAIR_SHORT, 0.02)
@example(replace(A_HAIR_SHORT, plate=Plate(0.0005, 0.15 - 2.1e-5, 20.0)), 0.02)
@given(sections(), st.sampled_from([0.0, 0.02, LAMINAR]))
@settings(max_examples=60, deadline=None)
def test_what_holds_for_every_section(section: Section, film: float) -> None:
    (solution,) = solve([section])
    found = solution.values(film)
    scale = np.abs(found.flow).max()
    # What goes in comes out, and all at one temperature nothing flows.
    assert np.abs(found.flow.sum(axis=0)).max() < 1e-9 * scale
    assert np.abs(found.flow.sum(axis=1)).max() < 1e-9 * scale
    # Heat at one for a kelvin at another is the same the other way round.
    assert np.abs(found.flow - found.flow.T).max() < 1e-9 * scale
    # No spot is warmer than the warmest, or colder than the coldest but for the grid's error.
    assert found.surface[:, WATER].min() > -1e-4
    assert found.surface.sum(axis=1) == pytest.approx(np.ones(len(found.across)), abs=1e-9)
    assert found.highest < 1
    # The heat lies between what is worked by hand; a film more lets less through.
    assert found.coefficient > 0
    least, most = bounds(section)
    in_all = solution.values().flow[WATER, WATER]
    assert least < in_all < most * 1.005
    assert solution.values(film + 0.05).coefficient < found.coefficient
    # On each grid the heat up is what the surface gives, exactly.
    for grid in (solution.fine, solution.coarse):
        joined = grid.joined(film)
        mean = np.trapezoid(joined.top[:, WATER], grid.mesh.x[0]) / (section.spacing / 2)
        exchange = SURFACE_COEFFICIENT / (1 + SURFACE_COEFFICIENT * section.covering)
        assert exchange * mean == pytest.approx(-joined.flow[ROOM, WATER], rel=1e-9)


def test_a_plate_that_ends_a_hair_before_the_next_is_as_one_that_reaches_it() -> None:
    whole = values(replace(DRY, plate=Plate(0.0005, 0.15, 20.0)))
    assert values(A_HAIR_SHORT).flow == pytest.approx(whole.flow, rel=1e-9)


def test_heat_is_linear_in_the_temperatures() -> None:
    found = values(DRY, LAMINAR)
    once, twice = found.fluxes(45.0, 20.0, 10.0), found.fluxes(70.0, 20.0, 0.0)
    still = found.fluxes(20.0, 20.0, 20.0)
    assert still == pytest.approx((0.0, 0.0), abs=1e-9)
    assert twice == pytest.approx([2 * flux for flux in once], rel=1e-9)


def test_where_above_and_below_are_alike_as_much_goes_down_as_up() -> None:
    found = values(
        wet_section(0.15, 0.045, 1.2, 0.1, 0.016, 0.002, 0.35, 1 / SURFACE_COEFFICIENT + 0.1, 0.045)
    )
    assert found.coefficient == pytest.approx(found.downward_coefficient, rel=1e-6)


@pytest.mark.long
@pytest.mark.parametrize("section", [SCREED, EMBEDDED, replace(EMBEDDED, spacing=0.3)])
def test_away_from_corners_the_grid_converges_with_the_square_of_its_step(section: Section) -> None:
    once, twice, four = (plain(solve_once([section], fineness)[0]) for fineness in (1, 2, 4))
    assert np.log2((once - twice) / (twice - four)) == pytest.approx(2.0, abs=0.25)


def plain(solution: Solution) -> float:
    """The finer grid's own coefficient, not carried on."""
    return float(-solution.fine.joined(0.0).flow[ROOM, WATER])


@pytest.mark.parametrize(
    ("section", "allowed"),
    [
        (SCREED, 0.005),
        (JOISTS, 0.005),
        (DRY, 0.01),
        (replace(DRY, plate=Plate(0.0004, 0.12, 50.0)), 0.01),
    ],
)
def test_halving_the_grid_changes_little(section: Section, allowed: float) -> None:
    once, twice = (solve_once([section], fineness)[0].values(LAMINAR) for fineness in (1, 2))
    assert once.coefficient == pytest.approx(twice.coefficient, rel=allowed)
    assert once.downward_coefficient == pytest.approx(twice.downward_coefficient, rel=allowed)
    assert once.highest == pytest.approx(twice.highest, rel=allowed)
    # The error told covers what the finer grid changes.
    assert abs(once.coefficient - twice.coefficient) < 2 * once.coefficient_error


def test_a_section_that_needs_it_is_solved_finer() -> None:
    """A thin pipe of metal touches a board over insulation: all heat leaves where they touch."""
    touching = replace(DRY, plate=None, pipe_conductivity=390.0, outside=0.030)
    touching = replace(touching, layers=(Layer(0.02, 1.9), Layer(0.04, 0.035)), axis=0.015)
    rough = solve_once([touching], 1)[0].values()
    assert rough.coefficient_error > TOLERANCE * rough.coefficient
    assert values(touching).coefficient == solve_once([touching], 2)[0].values().coefficient


def test_sections_solved_together_are_as_they_are_alone() -> None:
    chosen = [SCREED, DRY, replace(DRY, spacing=0.2), JOISTS, replace(SCREED, covering=0.15)]
    for section, together in zip(chosen, solve(chosen), strict=True):
        alone = values(section)
        assert together.values().flow == pytest.approx(alone.flow, rel=1e-12, abs=1e-12)


def test_a_plate_and_a_joist_do_what_they_should() -> None:
    """Aluminium spreads heat, timber lets more out of the water in all, a covering holds it back."""
    bare = values(replace(DRY, plate=None)).coefficient
    steel = values(replace(DRY, plate=Plate(0.0005, 0.120, 50.0))).coefficient
    assert bare < steel < values(DRY).coefficient
    wider = values(replace(DRY, plate=Plate(0.0005, 0.140, 200.0))).coefficient
    assert wider > values(DRY).coefficient
    timber, none = values(JOISTS), values(replace(JOISTS, joist=0.0))
    assert timber.flow[WATER, WATER] > none.flow[WATER, WATER]
    assert values(replace(SCREED, covering=0.1)).coefficient < values(SCREED).coefficient


def test_temperatures_inside_join_the_surface_and_the_pipe() -> None:
    solution = solve([SCREED])[0]
    inside = solution.fine.temperatures(0.0, 40.0, 20.0, 15.0)
    mesh = solution.fine.mesh
    assert inside.shape == mesh.x.shape
    assert np.nanmax(inside) < 40.0
    assert np.nanmin(inside) > 15.0
    under_covering = inside[0, ::2]
    share = 1 / (1 + SURFACE_COEFFICIENT * SCREED.covering)
    surface = solution.values().surface_temperatures(40.0, 20.0, 15.0)
    assert 20 + share * (under_covering - 20) == pytest.approx(surface, abs=0.02)
    assert np.isnan(inside[mesh.held[0, 0] + 1, 0])


@pytest.mark.parametrize("section", [SCREED, DRY, JOISTS])
def test_a_packed_solution_is_the_same_to_the_last_digit(section: Section) -> None:
    (solution,) = solve([section])
    again = Solution.unpacked(section, solution.packed())
    for film in (0.0, LAMINAR):
        assert again.values(film).flow.tolist() == solution.values(film).flow.tolist()
        assert again.values(film).surface.tolist() == solution.values(film).surface.tolist()
    inside = solution.fine.temperatures(LAMINAR, 40.0, 20.0, 15.0)
    assert np.array_equal(
        again.fine.temperatures(LAMINAR, 40.0, 20.0, 15.0), inside, equal_nan=True
    )


@pytest.mark.parametrize("cut", [slice(0), slice(10), slice(-8), slice(-1)])
def test_what_is_no_solution_is_refused(cut: slice) -> None:
    packed = solve([SCREED])[0].packed()
    with pytest.raises(ValueError, match="less than a grid"):
        Solution.unpacked(SCREED, packed[cut])
    with pytest.raises(ValueError, match="more than a solution"):
        Solution.unpacked(SCREED, packed + b"\0")


def test_a_plane_slab_is_its_resistances() -> None:
    """Hand calculation: 1/(0.1 + 0.1 m/1 W/(m·K) + 0.2) = 2.5 W/(m²·K), over 0.1 m of width."""
    x, y = np.meshgrid(np.linspace(0, 0.1, 6), np.linspace(0, 0.1, 9))
    held = np.zeros((2, 0), dtype=np.intp)
    cells = np.ones((1, 8, 5))
    reduced = reduce(x[None], y[None], cells, np.array([5.0]), held, inside=True)
    response = respond(reduced, np.array([10.0]))
    assert response.conductance[0] == pytest.approx(np.array([[0.25, -0.25], [-0.25, 0.25]]))
    down = response.temperatures(reduced, np.array([[1.0, 0.0]]))[0, :, 0]
    assert down == pytest.approx(np.linspace(0.75, 0.5, 9))


def test_below_takes_the_heat_that_does_not_go_up() -> None:
    found = values(SCREED)
    assert found.flow[WATER, WATER] == pytest.approx(
        found.coefficient + found.downward_coefficient, rel=1e-9
    )
    assert found.flow[BELOW, ROOM] < 0
