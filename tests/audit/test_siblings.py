"""Other jobs that share a cause."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from checker.audit import jobs
from checker.audit.complaints import complaints
from checker.audit.jobs import open_job
from checker.audit.profiles import Traits
from checker.audit.siblings import SimilarJobs, family, likeness
from checker.run.batch import Plan
from tests.example import DESIGN, changed

LONG = complaints().causes["loop-too-long"]


def _write(folder: Path, name: str, *changes: tuple[str, str]) -> Path:
    own = folder / name
    own.mkdir()
    text = changed(("name: Test House", f"name: {name}"), *changes)
    (own / "installed.yaml").write_text(text, "utf-8")
    return own


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    long = ("length: 88 m", "length: 125 m")
    _write(tmp_path, "own", long)
    _write(tmp_path, "twin", long)
    _write(tmp_path, "far", long, ("cover: 45 mm", "cover: 80 mm"), ("2026-03-12", "2012-03-12"))
    _write(tmp_path, "slightly", ("length: 88 m", "length: 101 m"))
    _write(tmp_path, "sound")
    _write(
        tmp_path,
        "other",
        ("PE-RT", "copper"),
        ("material: cement", "material: calcium sulphate"),
        ("heat pump", "boiler"),
        ("cover: 45 mm", "cover: 90 mm"),
        ("2026-03-12", "2001-03-12"),
    )
    return tmp_path


@pytest.fixture
def found(archive: Path) -> SimilarJobs:
    return family(open_job(str(archive / "own")), LONG, str(archive), "rooms.kitchen")


def test_the_nearest_and_most_exposed_come_first(found: SimilarJobs) -> None:
    assert [one.name for one in found.sharing] == ["twin", "far", "slightly"]
    twin, far, slightly = found.sharing
    assert twin.exposure == far.exposure > slightly.exposure > 0
    assert twin.nearness > far.nearness
    assert any("The loop is 125 m long" in words for words in twin.findings)


def test_a_job_that_only_looks_alike_is_told_apart(found: SimilarJobs) -> None:
    assert [one.name for one in found.pattern] == ["sound"]
    assert found.pattern[0].exposure == 0
    assert found.looked_at == 5


def test_the_job_itself_is_no_sibling_but_a_namesake_folder_is(archive: Path) -> None:
    _write(archive, "own 2", ("length: 88 m", "length: 125 m"))
    names = {one.name for one in family(open_job(str(archive / "own")), LONG, str(archive)).sharing}
    assert "own" not in names
    assert "own 2" in names


def test_an_installed_state_stands_for_its_job(archive: Path) -> None:
    design = DESIGN.replace("stage: installed", "stage: design").replace("Test House", "twin")
    (archive / "twin" / "design.yaml").write_text(design, "utf-8")
    found = family(open_job(str(archive / "own")), LONG, str(archive))
    assert [one.path.rsplit("/", 1)[1] for one in found.sharing if one.name == "twin"] == [
        "installed.yaml"
    ]


def test_what_cannot_be_read_is_told(archive: Path) -> None:
    (archive / "sound" / "installed.yaml").write_text("design: 2\n", "utf-8")
    found = family(open_job(str(archive / "own")), LONG, str(archive))
    assert [problem.line for problem in found.unreadable] == [1]
    assert found.looked_at == 4


def test_a_second_look_judges_only_what_is_new(
    archive: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = open_job(str(archive / "own"))
    judged: list[str] = []
    judged_of_search = jobs.judged_of_search

    def counted(contents: list[tuple[str, bytes]], plan: Plan) -> Any:
        judged.extend(path for path, _ in contents)
        return judged_of_search(contents, plan)

    monkeypatch.setattr(jobs, "judged_of_search", counted)
    monkeypatch.setenv("PRESCREED_CACHE", str(archive.parent / f"{archive.name}-cache"))
    first = family(own, LONG, str(archive))
    assert len(judged) == 6
    judged.clear()
    assert family(own, LONG, str(archive)) == first
    assert judged == []
    # Another cause is told from the same profiles.
    assert family(own, complaints().causes["supply-too-cool"], str(archive)).looked_at == 5
    assert judged == []
    _write(archive, "late", ("length: 88 m", "length: 125 m"))
    slightly = archive / "slightly" / "installed.yaml"
    slightly.write_text(slightly.read_text("utf-8").replace("101 m", "88 m"), "utf-8")
    again = family(own, LONG, str(archive))
    assert [Path(path).parent.name for path in judged] == ["late", "slightly"]
    assert {one.name for one in again.sharing} == {"twin", "far", "late"}
    # Other rules are another matter, and nothing is taken from what was kept under these.
    judged.clear()
    family(own, LONG, str(archive), plan=Plan(codes=("EN-1264",)))
    assert len(judged) == 7


def test_likeness_is_by_range_and_by_word() -> None:
    one: Traits = {"pipe material": "PE-RT", "screed cover": 0.045, "supply": 40.0}
    other: Traits = {"pipe material": "copper", "screed cover": 0.065, "designer": "A"}
    assert likeness(one, one) == {"pipe material": 1.0, "screed cover": 1.0, "supply": 1.0}
    assert likeness(one, other) == {"pipe material": 0.0, "screed cover": pytest.approx(0.5)}
