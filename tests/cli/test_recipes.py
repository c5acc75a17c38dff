"""The recipes of the manual, carried out as they are written, from a clone of this repository."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.cli.repository import DIRTY, SOURCE, Repository
from tests.example import SOUND
from tests.test_manual import blocks

ADDRESS = "https://git.example.org/prescreed.git"


def answer(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, cwd=cwd, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def clone(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """The address of a clone of this repository, and the commit that stands in it."""
    if shutil.which("git") is None or not (SOURCE / ".git").exists():
        pytest.skip("there is no git, or this is no checkout")
    folder = tmp_path_factory.mktemp("clone") / "prescreed.git"
    made = answer("git", "clone", "--quiet", "--bare", str(SOURCE), str(folder), cwd=SOURCE)
    commit = answer("git", "rev-parse", "HEAD", cwd=SOURCE).stdout.strip()
    there = answer("git", "cat-file", "-e", commit, cwd=folder if made.returncode == 0 else SOURCE)
    if made.returncode or there.returncode:
        pytest.skip(f"this checkout cannot be cloned with its commit: {made.stderr}")
    return f"file://localhost{folder}", commit


def fetched(done: subprocess.CompletedProcess[str]) -> subprocess.CompletedProcess[str]:
    """The same; skips the test where no packages can be fetched."""
    said = done.stdout + done.stderr
    if "Could not find a version" in said or "No matching distribution" in said:
        pytest.skip("no packages can be fetched here")
    return done


def recipe(number: int, clone: tuple[str, str]) -> Any:
    """A recipe, the clone's address and commit in it."""
    address, commit = clone
    return yaml.safe_load(
        blocks("ci", "yaml")[number].replace(ADDRESS, address).replace("COMMIT", commit)
    )


def test_there_are_three_recipes() -> None:
    recipes = [number for number, text in enumerate(blocks("ci", "yaml")) if ADDRESS in text]
    assert recipes == [2, 3, 4]


@pytest.mark.long
def test_the_workflows_install_a_commit_and_write_what_their_hosts_read(
    tmp_path: Path, clone: tuple[str, str]
) -> None:
    """Of a clean environment: whatever a recipe needs, it installs."""
    venv.create(tmp_path / "venv", with_pip=True)
    project = Repository(tmp_path / "project")
    project.put("designs/house.yaml", DIRTY)
    environment = {
        **os.environ,
        "PATH": f"{tmp_path / 'venv/bin'}{os.pathsep}{os.environ['PATH']}",
        "GITHUB_STEP_SUMMARY": str(tmp_path / "summary.md"),
        "PYTHONPATH": "",
    }
    steps = recipe(2, clone)["jobs"]["designs"]["steps"]
    host = [step["run"] for step in steps if "run" in step]
    forge = recipe(3, clone)["designs"]["script"]
    assert host[0] == forge[0]
    for script, status in ((host[0], 0), (host[1], 1), (forge[1], 1)):
        done = subprocess.run(
            ["bash", "-c", script],
            cwd=project.folder, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert fetched(done).returncode == status, done.stdout + done.stderr
    alerts = json.loads((project.folder / "alerts.sarif").read_text("utf-8"))
    assert {one["ruleId"] for one in alerts["runs"][0]["results"]} == {"loop-length"}
    assert "loop-length" in (tmp_path / "summary.md").read_text("utf-8")
    assert "loop-length" in (project.folder / "junit.xml").read_text("utf-8")
    quality = json.loads((project.folder / "code-quality.json").read_text("utf-8"))
    assert {one["check_name"] for one in quality} == {"prescreed/loop-length"}


@pytest.mark.long
def test_the_hook_installs_itself_and_holds_a_commit_back(
    tmp_path: Path, clone: tuple[str, str]
) -> None:
    pytest.importorskip("pre_commit", reason="there is no pre-commit")
    project = Repository(tmp_path / "project")
    project.put(".pre-commit-config.yaml", yaml.safe_dump(recipe(4, clone)))
    project.put("designs/house.yaml", SOUND)
    project.git("add", "--all")
    environment = {**os.environ, "PRE_COMMIT_HOME": str(tmp_path / "home"), "PYTHONPATH": ""}

    def hook() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "pre_commit", "run", "--all-files"],
            cwd=project.folder, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip

    done = hook()
    assert fetched(done).returncode == 0, done.stdout + done.stderr
    project.put("designs/house.yaml", DIRTY)
    project.git("add", "--all")
    done = hook()
    assert done.returncode == 1
    assert "loop-length" in done.stdout
