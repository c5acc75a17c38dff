"""How time grows with designs, with loops a design and with rules: the fitted exponents.

python -m tests.benchmarks.growth
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from msgspec.structs import replace

from checker.design.tables import Tables
from checker.outcome.applicable import JudgingOptions
from checker.outcome.findings import judge
from checker.reports import FormatOptions
from checker.rulebook.book import Rulebook
from checker.run import batch, rules_in_force
from checker.run.batch import Plan
from tests.benchmarks.measuring import designs, seconds

PLAN = Plan(formats=(FormatOptions("json"),))


def exponent(sizes: list[int], times: list[float]) -> float:
    """The power of the size that the time grows with, by least squares on logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(times), 1)[0])


def whole(paths: list[str]) -> None:
    """Check these designs in one process."""
    for checked in batch.run(paths, PLAN, 1):
        assert checked.entries


def main() -> None:
    """Print the exponents; 1 is linear, less than 1 better."""
    counts = [500, 1_000, 2_000, 4_000]
    with designs(counts[-1]) as paths:
        times = [seconds(lambda n=n: whole(paths[:n]), 3) for n in counts]  # type: ignore[misc]
    print(f"designs {counts}: exponent {exponent(counts, times):.2f}")

    loops = [8, 40, 200, 800]
    times = []
    for number in loops:
        with designs(20, number) as paths:
            times.append(seconds(lambda paths=paths: whole(paths), 3))  # type: ignore[misc]
    print(f"loops a design {loops}, 20 designs: exponent {exponent(loops, times):.2f}")

    book = rules_in_force.rulebook()
    shares = [1, 2, 4, 8]
    times = []
    with designs(250) as paths:
        tables = Tables()
        for path in paths:
            tables.add(path, Path(path).read_bytes())
        for share in shares:
            many = replace(
                book,
                rules=tuple(
                    replace(rule, id=f"{rule.id}-{n}") for n in range(share) for rule in book.rules
                ),
            )

            def judged(many: Rulebook = many) -> None:
                judge(tables, many, JudgingOptions())

            times.append(seconds(judged, 3))
    rules = [share * len(book.rules) for share in shares]
    print(f"rules {rules}, 250 designs in tables: exponent {exponent(rules, times):.2f}")


if __name__ == "__main__":
    main()
