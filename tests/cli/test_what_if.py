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
    assert one["remarks"] == ["not as it is but with loops.L1.length=98m"]
    assert call("check", "house.yaml", "--format", "json").json["designs"] != [one]


def test_several_changes_are_told_in_the_report(call: Calling) -> None:
    put("house.yaml", DESIGN)
    done = call(
        "check", "house.yaml", "--with", "loops.L1.port=9", "--with", "plant.supply=40 °C"
    )  # fmt: skip
    assert "Port" in done.out  # of the rule on ports
    words = " ".join(done.out.split())
    assert "not as it is but with loops.L1.port=9 and plant.supply=40 °C" in words
    assert "Not the designs as they are: judged with loops.L1.port=9" in words


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
    assert "'with' cannot be set in a file" in done.err


def test_a_range_gives_a_table_of_what_each_value_would_give(call: Calling) -> None:
    put("house.yaml", DESIGN)
    done = call("check", "house.yaml", "--format", "json", "--with", "plant.supply=35..45°C")
    assert done.status == 0, done.err
    (design,) = done.json["designs"]
    assert design["ranges"] == [
        {"path": "plant.supply", "unit": "°C", "values": [f"{n} °C" for n in range(35, 46)]}
    ]
    for point in design["points"]:
        (value,) = point["values"]
        alone = call("check", "house.yaml", "--format", "json", "--with", f"plant.supply={value}")
        (judged,) = alone.json["designs"]
        rooms = [own for name, own in judged["computed"].items() if name.startswith("rooms.")]
        assert point["verdict"] == judged["verdict"]
        assert point["coverage"]["magnitude"] == min(one["coverage"]["magnitude"] for one in rooms)
    least = [point["coverage"]["magnitude"] for point in design["points"]]
    assert least == sorted(least)


def test_where_findings_turn_within_a_range_is_told(call: Calling) -> None:
    put("house.yaml", DESIGN.replace("700 W", "900 W"))
    done = call("check", "house.yaml", "--with", "plant.supply=34..44 °C by 0.5")
    assert "room-heat of rooms.kitchen passes from" in " ".join(done.out.split())
    assert "least coverage of a room, %, over plant.supply" in done.out
    page = call("check", "house.yaml", "--format", "html", "--with", "plant.supply=34..44 °C").out
    assert "<svg" in page
    assert "hottest surface" in page


def test_two_ranges_give_a_row_for_each_pair(call: Calling) -> None:
    put("house.yaml", DESIGN)
    done = call(
        "check", "house.yaml", "--format", "json", "--with", "plant.drop=5..7 K by 1",
        "--with", "loops.L1.port=3", "--with", "loops.L1.spacing=100..200 mm by 50",
    )  # fmt: skip
    (design,) = done.json["designs"]
    assert len(design["points"]) == 9
    assert design["changes"] == ["loops.L1.port=3"]
    days = call("check", "house.yaml", "--with", "heat_up.started_on=2026-04-20..2026-04-30")
    assert "2026-04-26" in days.out


def test_a_range_that_cannot_be_used_is_told(call: Calling) -> None:
    put("house.yaml", DESIGN)
    for words, said in (
        ("plant.supply=45..35 °C", "write the smaller number first"),
        ("plant.supply=35..45 °C by 0.001", "take longer ones"),
        ("plant.suply=35..45 °C", "did you mean 'supply'?"),
        ("plant.supply=35..45", "has no unit"),
    ):
        done = call("check", "house.yaml", "--with", words)
        assert done.status == 2, words
        assert said in done.err
    done = call("check", "house.yaml", "--format", "sarif", "--with", "plant.supply=35..45 °C")
    assert "over a range, write text, json, html" in done.err
