"""Reports made by hand, to show a format what a design may bring."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b
from typing import NamedTuple

from msgspec.structs import replace

from checker.outcome.report import DesignReport, Records
from checker.outcome.results import Kind, Limit, Measure, Result, Source
from checker.outcome.runs import RuleWords, Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import FormatOptions, Writer, report, writer

SOURCE = Source("a-standard", "A standard", "4.2.3", "2021", "standard", "reported")
WORDS = RuleWords(
    "loop-length", "Loop too long", "loops", "major", "Too long.", "Split it.", ("at most 100 m",)
)
RUN = Run(
    "2026-11", "sha256:" + "0" * 64, {"fail-on": "major"}, "sha256:" + "1" * 64, words=(WORDS,)
)


def result(subject: str = "loops.L1", kind: Kind = "fail", **changes: object) -> Result:
    """A result of the rule on a loop's length, with some members changed."""
    made = Result(
        rule="loop-length",
        subject=subject,
        kind=kind,
        severity="major",
        title="Loop too long",
        value=Measure(128.0, "m"),
        limit=Limit(at_most=Measure(100.0, "m")),
        margin=Measure(-28.0, "m"),
        source=SOURCE,
        message="The loop is 128 m long; its pipe feeds at most 100 m.",
        remedy="Split it.",
        line=31,
        column=5,
        fingerprint=blake2b(subject.encode(), digest_size=16).hexdigest(),
    )
    return replace(made, **changes)


def design(*results: Result, path: str = "house.yaml", content: bytes = b"") -> DesignReport:
    """A design with these results."""
    made = DesignReport(path, "Test House", "2026-03-12", ("EN-1264",), Records(results))
    made.content = content
    return made


class Whole(NamedTuple):
    """A report, and what the log of the run should say about it."""

    text: bytes
    log: tuple[str, ...]


def whole(
    made: Writer,
    pieces: Sequence[bytes],
    totals: Totals,
    unreadable: Sequence[Unreadable] = (),
    run: Run = RUN,
) -> Whole:
    """The whole report of these pieces."""
    found = report(made, run, pieces, totals, [*unreadable])
    return Whole(b"".join(found.parts), found.log)


def gathered(
    name: str, *designs: DesignReport, unreadable: tuple[Unreadable, ...] = (), run: Run = RUN
) -> Whole:
    """The whole report of these designs, and its log."""
    made = writer(FormatOptions(name))
    totals = Totals(unreadable=len(unreadable))
    totals.add(*designs)
    pieces = [made.piece(one) for one in designs]
    return whole(made, pieces, totals, unreadable, run)
