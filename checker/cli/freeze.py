"""`prescreed freeze PATH…`: writes today's findings to a file, so that later runs fail on new
ones.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.json import decode

from checker.outcome.results import Result
from checker.outcome.runs import RuleSet
from checker.reading import bounded
from checker.reading.design_files import KNOWN, STANDARD_INPUT
from checker.run import session
from checker.run.outputs import Pieces
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, put_parts, refuse_overwriting, unwritable
from checker.words import how_many

if TYPE_CHECKING:
    from checker.notes.baseline import KnownDesign, KnownFinding


class _Design(Struct):
    """What is needed of a design in the JSON report."""

    path: str
    name: str
    results: list[Result]


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed freeze",
        description="Write the findings of today into a file. 'prescreed check --known FILE' then "
        "fails only on findings that are new or worse, and says which are mended. What is waived "
        "is not written.",
        epilog="Exit status: 0 the file is written; 2 the call or a design could not be read, and "
        "the file is left as it was.",
    )
    session.judging_options(made)
    made.add_argument(
        "--output",
        dest="file",  # a settings file's `output` is that of a check
        default=KNOWN,
        metavar="FILE",
        help=f"the file to write, - for standard output (default: {KNOWN})",
    )
    return made


def run(words: list[str]) -> int:
    """Judge and write; returns the exit status."""
    return session.answered(lambda: _frozen(session.open_run(parser(), words)))


def _frozen(opened: session.Session) -> int:
    from checker.notes import baseline
    from checker.reports import FormatOptions
    from checker.run import batch
    from checker.run.progress import at_once, watched

    values = opened.options.values
    refuse_overwriting(values.file, [*opened.named, *opened.sheets], is_own="known findings")
    problems = [*opened.problems]
    folder = os.path.dirname(os.path.abspath(values.file))
    base = baseline.Baseline(folder if values.file != STANDARD_OUTPUT else os.getcwd(), b"")
    kept = _Kept(values.file)
    for group in opened.groups:
        plan = opened.plan(group, (FormatOptions("json"),))
        jobs = values.jobs or os.cpu_count() or 1
        chunks = batch.run(group.files, plan, jobs, at_once=at_once())
        for checked in watched(chunks, len(group.files)):
            for path, entry in zip(checked.paths, checked.entries, strict=True):
                if not entry.else_is or path in opened.named:
                    problems += entry.unreadable
            problems += checked.crashed
            judged = zip(checked.paths, checked.entries, strict=True)
            for path, piece in [(path, piece) for path, one in judged for piece in one.pieces]:
                design = decode(piece, type=_Design)
                name = base.name_of(design.path)
                found = filter(baseline.is_finding, design.results)
                kept.add(_known(name, path, design), [baseline.finding(name, one) for one in found])
    for mistake in problems:
        tell(session.problem_line(mistake))
    if problems:
        tell("Nothing is written: what cannot be read has no findings yet.")
        return session.status(problems)
    if opened.judged_none(kept.names, problems):
        return 0
    rules = RuleSet(opened.heads.edition, opened.heads.digest)
    put_parts(baseline.written(rules, kept.lines(1), kept.lines(0)), values.file)
    if values.file == STANDARD_OUTPUT:
        return 0
    news = kept.news()
    tell(f"{values.file}: {how_many(kept.count, 'finding')}{news}.")
    if not news:
        tell(f"'prescreed check --known {values.file} …' fails only on what is new or worse.")
    return 0


class _Kept:
    """The lines about each design, in a file until all designs are judged."""

    def __init__(self, file: str) -> None:
        """file: the one to write, whose present content is compared with the new one."""
        self.names: list[str] = []
        self.count = 0
        self._file = file
        self._pieces = Pieces(file)
        self._before = None if file == STANDARD_OUTPUT else _findings_in(file)
        self._now: set[int] = set()

    def add(self, design: KnownDesign, findings: list[KnownFinding]) -> None:
        """Keep a design and its findings; raises Unwritable."""
        from checker.notes import baseline

        self.names.append(design.path)
        self.count += len(findings)
        if self._before is not None:
            self._now.update(map(_number, findings))
        try:
            self._pieces.add(baseline.line_of(design))
            self._pieces.add(baseline.lines_of(findings))
        except OSError as error:
            raise unwritable(self._file, error) from None

    def lines(self, which: int) -> Iterator[bytes]:
        """For each design, in the order of their names, its own line (0) or those of its findings
        (1).
        """
        order = sorted(range(len(self.names)), key=self.names.__getitem__)
        return (self._pieces[2 * number + which] for number in order)

    def news(self) -> str:
        """What an existing file gains and loses: a freeze can also hide new findings."""
        if self._before is None:
            return ""
        new, gone = len(self._now - self._before), len(self._before - self._now)
        return f", {new} of them not in the file before, {gone} gone from it"


def _findings_in(path: str) -> set[int] | None:
    """The findings in a file as it is now; None where there is none that can be read."""
    from checker.notes.baseline import BadKnown, read

    try:
        return {*map(_number, read(bounded.content(path, bounded.LARGEST_RECORD)).each())}
    except (OSError, BadKnown):
        return None


def _number(one: KnownFinding) -> int:
    """A number that identifies a finding, because there may be a million."""
    return hash((one.design, one.rule, one.subject))


def _known(name: str, path: str, design: _Design) -> KnownDesign:
    """A design as it is written to the file."""
    from checker.notes.baseline import KnownDesign
    from checker.run import batch

    digest = "" if path == STANDARD_INPUT else batch.digest_of(design.path, batch.content_of(path))
    judged = sorted({one.rule for one in design.results if one.kind in ("pass", "fail")})
    subjects = list(dict.fromkeys(one.subject for one in design.results))
    return KnownDesign(name, design.name, digest, tuple(judged), tuple(subjects))
