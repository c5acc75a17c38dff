"""How designs are judged, and what comes of each file."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from msgspec import Struct, field

from checker.outcome.runs import Totals
from checker.reading.mistakes import Crashed, Unreadable
from checker.reports import FormatOptions, writer
from checker.words.speech import AS_WRITTEN, POINT

if TYPE_CHECKING:
    from checker.notes.baseline import Baseline
    from checker.notes.waivers import WaiverFile


class Plan(Struct, frozen=True):
    """How designs are judged and reported; the same for every worker.

    codes: instead of those of the job or its region; on: the day whose editions count, instead of
    the design's own; rules: a firm's own rule folders or files; formats: what to write; waivers:
    those that may count; today: the day of the check, by which they are judged and after which
    nothing has happened yet, None where no day counts; known: the findings to compare with; folder:
    the one that designs' paths start from, for those two; standard_input: the path that it is shown
    by; compiled: the rules themselves, for workers that lack the files; further_codes: those that
    count besides the ones of the job or its region; strict: whether a missing datum is never taken
    to lie in its range; accepted: the answers that count, by their digests
    (`outcome.answers.digest`), where not all that designs bring do; second_opinion: whether floors
    are worked out by their section beside the standard too; changes: what is changed in each design
    before it is judged (`design.changes`); units, decimal: how readers are told values; remedies:
    whether what would clear each grave finding is worked out too.
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

    @property
    def wants_sections(self) -> bool:
        """Whether each floor is worked out by its section, also where nothing is judged by that."""
        return self.second_opinion or any(
            getattr(writer(one), "needs_second_opinion", False) for one in self.formats
        )


BY_THE_DESIGN = Plan()
"""Judge each design by its own codes and day, with the program's rules."""


Piece = bytes | memoryview
"""What a format writes of a design; a view where a worker left it in a file."""


class Entry(Struct):
    """What came of one file: each format's piece (none where it is no design), and its counts.

    else_is: what a file is that cannot be read and is no design either; crashed: what the program
    failed with on it.
    """

    path: str
    pieces: tuple[Piece, ...] = ()
    totals: Totals = field(default_factory=Totals)
    unreadable: tuple[Unreadable, ...] = ()
    else_is: str = ""
    crashed: Crashed | None = None


class CachedEntry(Entry):
    """What came of one file, as the cache kept it."""

    pieces: tuple[bytes, ...] = ()


class Checked(Struct):
    """What came of some files, one by one in order; paths: theirs, as the call has them.

    Where a worker wrote the report itself: apart: the counts of those that were judged, which are
    not among the entries; judged: their paths, where waivers may name them; count: of all files.
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
        """All designs that the program failed on."""
        return [entry.crashed for entry in self.entries if entry.crashed is not None]

    @property
    def unreadable(self) -> list[Unreadable]:
        """All mistakes that kept a file from being read."""
        return [problem for entry in self.entries for problem in entry.unreadable]
