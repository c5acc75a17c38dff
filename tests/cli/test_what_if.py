"""`prescreed check --with`: designs judged with other values in them."""

from __future__ import annotations

from tests.cli.calling import Calling, put
from tests.cli.calling import calling as calling
from tests.example import DESIGN


def test_a_change_is_judged_as_if_it_stood_in_the_file(call: Calling) -> None:
    put("house.yaml", DESIGN)
    put("changed.yaml", DESIGN.replace("length: 88 m", "length: 98 m"))
    tried = call("check", "house.yaml", "--format", "json", "--with", "loops.L1.length=98m")
    stood = call("check", "changed.yaml", "--format", "json")
    (one,), (other,) = tried.json["designs"], stood.json["designs"]
    assert one["computed"] == other["computed"]
    assert [(r["rule"], r["subject"], r["kind"], r["message"]) for r in one["results"]] == [
        (r["rule"], r["subject"], r["kind"], r["message"]) for r in other["results"]
    ]
    assert one["remarks"] == ["not as it stands but with loops.L1.length=98m"]
    assert call("check", "house.yaml", "--format", "json").json["designs"] != [one]


def test_several_changes_are_told_in_the_report(call: Calling) -> None:
    put("house.yaml", DESIGN)
    done = call(
        "check", "house.yaml", "--with", "loops.L1.port=9", "--with", "plant.supply=40 °C"
    )  # fmt: skip
    assert "Port" in done.out  # of the rule on ports
    words = " ".join(done.out.split())
    assert "not as it stands but with loops.L1.port=9 and plant.supply=40 °C" in words
    assert "Not the designs as they stand: judged with loops.L1.port=9" in words


def test_what_a_design_cannot_take_keeps_it_from_being_judged(call: Calling) -> None:
    put("house.yaml", DESIGN)
    done = call("check", "house.yaml", "--with", "loops.L9.length=98 m")
    assert done.status == 2
    assert "house.yaml:1:1: loops.L9.length: there is no 'L9' in loops" in done.err
    done = call("check", "house.yaml", "--with", "loops.L1.length=98")
    assert done.status == 2
    assert "98 has no unit" in done.err
    assert "--with changes" in done.err


def test_no_policy_can_change_designs(call: Calling) -> None:
    put("house.yaml", DESIGN)
    put("prescreed.yaml", "with: [plant.supply=40 °C]\n")
    done = call("check", "house.yaml")
    assert done.status == 2
    assert "'with' cannot stand in a file" in done.err
