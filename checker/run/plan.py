"""How designs are judged, and the results of each file.

The engine has no clock: the caller passes the day of the check (`Plan.today`, of the computer or of
`--today`). What is recorded of a later day is no yes: the rules `test-dated`, `screed-dated` and
`heat-up-dated` fail, and an answer of such a day does not count; what the stage takes for a plan
may lie ahead. A report says where a record counts only because of the computer's clock. The cache
keeps a design under the day only where it may be ahead of it (`part`).
"""

from __future__ import annotations

from datetime import date, datetime, timedelta, timezone
from typing import TYPE_CHECKING

from msgspec import Struct, field

from checker.outcome.runs import Totals
from checker.reading.mistakes import Crashed, Unreadable
from checker.reports import FormatOptions, writer
from checker.words.speech import AS_WRITTEN, POINT

if TYPE_CHECKING:
    from checker.notes.baseline import Baseline
    from checker.notes.waivers import WaiverFile


FURTHEST_EAST = timezone(timedelta(hours=14))
"""Where each day begins first; Time Zone Database, Pacific/Kiritimati."""
NOWHERE = ("UTC", "Coordinated Universal Time")
"""What the zone of a computer is called that is set to none: a server, which may be anywhere."""


def newest_day(today: date | None = None, now: datetime | None = None) -> date:
    """The day after which nothing has happened yet.

    Where the computer's clock runs on UTC, nobody knows where the site is, which may have today
    where the computer still has yesterday: then the latest day that has begun anywhere.

    Args:
        today: the day of the check, where the call states it: then that day.
        now: the moment, in the computer's zone, where it is not this one.

    Returns:
        A later day than this is still to come everywhere.
    """
    now = now or datetime.now().astimezone()
    return today or (now.astimezone(FURTHEST_EAST) if now.tzname() in NOWHERE else now).date()


class Plan(Struct, frozen=True):
    """How designs are judged and reported; the same for every worker.

    Attributes:
        codes: instead of those of the job or its region; None for these.
        on: the day whose editions count; None for the design's own day.
        rules: paths of a firm's own rule folders or files.
        formats: what to write about each design.
        waivers: those that may count.
        today: the day of the check, by which waivers are judged; None where no day counts.
        known: the findings to compare with.
        folder: where the paths of designs start, for waivers and known findings; absolute, or empty
            for the working directory.
        standard_input: the path under which it is shown.
        compiled: the rules themselves, for workers without the files.
        further_codes: in addition to those of the job or its region.
        strict: whether missing data are never replaced by their range.
        accepted: digests of the answers that count (`outcome.answers.digest`); None where all in
            the designs do.
        second_opinion: whether floors are solved in section as well as by the standard.
        changes: made in each design before it is judged (`design.changes`).
        units: in which values are shown.
        decimal: the mark with which they are shown.
        remedies: whether to work out what would clear each grave finding.
        newest_day: the day after which nothing has happened yet (`newest_day`), where it is not
            that of the check.
    """

    codes: tuple[str, ...] | None = None
    on: date | None = None
    rules: tuple[str, ...] = ()
    formats: tuple[FormatOptions, ...] = ()
    waivers: tuple[WaiverFile, ...] = ()
    today: date | None = None
    known: Baseline | None = None
    folder: str = ""
    standard_input: str = "standard input"
    compiled: bytes = b""
    further_codes: tuple[str, ...] = ()
    strict: bool = False
    accepted: tuple[str, ...] | None = None
    second_opinion: bool = False
    changes: tuple[str, ...] = ()
    units: str = AS_WRITTEN
    decimal: str = POINT
    remedies: bool = False
    newest_day: date | None = None

    @property
    def happened_by(self) -> date | None:
        """The day after which nothing has happened yet; None where no day counts."""
        return self.newest_day or self.today

    @property
    def wants_sections(self) -> bool:
        """Whether each floor is solved in section, even where nothing is judged by that."""
        return self.second_opinion or any(
            getattr(writer(one), "needs_second_opinion", False) for one in self.formats
        )


BY_THE_DESIGN = Plan()
"""Judge each design by its own codes and day, with the program's rules."""


Piece = bytes | memoryview
"""What a format writes about a design; a view where a worker left it in a file."""


class Entry(Struct):
    """The results of one file.

    Attributes:
        path: as reports show it.
        pieces: what each format writes about it; none where it was not judged.
        totals: its counts.
        unreadable: the mistakes because of which it cannot be read.
        else_is: what a file is that cannot be read and is no design; empty for any other.
        crashed: the failure of the program on it; None where there was none.
    """

    path: str
    pieces: tuple[Piece, ...] = ()
    totals: Totals = field(default_factory=Totals)
    unreadable: tuple[Unreadable, ...] = ()
    else_is: str = ""
    crashed: Crashed | None = None


class CachedEntry(Entry):
    """The results of one file, as the cache kept them."""

    pieces: tuple[bytes, ...] = ()


class Checked(Struct):
    """The results of some files, in order.

    Attributes:
        entries: one a file; where a worker wrote the report itself, only those of files that were
            not judged.
        paths: of the entries, as in the call.
        apart: the counts of the judged designs, where a worker wrote the report itself; else None.
        judged: then the paths of these, where waivers may name them.
        count: then the number of all files.
    """

    entries: list[Entry]
    paths: list[str] = []
    apart: Totals | None = None
    judged: list[str] = []
    count: int = 0

    def __len__(self) -> int:
        return self.count or len(self.entries)

    @property
    def pieces(self) -> list[list[Piece]]:
        """For each format the pieces of all designs, in order."""
        return [
            list(own) for own in zip(*[e.pieces for e in self.entries if e.pieces], strict=True)
        ]

    @property
    def totals(self) -> Totals:
        """The counts of all files."""
        totals = Totals()
        for entry in self.entries:
            totals.join(entry.totals)
        return totals

    @property
    def crashed(self) -> list[Crashed]:
        """All designs on which the program failed."""
        return [entry.crashed for entry in self.entries if entry.crashed is not None]

    @property
    def unreadable(self) -> list[Unreadable]:
        """All mistakes because of which a file cannot be read."""
        return [problem for entry in self.entries for problem in entry.unreadable]
