"""The coil plan against every way there is, on small jobs, and against its own bound on large."""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import cache

import pytest

from checker.site.coils import CoilPlan, plan_coils


def least_by_trying_all(lengths: Sequence[float], sizes: Sequence[float]) -> float:
    """What the cheapest plan buys, m: every way to part the loops into coils is looked at."""
    count = len(lengths)

    def coil(group: int) -> float:
        total = round(sum(lengths[at] for at in range(count) if group >> at & 1), 6)
        return min((size for size in sizes if size >= total), default=float("inf"))

    @cache
    def least(left: int) -> float:
        if not left:
            return 0.0
        first = left & -left
        rest = left ^ first
        best = float("inf")
        others = rest
        while True:
            best = min(best, coil(others | first) + least(rest ^ others))
            if not others:
                return best
            others = (others - 1) & rest

    return least((1 << count) - 1)


def job(seed: int) -> tuple[dict[str, float], list[float]]:
    """An invented job: 5 to 60 loops and the coils to be had."""
    chance = random.Random(seed)
    count = chance.choice([5, 8, 12, 20, 30, 60])
    digits = chance.choice([0, 1])
    loops = {f"L{at}": round(chance.uniform(35, 118), digits) for at in range(count)}
    sizes = chance.choice([[100.0, 200.0], [120.0, 240.0, 600.0], [200.0], [200.0, 500.0]])
    return loops, sizes


def holds(plan: CoilPlan, loops: dict[str, float]) -> None:
    """Every loop once, whole, in a coil that holds it; the sums are right."""
    cut = [loop for coil in plan.coils for loop in coil.loops]
    assert sorted([*cut, *plan.too_long]) == sorted(loops)
    for coil in plan.coils:
        used = sum(loops[loop] for loop in coil.loops)
        assert used <= coil.size + 1e-9
        assert coil.left == pytest.approx(coil.size - used, abs=1e-9)
    assert plan.bought == pytest.approx(sum(coil.size for coil in plan.coils))
    assert plan.bound <= plan.bought + 1e-9
    assert plan.bound >= sum(loops[loop] for loop in cut) - 1e-6


@pytest.mark.parametrize("seed", range(30))
def test_no_plan_of_a_small_job_is_cheaper(seed: int) -> None:
    chance = random.Random(1_000 + seed)
    loops = {f"L{at}": round(chance.uniform(20, 120), 1) for at in range(chance.randint(1, 10))}
    sizes = [[120.0], [120.0, 240.0], [130.0, 200.0, 500.0]][seed % 3]
    plan = plan_coils(loops, sizes)
    holds(plan, loops)
    assert plan.bought == pytest.approx(least_by_trying_all([*loops.values()], sizes))
    assert plan.proved


@pytest.mark.parametrize("seed", [5, 10, 11, 20, 23, 27, 35, 37])
def test_large_jobs_are_planned_and_proved(seed: int) -> None:
    """Among them those that filling one coil after the other, or one solver alone, does not do."""
    loops, sizes = job(seed)
    plan = plan_coils(loops, sizes)
    holds(plan, loops)
    assert plan.proved


def test_a_loop_that_no_coil_holds_is_named_and_the_rest_is_planned() -> None:
    plan = plan_coils({"L1": 90, "L9": 210, "L2": 105}, [100, 200])
    assert plan.too_long == ("L9",)
    assert [(coil.size, coil.loops) for coil in plan.coils] == [(200, ("L2", "L1"))]
    assert plan.coils[0].left == pytest.approx(5)
    assert plan_coils({"L9": 210}, [100]) == CoilPlan((), ("L9",), 0.0, 0.0)


def test_a_loop_as_long_as_its_coil_fits_and_a_millimetre_more_does_not() -> None:
    assert not plan_coils({"L1": 100.0}, [100.0]).too_long
    assert plan_coils({"L1": 100.001}, [100.0]).too_long == ("L1",)
    feet = plan_coils({"L1": 300 * 0.3048, "L2": 200 * 0.3048}, [500 * 0.3048])
    assert len(feet.coils) == 1
    assert feet.coils[0].left == pytest.approx(0, abs=1e-9)


def test_of_plans_as_short_the_longest_loop_is_cut_first() -> None:
    plan = plan_coils({"L1": 60, "L2": 80, "L3": 55}, [200])
    assert plan.coils[0].loops == ("L2", "L1", "L3")


def test_the_same_job_gives_the_same_plan_whatever_the_order_of_its_sizes() -> None:
    loops, sizes = job(11)
    assert plan_coils(loops, sizes) == plan_coils(loops, sizes[::-1])


@pytest.mark.parametrize(
    ("loops", "sizes"), [({"L1": 0.0}, [100.0]), ({"L1": 50.0}, []), ({"L1": 50.0}, [0.0])]
)
def test_nothing_is_planned_without_a_length(loops: dict[str, float], sizes: list[float]) -> None:
    with pytest.raises(ValueError, match="above zero"):
        plan_coils(loops, sizes)
