"""Distributes chunks of designs over processes or machines; no design is lost with a worker."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, nullcontext, suppress
from functools import partial
from itertools import accumulate, pairwise
from mmap import ACCESS_READ, mmap
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from checker.reading import beside as besides
from checker.run.judging import entries, failed
from checker.run.part import Part, shown
from checker.run.plan import Entry, Plan
from checker.run.workers import WorkerDied, WorkerPool

if TYPE_CHECKING:
    from concurrent.futures import Executor


class SpoolFile(Struct):
    """A chunk's entries whose pieces are in a file, one after the other.

    Attributes:
        path: of the file.
        entries: without pieces.
        sizes: of each entry's pieces, in bytes.
    """

    path: str
    entries: list[Entry]
    sizes: list[list[int]]

    def fetched(self, recompute: Callable[[], Iterator[Entry]]) -> Iterator[Entry]:
        """The entries with their pieces; the file is deleted as soon as it is opened.

        Args:
            recompute: called for the entries if the file is missing or cut short.

        Returns:
            In order; pieces are views of the file in memory.
        """
        try:
            content = self._opened()
        except OSError:
            yield from recompute()
            return
        start = 0
        for entry, sizes in zip(self.entries, self.sizes, strict=True):
            ends = list(accumulate(sizes, initial=start))
            entry.pieces = tuple([content[own:end] for own, end in pairwise(ends)])
            start = ends[-1]
            yield entry

    def _opened(self) -> memoryview:
        """The file as memory, which lasts as long as it is used; raises OSError."""
        whole = sum(map(sum, self.sizes))
        try:
            with open(self.path, "rb") as file:
                if os.fstat(file.fileno()).st_size != whole:
                    raise OSError("the file was cut")
                return memoryview(mmap(file.fileno(), 0, access=ACCESS_READ) if whole else b"")
        finally:
            with suppress(OSError):
                os.unlink(self.path)  # so that nobody can cut it now


def check_chunk(
    files: list[tuple[str, bytes | None]],
    plan: Plan,
    folder: str = "",
    beside: besides.Files | None = None,
) -> list[Entry] | SpoolFile:
    """Read, judge and write out a chunk of design files; what a worker does.

    Args:
        files: path and content of each; None where the worker reads it.
        plan: how they are judged.
        folder: a folder that caller and worker share, through which reports go faster than through
            a pipe; empty without one.
        beside: the files beside the designs, where the worker may not reach them.

    Returns:
        One entry a file, in order; or the file in `folder` that has their pieces.

    Raises:
        BadRules: the rules cannot be used.
    """
    if folder:
        try:
            return _spooled(entries(files, plan, beside), folder)
        except OSError:  # no room there: they are made again, without the file
            pass
    return list(entries(files, plan, beside))


def _spooled(fresh: Iterator[Entry], folder: str) -> SpoolFile:
    """The entries, with their pieces in a file in the folder; raises OSError, and then leaves
    nothing.
    """
    import tempfile

    handle, path = tempfile.mkstemp(dir=folder)
    made = SpoolFile(path, [], [])
    try:
        with open(handle, "wb") as file:
            for entry in fresh:
                file.writelines(entry.pieces)
                made.sizes.append([len(piece) for piece in entry.pieces])
                entry.pieces = ()
                made.entries.append(entry)
    except BaseException:
        with suppress(FileNotFoundError):
            os.unlink(path)
        raise
    return made


def shared(
    parts: Iterable[Part], plan: Plan, jobs: int, executor: Executor | None
) -> Iterator[tuple[Part, Iterator[Entry]]]:
    """Each chunk with its results, in order, judged by workers.

    Args:
        parts: made one after another, a few ahead of the results.
        plan: how they are judged.
        jobs: how many workers there are.
        executor: a pool to use instead of new processes.

    Returns:
        As `batch.in_turn`.
    """

    def arguments(part: Part) -> tuple[Any, ...] | None:
        return (part.to_do, plan, folder, part.beside) if part.to_do else None

    with _folder_between() if executor is None else nullcontext("") as folder:
        for part, fresh in WorkerPool(check_chunk, arguments, jobs, executor).in_order(parts):
            if fresh is WorkerDied:
                yield part, (one_alone(file, plan, executor, part.beside) for file in part.to_do)
            elif isinstance(fresh, SpoolFile):
                yield part, fresh.fetched(partial(entries, part.to_do, plan, part.beside))
            else:
                yield part, iter(fresh or ())


def _folder_between() -> AbstractContextManager[str]:
    """A temporary folder for this run, deleted at its end; an empty name where none can be made."""
    import tempfile

    try:
        return tempfile.TemporaryDirectory(prefix="prescreed-", ignore_cleanup_errors=True)
    except OSError:
        return nullcontext("")


def one_alone(
    file: tuple[str, bytes | None],
    plan: Plan,
    executor: Executor | None,
    beside: besides.Files | None,
) -> Entry:
    """Judge one file of a chunk whose worker died, in a new worker.

    Args:
        file: path and content; None where the worker reads it.
        plan: how it is judged.
        executor: a pool to use instead of a new process.
        beside: the files beside the designs of its chunk.

    Returns:
        Its results; as crashed where this worker dies too.
    """

    def arguments(one: tuple[str, bytes | None]) -> tuple[Any, ...]:
        return [one], plan, "", beside

    for _, fresh in WorkerPool(check_chunk, arguments, 1, executor).in_order([file]):
        if fresh is not WorkerDied:
            entry: Entry = fresh[0]
            return entry
    path = shown(file[0], plan)
    return Entry(path, crashed=failed(path, RuntimeError("the worker died on it")))
