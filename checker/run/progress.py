"""A bar on standard error while a long run goes on; on a terminal only."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from time import monotonic

from checker.run.batch import Checked

PATIENCE = 1.0
"""Seconds that a run may take before a person wants to see it move."""


def watched(chunks: Iterable[Checked], designs: int) -> Iterator[Checked]:
    """The same chunks; a bar shows how many of the designs are done."""
    if not sys.stderr.isatty():
        yield from chunks
        return
    started = monotonic()
    bar = None
    done = 0
    try:
        for checked in chunks:
            done += checked.totals.designs + checked.totals.unreadable
            if bar is None and monotonic() - started > PATIENCE and done < designs:
                bar = _bar(designs)
            if bar is not None:
                bar.update(bar.task_ids[0], completed=min(done, designs))
            yield checked
    finally:
        if bar is not None:
            bar.stop()


def _bar(designs: int):  # type: ignore[no-untyped-def]  # rich is imported only here
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
