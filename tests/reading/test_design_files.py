"""Which files a folder means."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from checker.reading import design_files


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


def found(folder: Path) -> list[str]:
    return [Path(path).name for path in design_files.designs([str(folder)]).files]


@pytest.mark.parametrize("name", ["a.yaml", "a.yml", "a.json", "A.YAML", "A.Yml", "A.JSON"])
def test_an_ending_counts_in_capitals_and_small_letters(folder: Path, name: str) -> None:
    (folder / name).write_text("design: 1\n")
    assert found(folder) == [name]


@pytest.mark.parametrize("name", ["prescreed.yaml", "house.readings.yaml", ".a.yaml", "a.txt"])
def test_what_stands_beside_designs_is_none(folder: Path, name: str) -> None:
    (folder / "a.yaml").write_text("design: 1\n")
    (folder / name).write_text("design: 1\n")
    assert found(folder) == ["a.yaml"]


def test_a_pipe_in_a_folder_is_no_design(folder: Path) -> None:
    (folder / "a.yaml").write_text("design: 1\n")
    os.mkfifo(folder / "b.yaml")
    assert found(folder) == ["a.yaml"]


def test_a_link_to_a_design_counts_and_one_that_leads_nowhere_is_not_lost(folder: Path) -> None:
    (folder / "elsewhere").mkdir()
    (folder / "elsewhere" / "a.txt").write_text("design: 1\n")
    (folder / "b.yaml").symlink_to("elsewhere/a.txt")
    (folder / "c.yaml").symlink_to("gone.yaml")
    assert found(folder) == ["b.yaml", "c.yaml"]


def test_a_design_is_found_once_by_its_first_path(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "designs").mkdir()
    (folder / "designs" / "b.yaml").write_text("design: 1\n")
    (folder / "designs" / "a.yaml").symlink_to("b.yaml")
    (folder / "link").symlink_to("designs")
    monkeypatch.chdir(folder)
    named = ["link", "designs", "./designs/b.yaml", "designs/../designs/b.yaml"]
    assert design_files.designs(named).files == ["./designs/b.yaml"]
    assert design_files.designs(["link", "designs"]).files == ["designs/a.yaml"]
    assert design_files.designs(["-", "-"]).files == ["-"]
