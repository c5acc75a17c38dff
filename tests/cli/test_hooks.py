"""The hook for the pre-commit framework, in a scratch repository."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.repository import DIRTY, SOURCE, WAIVER, Repository
from tests.example import SOUND as DESIGN

MANIFEST = SOURCE / ".pre-commit-hooks.yaml"


def pre_commit(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "pre_commit", *words],
        cwd=folder, capture_output=True, text=True, check=False,
        env={
            **os.environ,
            "PYTHONPATH": str(SOURCE),
            "PRE_COMMIT_HOME": str(folder.parent / "home"),
            "GITHUB_ACTIONS": "",
        },
    )  # fmt: skip


@pytest.fixture
def project(tmp_path: Path) -> Repository:
    """A repository that uses the hook, from a scratch repository that publishes it.

    The hook's own language installs the package; here it runs what is under test.
    """
    text = MANIFEST.read_text("utf-8")
    for old, new in (
        ("entry: prescreed check", f"entry: {sys.executable} -m checker check"),
        ("language: python", "language: system"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    publisher = Repository(tmp_path / "publisher")
    publisher.put(".pre-commit-hooks.yaml", text)
    publisher.commit()
    made = Repository(tmp_path / "project")
    revision = publisher.git("rev-parse", "HEAD").strip()
    made.put(
        ".pre-commit-config.yaml",
        f"repos: [{{repo: '{publisher.folder}', rev: {revision}, hooks: [{{id: prescreed}}]}}]\n",
    )
    made.commit()
    return made


def test_the_manifest_is_valid() -> None:
    done = pre_commit(SOURCE, "validate-manifest", str(MANIFEST))
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_hook_lets_sound_designs_pass_and_stops_others(project: Repository) -> None:
    project.put("designs/house.yaml", DESIGN)
    # None of these is a design, and all have its ending.
    project.put("designs/prescreed.waivers.yaml", WAIVER.replace("loops.L1", "loops.L9"))
    project.put("designs/job.readings.yaml", "readings: 1\n")
    project.put("other.yaml", "a: b\n")
    project.git("add", "--all")
    done = pre_commit(project.folder, "run")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Passed" in done.stdout

    project.put("designs/house.yaml", DIRTY)
    project.git("add", "--all")
    done = pre_commit(project.folder, "run")
    assert done.returncode == 1
    assert "Loop longer than its pipe can feed" in done.stdout


@pytest.mark.long
def test_a_changed_policy_checks_what_it_governs(project: Repository) -> None:
    project.put("designs/house.yaml", DIRTY)
    project.put("deploy.yaml", "kind: Service\n")
    project.put("prescreed.waivers.yaml", WAIVER.replace("2026-12-31", "2034-12-31"))
    project.put("pyproject.toml", "[tool.other]\n")
    project.commit()
    project.put("pyproject.toml", "[tool.other]\nx = 1\n")
    project.git("add", "--all")
    assert "nothing to judge" in pre_commit(project.folder, "run", "--verbose").stdout
    project.put("prescreed.waivers.yaml", "waivers: []\n")
    project.git("add", "--all")
    done = pre_commit(project.folder, "run")
    assert done.returncode == 1, done.stdout
    assert "exit 1: 1 major in 1 design" in done.stdout


@pytest.mark.long
@pytest.mark.parametrize("how", ["deleted", "renamed"])
def test_a_policy_that_a_commit_takes_away_is_seen(project: Repository, how: str) -> None:
    project.put("designs/house.yaml", DIRTY)
    project.put("prescreed.waivers.yaml", WAIVER.replace("2026-12-31", "2034-12-31"))
    project.put("notes.md", "a\n")
    project.commit()
    project.put("notes.md", "b\n")
    project.git("add", "--all")
    done = pre_commit(project.folder, "run", "--verbose")
    assert (done.returncode, "no design and no policy is named" in done.stdout) == (0, True)
    if how == "deleted":
        project.git("rm", "--quiet", "prescreed.waivers.yaml")
    else:
        project.git("mv", "prescreed.waivers.yaml", "waivers.old")
    done = pre_commit(project.folder, "run")
    assert done.returncode == 1
    assert "exit 1: 1 major in 1 design" in done.stdout
    # The same of a range of commits, as a server's hook asks for it.
    project.commit()
    words = ("run", "--from-ref", "HEAD~1", "--to-ref", "HEAD")
    assert pre_commit(project.folder, *words).returncode == 1


@pytest.mark.long
def test_many_files_go_through_one_process(project: Repository) -> None:
    for number in range(30):
        project.put(f"designs/h{number:02}.yaml", DESIGN)
    project.git("add", "--all")
    done = pre_commit(project.folder, "run", "--verbose")
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("30 designs, 0 on hold") == 1
