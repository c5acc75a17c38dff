"""Columns: how names are resolved, and how a missing datum is told."""

from __future__ import annotations

import numpy as np
import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.columns import NO_REASON, Grouped
from checker.compute.graph import Graph, _beyond
from checker.compute.meanings import Names, meaning
from checker.compute.reasons import Lacking
from checker.compute.registry import REGISTRY
from checker.design.tables import Tables
from tests.example import DESIGN, changed


def graph(*texts: str) -> Graph:
    tables = Tables()
    for number, text in enumerate(texts):
        tables.add(f"{number}.yaml", text.encode())
    return Graph(tables)


def reason(made: Graph, subject: str, name: str, row: int = 0) -> tuple[str, str]:
    column = made.column(subject, name)
    assert np.isnan(column.values[row])
    assert column.reasons is not None
    return made.reason(int(column.reasons[row]))


def test_a_field_is_in_si() -> None:
    assert graph(DESIGN).column("loop", "length").values.tolist() == [88.0, 80.0]


def test_a_name_reaches_through_references_and_into_the_design() -> None:
    made = graph(DESIGN)
    assert made.column("loop", "room.temperature").values.tolist() == [20.0, 24.0]
    assert made.column("loop", "plant.supply").values.tolist() == [42.0, 42.0]
    assert made.column("loop", "pipe.bore").values == pytest.approx([0.012, 0.012])
    assert made.column("test", "header.own_loss").values.tolist() == [8000.0]


def test_two_designs_do_not_mix() -> None:
    warmer = changed(("supply: 42 °C\n", "supply: 50 °C\n"))
    made = graph(DESIGN, warmer)
    assert made.column("loop", "plant.supply").values.tolist() == [42.0, 42.0, 50.0, 50.0]
    alone = graph(DESIGN).column("header", "flow").values
    assert made.column("header", "flow").values[0] == pytest.approx(alone[0], rel=1e-12)


def test_a_quantity_hides_a_field_of_its_name() -> None:
    made = graph(changed(("joints: 0}\n  L2", "joints: 0, flow: 2 l/min}\n  L2")))
    assert made.column("loop", "given.flow").values[0] == pytest.approx(2e-3 / 60)
    assert np.isnan(made.column("loop", "given.flow").values[1])
    assert made.column("loop", "flow").values[0] == pytest.approx(2e-3 / 60)
    assert made.column("loop", "flow").values[1] > 0


def test_a_measured_value_reaches_its_loop() -> None:
    made = graph(DESIGN)
    assert made.column("loop", "balance.flow").values[0] == pytest.approx(1.5e-3 / 60)
    assert reason(made, "loop", "balance.flow", 1)[1] == "loops.L2"


def test_an_unknown_name_is_an_error() -> None:
    with pytest.raises(KeyError):
        graph(DESIGN).column("loop", "lenght")


@pytest.mark.parametrize(
    ("old", "new", "subject", "name", "words", "about"),
    [
        ("temperature: 20 °C, ", "", "loop", "output", "temperature is not given", "rooms.kitchen"),
        ("room: kitchen, ", "", "loop", "output", "room is not given", "loops.L1"),
        ("  drop: 7 K\n", "", "loop", "flow", "plant.drop is not given", "design"),
        ("    own_loss: 8 kPa\n", "", "header", "pressure_drop", "own_loss is not given", "headers.H1"),
        ("wall: 2 mm, ", "", "header", "content", "wall is not given", "pipes.p16"),
        ("    below: ground\n", "", "loop", "down_loss", "below is not given", "floors.slab"),
        ("  fluid: {kind: water}\n", "", "loop", "flow", "plant.fluid.kind is not given", "design"),
    ],
)  # fmt: skip
def test_a_missing_datum_is_named_with_what_lacks_it(
    old: str, new: str, subject: str, name: str, words: str, about: str
) -> None:
    assert reason(graph(changed((old, new))), subject, name) == (words, about)


def test_a_tested_floor_is_told_what_to_enter_for_its_screed() -> None:
    dry = (
        ("construction: wet", "construction: tested\n    heat_coefficient: 4 W/(m²·K)"),
        ("cover: 45 mm, ", ""),
    )
    words, about = reason(graph(DESIGN, changed(*dry)), "loop", "down_loss", 2)
    assert words == (
        "screed.cover is not given; without screed, enter the thickness of the layer over the pipes"
    )
    assert about == "floors.slab"
    wet = graph(changed(dry[1]), changed(*dry))
    assert reason(wet, "loop", "down_loss")[0] == "screed.cover is not given"


def test_a_pump_curve_of_one_point_is_told_to_want_two() -> None:
    curve = "[[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]"
    words, _ = reason(graph(changed((curve, "[[2 l/min, 60 kPa]]"))), "header", "pump_head")
    assert "takes two points or more" in words


def test_out_of_range_names_the_range() -> None:
    made = graph(changed(("spacing: 150 mm", "spacing: 17 mm")))
    words, about = reason(made, "loop", "heat_coefficient")
    assert "EN 1264-2" in words
    assert "50 mm" in words
    assert about == "loops.L1"


def test_out_of_range_is_told_of_the_row_that_is() -> None:
    made = graph(DESIGN, changed(("spacing: 100 mm", "spacing: 17 mm")))
    column = made.column("loop", "heat_coefficient")
    assert np.isnan(column.values).tolist() == [False, False, False, True]
    assert column.reasons is not None
    assert column.reasons[:3].tolist() == [NO_REASON] * 3
    words, about = reason(made, "loop", "heat_coefficient", 3)
    assert ("50 mm" in words, about) == (True, "loops.L2")
    assert made.tables["loops"].ids[3] == "L2"


def test_a_range_holds_its_own_ends_whatever_was_rounded_on_the_way() -> None:
    near, far = 1e-13, 1e-11
    values = np.array([2 - 2 * far, 2 - 2 * near, 2, 3, 5, 5 + 5 * near, 5 + 5 * far, np.nan])
    inside = [False] * 5
    assert _beyond(values, 2.0, 5.0, "words")[0].tolist() == [True, *inside, True, False]
    assert _beyond(values, 2.0, None, "words")[0].tolist() == [True, *inside, False, False]
    assert _beyond(values, None, 5.0, "words")[0].tolist() == [False, *inside, True, False]
    assert _beyond(values, 2.0, 5.0, "words")[1] == "words"


def test_a_datum_with_a_hint_is_told_of_the_record_that_lacks_it() -> None:
    tested = changed(("construction: wet", "construction: tested"), ("cover: 45 mm, ", ""))
    made = graph(tested, tested.replace("slab", "deck"))
    told = [reason(made, "floor", "screed.cover", row) for row in (0, 1)]
    assert [about for _, about in told] == ["floors.slab", "floors.deck"]
    assert all(words.startswith("screed.cover is not given; ") for words, _ in told)


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


def test_every_quantity_says_what_it_is() -> None:
    names = Names()
    for (subject, name), quantity in REGISTRY.items():
        assert quantity.title, name
        assert quantity.source, name
        assert quantity.function.__doc__, name
        assert names.describe(subject, name) is not None


def test_every_quantity_can_be_computed_for_no_design_at_all() -> None:
    made = graph()
    for subject, name in REGISTRY:
        assert made.column(subject, name).values.shape == (0,)


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


def test_a_field_that_another_input_stands_in_for_is_no_reason() -> None:
    """The flow follows from the load; what has no answer is the floor that is fed too cold."""
    made = graph(changed(("supply: 42 °C\n", "supply: 19 °C\n")))
    words, about = reason(made, "loop", "flow")
    assert "the supply is not so much warmer than the room" in words
    assert about == "loops.L1"


def test_the_first_reason_told_counts_as_any_other() -> None:
    """Its number is 0; that there is no plan does not take its place."""
    made = graph(changed(("header: H1, port: 1, ", "header: H1, ")))
    reasons = made.column("loop", "port").reasons
    assert reasons is not None
    assert reasons[0] == 0
    assert reason(made, "loop", "port_as_drawn") == ("port is not given", "loops.L1")
    assert reason(made, "loop", "port_as_drawn", 1)[1] == "design"


@pytest.mark.parametrize(
    ("name", "rows"),
    [
        ("length", [0, 1, 2, 3]),
        ("room.temperature", [0, 1, 2, None]),
        ("plant.supply", [0, 0, 1, 1]),
        ("balance.flow", [0, None, None, 1]),
    ],
)
def test_a_name_leads_each_row_to_the_row_that_has_it(name: str, rows: list[int | None]) -> None:
    made = graph(DESIGN, changed(("room: bath, ", ""), ("balance: {L1", "balance: {L2")))
    meant = meaning("loop", name)
    assert meant is not None
    assert [made.row_of("loop", meant, row) for row in range(4)] == rows


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


def test_reasons_that_are_told_together_are_those_told_alone() -> None:
    made = graph(
        "design: 1\nheaders: {H: {}}\nrooms: {r: {}}\nloops:\n  A: {header: H}\n  B: {room: r}\n"
    )
    numbers: list[int] = []
    for quantity in REGISTRY.values():
        column = made.column(quantity.subject, quantity.name)
        if column.reasons is not None:
            numbers += [one for one in np.asarray(column.reasons).tolist() if one >= 0]
    alone = [made.reason(number) for number in numbers]
    assert len({words for words, _ in alone}) > 9
    together = made.sentences(np.array(numbers[::-1]))[::-1]
    for told, (words, about) in zip(together, alone, strict=True):
        assert told in (f"{about}: {words}", words)
        assert told != words or about == "design"


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


def test_the_first_reason_of_a_row_counts_and_only_where_its_value_is_missing() -> None:
    lacking = Lacking(np.array([True, True, False, True]))
    assert not lacking.take(np.array([7, NO_REASON, 7, NO_REASON]))
    assert not lacking.take(np.array([8, 8, 8, NO_REASON]))
    assert lacking.take(np.array([9, 9, 9, 9]))
    assert lacking.reasons.tolist() == [7, 8, NO_REASON, 9]


def test_what_is_no_column_is_told_of_each_row() -> None:
    own = changed(("    own_loss: 8 kPa\n", "    own_loss: 8 kPa\n    supply: 40 °C\n"))
    made = graph(DESIGN, own)
    assert made.rows("loop", "size") == 4
    assert made.rows("loop", "job").tolist() == [0, 0, 1, 1]  # type: ignore[union-attr]
    assert made.rows("loop", "supplies_differ").tolist() == [False, False, True, True]  # type: ignore[union-attr]
    assert made.rows("header", "pump_owner").tolist() == [0, 1]  # type: ignore[union-attr]
    assert made.rows("header", "pump_stated").tolist() == [True, True]  # type: ignore[union-attr]
    assert made.rows("header", "second_opinion") is False
    assert np.isnan(made.rows("header", "today"))  # type: ignore[arg-type]
    assert made.rows("part", "things") is made.things
    later = Graph(made.tables, second_opinion=True, today=738000.0)
    assert (later.rows("header", "second_opinion"), later.rows("test", "today")) == (True, 738000.0)


def test_what_goes_with_a_whole_section_is_told_so() -> None:
    lines = DESIGN.splitlines()
    at = lines.index("pipes:")
    made = graph(DESIGN, "\n".join(lines[:at] + lines[at + 2 :]))
    words = ("the design has no section 'pipes'", "design")
    assert [reason(made, "loop", "pipe.bore", row) for row in (2, 3)] == [words, words]
    assert made.column("loop", "pipe.bore").values[:2] == pytest.approx([0.012, 0.012])


def test_what_is_measured_is_of_its_own_loop_alone() -> None:
    without = "".join(line + "\n" for line in DESIGN.splitlines() if "balance: " not in line)
    assert without != DESIGN
    made = graph(without, DESIGN.replace("balance: {L1", "balance: {L2"))
    flows = made.column("loop", "balance.flow").values
    assert flows.tolist() == pytest.approx([np.nan, np.nan, np.nan, 1.5e-3 / 60], nan_ok=True)
    meant = meaning("loop", "balance.flow")
    assert meant is not None
    assert [made.row_of("loop", meant, row) for row in range(4)] == [None, None, None, 0]
    none = graph(without)
    assert none.row_of("loop", meant, 0) is None
    words = "no measured flow is recorded under balance"
    assert reason(none, "loop", "balance.flow", 1) == (words, "loops.L2")


def test_only_floors_of_one_construction_are_told_what_to_enter_for_it() -> None:
    lines = DESIGN.splitlines()
    left_out = ("    screed: ", "    insulation: ")
    bare = "\n".join(line for line in lines if not line.startswith(left_out))
    kinds = ("wet", "tested", "layered")
    made = graph(*(bare.replace("construction: wet", f"construction: {kind}") for kind in kinds))
    for name, hinted in (("screed.cover", "tested"), ("given.insulation", "layered")):
        told = [reason(made, "floor", name, row)[0] for row in range(3)]
        assert [";" in words for words in told] == [kind == hinted for kind in kinds]


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
