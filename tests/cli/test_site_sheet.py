"""`prescreed site-sheet` as a foreman's office calls it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.calling import prescreed
from tests.example import DESIGN, changed

LOW = changed(("pressure: 4 bar", "pressure: 2 bar"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "low.yaml").write_text(LOW, "utf-8")
    (tmp_path / "sound.yaml").write_text(DESIGN, "utf-8")
    return tmp_path


def test_a_sound_design_gets_its_sheet(folder: Path) -> None:
    done = prescreed("site-sheet", str(folder / "sound.yaml"))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("<!doctype html>")


def test_a_critical_finding_keeps_the_sheet_back_with_its_reason(folder: Path) -> None:
    out = folder / "sheet.html"
    done = prescreed("site-sheet", str(folder / "low.yaml"), "--output", str(out))
    assert done.returncode == 1
    assert "because of 1 critical finding:" in done.stderr
    assert "The test is made at 2 bar; 4 bar to 6 bar is wanted. (test-pressure)" in done.stderr
    assert "--despite-findings" in done.stderr
    assert not out.exists()


def test_despite_findings_the_sheet_carries_them(folder: Path) -> None:
    done = prescreed("site-sheet", "--despite-findings", str(folder / "low.yaml"))
    assert (done.returncode, done.stderr) == (0, "")
    assert "The test is made at 2 bar" in done.stdout


def test_of_several_designs_the_sound_ones_get_theirs(folder: Path) -> None:
    done = prescreed("site-sheet", "--format", "csv", str(folder))
    assert done.returncode == 1
    assert done.stdout.count('"Test House"') == 4
    (folder / "worse.yaml").write_text("design: 1\nloops: {L1: {length: 88}}\n", "utf-8")
    done = prescreed("site-sheet", "--format", "csv", str(folder))
    assert done.returncode == 2
    assert "worse.yaml:2:" in done.stderr
    assert done.stdout.count('"Test House"') == 4


def test_a_place_that_cannot_be_written_is_said(folder: Path) -> None:
    done = prescreed("site-sheet", str(folder / "sound.yaml"), "--output", str(folder))
    assert done.returncode == 2
    assert "is a folder" in done.stderr


def test_a_design_without_a_loop_gets_no_sheet(tmp_path: Path) -> None:
    """Not even despite its findings: there is nothing on it that anybody could set."""
    put = tmp_path / "empty.yaml"
    put.write_text("design: 1\n", "utf-8")
    for words in ([], ["--despite-findings"]):
        done = subprocess.run(
            [sys.executable, "-m", "checker", "site-sheet", str(put), *words],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert (done.returncode, done.stdout) == (1, "")
        assert "the design has no loop" in done.stderr
