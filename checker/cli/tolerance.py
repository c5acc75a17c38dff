"""`prescreed tolerance PATH…`: the chance that each limit is kept under the tolerances of a
site.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from checker.run import session
from checker.run.printing import format_option
from checker.run.telling import Parser
from checker.run.writer import STANDARD_OUTPUT, put, refuse_overwriting

if TYPE_CHECKING:
    from checker.reading.mistakes import Unreadable
    from checker.remedies.chances import Chances

MOST_DRAWS = 100_000


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed tolerance",
        description="Judge a design many times with spacing, cover, length, flow, supply, "
        "screed and covering a little different from what it states, as on a "
        "site: the chance that each limit holds, the input that decides, and "
        "the margin to aim for.",
        epilog="Exit status: 0, whatever the chances; 2 the call or a design could not be read; 3 "
        "the program itself failed on a design.",
    )
    session.judging_options(made)
    made.add_argument(
        "--draws", type=_draws, default=1000, metavar="N", help="how often (default: 1000)"
    )
    made.add_argument(
        "--seed",
        type=_seed,
        default=0,
        metavar="N",
        help="seed of the random draws; the same seed gives the same report (default: 0)",
    )
    made.add_argument("--all", action="store_true", help="also show limits that held in every draw")
    format_option(made, ("text", "json"))
    made.add_argument("--output", metavar="FILE", help="where to write (default: standard output)")
    return made


def _draws(text: str) -> int:
    if not text.isdecimal() or not text.isascii() or not 10 <= int(text) <= MOST_DRAWS:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of draws, 10 to {MOST_DRAWS}")
    return int(text)


def _seed(text: str) -> int:
    if not text.isdecimal() or not text.isascii() or len(text) > 9:
        raise argparse.ArgumentTypeError(f"'{text}' is not a seed, a whole number")
    return int(text)


def run(words: list[str]) -> int:
    """Work out the chances; returns the exit status."""
    return session.answered(lambda: _studied(session.open_run(parser(), words)))


def _studied(opened: session.Session) -> int:
    from checker.design.tables import BadDesign
    from checker.remedies.chances import chances
    from checker.run import batch

    values = opened.options.values
    output = values.output or STANDARD_OUTPUT
    refuse_overwriting(output, opened.inputs)

    def judge(files: Any, plan: batch.Plan) -> tuple[list[Any], list[Unreadable]]:
        taken: list[Chances] = []
        bad: list[Unreadable] = []
        basis = batch.read([], plan)
        for path, data in files:
            try:
                taken.append(
                    chances(path, data, basis.book, basis.judging, values.draws, values.seed)
                )
            except BadDesign:
                bad += batch.read([(path, data)], plan).unreadable
        return taken, bad

    found, problems = opened.judged_and_reported(judge)
    from checker.reports import chances as reports

    if values.written == "json":
        from msgspec.json import encode
        from msgspec.json import format as indented

        whole = {"tolerance": 1, "designs": [reports.plain(one) for one in found]}
        put(indented(encode(whole), indent=1) + b"\n", output)
    else:
        from checker.reports.terminal import WIDEST
        from checker.run.outputs import width_and_colour

        width, colour = width_and_colour(output)
        put(reports.text(found, max(40, min(width, WIDEST)), colour, every=values.all), output)
    return session.status(problems)
