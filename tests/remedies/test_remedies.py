"""Remedies: what is proposed clears what it says, adds nothing grave, and is the least that does."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from checker.outcome.proposals import Proposal, Remedy
from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING
from checker.remedies import naming
from checker.run.batch import Plan, check
from tests.design.designs import generate
from tests.example import DESIGN, changed, reports

HOUSE = Path("example_designs/orchard-row-3-eight-mistakes.yaml")


def judged(text: str, *changes: str, remedies: bool = False) -> DesignReport:
    (report,), unreadable = check(
        [("house.yaml", text.encode())], Plan(changes=changes, remedies=remedies)
    )
    assert not unreadable
    return report


def fails(report: DesignReport) -> dict[tuple[str, str], str]:
    return {(r.rule, r.subject): r.severity for r in report.results_of("fail")}


@cache
def remedied(text: str) -> DesignReport:
    """The report with all remedies, which several findings of a design are asked of."""
    return judged(text, remedies=True)


def remedy(text: str, rule: str, subject: str) -> Remedy:
    return remedied(text).remedies[rule, subject]


@cache
def failing(text: str) -> dict[tuple[str, str], str]:
    """What fails of a design as it is; asked for each of its proposals."""
    return fails(judged(text))


def holds(text: str, own: Remedy, one: Proposal) -> None:
    """Whether a full check with the changes says what the proposal does."""
    before, after = failing(text), fails(judged(text, *one.changes))
    assert (own.rule, own.subject) not in after
    new = {name for name in after if name not in before}
    assert not [name for name in new if after[name] in HOLDING]
    assert new == {(a.rule, a.subject) for a in one.adds if not a.kind}
    for other in one.clears:
        assert (other.rule, other.subject) in before
        assert (other.rule, other.subject) not in after


@pytest.fixture(scope="module", name="house")
def eight_mistakes() -> tuple[str, DesignReport]:
    text = HOUSE.read_text("utf-8")
    return text, judged(text, remedies=True)


def test_every_grave_fail_of_the_example_house_is_answered(house: tuple[str, DesignReport]) -> None:
    text, report = house
    grave = {name for name, severity in fails(report).items() if severity in HOLDING}
    assert {*report.remedies} == grave
    for own in report.remedies.values():
        assert own.proposals or own.says
        for one in own.proposals:
            holds(text, own, one)


def test_proposals_are_numbered_through_the_gravest_first(house: tuple[str, DesignReport]) -> None:
    _, report = house
    numbers = [one.number for own in report.remedies.values() for one in own.proposals]
    assert sorted(numbers) == [*range(1, len(numbers) + 1)]
    critical = report.remedies["test-pressure", "pressure_tests.test of H2"]
    assert [one.number for one in critical.proposals] == [1]


@pytest.mark.parametrize(
    ("rule", "subject", "change"),
    [
        ("room-heat", "rooms.study", ("loops.L5.spacing=200 mm", "loops.L5.length=100 m")),
        ("covering-resistance", "rooms.small bedroom",
         ("rooms.small bedroom.covering.resistance=0.15 m²·K/W",)),
        ("insulation", "floors.upstairs", ("floors.upstairs.insulation=0.75 m²·K/W",)),
        ("header-port-clash", "loops.L3", ("loops.L3.port=4",)),
        ("test-pressure", "pressure_tests.test of H2", ("pressure_tests.test of H2.pressure=4 bar",)),
    ],
)  # fmt: skip
def test_the_least_that_does_is_proposed(
    house: tuple[str, DesignReport], rule: str, subject: str, change: tuple[str, ...]
) -> None:
    _, report = house
    assert change in [one.changes for one in report.remedies[rule, subject].proposals]


def test_a_loop_is_split_with_ports_lengths_and_areas(house: tuple[str, DesignReport]) -> None:
    text, report = house
    own = report.remedies["loop-length", "loops.L1"]
    (split,) = [one for one in own.proposals if "split" in one.what]
    assert split.changes[:2] == ("loops.L1.length=58 m", "loops.L1.area=7.2 m²")
    assert split.changes[2].startswith("loops.L1 b={header: H1, port: 4, room: living, ")
    # Both halves carry the feeds there and back: (106 − 10) / 2 + 10.
    assert "area: 7.2 m², length: 58 m, feeds: 10 m" in split.changes[2]
    assert judged(text, *split.changes).verdict == "hold"  # of the other mistakes


def test_what_contradicts_is_named(house: tuple[str, DesignReport]) -> None:
    _, report = house
    own = report.remedies["screed-temperature", "loops.L6"]
    assert own.proposals == ()
    assert ("room-heat", "rooms.garden room") in [(a.rule, a.subject) for a in own.against]
    assert "room-heat in garden room" in own.says


def test_the_supply_is_found_to_a_tenth_and_the_first_heating_follows() -> None:
    text = changed(
        ("supply: 42 °C\n", "supply: 36 °C\n"), ("supply: 42 °C, hold", "supply: 36 °C, hold")
    )
    text = text.replace("stage: installed", "stage: design").replace("700 W", "860 W")
    own = remedy(text, "room-heat", "rooms.kitchen")
    supplies = [one for one in own.proposals if one.changes[0].startswith("plant.supply=")]
    assert supplies
    found = float(supplies[0].changes[0].split("=")[1].split()[0])
    assert f"heat_up.steps[2].supply={found:g} °C" in supplies[0].changes
    holds(text, own, supplies[0])
    # Brute force: every tenth from 36 °C to well over it, judged together.
    tenths = range(361, round(found * 10) + 20)
    assert text.count("supply: 36 °C") == 2
    tried = reports(text.replace("supply: 36 °C", f"supply: {one / 10:g} °C") for one in tenths)
    kept = [("room-heat", "rooms.kitchen") not in fails(report) for report in tried]
    assert kept == [one / 10 >= found for one in tenths]


def test_a_design_in_feet_is_answered_in_its_own_units() -> None:
    text = Path("example_designs/mill-lane-9-feet-and-fahrenheit.yaml").read_text("utf-8")
    sound = "spacing: 9 in, area: 141 ft², length: 208 ft"
    assert sound in text
    text = text.replace(sound, "spacing: 6 in, area: 141 ft², length: 302 ft")
    own = remedy(text, "loop-length", "loops.great room 1")
    assert own.proposals
    for one in own.proposals:
        assert not [words for words in one.changes if re.search(r"\d (mm|m|°C)$", words)], one
        holds(text, own, one)


def test_what_is_done_already_is_not_proposed() -> None:
    text = DESIGN.replace("pressure: 4 bar\n", "pressure: 3 bar\n")
    own = remedy(text, "test-pressure", "pressure_tests.first")
    assert own.proposals == ()
    assert own.says.startswith("No value in the design can be changed")


def test_a_floor_by_its_layers_is_answered() -> None:
    text = Path("example_designs/millrace-close-7-dry-boards.yaml").read_text("utf-8")
    text = text.replace("heat_load: 420 W", "heat_load: 560 W")
    own = remedy(text, "room-heat", "rooms.study")
    assert own.proposals
    for one in own.proposals:
        holds(text, own, one)


def test_a_sound_design_has_none() -> None:
    assert judged(DESIGN.replace("stage: installed", "stage: design"), remedies=True).remedies == {}


@pytest.mark.parametrize("stronger", ["two", "2", "constant 4 m", "no"])
def test_a_weak_pump_with_named_curves_is_set_to_another(stronger: str) -> None:
    weak = "[[0 l/min, 8 kPa], [5 l/min, 5 kPa], [10 l/min, 1 kPa]]"
    curves = rf"pump: {{curves: {{low: {weak}, '{stronger}': \1}}, setting: low}}"
    text = re.sub(r"pump: \{curve: (\[\[.*?\]\])\}", curves, generate(3, loops=4))
    own = remedy(text, "pump-duty", "headers.H1")
    (one,) = [each for each in own.proposals if "pump.setting" in each.changes[0]]
    assert one.what == f"pump set to {stronger} instead of low at header H1"
    holds(text, own, one)


def test_a_pump_that_serves_two_headers_is_changed_where_it_is_stated() -> None:
    weak = "[[0 l/min, 8 kPa], [10 l/min, 5 kPa], [20 l/min, 1 kPa]]"
    pumps = iter([f"pump: {{curve: {weak}}}", "pump: {with: H1}"])
    text = re.sub(r"pump: \{curve: \[\[.*?\]\]\}", lambda _: next(pumps), generate(3, loops=4))
    for header, at in (("H1", "at header H1"), ("H2", "at header H1, which serves header H2 too")):
        own = remedy(text, "pump-duty", f"headers.{header}")
        (one,) = [each for each in own.proposals if "pump.curve" in each.changes[0]]
        assert one.changes[0].startswith("headers.H1.pump.curve=[[")
        assert f" % of the speed {at}: " in one.what
        holds(text, own, one)


def test_a_pipe_that_nothing_is_known_to_limit_clears_no_length() -> None:
    text = generate(3, loops=4)
    text = re.sub(r"(L1: .*?length: )[\d.]+", r"\g<1>150", text)
    own = remedy(text, "loop-length", "loops.L1")
    assert not [one for one in own.proposals if " 25 " in one.what or " 25 × " in one.what]


@pytest.mark.parametrize(
    ("records", "words"),
    [
        (["loops.L3"], "in loop L3"),
        (["loops.L3", "loops.L4", "loops.L5"], "in loops L3, L4 and L5"),
        (["loops.L2.parts[1]"], "in part 1 of loop L2"),
        (["loops.L2.parts[1]", "loops.L4"], "in part 1 of loop L2 and loop L4"),
        (["headers.H1"], "at header H1"),
        (["rooms.small bedroom"], "in small bedroom"),
        (["rooms.1.03"], "in room 1.03"),
        (["floors.slab"], "on floor slab"),
        (["pressure_tests.first"], "in the pressure test 'first'"),
        (["heat_up.steps[3]"], "of step 3 of the first heating"),
        (["design"], "of the design"),
    ],
)
def test_records_are_named_as_on_site(records: list[str], words: str) -> None:
    assert naming.where(records) == words
