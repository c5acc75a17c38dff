"""Many designs on several workers: the same bytes, and no design lost with a worker."""

from __future__ import annotations

import errno
import gc
import json
import os
import shutil
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from msgspec.msgpack import encode

from checker.reading.bounded import LARGEST_FILE, USUAL_FILE
from checker.reading.package_data import data_folder
from checker.reports import FormatOptions
from checker.run import batch, judging, rules_in_force, sharing
from checker.run.batch import Checked, Plan
from tests.design.designs import generate

PLAN = Plan(formats=(FormatOptions("json"),))


@pytest.fixture
def files(tmp_path: Path) -> list[str]:
    paths = []
    for number in range(60):
        path = tmp_path / f"h{number:03}.yaml"
        path.write_text(generate(number, loops=2), "utf-8")
        paths.append(str(path))
    return paths


def pieces(chunks: list[Checked]) -> list[batch.Piece]:
    return [piece for chunk in chunks for piece in chunk.pieces[0]]


def test_workers_change_nothing(files: list[str]) -> None:
    alone = pieces(list(batch.run(files, PLAN, 1)))
    assert len(alone) == len(files)
    assert pieces(list(batch.run(files, PLAN, 3))) == alone


@pytest.mark.long
def test_a_worker_that_dies_takes_one_design_with_it(
    files: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    real = batch.content_of
    fatal = files[17]

    def content(path: str) -> bytes:
        if path == fatal:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(path)

    alone = pieces(list(batch.run(files, PLAN, 1)))
    monkeypatch.setattr(judging, "content_of", content)
    chunks = list(batch.run(files, PLAN, 2))
    crashed = [failure for chunk in chunks for failure in chunk.crashed]
    assert [(failure.path, "worker died" in failure.message) for failure in crashed] == [
        (fatal, True)
    ]
    assert pieces(chunks) == [piece for n, piece in enumerate(alone) if n != 17]


def test_nothing_is_left_for_the_garbage_collector(files: list[str]) -> None:
    """Workers run without it, so a cycle would fill their memory."""
    chunk: list[tuple[str, bytes | None]] = [(path, None) for path in files[:9]]
    sharing.check_chunk(chunk, PLAN)
    gc.collect()
    gc.disable()
    try:
        sharing.check_chunk(chunk, PLAN)
        assert gc.collect() == 0
    finally:
        gc.enable()


def nobody() -> Iterator[batch.Entry]:
    raise AssertionError("the file is there")


def test_what_is_left_in_a_folder_comes_back_and_is_gone(files: list[str], tmp_path: Path) -> None:
    plan = Plan(formats=(FormatOptions("json"), FormatOptions("text")))
    chunk: list[tuple[str, bytes | None]] = [(path, None) for path in files[:7]]
    alone = sharing.check_chunk(chunk, plan)
    folder = tmp_path / "between"
    folder.mkdir()
    spooled = sharing.check_chunk(chunk, plan, str(folder))
    assert isinstance(alone, list)
    assert isinstance(spooled, sharing.SpoolFile)
    assert [path.name for path in folder.iterdir()] == [Path(spooled.path).name]
    assert [entry.pieces for entry in spooled.entries] == [()] * 7
    assert list(spooled.fetched(nobody)) == alone
    assert [len(entry.pieces) for entry in alone] == [2] * 7
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("size", [None, 0, 100_000])
def test_what_was_taken_from_the_folder_is_made_anew(
    files: list[str], tmp_path: Path, size: int | None
) -> None:
    chunk: list[tuple[str, bytes | None]] = [(path, None) for path in files[:7]]
    alone = sharing.check_chunk(chunk, PLAN)
    spooled = sharing.check_chunk(chunk, PLAN, str(tmp_path))
    assert isinstance(spooled, sharing.SpoolFile)
    if size is None:
        os.unlink(spooled.path)
    else:
        os.truncate(spooled.path, size)
    assert list(spooled.fetched(lambda: judging.entries(chunk, PLAN))) == alone


def test_what_writing_pages_leaves_is_collected_on_the_way(
    files: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    pages = Plan(formats=(FormatOptions("html"),))
    chunk: list[tuple[str, bytes | None]] = [(path, None) for path in files[:4]]
    sharing.check_chunk(chunk, pages)
    left = []
    for most in (10**9, 500):
        monkeypatch.setattr(judging, "MOST_GARBAGE", most)
        gc.collect()
        gc.disable()
        try:
            sharing.check_chunk(chunk, pages)
            left.append(gc.collect())
        finally:
            gc.enable()
    assert left[0] > 2_000
    assert left[1] < left[0] / 2


def test_without_room_reports_go_the_other_way(
    files: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chunk: list[tuple[str, bytes | None]] = [(path, None) for path in files[:7]]
    alone = sharing.check_chunk(chunk, PLAN)
    real = judging.entries
    rounds: list[int] = []

    def full_at_the_fourth(*given: Any) -> Iterator[batch.Entry]:
        rounds.append(1)
        for number, entry in enumerate(real(*given)):
            if number == 3 and len(rounds) == 1:
                raise OSError(errno.ENOSPC, "No space left on device")
            yield entry

    monkeypatch.setattr(sharing, "entries", full_at_the_fourth)
    assert sharing.check_chunk(chunk, PLAN, str(tmp_path)) == alone
    assert len(rounds) == 2
    assert not list(tmp_path.glob("tmp*"))
    assert sharing.check_chunk(chunk, PLAN, str(tmp_path / "gone")) == alone


@pytest.mark.parametrize("more", [-1, 0, 1, 70_000])
def test_a_large_file_is_read_whole(tmp_path: Path, more: int) -> None:
    path = tmp_path / "large.yaml"
    data = os.urandom(USUAL_FILE + more)
    path.write_bytes(data)
    assert batch.content_of(str(path)) == data


def test_of_a_file_that_is_too_large_one_byte_more_is_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.yaml"
    path.write_bytes(b"#" * (LARGEST_FILE + 1000))
    assert len(batch.content_of(str(path))) == LARGEST_FILE + 1


def test_chunks_are_bounded_in_files_and_in_bytes(tmp_path: Path) -> None:
    paths = []
    for number, size in enumerate([10, 20, 90, 10, 200, 10, 10, 10]):
        path = tmp_path / f"{number}.yaml"
        path.write_bytes(b"x" * size)
        paths.append(str(path))
    some = [*paths, str(tmp_path / "gone.yaml"), "memory://far.yaml"]
    found = [[some.index(path) for path in part] for part in batch.chunks(some, 3, 100)]
    assert found == [[0, 1], [2, 3], [4], [5, 6, 7], [8, 9]]


def test_files_that_are_shown_alike_are_each_judged(tmp_path: Path) -> None:
    names = [b"d\xff.yaml", b"d\\xff.yaml", b"e.yaml"]
    paths = [os.fsdecode(os.path.join(os.fsencode(tmp_path), name)) for name in names]
    for number, path in enumerate(paths):
        Path(path).write_text(generate(number, loops=2), "utf-8")
    assert len({batch.shown(path) for path in paths}) == 2
    found = [json.loads(bytes(piece))["name"] for piece in pieces(list(batch.run(paths, PLAN, 1)))]
    assert found == [f"Invented Street {number}" for number in range(3)]
    twice = pieces(list(batch.run([paths[2], paths[2]], PLAN, 1)))
    assert len(twice) == 2
    assert twice[0] == twice[1]


def test_totals_join(files: list[str]) -> None:
    chunks = list(batch.run(files, PLAN, 1))
    assert sum(chunk.totals.designs for chunk in chunks) == len(files)


def test_a_file_that_cannot_be_opened_is_told(tmp_path: Path) -> None:
    (checked,) = judging.entries([(str(tmp_path / "gone.yaml"), None)], PLAN)
    assert [problem.line for problem in checked.unreadable] == [1]
    assert "cannot be read" in checked.unreadable[0].message
    assert checked.totals.unreadable == 1


@pytest.mark.parametrize(
    ("count", "jobs", "size"), [(1_000, 2, 500), (10_000, 2, 500), (60, 8, 8), (3, 8, 1), (0, 1, 1)]
)
def test_a_chunk_is_as_large_as_may_be_with_one_for_every_worker(
    count: int, jobs: int, size: int
) -> None:
    assert batch._chunk_size(count, jobs) == size


def test_the_rules_that_a_package_brings_compiled_are_those_of_its_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(data_folder("rules"), tmp_path / "rules")
    monkeypatch.setattr(rules_in_force, "data_path", lambda name: str(tmp_path / name))
    (tmp_path / rules_in_force.PACKAGED).write_bytes(rules_in_force.packaged())
    ready = rules_in_force.compiled_rules((), None)
    assert ready == rules_in_force._ready_made() != b""
    # As bytes, for a number that is not known is unlike itself.
    assert encode(rules_in_force.rulebook((), ready)) == encode(rules_in_force.rulebook())
    changed = next((tmp_path / "rules").rglob("*.yaml"))
    changed.write_bytes(changed.read_bytes() + b"# changed\n")
    assert rules_in_force._ready_made() == b""


def test_what_is_said_of_a_failure_names_the_file_and_keeps_the_trace_for_developers() -> None:
    try:
        raise ZeroDivisionError("planted")
    except ZeroDivisionError as error:
        made = judging.failed("house.yaml", error)
    assert made.place == "house.yaml"
    assert "ZeroDivisionError: planted" in made.message
    assert "Traceback" not in made.message
    assert made.trace.startswith("Traceback")
