"""What the benchmarks share: designs on disk, and the best of several runs."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from time import perf_counter

from tests.design.designs import generate


@contextmanager
def designs(count: int, loops: int = 8) -> Iterator[list[str]]:
    """Paths of so many generated designs, there as long as the block runs."""
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for number in range(count):
            path = Path(folder) / f"house-{number:06}.yaml"
            path.write_text(generate(number, loops), "utf-8")
            paths.append(str(path))
        yield paths


def seconds(work: Callable[[], object], runs: int = 5) -> float:
    """The shortest of several runs: the one least disturbed by whatever else goes on."""
    return in_turn({"": work}, runs)[""]


def in_turn(works: dict[str, Callable[[], object]], runs: int) -> dict[str, float]:
    """The shortest run of each, run in turn: a machine's slow minute then strikes all alike."""
    best = dict.fromkeys(works, float("inf"))
    for _ in range(runs):
        for name, work in works.items():
            start = perf_counter()
            work()
            best[name] = min(best[name], perf_counter() - start)
    return best
