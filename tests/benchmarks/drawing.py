"""Measuring the plan of twelve loops, over plain `yaml.load` of the design; and judging it.

And what plans cost designs without one: the same designs by all rules, and by those that no plan is
needed for, in calls of functions: a difference of a hundredth is less than a machine's own unrest.
The rest by processor time, so that neighbours on the machine count little.

python -m tests.benchmarks.drawing
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from time import process_time
from typing import Any
from unittest.mock import patch

import yaml
from msgspec.structs import replace

from checker.compute.meanings import of_plan
from checker.design import plans
from checker.geometry.measuring import measure
from checker.rulebook.book import Rulebook
from checker.run import judging, rules_in_force
from checker.run.batch import check
from tests.design.designs import generate
from tests.geometry.drawings import as_text, design, house

RUNS = 15
DESIGNS = 200


def main() -> None:
    """Print the ratios."""
    drawn = house()
    whole = design(drawn)
    plain = whole.replace(as_text(drawn), "")

    def anew() -> None:
        plans._KEPT.clear()
        check([("house.yaml", whole.encode())])

    works: dict[str, Callable[[], object]] = {
        "yaml.load": lambda: yaml.load(whole, Loader=yaml.CSafeLoader),
        "measuring alone": lambda: measure(drawn.plan),
        "a check without the plan": lambda: check([("house.yaml", plain.encode())]),
        "a check with the plan": anew,
        "again, with the plan in memory": lambda: check([("house.yaml", whole.encode())]),
    }
    taken = dict.fromkeys(works, float("inf"))
    for _ in range(RUNS):
        for name, work in works.items():
            start = process_time()
            work()
            taken[name] = min(taken[name], process_time() - start)
    base = taken.pop("yaml.load")
    pipe = sum(one.length for one in drawn.routes.values())
    print(f"yaml.load: {base * 1e3:.1f} ms = 1.0 ({len(drawn.routes)} loops, {pipe:.0f} m)")
    for name, own in taken.items():
        print(f"{name:<32} {own / base:5.0f} ({own * 1e3:.0f} ms)")
    all_rules, no_plan = calls()
    print(f"{DESIGNS} designs without a plan, over those by no rule on plans, in calls: ", end="")
    print(f"{all_rules / no_plan:.4f}")


def calls() -> tuple[int, int]:
    """Functions called by a check by all rules, and by one by those that read no plan."""
    files = [(f"{number}.yaml", generate(number).encode()) for number in range(DESIGNS)]
    whole = rules_in_force.rulebook()
    rules = tuple(rule for rule in whole.rules if not of_plan(rule.subject, rule.value))
    assert len(rules) < len(whole.rules)
    return _calls(files, whole), _calls(files, replace(whole, rules=rules))


def _calls(files: list[tuple[str, bytes]], book: Rulebook) -> int:
    count = 0

    def seen(frame: Any, event: str, argument: Any) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    with patch.object(judging, "rulebook", lambda *_: book):
        check(files)  # what is made once is made
        sys.setprofile(seen)
        try:
            check(files)
        finally:
            sys.setprofile(None)
    return count


if __name__ == "__main__":
    main()
