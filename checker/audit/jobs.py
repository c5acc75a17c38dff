"""Job folders: the design, the installed state and the readings of one job, read together."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypeVar

from msgspec.structs import replace

from checker.audit import readings as reading_files
from checker.audit.papers import DESIGN, JudgedDesign
from checker.audit.readings import Readings
from checker.compute.settling import settled
from checker.outcome.findings import judge
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
INSTALLED = "installed"


class NoJob(Exception):
    """No job can be read from a folder; the message says what is wrong."""

    def __init__(self, problems: list[Unreadable]) -> None:
        super().__init__(problems[0].message)
        self.problems = problems


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
    """Read the job in a folder, or that of one design file.

    Args:
        path: of the folder, which is searched for designs and readings, or of the file, which is
            read without any.
        plan: how the designs are judged.

    Returns:
        The job.

    Raises:
        NoJob: there is no design, or two of one stage, or a file of the job cannot be used.
        BadRules: the rules cannot be used.
    """
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
    """Make a job of files in memory.

    Args:
        path: of the job, for messages.
        designs: the path and content of each design, as designed and as installed.
        readings: the path and content of a file of readings, whose kind its ending says; None where
            nothing was read.

    Returns:
        The job, judged as each design says.

    Raises:
        NoJob: there is no design, or two of one stage, or a file cannot be used.
        BadRules: the rules cannot be used.
    """
    taken = readings_of(*readings) if readings else reading_files.NONE_TAKEN
    return _joined(path, _judged(designs, batch.BY_THE_DESIGN), taken)


def _is_readings(name: str) -> bool:
    return name.endswith((READINGS, FILLED_IN, LOGGED)) and not name.startswith(".")


def _joined(path: str, papers: list[JudgedDesign], readings: Readings) -> Job:
    """The job of these designs and readings; raises NoJob where they do not belong together."""
    for stage in (DESIGN, INSTALLED):
        same = [paper.design.path for paper in papers if paper.stage == stage]
        if len(same) > 1:
            words = (
                f"The folder has {len(same)} designs at stage '{stage}' ({', '.join(same[:4])}); "
                "a job has one as designed and one as installed. Name one job's folder or file."
            )
            raise NoJob([Unreadable(path, 1, 1, words)])
    if not papers:
        raise NoJob([OfTheFile(path, 1, 1, "There is no design here; a job has one at least.")])
    job = Job(path, papers, readings)
    known = {table: job.current.ids(table) for table in ("loops", "rooms", "headers")}
    problems = reading_files.misplaced(readings, known)
    problems = problems or reading_files.beyond(readings, *_flows(job.current))
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
            from checker.intake.workbooks import LARGEST_FILE

            file = bounded.start_of(design_files.sheet_file(paper.design.path), LARGEST_FILE)
            paper.digest = reading_files.digest_of(file)
    return made


def _contents(
    files: Iterable[str], named: frozenset[str] = frozenset()
) -> tuple[list[tuple[str, bytes]], list[Unreadable]]:
    """Designs by the path under which each is shown, those in workbooks included, and mistakes."""
    taken = sheets.take(files, named)
    contents, problems = read(taken.files)
    return contents, [*taken.problems, *problems]


def read(files: Iterable[str]) -> tuple[list[tuple[str, bytes]], list[Unreadable]]:
    """Read the bytes of designs, those in workbooks included.

    Args:
        files: their paths.

    Returns:
        Each design with the path under which it is shown, and why files could not be read.
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
    """Judge designs.

    Args:
        contents: the path and content of each.
        plan: how they are judged.

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
        pool: WorkerPool[list[str]] = WorkerPool(_made, lambda part: (part, plan, made), workers)
        done = pool.in_order(batch.chunks(files, AT_ONCE))
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
    found, refused = judged_of_search(contents, plan)
    return made(found), len(found), [*unread, *refused]


def judged_of_search(
    contents: list[tuple[str, bytes]], plan: Plan
) -> tuple[list[JudgedDesign], list[Unreadable]]:
    """Judge designs that a search found; a failure on one of them does not affect the others.

    Args:
        contents: the path and content of each file; one that is no design is passed over without a
            mistake.
        plan: how they are judged.

    Returns:
        Each design with its columns and findings, and why designs could not be judged.

    Raises:
        BadRules: the rules cannot be used.
    """
    by_path = dict(contents)
    found, refused, crashed = batch.crashes_apart(by_path, plan, judged)
    refused = [one for one in refused if not what_else(by_path[one.path])]
    return found, [*refused, *crashed]


def _alone(
    file: str, plan: Plan, made: Callable[[list[JudgedDesign]], T]
) -> tuple[T, int, list[Unreadable]]:
    """Judge one file of a part whose worker died, in a new worker."""
    from checker.run.workers import WorkerPool

    pool: WorkerPool[str] = WorkerPool(_made, lambda one: ([one], plan, made), 1)
    for _, found in pool.in_order([file]):
        if isinstance(found, tuple):
            return found[0], found[1], found[2]
    died = failed(batch.shown(file), RuntimeError("the worker died on it"))
    return made([]), 0, [died]


def _readings(paths: list[str]) -> Readings:
    """The readings in these files together; raises NoJob."""
    if not paths:
        return reading_files.NONE_TAKEN
    texts = [path for path in paths if path.endswith(READINGS)]
    if len(texts) > 1:
        words = f"The job has {len(texts)} files of readings ({', '.join(texts)}); keep one."
        raise NoJob([Unreadable(texts[1], 1, 1, words)])
    found = []
    for path in paths:
        try:
            found.append(readings_of(batch.shown(path), content_of_readings(path)))
        except OSError as error:
            words = f"The file cannot be read: {bounded.why(error)}."
            raise NoJob([Unreadable(path, 1, 1, words)]) from None
    # The text stands first: what it says of instruments and days holds.
    found.sort(key=lambda one: not one.path.endswith(READINGS))
    try:
        return reading_files.joined(found)
    except reading_files.BadReadings as refused:
        words = refused.problems[0].message
        raise NoJob([Unreadable(found[-1].path, 1, 1, words)]) from None


def content_of_readings(path: str) -> bytes:
    """The bytes of a file of readings.

    Args:
        path: of the file.

    Returns:
        For a file that is larger than any workbook, one byte more than that, which `readings_of`
        then refuses, as it refuses smaller texts that are too large.

    Raises:
        OSError: it cannot be read.
    """
    from checker.intake.workbooks import LARGEST_FILE

    return bounded.start_of(path, LARGEST_FILE)


def readings_of(path: str, data: bytes) -> Readings:
    """Read one file of readings: text, a filled-in form of a visit, or a logger's.

    Args:
        path: under which the file is shown; its ending says which of the three it is.
        data: its bytes.

    Returns:
        All that was read.

    Raises:
        NoJob: the file cannot be used; with every mistake found.
    """
    try:
        if path.endswith(FILLED_IN):
            return replace(
                reading_files.read(path, _filled_in(path, data)),
                digest=reading_files.digest_of(data),
            )
        if path.endswith(LOGGED):
            header = os.path.basename(path).removesuffix(LOGGED)
            return reading_files.of_logger(path, data, header)
        return reading_files.read(path, data)
    except reading_files.BadReadings as refused:
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
