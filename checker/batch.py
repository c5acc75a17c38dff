"""Many designs: in chunks, on as many cores as are wanted, the results in order."""

from __future__ import annotations

import gc
import os
import sys
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import UNSET, Struct

from checker.finding_files import STANDARD_INPUT
from checker.reports import Chosen, writer
from checker.results import DesignReport, Notes, Totals, Unreadable

if TYPE_CHECKING:
    from checker.known import Baseline
    from checker.waivers import WaiverFile

CHUNK = 250
"""Designs in hand at once: enough for the arrays to pay, few enough for flat memory."""

WORTH_SHARING = 50
"""Designs from which on starting workers pays."""


class Plan(Struct, frozen=True):
    """How designs are judged and reported; the same for every worker.

    codes: instead of those of the job or its region; on: the day whose editions count, instead of
    the design's own; rules: a firm's own rule folders or files; formats: what to write;
    waivers: those that may count, judged by the day `today`; known: the findings that a run is
    held against; standard_input: the path that it is shown by.
    """

    codes: tuple[str, ...] | None = None
    on: date | None = None
    rules: tuple[str, ...] = ()
    formats: tuple[Chosen, ...] = ()
    waivers: tuple[WaiverFile, ...] = ()
    today: date | None = None
    known: Baseline | None = None
    standard_input: str = "standard input"


BY_THE_DESIGN = Plan()
"""Judge each design by its own codes and day, with the program's rules."""


class Checked(Struct):
    """What came of one chunk: each format's pieces, in order, and the counts."""

    pieces: list[list[bytes]]
    totals: Totals
    unreadable: list[Unreadable] = []


@lru_cache(maxsize=4)
def rulebook(rules: tuple[str, ...] = ()) -> Any:
    """The rules in force, with a firm's own over them; raises BadRules."""
    import checker.quantities  # noqa: F401  # registers what rules may name
    from checker.graph import Names
    from checker.rulebook.loading import load

    return load(Names(), [Path(path) for path in rules])


def check(
    files: Iterable[tuple[str, bytes]], plan: Plan = BY_THE_DESIGN, *, installed: bool = False
) -> tuple[list[DesignReport], list[Unreadable]]:
    """Judge designs given as (path, content): the report of each that can be read, and what cannot.

    The library's way in; raises BadRules for rule files that cannot be used. installed: judge the
    records of work done too, whatever the designs' stage.
    """
    from checker.design.tables import Tables
    from checker.design.tables import Unreadable as Refused
    from checker.findings import Judging, judge

    book = rulebook(plan.rules)
    tables = Tables()
    unreadable: list[Unreadable] = []
    for path, data in files:
        try:
            tables.add(path, data)
        except Refused as refused:
            unreadable.extend(
                Unreadable(path, problem.line, problem.column, problem.message)
                for problem in refused.problems
            )
    with_given = any(getattr(writer(one), "needs_given", False) for one in plan.formats)
    judging = Judging(plan.codes, plan.on, installed)
    designs = judge(tables, book, judging, with_given)
    if plan.waivers or plan.known is not None:
        waivable = frozenset(rule.id for rule in book.rules if rule.waivable)
        for design in designs:
            _note(design, plan, waivable)
    return designs, unreadable


def _note(design: DesignReport, plan: Plan, waivable: frozenset[str]) -> None:
    """Note on each finding whether it is waived, and whether it was known."""
    notes: dict[int, Notes] = {}
    if plan.waivers and plan.today is not None:
        from checker.waivers import accept

        notes = accept(design, plan.waivers, plan.today, waivable)
    if plan.known is not None:
        from checker.known import compare

        for place, own in compare(design, plan.known).items():
            waived = notes[place].waived if place in notes else UNSET
            notes[place] = Notes(waived, own.state)
    if notes:
        design.note(notes)


def check_chunk(paths: list[str], plan: Plan) -> Checked:
    """Read, judge and write out a chunk of design files."""
    contents: list[tuple[str, bytes]] = []
    unread: list[Unreadable] = []
    for path in paths:
        try:
            contents.append((shown(path, plan), _content(path)))
        except OSError as error:
            words = f"The file cannot be read: {error.strerror or error}."
            unread.append(Unreadable(shown(path, plan), 1, 1, words))
    designs, unreadable = check(contents, plan)
    checked = Checked([], Totals(), sorted(unread + unreadable, key=lambda u: (u.path, u.line)))
    content_of = dict(contents)
    for design in designs:
        design.content = content_of[design.path]
    checked.totals.add(*designs)
    checked.totals.unreadable = len({u.path for u in checked.unreadable})
    for chosen in plan.formats:
        piece = writer(chosen).piece
        checked.pieces.append([piece(design) for design in designs])
    return checked


def shown(path: str, plan: Plan = BY_THE_DESIGN) -> str:
    """A path as reports have it."""
    path = plan.standard_input if path == STANDARD_INPUT else path
    return path.replace(os.sep, "/")


def _content(path: str) -> bytes:
    if path == STANDARD_INPUT:
        return sys.stdin.buffer.read()
    from checker.reading import LARGEST_FILE

    with open(path, "rb") as file:
        # One byte more than is taken, so that the reader can say that the file is too large.
        return file.read(LARGEST_FILE + 1)


def chunks(files: list[str], size: int = CHUNK) -> Iterator[list[str]]:
    """The files in runs of at most `size`."""
    for start in range(0, len(files), size):
        yield files[start : start + size]


def run(
    files: list[str],
    plan: Plan,
    jobs: int,
    executor: Executor | None = None,
) -> Iterator[Checked]:
    """The chunks' results, in the order of the files, whatever the number of workers.

    executor: any pool of the standard interface instead of one made here. A worker that dies
    takes nothing with it but the design that killed it, which is reported as unreadable.
    """
    rulebook(plan.rules)
    parts = list(chunks(files, _chunk_size(len(files), jobs)))
    if executor is None and (jobs <= 1 or len(files) < WORTH_SHARING):
        collecting = gc.isenabled()
        gc.disable()
        try:
            for part in parts:
                yield check_chunk(part, plan)
                gc.collect(1)
        finally:
            if collecting:
                gc.enable()
        return
    if executor is not None:
        yield from _in_order(parts, plan, executor, jobs)
        return
    yield from _on_own_pool(parts, plan, jobs)


def _chunk_size(count: int, jobs: int) -> int:
    """Chunks small enough that every worker gets some."""
    return max(1, min(CHUNK, -(-count // max(1, jobs))))


def _on_own_pool(parts: list[list[str]], plan: Plan, jobs: int) -> Iterator[Checked]:
    waiting = deque(parts)
    while waiting:
        pool = _pool(jobs)
        try:
            for checked in _in_order(list(waiting), plan, pool, jobs):
                waiting.popleft()
                yield checked
        except BrokenProcessPool:
            pool.shutdown(wait=False, cancel_futures=True)
            yield from _one_by_one(waiting.popleft(), plan)
        except BaseException:
            _stop(pool)
            raise
        else:
            pool.shutdown()


def _pool(jobs: int) -> ProcessPoolExecutor:
    import multiprocessing

    method = "fork" if "fork" in multiprocessing.get_all_start_methods() else "spawn"
    return ProcessPoolExecutor(jobs, multiprocessing.get_context(method), _start_worker)


def _start_worker() -> None:
    import signal

    # An interrupt is the parent's to answer: it ends the workers itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.disable()


def _stop(pool: ProcessPoolExecutor) -> None:
    processes = list((pool._processes or {}).values())
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        process.terminate()
    for process in processes:
        process.join()


def _in_order(
    parts: list[list[str]], plan: Plan, executor: Executor, jobs: int
) -> Iterator[Checked]:
    """Results in order, with only so many chunks under way that memory stays flat."""
    under_way: deque[Future[Checked]] = deque()
    left = iter(parts)
    for part in left:
        under_way.append(executor.submit(check_chunk, part, plan))
        if len(under_way) >= 2 * jobs + 1:
            yield under_way.popleft().result()
    while under_way:
        yield under_way.popleft().result()


def _one_by_one(part: list[str], plan: Plan) -> Iterator[Checked]:
    """A chunk whose worker died, a design at a time, each in a worker of its own."""
    for path in part:
        pool = _pool(1)
        try:
            yield pool.submit(check_chunk, [path], plan).result()
        except BrokenProcessPool:
            words = "The worker died on this design; the others were checked without it."
            lost = Checked([[] for _ in plan.formats], Totals(unreadable=1))
            lost.unreadable.append(Unreadable(shown(path, plan), 1, 1, words))
            yield lost
        except BaseException:
            _stop(pool)
            raise
        pool.shutdown(wait=True)
