"""A progress bar on standard error during a long run; only on a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from time import monotonic

from checker.run.batch import CHUNK, Checked

PATIENCE = 1.0
"""Seconds before the bar appears."""
WATCHED = 100
"""Designs judged at once while somebody watches: some 100 ms of work, a sixth more in total."""


def at_once() -> int:
    """How many designs to judge at once: few on a terminal, so that the bar moves."""
    return WATCHED if sys.stderr.isatty() else CHUNK


def watched(chunks: Iterable[Checked], designs: int | None) -> Iterator[Checked]:
    """The same chunks, while a bar shows how many of the designs are done.

    Args:
        chunks: results as they come.
        designs: how many designs there are, None where they are still being found.

    Returns:
        The chunks, in order.
    """
    with progress_bar(designs) as advance:
        for checked in chunks:
            advance(len(checked))
            yield checked


@contextmanager
def progress_bar(designs: int | None) -> Iterator[Callable[[int], None]]:
    """A bar that shows how many designs are done; nothing where standard error is no terminal.

    Args:
        designs: how many there are, None where they are still being found.

    Returns:
        A context whose value is a function, to be called with the number of further designs that
        are done.
    """
    if not sys.stderr.isatty():
        yield lambda more: None
        return
    started = monotonic()
    bar = None
    done = 0

    def advance(more: int) -> None:
        nonlocal bar, done
        done += more
        if bar is None and monotonic() - started > PATIENCE and (not designs or done < designs):
            bar = _bar(designs)
        if bar is not None:
            bar.update(bar.task_ids[0], completed=min(done, designs or done))

    try:
        yield advance
    finally:
        if bar is not None:
            bar.stop()


def _bar(designs: int | None):  # type: ignore[no-untyped-def]  # rich is imported only here
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    bar = Progress(
        "designs",
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    bar.add_task("designs", total=designs)
    bar.start()
    return bar
