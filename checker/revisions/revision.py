"""A revision of a design: what was sent, what was found, and what it states."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from msgspec import Struct

from checker.design.answer_files import beside
from checker.design.tables import Tables
from checker.outcome.answers import digests
from checker.outcome.report import DesignReport
from checker.reading.mistakes import Unreadable
from checker.revisions.contents import Content, content_of
from checker.run import batch


class Side(Struct, frozen=True):
    """One revision of a design."""

    path: str
    revision: str
    verdict: str
    judged_by: str
    codes: tuple[str, ...]


class Named(NamedTuple):
    """A design by its path and its project's name."""

    path: str
    name: str


class Revision(NamedTuple):
    """A design as it was sent: its bytes, its report and its values."""

    data: bytes
    report: DesignReport
    content: Content
    revision: str
    answers: dict[tuple[str, str], str] = {}  # noqa: RUF012  # nobody writes into it
    """The digest of what is answered to each rule and subject."""
    sent: bytes = b""
    form: int = 0
    """As it was sent, where `data` has what forms gave besides; the form that is new in it."""

    @property
    def named(self) -> Named:
        """How it is known."""
        return Named(self.report.path, self.report.name)

    @property
    def side(self) -> Side:
        """What a comparison says of it."""
        report = self.report
        return Side(
            report.path, self.revision, report.verdict, report.judged_by, tuple(report.codes)
        )


def read(
    files: Iterable[tuple[str, bytes]], plan: batch.Plan = batch.BY_THE_DESIGN
) -> tuple[list[Revision], list[Unreadable]]:
    """Judge the designs of one side; raises BadRules for rules that cannot be used."""
    files = list(files)
    reports, unreadable = batch.check(files, plan)
    contents = dict(files)
    found = []
    for report in reports:
        design = Tables().add(report.path, contents[report.path])
        design.beside = beside(report.path)
        content = content_of(design.document)
        revision = design.text("project", "revision")
        found.append(Revision(contents[report.path], report, content, revision, digests(design)))
    return found, unreadable
