"""Chances under tolerances: held against SALib, plain sampling and the ordinary check."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from checker.compute.settling import settled
from checker.design.changes import changed
from checker.reading import yaml_reader
from checker.remedies import chances as study
from checker.remedies.draws import data_of, sample, shares
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


@pytest.mark.long
def test_a_datum_that_is_taken_away_leaves_less_judged_and_more_open() -> None:
    whole, less = worked_out(draws=20), worked_out(HOUSE.replace(", heat_load: 1030 W", ""), 20)
    assert whole.judged > less.judged > 0
    assert less.open > whole.open
    nothing = worked_out("design: 1\nproject: {name: Empty}\n", draws=20)
    assert (nothing.judged, nothing.limits) == (0, ())


@pytest.mark.long
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


CARPET = HOUSE.replace("resistance: 0.02 m²·K/W", "resistance: 0.148 m²·K/W").replace(
    "heat_load: 1030 W", "heat_load: 625 W"
)
"""Beyond the tables in about half of the draws."""


@pytest.mark.parametrize("text", [HOUSE, CARPET], ids=["tables", "beyond"])
def test_draws_come_out_as_designs_with_those_values_do(text: str) -> None:
    """Each draw written as changes and judged by the ordinary check gives the same result."""
    draws = 40
    read = batch.read([("house.yaml", text.encode())], Plan())
    site = Site(read.tables, read.tables.designs[0])
    data = data_of(site, read.book.tolerances)
    generator = np.random.default_rng(0)
    values = np.concatenate([sample(data, draws // 2, generator) for _ in range(2)])
    files: list[tuple[str, bytes]] = []
    for row in values:
        changes = []
        for one, value in zip(data, row.tolist(), strict=True):
            unit = site.place(one.path).leaf.unit  # type: ignore[union-attr]
            number = value / {"mm": 1e-3}.get(unit, 1.0)
            changes.append(f"{one.path}={number:.12f} {unit}")
            if one.path == "plant.supply":
                changes.append(f"heat_up.steps[2].supply={number:.12f} {unit}")
        document = changed(yaml_reader.read(text.encode()), tuple(changes))
        files.append((f"draw {len(files)}.json", json.dumps(document).encode()))
    reports, bad = check(files)
    assert not bad
    passed = sum(
        ("room-heat", "rooms.kitchen") in {(r.rule, r.subject) for r in report.results_of("pass")}
        for report in reports
    )
    told = next(c for c in worked_out(text, draws).limits if c.subject == "rooms.kitchen")
    assert told.chance == passed / draws
    assert 0 < passed < draws


BOARDS = Path("example_designs/millrace-close-7-dry-boards.yaml").read_text("utf-8")


@pytest.mark.parametrize("text", [CARPET, BOARDS], ids=["carpet", "boards"])
def test_sections_carried_between_draws_change_nothing(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = worked_out(text, 20)
    assert 0 < told.carried.error < 5e-4
    assert told.carried.solved > 0
    monkeypatch.setattr(study, "settled", lambda tables, **_: settled(tables))
    each = worked_out(text, 20)
    assert each.carried.solved == 0
    assert [(c.rule, c.subject, c.chance) for c in told.limits] == [
        (c.rule, c.subject, c.chance) for c in each.limits
    ]
    for own, other in zip(told.limits, each.limits, strict=True):
        assert own.value == other.value
        assert own.aim.magnitude == pytest.approx(other.aim.magnitude, rel=2e-3, abs=1e-3)
        assert [s.total for s in own.shares] == pytest.approx(
            [s.total for s in other.shares], abs=5e-3
        )


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
