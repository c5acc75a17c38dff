"""Job folders: the design, the installed state and the readings of one job, read together."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from datetime import date
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from msgspec.structs import replace

from checker.audit import readings as site
from checker.audit.readings import Readings
from checker.compute.graph import Graph
from checker.compute.meanings import meaning
from checker.compute.naming import TABLE_OF
from checker.compute.settling import settled
from checker.design.schema import DESIGNS, design_format
from checker.design.tables import Design, Tables
from checker.outcome.findings import judge
from checker.outcome.report import DesignReport
from checker.outcome.results import Result
from checker.reading import bounded, design_files
from checker.reading.design_files import Named
from checker.reading.mistakes import OfTheFile, Unreadable
from checker.reading.other_files import what_else
from checker.run import batch, sheets
from checker.run.batch import Plan
from checker.run.judging import failed
from checker.run.progress import at_once, progress_bar
from checker.run.rules_in_force import rulebook

READINGS, FILLED_IN, LOGGED = ".readings.yaml", ".readings.xlsx", ".readings.csv"
"""Endings of files of readings: text, a filled-in visit form, and a logger's file, whose name
begins with the header that it was connected to.
"""
DESIGN, INSTALLED = "design", "installed"


class NoJob(Exception):
    """No job can be read from a folder; the message says what is wrong."""

    def __init__(self, problems: list[Unreadable]) -> None:
        super().__init__(problems[0].message)
        self.problems = problems


class JudgedDesign:
    """One judged design of a job: its columns, its findings, and the digest of its file."""

    def __init__(
        self,
        tables: Tables,
        design: Design,
        report: DesignReport,
        graph: Graph,
        content: bytes,
    ) -> None:
        self.tables = tables
        self.design = design
        self.report = report
        self.graph = graph
        self.digest = site.digest_of(content)
        self.stage = design.text("project", "stage") or DESIGN

    @cached_property
    def results(self) -> list[Result]:
        """Every result; they are made once."""
        return self.report.results

    @cached_property
    def _rows(self) -> dict[str, dict[str, int]]:
        rows: dict[str, dict[str, int]] = {}
        for table in TABLE_OF.values():
            own = np.flatnonzero(self.tables.design_of(table) == self.design.row)
            rows[table] = {self.tables[table].ids[row]: int(row) for row in own}
        return rows

    def ids(self, table: str) -> list[str]:
        """The ids of a section, in file order."""
        return [*self._rows[table]]

    def value(self, subject: str, name: str, of: str = "") -> float:
        """A column's value for the subject with this id; SI, NaN where it is missing."""
        if subject == "loop" and meaning(subject, name) is None:
            subject = "part"  # of a loop without parts, which has the loop's id
        rows = self._rows[TABLE_OF[subject]]
        row = self.design.row if subject == "design" else rows.get(of, -1)
        return float("nan") if row < 0 else float(self.graph.column(subject, name).values[row])

    def largest_pump_flow(self, header: str) -> float:
        """The flow, m³/s, at which the header's pump curve ends; NaN where there is none."""
        row = self._rows["headers"].get(header, -1)
        flows = self.graph.members.grouped("header", "pump_curve.flow")
        return float(flows.largest()[row]) if row >= 0 and flows.count()[row] else float("nan")

    def text(self, section: str, of: str, key: str) -> str:
        """A text or an id as typed; empty where there is none."""
        record: Any = self.design.document.get(section, {}).get(of, {})
        for step in key.split("."):
            record = record.get(step, {}) if isinstance(record, dict) else {}
        return record if isinstance(record, str) else ""

    def named(self, loop: str, key: str) -> list[str]:
        """The rooms, floors and so on that a loop or its parts name, each once."""
        record: Any = self.design.document.get("loops", {}).get(loop, {})
        names = [record.get(key), *(part.get(key) for part in self.parts(loop))]
        return [*dict.fromkeys(name for name in names if isinstance(name, str) and name)]

    def parts(self, loop: str) -> list[dict[str, Any]]:
        """The parts of a loop as typed; none where it has no parts."""
        record: Any = self.design.document.get("loops", {}).get(loop, {})
        return list(record.get("parts") or ())

    def day(self, name: str) -> date | None:
        """A date of the whole design, such as project.designed_on."""
        column = self.tables[DESIGNS].column(design_format().leaf(DESIGNS, name).slot)
        number = column[self.design.row]
        return None if np.isnan(number) else date.fromordinal(int(number))

    def days(self, table: str, name: str) -> list[date]:
        """The dates that records of a table state, sorted."""
        column = self.tables[table].column(design_format().leaf(table, name).slot)
        own = [column[row] for row in self._rows[table].values()]
        return sorted(date.fromordinal(int(day)) for day in own if not np.isnan(day))

    def related(self, subject: str) -> set[str]:
        """The subjects that can affect this one: what it is made of, what feeds it, where it is."""
        loops = self._loops_of(subject)
        if not loops:
            known = [f"{table}.{name}" for table, rows in self._rows.items() for name in rows]
            return {*known, *TABLE_OF.values(), "design"}
        found = {"design", subject} | {f"loops.{loop}" for loop in loops}
        for loop in loops:
            for table, key in _REFERENCES.items():
                found |= {f"{table}.{name}" for name in self.named(loop, key)}
        for test in self._rows["pressure_tests"]:
            if f"headers.{self.text('pressure_tests', test, 'header')}" in found:
                found.add(f"pressure_tests.{test}")
        # The section itself stands for a record that the design lacks altogether.
        return found | {*TABLE_OF.values()}

    def _loops_of(self, subject: str) -> list[str]:
        section, _, name = subject.partition(".")
        if section == "loops":
            return [name] if name in self._rows["loops"] else []
        key = _REFERENCES.get(section)
        if key is None:
            return []
        return [loop for loop in self._rows["loops"] if name in self.named(loop, key)]


_REFERENCES = {"rooms": "room", "headers": "header", "floors": "floor", "pipes": "pipe"}


class Job:
    """One job as designed, as installed and as measured; at least one of the first two is there."""

    def __init__(self, path: str, papers: list[JudgedDesign], readings: Readings) -> None:
        self.path = path
        self.papers = papers
        self.designed = next((s for s in papers if s.stage == DESIGN), None)
        self.installed = next((s for s in papers if s.stage == INSTALLED), None)
        self.readings = readings

    @property
    def current(self) -> JudgedDesign:
        """The latest state on paper: as installed, else as designed."""
        paper = self.installed or self.designed
        assert paper is not None
        return paper

    @property
    def name(self) -> str:
        """The job's name."""
        return self.current.report.name


def open_job(path: str, plan: Plan = batch.BY_THE_DESIGN) -> Job:
    """Read the job in a folder, or that of one design file; raises NoJob, BadRules."""
    named = design_files.designs([path])
    if named.problems:
        raise NoJob(named.problems)
    beside = []
    if os.path.isdir(path):
        for here, folders, names in os.walk(path):
            folders.sort()
            beside += [os.path.join(here, name) for name in sorted(names) if _is_readings(name)]
    searched = os.path.isdir(path)
    return _joined(path, _designs(named, plan, searched=searched), _readings(beside))


def from_texts(
    path: str, designs: list[tuple[str, bytes]], readings: tuple[str, bytes] | None = None
) -> Job:
    """Make a job of files given as (path, content); raises NoJob, BadRules."""
    taken = readings_of(*readings) if readings else site.NONE_TAKEN
    return _joined(path, _judged(designs, batch.BY_THE_DESIGN), taken)


def _is_readings(name: str) -> bool:
    return name.endswith((READINGS, FILLED_IN, LOGGED)) and not name.startswith(".")


def _joined(path: str, states: list[JudgedDesign], readings: Readings) -> Job:
    for stage in (DESIGN, INSTALLED):
        same = [paper.design.path for paper in states if paper.stage == stage]
        if len(same) > 1:
            words = (
                f"The folder has {len(same)} designs at stage '{stage}' ({', '.join(same[:4])}); "
                "a job has one as designed and one as installed. Name one job's folder or file."
            )
            raise NoJob([Unreadable(path, 1, 1, words)])
    if not states:
        raise NoJob([OfTheFile(path, 1, 1, "There is no design here; a job has one at least.")])
    job = Job(path, states, readings)
    known = {table: job.current.ids(table) for table in ("loops", "rooms", "headers")}
    problems = site.misplaced(readings, known)
    problems = problems or site.beyond(readings, *_flows(job.current))
    if problems:
        raise NoJob([Unreadable(readings.path, p.line, p.column, p.message) for p in problems])
    return job


def _flows(paper: JudgedDesign) -> tuple[dict[str, float], dict[str, float]]:
    """The end of the pump curve and the computed flow of each loop, m³/s, NaN where unknown."""
    loops = paper.ids("loops")
    most = {
        f"loops.{loop}": paper.largest_pump_flow(paper.text("loops", loop, "header"))
        for loop in loops
    }
    return most, {f"loops.{loop}": paper.value("loop", "flow", loop) for loop in loops}


def _designs(found: Named, plan: Plan, *, searched: bool) -> list[JudgedDesign]:
    """The designs, judged; searched: they were found by a search, so other files are no mistake."""
    contents, problems = _contents(found.files, found.named)
    if problems:
        raise NoJob(problems)
    own = [one for one in contents if not (searched and what_else(one[1]))]
    made = _judged(own, plan)
    for paper in made:
        if design_files.is_sheet(paper.design.path):
            # What was judged is its text; what was handed in is the file.
            file = bounded.start_of(design_files.sheet_file(paper.design.path))
            paper.digest = site.digest_of(file)
    return made


def _contents(
    files: Iterable[str], named: frozenset[str] = frozenset()
) -> tuple[list[tuple[str, bytes]], list[Unreadable]]:
    """Designs by the path under which each is shown, those in workbooks included, and mistakes."""
    taken = sheets.take(files, named)
    contents, problems = read(taken.files)
    return contents, [*taken.problems, *problems]


def read(files: Iterable[str]) -> tuple[list[tuple[str, bytes]], list[Unreadable]]:
    """Read designs, those in workbooks included.

    Returns:
        Each design by the path under which it is shown, and why files could not be read.
    """
    contents: list[tuple[str, bytes]] = []
    problems: list[Unreadable] = []
    for path in files:
        try:
            contents.append((batch.shown(path), batch.content_of(path)))
        except OSError as error:
            words = f"The file cannot be read: {bounded.why(error)}."
            problems.append(OfTheFile(batch.shown(path), 1, 1, words))
    return contents, problems


def _judged(contents: list[tuple[str, bytes]], plan: Plan) -> list[JudgedDesign]:
    made, unreadable = judged(contents, plan)
    if unreadable:
        raise NoJob(unreadable)
    return made


def judged(
    contents: list[tuple[str, bytes]], plan: Plan = batch.BY_THE_DESIGN
) -> tuple[list[JudgedDesign], list[Unreadable]]:
    """Judge designs given as (path, content).

    Returns:
        Each design with its columns and findings, and why designs could not be judged.

    Raises:
        BadRules: the rules cannot be used.
    """
    tables, book, judging, unreadable = batch.read(contents, plan)
    reports = judge(tables, book, judging)
    by_path = dict(contents)
    batch.note(reports, book, plan, by_path)
    graph = settled(tables)
    pairs = zip(tables.designs, reports, strict=True)
    return [
        JudgedDesign(tables, one, report, graph, by_path[one.path]) for one, report in pairs
    ], unreadable


AT_ONCE = 50
"""Designs judged at once; one with its graph and records takes some 2 MB."""

T = TypeVar("T")


def under(
    folder: str,
    made: Callable[[list[JudgedDesign]], T],
    plan: Plan = batch.BY_THE_DESIGN,
    excluded: Callable[[str], bool] = lambda path: False,
    workers: int = 1,
) -> Iterator[tuple[T, int, list[Unreadable]]]:
    """Judge all designs under a folder, some at a time, in order.

    Args:
        folder: where to look.
        made: what to make of some judged designs; must be picklable where there are workers.
        plan: how they are judged.
        excluded: whether the policy excludes a path.
        workers: how many processes judge.

    Yields:
        What was made, the number of designs in it, and what could not be read.
    """
    named = design_files.designs([folder])
    files = [path for path in named.files if not excluded(path)]
    if named.problems:
        yield made([]), 0, named.problems
    if workers <= 1 or len(files) <= AT_ONCE:
        parts = batch.chunks(files, min(AT_ONCE, at_once()))
        done: Iterator[tuple[list[str], Any]] = ((part, _made(part, plan, made)) for part in parts)
    else:
        from checker.run.workers import WorkerPool

        rulebook(plan.rules, plan.compiled)  # so that workers that are forked have it
        crew: WorkerPool[list[str]] = WorkerPool(_made, lambda part: (part, plan, made), workers)
        done = crew.in_order(batch.chunks(files, AT_ONCE))
    with progress_bar(len(files)) as advance:
        for part, found in done:
            if isinstance(found, tuple):
                yield found
            else:
                yield from (_alone(file, plan, made) for file in part)
            advance(len(part))


def _made(
    part: list[str], plan: Plan, made: Callable[[list[JudgedDesign]], T]
) -> tuple[T, int, list[Unreadable]]:
    contents, unread = _contents(part)
    found, refused = sheets_of(contents, plan)
    return made(found), len(found), [*unread, *refused]


def sheets_of(
    contents: list[tuple[str, bytes]], plan: Plan
) -> tuple[list[JudgedDesign], list[Unreadable]]:
    """Judge designs that a search found; a failure on one of them does not affect the others.

    Files that are not designs are passed over without a mistake.
    """
    by_path = dict(contents)
    found, refused, crashed = batch.fenced(by_path, plan, judged)
    refused = [one for one in refused if not what_else(by_path[one.path])]
    return found, [*refused, *crashed]


def _alone(
    file: str, plan: Plan, made: Callable[[list[JudgedDesign]], T]
) -> tuple[T, int, list[Unreadable]]:
    """Judge one file of a part whose worker died, in a new worker."""
    from checker.run.workers import WorkerPool

    crew: WorkerPool[str] = WorkerPool(_made, lambda one: ([one], plan, made), 1)
    for _, found in crew.in_order([file]):
        if isinstance(found, tuple):
            return found[0], found[1], found[2]
    died = failed(batch.shown(file), RuntimeError("the worker died on it"))
    return made([]), 0, [died]


def _readings(paths: list[str]) -> Readings:
    if not paths:
        return site.NONE_TAKEN
    texts = [path for path in paths if path.endswith(READINGS)]
    if len(texts) > 1:
        words = f"The job has {len(texts)} files of readings ({', '.join(texts)}); keep one."
        raise NoJob([Unreadable(texts[1], 1, 1, words)])
    found = []
    for path in paths:
        try:
            found.append(readings_of(batch.shown(path), bounded.start_of(path)))
        except OSError as error:
            words = f"The file cannot be read: {bounded.why(error)}."
            raise NoJob([Unreadable(path, 1, 1, words)]) from None
    # The text stands first: what it says of instruments and days holds.
    found.sort(key=lambda one: not one.path.endswith(READINGS))
    try:
        return site.joined(found)
    except site.Unreadable as refused:
        words = refused.problems[0].message
        raise NoJob([Unreadable(found[-1].path, 1, 1, words)]) from None


def readings_of(path: str, data: bytes) -> Readings:
    """The readings in this file: text, a form of a visit, or a logger's; raises NoJob."""
    try:
        if path.endswith(FILLED_IN):
            return replace(site.read(path, _filled_in(path, data)), digest=site.digest_of(data))
        if path.endswith(LOGGED):
            header = os.path.basename(path).removesuffix(LOGGED)
            return site.of_logger(path, data, header)
        return site.read(path, data)
    except site.Unreadable as refused:
        problems = [Unreadable(path, p.line, p.column, p.message) for p in refused.problems]
        raise NoJob(problems) from None


def _filled_in(path: str, data: bytes) -> bytes:
    """The text of the readings in a filled-in form; raises NoJob."""
    from checker.audit.visit import FORM, as_readings, visit_form
    from checker.forms.reading import answers, form_of
    from checker.intake import workbooks
    from checker.intake.sheets import BadSheet

    try:
        book = workbooks.read(path, data)
    except BadSheet as bad:
        raise NoJob([Unreadable(path, 1, 1, f"{bad}.")]) from None
    form = form_of(book, {FORM: visit_form()})
    if form is None:
        words = "This is not the form of a visit; make one with 'prescreed audit DIR --visit FILE'."
        raise NoJob([Unreadable(path, 1, 1, words)])
    found = answers(book, form)
    if found.refused:
        raise NoJob([Unreadable(path, 1, 1, str(one)) for one in found.refused])
    return as_readings(found)
