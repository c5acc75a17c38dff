"""One limit: each comparison, at its bound and with a value or bound missing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import checker.quantities  # noqa: F401  # registers the quantities
from checker.arrays import Array
from checker.outcome.results import KINDS
from checker.rulebook.model import Rule
from tests.rulebook.judged_rows import LENGTH, NAN, Make, Rows, kinds, outcome
from tests.rulebook.judged_rows import at_most as at_most
from tests.rulebook.judged_rows import make as make


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


@pytest.mark.parametrize("key", [0.012, 0.016])
@pytest.mark.parametrize(("off", "near"), [(0.9e-9, True), (1.1e-9, False)])
def test_a_key_is_met_within_a_billionth_of_it(
    make: Make, key: float, off: float, near: bool
) -> None:
    bounds = []
    for table in ("steps", "from"):
        (limit_outcome,) = outcome(
            make(LENGTH.format(TABLE % table)),
            Rows(length=[9.0, 9.0], pipe__outside=[key * (1 - off), key * (1 + off)]),
        ).limits
        bounds.append(limit_outcome.bounds[0].tolist())
    own, before = {0.012: (80.0, NAN), 0.016: (100.0, 80.0)}[key]
    exact, reached = bounds
    assert exact == pytest.approx([own, own] if near else [NAN, NAN], nan_ok=True)
    assert reached == pytest.approx([own if near else before, own], nan_ok=True)


def test_a_key_of_nought_is_met(make: Make) -> None:
    rule = make(
        LENGTH.format("{at_most: {by: joints, steps: {0: 80 m, 1: 100 m}}, source: practice-x}")
    )
    rows = Rows(length=[80.0, 81.0, 100.0, 101.0], joints=[0.0, 0.0, 1.0, 1.0])
    assert kinds(rule, rows) == ["pass", "fail", "pass", "fail"]


def test_the_share_of_a_limit_of_nought_is_the_margin_itself(make: Make) -> None:
    """There is nothing that it could be a share of."""
    number = make(LENGTH.replace("length", "joints").format("{at_most: 0, source: practice-x}"))
    (by_number,) = outcome(number, Rows(joints=[3.0, 0.0])).limits
    assert by_number.ratios.tolist() == [-3.0, 0.0]
    named = make(LENGTH.format("{at_most: pipe.max_length, source: practice-x}"))
    (by_name,) = outcome(named, Rows(length=[3.0, 9.0], pipe__max_length=[0.0, 6.0])).limits
    assert by_name.ratios.tolist() == [-3.0, -0.5]


def test_of_several_bounds_the_margin_is_that_to_the_nearest(make: Make) -> None:
    rule = make(LENGTH.format("{between: [50 m, 100 m], source: practice-x}"))
    (limit_outcome,) = outcome(rule, Rows(length=[55.0, 90.0, 40.0, 150.0])).limits
    assert limit_outcome.margins.tolist() == [5.0, 10.0, -10.0, -50.0]
    assert limit_outcome.ratios.tolist() == pytest.approx([0.1, 0.1, -0.2, -0.5])
    assert [bound.tolist() for bound in limit_outcome.bounds] == [[50.0] * 4, [100.0] * 4]
    equal = make(LENGTH.format("{between: [2 m, 6 m], source: practice-x}"))
    (limit_outcome,) = outcome(equal, Rows(length=[3.0])).limits
    assert (limit_outcome.margins[0], limit_outcome.ratios[0]) == (1.0, 0.5)


def test_the_margin_is_told(at_most: Rule) -> None:
    (limit_outcome,) = outcome(at_most, Rows(length=[90.0, 110.0])).limits
    assert limit_outcome.margins.tolist() == [10.0, -10.0]
    assert limit_outcome.ratios.tolist() == pytest.approx([0.1, -0.1])


def test_a_missing_bound_tells_its_own_reason(make: Make) -> None:
    """The reason that `Rows` gives is the number of the row that lacks the value."""
    rule = make(LENGTH.format("{at_most: [100 m, pipe.max_length], source: a-1}"))
    rows = Rows(length=[90.0, 90.0, 90.0], pipe__max_length=[NAN, 95.0, NAN])
    found = outcome(rule, rows)
    assert found.kinds.tolist() == [KINDS.index("open"), KINDS.index("pass"), KINDS.index("open")]
    assert (found.reasons[0], found.reasons[2]) == (0, 2)


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
    (limit_outcome,) = outcome(rule, Rows(length=[length])).limits
    assert limit_outcome.near is not None
    assert limit_outcome.near.tolist() == [near]


def test_of_choices_what_is_none_of_them_is_as_far_beyond_as_can_be(make: Make) -> None:
    rule = make(
        "subject: loop\nvalue: zone\nseverity: major\n"
        "limits: [{one_of: [occupied], source: practice-x}]\n"
    )
    (limit_outcome,) = outcome(rule, Rows(zone=[0.0, 1.0])).limits
    assert limit_outcome.ratios.tolist() == [1.0, -1.0]
    assert np.isnan(limit_outcome.margins).all()


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
