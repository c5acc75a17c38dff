"""The verdict, what it rests on, and what people answered who looked."""

from __future__ import annotations

import pytest
from msgspec import UNSET

from checker.outcome.report import DesignReport, Records
from checker.outcome.results import Result
from checker.run.batch import Plan, check
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
    assert "Reviewed by A. Fitter, 2026-04-20: as wanted." in found.message
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
        ("{plant.primry_supply: 60 °C}", "'plant.primry_supply' is not a value of a design"),
        ("{value: 60 l}", "value: "),
    ],
)
def test_an_answer_to_another_question_is_asked_again(values: str, again: str) -> None:
    found = report(SOUND.replace("on: 2026-04-20}", f"on: 2026-04-20, values: {values}}}"))
    asked = result(found, *MIXING)
    assert asked.answer is not UNSET
    if again:
        assert again in str(asked.answer.again)
        assert "To be reviewed again" in asked.message
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
            "has nothing to review",
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


@pytest.mark.parametrize(
    "by", ["''", "'?'", "' - '", "unknown", "n/a", "TBC", "Nobody", "not yet", "Pending"]
)
def test_an_answer_by_nobody_is_refused(by: str) -> None:
    text = SOUND.replace("by: A. Fitter", f"by: {by}")
    _, (refused,) = check([("house.yaml", text.encode())])
    assert "seen[1].by" in refused.message


@pytest.mark.parametrize("by", ["Nina", "李", "A"])
def test_an_answer_by_anybody_counts(by: str) -> None:
    assert report(SOUND.replace("by: A. Fitter", f"by: {by}")).verdict == "release"


def test_an_answer_older_than_the_design_is_asked_again() -> None:
    """Unless it says what it was about, and that is as it was."""
    older = SOUND.replace("on: 2026-04-20}", "on: 2026-03-11}")
    found = report(older)
    assert found.verdict == "unproven"
    answer = result(found, *MIXING).answer
    assert answer is not UNSET
    assert "it is older than the design (2026-03-12)" in str(answer.again)
    same = older.replace(
        "on: 2026-03-11}", "on: 2026-03-11, values: {plant.primary_supply: 55 °C}}"
    )
    assert report(same).verdict == "release"
    assert report(SOUND.replace("on: 2026-04-20}", "on: 2026-03-12}")).verdict == "release"


def test_no_code_at_all_is_refused() -> None:
    """With none, no standard's limit would count, and a floor of 38 °C would be released."""
    text = SOUND.replace("plant:\n", "codes: []\nplant:\n", 1)
    _, (refused,) = check([("house.yaml", text.encode())])
    assert refused.message == "codes: one code at least is expected here, or leave the key out."


def test_a_room_that_wants_no_heat_leaves_nothing_open() -> None:
    one = report(changed(("heat_load: 700 W", "heat_load: 0 W"), text=SOUND))
    assert result(one, "room-heat", "rooms.kitchen").kind == "notApplicable"
    assert one.verdict == "release"


def test_loads_that_are_all_zero_are_taken_for_not_filled_in() -> None:
    loads = ("heat_load: 700 W", "heat_load: 0 W"), ("heat_load: 400 W", "heat_load: 0 W")
    found = report(changed(*loads, text=SOUND))
    assert result(found, "room-heat", "rooms.kitchen").kind == "open"
    assert found.verdict == "unproven"


def test_antifreeze_of_unknown_strength_is_not_taken_to_hold() -> None:
    """At -3 °C outside: propylene glycol of 10.3 % freezes there (Melinder's properties)."""
    glycol = ("fluid: {kind: water}", "fluid: {kind: propylene glycol}")
    found = report(changed(glycol, text=SOUND))
    frost = result(found, "frost-protection", "design")
    assert frost.kind == "open"
    assert "It passes from 10.3 % on." in frost.message
    assert found.verdict == "unproven"


UPPER = """\
  upper:
    construction: layered
    below: heated
    insulation: 1 m²·K/W
    layers:
      - {material: gypsum fibre board, thickness: 20 mm, conductivity: 0.32 W/(m·K)}
      - {material: insulation board, thickness: 30 mm, conductivity: 0.035 W/(m·K), pipe_axis: 8.2 mm, plate: {thickness: 0.5 mm, width: 120 mm, conductivity: 200 W/(m·K)}}
rooms:
"""


def test_a_dry_floor_beside_one_in_screed_leaves_the_header_s_test_judged() -> None:
    """Loop 2 lies dry on the header that is tested before the screed over loop 1."""
    dry = changed(
        ("rooms:\n", UPPER),
        ("room: bath, floor: slab", "room: bath, floor: upper"),
        ("spacing: 100 mm, area: 7 m², length: 80 m", "spacing: 150 mm, area: 7 m², length: 57 m"),
        text=SOUND,
    )
    found = report(dry)
    for rule in ("test-before-screed", "test-kept-on"):
        assert result(found, rule, "pressure_tests.first").kind == "pass"
    assert found.verdict == "release"
    late = report(dry.replace("tested_on: 2026-04-02", "tested_on: 2026-04-07"))
    assert result(late, "test-before-screed", "pressure_tests.first").kind == "fail"


def test_a_plant_without_a_mixing_valve_can_say_so() -> None:
    """Water that is as warm before the header as in it is not mixed, and nothing is asked."""
    silent = report(changed(("  primary_supply: 55 °C\n", ""), text=SOUND.replace(SEEN, "")))
    asked = result(silent, *MIXING)
    assert asked.kind == "open"
    assert "without a mixing valve, write the supply again" in asked.message
    direct = report(changed(("primary_supply: 55 °C", "primary_supply: 42 °C"), text=SOUND))
    assert result(direct, *MIXING).kind == "notApplicable"
