"""Writes records into a design's own file, and judges the design with them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from checker.design.changes import written
from checker.outcome.report import DesignReport
from checker.reports.facts import Facts
from checker.reports.verdicts import answered
from checker.rulebook.model import STAGES

Judge = Callable[[bytes], DesignReport]
"""A function that judges a design's file; its report includes what the design states."""


def recorded(
    content: bytes, changes: Sequence[str], judge: Judge, *, is_json: bool = False
) -> tuple[bytes, DesignReport]:
    """Make changes in a design's file, update its stage, and judge it.

    Every other character of the file is kept.

    Args:
        content: the file's bytes.
        changes: each as `path=text`.
        judge: judges the file.
        is_json: whether the file is JSON.

    Returns:
        The new file, and its report.

    Raises:
        BadChange: a change cannot be made; also whatever `judge` raises.
    """
    for change in changes:  # one by one, so that what one makes is there for the next
        content = written(content, [change], is_json=is_json)
    after = judge(content)
    if any(change.startswith("project.stage=") for change in changes):
        return content, after
    stage = stage_of(after)
    if stage == after.stage:
        return content, after
    content = written(content, [f"project.stage={stage}"], is_json=is_json)
    return content, judge(content)


def stage_of(design: DesignReport) -> str:
    """The stage of a job by its records, never earlier than the one it states.

    Args:
        design: its report, made with what it states.

    Returns:
        The last stage for which, as for all before it, the records are there.
    """
    facts = Facts(design)
    tests = facts.names("pressure_tests")
    loops = facts.names("loops")
    floors = [
        floor
        for floor in facts.names("floors")
        if facts.words(f"floors.{floor}", "construction", "") != "layered"
    ]
    headers = {facts.words(f"pressure_tests.{t}", "header", "") for t in tests}
    read = all(facts.rows(f"pressure_tests.{test}", "readings") for test in tests)
    heated = {r.rule for r in design.results if r.kind == "review" and answered(r)}
    done = (
        ("laid", bool(tests) and read and set(facts.names("headers")) <= headers),
        (
            "screeded",
            bool(floors)
            and all(facts.words(f"floors.{floor}", "screed.laid_on", "") for floor in floors),
        ),
        ("heated", "heat-up-done" in heated),
        ("installed", bool(loops) and all(f"balance.{loop}" in facts.given for loop in loops)),
    )
    reached: str = design.stage
    for stage, there in done:
        if not there:
            break
        if STAGES.index(stage) > STAGES.index(reached):
            reached = stage
    return reached
