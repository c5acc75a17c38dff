"""Report formats: one module each, found by its name in one table.

A format turns each design into a piece of text on its own, so that workers can write; the pieces
are joined between a head and a tail.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from importlib import import_module
from typing import Any, NamedTuple, Protocol, runtime_checkable

from checker.outcome.results import DesignReport, Run, Totals
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
    "csv": "checker.reports.csv",
    "parquet": "checker.reports.parquet",
}
"""A format's name, and the module whose `Writer` makes it."""


class Chosen(NamedTuple):
    """A format, and how its reader will see it: columns of the terminal, and whether in colour.

    table: which table, of the formats that are tables; summary: one line a design only; by_rule:
    findings by rule instead of by how grave they are; folder, root: for a format that names files
    from the root of their repository (`names_from_root`), the folder that paths start from, and
    that root.
    """

    name: str
    width: int = 80
    colour: bool = False
    table: str = "results"
    summary: bool = False
    by_rule: bool = False
    folder: str = ""
    root: str = ""


class Writer(Protocol):
    """One format."""

    separator: bytes

    def head(self, run: Run, /) -> bytes:
        """What stands before the first design."""

    def piece(self, design: DesignReport) -> bytes:
        """One design, written alone."""

    def tail(self, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """What stands after the last design."""


class Gathered(NamedTuple):
    """A whole report, and what the log of the run should say about it."""

    text: bytes
    log: tuple[str, ...] = ()


class Gatherer(Writer, Protocol):
    """A format that needs all pieces at once, to sort or to cut them; it has no head or tail."""

    def head(self, run: Run, /) -> bytes:
        """Nothing: the report is written whole."""
        return b""

    def tail(self, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """Nothing, likewise."""
        return b""

    def whole(
        self, run: Run, pieces: list[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> Gathered:
        """The report."""


@runtime_checkable
class Foldable(Protocol):
    """A format that can also be a folder of files."""

    def pages(
        self, run: Run, pieces: list[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> Iterator[tuple[str, bytes]]:
        """Each file's name and content."""


class NotInstalled(Exception):
    """A format wants a library that is not there; says what to install."""


@lru_cache(maxsize=16)
def writer(chosen: Chosen) -> Writer:
    """The writer of a format; KeyError for an unknown name, NotInstalled for a missing library."""
    module: Any = import_module(FORMATS[chosen.name])
    made: Writer = module.Writer(chosen)
    return made
