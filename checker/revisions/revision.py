"""A revision of a design: what was sent, what was found, and what it states."""

from __future__ import annotations

import gc
from collections.abc import Iterable
from functools import partial
from typing import NamedTuple

from msgspec import Struct

from checker.design.answer_files import beside
from checker.design.tables import Tables
from checker.outcome.answers import digests
from checker.outcome.columns import Computed, OfDesign
from checker.outcome.report import DesignReport
from checker.reading.mistakes import Unreadable
from checker.revisions.contents import Content, content_of
from checker.run import batch


class Side(Struct, frozen=True):
    """One revision of a design, as a comparison names it."""

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
    """The digest of the answer to each rule and subject."""
    sent: bytes = b""
    form: int = 0
    """The bytes as sent, where `data` also holds what forms gave; and the number of a new form in
    it.
    """

    @property
    def named(self) -> Named:
        """The design's path and name."""
        return Named(self.report.path, self.report.name)

    @property
    def side(self) -> Side:
        """What a comparison says about it."""
        report = self.report
        return Side(
            report.path, self.revision, report.verdict, report.judged_by, tuple(report.codes)
        )


def read(
    files: Iterable[tuple[str, bytes]], plan: batch.Plan = batch.BY_THE_DESIGN
) -> tuple[list[Revision], list[Unreadable]]:
    """Judge the designs of one side; returns them and what cannot be read; raises BadRules."""
    files = list(files)
    reports, unreadable, designs = batch.check_and_keep(files, plan, keep=not plan.changes)
    contents = dict(files)
    found = []
    for report, judged in zip(reports, designs, strict=True):
        design = judged
        if plan.changes:  # what was sent is the design without them
            design = Tables().add(report.path, contents[report.path])
            design.beside = beside(report.path)
        content = content_of(design.document)
        revision = design.text("project", "revision")
        found.append(Revision(contents[report.path], report, content, revision, digests(design)))
    own = found[0].report.found if found else None
    if isinstance(own, OfDesign):
        own.batch.release(partial(_computed_again, files, plan))
    del designs
    gc.collect(1)  # the tables refer to one another in rings
    return found, unreadable


def _computed_again(
    files: list[tuple[str, bytes]], plan: batch.Plan, shown: bool
) -> list[Computed]:
    """Computed values, which only a comparison of two revisions needs; reports without them take
    half the memory.
    """
    own = batch.check(files, plan)[0][0].found
    assert isinstance(own, OfDesign)
    return own.batch.computed if shown else own.batch.further
