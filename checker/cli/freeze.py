"""`prescreed freeze PATH…`: write down today's findings, so that later runs fail on new ones."""

from __future__ import annotations

import argparse
import os
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.json import decode

from checker.outcome.results import Result
from checker.outcome.runs import RuleSet
from checker.reading import bounded
from checker.reading.design_files import KNOWN, STANDARD_INPUT
from checker.run import session
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, put, spare

if TYPE_CHECKING:
    from checker.notes.baseline import KnownDesign, KnownFinding


class _Design(Struct):
    """What matters here of a design of the JSON report."""

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
    spare(values.file, [*opened.named], is_own="known findings")
    problems = [*opened.problems]
    folder = os.path.dirname(os.path.abspath(values.file))
    base = baseline.Baseline(folder if values.file != STANDARD_OUTPUT else os.getcwd(), b"")
    findings: list[KnownFinding] = []
    designs: list[KnownDesign] = []
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
                designs.append(_known(base.name_of(design.path), path, design))
                findings += [
                    baseline.finding(base.name_of(design.path), result)
                    for result in design.results
                    if baseline.is_finding(result)
                ]
    for mistake in problems:
        tell(session.told(mistake))
    if problems:
        tell("Nothing is written: what cannot be read has no findings yet.")
        return session.status(problems)
    if opened.judged_none(designs, problems):
        return 0
    text = baseline.written(RuleSet(opened.heads.edition, opened.heads.digest), findings, designs)
    if values.file == STANDARD_OUTPUT:
        put(text, STANDARD_OUTPUT)
        return 0
    news = _news(values.file, findings)
    put(text, values.file)
    tell(f"{values.file}: {len(findings)} finding{'' if len(findings) == 1 else 's'}{news}.")
    if not news:
        tell(f"'prescreed check --known {values.file} …' fails only on what is new or worse.")
    return 0


def _known(name: str, path: str, design: _Design) -> KnownDesign:
    """A design as it is written down."""
    from checker.notes.baseline import KnownDesign
    from checker.run import batch

    digest = "" if path == STANDARD_INPUT else batch.digest_of(path, batch.content_of(path))
    judged = sorted({one.rule for one in design.results if one.kind in ("pass", "fail")})
    subjects = list(dict.fromkeys(one.subject for one in design.results))
    return KnownDesign(name, design.name, digest, tuple(judged), tuple(subjects))


def _news(path: str, findings: list[KnownFinding]) -> str:
    """What a file that is written anew gains and loses: a freeze can also hide what is new."""
    from checker.notes.baseline import BadKnown, read

    try:
        known = read(bounded.content(path, bounded.LARGEST_RECORD))
        before = {(one.design, one.rule, one.subject) for one in known.findings}
    except (OSError, BadKnown):
        return ""
    now = {(one.design, one.rule, one.subject) for one in findings}
    return f", {len(now - before)} of them not in the file before, {len(before - now)} gone from it"
