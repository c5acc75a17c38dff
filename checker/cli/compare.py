"""`prescreed compare OLD NEW`: what changed between two revisions, and what came of it."""

from __future__ import annotations

import argparse
import shutil
from typing import TYPE_CHECKING

from checker.outcome import status
from checker.outcome.results import SEVERITIES
from checker.reading.mistakes import Crashed
from checker.run import session
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, put, spare

if TYPE_CHECKING:
    from checker.outcome.status import Answer
    from checker.reading.mistakes import Unreadable
    from checker.revisions.comparing import Comparison
    from checker.revisions.revision import Revision

FORMATS = ("text", "markdown", "html", "json")


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed compare",
        description="Hold two revisions against one another: what changed in the designs, and "
        "which findings are new, worse, better, mended or still there. Designs in folders are "
        "matched by their project's name.",
        epilog="Exit status: 0 nothing is new or worse; 1 something is; 2 the call or a design "
        "could not be read.",
    )
    made.add_argument("old", metavar="OLD", help="a design or a folder of designs, as it was")
    made.add_argument("new", metavar="NEW", help="the same as it is now")
    made.add_argument("--format", choices=FORMATS, default="text", help="how to report")
    made.add_argument("--output", metavar="FILE", help="where to write (default: standard output)")
    made.add_argument(
        "--fail-on",
        choices=("anything", *SEVERITIES, "never"),
        default="anything",
        help="what makes the exit status 1: anything new or worse (default), or a new or worse "
        "fail at or above a severity",
    )
    session.basis_options(made)
    made.add_argument(
        "--known",
        metavar="FILE",
        help="findings written by 'prescreed freeze'; those that are no worse do not count",
    )
    return made


def run(words: list[str]) -> int:
    """Compare and report; returns the exit status."""
    return session.answered(lambda: _compared(words))


def _compared(words: list[str]) -> int:
    from checker.revisions.comparing import compare

    old = session.open_run(parser(), words, paths=lambda given: [given.old])
    new = session.open_run(parser(), words, paths=lambda given: [given.new])
    spare(new.options.values.output or STANDARD_OUTPUT, [*old.inputs, *new.inputs])
    before, bad_before = side(old)
    after, bad_after = side(new)
    # A side of which nothing is judged would make all of the other new, or gone.
    if old.judged_none(before, bad_before) or new.judged_none(after, bad_after):
        return session.UNUSABLE
    comparison = compare(before, after, [*bad_before, *bad_after], new.plan())
    answer = _answer(comparison, new.options.values.fail_on)
    _write(comparison, new, answer)
    for note in dict.fromkeys([*old.notes, *new.notes]):
        tell(note)
    for problem in comparison.unreadable:
        tell(session.told(problem))
    return answer.status


def _answer(comparison: Comparison, threshold: str) -> Answer:
    crashed = sum(isinstance(one, Crashed) for one in comparison.unreadable)
    if comparison.unreadable:
        return status.answer([], unreadable=len(comparison.unreadable) - crashed, crashed=crashed)
    return comparison.answer(threshold)


def side(opened: session.Session) -> tuple[list[Revision], list[Unreadable]]:
    """The designs of one side, judged, and what cannot be read."""
    from checker.revisions.revision import read

    revisions, unreadable = [], [*opened.problems]
    for group in opened.groups:
        taken, bad = opened.judged(group, read)
        revisions += taken
        unreadable += bad
    return revisions, unreadable


def _write(comparison: Comparison, opened: session.Session, answer: Answer) -> None:
    from checker.outcome.results import RuleSet
    from checker.revisions.comparison_reports import as_html, as_json, as_markdown, as_text

    arguments = opened.options.values
    if arguments.format == "json":
        text = as_json(comparison, RuleSet(opened.heads.edition, opened.heads.digest))
    elif arguments.format == "markdown":
        text = as_markdown(comparison)
    elif arguments.format == "html":
        text = as_html(comparison)
    else:
        width = 100 if arguments.output else shutil.get_terminal_size((80, 24)).columns
        text = as_text(comparison, width, answer)
    put(text, arguments.output or STANDARD_OUTPUT)
