"""`prescreed schedule DESIGN --output BOOK.xlsx`: a design as a workbook to fill in or look at."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

UNUSABLE = 2


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = argparse.ArgumentParser(
        prog="prescreed schedule",
        description="Write a design as a workbook, one sheet a table; 'prescreed intake' reads it "
        "back without a map. Without DESIGN the workbook is empty but for its headings: a form "
        "to send out.",
    )
    made.add_argument("design", nargs="?", metavar="DESIGN", help="a design file")
    made.add_argument("--output", required=True, metavar="BOOK.xlsx", help="the workbook to write")
    return made


def run(words: list[str]) -> int:
    """Write the workbook; returns the exit status."""
    arguments = parser().parse_args(words)
    output = Path(arguments.output)
    if output.suffix.lower() != ".xlsx":
        return _unusable(f"--output: '{output}' should end in .xlsx")
    from checker.design.tables import Tables, Unreadable
    from checker.intake.schedules import write

    document: dict[str, Any] = {}
    if arguments.design:
        try:
            data = Path(arguments.design).read_bytes()
            document = Tables().add(arguments.design, data).document
        except OSError as error:
            return _unusable(f"'{arguments.design}' cannot be read: {error.strerror}")
        except Unreadable as refused:
            for one in refused.problems:
                place = f"{arguments.design}:{one.line}:{one.column}"
                print(f"{place}: {one.message}", file=sys.stderr)
            return UNUSABLE
    try:
        write(output, document)
    except OSError as error:
        return _unusable(f"'{output}' cannot be written: {error.strerror}")
    return 0


def _unusable(words: str) -> int:
    print(f"prescreed schedule: {words}.", file=sys.stderr)
    return UNUSABLE
