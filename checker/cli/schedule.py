"""`prescreed schedule DESIGN --output BOOK.xlsx`: a design as a workbook to fill in or look at."""

from __future__ import annotations

import argparse
import io
from pathlib import Path
from typing import Any

from checker.reading import bounded
from checker.run import session
from checker.run.telling import Parser, tell
from checker.run.writer import Unwritable, put, spare

UNUSABLE = 2


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed schedule",
        description="Write a design as a workbook, one sheet a table; 'prescreed intake' reads it "
        "back without a map. Without DESIGN the workbook is empty but for its headings: a form "
        "to send out.",
    )
    made.add_argument("design", nargs="?", metavar="DESIGN", help="a design file")
    made.add_argument("--output", required=True, metavar="BOOK.xlsx", help="the workbook to write")
    session.policy_options(made)
    return made


def run(words: list[str]) -> int:
    """Write the workbook; returns the exit status."""
    return session.answered(
        lambda: _written(session.open_run(parser(), words, paths=lambda given: []))
    )


def _written(opened: session.Session) -> int:
    arguments = opened.options.values
    output = Path(arguments.output)
    if output.suffix.lower() != ".xlsx":
        raise Unwritable(f"--output: '{output}' should end in .xlsx")
    from checker.design.tables import Tables, Unreadable
    from checker.intake.schedules import write

    document: dict[str, Any] = {}
    if arguments.design:
        try:
            data = bounded.start_of(arguments.design)
            document = Tables().add(arguments.design, data).document
        except OSError as error:
            words = f"'{arguments.design}' cannot be read: {bounded.why(error)}"
            raise Unwritable(words) from None
        except Unreadable as refused:
            for one in refused.problems:
                place = f"{arguments.design}:{one.line}:{one.column}"
                tell(f"{place}: {one.message}")
            return UNUSABLE
    if document.get("seen"):
        tell(
            f"{arguments.design}: the workbook takes no answers; what stands under 'seen' is not "
            "in it, so keep the design."
        )
    made = io.BytesIO()
    write(made, document)
    spare(str(output), [arguments.design] if arguments.design else [])
    put(made.getvalue(), str(output))
    return 0
