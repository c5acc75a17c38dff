"""A report in parts that workers write themselves; only totals go through the caller.

Each part is a whole report of its chunk of designs. Chunks do not depend on the number of workers,
so neither do the parts; one whose worker died is written again, with the same bytes.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from typing import IO, TYPE_CHECKING, Any, cast

from msgspec import Struct
from msgspec.structs import replace

from checker.outcome.runs import Run, Totals
from checker.reading import bounded
from checker.reading.addresses import is_remote
from checker.reports import FormatOptions, MultiPage, report, writer
from checker.run import batch
from checker.run.batch import CHUNK, Checked, Entry, Plan
from checker.run.course import Course, Gate
from checker.run.judging import entries
from checker.run.sharing import one_alone
from checker.run.workers import WorkerDied, WorkerPool
from checker.run.writer import Staged, Unwritable, is_folder, refuse_overwriting
from checker.words.extras import needs

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from checker.reading import beside as besides

MARK = "*"
"""In the name of parts, this is replaced by the number of each."""

ENDINGS = {
    "text": ".txt",
    "json": ".json",
    "sarif": ".sarif",
    "sarif-alerts": ".sarif",
    "junit": ".xml",
    "code-quality": ".json",
    "annotations": ".txt",
    "job-summary": ".md",
    "html": ".html",
    "markdown": ".md",
    "csv": ".csv",
    "parquet": ".parquet",
}
IN_MEMORY = 16 * 1024 * 1024
"""Up to this many bytes of a part for an address are in memory, else in a temporary file."""
HERE = "file://"
"""The beginning of a plain file's address."""


class Sink(Struct, frozen=True):
    """Where the parts of a report go.

    Attributes:
        chosen: the format.
        name: a path or address, with MARK for the number of each part.
    """

    chosen: FormatOptions
    name: str

    def of(self, number: int) -> str:
        """The name of a part; names sort in the order of their numbers, up to a million.

        Args:
            number: of the part, from 0.

        Returns:
            A path or address.
        """
        return self.name.replace(MARK, f"{number:06}")


class Task(Struct, frozen=True):
    """How each chunk is judged and written.

    Attributes:
        plan: how it is judged.
        sinks: where its parts go, in the order of the plan's formats.
        run: what is known at the beginning, for the head of each part.
        gate: which findings count, for the sentence of each part's answer.
        named: files that the call names itself.
    """

    plan: Plan
    sinks: tuple[Sink, ...]
    run: Run
    gate: Gate
    named: frozenset[str]


def name_of_parts(name: str, file: str, *, far: bool) -> str:
    """The name of a format's parts, for an output that is written in parts.

    Args:
        name: the format.
        file: the output as the call names it.
        far: whether workers elsewhere write them, so that a folder receives parts.

    Returns:
        A path or address with MARK; empty where the output is one file, or a folder of pages.

    Raises:
        Unwritable: there are several marks, one is in a folder's name, or an address has none.
    """
    folder, base = os.path.split(file)
    if MARK in folder:
        raise Unwritable(
            f"'{file}': the '{MARK}' for the number of each part belongs in the file's name, not "
            "in a folder's"
        )
    if MARK in base:
        if base.count(MARK) > 1:
            raise Unwritable(f"'{file}': write one '{MARK}', for the number of each part")
        return file
    if is_remote(file) and not file.endswith("/"):
        raise Unwritable(
            f"'{file}': what is written at an address is written in parts; say their name, such "
            f"as '{file.rpartition('/')[0]}/part-{MARK}{ENDINGS[name]}.gz'"
        )
    pages = isinstance(writer(FormatOptions(name)), MultiPage) and not is_remote(file)
    if is_remote(file) or (far and is_folder(file) and not pages):
        return os.path.join(file, f"part-{MARK}{ENDINGS[name]}")
    return ""


def name_for_workers(name: str) -> str:
    """The same name of parts for workers that run in another folder.

    Args:
        name: a path, or an address.

    Returns:
        An absolute path; an address unchanged.
    """
    name = name.removeprefix(HERE)
    return name if is_remote(name) else os.path.abspath(name)


def refuse_existing_parts(sink: Sink) -> None:
    """Refuse a name that parts have already, or under which none can be written.

    Creates the folder where it is missing.

    Args:
        sink: where the parts of a report are to go.

    Raises:
        Unwritable: there are parts of an earlier run, or the place cannot be written.
    """
    try:
        if is_remote(sink.name):
            import fsspec

            store, pattern = fsspec.core.url_to_fs(sink.name)
            there = bool(store.glob(pattern))
        else:
            folder, base = os.path.split(sink.name)
            start, _, end = base.partition(MARK)
            os.makedirs(folder or ".", exist_ok=True)
            there = any(
                name.startswith(start) and name.endswith(end)
                for name in os.listdir(folder or ".")
                if len(name) > len(start) + len(end)
            )
    except ImportError:
        raise Unwritable(f"'{sink.name}': an address {needs('remote')}") from None
    except (OSError, ValueError) as error:
        raise Unwritable(f"'{sink.name}' cannot be written: {_why(error)}") from None
    if there:
        raise Unwritable(
            f"'{sink.name}': there are parts of an earlier run; take them away, or name others"
        )


def run(
    files: Iterable[str],
    task: Task,
    jobs: int,
    executor: Executor | None = None,
    first: int = 0,
    size: int = CHUNK,
) -> Iterator[Checked]:
    """Judge the files and write the parts.

    Args:
        files: the designs.
        task: how they are judged and written.
        jobs: how many processes.
        executor: a pool to use instead of new processes.
        first: the number of the first part.
        size: designs in a part.

    Yields:
        The totals of each part, in order.
    """
    away = executor is not None
    chunks = batch.chunks(files, size, plan=task.plan)
    parts = (batch.part_of(chunk, None, b"", task.plan, read=away) for chunk in chunks)
    if not away and jobs <= 1:
        for number, (part, fresh) in enumerate(batch.in_turn(parts, task.plan), first):
            yield _written(number, part.files, fresh, task)
        return

    def arguments(one: tuple[int, batch.Part]) -> tuple[Any, ...]:
        number, part = one
        own = replace(task, named=task.named.intersection(part.files))
        return number, part.to_do, own, part.beside

    for (number, part), checked in WorkerPool(_work, arguments, jobs, executor).in_order(
        enumerate(parts, first)
    ):
        if checked is WorkerDied:  # what is not to blame is judged all the same
            fresh = (one_alone(f, task.plan, executor, part.beside) for f in part.to_do)
            yield _written(number, part.files, fresh, task)
        else:
            yield checked


def _work(
    number: int, files: list[tuple[str, bytes | None]], task: Task, beside: besides.Files | None
) -> Checked:
    """Judge a chunk and write its part, in a worker."""
    fresh = entries(files, task.plan, beside)
    return _written(number, [path for path, _ in files], fresh, task)


def _written(number: int, files: list[str], fresh: Iterable[Entry], task: Task) -> Checked:
    """Write one part from the results of its files; returns its totals."""
    entries = list(fresh)
    whole = Checked(entries, files)
    course = Course(task.named)
    course.take(task.gate, whole)
    ended = course.end(task.run)
    pieces = whole.pieces or [[] for _ in task.sinks]
    for sink, own in zip(task.sinks, pieces, strict=True):
        made = writer(sink.chosen)
        parts = report(made, ended, cast(list[bytes], own), course.totals, course.unreadable).parts
        _write(sink.of(number), parts, files)
    totals = Totals()
    checked = Checked([], [], totals, count=len(files))
    for path, entry in zip(files, entries, strict=True):
        if entry.unreadable or entry.crashed is not None:
            checked.entries.append(entry)
            checked.paths.append(path)
        else:
            totals.join(entry.totals)
            if task.plan.waivers:  # whether each waiver is about a design that was judged
                checked.judged.append(path)
    return checked


def _write(name: str, parts: Iterable[bytes], inputs: Iterable[str]) -> None:
    """Write one part, whole or not at all; raises Unwritable."""
    if not is_remote(name):
        refuse_overwriting(name, inputs)
        staged = Staged(name)
        try:
            with _packing(name, cast(IO[bytes], staged)) as sink:
                sink.writelines(parts)
            staged.place()
        finally:
            staged.forget()
        return
    from shutil import copyfileobj
    from tempfile import SpooledTemporaryFile

    import fsspec

    try:
        with SpooledTemporaryFile(IN_MEMORY) as whole:
            with _packing(name, cast(IO[bytes], whole)) as sink:
                sink.writelines(parts)
            whole.seek(0)
            # An object appears when it is closed, also by an error, so all of it is there before.
            with fsspec.open(name, "wb") as far:
                copyfileobj(whole, far)
    except OSError as error:
        raise Unwritable(f"'{name}' cannot be written: {_why(error)}") from None


class _Plain:
    """A file that is not closed at the end."""

    def __init__(self, file: IO[bytes]) -> None:
        self.file = file

    def __enter__(self) -> _Plain:
        return self

    def __exit__(self, *_: object) -> None:
        """Leave the file open."""

    def writelines(self, parts: Iterable[bytes]) -> None:
        """Write all parts."""
        for part in parts:
            self.file.write(part)


def _packing(name: str, file: IO[bytes]) -> Any:
    """A writer that compresses as the file's name says; the same content gives the same bytes."""
    if name.endswith(".gz"):
        from gzip import GzipFile

        return GzipFile("", "wb", 6, file, mtime=0)
    if name.endswith(".bz2"):
        from bz2 import BZ2File

        return BZ2File(file, "wb")
    if name.endswith(".xz"):
        from lzma import LZMAFile

        return LZMAFile(file, "wb")
    return _Plain(file)


def _why(error: Exception) -> str:
    return bounded.why(error) if isinstance(error, OSError) else str(error)
