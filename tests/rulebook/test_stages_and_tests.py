"""Rules of records: what each stage asks of a whole design, and pressure tests as they were read."""

from __future__ import annotations

import pytest
from msgspec import UNSET

from checker.compute.meanings import of_plan
from checker.rulebook.model import STAGES
from checker.run.rules_in_force import rulebook
from tests.example import DESIGN, changed, computed, report, result
from tests.rulebook.test_rules_on_designs import H1, L1, TEST

READINGS = (
    "      - {at: 0 min, pressure: 4.02 bar, temperature: 17 °C}\n"
    "      - {at: 20 min, pressure: 4.00 bar, temperature: 17 °C}\n"
)


def test_plans_are_judged_at_the_design_stage_and_records_are_not_asked_for() -> None:
    planned = changed(("stage: installed", "stage: design"), ("    readings:\n" + READINGS, ""))
    found = report(changed(("balance: {L1: {flow: 1.5 l/min}}\n", ""), text=planned))
    for rule in ("test-drop", "test-reached", "test-tight"):
        one = result(found, rule, TEST)
        assert (one.kind, one.due) == ("notApplicable", "laid"), rule
        assert "no readings are given" in one.message
    assert result(found, "balance-recorded", L1).due == "installed"
    for rule, subject in (
        ("test-pressure", TEST),
        ("test-hold", TEST),
        ("test-before-screed", TEST),
        ("heat-up-start", "floors.slab"),
        ("heat-up-steps", "design"),
        ("heat-up-temperature", "floors.slab"),
    ):
        assert result(found, rule, subject).kind == "pass", rule


@pytest.mark.parametrize(
    ("rule", "subject", "change"),
    [
        ("test-hold", TEST, ("hold: 20 min", "hold: 5 min")),
        ("heat-up-start", "floors.slab", ("started_on: 2026-04-28", "started_on: 2026-04-08")),
        ("heat-up-temperature", "floors.slab", ("supply: 42 °C, hold", "supply: 62 °C, hold")),
        ("test-before-screed", TEST, ("tested_on: 2026-04-02", "tested_on: 2026-04-06")),
    ],
)
def test_a_plan_that_breaks_a_limit_holds_the_design(
    rule: str, subject: str, change: tuple[str, str]
) -> None:
    found = report(changed(("stage: installed", "stage: design"), change))
    assert result(found, rule, subject).kind == "fail"
    assert found.verdict == "hold"


@pytest.mark.parametrize("stage", STAGES)
def test_a_look_counts_from_the_stage_that_asks_for_it(stage: str) -> None:
    found = report(changed(("stage: installed", f"stage: {stage}")))
    one = result(found, "mixing-needed", "design")
    early = STAGES.index(stage) < STAGES.index("screeded")
    assert (one.kind, one.due) == ("review", "screeded" if early else UNSET)


@pytest.mark.parametrize("stage", STAGES)
def test_each_stage_asks_what_earlier_ones_do_and_more(stage: str) -> None:
    """Of a design with nothing in it every rule that is due is open, and no other."""
    found = report(f"design: 1\nproject: {{stage: {stage}}}\n")
    ruled = {
        rule.id: rule.stage
        for rule in rulebook().rules
        if any(limit.document.code in ("", *found.codes) for limit in rule.limits)
        and not any(condition.stated for condition in rule.applies if rule.subject == "design")
        and not of_plan(rule.subject, rule.value)
    }
    due = {rule for rule, first in ruled.items() if first in STAGES[: STAGES.index(stage) + 1]}
    asked = {r.rule for r in found.results if r.kind in ("open", "review") and not r.due}
    assert asked == due
    for one in found.results:
        assert one.rule in asked or one.rule not in ruled or one.due == ruled[one.rule]


def test_without_a_stage_it_is_the_design_that_is_judged() -> None:
    found = report(changed(("stage: installed, ", "")))
    design = report(changed(("stage: installed", "stage: design")))
    assert [one.kind for one in found.results] == [one.kind for one in design.results]


def read(*readings: tuple[str, str, str]) -> str:
    """The test's readings: minutes, bar and °C of each."""
    return "".join(
        f"      - {{at: {at} min, pressure: {pressure} bar, temperature: {temperature} °C}}\n"
        for at, pressure, temperature in readings
    )


@pytest.mark.parametrize(
    ("readings", "kind", "words"),
    [
        ([("0", "4.02", "17"), ("20", "4.00", "17")], "pass", "0.02 bar"),
        # A rise is no loss.
        ([("0", "4.00", "17"), ("20", "4.10", "17")], "pass", "-0.1 bar"),
        # One reading, or all at one time, shows no fall at all.
        ([("0", "4.00", "17")], "open", "no reading is later than the first"),
        ([("20", "4.00", "17"), ("20", "3.00", "17")], "open", "no reading is later"),
        # A dip is a loss, whatever the gauge says at the end, and in whatever order it is noted.
        ([("0", "4.05", "17"), ("10", "1.0", "17"), ("20", "4.0", "17")], "fail", "3.05 bar"),
        ([("10", "1.0", "17"), ("20", "4.0", "17"), ("0", "4.05", "17")], "fail", "3.05 bar"),
        # The stretch of a plastic pipe makes some 0.3 bar of each kelvin: 0.1 K can be taken out
        # (by less than 0.05 bar), 2 K cannot, be the fall small or large.
        ([("0", "4.02", "17"), ("20", "4.00", "17.1")], "pass", "bar"),
        ([("0", "4.02", "17"), ("20", "3.70", "15")], "open", "the temperature changed too much"),
        ([("0", "4.02", "17"), ("20", "3.45", "19")], "open", "the temperature changed too much"),
        ([("0", "4.0", "17"), ("9", "3.9", "19"), ("20", "4.0", "17")], "open", "changed too much"),
    ],
)
def test_a_fall_is_judged_only_at_a_settled_temperature(
    readings: list[tuple[str, str, str]], kind: str, words: str
) -> None:
    found = result(report(changed((READINGS, read(*readings)))), "test-drop", TEST)
    assert found.kind == kind
    assert words in found.message


def test_air_follows_its_law_whatever_the_temperature() -> None:
    # Ideal gas: 4.02 bar at 17 °C is (4.02 + 1.01325)·288.15/290.15 − 1.01325 = 3.9853 bar at
    # 15 °C, so that a reading of 3.70 bar has lost 0.2853 bar.
    readings = read(("0", "4.02", "17"), ("20", "3.70", "15"))
    found = report(changed((READINGS, readings), ("medium: water", "medium: air")))
    assert result(found, "test-drop", TEST).kind == "fail"
    assert computed(found, TEST, "corrected_drop") == pytest.approx(0.2853, abs=1e-4)
    nameless = report(changed((READINGS, readings), ("    medium: water\n", "")))
    assert result(nameless, "test-drop", TEST).missing == f"{TEST}: medium is not given"


AFTER = """\
  again:
    header: H1
    medium: water
    pressure: 4 bar
    after_screed: true
    tested_on: 2026-04-27
heat_up:
"""


def test_a_further_test_after_the_screed_is_no_late_first_one() -> None:
    found = report(changed(("heat_up:\n", AFTER)))
    for rule in ("test-before-screed", "test-kept-on"):
        assert result(found, rule, "pressure_tests.again").kind == "notApplicable"
    late = report(changed(("heat_up:\n", AFTER.replace("    after_screed: true\n", ""))))
    assert result(late, "test-before-screed", "pressure_tests.again").kind == "fail"


def test_a_test_after_the_screed_alone_is_no_test() -> None:
    first = DESIGN.index("  first:\n"), DESIGN.index("heat_up:\n")
    found = report(DESIGN[: first[0]] + AFTER + DESIGN[first[1] + len("heat_up:\n") :])
    assert result(found, "header-tested", H1).kind == "fail"
