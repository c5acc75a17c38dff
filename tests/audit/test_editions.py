"""The rules of a job's day and today's, side by side."""

from __future__ import annotations

from datetime import date

from checker.audit.editions import EditionComparison, alike, side_by_side
from checker.audit.jobs import judged
from checker.run.batch import Plan
from tests.example import changed


def _both(designed_on: str, today: str) -> EditionComparison:
    text = changed(("2026-03-12", designed_on), ("insulation: 4 m", "insulation: 1.3 m"))
    files = [("house.yaml", text.encode())]
    then, _ = judged(files)
    now, _ = judged(files, Plan(on=date.fromisoformat(today)))
    return side_by_side(then[0], now[0])


def test_a_limit_that_came_later_is_shown_beside_its_absence() -> None:
    """England had no limit of its own before the guide of 2008: 10 W/m² down."""
    both = _both("2007-03-12", "2026-06-01")
    assert (both.then_day, both.now_day) == ("2007-03-12", "2026-06-01")
    loss = [one for one in both.changed if one.rule == "floor-loss"]
    assert {one.then for one in loss} == {"notApplicable"}
    assert {one.now for one in loss} == {"fail (minor)"}
    assert {one.now_source for one in loss} == {"gb-approved-document-l1-2021"}
    # Both loops as one line.
    told = {one.rule: subjects for subjects, one in alike(both)}
    assert told["floor-loss"] == "loops.L1, loops.L2"


def test_on_the_same_day_nothing_differs() -> None:
    both = _both("2026-03-12", "2026-03-12")
    assert both.changed == ()
    assert both.alike > 60


def test_a_result_that_comes_out_otherwise_by_the_same_limit_differs() -> None:
    text = changed(("length: 88 m", "length: 101 m"))
    then, _ = judged([("house.yaml", changed().encode())])
    now, _ = judged([("house.yaml", text.encode())])
    found = {one.rule: (one.then, one.now) for one in side_by_side(then[0], now[0]).changed}
    assert found["loop-length"] == ("pass", "fail (major)")


def test_a_result_that_is_open_on_one_side_differs() -> None:
    then, _ = judged([("house.yaml", changed().encode())])
    now, _ = judged([("house.yaml", changed((" length: 88 m,", "")).encode())])
    found = {one.rule: (one.then, one.now) for one in side_by_side(then[0], now[0]).changed}
    assert found["loop-length"] == ("pass", "open")
