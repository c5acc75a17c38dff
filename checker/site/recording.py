"""Records written into a design's own file, and the design judged with them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from checker.design.changes import written
from checker.outcome.report import DesignReport
from checker.site.records import stage_of

Judge = Callable[[bytes], DesignReport]
"""Judges a design's file; the report knows what the design states."""


def recorded(
    content: bytes, changes: Sequence[str], judge: Judge, *, is_json: bool = False
) -> tuple[bytes, DesignReport]:
    """The file with the changes made and its stage moved on, and what it then comes to.

    Every other sign of the file is kept. Raises BadChange, and what `judge` raises.
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
