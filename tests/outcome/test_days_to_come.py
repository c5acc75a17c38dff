"""What is recorded of a day after that of the check has not happened, and is no yes."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from msgspec import UNSET

from checker import check
from checker.outcome.results import Measure, Result
from checker.run.plan import Plan, newest_day
from tests.example import report, result, sound_but

TODAY = date(2026, 11, 29)
LAID, TESTED, HEATED = "laid_on: 2026-04-05", "tested_on: 2026-04-02", "started_on: 2026-04-28"
ANSWERED = "on: 2026-04-20"
TO_COME = (TESTED, "tested_on: 2027-04-02"), (LAID, "laid_on: 2027-04-05")
HEATED_LATER = (HEATED, "started_on: 2027-05-28")
RULES = {
    "test-dated": "pressure_tests.first",
    "screed-dated": "floors.slab",
    "heat-up-dated": "design",
}


def stage(name: str) -> tuple[str, str]:
    return "stage: installed", f"stage: {name}"


def found(*changes: tuple[str, str], today: date | None = TODAY) -> tuple[str, dict[str, Result]]:
    """The verdict, and what each of these rules says."""
    made = report(sound_but(*changes), plan=Plan(today=today))
    return made.verdict, {rule: result(made, rule, of) for rule, of in RULES.items()}


@pytest.mark.parametrize("today", [TODAY, date(2026, 5, 5), None], ids=str)
def test_a_sound_design_is_released_on_the_day_that_its_heating_ends(today: date | None) -> None:
    verdict, rules = found(today=today)
    assert verdict == "release"
    assert {one.kind for one in rules.values()} == {"notApplicable"}


def test_a_heating_that_still_goes_on_is_not_done() -> None:
    verdict, rules = found(today=date(2026, 5, 4))  # it starts on 28 April and takes seven days
    assert verdict == "hold"
    assert (rules["heat-up-dated"].kind, rules["heat-up-dated"].severity) == ("fail", "major")
    assert "ends 1 day after the day of this check" in rules["heat-up-dated"].message


@pytest.mark.parametrize(
    ("rule", "change", "days"),
    [("test-dated", TO_COME[0], 124), ("screed-dated", TO_COME[1], 127)],
)
def test_a_record_of_a_day_to_come_holds(rule: str, change: tuple[str, str], days: int) -> None:
    verdict, rules = found(change)
    assert verdict == "hold"
    assert (rules[rule].kind, rules[rule].severity) == ("fail", "critical")
    assert rules[rule].value == Measure(days, "day")
    assert f"{days} days after" in rules[rule].message


def test_what_is_planned_may_lie_ahead() -> None:
    readings = sound_but().index("    readings:"), sound_but().index("heat_up:")
    no_readings = (sound_but()[slice(*readings)], "")
    for name, changes in {
        "design": (*TO_COME, HEATED_LATER, no_readings),
        "laid": ((TESTED, "tested_on: 2026-11-20"), (LAID, "laid_on: 2026-12-05"), HEATED_LATER),
        "screeded": (HEATED_LATER,),
    }.items():
        verdict, rules = found(stage(name), *changes)
        assert verdict == "release", name
        assert {one.kind for one in rules.values()} == {"notApplicable"}, name


def test_without_a_stage_screed_and_heating_are_plans_and_readings_are_not() -> None:
    _, rules = found((", stage: installed", ""), *TO_COME, HEATED_LATER)
    kinds = {rule: one.kind for rule, one in rules.items()}
    assert kinds["test-dated"] == "fail"
    assert kinds["screed-dated"] == kinds["heat-up-dated"] == "notApplicable"


def test_without_a_day_of_the_check_nothing_lies_ahead() -> None:
    verdict, rules = found(*TO_COME, HEATED_LATER, today=None)
    assert verdict == "release"
    assert {one.kind for one in rules.values()} == {"notApplicable"}


def test_an_answer_of_a_day_to_come_is_none() -> None:
    text = sound_but((ANSWERED, "on: 2026-11-30"))
    made = report(text, plan=Plan(today=TODAY))
    asked = result(made, "mixing-needed", "design")
    assert made.verdict == "unproven"
    assert (asked.kind, asked.answer) == ("review", UNSET)
    (aside,) = made.asides
    assert aside.endswith("seen[1]: its day is after that of this check")
    assert report(text, plan=Plan(today=date(2026, 11, 30))).verdict == "release"


def test_an_answer_of_a_day_to_come_takes_back_none_and_warns_all_the_same() -> None:
    earlier = (
        "{rule: mixing-needed, subject: design, result: as wanted, by: A. Fitter, on: 2026-04-20}"
    )
    for so, verdict in {"as wanted": "release", "not as wanted": "hold"}.items():
        later = earlier.replace("as wanted", so).replace("2026-04-20", "2026-11-30")
        text = sound_but((f"  - {earlier}", f"  - {earlier}\n  - {later}"))
        assert report(text, plan=Plan(today=TODAY)).verdict == verdict


def test_a_design_of_a_day_to_come_says_so() -> None:
    text = sound_but(stage("design"), ("designed_on: 2026-03-12", "designed_on: 2026-11-30"))
    told = "the day of the design, 2026-11-30, is after that of this check; see whether it is right"
    assert told in report(text, plan=Plan(today=TODAY)).remarks
    for today in (date(2026, 11, 30), None):
        assert told not in report(text, plan=Plan(today=today)).remarks


def test_the_library_takes_the_day_of_the_computer_or_of_the_call() -> None:
    text = sound_but((ANSWERED, "on: 2100-01-01"))
    assert check(text).verdicts == {"design.yaml": "unproven"}
    assert check(text, today=date(2100, 1, 1)).verdicts == {"design.yaml": "release"}


def test_on_a_server_a_day_is_to_come_while_it_has_begun_nowhere() -> None:
    # Each day begins first at UTC+14 (Time Zone Database, Pacific/Kiritimati).
    for hour, newest in {9: TODAY, 10: date(2026, 11, 30), 23: date(2026, 11, 30)}.items():
        assert newest_day(now=datetime(2026, 11, 29, hour, 59, tzinfo=UTC)) == newest
    assert newest_day(TODAY, datetime(2026, 12, 24, tzinfo=UTC)) == TODAY


@pytest.mark.parametrize(("zone", "hours"), [("GMT", 0), ("CET", 1), ("NZDT", 13), ("SST", -11)])
def test_elsewhere_the_day_is_that_of_the_computer(zone: str, hours: int) -> None:
    there = timezone(timedelta(hours=hours), zone)
    for hour in (0, 12, 23):
        assert newest_day(now=datetime(2026, 11, 29, hour, 59, tzinfo=there)) == TODAY


def test_a_test_of_a_site_that_has_the_next_day_already_has_happened() -> None:
    text = sound_but(
        stage("laid"),
        (TESTED, "tested_on: 2026-11-30"),
        (LAID, "laid_on: 2026-12-05"),
        HEATED_LATER,
        (ANSWERED, "on: 2026-11-30"),
    )
    assert report(text, plan=Plan(today=TODAY)).verdict == "hold"
    there = Plan(today=TODAY, newest_day=date(2026, 11, 30))
    made = report(text, plan=there)
    assert (made.verdict, made.asides) == ("release", ())
    assert made.remarks == (
        "records up to 2026-11-30 count as done: this computer's clock runs on UTC, and that day "
        "has begun somewhere",
    )
    assert report(sound_but(), plan=there).remarks == ()
    later = text.replace("2026-11-30", "2026-12-01")
    assert report(later, plan=there).verdict == "hold"
