"""The plan in a design: read with places, measured, held against what is stated."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from checker.design.tables import BadDesign, Tables
from checker.geometry.plan import rounded
from checker.outcome.report import DesignReport
from checker.outcome.results import Measure, Result
from tests.example import DESIGN, computed, report, result
from tests.geometry.drawings import (
    BEND,
    House,
    as_text,
    box,
    design,
    house,
    serpentine,
)
from tests.geometry.example_house import FOLDER, NAME

PLAN_RULES = ("drawing-", "loop-crossing", "joint-crossing", "under-fixed", "spacing-even",
              "bare-floor", "cold-wall", "perimeter-width", "loop-ends", "shaft-gap", "route-")  # fmt: skip


def mistakes(text: str) -> list[str]:
    with pytest.raises(BadDesign) as refused:
        Tables().add("plan.yaml", f"design: 1\n{text}".encode())
    return [f"{p.line}:{p.column} {p.message}" for p in refused.value.problems]


def of_plan(found: DesignReport) -> list[Result]:
    return [one for one in found.results if one.rule.startswith(PLAN_RULES)]


def value(found: DesignReport, rule: str, subject: str) -> float:
    judged = result(found, rule, subject).value
    assert isinstance(judged, Measure)
    assert judged.magnitude is not None
    return judged.magnitude


def failed(found: DesignReport) -> list[tuple[str, str]]:
    return [(one.rule, one.subject) for one in of_plan(found) if one.kind == "fail"]


@pytest.fixture(scope="module")
def sound() -> DesignReport:
    return report(design(house()))


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        ("plan:\n  unit: mm\n  routes:\n    L1: 0 0, 42OO 0\n", "5:14 plan.routes.L1: '42OO'"),
        ("plan:\n  unit: mm\n  routes:\n    L1: '0 0, 42OO 0'\n", "5:15 plan.routes.L1: '42OO'"),
        (
            "plan:\n  unit: mm\n  routes:\n    L1: >\n      0 0, 1 1,\n      3 4, 5\n",
            "7:12 plan.routes.L1: a point has two numbers, x and y; this one has one",
        ),
        (
            "plan:\n  unit: mm\n  routes:\n    L1: 0 0,\n      1000 0, 4 4mm\n",
            "6:17 plan.routes.L1: '4mm' is not a number",
        ),
        ("plan:\n  unit: mm\n  routes:\n    L1: 1 1, 1 1\n", "5:9 plan.routes.L1: all its points"),
        ("plan:\n  unit: mm\n  routes: L1\n", "4:11 plan.routes: names with their values"),
        ("plan: L1\n", "2:7 plan: keys with their values are expected here, such as unit: mm"),
        ("plan:\n  routes:\n    L1: 0 0, 1 1\n", "3:3 plan: 'unit' is missing here; write one of mm"),
        ("plan: {unit: metre}\n", "2:14 plan.unit: 'metre' is not allowed here; write one of 'mm'"),
        ("plan: {unit: mm, rotes: {}}\n", "2:18 plan: the key 'rotes' is not known here; did you"),
        ("plan: {unit: mm, bend: 75}\n", "2:24 plan.bend: 75 has no unit; write '75 mm'"),
        (
            "plan:\n  unit: mm\n  routes: {L1: '0 0, 1 1'}\n  bends: {L2: 30 mm}\n",
            "5:11 plan.bends.L2: there is no route 'L2'; write one of 'L1'",
        ),
        (
            "plan:\n  unit: mm\n  rooms:\n    a: 0 0, 100 100, 100 0, 0 100\n",
            "5:8 plan.rooms.a: the outline crosses or touches itself",
        ),
        (
            "plan:\n  unit: mm\n  rooms:\n    a: 0 0, 100 0, 200 0\n",
            "5:8 plan.rooms.a: the outline encloses nothing",
        ),
        (
            "plan:\n  unit: m\n  routes:\n    L1: 0 0, 60000 0\n",
            "4:3 plan.routes: 60 km of pipe are more than is taken; look at the unit",
        ),
        ("loops: {L1: {length: drawn}}\n", "2:22 loops.L1.length: 'drawn' needs a plan"),
        (
            "loops: {L1: {length: drawn}}\nplan:\n  unit: mm\n  routes:\n    L2: 0 0, 1 1\n",
            "2:22 loops.L1.length: 'drawn' needs a route of this name under plan.routes",
        ),
        ("loops: {L1: {feeds: drawn}}\n", "2:21 loops.L1.feeds: 'drawn' does not begin"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_with_its_place(plan: str, said: str) -> None:
    (first,) = [one for one in mistakes(plan) if one.startswith(said)]
    assert first


def test_commas_between_braces_are_told_apart_from_a_mistake() -> None:
    said = mistakes("plan:\n  unit: mm\n  rooms: {a: 0 0, 100 0, 100 100}\n")
    assert any("between braces a comma ends a line" in one for one in said)


def test_a_plan_that_is_wrong_leaves_no_trace() -> None:
    tables = Tables()
    with pytest.raises(BadDesign):
        tables.add("a.yaml", b"design: 1\nloops: {L1: {}}\nplan: {unit: mm, routes: {L1: x}}\n")
    assert (tables.drawings, len(tables["loops"])) == ({}, 0)


def test_all_that_a_sound_plan_shows_agrees(sound: DesignReport) -> None:
    assert failed(sound) == []
    kinds = {one.kind for one in of_plan(sound)}
    assert kinds <= {"pass", "notApplicable"}
    assert len([one for one in of_plan(sound) if one.rule == "drawing-agrees-length"]) == 12
    assert computed(sound, "loops.L1", "drawn_spacing") == pytest.approx(150, abs=0.5)
    assert computed(sound, "loops.L1", "drawn_bend") == pytest.approx(75, abs=0.5)
    assert computed(sound, "loops.L1", "drawn_wall_gap") == pytest.approx(75, abs=0.5)


@pytest.mark.parametrize("unit", ["m", "in"])
def test_in_another_unit_it_is_the_same(sound: DesignReport, unit: str) -> None:
    other = report(design(house(), as_text(house(), unit)))
    assert failed(other) == []
    for number in range(1, 13):
        for name in ("drawn_length", "drawn_area", "drawn_spacing", "drawn_bend"):
            subject = f"loops.L{number}"
            assert computed(other, subject, name) == pytest.approx(
                computed(sound, subject, name), rel=1e-6
            )


def test_each_slip_against_the_plan_is_found_and_nothing_else() -> None:
    changes = {
        "L1": "room: living",
        "L3": "length: 80 m",
        "L5": "area: 12 m²",
        "L7": "spacing: 200 mm",
        "L8": "port: 9",
        "L9": "pattern: serpentine",
    }
    text = design(house(), **changes).replace("  L12: {", "  L13: {")
    found = report(text)
    assert sorted(failed(found)) == [
        ("drawing-agrees-area", "loops.L5"),
        ("drawing-agrees-length", "loops.L3"),
        ("drawing-agrees-pattern", "loops.L9"),
        ("drawing-agrees-port", "loops.L8"),
        ("drawing-agrees-room", "loops.L1"),
        ("drawing-agrees-spacing", "loops.L7"),
        ("drawing-complete", "design"),
    ]
    # 95.441 m are drawn, by hand.
    assert "16.2 %" in result(found, "drawing-agrees-length", "loops.L3").message
    assert "in bed 1, the design" in result(found, "drawing-agrees-room", "loops.L1").message
    assert "port 8 of H1" in result(found, "drawing-agrees-port", "loops.L8").message
    assert "a counterflow" in result(found, "drawing-agrees-pattern", "loops.L9").message
    said = result(found, "drawing-complete", "design").message
    assert "loop L13 has no route; route L12 is not a loop" in said


def planted() -> House:
    drawn = house()
    drawn.plan.joints["across"] = np.array([(0.0, 4.0), (2.8, 4.0)])
    drawn.plan.fixed["bath"] = box(9, 2, 0.6, 1.7)
    drawn.plan.keep_clear["flue"] = box(0.2, -4.7, 0.3, 0.3)
    return drawn


def test_what_only_geometry_shows_is_found_with_its_place() -> None:
    found = report(design(planted()))
    assert sorted(failed(found)) == [
        ("joint-crossing", "loops.L1"),
        ("shaft-gap", "loops.L7"),
        ("under-fixed-unit", "loops.L4"),
    ]
    said = result(found, "under-fixed-unit", "loops.L4").message
    assert said.startswith("Pipe under units, baths or the like: 6.")
    assert " m (at 9" in said
    assert said.endswith("in bed 2).")
    assert "in bed 1" in result(found, "joint-crossing", "loops.L1").message
    assert "lies 0 mm (at " in result(found, "shaft-gap", "loops.L7").message


def test_a_stray_pipe_crosses_and_says_where() -> None:
    drawn = house()
    text = as_text(drawn).replace("  routes:\n", "  routes:\n    L99: 1000 1950, 1000 6000\n")
    found = report(design(drawn, text))
    assert failed(found) == [("drawing-complete", "design"), ("loop-crossing", "loops.L1")]
    assert "6 (at 1000 2025 in bed 1, " in result(found, "loop-crossing", "loops.L1").message


def test_drawn_stands_for_what_the_plan_shows() -> None:
    found = report(design(house(), L3="length: drawn, area: drawn, spacing: drawn"))
    assert failed(found) == []
    # By hand, 95.441 m and 11.61 m² (2 %).
    assert result(found, "drawing-agrees-length", "loops.L3").kind == "pass"
    assert value(found, "loop-length", "loops.L3") == pytest.approx(95.441, abs=0.1)


def test_a_wall_gap_that_is_not_stated_is_the_plans() -> None:
    found = report(design(house(), L1="wall_gap: 40 mm"))
    assert result(found, "wall-gap", "loops.L1").kind == "fail"
    assert result(found, "wall-gap", "loops.L2").kind == "pass"
    assert value(found, "wall-gap", "loops.L2") == pytest.approx(75, abs=0.5)


def test_the_bend_is_the_plans_and_one_route_may_have_its_own() -> None:
    text = as_text(house()) + "  bends: {L6: 30 mm}\n"
    found = report(design(house(), text))
    assert computed(found, "loops.L6", "drawn_bend") == pytest.approx(30, abs=0.5)
    assert value(found, "loop-bend", "loops.L6") == pytest.approx(30 / 16, abs=0.05)


def test_a_joint_that_is_crossed_is_the_plans() -> None:
    drawn = house()
    drawn.plan.joints["door"] = np.array([(4.25, 0.0), (4.25, -4.8)])
    for sleeved, kind in (("true", "pass"), ("false", "fail")):
        text = design(drawn, **dict.fromkeys(drawn.plan.routes, f"sleeved: {sleeved}"))
        found = report(text.replace("stage: design", "stage: laid"))
        kinds = {one.subject: one.kind for one in found.results if one.rule == "joint-sleeve"}
        crossed = [
            one.subject
            for one in found.results
            if one.rule == "joint-crossing" and one.kind == "fail"
        ]
        assert crossed
        assert {kinds[name] for name in crossed} == {kind}
        assert "notApplicable" in kinds.values()
        # Without joints in the plan nothing tells it.
        untold = report(design(house(), L1=f"sleeved: {sleeved}"))
        assert result(untold, "joint-sleeve", "loops.L1").kind != "fail"


def test_fields_of_screed_are_the_plans_where_none_is_stated() -> None:
    drawn = house()
    found = report(design(drawn))
    # Living, 8.1 m by 4.6 m, is the largest of the rooms with loops.
    assert value(found, "screed-field", "floors.slab") == pytest.approx(37.26, abs=0.01)
    assert result(found, "screed-field-length", "floors.slab").kind == "fail"
    drawn.plan.joints["door"] = np.array([(4.25, 0.0), (4.25, -4.8)])
    cut = report(design(drawn))
    assert result(cut, "screed-field-length", "floors.slab").kind == "pass"


def test_a_schematic_is_told_once_and_nothing_is_taken_from_it() -> None:
    drawn = house()
    wrong = as_text(drawn).replace("unit: mm", "unit: cm")
    found = report(design(drawn, wrong))
    assert [(one.rule, one.kind) for one in of_plan(found)] == [
        ("drawing-complete", "pass"),
        ("drawing-read", "pass"),
        ("drawing-to-scale", "fail"),
    ]
    said = result(found, "drawing-to-scale", "design").message
    assert "most is drawn 10 times as long as stated" in said
    assert result(found, "wall-gap", "loops.L1").kind == "open"
    with pytest.raises(BadDesign, match="'drawn' cannot be taken from a plan that is not to scale"):
        Tables().add("a.yaml", design(drawn, wrong, L1="length: drawn").encode())


def test_a_schematic_of_pipes_in_rooms_to_scale_is_told_once() -> None:
    drawn = house()
    for name, one in drawn.routes.items():
        drawn.routes[name] = replace(one, corners=one.corners * [0.3, 0.35])
    found = report(design(house(), as_text(drawn)))
    told = [(one.rule, one.kind) for one in of_plan(found) if one.kind != "pass"]
    assert told == [("drawing-to-scale", "fail")]
    said = result(found, "drawing-to-scale", "design").message
    assert "most is drawn 3.2 times as short as stated" in said


def test_rooms_whose_areas_are_all_wrong_make_no_schematic_of_sound_pipes() -> None:
    drawn = house()
    text = re.sub(r"area: (\d+\.\d{3}) m²", lambda area: f"area: {2 * float(area[1]):.3f} m²",
                  design(drawn))  # fmt: skip
    assert result(report(text), "drawing-to-scale", "design").kind == "pass"


def test_a_pipe_of_two_lines_is_said_once() -> None:
    drawn = house()
    one = serpentine(14, 0.2, 0.1, 4.0)
    edges = np.concatenate((one.corners, one.corners[::-1] + np.array([0.016, 0.016])))
    drawn.routes["L1"].corners = edges + np.array([0.2, 1.8])
    drawn.plan.routes["L1"] = rounded(drawn.routes["L1"].corners, BEND)
    found = report(design(drawn))
    assert ("route-two-lines", "loops.L1") in failed(found)
    assert not [rule for rule, subject in failed(found) if rule.startswith("drawing-agrees")]


def test_without_a_plan_no_rule_and_no_value_speaks_of_one() -> None:
    found = report(DESIGN)
    assert of_plan(found) == []
    for values in found.computed.values():
        assert not [name for name in values if name.startswith(("drawn_", "hot_", "bare_"))]


def test_it_comes_out_the_same_beside_a_design_without_a_plan() -> None:
    from checker.run.batch import check

    alone = report(design(planted()), "b.yaml")
    designs, _ = check([("a.yaml", DESIGN.encode()), ("b.yaml", design(planted()).encode())])
    plain, beside = designs
    assert [*beside.results] == [*alone.results]
    assert [*plain.results] == [*report(DESIGN, "a.yaml").results]
    assert beside.computed == alone.computed


def test_feeds_that_are_left_out_are_the_plans_room_by_room() -> None:
    drawn = house()
    tables = Tables()
    tables.add("house.yaml", design(drawn, L2="feeds: 20 m").encode())
    feeds, loops = tables["loop_feeds"], tables["loops"]
    column = {leaf.name: feeds.column(leaf.slot) for leaf in feeds.shape.columns}
    hall = tables["rooms"].ids.index("hall")
    for number, (name, known) in enumerate(drawn.routes.items()):
        own = np.array(feeds.parents) == number
        assert loops.ids[number] == name
        if name == "L2":
            assert not own.any()
            continue
        in_hall = own & (column["room"] == hall)
        assert column["length"][in_hall].sum() == pytest.approx(known.feeds, abs=0.2)
        if known.feeds > 5:
            assert column["spacing"][in_hall][0] == pytest.approx(0.06, abs=0.002)
        assert (
            column["floor"][in_hall][0]
            == loops.column(tables.format.leaf("loops", "floor").slot)[number]
        )


def test_feeds_of_the_plan_heat_the_rooms_that_they_pass() -> None:
    text = (FOLDER / f"{NAME}.yaml").read_text("utf-8")
    # 94 m at 60 mm pitch are 5.6 m²; water (35 + 28)/2 °C, 11.5 K over the hall; some 6 W/(m²·K)
    # at so close a pitch: 390 W.
    assert computed(report(text), "rooms.hall", "passing_heat") == pytest.approx(390, rel=0.1)
    stated = report(text.replace("joints: 0", "feeds: 16 m, joints: 0"))
    assert computed(stated, "rooms.hall", "passing_heat") == 0


def test_a_loop_in_parts_is_held_against_all_rooms_that_it_heats() -> None:
    first = serpentine(10, 0.2, 0.1, 4.0)
    line = np.concatenate((first.corners[:-1], [(1.9, 0.1)], first.corners + np.array([2.3, 0.0])))
    text = ", ".join(f"{x * 1000:.0f} {y * 1000:.0f}" for x, y in line)
    plan = (
        "plan:\n  unit: mm\n  bend: 80 mm\n  rooms:\n    a: 0 0, 2200 0, 2200 4000, 0 4000\n"
        f"    b: 2300 0, 4500 0, 4500 4000, 2300 4000\n  routes:\n    L1: {text}\n"
    )

    def judged(rooms: str) -> Result:
        loops = f"loops: {{L1: {{length: drawn, parts: [{rooms}]}}}}\n"
        found = report(f"design: 1\nrooms: {{a: {{}}, b: {{}}, c: {{}}}}\n{loops}{plan}")
        return result(found, "drawing-agrees-room", "loops.L1")

    assert judged("{room: a}, {room: b}").kind == "pass"
    wrong = judged("{room: a}, {room: c}")
    assert wrong.kind == "fail"
    assert "in a and b, the design" in wrong.message


def in_parts(spacings: tuple[str, str], stated: str) -> Result:
    """A loop of two fields, 0.2 m apart in room a and as given in b, against what is stated."""
    first, second = serpentine(10, 0.2, 0.1, 4.0), serpentine(10, 0.15, 0.1, 4.0)
    line = np.concatenate((first.corners[:-1], [(1.9, 0.1)], second.corners + np.array([2.3, 0.0])))
    text = ", ".join(f"{x * 1000:.0f} {y * 1000:.0f}" for x, y in line)
    plan = (
        "plan:\n  unit: mm\n  bend: 60 mm\n  rooms:\n    a: 0 0, 2200 0, 2200 4000, 0 4000\n"
        f"    b: 2300 0, 4500 0, 4500 4000, 2300 4000\n  routes:\n    L1: {text}\n"
    )
    parts = stated.format(*spacings)
    found = report(
        f"design: 1\nrooms: {{a: {{}}, b: {{}}}}\n"
        f"loops: {{L1: {{length: drawn, parts: [{parts}]}}}}\n{plan}"
    )
    return result(found, "drawing-agrees-spacing", "loops.L1")


ROOMS = "{{room: a, spacing: {0}}}, {{room: b, spacing: {1}}}"


@pytest.mark.parametrize("turned", [False, True])
def test_each_part_of_a_loop_is_held_against_the_spacing_in_its_room(turned: bool) -> None:
    order = "{{room: b, spacing: {1}}}, {{room: a, spacing: {0}}}" if turned else ROOMS
    assert in_parts(("200 mm", "150 mm"), order).kind == "pass"
    wrong = in_parts(("200 mm", "200 mm"), order)
    assert wrong.kind == "fail"
    assert isinstance(wrong.value, Measure)
    assert wrong.value.magnitude == pytest.approx(50, abs=1)
    assert in_parts(("150 mm", "150 mm"), order).kind == "fail"


def test_two_zones_of_a_loop_in_one_room_share_its_spacings_from_the_closest() -> None:
    first, second = serpentine(10, 0.1, 0.1, 4.0), serpentine(10, 0.2, 0.1, 4.0)
    line = np.concatenate((first.corners[:-1], [(1.0, 0.1)], second.corners + np.array([1.1, 0.0])))
    text = ", ".join(f"{x * 1000:.0f} {y * 1000:.0f}" for x, y in line)
    plan = (
        "plan:\n  unit: mm\n  bend: 50 mm\n  rooms:\n    a: 0 0, 3200 0, 3200 4000, 0 4000\n"
        f"  routes:\n    L1: {text}\n"
    )

    def judged(edge: str, middle: str) -> Result:
        parts = (
            f"{{room: a, zone: occupied, spacing: {middle}, area: 8 m²}}, "
            f"{{room: a, zone: perimeter, spacing: {edge}, area: 4 m²}}"
        )
        loops = f"loops: {{L1: {{length: drawn, parts: [{parts}]}}}}\n"
        found = report(f"design: 1\nrooms: {{a: {{}}}}\n{loops}{plan}")
        return result(found, "drawing-agrees-spacing", "loops.L1")

    assert judged("100 mm", "200 mm").kind == "pass"
    assert judged("150 mm", "200 mm").kind == "fail"
    assert judged("100 mm", "150 mm").kind == "fail"
