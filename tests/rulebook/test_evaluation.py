"""What comes of a rule: its conditions, and each way that limits meet."""

from __future__ import annotations

import numpy as np
import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.arrays import Mask
from checker.outcome.results import KINDS
from checker.rulebook.evaluation import Values, evaluate, worst_of
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import ABSENT, governing, taken
from tests.rulebook.judged_rows import LENGTH, NAN, Make, Rows, kinds, outcome
from tests.rulebook.judged_rows import at_most as at_most
from tests.rulebook.judged_rows import make as make


def test_the_first_limit_of_a_code_that_can_be_worked_out_settles_it(make: Make) -> None:
    rule = make(
        LENGTH.format("{at_most: pipe.max_length, source: a-1}, {at_most: 100 m, source: a-2}")
    )
    rows = Rows(length=[110.0, 110.0, 90.0], pipe__max_length=[120.0, NAN, 80.0])
    assert kinds(rule, rows) == ["pass", "fail", "fail"]
    found = outcome(rule, rows)
    assert found.governing.tolist() == [0, 1, 0]
    assert [one.kinds.tolist().count(ABSENT) for one in found.limits] == [1, 2]


def test_limits_of_two_codes_both_count(make: Make) -> None:
    rule = make(
        LENGTH.format(
            "{at_most: 100 m, source: a-1}, {at_most: 80 m, severity: minor, source: b-1}, "
            "{at_most: 60 m, severity: observation, source: practice-x}"
        )
    )
    rows = Rows(length=[110.0, 90.0, 70.0, 50.0])
    found = outcome(rule, rows)
    assert [KINDS[kind] for kind in found.kinds.tolist()] == ["fail", "fail", "fail", "pass"]
    # Of several fails the gravest governs, and of several passes the nearest limit.
    assert found.governing.tolist() == [0, 1, 2, 2]
    assert all((one.kinds != ABSENT).all() for one in found.limits)


def test_of_fails_of_one_gravity_the_furthest_beyond_governs(make: Make) -> None:
    rule = make(LENGTH.format("{at_most: 100 m, source: a-1}, {at_most: 50 m, source: b-1}"))
    assert outcome(rule, Rows(length=[110.0])).governing.tolist() == [1]


def test_an_open_code_never_hides_the_fail_of_another(make: Make) -> None:
    for first, second in (("a-1", "b-1"), ("b-1", "a-1")):
        rule = make(
            LENGTH.format(
                "{at_most: pipe.max_length, source: "
                + first
                + "}, {at_most: 100 m, severity: observation, source: "
                + second
                + "}"
            )
        )
        rows = Rows(length=[110.0, 90.0])
        assert kinds(rule, rows) == ["fail", "open"]


def test_a_limit_not_in_force_does_not_count(make: Make) -> None:
    rule = make(LENGTH.format("{at_most: 100 m, source: a-1}, {at_most: 50 m, source: b-1}"))
    counts = np.array([[True, False, True], [False, False, True]])
    found = outcome(rule, Rows(length=[90.0, 90.0, 90.0]), counts)
    assert [KINDS[kind] for kind in found.kinds.tolist()] == ["pass", "notApplicable", "fail"]


def test_before_a_rule_is_due_it_asks_for_nothing_but_judges_what_is_stated(make: Make) -> None:
    rule = make("applies: {zone: occupied}\n" + LENGTH.format("{at_most: 9 m, source: practice-x}"))
    rows = Rows(length=[10.0, 9.0, NAN, 10.0, NAN], zone=[0.0, 0.0, 0.0, NAN, 1.0])
    counts = np.ones((1, 5), dtype=bool)
    due = evaluate(rule, rows, counts, np.ones(5, dtype=bool))
    wanted = ["fail", "pass", "open", "open", "notApplicable"]
    assert [KINDS[kind] for kind in due.kinds.tolist()] == wanted
    early = evaluate(rule, rows, counts, np.zeros(5, dtype=bool))
    wanted = ["fail", "pass", "notApplicable", "notApplicable", "notApplicable"]
    assert [KINDS[kind] for kind in early.kinds.tolist()] == wanted
    assert early.reasons.tolist() == [-1, -1, 2, 3, -1]
    assert early.governing.tolist() == [0, 0, -1, -1, -1]


def test_conditions_of_the_rule(make: Make) -> None:
    rule = make("applies: {zone: occupied}\n" + LENGTH.format("{at_most: 9 m, source: practice-x}"))
    rows = Rows(length=[10.0, 10.0, 10.0, 8.0], zone=[0.0, 1.0, NAN, 0.0])
    found = outcome(rule, rows)
    assert [KINDS[k] for k in found.kinds.tolist()] == ["fail", "notApplicable", "open", "pass"]
    assert found.reasons.tolist()[2] == 2
    assert found.governing.tolist() == [0, -1, -1, 0]
    stated = Rows(length=[10.0, 10.0, 8.0, 8.0], zone=[0.0, 1.0, 0.0, 1.0])
    assert kinds(rule, stated) == ["fail", "notApplicable", "pass", "notApplicable"]


def test_a_condition_that_is_false_settles_it_though_another_is_unknown(make: Make) -> None:
    for text in (
        "{zone: occupied, pattern: counterflow}",
        "{pattern: counterflow, zone: occupied}",
    ):
        rule = make(f"applies: {text}\n" + LENGTH.format("{at_most: 9 m, source: practice-x}"))
        rows = Rows(length=[10.0, 10.0], zone=[1.0, 0.0], pattern=[NAN, NAN])
        assert kinds(rule, rows) == ["notApplicable", "open"]


def test_conditions_of_a_limit(make: Make) -> None:
    rule = make(
        LENGTH.format(
            "{at_most: 9 m, source: a-1, id: o, when: {zone: occupied}}, "
            "{at_most: 20 m, source: a-1, id: p, when: {zone: [perimeter]}}"
        )
    )
    rows = Rows(length=[10.0, 10.0, 10.0, 25.0], zone=[0.0, 1.0, NAN, NAN])
    assert kinds(rule, rows) == ["fail", "pass", "open", "open"]
    assert kinds(rule, Rows(length=[25.0], zone=[NAN])) == ["open"]


def test_review_counts_like_a_limit(make: Make) -> None:
    rule = make(
        LENGTH.format(
            "{review: Look at it., source: a-1, when: {zone: perimeter}}, "
            "{at_most: 100 m, source: practice-x}"
        )
    )
    rows = Rows(length=[90.0, 90.0, 110.0, NAN], zone=[0.0, 1.0, 1.0, 1.0])
    assert kinds(rule, rows) == ["pass", "review", "fail", "open"]


def test_a_graver_fail_governs_however_far_a_lighter_one_is_broken(make: Make) -> None:
    rule = make(
        LENGTH.format(
            "{at_most: 1 m, severity: observation, source: a-1}, "
            "{at_most: 100 m, severity: minor, source: b-1}"
        )
    )
    found = outcome(rule, Rows(length=[101.0, 5000.0]))
    assert found.governing.tolist() == [1, 1]


def test_rows_that_are_taken_are_as_if_they_were_judged_alone(at_most: Rule) -> None:
    whole = outcome(at_most, Rows(length=[110.0, 90.0, NAN, 95.0]))
    some, alone = taken(whole, np.array([3, 0])), outcome(at_most, Rows(length=[95.0, 110.0]))
    assert some.kinds.tolist() == alone.kinds.tolist()
    assert [one.kinds.tolist() for one in some.limits] == [
        one.kinds.tolist() for one in alone.limits
    ]
    assert some.values.tolist() == [95.0, 110.0]
    assert [one.near for one in some.limits] == [one.near for one in alone.limits]
    assert some.limits[0].margins.tolist() == alone.limits[0].margins.tolist()


def test_of_open_limits_the_graver_governs(make: Make) -> None:
    """What is open is told at its worst; a lighter limit before it hides nothing."""
    rule = make(
        LENGTH.format(
            "{at_most: 1 m, severity: observation, source: a-1}, "
            "{at_most: 100 m, severity: minor, source: b-1}"
        )
    )
    assert outcome(rule, Rows(length=[NAN])).governing.tolist() == [1]


def test_of_limits_that_come_out_alike_the_first_governs(make: Make) -> None:
    rule = make(LENGTH.format("{at_most: 100 m, source: a-1}, {at_most: 100 m, source: b-1}"))
    assert outcome(rule, Rows(length=[90.0, 110.0, NAN])).governing.tolist() == [0, 0, 0]


def test_a_row_that_no_limit_counts_for_has_none_and_no_reason(make: Make) -> None:
    rule = make("applies: {zone: occupied}\n" + LENGTH.format("{at_most: 9 m, source: practice-x}"))
    found = outcome(rule, Rows(length=[NAN], zone=[1.0]))
    assert (found.governing.tolist(), found.reasons.tolist()) == ([-1], [-1])


def test_of_two_unknown_conditions_the_first_tells_its_reason(make: Make) -> None:
    rule = make(
        "applies: {zone: occupied, pattern: counterflow}\n"
        + LENGTH.format("{at_most: 9 m, source: practice-x}")
    )
    rows = Rows(length=[10.0], zone=[NAN], pattern=[NAN])
    first, second = rows.column("loop", "zone"), rows.column("loop", "pattern")
    told = {
        "zone": Values(first.values, np.array([7])),
        "pattern": Values(second.values, np.array([8])),
    }
    rows.column = lambda subject, name: told.get(name, Rows.column(rows, subject, name))  # type: ignore[method-assign]
    assert outcome(rule, rows).reasons.tolist() == [7]


def test_an_unknown_condition_of_a_limit_tells_its_reason_before_a_missing_bound(
    make: Make,
) -> None:
    rule = make(LENGTH.format("{at_most: pipe.max_length, source: a-1, when: {zone: occupied}}"))
    rows = Rows(length=[90.0, 90.0], zone=[NAN, 0.0], pipe__max_length=[NAN, NAN])
    bound = rows.column("loop", "pipe.max_length")
    told = {"pipe.max_length": Values(bound.values, np.array([8, 9]))}
    rows.column = lambda subject, name: told.get(name, Rows.column(rows, subject, name))  # type: ignore[method-assign]
    (limit_outcome,) = outcome(rule, rows).limits
    assert limit_outcome.reasons.tolist() == [0, 9]


def test_where_a_datum_that_only_raises_the_value_is_missing_nothing_fails(make: Make) -> None:
    rule = make(
        "subject: loop\nvalue: length\nseverity: major\nraised_by: [area, joints]\n"
        "limits: [{at_least: 100 m, source: practice-x}]\n"
    )
    rows = Rows(
        length=[90.0, 90.0, 90.0, 110.0], area=[12.0, NAN, 12.0, NAN], joints=[0.0, 0.0, NAN, NAN]
    )
    assert kinds(rule, rows) == ["fail", "open", "open", "pass"]


def test_what_all_limits_share_cannot_be_written_into(at_most: Rule) -> None:
    counts = np.zeros((1, 2), dtype=bool)
    (limit_outcome,) = outcome(at_most, Rows(length=[90.0, 110.0]), counts).limits
    assert not limit_outcome.applies_anywhere
    assert limit_outcome.kinds.tolist() == [ABSENT, ABSENT]
    for column in (limit_outcome.kinds, limit_outcome.margins, limit_outcome.reasons):
        assert not column.flags.writeable


def test_a_source_is_held_to_its_scope_but_where_that_is_unknown(make: Make) -> None:
    rule = make("""\
subject: loop
value: length
severity: minor
limits:
  - {at_most: 100 m, source: homes}
""")
    # Of the buildings 0 is a dwelling, 1 another.
    found = kinds(rule, Rows(length=[120, 120, 120, 80], project__building=[0, 1, NAN, NAN]))
    assert found == ["fail", "notApplicable", "fail", "pass"]


@pytest.mark.parametrize(
    ("words", "expected"),
    [("stated", ["fail", "notApplicable"]), ("not stated", ["notApplicable", "fail"])],
)
def test_a_condition_may_ask_whether_a_value_is_stated(
    make: Make, words: str, expected: list[str]
) -> None:
    rule = make(f"""\
subject: loop
value: length
severity: minor
applies: {{area: {words}}}
limits:
  - {{at_most: 100 m, source: practice-x}}
""")
    assert kinds(rule, Rows(length=[120, 120], area=[12, NAN])) == expected


def test_of_a_group_the_row_whose_own_limit_is_missed_most_is_the_worst(make: Make) -> None:
    """Each row has a limit of its own; what another row's limit says of it counts for nothing."""
    rule = make(
        LENGTH.format(
            "{at_most: 100 m, source: a-1, when: {port: 1}}, "
            "{at_most: 50 m, source: b-1, when: {port: 2}}"
        )
    )
    # By its own limit row 0 is over by 10 %, row 1 by 2 %; rows 2 and 3 keep theirs, 3 just.
    rows = Rows(length=[110.0, 51.0, 60.0, 49.0], port=[1.0, 2.0, 1.0, 2.0])
    found = outcome(rule, rows)
    assert [KINDS[kind] for kind in found.kinds] == ["fail", "fail", "pass", "pass"]
    everything: Mask = np.ones(4, dtype=bool)
    assert worst_of(found, np.array([0, 0, 1, 1]), everything, 2).tolist() == [0, 3]
    assert worst_of(found, np.array([0, 0, 0, 0]), everything, 1).tolist() == [0]
    without = np.array([False, True, True, False])
    assert worst_of(found, np.array([0, 0, 1, 1]), without, 2).tolist() == [1, 2]


def test_of_a_group_a_row_that_is_judged_is_worse_than_one_that_the_rule_is_not_about(
    make: Make,
) -> None:
    rule = make(
        "applies: {zone: occupied}\n"
        + LENGTH.format("{at_most: 100 m, severity: observation, source: practice-x}")
    )
    # Not the rule's, lightly failed; not the rule's, kept; unknown, kept; unknown, lightly failed.
    rows = Rows(
        length=[90.0, 120.0, 90.0, 90.0, 90.0, 90.0, 90.0, 120.0],
        zone=[1.0, 0.0, 1.0, 0.0, NAN, 0.0, NAN, 0.0],
    )
    found = outcome(rule, rows)
    groups = np.array([0, 0, 1, 1, 2, 2, 3, 3])
    assert worst_of(found, groups, np.ones(8, dtype=bool), 4).tolist() == [1, 3, 4, 7]


def test_of_a_group_a_graver_fail_is_worse_than_a_lighter_one_that_is_further_beyond(
    make: Make,
) -> None:
    rule = make(
        LENGTH.format(
            "{at_most: 100 m, severity: minor, source: a-1, when: {port: 1}}, "
            "{at_most: 1 m, severity: observation, source: b-1, when: {port: 2}}"
        )
    )
    found = outcome(rule, Rows(length=[5000.0, 101.0], port=[2.0, 1.0]))
    assert worst_of(found, np.array([0, 0]), np.ones(2, dtype=bool), 1).tolist() == [1]


def test_each_row_has_the_severity_and_the_margin_of_the_limit_that_governs_it(make: Make) -> None:
    rule = make(
        LENGTH.format(
            "{at_most: 100 m, severity: critical, source: a-1, when: {port: 1}}, "
            "{at_most: 50 m, severity: observation, source: b-1}, "
            "{at_most: 9 m, source: practice-x, when: {port: 3}}"
        )
    )
    rows = Rows(length=[120.0, 40.0, 60.0, NAN], port=[1.0, 2.0, 2.0, 2.0])
    found = outcome(rule, rows)
    assert found.governing.tolist() == [0, 1, 1, 1]
    severities, margins = governing(found)
    assert severities.tolist() == [0, 3, 3, 3]
    assert margins.tolist() == pytest.approx([-0.2, 0.2, -0.2, np.inf])


@pytest.mark.parametrize(("severity", "near"), [("major", 2), ("minor", 2), ("observation", 3)])
@pytest.mark.parametrize("within", ["0.5 K", "2 %"])
def test_a_fail_within_the_uncertainty_is_no_more_than_minor(
    make: Make, severity: str, near: int, within: str
) -> None:
    rule = make(
        f"subject: room\nvalue: temperature\nseverity: {severity}\n"
        "limits: [{at_most: 25 °C, source: practice-x}]\n"
        f"uncertainty: {{within: {within}, source: a-1}}\n"
    )
    found = outcome(rule, Rows(temperature=[25.4, 25.5, 24.8]))
    (limit_outcome,) = found.limits
    assert limit_outcome.near is not None
    assert limit_outcome.near.tolist() == [True, False, False]
    own = ["critical", "major", "minor", "observation"].index(severity)
    assert limit_outcome.severities().tolist() == [near, own, own]
    assert governing(found)[0].tolist() == [near, own, own]
    (some,) = taken(found, np.array([1, 0])).limits
    assert some.near is not None
    assert some.near.tolist() == [False, True]
