"""`prescreed compare OLD NEW`: what changed between two revisions, and what came of it."""

from __future__ import annotations

import argparse
import shutil
import sys
from typing import TYPE_CHECKING

from checker.cli.review import read_files
from checker.outcome.results import SEVERITIES
from checker.run import session
from checker.run.outputs import Unwritable

if TYPE_CHECKING:
    from checker.reading.mistakes import Unreadable
    from checker.revisions.comparing import Comparison, Revision
    from checker.run.batch import Plan

FOUND, UNUSABLE = 1, 2
FORMATS = ("text", "markdown", "html", "json")


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = argparse.ArgumentParser(
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
    made.add_argument(
        "--codes", type=session.codes, metavar="CODE[,CODE…]", help="judge both by these codes"
    )
    made.add_argument(
        "--as-of", type=session.day, metavar="DATE", help="judge both by this day's editions"
    )
    made.add_argument(
        "--rules", action="append", default=[], metavar="PATH", help="your own rules, over ours"
    )
    return made


def run(words: list[str]) -> int:
    """Compare and report; returns the exit status."""
    arguments = parser().parse_args(words)
    return session.answered(lambda: _compared(arguments))


def _compared(arguments: argparse.Namespace) -> int:
    from checker.revisions.comparing import compare
    from checker.run import batch

    plan = batch.Plan(arguments.codes, arguments.as_of, tuple(arguments.rules))
    book = batch.rulebook(plan.rules)
    for code in arguments.codes or ():
        if code not in book.codes:
            from checker.words import choices

            raise Unwritable(f"--codes: there is no code '{code}'; {choices(code, book.codes)}")
    before, bad_before = side(arguments.old, plan)
    after, bad_after = side(arguments.new, plan)
    comparison = compare(before, after, [*bad_before, *bad_after], plan)
    _write(comparison, arguments)
    for problem in comparison.unreadable:
        print(session.told(problem), file=sys.stderr)
    if comparison.unreadable:
        return UNUSABLE
    return FOUND if comparison.reaches(arguments.fail_on) else 0


def side(path: str, plan: Plan) -> tuple[list[Revision], list[Unreadable]]:
    """The designs under a path, judged, and what cannot be read."""
    from checker.reading.design_files import designs

    named = designs([path])
    revisions, unreadable = read_files(named.files, plan)
    return revisions, [*named.problems, *unreadable]


def _write(comparison: Comparison, arguments: argparse.Namespace) -> None:
    from checker.outcome.results import RuleSet
    from checker.revisions.comparison_reports import as_html, as_json, as_markdown, as_text
    from checker.run import batch

    if arguments.format == "json":
        book = batch.rulebook(tuple(arguments.rules))
        text = as_json(comparison, RuleSet(book.edition, book.digest))
    elif arguments.format == "markdown":
        text = as_markdown(comparison)
    elif arguments.format == "html":
        text = as_html(comparison)
    else:
        width = 100 if arguments.output else shutil.get_terminal_size((80, 24)).columns
        text = as_text(comparison, width)
    if not arguments.output:
        sys.stdout.buffer.write(text)
        sys.stdout.buffer.flush()
        return
    try:
        with open(arguments.output, "wb") as file:
            file.write(text)
    except OSError as error:
        raise Unwritable(f"'{arguments.output}' cannot be written: {error.strerror}") from None
