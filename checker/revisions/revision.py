"""A revision of a design: what was sent, what was found, and what it states."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable
from copy import copy
from functools import partial
from typing import NamedTuple

from msgspec import Struct

from checker.design.answer_files import beside
from checker.design.tables import Tables
from checker.outcome.answers import digests
from checker.outcome.batches import OfDesign
from checker.outcome.report import DesignReport
from checker.reading.mistakes import Unreadable
from checker.revisions.aside import Aside, FoundAside, Together, let_go
from checker.revisions.contents import Content, content_of
from checker.run import batch


class Side(Struct, frozen=True, omit_defaults=True):
    """One revision of a design, as a comparison names it; loopless: whether it has no loop."""

    path: str
    revision: str
    verdict: str
    judged_by: str
    codes: tuple[str, ...]
    loopless: bool = False


class Named(NamedTuple):
    """A design by its path and its project's name."""

    path: str
    name: str


class Revision:
    """A design as it was sent: its bytes, its report and its values.

    project: what it states about its project; answers: the digest of the answer to each rule and
    subject; form: the number of a new form whose answers it includes, 0 without one.
    """

    __slots__ = ("_place", "_sent", "_together", "answers", "form", "project", "report")

    def __init__(
        self,
        report: DesignReport,
        project: dict[str, str],
        answers: dict[tuple[str, str], str],
        together: Callable[[], Together],
        place: int,
    ) -> None:
        """Make a revision of its report.

        Args:
            report: what was found in it.
            project: what it states about its project, by key.
            answers: the digest of the answer to each rule and subject.
            together: gives the designs that were judged together, this one among them.
            place: its place among these.
        """
        self.report = report
        self.project = project
        self.answers = answers
        self.form = 0
        self._sent = b""
        self._together, self._place = together, place

    @property
    def revision(self) -> str:
        """The revision's name, as its sender calls it."""
        return self.project.get("revision", "")

    @property
    def data(self) -> bytes:
        """The bytes that were judged."""
        return self._together().data[self._place]

    @property
    def sent(self) -> bytes:
        """The bytes as they were sent, without what forms gave."""
        return self._sent or self.data

    @property
    def content(self) -> Content:
        """The values of the design."""
        return self._together().contents[self._place]

    def by_form(self, sent: bytes, form: int) -> Revision:
        """The same design with a form's answers filled in."""
        made = copy(self)
        made._sent, made.form = sent, form
        return made

    @property
    def named(self) -> Named:
        """The design's path and name."""
        return Named(self.report.path, self.report.name)

    @property
    def side(self) -> Side:
        """What a comparison says about it."""
        report = self.report
        return Side(
            report.path,
            self.revision,
            report.verdict,
            report.judged_by,
            tuple(report.codes),
            report.loopless,
        )


def read(
    files: Iterable[tuple[str, bytes]],
    plan: batch.Plan = batch.BY_THE_DESIGN,
    aside: Aside | None = None,
) -> tuple[list[Revision], list[Unreadable]]:
    """Judge the designs of one side.

    Args:
        files: path and content of each.
        plan: how they are judged.
        aside: where they are put when there are very many; without it all stay in memory.

    Returns:
        The designs, and what cannot be read.

    Raises:
        BadRules: rules cannot be used.
    """
    files = list(files)
    reports, unreadable, designs = batch.check_and_keep(files, plan, keep=not plan.changes)
    contents = dict(files)
    stated, texts = [], []
    for report, judged in zip(reports, designs, strict=True):
        design = judged
        if plan.changes:  # what was sent is the design without them
            design = Tables().add(report.path, contents[report.path])
            design.beside = beside(report.path)
        stated.append(content_of(design.document))
        texts.append((dict(design.document.get("project") or {}), digests(design)))
    if not reports:
        return [], unreadable
    found = [one.found for one in reports if isinstance(one.found, OfDesign)]
    some = Together([contents[one.path] for one in reports], stated, found)
    paths = [one.path for one in reports]
    if aside is None:
        let_go(some, paths, plan)
        whole: Callable[[], Together] = partial(_itself, some)
    else:
        number = aside.put(some, paths, plan)
        whole = partial(aside.of, number)
        for place, report in enumerate(reports):
            report.found = FoundAside(aside, number, place)
    del designs
    gc.collect(1)  # the tables refer to one another in rings
    numbered = enumerate(zip(reports, texts, strict=True))
    return [Revision(report, *own, whole, place) for place, (report, own) in numbered], unreadable


def _itself(some: Together) -> Together:
    return some
