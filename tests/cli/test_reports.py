"""Reports as a call asks for them: several at once, in files and folders, as tables."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.calling import prescreed
from tests.example import SOUND as DESIGN
from tests.example import sound_but


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in (("a", DESIGN), ("b", sound_but(("length: 88 m", "length: 128 m")))):
        (tmp_path / f"{name}.yaml").write_text(text, "utf-8")
    return tmp_path


def test_several_reports_of_one_run(folder: Path) -> None:
    out = folder / "out"
    out.mkdir()
    pairs = []
    for name, file in (("html", "r.html"), ("markdown", "r.md"), ("csv", "r.csv")):
        pairs += ["--format", name, "--output", str(out / file)]
    done = prescreed("check", *pairs, "--format", "text", str(folder))
    assert (done.returncode, done.stderr) == (1, "")
    assert "2 designs, 1 on hold" in done.stdout
    assert sorted(file.name for file in out.iterdir()) == ["r.csv", "r.html", "r.md"]
    assert "2 designs, 1 on hold" in (out / "r.html").read_text("utf-8")


@pytest.mark.parametrize("name", ["pages", "pages/"])
def test_html_into_a_folder_is_a_page_a_design(folder: Path, name: str) -> None:
    if name == "pages":
        (folder / name).mkdir()
    done = prescreed("check", "--format", "html", "--output", name, "a.yaml", "b.yaml", cwd=folder)
    assert (done.returncode, done.stdout, done.stderr) == (1, "", "")
    files = sorted(file.name for file in (folder / "pages").iterdir())
    assert [file.split("-")[0] for file in files] == ["a", "b", "index.html"]


def test_only_html_goes_into_a_folder(folder: Path) -> None:
    done = prescreed("check", "--format", "csv", "--output", "pages/", "a.yaml", cwd=folder)
    assert done.returncode == 2
    assert "'pages/' is a folder; name a file for --output" in done.stderr


def test_html_is_the_same_with_one_worker_or_more(folder: Path) -> None:
    one, two = (
        prescreed("check", "--no-cache", "--format", "html", "--jobs", jobs, str(folder)).stdout
        for jobs in ("1", "2")
    )
    assert one == two


def test_a_table_of_loops(folder: Path) -> None:
    done = prescreed("check", "--format", "csv", "--table", "computed", str(folder))
    heading, *rows = done.stdout.splitlines()
    assert '"flow [l/min]"' in heading
    assert len(rows) == 4


def test_a_summary_has_a_line_a_design(folder: Path) -> None:
    done = prescreed("check", "--summary", "a.yaml", "b.yaml", cwd=folder)
    answer, empty, heading, first, second = done.stdout.splitlines()[:5]
    assert (answer, empty) == ("exit 1: 2 major in 1 design", "")
    assert done.stdout.splitlines()[-1] == answer
    assert heading == "VERDICT   CRITICAL  MAJOR  MINOR  OPEN  REVIEW  DESIGN"
    assert first.startswith("RELEASE")
    assert first.endswith("a.yaml · Test House")
    assert second.split()[:3] == ["HOLD", "·", "2"]


def test_findings_of_a_rule_together(folder: Path) -> None:
    done = prescreed("check", "--group-by", "rule", str(folder / "b.yaml"))
    assert "loop-length  Loop longer than its pipe can feed\n" in done.stdout
    assert "- loops.L1, line " in done.stdout
