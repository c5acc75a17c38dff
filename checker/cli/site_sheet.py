"""`prescreed site-sheet FILE…`: what the crew carries."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING

from checker.outcome.results import DesignReport, Result
from checker.reading.mistakes import Unreadable
from checker.run import session
from checker.run.writer import STANDARD_OUTPUT, put, spare

if TYPE_CHECKING:
    from checker.run.batch import Plan

REFUSED = 1


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = argparse.ArgumentParser(
        prog="prescreed site-sheet",
        description="Print the sheet that goes to site: for each header its ports with the flow to "
        "set, the order of filling, the pressure test with room for its readings, and the days of "
        "the first heating. A design with a critical finding gets no sheet.",
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
    from checker.reports.csv import written
    from checker.reports.site_sheet import critical, csv_rows, page, sheet

    arguments = opened.options.values
    spare(arguments.file, opened.inputs)
    unreadable = [*opened.problems]
    designs: list[DesignReport] = []
    installed: list[DesignReport] = []
    for group in opened.groups:
        judged, bad = opened.judged(group, _both)
        designs += [design for design, _ in judged]
        installed += [later for _, later in judged]
        unreadable += bad
    for note in opened.notes:
        print(note, file=sys.stderr)
    for mistake in sorted(unreadable, key=lambda u: (u.path, u.line)):
        print(session.told(mistake), file=sys.stderr)
    sheets = []
    refused = False
    for design, later in zip(designs, installed, strict=True):
        reasons = critical(design)
        if reasons and not arguments.despite_findings:
            print(_refusal(design, reasons), file=sys.stderr)
            refused = True
        else:
            sheets.append(sheet(design, later))
    if sheets:
        rows = [*csv_rows(sheets)]
        content = page(sheets) if arguments.written == "html" else written(rows)
        put(content, arguments.file)
    if unreadable:
        return session.status(unreadable)
    return REFUSED if refused else 0


def _both(
    contents: Iterable[tuple[str, bytes]], plan: Plan
) -> tuple[list[tuple[DesignReport, DesignReport]], list[Unreadable]]:
    """Each design as it stands, and as if its records were due."""
    from checker.run import batch

    files = list(contents)
    designs, unreadable = batch.check(files, plan, with_given=True)
    installed, _ = batch.check(files, plan, stage="installed", with_given=True)
    return list(zip(designs, installed, strict=True)), unreadable


def _refusal(design: DesignReport, reasons: list[Result]) -> str:
    count = f"{len(reasons)} critical finding{'s stand' if len(reasons) > 1 else ' stands'}"
    lines = [f"{design.path}: no sheet, because {count}:"]
    lines += [f"  {reason.subject}: {reason.message} ({reason.rule})" for reason in reasons]
    lines.append("  Mend them, or have them printed on the sheet with --despite-findings.")
    return "\n".join(lines)
