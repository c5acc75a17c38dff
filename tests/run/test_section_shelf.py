"""Sections that were solved before: not solved again, the same bytes, trusted as other entries."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from checker.physics import section
from checker.physics.build_up import Section, wet_section
from checker.physics.shelf import at_hand, shelved
from checker.run import batch
from checker.run.cache import Cache
from checker.run.section_shelf import SectionShelf
from tests.benchmarks.sections import DRY, design

SLAB = wet_section(0.15, 0.045, 1.2, 0.02, 0.016, 0.002, 0.35, 2.67)
PROGRAM = b"program"


@pytest.fixture(autouse=True)
def _nothing_in_hand() -> None:
    section.forget()


@pytest.fixture
def solved(monkeypatch: pytest.MonkeyPatch) -> list[Section]:
    """The sections that were solved on a grid."""
    found: list[Section] = []
    once = section.solve_once

    def noted(sections: Sequence[Section], fineness: int) -> Any:
        found.extend(sections)
        return once(sections, fineness)

    monkeypatch.setattr(section, "solve_once", noted)
    return found


def shelf(path: Path, program: bytes = PROGRAM) -> SectionShelf:
    return SectionShelf(path / "results.sqlite", lambda: program)


def checked(file: Path, cache: Cache | None) -> list[bytes]:
    section.forget()
    plan = batch.Plan()
    return [
        bytes(piece)
        for done in batch.run([str(file)], plan, 1, cache=cache)
        for own in done.pieces
        for piece in own
    ]


def test_a_changed_design_solves_no_section_again(tmp_path: Path, solved: list[Section]) -> None:
    file, cache = tmp_path / "house.yaml", Cache(tmp_path / "kept" / "results.sqlite")
    file.write_bytes(design(DRY))
    checked(file, cache)
    assert len(solved) == 5
    file.write_bytes(design(DRY).replace(b"heat_load: 3 kW", b"heat_load: 2.5 kW"))
    solved.clear()
    kept = checked(file, cache)
    assert solved == []
    assert checked(file, None) == kept
    assert len(solved) == 5
    assert at_hand() is None


def test_a_changed_section_is_solved(tmp_path: Path, solved: list[Section]) -> None:
    file, cache = tmp_path / "house.yaml", Cache(tmp_path / "kept" / "results.sqlite")
    file.write_bytes(design(DRY))
    checked(file, cache)
    solved.clear()
    file.write_bytes(design(DRY).replace(b"thickness: 20 mm", b"thickness: 20.1 mm"))
    checked(file, cache)
    assert len(solved) == 5


def test_another_program_solves_anew(tmp_path: Path) -> None:
    own = shelf(tmp_path)
    own.keep({SLAB: b"solution"})
    assert own.take([SLAB]) == {SLAB: b"solution"}
    assert shelf(tmp_path).take([SLAB]) == {SLAB: b"solution"}
    assert shelf(tmp_path, b"another").take([SLAB]) == {}


def test_what_is_no_solution_is_solved_anew(tmp_path: Path, solved: list[Section]) -> None:
    own = shelf(tmp_path)
    own.keep({SLAB: b"no solution"})
    with shelved(own):
        (found,) = section.kept([SLAB])
    assert solved == [SLAB]
    assert own.take([SLAB]) == {SLAB: found.packed()}


def test_a_folder_that_others_may_write_is_not_used(tmp_path: Path, solved: list[Section]) -> None:
    shelf(tmp_path).keep({SLAB: b"planted"})
    tmp_path.chmod(0o777)
    own = shelf(tmp_path)
    with shelved(own):
        section.kept([SLAB])
    assert own.take([SLAB]) == {}
    assert solved == [SLAB]


def test_a_forked_process_opens_the_file_for_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = shelf(tmp_path)
    own.keep({SLAB: b"solution"})
    mine = own._own()
    monkeypatch.setattr(os, "getpid", lambda: -1)
    assert own._own() is not mine
    assert own.take([SLAB]) == {SLAB: b"solution"}


def test_of_shelves_within_one_another_the_innermost_is_at_hand(tmp_path: Path) -> None:
    outer, inner = shelf(tmp_path / "outer"), shelf(tmp_path / "inner")
    before = at_hand()
    with shelved(outer):
        with shelved(inner):
            assert at_hand() is inner
        assert at_hand() is outer
    assert at_hand() is before
