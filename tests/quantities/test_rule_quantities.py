"""The quantities that only rules ask for: worked by hand, and through a design's tables."""

from __future__ import annotations

import numpy as np
import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.graph import Graph
from checker.design.schema import design_format
from checker.design.tables import Tables
from checker.quantities import (
    design,
    floor,
    header,
    loop,
    part,
    part_floor,
    part_surface,
    room_plausible,
    test_conditions,
)
from tests.example import DESIGN, changed

NAN = float("nan")
DAY = 86_400.0


def graph(*texts: str) -> Graph:
    tables = Tables()
    for number, text in enumerate(texts):
        tables.add(f"{number}.yaml", text.encode())
    return Graph(tables)


def values(subject: str, name: str, *texts: str) -> list[float]:
    found: list[float] = graph(*(texts or (DESIGN,))).column(subject, name).values.tolist()
    return found


def reason(subject: str, name: str, text: str, row: int = 0) -> tuple[str, str]:
    made = graph(text)
    column = made.column(subject, name)
    assert np.isnan(column.values[row])
    assert column.reasons is not None
    return made.reason(int(column.reasons[row]))


def members(numbers: list[float], group: list[int], size: int = 1) -> Grouped:
    return Grouped(np.array(numbers), np.array(group, dtype=np.intp), size)


# ---- design


def kept(steps: list[tuple[float, float]], top: float = 45.0) -> float:
    """The share kept of the two holds, for steps of (°C, days)."""
    group = [0] * len(steps)
    found: Array = design.heat_up_kept(
        members([supply for supply, _ in steps], group),
        members([days * DAY for _, days in steps], group),
        np.array([top]),
    )
    return float(found[0])


@pytest.mark.parametrize(
    ("steps", "share"),
    [
        # EN 1264-4 as reported: 20 to 25 °C for 3 days, then the highest supply for 4 days.
        ([(25, 3), (45, 4)], 1.0),
        ([(20, 3), (45, 4)], 1.0),
        ([(20, 1), (25, 2), (35, 1), (45, 4)], 1.0),
        ([(25, 2), (45, 4)], 2 / 3),
        ([(25, 3), (45, 1)], 1 / 4),
        ([(25, 6), (45, 8)], 2.0),
        ([(25, 3), (44, 4)], 0.0),
        ([(25, 3), (48, 2), (45, 2)], 1.0),
        ([(30, 3), (45, 4)], 0.0),
        ([(19.9, 3), (45, 4)], 0.0),
        ([(45, 4), (25, 3)], 0.0),  # cooled down afterwards: nothing mild came before
        ([(25.1, 3), (45, 4)], 0.0),
    ],
)
def test_heat_up_kept(steps: list[tuple[float, float]], share: float) -> None:
    assert kept(steps) == pytest.approx(share, rel=1e-12)


@pytest.mark.parametrize("steps", [[(NAN, 3), (45, 4)], [(25, NAN), (45, 4)], [(25, 3), (45, NAN)]])
def test_heat_up_kept_is_missing_where_a_step_is_not_whole(
    steps: list[tuple[float, float]],
) -> None:
    assert np.isnan(kept(steps))


def mixed(primary: float, *loops: float) -> tuple[float, float]:
    """Whether water at 40 °C, and that of these loops, is mixed down; and the warmest of it."""
    supplies, plant, before = members(list(loops), [0] * len(loops)), np.array([40.0]), np.array([primary])  # fmt: skip
    coolest = design.coolest_supply(supplies, plant)
    warmest = design.warmest_supply(supplies, plant, before)
    return float(design.mixes(before, coolest, supplies)[0]), float(warmest[0])


def test_a_loop_of_unknown_water_hides_no_mixing() -> None:
    assert mixed(40.0, 40.0, 45.0) == (0.0, 45.0)
    assert mixed(41.0, 40.0, NAN)[0] == 1.0  # hotter than one loop may get, whatever the other does
    assert np.isnan(mixed(40.0, 40.0, NAN)[0])
    assert mixed(42.0, 45.0, NAN)[1] == 45.0  # too cool for one loop already
    assert np.isnan(mixed(60.0, 45.0, NAN)[1])
    assert mixed(60.0) == (1.0, 40.0)


def test_one_part_of_unknown_surface_does_not_cool_a_hot_bathroom() -> None:
    surfaces, use = members([31.0, NAN, 28.0, NAN], [0, 0, 1, 1], 2), np.array([part_surface.BATHROOM] * 2)  # fmt: skip
    assert room_plausible.hot_bathroom(use, surfaces).tolist() == [1.0, 0.0]


def test_screed_is_as_thick_as_all_of_it() -> None:
    own, more = "cover: 45 mm,", "cover: 45 mm, below_pipe: 12 mm,"
    assert values("floor", "screed_thickness", DESIGN) == pytest.approx([0.061])
    assert values("floor", "screed_thickness", changed((own, more))) == pytest.approx([0.073])


def test_heat_up_kept_keeps_designs_apart() -> None:
    short = changed(("{supply: 42 °C, hold: 4 day}", "{supply: 42 °C, hold: 1 day}"))
    assert values("design", "heat_up_kept", DESIGN, short, DESIGN) == pytest.approx([1, 0.25, 1])


def test_heat_up_kept_says_what_is_missing() -> None:
    head = DESIGN.partition("heat_up:")[0]
    assert reason("design", "heat_up_kept", head) == ("heat_up.steps is not given", "design")


def test_the_hottest_supply_and_step() -> None:
    warmer = changed(("joints: 0}\n  L2", "joints: 0, supply: 44 °C}\n  L2"))
    assert values("design", "hottest_supply", DESIGN, warmer) == [42.0, 44.0]
    assert values("design", "heat_up_top") == [42.0]
    assert values("floor", "design.heat_up_top") == [42.0]


def test_mixes() -> None:
    same = changed(("primary_supply: 55 °C", "primary_supply: 42 °C"))
    without = changed(("  primary_supply: 55 °C\n", ""))
    found = values("design", "mixes", DESIGN, same, without)
    assert found[:2] == [1.0, 0.0]
    assert np.isnan(found[2])


# ---- floor


def test_screed_age() -> None:
    # Laid on 5 April, heated from 28 April.
    assert values("floor", "screed_age") == [23 * DAY]
    without = changed((", laid_on: 2026-04-05", ""))
    assert reason("floor", "screed_age", without) == ("screed.laid_on is not given", "floors.slab")


def test_field_aspect() -> None:
    with np.errstate(divide="ignore"):
        found = floor.field_aspect(np.array([6.0, 8.0, 6.0]), np.array([30.0, 32.0, 0.0]))
    assert found[:2].tolist() == pytest.approx([6 / 5, 8 / 4])
    assert np.isnan(found[2])


# ---- room


def test_loop_count_of_a_room() -> None:
    empty = changed(("  bath: {", "  spare: {use: store, temperature: 18 °C}\n  bath: {"))
    assert values("room", "loop_count", empty) == [1.0, 0.0, 1.0]


# ---- header


def test_longest_loop_and_its_share() -> None:
    assert values("header", "longest_loop") == [88.0]
    assert values("loop", "length_share") == pytest.approx([1.0, 80 / 88])


def test_unpumped_length() -> None:
    pump = "    pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}\n"
    assert values("header", "unpumped_length", DESIGN, changed((pump, ""))) == [0.0, 168.0]


def test_supply_spread() -> None:
    found = header.supply_spread(members([42.0, 35.0, 40.0], [0, 0, 1], 2))
    assert found.tolist() == [7.0, 0.0]


def test_test_count() -> None:
    second = changed(("headers:\n", "headers:\n  H0: {ports: 2}\n"))
    assert values("header", "test_count", second) == [0.0, 1.0]
    first, _, rest = DESIGN.partition("pressure_tests:")
    without = first + rest[rest.index("heat_up:") :]
    assert reason("header", "test_count", without)[0] == "no pressure test is given"
    # Another design's tests count for nothing.
    found = values("header", "test_count", DESIGN, without)
    assert found[0] == 1.0
    assert np.isnan(found[1])


# ---- loop


def test_turn_ratio() -> None:
    # Serpentine at 150 mm: half the spacing over 16 mm; counterflow: the whole.
    found = part.spacing_turn_ratio(
        np.array([0.15, 0.15, 0.15]), np.array([part.SERPENTINE, 0.0, NAN]), np.full(3, 0.016)
    )
    assert found[:2].tolist() == pytest.approx([75 / 16, 150 / 16])
    assert np.isnan(found[2])


def test_port_sharers() -> None:
    headers = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 2.0])
    ports = np.array([1.0, 2.0, 1.0, 1.0, NAN, 1.0])
    found = loop.port_sharers(headers, ports, np.array([0, 0, 0, 0, 0, 1]))
    # A clash that is seen stands; a loop alone on its port is not known to be, beside one that
    # names no port.
    np.testing.assert_array_equal(found, [2.0, 1.0, 2.0, NAN, NAN, 1.0])
    assert loop.port_sharers(np.zeros(0), np.zeros(0), np.zeros(0, dtype=int)).shape == (0,)


def test_a_loop_of_no_known_header_may_be_on_any_port_of_its_design() -> None:
    headers, ports = np.array([0.0, 0.0, 0.0, NAN, 1.0]), np.array([1.0, 1.0, 2.0, 2.0, 2.0])
    found = loop.port_sharers(headers, ports, np.array([0, 0, 0, 0, 1]))
    np.testing.assert_array_equal(found, [2.0, 2.0, NAN, NAN, 1.0])


def test_the_same_port_of_two_designs_is_no_clash() -> None:
    assert values("loop", "port_sharers", DESIGN, DESIGN) == [1.0, 1.0, 1.0, 1.0]
    both = changed(("port: 2", "port: 1"))
    assert values("loop", "port_sharers", both, DESIGN) == [2.0, 2.0, 1.0, 1.0]


def test_design_drop_is_the_plants_where_the_flow_follows_from_it() -> None:
    assert values("loop", "design_drop") == [7.0, 7.0]


def test_design_drop_at_a_stated_flow_carries_the_same_heat() -> None:
    asked = graph(DESIGN)
    flow = asked.column("loop", "flow").values[0] * 60e3  # l/min
    same = changed(("joints: 0}\n  L2", f"joints: 0, flow: {flow} l/min}}\n  L2"))
    half = changed(("joints: 0}\n  L2", f"joints: 0, flow: {flow / 2} l/min}}\n  L2"))
    found = values("loop", "design_drop", same, half)
    assert found[0] == pytest.approx(7.0, rel=1e-6)
    # Half the flow, twice the drop; the density at the cooler mean differs by some 0.1 %.
    assert found[2] == pytest.approx(14.0, rel=2e-3)
    assert found[1] == found[3] == 7.0


def test_design_drop_without_a_load_is_what_the_floor_does() -> None:
    text = changed(
        ("joints: 0}\n  L2", "joints: 0, flow: 1.5 l/min}\n  L2"), (" heat_load: 700 W,", "")
    )
    made = graph(text)
    drop = made.column("loop", "design_drop").values[0]
    assert drop == made.column("loop", "drop").values[0]
    assert 0 < drop < 42 - 20


def test_flow_deviation() -> None:
    with np.errstate(divide="ignore"):
        found = loop.flow_deviation(np.array([1.1, 0.8, 1.0, NAN]), np.array([1.0, 1.0, 0.0, 1.0]))
    assert found[:2].tolist() == pytest.approx([0.1, 0.2])
    assert np.isnan(found[2:]).all()
    assert reason("loop", "flow_deviation", DESIGN, 1)[1] == "loops.L2"


def test_covering_temperature_on_wood_and_under_what_is_glued() -> None:
    """Under 0.1 m²·K/W by EN 1264-2's basic curve: 8.92 · 7^1.1 = 75.85 W/m² at a spot 7 K above
    the room."""
    found = part_surface.covering_temperature(
        np.full(4, 27.0),
        np.full(4, 20.0),
        np.full(4, 0.1),
        np.array(
            [
                part_surface.TIMBER,
                part_surface.LAMINATE,
                design_format().code("rooms", "covering.material", "resilient"),
                NAN,
            ]
        ),
    )
    assert found[:3].tolist() == pytest.approx([27.0, 27.0, 34.585], abs=1e-3)
    assert np.isnan(found[3])


def test_under_a_covering_the_warmest_spot_counts_and_not_the_mean() -> None:
    """A serpentine's inlet run gives more than the loop does on average."""
    text = changed(("pattern: counterflow, zone: occupied, spacing: 150", "pattern: serpentine, zone: occupied, spacing: 150"), ("material: tile, resistance: 0.02 m²·K/W}}\n  bath", "material: resilient, resistance: 0.02 m²·K/W}}\n  bath"))  # fmt: skip
    made = graph(text)
    surface, under, mean = (
        made.column("part", name).values[0]
        for name in ("surface_max", "covering_temperature", "largest_output")
    )
    assert (under - surface) / 0.02 > 1.1 * mean
    assert (under - surface) / 0.02 == pytest.approx(8.92 * (surface - 20) ** 1.1)


def test_no_report_makes_a_floor_better_than_what_lies_over_it() -> None:
    """Under 0.12 m²·K/W: 1 / (1 / (8.92 · 15^0.1) + 0.12) = 4.870 W/(m²·K), by EN 1264-2's curve."""

    def judged(coefficient: float, covering: float) -> float:
        found = part_floor.heat_coefficient(
            np.array([part_floor.TESTED]),
            np.array([coefficient]),
            np.array([NAN]),
            np.array([NAN]),
            np.array([0.0]),
            np.array([covering]),
        )
        return float(found[0])

    assert judged(4.86, 0.12) == 4.86
    assert np.isnan(judged(4.88, 0.12))
    assert judged(9.0, NAN) == 9.0  # its covering is asked for elsewhere
    assert judged(11.6, 0.0) == 11.6


# ---- test


def test_frost_that_one_reading_shows_is_known() -> None:
    """What was not read is no frost by itself, nor does it hide one."""

    def lowest(*temperatures: float) -> float:
        read = members(list(temperatures), [0] * len(temperatures))
        return float(test_conditions.lowest_temperature(read)[0])

    assert lowest(-6.0, NAN) == -6.0
    assert lowest(NAN, 0.0) == 0.0
    assert lowest(4.0, 17.0) == 4.0
    assert np.isnan(lowest(4.0, NAN))
    assert np.isnan(lowest())


def test_multiples_of_the_operating_pressure() -> None:
    assert values("test", "doubled_operating_pressure") == pytest.approx([3e5])
    assert values("test", "raised_operating_pressure") == pytest.approx([2.25e5])
    assert values("test", "least_first_pressure") == pytest.approx([3.8e5])


def test_read_until() -> None:
    assert values("test", "read_until") == [1200.0]


def test_days_before_screed() -> None:
    # Tested on 2 April, laid on 5 April.
    assert values("test", "days_before_screed") == [3 * DAY]
    later = changed(("tested_on: 2026-04-02", "tested_on: 2026-04-06"))
    assert values("test", "days_before_screed", later, DESIGN) == [-DAY, 3 * DAY]


@pytest.mark.parametrize(
    ("laid", "days"),
    [
        ([10.0, 12.0], 2.0),
        ([12.0, 8.0], 0.0),
        ([7.0, NAN], -1.0),
        ([10.0, NAN], NAN),
        ([NAN, NAN], NAN),
    ],
)
def test_days_before_the_earliest_of_several_screeds(laid: list[float], days: float) -> None:
    first = members([day * DAY for day in laid], [0, 0])
    found = test_conditions.days_before_screed(np.array([8.0]), first, members([0.0, 0.0], [0, 0]))
    assert found == pytest.approx(np.array([days * DAY]), nan_ok=True)


def test_days_before_screed_says_which_floor_lacks_its_day() -> None:
    without = changed((", laid_on: 2026-04-05", ""))
    assert reason("test", "days_before_screed", without) == (
        "screed.laid_on is not given",
        "floors.slab",
    )


def test_under_asphalt() -> None:
    asphalt = changed(("material: cement", "material: mastic asphalt"))
    assert values("test", "under_asphalt", DESIGN, asphalt) == [0.0, 1.0]
    without = changed(("material: cement, ", ""))
    assert np.isnan(values("test", "under_asphalt", without)).all()
