"""Compare as a person or a pipeline calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.calling import prescreed
from tests.example import DESIGN, changed


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("two")
    (made / "b.yaml").write_text(DESIGN, "utf-8")
    (made / "c.yaml").write_text(changed(("length: 88 m", "length: 128 m")), "utf-8")
    return made


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (["b.yaml", "c.yaml"], 1),
        (["c.yaml", "b.yaml"], 0),
        (["b.yaml", "b.yaml"], 0),
        (["b.yaml", "c.yaml", "--fail-on", "major"], 1),
        (["b.yaml", "c.yaml", "--fail-on", "critical"], 0),
        (["b.yaml", "c.yaml", "--fail-on", "never"], 0),
        (["b.yaml", "gone.yaml"], 2),
        (["b.yaml", "c.yaml", "--codes", "EN-1246"], 2),
        (["b.yaml", "c.yaml", "--output", "nowhere/x.txt"], 2),
        (["b.yaml"], 2),
    ],
)
def test_the_status_is_a_gate(folder: Path, words: list[str], status: int) -> None:
    done = prescreed("compare", *words, cwd=folder)
    assert done.returncode == status
    assert "Traceback" not in done.stderr
    assert bool(done.stderr) == (status == 2)


def test_the_text_begins_and_ends_with_the_status(folder: Path) -> None:
    for words in (["b.yaml", "c.yaml"], ["c.yaml", "b.yaml"], ["b.yaml", "gone.yaml"]):
        done = prescreed("compare", *words, cwd=folder)
        lines = done.stdout.splitlines()
        assert lines[0] == lines[-1]
        assert lines[0].startswith(f"exit {done.returncode}: ")


def test_formats(folder: Path) -> None:
    text = prescreed("compare", "b.yaml", "c.yaml", cwd=folder).stdout
    assert "length 88 m → 128 m" in text
    assert prescreed(
        "compare", "b.yaml", "c.yaml", "--format", "markdown", cwd=folder
    ).stdout.startswith("**1 design")
    page = prescreed("compare", "b.yaml", "c.yaml", "--format", "html", cwd=folder)
    assert (page.returncode, page.stdout.startswith("<!doctype html>")) == (1, True)
    done = prescreed(
        "compare", "b.yaml", "c.yaml", "--format", "json", "--output", "x.json", cwd=folder
    )
    assert (done.returncode, done.stdout) == (1, "")
    assert json.loads((folder / "x.json").read_text("utf-8"))["comparison"] == 2


def test_one_that_cannot_be_read_stops_no_other(folder: Path) -> None:
    for side in ("old", "new"):
        (folder / side).mkdir()
        (folder / side / "a.yaml").write_text(DESIGN, "utf-8")
    (folder / "new" / "bad.yaml").write_text("design: 1\nloops: {L1: {length: 88}}\n")
    done = prescreed("compare", "old", "new", cwd=folder)
    assert done.returncode == 2
    assert "1 design compared" in done.stdout.replace("\n", " ")
    assert "88 has no unit" in done.stderr
