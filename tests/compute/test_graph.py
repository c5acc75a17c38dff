"""Columns: how names are resolved, and how a missing datum is told."""

from __future__ import annotations

import numpy as np
import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.columns import NO_REASON
from checker.compute.graph import Graph, _beyond
from checker.compute.meanings import Names, meaning
from checker.compute.reasons import Lacking
from checker.compute.registry import REGISTRY
from tests.compute.graphs import graph, reason
from tests.example import DESIGN, changed


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


@pytest.mark.parametrize("unit", [1.0, 0.01, 100.0])
def test_a_range_holds_its_own_ends_whatever_was_rounded_on_the_way(unit: float) -> None:
    near, far = 1e-13, 1e-11
    values = unit * np.array(
        [2 - 2 * far, 2 - 2 * near, 2, 3, 5, 5 + 5 * near, 5 + 5 * far, np.nan]
    )
    least, most = unit * 2.0, unit * 5.0
    inside = [False] * 5
    assert _beyond(values, least, most, "words")[0].tolist() == [True, *inside, True, False]
    assert _beyond(values, least, None, "words")[0].tolist() == [True, *inside, False, False]
    assert _beyond(values, None, most, "words")[0].tolist() == [False, *inside, True, False]
    assert _beyond(values, least, most, "words")[1] == "words"


def test_a_datum_with_a_hint_is_told_of_the_record_that_lacks_it() -> None:
    tested = changed(("construction: wet", "construction: tested"), ("cover: 45 mm, ", ""))
    made = graph(tested, tested.replace("slab", "deck"))
    told = [reason(made, "floor", "screed.cover", row) for row in (0, 1)]
    assert [about for _, about in told] == ["floors.slab", "floors.deck"]
    assert all(words.startswith("screed.cover is not given; ") for words, _ in told)


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
