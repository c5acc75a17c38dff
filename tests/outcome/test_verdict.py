"""The verdict, what it rests on, and what people answered who looked."""

from __future__ import annotations

import pytest
from msgspec import UNSET

from checker.outcome.report import DesignReport, Records
from checker.outcome.results import Result
from checker.run.batch import Plan
from tests.example import DESIGN, SEEN, SOUND, changed, report, result

MIXING = ("mixing-needed", "design")


def design(*results: Result) -> DesignReport:
    """A design with these results."""
    return DesignReport("a.yaml", "A", "", (), Records(results))


def one(kind: str, severity: str = "major", rule: str = "r", **members: object) -> Result:
    """A result of a rule."""
    return Result(1, 1, "loops.L1", "", rule, kind, severity, "T", **members)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("results", "verdict"),
    [
        ([one("pass")], "release"),
        ([one("fail", "minor"), one("open", "minor")], "release"),
        ([one("fail", "major"), one("open", "critical")], "hold"),
        ([one("open", "major")], "unproven"),
        ([one("open", "critical")], "unproven"),
        ([one("review", "critical")], "unproven"),
        ([one("review", "major")], "release"),
        ([one("review", "critical", due="laid")], "release"),
        ([one("notApplicable", "critical", due="laid")], "release"),
    ],
)
def test_the_verdict(results: list[Result], verdict: str) -> None:
    assert design(*results).verdict == verdict


def test_a_design_without_a_loop_is_never_released() -> None:
    made = design(one("pass"))
    made.loopless = True
    assert made.verdict == "unproven"
    assert report("design: 1\nloops: {}\n").loopless


def test_how_many_rules_are_judged() -> None:
    made = design(
        one("pass", rule="a"),
        one("open", rule="a"),
        one("fail", rule="b"),
        one("review", rule="c"),
        one("review", rule="d", due="laid"),
        one("notApplicable", rule="e"),
    )
    assert (made.judged.done, made.judged.of) == (1, 3)


def test_an_answer_stays_visible_and_proves() -> None:
    assert report(SOUND).verdict == "release"
    found = result(report(SOUND), *MIXING)
    assert found.kind == "review"
    assert found.answer is not UNSET
    assert (found.answer.result, found.answer.by) == ("as wanted", "A. Fitter")
    assert "Looked at by A. Fitter, 2026-04-20: as wanted." in found.message
    assert report(SOUND.replace(SEEN, "")).verdict == "unproven"


def test_not_as_wanted_is_a_fail() -> None:
    found = report(SOUND.replace("result: as wanted", "result: not as wanted"))
    assert result(found, *MIXING).kind == "fail"
    assert found.verdict == "hold"


@pytest.mark.parametrize(
    ("values", "again"),
    [
        ("{plant.primary_supply: 55 °C, value: 131 °F}", ""),
        ("{plant.primary_supply: 60 °C}", "plant.primary_supply was 60 °C and is 55 °C"),
        ("{plant.primry_supply: 60 °C}", "'plant.primry_supply' is no value of a design"),
        ("{value: 60 l}", "value: "),
    ],
)
def test_an_answer_to_another_question_is_asked_again(values: str, again: str) -> None:
    found = report(SOUND.replace("on: 2026-04-20}", f"on: 2026-04-20, values: {values}}}"))
    asked = result(found, *MIXING)
    assert asked.answer is not UNSET
    if again:
        assert again in str(asked.answer.again)
        assert "To be looked at again" in asked.message
    else:
        assert asked.answer.again is UNSET
    assert found.verdict == ("unproven" if again else "release")


def test_a_leak_test_is_answered_by_a_further_test_only() -> None:
    seen = "  - {rule: test-tight, subject: pressure_tests.first, result: as wanted, by: A, on: 2026-04-20}\n"
    found = report(DESIGN + SEEN + seen)
    assert result(found, "test-tight", "pressure_tests.first").answer is UNSET
    assert found.verdict == "unproven"
    assert "answered by a further test" in found.asides[0]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (("rule: mixing-needed", "rule: mixing-neded"), "did you mean 'mixing-needed'?"),
        (("subject: design", "subject: loops.L1"), "judges no 'loops.L1'"),
        (("rule: mixing-needed", "rule: pump-duty"), "judges no 'design'"),
        (
            ("rule: mixing-needed, subject: design", "rule: loop-length, subject: loops.L1"),
            "has nothing to look at",
        ),
    ],
)
def test_an_answer_that_answers_nothing_is_told(change: tuple[str, str], why: str) -> None:
    found = report(changed(change, text=SOUND))
    assert found.verdict == "unproven"
    assert why in found.asides[0]


def test_the_answers_of_a_sender_do_not_count() -> None:
    assert report(SOUND, plan=Plan(accepted=())).verdict == "unproven"


def test_a_fail_within_what_the_method_can_tell_is_minor() -> None:
    # At the flow of the design the header takes 16 kPa; the pump is 1 % and 10 % short of that.
    drop = result(report(SOUND), "pump-duty", "headers.H1").limit
    assert drop is not UNSET
    assert drop.at_least is not UNSET
    wanted = drop.at_least.magnitude
    assert wanted is not None
    for share, severity in ((0.99, "minor"), (0.9, "major")):
        curve = (
            f"curve: [[0 l/min, {wanted * share:.4f} kPa], [40 l/min, {wanted * share:.4f} kPa]]"
        )
        old = "curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]"
        found = result(report(changed((old, curve), text=SOUND)), "pump-duty", "headers.H1")
        assert (found.kind, found.severity) == ("fail", severity)
        assert ("within the 3 % that the method can tell" in found.message) == (severity == "minor")
