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
from checker.reports import FormatOptions
from checker.run import batch, sharing
from checker.run.batch import Plan
from checker.run.cluster import NoCluster, cluster
from tests.cli.calling import prescreed
from tests.design.designs import generate

PLAN = Plan(formats=(FormatOptions("json"),))


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


@pytest.mark.long
def test_a_cluster_gives_the_same_bytes(scheduler: Any, files: list[str]) -> None:
    folder = str(Path(files[0]).parent)
    here = prescreed("check", "--format", "json", "--no-cache", "--jobs", "1", folder)
    there = prescreed(
        "check", "--format", "json", "--no-cache", "--cluster", scheduler.scheduler_address, folder
    )
    assert there.stdout == here.stdout
    assert there.returncode == here.returncode


@pytest.mark.long
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


@pytest.mark.long
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


CHECK_CHUNK = sharing.check_chunk


def away(
    files: list[tuple[str, bytes | None]], plan: Plan, folder: str, beside: Any
) -> list[batch.Entry]:
    """What a worker does that cannot reach the caller's disk: there is nothing of it."""

    def nothing(*_: Any, **__: Any) -> Any:
        raise AssertionError("a worker looked at the caller's disk")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("checker.reading.bounded.start_of", nothing)
        patch.setattr("os.path.lexists", nothing)
        made = CHECK_CHUNK(files, plan, folder, beside)
    assert isinstance(made, list)
    return made


def test_what_lies_beside_a_design_goes_with_it_to_a_worker_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from concurrent.futures import ThreadPoolExecutor

    example = Path(__file__).parents[2] / "example_designs" / "drawings"
    text = (example / "orchard-row-7.yaml").read_text("utf-8")
    for name in ("orchard-row-7.dxf", "orchard-row-7.map.yaml"):
        (tmp_path / name).write_bytes((example / name).read_bytes())
    start = text.index("\nplan:") + 1
    named = "plan: {drawing: orchard-row-7.dxf, map: orchard-row-7.map.yaml}\n"
    (tmp_path / "house.yaml").write_text(text[:start] + named, "utf-8")
    (tmp_path / "house.answers.yaml").write_text(
        "answers: 1\nseen:\n  - {rule: header-purge, subject: headers.H1, result: as wanted, "
        "by: A. Fitter, on: 2026-04-02, what: tried}\n",
        "utf-8",
    )
    gone = text[:start] + named.replace("7.dxf", "8.dxf")
    (tmp_path / "gone.yaml").write_text(gone, "utf-8")
    files = [str(tmp_path / "gone.yaml"), str(tmp_path / "house.yaml")]
    here = list(batch.run(files, PLAN, 1))
    monkeypatch.setattr(sharing, "check_chunk", away)
    with ThreadPoolExecutor(1) as executor:
        there = list(batch.run(files, PLAN, 1, executor))
    assert pieces(iter(there)) == pieces(iter(here))
    assert b'"drawn_length"' in bytes(pieces(iter(there))[0])
    assert b"A. Fitter" in bytes(pieces(iter(there))[0])
    assert [chunk.unreadable for chunk in there] == [chunk.unreadable for chunk in here]
    assert "'orchard-row-8.dxf' cannot be read: No such file" in here[0].unreadable[0].message


def test_a_drawing_is_read_from_the_address_of_its_design() -> None:
    import fsspec

    example = Path(__file__).parents[2] / "example_designs" / "drawings"
    text = (example / "orchard-row-7.yaml").read_text("utf-8")
    text = text[: text.index("\nplan:") + 1]
    text += "plan: {drawing: orchard-row-7.dxf, map: orchard-row-7.map.yaml}\n"
    contents = {
        "house.yaml": text.encode(),
        "orchard-row-7.dxf": (example / "orchard-row-7.dxf").read_bytes(),
        "orchard-row-7.map.yaml": (example / "orchard-row-7.map.yaml").read_bytes(),
    }
    for name, content in contents.items():
        with fsspec.open(f"memory://drawn/{name}", "wb") as file:
            file.write(content)
    (found,) = batch.run(["memory://drawn/house.yaml"], PLAN, 1)
    assert found.unreadable == []
    assert b'"drawn_length"' in bytes(found.pieces[0][0])
