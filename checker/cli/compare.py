"""`prescreed compare OLD NEW`: what changed between two revisions, and what it did to the
findings.
"""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec.structs import replace

from checker.outcome import status
from checker.outcome.results import SEVERITIES
from checker.reading.mistakes import Crashed
from checker.run import session
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, put, put_parts, refuse_overwriting

if TYPE_CHECKING:
    from checker.outcome.status import Answer
    from checker.reading.mistakes import Unreadable
    from checker.revisions.comparison import Comparison
    from checker.revisions.revision import Named, Revision

FORMATS = ("text", "markdown", "html", "json")


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed compare",
        description="Compare two revisions: what changed in the designs, and which findings"
        " are new, worse, better, mended or still there. Designs in folders are"
        " matched by their project's name.",
        epilog="Exit status: 0 nothing is new or worse; 1 something is; 2 the call or a design "
        "could not be read.",
    )
    made.add_argument("old", metavar="OLD", help="the old design, or a folder of designs")
    made.add_argument("new", metavar="NEW", help="the new one")
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
    from checker.revisions.in_parts import compared
    from checker.run.progress import progress_bar

    old = session.open_run(parser(), words, paths=lambda given: [given.old])
    new = session.open_run(parser(), words, paths=lambda given: [given.new])
    refuse_overwriting(new.options.values.output or STANDARD_OUTPUT, [*old.inputs, *new.inputs])
    before, after = _Side(old), _Side(new)
    # A side of which nothing is judged would make all of the other new, or gone.
    if any(one.opened.judged_none(one.designs, one.problems) for one in (before, after)):
        return session.UNUSABLE
    with progress_bar(len(before.designs) + len(after.designs)) as advance:
        comparison = compared(
            (before.designs, after.designs),
            (before.judged, after.judged),
            [*before.problems, *after.problems],
            new.plan(),
            advance,
        )
    answer = _answer(comparison, new.options.values.fail_on)
    _write(comparison, new, answer)
    for note in dict.fromkeys([*old.notes, *new.notes]):
        tell(note)
    for problem in comparison.unreadable:
        tell(session.problem_line(problem))
    return answer.status


class _Side:
    """The designs of one side by name, and what cannot be read."""

    def __init__(self, opened: session.Session) -> None:
        from checker.revisions.in_parts import listed
        from checker.run.batch import shown

        self.opened = opened
        self.designs: list[Named] = []
        self.problems = [*opened.problems]
        self._files: dict[str, list[tuple[int, str]]] = {}
        for number, group in enumerate(opened.groups):
            found, bad = opened.judged(group, listed)
            self.designs += found
            self.problems += bad
            for file in group.files:
                own = self._files.setdefault(shown(file, opened.plan(group)), [])
                own.append((number, file))

    def judged(self, paths: Sequence[str]) -> tuple[list[Revision], list[Unreadable]]:
        """Judge some of them; returns their reports, and the designs on which the program
        failed.
        """
        from checker.revisions.revision import read

        files = [own for path in dict.fromkeys(paths) for own in self._files[path]]
        revisions, problems = [], []
        for number, group in enumerate(self.opened.groups):
            some = replace(group, files=[file for of, file in files if of == number])
            if some.files:
                found, bad = self.opened.judged(some, read)
                revisions += found
                problems += bad
        return revisions, problems


def _answer(comparison: Comparison, threshold: str) -> Answer:
    crashed = sum(isinstance(one, Crashed) for one in comparison.unreadable)
    if comparison.unreadable:
        return status.answer([], unreadable=len(comparison.unreadable) - crashed, crashed=crashed)
    return comparison.answer(threshold)


def _write(comparison: Comparison, opened: session.Session, answer: Answer) -> None:
    from checker.outcome.runs import RuleSet
    from checker.revisions.comparison_reports import as_html, as_json, as_markdown, as_text

    arguments = opened.options.values
    if arguments.format == "json":
        rules = RuleSet(opened.heads.edition, opened.heads.digest)
        put_parts(as_json(comparison, rules), arguments.output or STANDARD_OUTPUT)
        return
    if arguments.format == "markdown":
        text = as_markdown(comparison)
    elif arguments.format == "html":
        text = as_html(comparison)
    else:
        width = 100 if arguments.output else shutil.get_terminal_size((80, 24)).columns
        text = as_text(comparison, width, answer)
    put(text, arguments.output or STANDARD_OUTPUT)
