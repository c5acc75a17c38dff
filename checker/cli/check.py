"""`prescreed check PATH…`: judge designs and report."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from datetime import date
from typing import Any

from checker.cli.outputs import Outputs, Unwritable, pair_up
from checker.results import SEVERITIES, Unreadable

FOUND, UNUSABLE = 1, 2


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    from checker.reports import FORMATS

    made = argparse.ArgumentParser(
        prog="prescreed check",
        description="Check designs: every rule is computed for everything it applies to.",
        epilog="Exit status: 0 nothing at or above --fail-on; 1 something is; 2 the call or a "
        "design could not be read (every other design is still checked and reported).",
    )
    made.add_argument(
        "paths",
        nargs="+",
        metavar="PATH",
        help="a design, a folder of designs, or - for standard input",
    )
    made.add_argument(
        "--format",
        action=_Pairs,
        choices=tuple(FORMATS),
        help="how to report (default: text); may be given several times, each with its --output",
    )
    made.add_argument(
        "--output",
        action=_Pairs,
        metavar="FILE",
        help="where to write the format named before it (default: standard output)",
    )
    made.add_argument(
        "--fail-on",
        choices=(*SEVERITIES, "never"),
        default="major",
        help="the mildest severity of a failed rule that makes the exit status 1 (default: major)",
    )
    made.add_argument(
        "--codes",
        type=_codes,
        metavar="CODE[,CODE…]",
        help="judge by these codes, whatever the design or its region says",
    )
    made.add_argument(
        "--as-of",
        type=_day,
        metavar="DATE",
        help="judge by the editions in force on this day (default: the design's own day)",
    )
    made.add_argument(
        "--rules",
        action="append",
        default=[],
        metavar="PATH",
        help="a folder or file of your own rules, over the program's",
    )
    made.add_argument(
        "--jobs", type=_jobs, metavar="N", help="worker processes (default: as many as cores)"
    )
    return made


class _Pairs(argparse.Action):
    """Keeps formats and outputs in the order they were given."""

    def __call__(
        self, parser: Any, namespace: Any, values: str | Sequence[Any] | None, option: Any = None
    ) -> None:
        given = [*(getattr(namespace, "pairs", None) or []), (self.dest, values)]
        namespace.pairs = given


def _codes(text: str) -> tuple[str, ...]:
    return tuple(code.strip() for code in text.split(",") if code.strip())


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a date such as 2026-03-12") from None


def _jobs(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of workers, 1 or more")
    return int(text)


def run(words: list[str]) -> int:
    """Check and report; returns the exit status."""
    arguments = parser().parse_args(words)
    from checker import batch, finding_files
    from checker.rulebook.loading import BadRules

    try:
        pairs = pair_up(getattr(arguments, "pairs", None) or [])
        book = batch.rulebook(tuple(arguments.rules))
        _known_codes(arguments.codes, book.codes)
        outputs = Outputs(pairs)
    except BadRules as bad:
        for path, problem in bad.problems:
            _say(f"{path}:{problem.line}:{problem.column}: {problem.message}")
        return UNUSABLE
    except Unwritable as error:
        _say(str(error))
        return UNUSABLE

    named = finding_files.designs(arguments.paths)
    plan = batch.Plan(
        arguments.codes, arguments.as_of, tuple(arguments.rules), tuple(outputs.formats)
    )
    jobs = arguments.jobs or os.cpu_count() or 1
    with outputs:
        from checker.cli.progress import watched
        from checker.results import RuleSet, Totals

        totals = Totals(unreadable=len(named.problems))
        unreadable: list[Unreadable] = list(named.problems)
        outputs.head(RuleSet(book.edition, book.digest))
        for checked in watched(batch.run(named.files, plan, jobs), len(named.files)):
            outputs.add(checked.pieces)
            totals.join(checked.totals)
            unreadable.extend(checked.unreadable)
        unreadable.sort(key=lambda u: (u.path, u.line, u.column))
        for mistake in unreadable:
            _say(f"{mistake.path}:{mistake.line}:{mistake.column}: {mistake.message}")
        try:
            outputs.finish(totals, unreadable)
        except Unwritable as error:
            _say(str(error))
            return UNUSABLE
    if unreadable:
        return UNUSABLE
    return FOUND if totals.reaches(arguments.fail_on) else 0


def _known_codes(codes: tuple[str, ...] | None, known: dict[str, Any]) -> None:
    from checker.wording import choices

    for code in codes or ():
        if code not in known:
            raise Unwritable(f"--codes: there is no code '{code}'; {choices(code, known)}")


def _say(text: str) -> None:
    print(text, file=sys.stderr)
