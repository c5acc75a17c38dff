"""Writes records into a design's own file, and judges the design with them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from checker.design.changes import written
from checker.outcome.report import DesignReport
from checker.site.records import stage_of

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
