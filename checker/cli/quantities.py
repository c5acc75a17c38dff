"""`prescreed quantities DESIGN`: what the job needs, and which loop is cut from which coil."""

from __future__ import annotations

import argparse

from checker import __version__
from checker.outcome.report import DesignReport
from checker.rulebook.book import Rulebook
from checker.run import session
from checker.run.printing import format_option
from checker.run.telling import Parser
from checker.run.writer import STANDARD_OUTPUT, Unwritable, put, refuse_overwriting
from checker.site.take_off import TakeOff

FORMATS = ("text", "json", "csv", "xlsx", "html")
WARNED_BY = "screed-cover"
"""The rule whose caution is printed for heavy floors."""


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed quantities",
        description="Count and measure what a design needs: pipe, connections, panels, edge strip, "
        "screed, water; and with --coils which loop is cut from which coil, so that no joint is "
        "buried and least is left over. No prices, no makes.",
        epilog="Exit status: 0 done, whatever the verdict; 2 the call or the design could not be "
        "read; 3 the program failed on it.",
    )
    made.add_argument("design", metavar="DESIGN", help="a design, or - for standard input")
    made.add_argument(
        "--coils",
        action="append",
        metavar="[PIPE=]SIZE,…",
        help="lengths that coils come in, such as 100m,200m,500m, for all pipes or "
        "for one: p16=100m,200m; may be given several times",
    )
    made.add_argument(
        "--allowance", metavar="LENGTH", help="extra pipe to cut for each loop, such as 1.5m"
    )
    format_option(made, FORMATS)
    made.add_argument(
        "--output",
        dest="file",
        default=STANDARD_OUTPUT,
        metavar="FILE",
        help="where to write it (default: standard output)",
    )
    session.basis_options(made)
    return made


def run(words: list[str]) -> int:
    """Count what the design needs; returns the exit status."""
    return session.answered(
        lambda: _taken(session.open_run(parser(), words, paths=lambda given: [given.design]))
    )


def _taken(opened: session.Session) -> int:
    from checker.site.take_off import take_off

    arguments = opened.options.values
    sizes = _sizes(arguments.coils or [])
    allowance = _length(arguments.allowance, "--allowance") if arguments.allowance else 0.0
    refuse_overwriting(arguments.file, opened.inputs)
    if arguments.written == "xlsx" and arguments.file == STANDARD_OUTPUT:
        raise Unwritable("a workbook goes into a file: add --output BOOK.xlsx")
    design, status = opened.one_design(arguments.design)
    if design is None:
        return status
    for pipe in sizes:
        if pipe and f"pipes.{pipe}" not in design.given:
            raise Unwritable(f"--coils: '{pipe}' is not a pipe of {design.path}")
    found = take_off(design, sizes, allowance)
    put(_written(arguments, design, found, opened.book), arguments.file)
    return status


def _written(
    arguments: argparse.Namespace, design: DesignReport, found: TakeOff, book: Rulebook
) -> bytes:
    from checker.run.outputs import width_and_colour
    from checker.site import quantities

    cautions = [rule.caution for rule in book.rules if rule.id == WARNED_BY and rule.caution]
    match arguments.written:
        case "json":
            tool = {
                "tool": {"name": "prescreed", "version": __version__},
                "rules": {"edition": book.edition, "digest": book.digest},
            }
            return quantities.data(design, found, tool)
        case "csv":
            from checker.reports.csv import table

            return b"".join(table(quantities.COLUMNS, quantities.csv_rows(design, found)))
        case "xlsx":
            return quantities.workbook(design, found, cautions)
        case "html":
            return quantities.page(design, found, cautions)
    return quantities.text(design, found, cautions, *width_and_colour(arguments.file))


def _sizes(given: list[str]) -> dict[str, list[float]]:
    """Lengths of coils by pipe, m; under "" those for every other pipe; raises Unwritable."""
    sizes: dict[str, list[float]] = {}
    for one in given:
        pipe, sign, listed = one.rpartition("=")
        if sign and not pipe:
            raise Unwritable(f"--coils: before '=' in '{one}' there is no pipe")
        sizes.setdefault(pipe, []).extend(_length(size, "--coils") for size in listed.split(","))
    return sizes


def _length(text: str, option: str) -> float:
    """A length in m; raises Unwritable."""
    from checker import units

    try:
        length = units.parse(text.strip(), "length", "200 m")
    except units.UnitError as error:
        raise Unwritable(f"{option}: {error}") from None
    if length <= 0:
        raise Unwritable(f"{option}: '{text}' is not a length; write one such as '200 m'")
    return length
