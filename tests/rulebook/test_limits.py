"""Each limit at its bound, a hair under and over it, on its edition's first and last day, and under
another code: worked from the rule's own examples, so that no limit can lack it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, NamedTuple

import pytest
from msgspec.structs import replace

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.meanings import Names
from checker.rulebook.examples import outcome
from checker.rulebook.loading import load
from checker.rulebook.model import Example, Rule, RuleLimit
from checker.rulebook.outcomes import ABSENT, FAIL, OPEN, PASS, REVIEW

NAMES = Names()
BOOK = load(NAMES)
DAY = timedelta(days=1)
SIDES = (-1, 0, 1)
HAIR = 1e-6
"""Part of a bound that is under or over it; beyond the 1e-9 within which a value is equal to it."""


class Case(NamedTuple):
    """A limit, and an example of its rule that it judges."""

    rule: Rule
    limit: RuleLimit
    example: Example

    def kind(self, value: float | None = None, **changes: Any) -> int:
        """How the value comes out against the limit alone; changes: of the example."""
        found = outcome(self.rule, replace(self.example, **changes), BOOK, NAMES, value)
        return int(next(h for h in found.limits if h.limit.id == self.limit.id).kinds[0])

    @property
    def bounds(self) -> list[float]:
        found = outcome(self.rule, self.example, BOOK, NAMES)
        limit_outcome = next(h for h in found.limits if h.limit.id == self.limit.id)
        return [float(bound[0]) for bound in limit_outcome.bounds if bound[0] == bound[0]]

    def holds(self, found: list[int], wanted: list[int]) -> None:
        """Assert what is wanted; a limit whose conditions name the value itself may be silent."""
        if any(one.name == self.rule.value for one in self.limit.when):
            assert PASS in found or FAIL in found
            wanted = [
                ABSENT if one == ABSENT else two for one, two in zip(found, wanted, strict=True)
            ]
        assert found == wanted

    @property
    def step(self) -> float:
        """The least by which a value can differ, 0 where any amount will do."""
        return 0.0 if self.rule.described.kind == "quantity" else 1.0

    def at(self, bound: float, side: int) -> float:
        """A value at the bound (0), under it (-1) or over it (1)."""
        return bound + side * (self.step or HAIR * max(abs(bound), 1.0))


LIMITS = {f"{rule.id}-{limit.id}": (rule, limit) for rule in BOOK.rules for limit in rule.limits}


@pytest.fixture(name="case", scope="module", params=LIMITS)
def first_case(request: pytest.FixtureRequest) -> Case:
    """The limit with the first example that it judges."""
    rule, limit = LIMITS[request.param]
    for example in rule.examples:
        for limit_outcome in outcome(rule, example, BOOK, NAMES).limits:
            if limit_outcome.limit.id == limit.id and limit_outcome.kinds[0] not in (ABSENT, OPEN):
                return Case(rule, limit, example)
    raise AssertionError(f"{rule.id}: no example works {limit.id} out")


def test_a_limit_at_under_and_over_its_bound(case: Case) -> None:
    comparison, bounds = case.limit.comparison, case.bounds
    if comparison == "review":
        assert case.kind() == REVIEW
        return
    assert bounds
    if comparison == "one_of":
        count = len(case.rule.described.options) or 2
        options = [float(number) for number in range(count)]
        found = [case.kind(option) for option in options]
        case.holds(found, [PASS if option in bounds else FAIL for option in options])
        return
    equal = FAIL if case.limit.strict else PASS
    if comparison == "between":
        least, most = bounds
        case.holds([case.kind(case.at(least, side)) for side in SIDES], [FAIL, equal, PASS])
        case.holds([case.kind(case.at(most, side)) for side in SIDES], [PASS, equal, FAIL])
        return
    upper = comparison in ("at_most", "before")
    bound = min(bounds) if upper else max(bounds)
    found = [case.kind(case.at(bound, side)) for side in SIDES]
    case.holds(found, [PASS, equal, FAIL] if upper else [FAIL, equal, PASS])


def test_a_limit_on_the_first_and_last_day_of_its_edition(case: Case) -> None:
    first, end = case.limit.document.start, case.limit.document.end
    code = case.limit.document.code
    codes = case.example.codes if code in (case.example.codes or ()) else None

    def speaks(on: date) -> bool:
        return case.kind(on=on, codes=codes) != ABSENT

    if first is not None:
        assert speaks(first)
        assert not speaks(first - DAY)
    if end is not None:
        assert speaks(end - DAY)
        assert not speaks(end)


def test_a_limit_of_a_code_is_silent_under_another(case: Case) -> None:
    code = case.limit.document.code
    others = tuple(one for one in BOOK.codes if one != code)
    if code:
        assert case.kind(codes=others) == ABSENT
        assert case.kind(codes=(code,)) not in (ABSENT, OPEN)
    elif not case.limit.fallback:
        assert case.kind(codes=()) not in (ABSENT, OPEN)


@pytest.mark.parametrize("rule", BOOK.rules, ids=lambda rule: rule.id)
def test_a_rule_of_several_codes_has_examples_under_two(rule: Rule) -> None:
    codes = {limit.document.code for limit in rule.limits}
    shown = {example.codes for example in rule.examples}
    assert len(codes) < 2 or len(shown) > 1
