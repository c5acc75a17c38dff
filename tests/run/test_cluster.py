"""The same chunks on a real local cluster of two worker processes, one of which is killed."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from checker.reading.design_files import designs
from checker.reports import Chosen
from checker.run import batch
from checker.run.batch import Plan
from checker.run.cluster import NoCluster, cluster
from tests.cli.test_check import prescreed
from tests.design.designs import generate

PLAN = Plan(formats=(Chosen("json"),))


@pytest.fixture(scope="module")
def scheduler() -> Iterator[Any]:
    import distributed

    start: Any = distributed.LocalCluster
    with start(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as made:
        yield made


@pytest.fixture
def files(tmp_path: Path) -> list[str]:
    paths = []
    for number in range(80):
        path = tmp_path / f"h{number:03}.yaml"
        path.write_text(generate(number, loops=4), "utf-8")
        paths.append(str(path))
    return paths


def pieces(chunks: Iterator[batch.Checked]) -> list[batch.Piece]:
    return [piece for chunk in chunks for piece in chunk.pieces[0]]


def test_a_cluster_gives_the_same_bytes(scheduler: Any, files: list[str]) -> None:
    folder = str(Path(files[0]).parent)
    here = prescreed("check", "--format", "json", "--no-cache", "--jobs", "1", folder)
    there = prescreed(
        "check", "--format", "json", "--no-cache", "--cluster", scheduler.scheduler_address, folder
    )
    assert there.stdout == here.stdout
    assert there.returncode == here.returncode


def test_a_firms_rules_are_shipped(scheduler: Any, tmp_path: Path, files: list[str]) -> None:
    pack = tmp_path / "pack"
    pack.mkdir()
    rule = (Path(__file__).parents[2] / "rules" / "loops" / "loop-length.yaml").read_text("utf-8")
    (pack / "loop-length.yaml").write_text(
        rule.replace("severity: major", "severity: minor", 1), "utf-8"
    )
    words = ("check", "--format", "json", "--no-cache", "--rules", str(pack), files[0], files[1])
    here = prescreed(*words)
    there = prescreed(*words, "--cluster", scheduler.scheduler_address)
    assert there.stdout == here.stdout
    assert '"rule":"loop-length"' in here.stdout


def test_a_worker_killed_in_mid_run_is_survived(scheduler: Any, files: list[str]) -> None:
    alone = pieces(batch.run(files, PLAN, 1))
    victim = next(iter(scheduler.workers.values())).pid

    def kill() -> None:
        time.sleep(0.3)
        os.kill(victim, signal.SIGKILL)

    with cluster(scheduler.scheduler_address) as (executor, workers):
        assert workers == 2
        killer = threading.Thread(target=kill)
        killer.start()
        # Many rounds, so that the run is going on when the worker dies.
        rounds = [pieces(batch.run(files, PLAN, workers, executor)) for _ in range(6)]
        killer.join()
    assert all(found == alone for found in rounds)


def test_an_address_without_a_scheduler_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    import checker.run.cluster

    monkeypatch.setattr(checker.run.cluster, "WAIT", "1s")
    with pytest.raises(NoCluster, match="no scheduler answers"), cluster("tcp://127.0.0.1:9"):
        pass


def test_designs_are_read_from_an_address(files: list[str]) -> None:
    folder = Path(files[0]).parent
    named = designs([f"file://{folder}"])
    assert named.problems == []
    assert named.files == [f"file://{path}" for path in files]
    there = list(batch.run(named.files, PLAN, 1))
    assert sum(chunk.totals.designs for chunk in there) == len(files)


def test_an_address_with_nothing_there_is_told() -> None:
    assert "no design under this address" in designs(["memory://nothing"]).problems[0].message
    assert "cannot be read" in designs(["nosuch://x"]).problems[0].message
