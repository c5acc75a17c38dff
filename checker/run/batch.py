"""Judges many designs in chunks, on as many processes as are wanted, with the results in order."""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from msgspec.structs import replace

from checker.run.judging import (
    MOST_GARBAGE,
    check,
    check_and_keep,
    crashes_apart,
    entries,
    note,
    read,
    remedies,
)
from checker.run.part import (
    CHUNK,
    Part,
    basis_of,
    chunks,
    content_of,
    digest_of,
    pack,
    part_of,
    shown,
)
from checker.run.plan import BY_THE_DESIGN, Checked, Entry, Piece, Plan, newest_day
from checker.run.rules_in_force import compiled_rules, program, rulebook
from checker.run.section_shelf import sections_kept

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from checker.run.cache import Cache

__all__ = [
    "BY_THE_DESIGN",
    "CHUNK",
    "WORTH_SHARING",
    "Checked",
    "Entry",
    "Part",
    "Piece",
    "Plan",
    "check",
    "check_and_keep",
    "chunks",
    "content_of",
    "crashes_apart",
    "digest_of",
    "in_turn",
    "newest_day",
    "note",
    "part_of",
    "read",
    "remedies",
    "run",
    "shown",
]

WORTH_SHARING = 50
"""From this many designs on it is worth starting workers."""


def run(
    files: list[str],
    plan: Plan,
    jobs: int,
    executor: Executor | None = None,
    cache: Cache | None = None,
    at_once: int = CHUNK,
) -> Iterator[Checked]:
    """Judge files, a few at a time, in order.

    Neither the results nor their order depend on the number of workers. A worker that dies loses
    only the design that killed it, which is reported as crashed.

    Args:
        files: the designs' paths.
        plan: how they are judged.
        jobs: how many processes; one, or few designs, are judged in this one.
        executor: a pool of the standard interface to use instead of new processes.
        cache: where results are kept and looked up; nothing is kept without it.
        at_once: how many designs are judged together at most, where one process does all.

    Returns:
        The results of some files at a time, WRITTEN_AT_ONCE at most, so that few reports are in
        memory at once.

    Raises:
        BadRules: the rules cannot be used.
    """
    alone = executor is None and (jobs <= 1 or len(files) < WORTH_SHARING)
    if cache is not None and not plan.compiled:
        # The very rules that the entries are kept under must judge.
        plan = replace(plan, rules=(), compiled=compiled_rules(plan.rules, cache))
    basis = basis_of(plan) if cache is not None else b""
    if not alone and executor is None:
        rulebook(plan.rules, plan.compiled)  # so that workers that are forked have it
    parts = (
        part_of(chunk, cache, basis, plan, read=executor is not None)
        for chunk in chunks(files, at_once if alone else _chunk_size(len(files), jobs), plan=plan)
    )
    if alone:
        done = in_turn(parts, plan)
    else:
        from checker.run.sharing import shared

        done = shared(parts, plan, jobs, executor)
    with sections_kept(cache, program):
        for part, fresh in done:
            for some in part.in_slices(fresh):
                if cache is not None:
                    cache.put(
                        (part.keys[path], pack(entry))
                        for path, entry in some.items()
                        if path in part.keys and path not in part.known and entry.crashed is None
                    )
                yield Checked([*some.values()], [*some])


def in_turn(parts: Iterable[Part], plan: Plan) -> Iterator[tuple[Part, Iterator[Entry]]]:
    """Each chunk with its results, in this process.

    Args:
        parts: made one after another, as they are asked for.
        plan: how they are judged.

    Returns:
        The results of a chunk are to be taken before the next chunk is asked for.
    """
    collecting = gc.isenabled()
    gc.disable()
    try:
        for number, part in enumerate(parts):
            # What the one before it left, if it left much: a chunk leaves no cycles of its own.
            if number and gc.get_count()[0] > MOST_GARBAGE:
                gc.collect(1)
            yield part, entries(part.to_do, plan)
    finally:
        if collecting:
            gc.enable()


def _chunk_size(count: int, jobs: int) -> int:
    """As large as possible with one for every worker, because a chunk itself costs as much as 15
    designs.
    """
    return max(1, min(CHUNK, -(-count // max(1, jobs))))
