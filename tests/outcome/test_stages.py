"""What each stage asks: a sound job is released with what it can have by then, and not without."""

from __future__ import annotations

import pytest

from checker.rulebook.model import STAGES
from tests.example import SEEN, SOUND, report

SECTIONS = ("pressure_tests:", "heat_up:", "balance:", "seen:")


def section(name: str) -> str:
    """A section of the design, by its first line, up to the next."""
    start = SOUND.index(f"\n{name}") + 1
    ends = [SOUND.index(f"\n{one}") + 1 for one in SECTIONS if f"\n{one}" in SOUND]
    return SOUND[start : min([end for end in ends if end > start], default=len(SOUND))]


ADDED = {
    "laid": ("tests with their readings", section("pressure_tests:")),
    "screeded": ("the day of the screed", ", laid_on: 2026-04-05"),
    "heated": ("how dry the screed is", ", moisture: 1.6 %"),
}
"""What a critical or major rule asks for from a stage on, and how the sound design states it."""


def at(stage: str, without: str = "") -> str:
    """The verdict on the sound design at a stage, something of it struck out."""
    assert without in SOUND
    text = SOUND.replace(without, "") if without else SOUND
    return report(text.replace("stage: installed", f"stage: {stage}")).verdict


@pytest.mark.parametrize("stage", STAGES)
def test_a_sound_job_is_released_at_every_stage(stage: str) -> None:
    assert at(stage) == "release"


def test_a_design_needs_no_record_to_be_laid() -> None:
    text = SOUND.replace("stage: installed", "stage: design")
    for name in SECTIONS:
        text = text.replace(section(name), "")
    assert report(text).verdict == "release"


@pytest.mark.parametrize("asks", ADDED)
def test_what_a_stage_asks_is_not_asked_before(asks: str) -> None:
    _, stated = ADDED[asks]
    first = STAGES.index(asks)
    verdicts = [at(stage, stated) for stage in STAGES]
    assert verdicts[:first] == ["release"] * first
    assert set(verdicts[first:]) == {"unproven"}


def test_what_must_be_looked_at_is_asked_from_its_stage_on() -> None:
    verdicts = [at(stage, SEEN) for stage in STAGES]
    assert verdicts == ["release", "release", "unproven", "unproven", "unproven"]
