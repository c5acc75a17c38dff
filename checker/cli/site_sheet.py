"""`prescreed site-sheet FILE…`: the sheet that the crew takes to site."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from itertools import chain, islice
from typing import TYPE_CHECKING

from checker.outcome.report import DesignReport
from checker.outcome.results import Result
from checker.reading.mistakes import Unreadable
from checker.run import session
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, put_parts, refuse_overwriting

if TYPE_CHECKING:
    from checker.reports.site_sheet import Sheet
    from checker.run.batch import Plan
    from checker.words.speech import Speech

REFUSED = 1
AT_ONCE = 50
"""Designs judged at once: each twice, with all that it states, some 2 MB."""
NAMED = 30
"""With more designs than this, the page's title names none."""


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed site-sheet",
        description="Print the sheet that goes to site: for each header its ports with the flow to "
        "set, the order of filling, the pressure test with room for its readings, and the days of "
        "the first heating. A design with a critical finding, or without a loop, gets no sheet.",
        epilog="Exit status: 0 every design has its sheet; 1 some design was refused; 2 the call "
        "or a design could not be read.",
    )
    made.add_argument(
        "paths", nargs="+", metavar="FILE", help="a design, a folder of designs, or -"
    )
    made.add_argument(
        "--format",
        dest="written",  # a settings file's `format` is that of a check
        choices=("html", "csv"),
        default="html",
        help="html to be printed, or csv (default: html)",
    )
    made.add_argument(
        "--output",
        dest="file",
        default=STANDARD_OUTPUT,
        metavar="FILE",
        help="where to write it (default: standard output)",
    )
    made.add_argument(
        "--despite-findings",
        action="store_true",
        help="make the sheet of a design with critical findings too, and print them on it",
    )
    session.basis_options(made)
    return made


def run(words: list[str]) -> int:
    """Make the sheets; returns the exit status."""
    return session.answered(lambda: _made(session.open_run(parser(), words)))


def _made(opened: session.Session) -> int:
    from checker.reports.csv import table
    from checker.reports.site_sheet import columns, csv_rows, page

    arguments = opened.options.values
    refuse_overwriting(arguments.file, opened.inputs)
    unreadable = [*opened.problems]
    refused: list[str] = []
    # Written as they are made: a thousand sheets at once would not fit.
    sheets = _sheets(opened, unreadable, refused)
    first = [*islice(sheets, NAMED)]
    if first:
        whole = chain(first, sheets)
        names = ", ".join(one.design.name for one in first)
        if arguments.written == "html":
            parts = page(whole, names)
        else:
            parts = table(columns(first[0].facts.speech), csv_rows(whole))
        put_parts(parts, arguments.file)
    opened.judged_none([*first, *refused], unreadable)
    for note in opened.notes:
        tell(note)
    for mistake in sorted(unreadable, key=lambda u: (u.path, u.line)):
        tell(session.problem_line(mistake))
    if unreadable:
        return session.status(unreadable)
    return REFUSED if refused else 0


def _sheets(
    opened: session.Session, unreadable: list[Unreadable], refused: list[str]
) -> Iterator[Sheet]:
    """The sheet of every design that gets one; what cannot be read or gets none is added to the
    lists.
    """
    from checker.reports.site_sheet import NO_LOOPS, critical, sheet

    values = opened.options.values
    despite = values.despite_findings
    # One table has one unit in a column: that of its first design.
    alike: Speech | None = None
    for group in opened.groups:
        for judged, bad in opened.judged_in_parts(group, _both, AT_ONCE):
            unreadable += bad
            for design, later in judged:
                reasons = critical(design)
                if design.loopless:
                    tell(f"{design.path}: no sheet, because {NO_LOOPS}.")
                    refused.append(design.path)
                elif reasons and not despite:
                    tell(*_refusal(design, reasons))
                    refused.append(design.path)
                else:
                    if values.written != "html":
                        alike = alike or design.speech
                    yield sheet(design, later, alike)


def _both(
    contents: Iterable[tuple[str, bytes]], plan: Plan
) -> tuple[list[tuple[DesignReport, DesignReport]], list[Unreadable]]:
    """Each design as it is, and as if its records were due."""
    from checker.run import batch

    files = list(contents)
    designs, unreadable = batch.check(files, plan, with_given=True)
    installed, _ = batch.check(files, plan, stage="installed", with_given=True)
    return list(zip(designs, installed, strict=True)), unreadable


def _refusal(design: DesignReport, reasons: list[Result]) -> list[str]:
    count = f"{len(reasons)} critical finding{'s' if len(reasons) > 1 else ''}"
    lines = [f"{design.path}: no sheet, because of {count}:"]
    lines += [f"  {reason.subject}: {reason.message} ({reason.rule})" for reason in reasons]
    lines.append("  Mend them, or have them printed on the sheet with --despite-findings.")
    return lines
