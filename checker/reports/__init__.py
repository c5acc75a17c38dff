"""Report formats: one module for each, found by its name in one table.

A format turns each design into a piece of text of its own, so that workers can write; the pieces
are joined between a head and a tail.

Shared by formats: `joining` writes findings once that differ in nothing but subject and value;
`sentences` and `verdicts` are words; `terminal` lays out every page of a terminal; `facts` are a
design's numbers in its reader's units (`reader_units`), `tables` its results as cells. Pages are
made of `loop_table`, `came_out`, `drawn` and pictures as SVG: `charts` (of audits too, by
`chart_parts` on `chart_scales`), `floor_plan`, `header_drawing`, `section_chart`. `addresses` and
`line_hash` know how code hosts name files and alerts.
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
    """A format, and the properties of its reader.

    Attributes:
        name: a key of FORMATS.
        width: columns of the terminal.
        colour: whether it shows colours.
        table: which table (`results` or `computed`), for formats that are tables.
        summary: only one line a design.
        by_rule: findings by rule instead of by severity.
        folder: the folder where paths start, for a format that names files from the root of their
            repository (`names_from_root`).
        root: that root.
        remedies: whether to include what would clear a finding, where it is worked out.
        manual: the address of the manual, for a link to each rule's page; empty where there is
            none.
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
        """The address of a rule's page in the manual.

        Args:
            rule: its id.

        Returns:
            The address; empty where no manual is known.
        """
        return f"{self.manual.rstrip('/')}/rules/{rule}.html" if self.manual else ""


class Writer(Protocol):
    """One format.

    A format may also have `with_run`, where a piece needs what only the caller knows, and
    `names_from_root`, `needs_given`, `needs_words` for what it needs besides results.
    """

    separator: bytes

    def head(self, run: Run, /) -> bytes:
        """What comes before the first design.

        Args:
            run: what the run judges by; what became of its files is not known yet.

        Returns:
            The report's beginning, written before any design is judged; empty where there is none.
        """

    def piece(self, design: DesignReport) -> bytes:
        """One design, independent of all others: worker processes make the pieces, in any order.

        Args:
            design: its report, with what the format said it needs.

        Returns:
            The design's part of the report; no separator comes before an empty one. A format that
            gathers its pieces may return anything that its `whole` can read.
        """

    def tail(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """What comes after the last design.

        Args:
            run: what the run judged by, now with what became of its files.
            totals: the counts over all designs.
            unreadable: files, or designs in them, that could not be read.

        Returns:
            The report's end.
        """


@runtime_checkable
class Completing(Protocol):
    """A format whose pieces are completed with what only the caller knows about the run."""

    def with_run(self, piece: bytes, run: Run) -> bytes:
        """The piece as it is in the report.

        Args:
            piece: what `piece` returned, perhaps in another process.
            run: what the run judges by.

        Returns:
            The piece, completed.
        """


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
        """Nothing: the report is written as a whole.

        Args:
            run: not used.

        Returns:
            No bytes.
        """
        return b""

    def tail(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """Nothing, likewise.

        Args:
            run: not used.
            totals: not used.
            unreadable: not used.

        Returns:
            No bytes.
        """
        return b""

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The report.

        Args:
            run: what the run judged by, with what became of its files.
            pieces: what `piece` returned for each design that was judged, in the order of the
                report.
            totals: the counts over all designs.
            unreadable: files, or designs in them, that could not be read.

        Returns:
            The report's parts, which may still read the pieces while they are written, and lines
            for the log, such as how much was left out.
        """


@runtime_checkable
class MultiPage(Protocol):
    """A format that can also be a folder of files."""

    def pages(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> Iterator[tuple[str, Iterable[bytes]]]:
        """Each file's name and content.

        Args:
            run: what the run judged by, with what became of its files.
            pieces: what `piece` returned for each design that was judged, in the order of the
                report.
            totals: the counts over all designs.
            unreadable: files, or designs in them, that could not be read.

        Returns:
            Names within the folder, and each file part by part; a file must be written before the
            next is asked for.
        """


class NotInstalled(Exception):
    """A format needs a library that is not installed; the message says what to install."""


@lru_cache(maxsize=16)
def writer(chosen: FormatOptions) -> Writer:
    """The writer of a format, made once for the same options.

    Args:
        chosen: the format by its name in FORMATS, and the properties of its reader.

    Returns:
        The writer; it keeps nothing of the designs that it wrote.

    Raises:
        KeyError: there is no such format.
        NotInstalled: the format needs a library that is not installed.
    """
    module: Any = import_module(FORMATS[chosen.name])
    made: Writer = module.Writer(chosen)
    return made


def between(parts: Iterable[bytes], separator: bytes) -> Iterator[bytes]:
    """The parts with a separator between them.

    Args:
        parts: in order; one is taken only when it is needed.
        separator: what comes before each part but the first, also between empty ones.

    Returns:
        Parts and separators in turn.
    """
    for number, part in enumerate(parts):
        if number:
            yield separator
        yield part


def gathers(made: Writer) -> bool:
    """Whether the format must know all pieces before its first line.

    Args:
        made: a writer.

    Returns:
        True where its `whole` writes the report; its `head` and `tail` are empty then.
    """
    return getattr(made, "gathers", False)


def report(
    made: Writer,
    run: Run,
    pieces: Sequence[bytes],
    totals: Totals,
    unreadable: list[Unreadable],
) -> ReportText:
    """The whole report of these pieces, in any format.

    Args:
        made: the format's writer.
        run: what the run judged by, with what became of its files.
        pieces: what the writer's `piece` returned for each design, in the order of the report.
        totals: the counts over all designs.
        unreadable: files, or designs in them, that could not be read.

    Returns:
        The report's parts, and lines for the log.
    """
    if gathers(made):
        return cast(WholeReport, made).whole(run, pieces, totals, unreadable)
    if isinstance(made, Completing):
        pieces = [made.with_run(piece, run) for piece in pieces]
    inside = made.separator.join([piece for piece in pieces if piece])
    return ReportText((made.head(run), inside, made.tail(run, totals, unreadable)))
