"""Members: which loops, readings and tests a row has, and what is told where one is missing."""

from __future__ import annotations

import numpy as np
import pytest

from checker.compute.columns import NO_REASON, Grouped
from tests.compute.graphs import graph, reason
from tests.example import DESIGN, changed


@pytest.mark.parametrize(
    ("subject", "name", "members"),
    [
        ("header", "loops.flow", ("loops", [2, 3])),
        ("header", "pumped.flow", ("headers", [1])),
        ("test", "tested_loops.length", ("loops", [2, 3])),
    ],
)
def test_members_are_those_of_their_own_row(
    subject: str, name: str, members: tuple[str, list[int]]
) -> None:
    assert graph(DESIGN, DESIGN).members.rows_of(subject, name, 1) == members


def test_a_header_that_names_no_pump_may_be_on_that_of_another_in_its_design() -> None:
    two = changed(
        ("headers:\n", "headers:\n  H2: {ports: 2, own_loss: 8 kPa}\n"),
        ("header: H1, port: 2", "header: H2, port: 2"),
    )
    made = graph(DESIGN, two)
    assert made.tables["headers"].ids == ["H1", "H2", "H1"]
    assert np.isfinite(made.column("header", "pump_flow").values[0])
    assert reason(made, "header", "pump_flow", 2) == ("pump is not given", "headers.H2")


def test_a_test_of_no_known_header_has_no_loops_of_its_own() -> None:
    nowhere = changed(("    header: H1\n    medium", "    medium"), ("header: H1, port: 2, ", ""))
    assert graph(nowhere).members.rows_of("test", "tested_loops.length", 0) == ("loops", [])


def test_members_group_and_keep_what_is_missing() -> None:
    members = Grouped(np.array([1.0, 5.0, np.nan, 2.0]), np.array([0, 0, 1, 3]), 4)
    np.testing.assert_array_equal(members.sum(), [6, np.nan, np.nan, 2])
    np.testing.assert_array_equal(members.largest(), [5, np.nan, np.nan, 2])
    np.testing.assert_array_equal(members.smallest(), [1, np.nan, np.nan, 2])
    np.testing.assert_array_equal(members.count(), [2, np.nan, 0, 1])


def test_first_and_last_go_by_the_clock_and_not_by_the_file() -> None:
    at = Grouped(np.array([60.0, 0.0, 30.0]), np.array([0, 0, 0]), 1)
    pressure = Grouped(np.array([4.0, 4.2, 4.1]), np.array([0, 0, 0]), 1)
    assert pressure.ordered(at, last=False) == [4.2]
    assert pressure.ordered(at, last=True) == [4.0]


@pytest.mark.parametrize(
    ("part", "subject", "names"),
    [
        ("header: H1, port: 2, ", "header", ("loop_count", "flow", "pressure_drop", "content")),
        ("header: H1, port: 2, ", "test", ("pressure_per_kelvin", "under_asphalt")),
        ("room: bath, ", "room", ("loop_count", "loop_area", "output", "coverage")),
        ("room: bath, ", "loop", ("flow",)),
    ],
)
def test_a_loop_that_may_belong_anywhere_leaves_every_group_of_its_design_unknown(
    part: str, subject: str, names: tuple[str, ...]
) -> None:
    made = graph(DESIGN, changed((part, "")), DESIGN)
    sound = graph(DESIGN)
    own = made.size(subject) // 3
    for name in names:
        values = made.column(subject, name).values
        for row in range(own, 2 * own):
            words = f"{part.partition(':')[0]} is not given"
            assert reason(made, subject, name, row) == (words, "loops.L2")
        alone = sound.column(subject, name).values
        np.testing.assert_array_equal(values[:own], alone)
        np.testing.assert_array_equal(values[2 * own :], alone)


def test_a_test_that_may_be_of_any_header_leaves_the_number_of_tests_unknown() -> None:
    made = graph(changed(("    header: H1\n    medium", "    medium")))
    assert reason(made, "header", "test_count") == ("header is not given", "pressure_tests.first")
    words = ("header is not given", "pressure_tests.first")
    assert reason(made, "test", "pressure_per_kelvin") == words


def test_the_rows_of_a_part_are_those_under_it() -> None:
    made = graph(DESIGN, DESIGN)
    count = len(made.tables["readings"]) // 2
    assert count > 1
    readings = [made.members.rows_of("test", "readings.pressure", row) for row in (0, 1)]
    assert readings == [
        ("readings", [*range(count)]),
        ("readings", [*range(count, 2 * count)]),
    ]
    assert made.members.rows_of("header", "loops.flow", 1) == ("loops", [2, 3])


def test_a_header_without_a_curve_is_told_by_its_own_name() -> None:
    """The third header, so that its row is neither nothing nor one."""
    lines = DESIGN.replace("H1", "H9").splitlines()
    lacking = [line for line in lines if not line.startswith("    pump: {curve")]
    assert len(lacking) == len(lines) - 1
    made = graph(DESIGN, DESIGN, "\n".join(lacking))
    reasons = made.members.first_missing("header", "pump_curve.flow").reasons
    assert reasons is not None
    assert reasons[:2].tolist() == [NO_REASON, NO_REASON]
    assert made.reason(int(reasons[2]))[1] == "headers.H9"


def test_a_header_on_another_ones_pump_has_its_curve_and_not_its_loops() -> None:
    made = graph(changed(("headers:\n", "headers:\n  H0: {ports: 4, pump: {with: H1}}\n")))
    own = made.members.rows_of("header", "pump_curve.flow", 1)
    assert own[1]
    assert made.members.rows_of("header", "pump_curve.flow", 0) == own
    assert made.members.rows_of("header", "loops.flow", 0) == ("loops", [])
    assert made.members.rows_of("header", "loops.flow", 1) == ("loops", [0, 1])


def test_a_header_without_a_loop_is_told_to_have_none() -> None:
    made = graph(changed(("headers:\n", "headers:\n  H0: {ports: 4}\n")))
    reasons = made.members.first_missing("header", "loops.flow").reasons
    assert reasons is not None
    assert reasons[1] == NO_REASON
    words, about = made.reason(int(reasons[0]))
    assert (about, "loop" in words) == ("headers.H0", True)


def test_the_loops_of_a_test_are_those_of_its_header() -> None:
    made = graph(DESIGN, DESIGN)
    found = [made.members.rows_of("test", "tested_loops.flow", row) for row in (0, 1)]
    assert found == [("loops", [0, 1]), ("loops", [2, 3])]
    placed, lost, unknown = made.members.membership("test", "tested_loops")
    assert [one.tolist() for one in placed[1:]] == [[0, 1, 2, 3], [0, 0, 1, 1]]
    assert [len(one[1]) for one in (lost, unknown)] == [0, 0]


def test_members_that_may_be_any_rows_are_told_with_the_reference_that_they_lack() -> None:
    assert [one[0] for one in graph(DESIGN).members.membership("header", "loops")] == [""]
    made = graph(changed(("  L1: {header: H1, ", "  L1: {")))
    placed, lost = made.members.membership("header", "loops")
    assert [one.tolist() for one in placed[1:]] == [[1], [0]]
    assert (lost[0], *(one.tolist() for one in lost[1:])) == ("header", [0], [0])


PUMP = "{curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}"


def test_the_curve_of_a_pump_is_that_of_every_header_on_it() -> None:
    other = PUMP.replace("60 kPa", "70 kPa").replace("[20 l/min, 45 kPa], ", "")
    made = graph(
        DESIGN,
        changed(
            (
                "headers:\n",
                f"headers:\n  H0: {{ports: 4, pump: {{with: H1}}}}\n  H2: {{ports: 4, pump: {other}}}\n",
            )
        ),
    )
    assert made.tables["headers"].ids == ["H1", "H0", "H2", "H1"]
    heads = made.members.grouped("header", "pump_curve.head")
    assert heads.count().tolist() == [3, 3, 2, 3]
    assert heads.largest().tolist() == [60e3, 60e3, 70e3, 60e3]
    assert made.members.first_missing("header", "pump_curve.head").reasons.tolist() == [-1] * 4  # type: ignore[union-attr]
    # Nothing but curves is shared: a test's readings and a design's steps stay its own.
    shared = graph(
        changed(("headers:\n", "headers:\n  H0: {ports: 4, pump: {with: H1}}\n")), DESIGN
    )
    assert shared.members.grouped("test", "readings.pressure").count().tolist() == [2, 2]
    assert shared.members.grouped("design", "heat_up_steps.hold").count().tolist() == [2, 2]


def test_why_a_header_has_no_curve_is_told_of_the_header_that_states_the_pump() -> None:
    speeds = "{curves: {low: [[0 l/min, 30 kPa], [20 l/min, 9 kPa]]}}"
    made = graph(
        changed(
            (
                "headers:\n",
                "headers:\n  H0: {ports: 4, pump: {with: H2}}\n"
                f"  H2: {{ports: 4, pump: {speeds}}}\n  H3: {{ports: 4}}\n",
            )
        ),
        changed((f"    pump: {PUMP}\n", "")),
    )
    assert made.tables["headers"].ids == ["H0", "H2", "H3", "H1", "H1"]
    reasons = made.members.first_missing("header", "pump_curve.head").reasons
    assert reasons is not None
    assert [made.reason(int(one)) for one in reasons[[0, 1, 2, 4]]] == [
        ("pump.setting is not given", "headers.H2"),
        ("pump.setting is not given", "headers.H2"),
        ("pump is not given", "headers.H3"),
        ("pump.curve is not given", "headers.H1"),
    ]
    assert reasons[3] == NO_REASON


def test_a_design_without_a_loop_leaves_open_how_many_its_header_has() -> None:
    spare = "headers:\n  H0: {ports: 4}\n"
    made = graph(
        "design: 1\nheaders: {H: {ports: 4}}\n",
        changed(("headers:\n", spare)),
        "design: 1\nheaders: {H: {ports: 4}}\n",
    )
    assert made.tables["headers"].ids == ["H", "H0", "H1", "H"]
    counts = made.members.grouped("header", "loops.length").count()
    assert counts.tolist() == pytest.approx([np.nan, 0, 2, np.nan], nan_ok=True)
    tests = made.members.grouped("header", "tests.pressure").count()
    assert tests.tolist() == [0, 0, 1, 0]


def test_a_member_without_a_value_is_told_of_the_group_that_it_is_of() -> None:
    late = changed(("pressure: 4.00 bar, temperature: 17 °C", "pressure: 4.00 bar"))
    made = graph(DESIGN, DESIGN, late.replace("  first:\n", "  third:\n"))
    reasons = made.members.first_missing("test", "readings.temperature").reasons
    assert reasons is not None
    assert reasons[:2].tolist() == [NO_REASON, NO_REASON]
    words = ("a value 'readings.temperature' is not given", "pressure_tests.third")
    assert made.reason(int(reasons[2])) == words


def test_loops_and_tests_that_name_no_header_are_not_each_others() -> None:
    header = ("    header: H1\n    medium", "    medium")
    made = graph(DESIGN, changed(("header: H1, port: 2, ", ""), header))
    placed, lost, unknown = made.members.membership("test", "tested_loops")
    assert [one.tolist() for one in placed[1:]] == [[0, 1], [0, 0]]
    assert [one.tolist() for one in lost[1:]] == [[3], [1]]
    assert [one.tolist() for one in unknown[1:]] == [[1], [1]]


def test_of_several_members_without_a_value_the_first_is_told() -> None:
    made = graph(DESIGN, changed(("length: 88 m, ", ""), ("length: 80 m, ", "")))
    assert reason(made, "header", "content", 1) == ("length is not given", "loops.L1")
