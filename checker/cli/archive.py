"""`prescreed archive DIR --output FILE`: all past jobs as one Parquet table."""

from __future__ import annotations

import argparse
import os
import sys
from typing import Any

from checker.run import session
from checker.run.options import jobs_option
from checker.run.telling import Parser, tell
from checker.run.writer import Unwritable, staged
from checker.words import how_many


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed archive",
        description="Write every job under a folder as one Parquet table of designs, loops,"
        " results, computed values and readings, for pandas or an SQL engine.",
        epilog=f"One row a record; the column 'record' says of what. Numbers of loops and readings "
        f"are SI, temperatures in °C: {_units()}; 'value' of a reading: m³/s, °C, Pa or m³; "
        "'value', 'least', 'most' and 'margin' of results and computed values are in the unit "
        "that the column 'unit' names. The file's schema holds the same. Exit status: 0 written; "
        "2 the call or a file could not be read (the rest is written all the same).",
    )
    made.add_argument("path", metavar="DIR", nargs="?", help="the folder that holds the jobs")
    made.add_argument("--output", metavar="FILE", help="the file to write, such as archive.parquet")
    made.add_argument(
        "--queries", action="store_true", help="print three example queries in SQL, and exit"
    )
    session.basis_options(made)
    jobs_option(made)
    return made


def _units() -> str:
    from checker.audit.archive import LOOP_UNITS

    return ", ".join(f"{name} {unit}" for name, unit in LOOP_UNITS.items())


def run(words: list[str]) -> int:
    """Write the table; returns the exit status."""
    arguments = parser().parse_args(words)
    if arguments.queries:
        from checker.audit.archive import QUERIES

        for title, query in QUERIES.items():
            sys.stdout.write(f"-- {title}\n{query};\n\n")
        return 0
    if not arguments.path or not arguments.output:
        parser().error("name the folder of the jobs, and the file to write with --output")
    if not arguments.output.endswith(".parquet"):
        parser().error(f"--output: the file's name ends in .parquet; '{arguments.output}' does not")
    return session.answered(lambda: _write(arguments, words))


def _write(arguments: Any, words: list[str]) -> int:
    from checker.audit import archive

    opened = session.open_run(
        parser(), words, paths=lambda given: [], judged=lambda given: [given.path]
    )
    try:
        with staged(arguments.output) as whole:
            jobs = opened.options.values.jobs or os.cpu_count() or 1
            count, unreadable = archive.write(
                arguments.path, whole, opened.plan(), opened.excludes, jobs
            )
            opened.judged_none(range(count), unreadable)
    except archive.NotInstalled as lacking:
        raise Unwritable(str(lacking)) from None
    for note in opened.notes:
        tell(note)
    for mistake in unreadable:
        tell(session.problem_line(mistake))
    size = os.path.getsize(arguments.output)
    tell(f"{how_many(count, 'design')} in {arguments.output}, {size / 1e6:.1f} MB.")
    return session.status(unreadable)
