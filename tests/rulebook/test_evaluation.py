"""What comes of a rule: each comparison, each missing value, each way that limits meet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.meanings import Names
from checker.outcome.results import KINDS
from checker.rulebook.evaluation import (
    ABSENT,
    Array,
    Mask,
    Outcome,
    Values,
    evaluate,
    worst_of,
)
from checker.rulebook.loading import load
from checker.rulebook.model import Rule

NAMES = Names()
NAN = float("nan")

SOURCES = """\
codes: {A: {title: Code A}, B: {title: Code B}}
sources:
  practice-x: {title: A practice, standing: common practice, seen: reported}
  a-1: {title: One of A, code: A, standing: standard, seen: reported}
  a-2: {title: Another of A, code: A, standing: standard, seen: reported}
  b-1: {title: One of B, code: B, standing: standard, seen: reported}
  homes: {title: On homes, scope: {project.building: dwelling}, standing: standard, seen: reported}
"""

HEAD = """\
title: Something is wrong
why: For a reason.
remedy: Do something.
from: design
"""


class Rows:
    """Columns of given values; a missing one's reason is its row number."""

    def __init__(self, **columns: list[float]) -> None:
        self.columns = {name.replace("__", "."): np.array(v) for name, v in columns.items()}
        self.length = len(next(iter(self.columns.values())))

    def column(self, subject: str, name: str) -> Values:
        values = self.columns.get(name, np.full(self.length, NAN))
        missing = np.isnan(values)
        return Values(values, np.where(missing, np.arange(self.length), -1))

    def size(self, subject: str) -> int:
        return self.length

    def note(self, words: str, subject: str) -> int:
        return 1000


Make = Callable[[str], Rule]


@pytest.fixture(scope="module")
def make(tmp_path_factory: pytest.TempPathFactory) -> Make:
    folder: Path = tmp_path_factory.mktemp("rules")
    (folder / "sources.yaml").write_text(SOURCES)

    def rule(text: str) -> Rule:
        (folder / "a-rule.yaml").write_text(HEAD + text)
        return next(r for r in load(NAMES, [folder]).rules if r.id == "a-rule")

    return rule


@pytest.fixture(scope="module")
def at_most(make: Make) -> Rule:
    return make(LENGTH.format("{at_most: 100 m, source: practice-x}"))


LENGTH = "subject: loop\nvalue: length\nseverity: major\nlimits: [{}]\n"


def outcome(rule: Rule, rows: Rows, counts: npt.NDArray[np.bool_] | None = None) -> Outcome:
    judged: Mask = np.ones(rows.length, dtype=bool)
    if counts is None:
        counts = np.ones((len(rule.limits), rows.length), dtype=bool)
    return evaluate(rule, rows, counts, judged)


def kinds(rule: Rule, rows: Rows) -> list[str]:
    return [KINDS[kind] for kind in outcome(rule, rows).kinds.tolist()]


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        (99.0, "pass"),
        (100.0, "pass"),
        (100.0 * (1 + 0.9e-9), "pass"),
        (100.0 * (1 + 2e-9), "fail"),
        (101.0, "fail"),
        (NAN, "open"),
        (np.inf, "fail"),
    ],
)
def test_at_most(at_most: Rule, value: float, kind: str) -> None:
    assert kinds(at_most, Rows(length=[value])) == [kind]


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        (101.0, "pass"),
        (100.0, "pass"),
        (100.0 * (1 - 0.9e-9), "pass"),
        (100.0 * (1 - 2e-9), "fail"),
        (0.0, "fail"),
        (NAN, "open"),
    ],
)
def test_at_least(make: Make, value: float, kind: str) -> None:
    rule = make(LENGTH.format("{at_least: 100 m, source: practice-x}"))
    assert kinds(rule, Rows(length=[value])) == [kind]


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        (49.9, "fail"),
        (50.0, "pass"),
        (75.0, "pass"),
        (100.0, "pass"),
        (100.0 * (1 + 2e-9), "fail"),
        (50.0 * (1 - 2e-9), "fail"),
        (NAN, "open"),
    ],
)
def test_between(make: Make, value: float, kind: str) -> None:
    rule = make(LENGTH.format("{between: [50 m, 100 m], source: practice-x}"))
    assert kinds(rule, Rows(length=[value])) == [kind]


def test_a_limit_of_nought(make: Make) -> None:
    rule = make(LENGTH.replace("length", "joints").format("{at_most: 0, source: practice-x}"))
    assert kinds(rule, Rows(joints=[0.0, 1.0, NAN])) == ["pass", "fail", "open"]


def test_one_of(make: Make) -> None:
    rule = make(LENGTH.replace("length", "pattern").format("{one_of: [counterflow], source: a-1}"))
    assert kinds(rule, Rows(pattern=[0.0, 1.0, NAN])) == ["pass", "fail", "open"]


@pytest.mark.parametrize(
    ("comparison", "wanted"),
    [("before", ["pass", "pass", "fail", "open"]), ("after", ["fail", "pass", "pass", "open"])],
)
def test_dates(make: Make, comparison: str, wanted: list[str]) -> None:
    text = "{" + comparison + ": 2026-04-05, source: practice-x}"
    rule = make(LENGTH.replace("loop", "test").replace("length", "tested_on").format(text))
    day = rule.limits[0].bounds[0].number
    assert day is not None
    assert kinds(rule, Rows(tested_on=[day - 1, day, day + 1, NAN])) == wanted


def test_a_list_of_bounds_must_all_hold(make: Make) -> None:
    rule = make(LENGTH.format("{at_most: [100 m, pipe.max_length], source: practice-x}"))
    rows = Rows(length=[90.0, 90.0, 101.0], pipe__max_length=[95.0, 80.0, 200.0])
    assert kinds(rule, rows) == ["pass", "fail", "fail"]


def test_a_missing_bound_of_a_list_never_hides_a_broken_one(make: Make) -> None:
    for text in ("[100 m, pipe.max_length]", "[pipe.max_length, 100 m]"):
        rule = make(LENGTH.format("{at_most: " + text + ", source: practice-x}"))
        rows = Rows(length=[90.0, 101.0], pipe__max_length=[NAN, NAN])
        assert kinds(rule, rows) == ["open", "fail"]


def test_the_first_limit_of_a_code_that_can_be_worked_out_settles_it(make: Make) -> None:
    rule = make(
        LENGTH.format("{at_most: pipe.max_length, source: a-1}, {at_most: 100 m, source: a-2}")
    )
    rows = Rows(length=[110.0, 110.0, 90.0], pipe__max_length=[120.0, NAN, 80.0])
    assert kinds(rule, rows) == ["pass", "fail", "fail"]
    found = outcome(rule, rows)
    assert found.governing.tolist() == [0, 1, 0]
    assert [one.kinds.tolist().count(ABSENT) for one in found.held] == [1, 2]


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
    assert all((one.kinds != ABSENT).all() for one in found.held)


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


def test_conditions_of_the_rule(make: Make) -> None:
    rule = make("applies: {zone: occupied}\n" + LENGTH.format("{at_most: 9 m, source: practice-x}"))
    rows = Rows(length=[10.0, 10.0, 10.0, 8.0], zone=[0.0, 1.0, NAN, 0.0])
    found = outcome(rule, rows)
    assert [KINDS[k] for k in found.kinds.tolist()] == ["fail", "notApplicable", "open", "pass"]
    assert found.reasons.tolist()[2] == 2


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


def test_review_counts_like_a_limit(make: Make) -> None:
    rule = make(
        LENGTH.format(
            "{review: Look at it., source: a-1, when: {zone: perimeter}}, "
            "{at_most: 100 m, source: practice-x}"
        )
    )
    rows = Rows(length=[90.0, 90.0, 110.0, NAN], zone=[0.0, 1.0, 1.0, 1.0])
    assert kinds(rule, rows) == ["pass", "review", "fail", "open"]


TABLE = "{at_most: {by: pipe.outside, %s: {12 mm: 80 m, 16 mm: 100 m}}, source: practice-x}"


@pytest.mark.parametrize(
    ("outside", "length", "kind"),
    [
        (0.012, 80.0, "pass"),
        (0.012, 80.1, "fail"),
        (0.016, 100.0, "pass"),
        (0.016, 100.1, "fail"),
        (0.014, 10.0, "open"),
        (0.011, 10.0, "open"),
        (0.020, 10.0, "open"),
        (NAN, 10.0, "open"),
        (0.016, NAN, "open"),
    ],
)
def test_steps_are_met_exactly(make: Make, outside: float, length: float, kind: str) -> None:
    rule = make(LENGTH.format(TABLE % "steps"))
    assert kinds(rule, Rows(length=[length], pipe__outside=[outside])) == [kind]


@pytest.mark.parametrize(
    ("outside", "length", "kind"),
    [
        (0.0119, 10.0, "open"),
        (0.012, 80.0, "pass"),
        (0.0159, 80.1, "fail"),
        (0.016, 80.1, "pass"),
        (0.5, 100.0, "pass"),
        (0.5, 100.1, "fail"),
        (NAN, 10.0, "open"),
    ],
)
def test_from_takes_the_largest_key_not_above(
    make: Make, outside: float, length: float, kind: str
) -> None:
    rule = make(LENGTH.format(TABLE % "from"))
    assert kinds(rule, Rows(length=[length], pipe__outside=[outside])) == [kind]


def test_a_key_met_but_for_rounding_counts(make: Make) -> None:
    # 0.1 + 0.2 mm twists the last digit: 5/8 in worked out in two ways.
    rule = make(LENGTH.format(TABLE % "steps"))
    assert kinds(rule, Rows(length=[90.0], pipe__outside=[0.016 * (1 + 1e-12)])) == ["pass"]


def test_the_margin_is_told(at_most: Rule) -> None:
    (held,) = outcome(at_most, Rows(length=[90.0, 110.0])).held
    assert held.margins.tolist() == [10.0, -10.0]
    assert held.ratios.tolist() == pytest.approx([0.1, -0.1])


def test_a_graver_fail_governs_however_far_a_lighter_one_is_broken(make: Make) -> None:
    rule = make(
        LENGTH.format(
            "{at_most: 1 m, severity: observation, source: a-1}, "
            "{at_most: 100 m, severity: minor, source: b-1}"
        )
    )
    found = outcome(rule, Rows(length=[101.0, 5000.0]))
    assert found.governing.tolist() == [1, 1]


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


def test_a_missing_bound_tells_its_own_reason(make: Make) -> None:
    """The reason that `Rows` gives is the number of the row that lacks the value."""
    rule = make(LENGTH.format("{at_most: [100 m, pipe.max_length], source: a-1}"))
    rows = Rows(length=[90.0, 90.0, 90.0], pipe__max_length=[NAN, 95.0, NAN])
    found = outcome(rule, rows)
    assert found.kinds.tolist() == [KINDS.index("open"), KINDS.index("pass"), KINDS.index("open")]
    assert (found.reasons[0], found.reasons[2]) == (0, 2)


def test_an_unknown_condition_of_a_limit_tells_its_reason_before_a_missing_bound(
    make: Make,
) -> None:
    rule = make(LENGTH.format("{at_most: pipe.max_length, source: a-1, when: {zone: occupied}}"))
    rows = Rows(length=[90.0, 90.0], zone=[NAN, 0.0], pipe__max_length=[NAN, NAN])
    bound = rows.column("loop", "pipe.max_length")
    told = {"pipe.max_length": Values(bound.values, np.array([8, 9]))}
    rows.column = lambda subject, name: told.get(name, Rows.column(rows, subject, name))  # type: ignore[method-assign]
    (held,) = outcome(rule, rows).held
    assert held.reasons.tolist() == [0, 9]


def test_where_a_datum_that_only_raises_the_value_is_missing_nothing_fails(make: Make) -> None:
    rule = make(
        "subject: loop\nvalue: length\nseverity: major\nraised_by: [area, joints]\n"
        "limits: [{at_least: 100 m, source: practice-x}]\n"
    )
    rows = Rows(
        length=[90.0, 90.0, 90.0, 110.0], area=[12.0, NAN, 12.0, NAN], joints=[0.0, 0.0, NAN, NAN]
    )
    assert kinds(rule, rows) == ["fail", "open", "open", "pass"]


@pytest.mark.parametrize(
    ("length", "near"), [(100.0, False), (102.0, True), (104.0, False), (NAN, False)]
)
def test_a_fail_by_less_than_the_method_can_tell_says_so(
    make: Make, length: float, near: bool
) -> None:
    rule = make(
        LENGTH.format("{at_most: 100 m, source: practice-x}")
        + "uncertainty: {within: 3 %, source: a-1}\n"
    )
    (held,) = outcome(rule, Rows(length=[length])).held
    assert held.near is not None
    assert held.near.tolist() == [near]


def test_of_choices_what_is_none_of_them_is_as_far_beyond_as_can_be(make: Make) -> None:
    rule = make(
        "subject: loop\nvalue: zone\nseverity: major\n"
        "limits: [{one_of: [occupied], source: practice-x}]\n"
    )
    (held,) = outcome(rule, Rows(zone=[0.0, 1.0])).held
    assert held.ratios.tolist() == [1.0, -1.0]
    assert np.isnan(held.margins).all()


def test_what_all_limits_share_cannot_be_written_into(at_most: Rule) -> None:
    counts = np.zeros((1, 2), dtype=bool)
    (held,) = outcome(at_most, Rows(length=[90.0, 110.0]), counts).held
    assert not held.anywhere
    assert held.kinds.tolist() == [ABSENT, ABSENT]
    for column in (held.kinds, held.margins, held.reasons):
        assert not column.flags.writeable


def test_a_step_that_is_not_in_the_table_tells_the_table_and_the_row(make: Make) -> None:
    """Notes of `Rows` begin at 1000; what is missing itself keeps its own reason."""
    rule = make(LENGTH.format(TABLE % "steps"))
    found = outcome(rule, Rows(length=[9.0, 9.0, 9.0], pipe__outside=[0.014, NAN, 0.020]))
    assert found.reasons.tolist() == [1000, 1, 1002]


def test_a_missing_value_has_its_own_reason(at_most: Rule) -> None:
    assert outcome(at_most, Rows(length=[1.0, NAN])).reasons.tolist()[1] == 1


@given(
    values=st.lists(
        st.one_of(st.just(NAN), st.floats(min_value=-1e6, max_value=1e6)), min_size=1, max_size=9
    ),
    bounds=st.lists(
        st.one_of(st.just(NAN), st.floats(min_value=-1e6, max_value=1e6)), min_size=9, max_size=9
    ),
)
def test_nan_never_passes(two_sided: Rule, values: list[float], bounds: list[float]) -> None:
    length: Array = np.array(values)
    limit: Array = np.array(bounds[: len(values)])
    found = kinds(two_sided, Rows(length=values, pipe__max_length=bounds[: len(values)]))
    for kind, value, bound in zip(found, length, limit, strict=True):
        if np.isnan(value):
            assert kind == "open"
        elif kind == "pass":
            assert value <= bound + 1e-9 * max(abs(bound), 1.0)
        elif kind == "fail":
            assert value > bound
        else:
            assert np.isnan(bound)


@pytest.fixture(scope="module")
def two_sided(make: Make) -> Rule:
    return make(LENGTH.format("{at_most: pipe.max_length, source: a-1}"))


STRICT = """\
subject: loop
value: length
severity: minor
limits:
  - {%s: 100 m, source: practice-x, strict: yes}
"""


@pytest.mark.parametrize(
    ("comparison", "value", "kind"),
    [
        ("at_least", 100.1, "pass"),
        ("at_least", 100, "fail"),
        ("at_least", 99.9, "fail"),
        ("at_most", 99.9, "pass"),
        ("at_most", 100, "fail"),
        ("at_most", NAN, "open"),
    ],
)
def test_a_strict_limit_is_broken_by_its_equal(
    make: Make, comparison: str, value: float, kind: str
) -> None:
    rule = make(STRICT % comparison)
    assert kinds(rule, Rows(length=[value])) == [kind]
    words = {"at_least": "more than 100 m", "at_most": "less than 100 m"}
    assert rule.limits[0].words == words[comparison]


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
