"""Measured against drawings by construction, whose figures follow from right angles by hand."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from checker.arrays import Array
from checker.geometry.measured import Measured
from checker.geometry.measuring import measure
from checker.geometry.plan import Path, Plan, rounded
from checker.geometry.sampling import TooDense
from tests.geometry.drawings import (
    BEND,
    PITCH,
    Drawn,
    House,
    box,
    house,
    plan_of,
    serpentine,
    spiral,
    width_of,
)

LENGTH = 1e-3
"""Share of a length; the rest in m or m²: what a drawing is worth being read to."""
SPACING, WALL_GAP, RADIUS, AREA, FEEDS = 0.002, 0.005, 0.002, 0.02, 0.2


@pytest.fixture(scope="module")
def seven_rooms() -> tuple[House, Measured]:
    drawn = house()
    return drawn, measure(drawn.plan)


def one(drawn: Drawn, room: Array, **others: dict[str, Array]) -> Measured:
    return measure(plan_of({"L1": drawn}, {"room": room}, **others))


def value(found: Measured, name: str, route: str = "L1") -> float:
    return float(found.of_route[name][found.routes.index(route)])


def holds(found: Measured, drawn: Drawn, route: str = "L1") -> None:
    assert value(found, "length", route) == pytest.approx(drawn.length, rel=LENGTH)
    assert value(found, "spacing", route) == pytest.approx(drawn.spacing, abs=SPACING)
    assert value(found, "wall_gap", route) == pytest.approx(drawn.wall_gap, abs=WALL_GAP)
    assert value(found, "bend", route) == pytest.approx(drawn.bend, abs=RADIUS)
    assert value(found, "area", route) == pytest.approx(drawn.area, rel=AREA)


def shifted(line: Array, x: float, y: float) -> Array:
    moved: Array = line + np.array([x, y])
    return moved


def spiral_room() -> tuple[Drawn, Array]:
    return spiral(6, 0.15, 0.1, 4.9), box(0, 0, width_of(6, 0.15, 0.1), 4.9)


def serpentine_room() -> tuple[Drawn, Array]:
    return serpentine(24, 0.2, 0.1, 4.2, bend=0.1), box(0, 0, 4.8, 4.2)


def test_a_spiral() -> None:
    drawn, room = spiral_room()
    found = one(drawn, room)
    holds(found, drawn)
    assert value(found, "unevenness") < 0.05
    assert value(found, "crossings") == 0
    assert found.of_room["bare_area"].tolist() == [0]
    assert value(found, "spacing_most") == pytest.approx(0.15, abs=SPACING)


def test_a_serpentine() -> None:
    drawn, room = serpentine_room()
    found = one(drawn, room)
    holds(found, drawn)
    assert value(found, "unevenness") > 0.7


def test_seven_rooms_with_a_hall(seven_rooms: tuple[House, Measured]) -> None:
    drawn, found = seven_rooms
    assert found.routes == [*drawn.routes]
    rooms = ["bed 1"] * 2 + ["bed 2"] * 2 + ["bath", "study"] + ["living"] * 3
    rooms += ["kitchen"] * 2 + ["dining"]
    for number, (name, known) in enumerate(drawn.routes.items()):
        holds(found, known, name)
        hall = next(feed for feed in found.feeds[name] if feed.room == "hall")
        assert hall.length == pytest.approx(known.feeds, abs=FEEDS)
        if known.feeds > 5:
            assert hall.spacing == pytest.approx(PITCH, abs=SPACING)
        assert found.rooms[int(value(found, "room", name))] == rooms[number]
        assert value(found, "rooms", name) == 1
        assert value(found, "port", name) == number + 1
        assert value(found, "end_gap", name) == pytest.approx(PITCH / 2, abs=1e-6)
        assert value(found, "unevenness", name) < 0.05


def test_nothing_is_found_that_is_not_there(seven_rooms: tuple[House, Measured]) -> None:
    _, found = seven_rooms
    for name in ("crossings", "drawn_over", "two_lines"):
        assert not found.of_route[name].any(), name
    bare = found.of_room["bare_area"]
    assert np.isnan(bare[0])  # the hall has no field of its own
    assert not bare[1:].any()


def turned(points: Array, angle: float, mirrored: bool, away: tuple[float, float]) -> Array:
    cos, sin = np.cos(angle), np.sin(angle)
    points = points * [-1, 1] if mirrored else points
    moved: Array = points @ np.array([[cos, sin], [-sin, cos]]) + away
    return moved


@pytest.mark.parametrize(
    ("angle", "mirrored", "away"),
    [
        (0.0, True, (0.0, 0.0)),
        (np.radians(17), False, (0.0, 0.0)),
        (np.radians(45), True, (7_600.0, -3_100.0)),
        (np.radians(90), False, (5e6, 5e6)),
    ],
)
def test_turned_moved_and_mirrored_it_is_the_same(
    seven_rooms: tuple[House, Measured],
    angle: float,
    mirrored: bool,
    away: tuple[float, float],
) -> None:
    drawn, plain = seven_rooms

    def moved(lines: dict[str, Array]) -> dict[str, Array]:
        return {name: turned(line, angle, mirrored, away) for name, line in lines.items()}

    plan = Plan(
        moved(drawn.plan.rooms),
        {
            name: Path(
                turned(path.points, angle, mirrored, away),
                -path.bulges if mirrored else path.bulges,
            )
            for name, path in drawn.plan.routes.items()
        },
        headers=moved(drawn.plan.headers),
    )
    found = measure(plan)
    for name in ("length", "spacing", "wall_gap", "bend", "port", "room", "crossings", "area"):
        assert np.allclose(
            found.of_route[name], plain.of_route[name], rtol=1e-4, atol=1e-4, equal_nan=True
        ), name
    for name, feeds in plain.feeds.items():
        for before, after in zip(feeds, found.feeds[name], strict=True):
            assert after.room == before.room
            assert after.length == pytest.approx(before.length, abs=0.01)


def test_a_tight_bend_is_found_where_one_route_has_it() -> None:
    drawn = house()
    line = drawn.routes["L6"].corners
    drawn.plan.routes["L6"] = rounded(line, 0.03)
    found = measure(drawn.plan)
    assert value(found, "bend", "L6") == pytest.approx(0.03, abs=RADIUS)
    assert value(found, "bend", "L5") == pytest.approx(BEND, abs=RADIUS)


def test_an_arc_drawn_in_chords_has_its_radius_and_a_sharp_corner_has_none() -> None:
    drawn, room = spiral_room()
    arcs = rounded(drawn.corners, BEND)
    angle = np.radians(90 / 4)
    chords: list[Array] = [arcs.points[0]]
    for start, end, bulge in zip(arcs.points[:-1], arcs.points[1:], arcs.bulges, strict=True):
        if bulge:
            # Four chords, each 22.5° on; the first 33.75° before the whole's.
            step = end - start
            chord = 2 * BEND * np.sin(angle / 2)
            first = np.arctan2(step[1], step[0]) - np.sign(bulge) * np.radians(45) * 3 / 4
            for number in range(3):
                way = first + np.sign(bulge) * angle * number
                chords.append(chords[-1] + chord * np.array([np.cos(way), np.sin(way)]))
        chords.append(end)
    plan = Plan({"room": room}, {"L1": Path(np.array(chords), np.zeros(len(chords) - 1))})
    found = measure(plan)
    assert value(found, "bend") == pytest.approx(BEND, abs=RADIUS)
    # Chords of 22.5° are 0.64 % short of their arcs, which are a twentieth of the whole.
    assert value(found, "length") == pytest.approx(arcs.length, rel=LENGTH)
    sharp = measure(Plan({"room": room}, {"L1": rounded(drawn.corners, 0)}))
    assert np.isnan(value(sharp, "bend"))


def test_a_pipe_drawn_over_itself_is_told_and_how_much_of_it() -> None:
    drawn, room = spiral_room()
    line = np.concatenate((drawn.corners, shifted(drawn.corners[-1:], 0, 2.5), drawn.corners[-1:]))
    found = measure(Plan({"room": room}, {"L1": rounded(line, BEND)}))
    assert value(found, "drawn_over") > 2
    twice = measure(
        Plan(
            {"room": room},
            {"L1": rounded(drawn.corners, BEND), "L2": rounded(drawn.corners[::-1], BEND)},
        )
    )
    assert value(twice, "drawn_over") == pytest.approx(drawn.length, rel=0.01)


def test_a_pipe_drawn_as_two_lines_is_seen() -> None:
    drawn, room = serpentine_room()
    outer, back = drawn.corners, shifted(drawn.corners[::-1], 0.016, 0.016)
    found = measure(Plan({"room": room}, {"L1": rounded(np.concatenate((outer, back)), 0.05)}))
    assert value(found, "two_lines") > 0.8


def test_a_stray_pipe_through_a_field_crosses_it_and_says_where() -> None:
    drawn = house()
    stray = np.array([(1.0, 1.95), (1.0, 6.0)])
    drawn.plan.routes["stray"] = rounded(stray, BEND)
    found = measure(drawn.plan)
    # L1's runs that lie across x = 1 m: those of its rings below and above the middle.
    first = drawn.routes["L1"].corners
    hits = {
        round(float(start[1]), 6)
        for start, end in pairwise(first)
        if abs(start[1] - end[1]) < 1e-9
        and min(start[0], end[0]) < 1.0 < max(start[0], end[0])
        and 1.95 < start[1] < 6.0
    }
    assert value(found, "crossings", "stray") == len(hits)
    assert value(found, "crossings", "L1") == len(hits)
    spots = found.spots["crossings", "stray"]
    assert {round(spot.y, 6) for spot in spots} == hits
    assert {spot.room for spot in spots} == {"bed 1"}


def test_a_joint_through_a_field_and_one_in_a_doorway_are_told_apart() -> None:
    drawn = house()
    plan = drawn.plan
    plan.joints["across"] = np.array([(0.0, 4.0), (2.8, 4.0)])
    plan.joints["door"] = np.array([(5.0, 1.75), (8.4, 1.75)])
    found = measure(plan)
    assert value(found, "joint_crossings", "L1") > 2
    assert value(found, "feed_crossings", "L1") == 0
    # Of bed 2 only L3 passes through this part of the wall: flow and return.
    crossing = [name for name in found.routes if value(found, "feed_crossings", name) > 0]
    assert crossing == ["L3"]
    assert value(found, "feed_crossings", "L3") == 2
    assert value(found, "joint_crossings", "L3") == 0


def test_pipe_under_a_bath_is_measured() -> None:
    drawn, room = spiral_room()
    found = one(drawn, room, fixed={"bath": box(0, 2, 0.6, 1.7)})
    # Runs at x = 0.1, 0.25, 0.4 and 0.55 m lie under it, each 1.7 m.
    assert value(found, "under_fixed") == pytest.approx(4 * 1.7, abs=0.4)
    assert one(drawn, room, fixed={"cupboard": box(50, 50, 1, 1)}).of_route["under_fixed"] == 0


def test_a_bare_stripe_is_found_and_units_are_not_bare() -> None:
    drawn, _ = spiral_room()
    width = width_of(6, 0.15, 0.1)
    found = one(drawn, box(0, 0, width + 0.9, 4.9))
    # From 150 mm beside the outermost pipe to 150 mm from the wall, 0.7 by 4.6 m.
    assert float(found.of_room["bare_area"][0]) == pytest.approx(0.7 * 4.6, rel=0.15)
    assert found.bare["room"]
    (spot,) = found.spots["bare_area", "room"]
    assert spot.x == pytest.approx(width + 0.4, abs=0.15)
    units = one(drawn, box(0, 0, width + 0.9, 4.9), fixed={"units": box(width, 0, 0.9, 4.9)})
    assert units.of_room["bare_area"].tolist() == [0]


def test_a_shaft_is_kept_clear_of_by_the_distance_measured() -> None:
    drawn, room = spiral_room()
    found = one(drawn, room, keep_clear={"shaft": box(-0.5, 2, 0.47, 1)})
    assert value(found, "clearance") == pytest.approx(0.13, abs=WALL_GAP)


def test_where_the_hot_water_goes_first() -> None:
    drawn, room = serpentine_room()
    left = {"left": np.array([(0.0, 0.0), (0.0, 4.2)])}
    assert value(one(drawn, room, outer_walls=left), "hot_at_wall") < 0.05
    right = {"right": np.array([(4.8, 0.0), (4.8, 4.2)])}
    found = one(drawn, room, outer_walls=right)
    assert value(found, "hot_at_wall") > 0.95
    # 4.6 m of runs, 0.1 m of gap and half a spacing.
    assert value(found, "from_outer_wall") == pytest.approx(4.8, abs=0.01)


def test_fields_of_screed_are_cut_by_joints() -> None:
    drawn, room = serpentine_room()
    whole = one(drawn, room)
    assert whole.of_room["field_area"].tolist() == [pytest.approx(4.8 * 4.2)]
    assert whole.of_room["field_length"].tolist() == [pytest.approx(4.8)]
    # The joint is drawn a little over both walls, as hands do.
    cut = one(drawn, room, joints={"J": np.array([(2.0, -0.05), (2.0, 4.3)])})
    assert cut.of_room["field_area"].tolist() == [pytest.approx(2.8 * 4.2)]
    assert cut.of_room["field_length"].tolist() == [pytest.approx(4.2)]
    assert cut.of_room["field_aspect"].tolist() == [pytest.approx(2.1)]


def test_a_loop_that_heats_two_rooms_has_two_fields() -> None:
    first = serpentine(10, 0.2, 0.1, 4.0)
    second = shifted(first.corners, 2.5, 0)
    # From the end of the first, under the wall between, into the second.
    line = np.concatenate((first.corners[:-1], [(1.9, 0.1)], second))
    rooms = {"a": box(0, 0, 2.2, 4.0), "b": box(2.3, 0, 2.2, 4.0)}
    found = measure(Plan(rooms, {"L1": rounded(line, 0.05)}))
    assert value(found, "rooms") == 2
    (a, b) = found.fields["L1"]
    assert (a[0], b[0]) == ("a", "b")
    assert a[1] + b[1] == pytest.approx(value(found, "length"), abs=0.5)


def test_jitter_of_a_hand_leaves_the_spacing() -> None:
    drawn, room = spiral_room()
    chance = np.random.default_rng(1)
    rough = drawn.corners + chance.uniform(-0.02, 0.02, drawn.corners.shape)
    found = measure(Plan({"room": room}, {"L1": rounded(rough, BEND)}))
    assert value(found, "spacing") == pytest.approx(0.15, abs=0.01)
    assert value(found, "area") == pytest.approx(drawn.area, rel=0.05)


def test_an_empty_plan_and_one_without_rooms_measure_what_there_is() -> None:
    assert measure(Plan()).of_route["length"].size == 0
    drawn, _ = spiral_room()
    found = measure(plan_of({"L1": drawn}, {}))
    assert value(found, "length") == pytest.approx(drawn.length)
    assert np.isnan(value(found, "room"))
    assert np.isnan(value(found, "spacing"))


def test_what_is_no_layout_is_refused_before_it_takes_for_ever() -> None:
    lines = np.array([(x, y) for x in np.linspace(0, 1, 400) for y in (0, 1)])
    with pytest.raises(TooDense, match="in one square metre; look at the unit"):
        measure(Plan({}, {"L1": rounded(lines, 0)}))
    # The same lines ten times as large are a floor at a spacing of 25 mm.
    assert measure(Plan({}, {"L1": rounded(lines * 10, 0)})).routes == ["L1"]


def test_a_route_whose_flow_is_not_known_says_nothing_of_where_it_goes_first() -> None:
    drawn, room = serpentine_room()
    plan = plan_of(
        {"L1": drawn},
        {"room": room},
        outer_walls={"left": np.array([(0.0, 0.0), (0.0, 4.2)])},
        undirected=frozenset(["L1"]),
    )
    assert np.isnan(value(measure(plan), "hot_at_wall"))
