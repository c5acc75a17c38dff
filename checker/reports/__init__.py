"""Report formats: one module for each, found by its name in one table.

A format turns each design into a piece of text of its own, so that workers can write; the pieces
are joined between a head and a tail.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from importlib import import_module
from typing import Any, NamedTuple, Protocol, cast, runtime_checkable

from checker.outcome.report import DesignReport
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable

FORMATS = {
    "text": "checker.reports.text",
    "json": "checker.reports.json",
    "sarif": "checker.reports.sarif",
    "sarif-alerts": "checker.reports.sarif_alerts",
    "junit": "checker.reports.junit",
    "code-quality": "checker.reports.code_quality",
    "annotations": "checker.reports.annotations",
    "job-summary": "checker.reports.job_summary",
    "html": "checker.reports.html",
    "markdown": "checker.reports.markdown",
    "lines": "checker.reports.lines",
    "csv": "checker.reports.csv",
    "parquet": "checker.reports.parquet",
}
"""A format's name, and the module whose `Writer` makes it."""


class FormatOptions(NamedTuple):
    """A format, and the properties of its reader: width of the terminal, colour.

    table: which table, for formats that are tables; summary: only one line a design; by_rule:
    findings by rule instead of by severity; folder, root: for a format that names files from the
    root of their repository (`names_from_root`), the folder where paths start, and that root;
    remedies: whether to include what would clear a finding, where it is worked out; manual: the
    address of the manual, for a link to each rule's page, empty where there is none.
    """

    name: str
    width: int = 80
    colour: bool = False
    table: str = "results"
    summary: bool = False
    by_rule: bool = False
    folder: str = ""
    root: str = ""
    remedies: bool = False
    manual: str = ""

    def page_of(self, rule: str) -> str:
        """The address of a rule's page in the manual; empty where no manual is known."""
        return f"{self.manual.rstrip('/')}/rules/{rule}.html" if self.manual else ""


class Writer(Protocol):
    """One format.

    A format may also have `with_run`, where a piece needs what only the caller knows, and
    `names_from_root`, `needs_given`, `needs_words` for what it needs besides results.
    """

    separator: bytes

    def head(self, run: Run, /) -> bytes:
        """What comes before the first design."""

    def piece(self, design: DesignReport) -> bytes:
        """One design, independent of the others; where it is empty, no separator comes before it
        either.
        """

    def tail(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """What comes after the last design."""


@runtime_checkable
class Completing(Protocol):
    """A format whose pieces are completed with what only the caller knows about the run."""

    def with_run(self, piece: bytes, run: Run) -> bytes:
        """The piece as it is in the report."""


class ReportText(NamedTuple):
    """A whole report, part by part, and what the log of the run should say about it."""

    parts: Iterable[bytes]
    log: tuple[str, ...] = ()


class WholeReport(Writer, Protocol):
    """A format that must know all pieces before its first line, to sort, cut or count them.

    The pieces are in a file meanwhile, so a format may go through them as often as it needs, but
    holds few of them at once.
    """

    gathers: bool = True
    separator: bytes = b""

    def head(self, run: Run, /) -> bytes:
        """Nothing: the report is written as a whole."""
        return b""

    def tail(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """Nothing, likewise."""
        return b""

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The report."""


@runtime_checkable
class MultiPage(Protocol):
    """A format that can also be a folder of files."""

    def pages(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> Iterator[tuple[str, Iterable[bytes]]]:
        """Each file's name and content."""


class NotInstalled(Exception):
    """A format needs a library that is not installed; the message says what to install."""


@lru_cache(maxsize=16)
def writer(chosen: FormatOptions) -> Writer:
    """The writer of a format; raises KeyError for an unknown name, NotInstalled for a missing
    library.
    """
    module: Any = import_module(FORMATS[chosen.name])
    made: Writer = module.Writer(chosen)
    return made


def between(parts: Iterable[bytes], separator: bytes) -> Iterator[bytes]:
    """The parts with a separator between them."""
    for number, part in enumerate(parts):
        if number:
            yield separator
        yield part


def gathers(made: Writer) -> bool:
    """Whether the format must know all pieces before its first line."""
    return getattr(made, "gathers", False)


def report(
    made: Writer,
    run: Run,
    pieces: Sequence[bytes],
    totals: Totals,
    unreadable: list[Unreadable],
) -> ReportText:
    """The whole report of these pieces, in any format."""
    if gathers(made):
        return cast(WholeReport, made).whole(run, pieces, totals, unreadable)
    if isinstance(made, Completing):
        pieces = [made.with_run(piece, run) for piece in pieces]
    inside = made.separator.join([piece for piece in pieces if piece])
    return ReportText((made.head(run), inside, made.tail(run, totals, unreadable)))
