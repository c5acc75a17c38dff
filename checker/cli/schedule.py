"""`prescreed schedule DESIGN --output BOOK.xlsx`: a design as a workbook to fill in or to read."""

from __future__ import annotations

import argparse
import io
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from checker.reading.mistakes import Unreadable
from checker.run import session
from checker.run.telling import Parser, tell
from checker.run.writer import Unwritable, put, refuse_overwriting

if TYPE_CHECKING:
    from checker.run.batch import Plan


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed schedule",
        description="Write a design as a workbook, one sheet a table, with lists to choose from, "
        "notes and units; every command that judges reads it, and 'prescreed intake' makes a "
        "design file of it. Without DESIGN it is an empty form for all that a design can hold; "
        "'prescreed new' makes the shorter one for a house.",
    )
    made.add_argument("design", nargs="?", metavar="DESIGN", help="a design file")
    made.add_argument("--output", required=True, metavar="BOOK.xlsx", help="the workbook to write")
    session.policy_options(made)
    return made


def run(words: list[str]) -> int:
    """Write the workbook; returns the exit status."""
    return session.answered(
        lambda: _written(
            session.open_run(parser(), words, paths=lambda given: [*filter(None, [given.design])])
        )
    )


def _written(opened: session.Session) -> int:
    arguments = opened.options.values
    output = Path(arguments.output)
    if output.suffix.lower() != ".xlsx":
        raise Unwritable(f"--output: '{output}' should end in .xlsx")
    from checker.forms.whole import records_of, sized
    from checker.forms.writing import workbook

    document: dict[str, Any] = {}
    if arguments.design:
        stated, status = _stated(opened, arguments.design)
        if stated is None:
            return status
        document = stated
    if document.get("seen"):
        tell(
            f"{arguments.design}: the workbook takes no answers; those under 'seen' are not "
            "in it, so keep the design."
        )
    made = io.BytesIO()
    records = records_of(document)
    workbook(made, sized(records), records)
    refuse_overwriting(str(output), opened.inputs)
    put(made.getvalue(), str(output))
    return 0


def _stated(opened: session.Session, named: str) -> tuple[dict[str, Any] | None, int]:
    """What the one design that the call names states, None where it cannot be read; and the
    status.
    """
    from checker.run import batch

    def stated(
        contents: Iterable[tuple[str, bytes]], plan: Plan
    ) -> tuple[list[dict[str, Any]], list[Unreadable]]:
        read_in = batch.read(contents, plan)
        return [one.document for one in read_in.tables.designs], read_in.unreadable

    found, problems = opened.judged_and_reported(stated)
    if len(found) > 1:
        raise Unwritable(f"'{named}' holds {len(found)} designs; name one")
    return (found[0] if found else None), session.status(problems)
