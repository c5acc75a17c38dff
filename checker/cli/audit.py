"""`prescreed audit DIR`: a past job after a complaint, and which customers may call next."""

from __future__ import annotations

import argparse
import io
import os
import sys
from typing import Any

from checker.run import session
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, Unwritable, put, refuse_overwriting

FORMATS = ("text", "json", "html")


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed audit",
        description="Audit one past job: as designed, as laid, as measured, and what may "
        "have caused a complaint.",
        epilog="A job's folder holds its design, its installed state (stage: installed) and "
        "readings taken on site (*.readings.yaml, forms of a visit, *.readings.xlsx, a "
        "logger's HEADER.readings.csv). Exit status: 0 audited; 2 the call or a file could not be "
        "read.",
    )
    made.add_argument("path", metavar="DIR", nargs="?", help="the job's folder, or one design file")
    made.add_argument(
        "--complaint",
        metavar="WORD",
        help="the complaint, by its id or in the words that '--complaints' lists",
    )
    made.add_argument(
        "--complaints", action="store_true", help="list the known complaints, and exit"
    )
    made.add_argument(
        "--subject",
        default="",
        metavar="SECTION.ID",
        help="what the complaint is about, such as rooms.bath",
    )
    made.add_argument(
        "--tools",
        metavar="TOOL[,TOOL…]",
        help="the instruments you have, of thermometer, gauge, camera, meter, "
        "refractometer and hose, or 'none'; next steps use no others",
    )
    made.add_argument(
        "--siblings",
        action="store_true",
        help="look for other jobs that may have the first cause too",
    )
    made.add_argument(
        "--archive",
        metavar="DIR",
        help="the folder of the other jobs (default: the folder that the job's folder is in)",
    )
    made.add_argument(
        "--visit",
        metavar="FORM.xlsx",
        help="write the form for a visit to this job; filled in and named NAME.readings.xlsx in "
        "the job's folder, it counts as readings",
    )
    made.add_argument("--format", choices=FORMATS, default="text", help="default: text")
    made.add_argument("--output", default=STANDARD_OUTPUT, metavar="FILE", help="where to write")
    session.basis_options(made, today="the day of the newer rules to compare with (default: today)")
    return made


def run(words: list[str]) -> int:
    """Audit and report; returns the exit status."""
    arguments = parser().parse_args(words)
    if arguments.complaints:
        _list()
        return 0
    if not arguments.path:
        parser().error("name the job's folder")
    if arguments.siblings and not arguments.complaint:
        parser().error("--siblings looks for the cause of a complaint; add --complaint")
    return session.answered(lambda: _audit(arguments, words))


def _audit(arguments: Any, words: list[str]) -> int:
    from checker.audit.auditing import Asked, BadCall, audit
    from checker.audit.jobs import NoJob

    opened = session.open_run(
        parser(), words, paths=lambda given: [], judged=lambda given: [given.path]
    )
    refuse_overwriting(arguments.output, opened.inputs)
    asked = Asked(
        arguments.complaint or "",
        arguments.subject,
        opened.today,
        _archive(arguments) if arguments.siblings else "",
        opened.plan(),
        opened.excludes,
        _tools(arguments.tools),
    )
    try:
        if arguments.visit:
            return _visit(arguments, opened.plan(), opened.inputs)
        found = audit(arguments.path, asked)
    except NoJob as none:
        for one in none.problems:
            tell(session.problem_line(one))
        return session.UNUSABLE
    except BadCall as bad:
        raise Unwritable(str(bad)) from None
    for note in opened.notes:
        tell(note)
    put(_written(found, arguments.format, arguments.output), arguments.output)
    return 0


def _visit(arguments: Any, plan: Any, inputs: Any) -> int:
    """Write the form for a visit."""
    from checker.audit.auditing import complaint_named
    from checker.audit.jobs import open_job
    from checker.audit.visit import known_records, visit_form
    from checker.forms.writing import workbook

    if not arguments.visit.lower().endswith(".xlsx"):
        raise Unwritable(f"--visit: '{arguments.visit}' should end in .xlsx")
    refuse_overwriting(arguments.visit, inputs)
    sheet = open_job(arguments.path, plan).current
    complaint = complaint_named(arguments.complaint) if arguments.complaint else ""
    made = io.BytesIO()
    workbook(made, visit_form(sheet, complaint), known_records(sheet))
    put(made.getvalue(), arguments.visit)
    return 0


def _tools(given: str | None) -> tuple[str, ...] | None:
    if given is None:
        return None
    named = tuple(tool.strip() for tool in given.split(",") if tool.strip())
    return () if named == ("none",) else named


def _archive(arguments: Any) -> str:
    given: str | None = arguments.archive
    return given or os.path.dirname(os.path.abspath(arguments.path.rstrip("/")))


def _written(found: Any, form: str, output: str) -> bytes:
    if form == "json":
        from checker.audit.records import encoded

        return encoded(found)
    if form == "html":
        from checker.audit import html

        return html.written(found)
    from checker.audit import text
    from checker.run.outputs import width_and_colour

    return text.written(found, *width_and_colour(output))


def _list() -> None:
    from checker.audit.complaints import complaints

    for name, trouble in complaints().trouble.items():
        sys.stdout.write(f"{name:<18} {trouble.title} ({', '.join(trouble.words)})\n")
