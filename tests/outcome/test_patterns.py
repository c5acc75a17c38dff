"""Results that share a pattern read as if each were worded on its own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from checker.outcome import patterns
from checker.run.batch import Plan, check
from tests.design.designs import generate
from tests.example import DESIGN, as_json, changed

ALL_CODES = ("EN-1264", "US", "CN", "DE", "FR", "CA", "GB-ENG")


def _reports(plan: Plan) -> list[bytes]:
    texts = [DESIGN, changed(("heat_load: 700 W, ", "")), *(generate(n) for n in range(12))]
    designs, _ = check([(f"{n}.yaml", text.encode()) for n, text in enumerate(texts)], plan)
    return [as_json(design) for design in designs]


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
    told = patterns._bound
    monkeypatch.setattr(
        patterns, "_bound", lambda bound, shown, plain: told(bound, shown, plain=False)
    )
    assert _reports(plan) == shared


def test_ways_are_told_apart_however_many_limits_a_rule_has(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plan = Plan(codes=ALL_CODES)
    shared = _reports(plan)
    monkeypatch.setattr(patterns, "MOST_WAYS", 0)
    assert _reports(plan) == shared


def test_ways_are_told_apart_however_many_bounds_a_limit_has(tmp_path: Path) -> None:
    steps = ", ".join(
        f"{{by: pattern, steps: {{counterflow: {60 + n} m, serpentine: {120 + n} m}}}}"
        for n in range(64)
    )
    (tmp_path / "x-o.yaml").write_text(RULE.format(steps=steps), "utf-8")
    lengths = ("60 m", "61.5 m", "125 m", "131 m", "183 m", "90 m")
    loops = "".join(
        f"  L{n}: {{length: {length}, pattern: {('counterflow', 'serpentine')[n % 2]}}}\n"
        for n, length in enumerate(lengths)
    )
    (report,), _ = check(
        [("a.yaml", f"design: 1\nloops:\n{loops}".encode())], Plan(rules=(str(tmp_path),))
    )
    kinds = [result.kind for result in report.results if result.rule == "x-o"]
    assert kinds == ["pass", "fail", "fail", "pass", "fail", "fail"]


RULE = """\
title: "Length {{as cut}}"
subject: loop
value: length
severity: major
from: design
why: Invented.
remedy: None.
limits:
  - one_of: [{steps}]
    source: practice-loop-length
examples:
  - {{gives: open}}
"""
