"""`prescreed quantities`: what a job needs, worked by hand from its design."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from python_calamine import CalamineWorkbook

from tests.cli.calling import Calling, calling, put

__all__ = ["calling"]


HOUSE = """
design: 1
project: {name: Mill Yard 2, stage: design, region: GB-ENG, designed_on: 2026-03-12}
plant: {source: boiler, supply: 45 °C, drop: 7 K, fluid: {kind: propylene glycol, mass_fraction: 25 %}}
pipes:
  p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}
  p12: {material: PE-RT, outside: 12 mm, wall: 2 mm}
floors:
  slab:
    construction: wet
    screed: {material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K)}
    insulation: 2.5 m²·K/W
    below: ground
rooms:
  kitchen: {use: living, temperature: 20 °C, area: 16 m², heat_load: 900 W}
  bath: {use: bathroom, temperature: 24 °C, area: 9 m², heat_load: 500 W}
headers:
  H1: {ports: 4, bore: 25 mm}
loops:
  L1: {header: H1, port: 1, room: kitchen, floor: slab, pipe: p16, spacing: 150 mm, area: 12 m², length: 90 m}
  L2: {header: H1, port: 2, room: kitchen, floor: slab, pipe: p16, spacing: 150 mm, area: 3 m², length: 30 m, joints: 1}
  L3: {header: H1, port: 3, room: bath, floor: slab, pipe: p12, spacing: 100 mm, area: 7 m², length: 75 m}
"""


def taken(call: Calling, *words: str, house: str = HOUSE) -> dict[str, Any]:
    put("house.yaml", house)
    done = call("quantities", "house.yaml", "--format", "json", *words)
    assert done.status == 0, done.err
    found: dict[str, Any] = json.loads(done.out)
    return found


def line(found: dict[str, Any], group: str, start: str) -> dict[str, Any]:
    one = next(one for one in found["groups"][group] if one["item"].startswith(start))
    return dict(one)


def test_amounts_are_those_worked_by_hand(call: Calling) -> None:
    found = taken(call)
    assert line(found, "pipe", "Pipe p16")["amount"] == {"magnitude": 120, "unit": "m"}
    assert line(found, "pipe", "Pipe p12")["amount"] == {"magnitude": 75, "unit": "m"}
    assert line(found, "pipe", "Connections to the header for pipe p16")["amount"]["magnitude"] == 4
    assert line(found, "pipe", "Couplings in the floor")["amount"]["magnitude"] == 1
    assert line(found, "headers", "Header H1, ports to cap")["amount"]["magnitude"] == 1
    assert line(found, "floor", "Floor slab, insulation")["amount"]["magnitude"] == 25
    # A square of 16 m² has 16 m round it, one of 9 m² has 12 m.
    edge = line(found, "floor", "Floor slab, edge strip")
    assert (edge["amount"]["magnitude"], edge["at_least"]) == (28, True)
    # 25 m² at 45 + 16 mm.
    assert line(found, "screed", "Floor slab, screed")["amount"]["magnitude"] == pytest.approx(
        1.525
    )
    assert line(found, "screed", "Floor slab, screed's mass")["amount"]["magnitude"] == 3050
    # 120 m at 12 mm bore and 75 m at 8 mm: π/4 (0.12² · 1200 + 0.08² · 750) dm³.
    water = line(found, "water", "Water in the loops")["amount"]["magnitude"]
    assert water == pytest.approx(17.342, abs=0.001)


def test_antifreeze_and_expansion_are_those_of_the_mixture(call: Calling) -> None:
    """Density of 25 % propylene glycol: 1028 kg/m³ at 10 °C, 1012 at 45 °C, to about 3.

    Source: tables of aqueous propylene glycol in handbooks of refrigeration, from memory.
    """
    found = taken(call)
    assert line(found, "water", "Propylene glycol")["amount"]["magnitude"] == pytest.approx(
        0.017342 * 1028 * 0.25, rel=0.005
    )
    more = line(found, "water", "Expansion")
    assert more["amount"]["magnitude"] == pytest.approx(17.342 * (1028 / 1012 - 1), rel=0.3)
    assert more["at_least"]


def test_each_pipe_is_cut_from_its_own_coils(call: Calling) -> None:
    found = taken(call, "--coils", "100m,200m", "--coils", "p12=80m")
    assert [(one["pipe"], one["size"]["magnitude"], one["loops"]) for one in found["coils"]] == [
        ("p16", 200, ["L1", "L2"]),
        ("p12", 80, ["L3"]),
    ]
    assert (found["too_long"], found["unknown"]) == ([], [])
    assert found["bought"] == found["bound"] == {"magnitude": 280, "unit": "m"}
    assert line(found, "pipe", "Pipe p12 (PE-RT 12 mm × 2 mm), coils")["amount"]["magnitude"] == 1


def test_an_allowance_is_cut_for_every_loop(call: Calling) -> None:
    assert taken(call, "--coils", "120m")["coils"][0]["loops"] == ["L1", "L2"]
    with_it = taken(call, "--coils", "120m", "--allowance", "0.5 m")
    assert [one["loops"] for one in with_it["coils"]] == [["L1"], ["L2"], ["L3"]]
    assert with_it["coils"][0]["left"] == {"magnitude": 29.5, "unit": "m"}


def test_a_loop_that_no_coil_holds_is_named_and_one_without_a_length_too(call: Calling) -> None:
    house = HOUSE.replace(", length: 30 m", "")
    found = taken(call, "--coils", "80m", house=house)
    assert (found["too_long"], found["unknown"]) == (["L1"], ["L2"])
    pipe = line(found, "pipe", "Pipe p16")
    assert (pipe["amount"]["magnitude"], pipe["at_least"]) == (90, True)
    assert pipe["missing"] == "the length of L2"


def test_what_is_not_stated_is_a_line_to_fill_in(call: Calling) -> None:
    house = HOUSE.replace("cover: 45 mm, ", "").replace(", area: 9 m²", "")
    found = taken(call, house=house)
    screed = line(found, "screed", "Floor slab, screed")
    assert "amount" not in screed or screed["amount"] is None
    assert screed["missing"] == "the area of bath and the screed's cover"
    put("house.yaml", house)
    done = call("quantities", "house.yaml")
    assert "Floor slab, screed  ______" in done.out
    assert "at least 16 m²" in done.out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--coils", "100"), "write '100 m'"),
        (("--coils", "0 m"), "'0 m' is not a length"),
        (("--coils", "p99=100m"), "'p99' is not a pipe of house.yaml"),
        (("--coils", "=100m"), "there is no pipe"),
        (("--allowance", "5 kg"), "--allowance:"),
        (("--format", "xlsx"), "--output BOOK.xlsx"),
    ],
)
def test_a_call_that_cannot_be_meant_says_what_to_write(
    call: Calling, words: tuple[str, ...], told: str
) -> None:
    put("house.yaml", HOUSE)
    done = call("quantities", "house.yaml", *words)
    assert (done.status, done.out) == (2, "")
    assert told in done.err


def test_a_broken_design_is_refused_with_its_place(call: Calling) -> None:
    put("house.yaml", HOUSE.replace("length: 90 m", "length: 90"))
    done = call("quantities", "house.yaml")
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith("house.yaml:2")


def test_workbook_page_and_table_say_the_same(call: Calling) -> None:
    put("house.yaml", HOUSE)
    coils = ("--coils", "100m,200m")
    assert (
        call("quantities", "house.yaml", *coils, "--format", "xlsx", "--output", "q.xlsx").status
        == 0
    )
    book = CalamineWorkbook.from_filelike(io.BytesIO(Path("q.xlsx").read_bytes()))
    assert book.sheet_names == ["quantities", "coils"]
    amounts = {row[1]: row[3] for row in book.get_sheet_by_name("quantities").to_python()}
    assert amounts["Floor slab, insulation or panels of 2.5 m²·K/W"] == 25
    assert book.get_sheet_by_name("coils").to_python()[1][:4] == [1, "p16", 200, "L1, L2"]
    page = call("quantities", "house.yaml", *coils, "--format", "html").out
    table = call("quantities", "house.yaml", *coils, "--format", "csv").out
    for words in ("L1, L2", "two a loop", "UNPROVEN"):
        assert words in page
    assert "two a loop" in table
    assert "cut: L1, L2" in table


def test_who_orders_is_told_of_the_load(call: Calling) -> None:
    put("house.yaml", HOUSE)
    assert "A heavier or thicker floor changes loads" in call("quantities", "house.yaml").out


def test_a_loop_that_names_no_header_may_be_on_any_free_port(call: Calling) -> None:
    found = taken(call, house=HOUSE.replace("{header: H1, port: 3, ", "{"))
    joined = line(found, "headers", "Header H1, loops joined")
    assert (joined["amount"]["magnitude"], joined["at_least"]) == (2, True)
    cap = line(found, "headers", "Header H1, ports to cap")
    assert cap.get("amount") is None
    assert cap["missing"] == joined["missing"] == "the header of L3"


def test_pipe_of_unknown_size_may_need_more_screed(call: Calling) -> None:
    found = taken(call, house=HOUSE.replace("p12: {material: PE-RT, outside: 12 mm, ", "p12: {"))
    screed = line(found, "screed", "Floor slab, screed")
    assert (screed["amount"]["magnitude"], screed["at_least"]) == (pytest.approx(1.525), True)
    assert screed["missing"] == "the pipe's outside diameter"
    assert line(found, "screed", "Floor slab, screed's mass")["at_least"]


def test_coils_are_at_least_so_many_where_a_loop_is_in_none(call: Calling) -> None:
    found = taken(call, "--coils", "80m", house=HOUSE.replace("length: 75 m", "joints: 0"))
    coils = line(found, "pipe", "Pipe p16 (PE-RT 16 mm × 2 mm), coils")
    assert (coils["amount"]["magnitude"], coils["at_least"]) == (1, True)
    assert coils["missing"] == "a coil for L1"
    assert not line(taken(call, "--coils", "200m"), "pipe", "Pipe p12 (PE-RT 12 mm × 2 mm), coils")[
        "at_least"
    ]


def test_couplings_are_at_least_so_many_where_a_loop_does_not_state_its_joints(
    call: Calling,
) -> None:
    found = line(taken(call), "pipe", "Couplings in the floor")
    assert (found["at_least"], found["missing"]) == (True, "the joints of L1 and L3")
    every = HOUSE.replace("length: 90 m", "length: 90 m, joints: 0").replace(
        "length: 75 m", "length: 75 m, joints: 2"
    )
    found = line(taken(call, house=every), "pipe", "Couplings in the floor")
    assert (found["amount"]["magnitude"], found["at_least"]) == (3, False)


def test_a_loop_whose_room_is_not_stated_may_add_to_a_floor(call: Calling) -> None:
    found = taken(call, house=HOUSE.replace("port: 3, room: bath, ", "port: 3, "))
    for group, item in (("floor", "Floor slab, insulation"), ("screed", "Floor slab, screed")):
        own = line(found, group, item)
        assert own["at_least"]
        assert own["missing"] == "room and floor of L3"
    assert line(found, "floor", "Floor slab, insulation")["amount"]["magnitude"] == 16
