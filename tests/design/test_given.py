"""What a design states, by subject and name, in the units that reports use."""

from __future__ import annotations

from checker.outcome.results import Measure
from checker.run import batch
from tests.example import DESIGN


def test_everything_stated_is_there_with_its_unit() -> None:
    (report,), _ = batch.check([("house.yaml", DESIGN.encode())], with_given=True)
    given = report.given
    assert given["loops.L1"]["length"] == Measure(88.0, "m")
    assert given["loops.L1"]["spacing"] == Measure(150.0, "mm")
    assert given["loops.L1"]["room"] == "kitchen"
    assert given["floors.slab"]["screed.laid_on"] == "2026-04-05"
    assert given["headers.H1"]["isolation_valves"] is True
    assert given["design"]["project.name"] == "Test House"
    assert given["design"]["plant.fluid.kind"] == "water"
    assert given["balance.L1"] == {"of": "L1", "flow": Measure(1.5, "l/min")}


def test_lists_stand_with_their_subject() -> None:
    (report,), _ = batch.check([("house.yaml", DESIGN.encode())], with_given=True)
    given = report.given
    assert given["headers.H1"]["pump_curve"] == (
        {"flow": Measure(0.0, "l/min"), "head": Measure(60.0, "kPa")},
        {"flow": Measure(20.0, "l/min"), "head": Measure(45.0, "kPa")},
        {"flow": Measure(40.0, "l/min"), "head": Measure(10.0, "kPa")},
    )
    assert given["pressure_tests.first"]["readings"][1] == {  # type: ignore[index]  # is a list
        "at": Measure(20.0, "min"),
        "pressure": Measure(4.0, "bar"),
        "temperature": Measure(17.0, "°C"),
    }
    assert len(given["design"]["heat_up_steps"]) == 2  # type: ignore[arg-type]  # is a list


def test_what_is_not_stated_has_no_entry() -> None:
    (report,), _ = batch.check([("house.yaml", DESIGN.encode())], with_given=True)
    assert "flow" not in report.given["loops.L1"]
    assert "supply" not in report.given["headers.H1"]


def test_of_several_designs_each_has_its_own() -> None:
    files = [("a.yaml", DESIGN.encode()), ("b.yaml", b"design: 1\n")]
    (first, second), _ = batch.check(files, with_given=True)
    assert {*second.given} == {"design"}
    assert "loops.L2" in first.given


def test_it_is_only_made_where_it_is_asked_for() -> None:
    (report,), _ = batch.check([("house.yaml", DESIGN.encode())])
    assert report.given == {}


def test_the_pump_meets_its_loops_on_both_curves() -> None:
    (report,), _ = batch.check([("house.yaml", DESIGN.encode())], with_given=True)
    met = {name: value.magnitude for name, value in report.further["headers.H1"].items()}
    own = {name: value.magnitude for name, value in report.computed["headers.H1"].items()}
    flow, head = own["met_flow"], met["met_head"]
    assert flow is not None
    assert head is not None
    assert own["flow"] is not None
    assert own["pressure_drop"] is not None
    # A loss grows with the flow at least, and with its square at most, but for the step from laminar.
    more = flow / own["flow"]
    assert own["pressure_drop"] * more < head < own["pressure_drop"] * more**2.2
    # The pump's curve is straight between its points.
    assert abs(head - (60 + (45 - 60) * flow / 20)) < 1e-6
