"""Findings that come of a supply hotter than any room needs are told under that one."""

from __future__ import annotations

import pytest

from checker.outcome.report import DesignReport
from checker.outcome.results import Result, Under
from checker.run.batch import Plan, check
from tests.example import computed, report

HOUSE = """\
design: 1
project: {{stage: screeded, designed_on: 2026-03-12}}
plant: {{source: heat pump, supply: {supply}, drop: 6 K, fluid: {{kind: water}}{flows}}}
pipes: {{p16: {{material: PE-RT, outside: 16 mm, wall: 2 mm}}}}
floors:
  slab: {{construction: wet, screed: {{material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K)}}, insulation: 2.5 m²·K/W, below: ground}}
rooms:
  living: {{use: living, temperature: 20 °C, area: 15 m², heat_load: 900 W, covering: {{material: tile, resistance: 0.02 m²·K/W}}}}
  closet: {{use: other, temperature: 20 °C, area: 3 m², heat_load: {closet} W, covering: {{material: tile, resistance: 0.02 m²·K/W}}}}
headers: {{H1: {{flow_setters: {{least: {least}, most: 5 l/min}}}}}}
loops:
  L1: {{header: H1, room: living, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, spacing: 150 mm, area: 14 m², length: 96 m, feeds: 2 m}}
  L2: {{header: H1, room: closet, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, spacing: 150 mm, area: 2.5 m², length: 19 m, feeds: 2 m}}
"""


def house(
    supply: str = "46 °C", least: str = "1 l/min", closet: int = 40, flows: str = ""
) -> DesignReport:
    return report(HOUSE.format(supply=supply, least=least, closet=closet, flows=flows))


def of(found: DesignReport, rule: str, subject: str) -> Result:
    (one,) = (r for r in found.results if (r.rule, r.subject) == (rule, subject))
    return one


def test_what_is_gone_with_a_cooler_supply_is_told_under_it() -> None:
    found = house()
    assert of(found, "supply-fits", "design").kind == "fail"
    setter = of(found, "loop-flow-setting", "loops.L1")
    assert setter.kind == "fail"
    assert setter.under == Under("supply-fits", "design")
    assert setter.message.endswith("It comes of supply-fits, and is gone with it.")
    assert setter.remedy == ""


def test_it_is_gone_indeed() -> None:
    found = house()
    cooler = house(f"{computed(found, 'loops.L1', 'needed_supply'):.6f} °C")
    assert of(cooler, "supply-fits", "design").kind == "pass"
    for one in found.results:
        if one.under:
            assert of(cooler, one.rule, one.subject).kind != "fail"


def test_what_stays_with_a_cooler_supply_stands_beside_it() -> None:
    """A closet of 40 W needs so little water at any supply."""
    found = house()
    own = of(found, "loop-flow-setting", "loops.L2")
    assert own.kind == "fail"
    assert not own.under
    assert own.remedy
    cooler = house(f"{computed(found, 'loops.L1', 'needed_supply'):.6f} °C")
    assert of(cooler, "loop-flow-setting", "loops.L2").kind == "fail"


def test_with_a_supply_that_fits_nothing_is_under_it() -> None:
    assert not any(one.under for one in house("36 °C", least="2.5 l/min").results)


def test_flows_by_drop_know_no_such_cause() -> None:
    found = house(flows=", flows: by drop")
    assert of(found, "supply-fits", "design").kind == "notApplicable"
    assert not any(one.under for one in found.results)


@pytest.mark.parametrize("supply", ["40 °C", "46 °C", "52 °C"])
def test_every_rule_still_gives_one_result_for_each_subject(supply: str) -> None:
    found = house(supply)
    keys = [(one.rule, one.subject) for one in found.results]
    assert len(keys) == len(set(keys))


def test_pages_draw_what_a_header_takes_over_the_supply() -> None:
    text = HOUSE.format(supply="46 °C", least="1 l/min", closet=40, flows="")
    text = text.replace("headers: {H1: {", "headers: {H1: {own_loss: 5 kPa, ")
    plan = Plan(second_opinion=True)
    (found,), _ = check([("house.yaml", text.encode())], plan, with_given=True)
    (one,) = found.supplies
    assert (one.header, one.supply[-1]) == ("H1", 46)
    assert one.supply[0] == pytest.approx(computed(found, "loops.L1", "needed_supply"), abs=1e-3)
    assert one.flow[-1] == pytest.approx(computed(found, "headers.H1", "flow"))
    assert one.loss[-1] == pytest.approx(computed(found, "headers.H1", "pressure_drop"))
    # More supply means less flow, and so less loss; no pump is stated.
    assert [*one.flow] == sorted(one.flow, reverse=True)
    assert [*one.loss] == sorted(one.loss, reverse=True)
    assert all(head != head for head in one.head)
