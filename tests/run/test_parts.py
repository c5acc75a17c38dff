"""Reports in parts that workers write themselves: the same bytes from any number of workers."""

from __future__ import annotations

import gzip
import json
import os
import signal
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from checker.outcome.runs import Run, Totals
from checker.reading.design_files import listing
from checker.reports import FormatOptions, ReportText
from checker.run import batch, judging, parts, rules_in_force
from checker.run.cluster import cluster
from checker.run.course import Gate
from checker.run.parts import Sink, Task
from checker.run.writer import Unwritable
from tests.cli.calling import Calling, calling, prescreed
from tests.design.designs import generate

__all__ = ["calling"]

COUNT, SIZE = 23, 5


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    folder = tmp_path_factory.mktemp("designs")
    paths = []
    for number in range(COUNT):
        path = folder / f"h{number:03}.yaml"
        path.write_text(generate(number, loops=2), "utf-8")
        paths.append(str(path))
    (folder / "h007.yaml").write_text("design: 1\nplant: {suply: 45 °C}\n", "utf-8")
    return paths


@pytest.fixture(scope="module")
def scheduler() -> Iterator[Any]:
    import distributed

    start: Any = distributed.LocalCluster
    with start(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as made:
        yield made


def task(name: str, form: str = "json") -> Task:
    chosen = FormatOptions(form)
    plan = batch.Plan(formats=(chosen,), compiled=rules_in_force.kept_rules(()))
    return Task(plan, (Sink(chosen, name),), Run("", ""), Gate("major"), frozenset())


def written(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def told(checked: list[batch.Checked]) -> tuple[Totals, list[str]]:
    totals = Totals()
    for one in checked:
        assert one.apart is not None
        totals.join(one.apart)
    return totals, [entry.path for one in checked for entry in one.entries]


def test_parts_hold_what_the_whole_report_does(files: list[str], tmp_path: Path) -> None:
    made = list(parts.run(files, task(f"{tmp_path}/p-*.json.gz"), 1, size=SIZE))
    whole = [json.loads(bytes(p)) for c in batch.run(files, task("").plan, 1) for p in c.pieces[0]]
    found = written(tmp_path)
    assert [*found] == [f"p-{number:06}.json.gz" for number in range(5)]
    reports = [json.loads(gzip.decompress(content)) for content in found.values()]
    assert [design for one in reports for design in one["designs"]] == whole
    assert [len(one["files"]) for one in reports] == [5, 5, 5, 5, 3]
    assert [len(one["unreadable"]) for one in reports] == [0, 1, 0, 0, 0]
    assert reports[1]["answer"].startswith("exit 2: 1 file could not be read")
    # What passes the caller is counts, and files that could not be judged.
    totals, paths = told(made)
    assert totals.designs == COUNT - 1 == sum(one["totals"]["designs"] for one in reports)
    assert paths == [files[7]]
    assert sum(map(len, made)) == COUNT


@pytest.mark.long
def test_parts_are_the_same_bytes_from_any_number_of_workers(
    files: list[str], tmp_path: Path
) -> None:
    for jobs in (1, 2):
        where = tmp_path / str(jobs)
        where.mkdir()
        made = list(parts.run(files, task(f"{where}/*.json.xz"), jobs, size=SIZE))
        assert sum(map(len, made)) == COUNT
    assert written(tmp_path / "1") == written(tmp_path / "2")


@pytest.mark.long
def test_a_worker_killed_in_mid_run_loses_no_part(
    scheduler: Any, files: list[str], tmp_path: Path
) -> None:
    here = tmp_path / "here"
    here.mkdir()
    alone = told(list(parts.run(files, task(f"{here}/*.json.gz"), 1, size=2)))
    victim = next(iter(scheduler.workers.values())).pid

    def kill() -> None:
        time.sleep(0.3)
        os.kill(victim, signal.SIGKILL)

    with cluster(scheduler.scheduler_address) as (executor, workers):
        killer = threading.Thread(target=kill)
        killer.start()
        # Many rounds, so that the run is going on when the worker dies.
        for turn in range(6):
            there = tmp_path / f"there-{turn}"
            there.mkdir()
            name = f"{there}/*.json.gz"
            assert told(list(parts.run(files, task(name), workers, executor, size=2))) == alone
            assert written(there) == written(here)
        killer.join()


def deadly(path: str) -> bytes:
    if path.endswith("h011.yaml"):
        os._exit(9)
    return CONTENT_OF(path)


CONTENT_OF = batch.content_of


@pytest.mark.long
def test_a_design_that_kills_workers_takes_no_part_with_it(
    files: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(judging, "content_of", deadly)
    made = list(parts.run(files, task(f"{tmp_path}/*.json"), 2, size=SIZE))
    totals, paths = told(made)
    assert paths == [files[7], files[11]]
    assert totals.designs == COUNT - 2
    report = json.loads((tmp_path / "000002.json").read_bytes())
    assert [one["path"] for one in report["crashed"]] == [files[11]]
    assert len(report["designs"]) == SIZE - 1


def test_parts_go_to_an_address(files: list[str]) -> None:
    import fsspec

    list(parts.run(files, task("memory://reports/house-*.csv.gz", "csv"), 1, size=20))
    store = fsspec.filesystem("memory")
    assert sorted(store.ls("/reports", detail=False)) == [
        "/reports/house-000000.csv.gz",
        "/reports/house-000001.csv.gz",
    ]
    text = gzip.decompress(store.cat("/reports/house-000001.csv.gz")).decode()
    assert '"design","path","verdict"' in text.splitlines()[0]
    with pytest.raises(Unwritable, match="parts of an earlier run"):
        parts.refuse_existing_parts(Sink(FormatOptions("csv"), "memory://reports/house-*.csv.gz"))


@pytest.mark.parametrize("ending", ["json", "json.gz", "json.bz2", "json.xz"])
def test_a_part_that_cannot_be_finished_leaves_nothing_at_an_address(
    files: list[str], monkeypatch: pytest.MonkeyPatch, ending: str
) -> None:
    """Half a report would read like a whole one in which nothing else was found."""
    import fsspec

    def half() -> Iterator[bytes]:
        yield b"half of it"
        raise OSError("no room")

    monkeypatch.setattr(parts, "report", lambda *_: ReportText(half()))
    with pytest.raises(Unwritable, match="no room"):
        list(parts.run(files[:1], task(f"memory://cut/house-*.{ending}"), 1))
    assert not fsspec.filesystem("memory").glob("/cut/*")


def test_names_of_parts() -> None:
    assert parts.name_of_parts("json", "out/*.json.gz", far=False) == "out/*.json.gz"
    assert (
        parts.name_of_parts("json", "s3://bucket/out/", far=False) == "s3://bucket/out/part-*.json"
    )
    assert parts.name_of_parts("json", "out/", far=True) == "out/part-*.json"
    assert parts.name_of_parts("json", "out/", far=False) == ""
    assert parts.name_of_parts("html", "pages/", far=True) == ""
    assert parts.name_of_parts("json", "report.json", far=True) == ""
    assert parts.name_for_workers("file:///out/*.json") == "/out/*.json"
    assert parts.name_for_workers("*.json") == str(Path.cwd() / "*.json")
    assert parts.name_for_workers("s3://bucket/*.json") == "s3://bucket/*.json"
    for wrong, why in (
        ("*/report.json", "belongs in the file's name"),
        ("out/*-*.json", "write one"),
        ("s3://bucket/report.json", r"part-\*\.json\.gz"),
    ):
        with pytest.raises(Unwritable, match=why):
            parts.name_of_parts("json", wrong, far=False)


def test_the_command_writes_parts(files: list[str], tmp_path: Path) -> None:
    folder = str(Path(files[0]).parent)
    words = ("check", folder, "--format", "json", "--output", str(tmp_path / "p" / "*.json"))
    first = prescreed(*words)
    whole = prescreed("check", folder, "--format", "json", "--no-cache")
    assert first.returncode == whole.returncode == 2
    report, part = (
        json.loads(whole.stdout),
        json.loads((tmp_path / "p" / "000000.json").read_text()),
    )
    assert part == report
    assert first.stdout == ""
    assert "1 part\nexit 2: 1 file could not be read" in first.stderr
    again = prescreed(*words)
    assert again.returncode == 2
    assert "parts of an earlier run" in again.stderr
    both = prescreed(*words[:-1], str(tmp_path / "q-*.json"), "--format", "text")
    assert both.returncode == 2
    assert "two calls" in both.stderr


def test_designs_at_an_address_are_found_as_they_are_asked_for(tmp_path: Path) -> None:
    import fsspec

    names = ["a/2.yaml", "a/1.yaml", "a-b.yaml", "a.yaml", "b/c/9.json", "b/0.yml", "z.txt"]
    for name in [*names, "b/prescreed.yaml", "b/x.answers.yaml"]:
        with fsspec.open(f"memory://listed/{name}", "wb") as file:
            file.write(b"design: 1\n")
    store = fsspec.filesystem("memory")
    asked: list[str] = []
    ls = store.ls

    def counted(folder: str, **how: Any) -> Any:
        asked.append(folder)
        return ls(folder, **how)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(type(store), "ls", lambda self, folder, **how: counted(folder, **how))
        found = iter(listing(["memory://listed", "memory://listed/a"]))
        first = next(found)
        assert first == "memory:///listed/a-b.yaml"
        assert asked == ["/listed", "/listed/a"]  # no folder further down yet
        whole = [first, *found]
    # In the order of their paths, each once.
    assert whole == sorted(f"memory:///listed/{name}" for name in names[:-1])
    assert asked == ["/listed", "/listed/a", "/listed/a", "/listed/b", "/listed/b/c"]


def test_what_cannot_be_listed_is_told_and_the_rest_judged(
    files: list[str], tmp_path: Path, call: Calling
) -> None:
    import fsspec

    for number in range(3):
        with fsspec.open(f"memory://jobs/{number}/house.yaml", "wb") as file:
            file.write(Path(files[number]).read_bytes())
    store = type(fsspec.filesystem("memory"))
    ls = store.ls

    def forbidden(self: Any, folder: str, **how: Any) -> Any:
        if folder.endswith("/1"):
            raise PermissionError(13, "Access denied")
        return ls(self, folder, **how)

    words = ("check", "memory://jobs", "memory://nothing", "--format", "json", "--output")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(store, "ls", forbidden)
        done = call(*words, str(tmp_path / "*.json"), "--verbose")
    assert done.status == 2
    assert "all designs under memory://jobs and memory://nothing to judge" in done.err
    assert "memory:///jobs/1/:1:1: The folder cannot be read: [Errno 13] Access denied" in done.err
    assert "memory://nothing:1:1: There is no design under this address" in done.err
    part = json.loads((tmp_path / "000000.json").read_bytes())
    assert [one["path"] for one in part["designs"]] == [
        "memory:///jobs/0/house.yaml",
        "memory:///jobs/2/house.yaml",
    ]
    # A report in one piece lists them all before it begins, and says the same of each.
    whole = call("check", "memory://jobs", "--no-cache", "--format", "json")
    assert [one["path"] for one in whole.json["designs"]] == [
        f"memory:///jobs/{number}/house.yaml" for number in range(3)
    ]
    # What is passed over is counted, which takes all of them too.
    some = call(*words[:2], "--exclude", "*/1/*", *words[3:], str(tmp_path / "x-*.json"))
    assert some.status in (0, 1)
    part = json.loads((tmp_path / "x-000000.json").read_bytes())
    assert len(part["designs"]) == 2
