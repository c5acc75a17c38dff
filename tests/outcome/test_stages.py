"""What each stage asks: a sound job is released with what it can have by then, and not without."""

from __future__ import annotations

import re

import pytest
from msgspec import UNSET

from checker.outcome.report import DesignReport
from checker.rulebook.model import STAGES
from tests.example import SEEN, SOUND, report, result
from tests.outcome import stages_table

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
    "installed": ("the flows as set", section("balance:")),
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


def of_layers(hours: int) -> DesignReport:
    """The sound job in pipe of layers, of which neither metal nor conductivity is known, with a
    steady pressure read for so many hours."""
    lines = [
        f"      - {{at: {hours * part / 6:g} h, pressure: 4.00 bar, temperature: 17.0 °C}}\n"
        for part in range(7)
    ]
    text = re.sub(r"    readings:\n(      - .*\n)+", "    readings:\n" + "".join(lines), SOUND)
    text = text.replace("hold: 20 min", f"hold: {60 * hours} min")
    text = text.replace("stage: installed", "stage: laid")
    return report(text.replace("material: PE-RT", "material: multilayer"))


def test_pipe_of_layers_is_shown_tight_by_a_long_test_whatever_its_metal_is() -> None:
    found = of_layers(12)
    tight = result(found, "test-tight", "pressure_tests.first")
    assert (tight.kind, found.verdict) == ("pass", "release")
    assert tight.whatever is not UNSET
    assert "pipes.p16.metal" in {datum.field for datum in tight.whatever}


def test_what_no_metal_would_tell_is_no_question_but_a_longer_test() -> None:
    found = of_layers(1)
    tight = result(found, "test-tight", "pressure_tests.first")
    assert (tight.kind, found.verdict) == ("review", "unproven")
    assert "would tell" in tight.message
    assert "wherever the unknown data are in their ranges" in tight.message
    assert "pipes.p16.metal" not in {one.field for one in found.questions}


def test_every_sound_example_is_released_at_its_stage_and_the_table_is_as_written() -> None:
    made = stages_table.table()
    assert made == stages_table.TABLE.read_text("utf-8")
    rows = made.partition("|---")[2].splitlines()[1:]
    assert len(rows) == len(stages_table.sound()) > 10
    for row in rows:
        assert row.count("**") == 2
        assert "| **release, " in row
        # Only what is in its last stage wants nothing at the last.
        assert ("unproven" in row) == ("-installed" not in row)
