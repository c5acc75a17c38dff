"""Results that share a pattern read as if each were worded on its own."""

from __future__ import annotations

import json
from itertools import permutations

import pytest

from checker import patterns
from checker.batch import Plan, check
from checker.results import BOUND_GAPS
from tests.design.designs import generate
from tests.example import DESIGN, changed

ALL_CODES = ("EN-1264", "US", "CN", "DE", "FR", "CA", "GB-ENG")


def _reports(plan: Plan) -> list[bytes]:
    texts = [DESIGN, changed(("heat_load: 700 W, ", "")), *(generate(n) for n in range(12))]
    designs, _ = check([(f"{n}.yaml", text.encode()) for n, text in enumerate(texts)], plan)
    return [design.json() for design in designs]


@pytest.mark.parametrize("codes", [None, ALL_CODES])
def test_a_bound_that_differs_reads_as_if_it_stood_in_all_results(
    codes: tuple[str, ...] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = Plan(codes=codes)
    shared = _reports(plan)
    limits = {
        json.dumps(result["limit"])
        for report in map(json.loads, shared)
        for result in report["results"]
        if result["rule"] == "supply-enough" and "limit" in result
    }
    assert len(limits) > 5
    monkeypatch.setattr(patterns, "BOUND_GAPS", ())
    assert _reports(plan) == shared


def test_ways_are_told_apart_however_many_limits_a_rule_has(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plan = Plan(codes=ALL_CODES)
    shared = _reports(plan)
    monkeypatch.setattr(patterns, "MOST_WAYS", 0)
    assert _reports(plan) == shared


def test_no_gap_stands_within_another() -> None:
    for one, other in permutations(BOUND_GAPS, 2):
        assert one.json not in other.json
        assert one.words not in other.words
