"""The bar on a terminal moves by designs done, and nobody else sees one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from checker.run import batch, progress
from tests.design.designs import generate


class _Bar:
    """Stands for the bar of a terminal."""

    task_ids = (0,)

    def __init__(self) -> None:
        self.done: list[int] = []

    def update(self, task: int, completed: int) -> None:
        self.done.append(completed)

    def stop(self) -> None:
        self.done.append(-1)


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Callable[[], list[_Bar]]:
    """A terminal, and the bars that were shown on it."""
    shown: list[_Bar] = []

    def bar(designs: int) -> _Bar:
        shown.append(_Bar())
        return shown[-1]

    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    monkeypatch.setattr(progress, "PATIENCE", -1.0)
    monkeypatch.setattr(progress, "_bar", bar)
    return lambda: shown


def test_it_moves_in_one_process_too(
    tmp_path: Path, terminal: Callable[[], list[_Bar]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(progress, "WATCHED", 2)
    files = []
    for number in range(6):
        path = tmp_path / f"{number}.yaml"
        path.write_text(generate(number, loops=1), "utf-8")
        files.append(str(path))
    chunks = batch.run(files, batch.Plan(), 1, at_once=progress.at_once())
    assert len([*progress.watched(chunks, len(files))]) == 3
    (bar,) = terminal()
    assert bar.done == [2, 4, 6, -1]


def test_without_a_terminal_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: False, raising=False)
    monkeypatch.setattr(progress, "_bar", pytest.fail)
    with progress.progress_bar(10) as advance:
        advance(5)
    assert progress.at_once() == batch.CHUNK
