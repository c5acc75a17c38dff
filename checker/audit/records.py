"""One audit as plain data, in the shape of its JSON."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import msgspec
from msgspec import Struct

from checker.audit import fits
from checker.audit.differences import Difference, Explained
from checker.audit.editions import EditionComparison
from checker.audit.every_reading import ReadingTaken
from checker.audit.following import NextMeasurement
from checker.audit.ranking import Ranked
from checker.audit.siblings import SimilarJobs
from checker.audit.timeline import Event
from checker.words.speech import METRIC, POINT, Speech


class Paper(Struct, frozen=True):
    """One design of the job, and how it was judged.

    Attributes:
        path: of its file, as shown.
        stage: that it states.
        verdict: as of any check.
        judged_by: the day whose editions counted (ISO 8601), empty where it is unknown.
        codes: that it was judged by.
        failed: how many fails there are, by severity.
        open: how many results are open.
        remarks: what the reader must know about the codes and the day.
    """

    path: str
    stage: str
    verdict: str
    judged_by: str
    codes: tuple[str, ...]
    failed: dict[str, int]
    open: int
    remarks: tuple[str, ...] = ()


class Input(Struct, frozen=True):
    """A file that an audit is based on, and the digest that identifies its content."""

    path: str
    digest: str


class Audit(Struct, frozen=True):
    """One audit, in the shape of its JSON.

    Attributes:
        audit: the version of this format.
        path: the folder or file, as the call named it.
        name: of the job.
        complaint: its id; empty where none was named.
        complaint_title: in words.
        subject: that it is about; empty for the whole job.
        summary: what the ranking comes to.
        as_complained: whether the complaint is in the readings.
        papers: the design, and the installed state.
        readings: the files of readings.
        timeline: the dates in the life of the job.
        differences: between design, installation and readings, loop by loop.
        explained: what readings say about coverings and lengths.
        causes: the first is the likeliest.
        next: what to measure next.
        editions: today's rules beside those of the job's day; null where they were not compared.
        siblings: similar jobs; null where none were looked for.
        not_looked: why not.
        sources: of the method, and of the limits that causes rest on.
        cautions: what can hurt someone.
        not_known: what is missing, in sentences.
        as_read: how far off the instruments were declared to be, the visits, and what was noted in
            words.
        spoken_against: the causes that the evidence speaks against, and by what.
        inputs: the files that the audit rests on.
        fit: of all readings at once.
        together: what the fit says, in words.
        every_reading: all that was read, on every visit.
        units: in which its words tell values; its numbers are in their own units.
        decimal: the mark with which its words tell values.
    """

    audit: int
    path: str
    name: str
    complaint: str
    complaint_title: str
    subject: str
    summary: str
    as_complained: tuple[str, ...]
    papers: tuple[Paper, ...]
    readings: str
    timeline: tuple[Event, ...]
    differences: tuple[Difference, ...]
    explained: tuple[Explained, ...]
    causes: tuple[Ranked, ...]
    next: tuple[NextMeasurement, ...]
    editions: EditionComparison | None
    siblings: SimilarJobs | None
    not_looked: str
    sources: tuple[str, ...]
    cautions: tuple[str, ...]
    not_known: tuple[str, ...]
    as_read: tuple[str, ...] = ()
    spoken_against: tuple[str, ...] = ()
    inputs: tuple[Input, ...] = ()
    fit: fits.Fit = fits.Fit()
    together: tuple[str, ...] = ()
    every_reading: tuple[ReadingTaken, ...] = ()
    units: str = METRIC
    decimal: str = POINT

    @property
    def speech(self) -> Speech:
        """How values are shown to its reader."""
        return Speech(self.units, self.decimal)


def encoded(audit: Audit) -> bytes:
    """Encode an audit as JSON.

    Args:
        audit: NumPy numbers in it are written as plain numbers.

    Returns:
        UTF-8, indented, with a line end after the last line.
    """

    def plain(one: Any) -> Any:
        return one.item()

    return msgspec.json.format(msgspec.json.encode(audit, enc_hook=plain), indent=1) + b"\n"


def gathered(explained: Iterable[Explained]) -> list[tuple[str, str, str]]:
    """Join what readings say alike about several loops.

    Args:
        explained: what they say about each property of each loop.

    Returns:
        The loops ('loops.L1, loops.L2'), the property and the words, in the order in which the
        words first come.
    """
    loops: dict[tuple[str, str], list[str]] = {}
    for one in explained:
        loops.setdefault((one.name, one.says), []).append(f"loops.{one.loop}")
    return [(", ".join(names), name, says) for (name, says), names in loops.items()]
