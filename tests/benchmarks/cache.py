"""A run over unchanged designs against the same run made for the first time.

python -m tests.benchmarks.cache
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from time import perf_counter

from checker.reports import FormatOptions
from checker.run import batch
from checker.run.batch import Plan
from checker.run.cache import Cache
from tests.benchmarks.measuring import designs

COUNT = 2_000


def main() -> None:
    """Print the ratios."""
    with designs(COUNT) as paths, tempfile.TemporaryDirectory() as folder:
        for format_ in ("json", "text"):
            plan = Plan(formats=(FormatOptions(format_),))

            def timed(cache: Cache | None, plan: Plan = plan) -> float:
                start = perf_counter()
                for checked in batch.run(paths, plan, 1, cache=cache):
                    assert checked.entries
                return perf_counter() - start

            path = Path(folder) / f"{format_}.sqlite"
            without = min(timed(None) for _ in range(3))
            cold = timed(Cache(path))
            warm = min(timed(Cache(path)) for _ in range(5))
            size = path.stat().st_size / COUNT / 1000
            print(
                f"{COUNT} designs, {format_}: without a cache {without / COUNT * 1e3:.2f} ms each = 1.00"
            )
            print(f"  first run, filling the cache {cold / without:5.2f}")
            print(
                f"  next run, nothing changed    {warm / without:5.2f}   ({size:.0f} kB kept a design)"
            )


if __name__ == "__main__":
    main()
