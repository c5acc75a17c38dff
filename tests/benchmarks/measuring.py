"""What the benchmarks share: designs on disk, the best of several runs, what a command uses."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from time import perf_counter
from typing import NamedTuple

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


class Used(NamedTuple):
    """What a command used: seconds of processor, and peak megabytes."""

    seconds: float
    megabytes: float


def used(words: list[str], folder: str = ".", program: Path | None = None, **more: str) -> Used:
    """What Python uses for these words, in a folder.

    program: where `checker` lies, this checkout if not said; more: of the environment.
    """
    # An installed program has its bytecode; where this is set, a checkout would compile again.
    own = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    own |= {"PYTHONPATH": str(program or Path(__file__).parents[2]), **more}
    command = [sys.executable, *words]
    process = subprocess.Popen(
        command, cwd=folder, env=own, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode in (0, 1), command
    return Used(usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)
