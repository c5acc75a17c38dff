"""Chances under tolerances: held against SALib, plain sampling and the ordinary check."""

from __future__ import annotations

import numpy as np
import pytest

from checker.remedies import chances as study
from checker.remedies.chances import data_of, sample, shares
from checker.remedies.site import Site
from checker.run import batch
from checker.run.batch import Plan, check
from tests.example import DESIGN

HOUSE = DESIGN.replace("heat_load: 700 W", "heat_load: 1030 W")


def worked_out(text: str = HOUSE, draws: int = 400, seed: int = 0) -> study.Chances:
    read = batch.read([("house.yaml", text.encode())], Plan())
    return study.chances("house.yaml", text.encode(), read.book, read.judging, draws, seed)


def test_shares_are_those_of_an_independent_library() -> None:
    sobol_analysis = pytest.importorskip("SALib.analyze.sobol")
    sobol_sample = pytest.importorskip("SALib.sample.sobol")
    problem = {"num_vars": 3, "names": ["a", "b", "c"], "bounds": [[-np.pi, np.pi]] * 3}
    points = sobol_sample.sample(problem, 256, calc_second_order=False, seed=1)
    # Ishigami's function, the usual one to try such shares on.
    y = np.sin(points[:, 0]) + 7 * np.sin(points[:, 1]) ** 2
    y += 0.1 * points[:, 2] ** 4 * np.sin(points[:, 0])
    theirs = sobol_analysis.analyze(problem, y, calc_second_order=False, seed=1)
    by_row = ((y - y.mean()) / y.std()).reshape(-1, 5)
    first, total = shares(by_row[:, 0], by_row[:, 4], by_row[:, 1:4])
    assert first == pytest.approx(theirs["S1"], abs=1e-9)
    assert total == pytest.approx(theirs["ST"], abs=1e-9)


def test_the_same_seed_gives_the_same_and_another_nearly() -> None:
    one, again, other = worked_out(), worked_out(), worked_out(seed=1)
    assert one == again
    mine, theirs = (
        {(c.rule, c.subject): c for c in own.limits}["room-heat", "rooms.kitchen"]
        for own in (one, other)
    )
    assert mine.chance != theirs.chance
    assert abs(mine.chance - theirs.chance) < 4 * (mine.error + theirs.error)
    assert mine.shares[0].name == theirs.shares[0].name == "supply"


def test_the_error_falls_as_the_root_of_the_draws() -> None:
    few, many = worked_out(draws=100), worked_out(draws=1600)
    errors = [
        next(c.error for c in own.limits if c.rule == "room-heat" and c.subject == "rooms.kitchen")
        for own in (few, many)
    ]
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.15)
    # Ten small studies scatter about the large one as their own errors say.
    large = next(c.chance for c in many.limits if c.subject == "rooms.kitchen")
    small = [
        next(c.chance for c in worked_out(draws=100, seed=s).limits if c.subject == "rooms.kitchen")
        for s in range(10)
    ]
    assert np.std(np.array(small) - large) < 2 * errors[0]


def test_draws_come_out_as_designs_with_those_values_do() -> None:
    """Each draw written as changes and judged by the ordinary check gives the same result."""
    draws = 40
    read = batch.read([("house.yaml", HOUSE.encode())], Plan())
    site = Site(read.tables, read.tables.designs[0])
    data = data_of(site, read.book.tolerances)
    generator = np.random.default_rng(0)
    values = np.concatenate([sample(data, draws // 2, generator) for _ in range(2)])
    passed = 0
    for row in values:
        changes = []
        for one, value in zip(data, row.tolist(), strict=True):
            unit = site.place(one.path).leaf.unit  # type: ignore[union-attr]
            number = value / {"mm": 1e-3}.get(unit, 1.0)
            changes.append(f"{one.path}={number:.12f} {unit}")
            if one.path == "plant.supply":
                changes.append(f"heat_up.steps[2].supply={number:.12f} {unit}")
        (report,), bad = check([("house.yaml", HOUSE.encode())], Plan(changes=tuple(changes)))
        assert not bad
        passed += ("room-heat", "rooms.kitchen") in {
            (r.rule, r.subject) for r in report.results_of("pass")
        }
    told = next(c for c in worked_out(draws=draws).limits if c.subject == "rooms.kitchen")
    assert told.chance == passed / draws


def test_with_the_margin_to_aim_for_nineteen_of_twenty_hold() -> None:
    told = next(
        c
        for c in worked_out(draws=1000).limits
        if (c.rule, c.subject) == ("room-heat", "rooms.kitchen")
    )
    aim = told.aim.magnitude
    assert aim
    # So much less load leaves that margin: coverage is heat over load.
    load = 1030 * (told.value.magnitude or 0) / (100 + aim)
    text = HOUSE.replace("heat_load: 1030 W", f"heat_load: {load:.2f} W")
    after = next(c for c in worked_out(text, draws=1000).limits if c.subject == "rooms.kitchen")
    assert after.chance == pytest.approx(0.95, abs=0.02)
