"""Measuring the plan of twelve loops, over plain `yaml.load` of the design; and judging it.

By processor time, so that neighbours on the machine do not count.

python -m tests.benchmarks.drawing
"""

from __future__ import annotations

from collections.abc import Callable
from time import process_time

import yaml

from checker.design import plans
from checker.geometry.measuring import measure
from checker.run.batch import check
from tests.geometry.drawings import as_text, design, house

RUNS = 15


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


if __name__ == "__main__":
    main()
