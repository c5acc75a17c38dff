"""Finds the one change to all designs of a firm that clears most findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from checker.compute.naming import TABLE_OF
from checker.design.changes import BadChange
from checker.design.schema import DESIGNS, PARTS
from checker.design.tables import Tables
from checker.outcome.applicable import JudgingOptions
from checker.outcome.report import DesignReport
from checker.outcome.results import Stage
from checker.remedies.candidates import shifted
from checker.remedies.site import Site
from checker.remedies.trial import Bench, Variant
from checker.rulebook.beside_records import Lever
from checker.rulebook.book import Rulebook
from checker.rulebook.model import STAGES


class Habit(Struct):
    """One change to all designs, in words; how many grave findings it clears, and how many it
    adds.
    """

    words: str
    cleared: int = 0
    brought: int = 0
    designs: int = 0


def habits(
    reports: Sequence[DesignReport],
    contents: Mapping[str, bytes],
    book: Rulebook,
    judging: JudgingOptions,
    known: dict[str, Habit],
) -> int:
    """Count what each change does to these designs, and add it to `known`.

    Args:
        reports: reports with remedies.
        contents: the designs' files by path.
        book: the rules.
        judging: the options of judging.
        known: the counts so far, by the words of the change.

    Returns:
        The number of grave findings of these designs.
    """
    wanted = [one for one in reports if one.remedies]
    if not wanted:
        return 0
    tables = Tables(book.codes)
    sites = [Site(tables, tables.add(one.path, contents[one.path])) for one in wanted]
    bench = Bench(tables, book, judging)
    variants: list[Variant] = []
    of: list[tuple[str, DesignReport]] = []
    for lever in book.levers.values():
        for shift in lever.habit:
            words = f"{lever.title} {lever.shift_words(shift)}"
            for site, report in zip(sites, wanted, strict=True):
                changes = _changes(lever, site, shift, report.stage)
                try:
                    cells = site.cells(changes) if changes else None
                except BadChange:
                    continue
                if cells:
                    variants.append(Variant(site.design.row, site.design.row, tuple(cells)))
                    of.append((words, report))
    effects = bench.tried(variants) if variants else []
    for (words, report), effect in zip(of, effects, strict=True):
        habit = known.setdefault(words, Habit(words))
        habit.designs += 1
        habit.cleared += len(effect.cleared & report.remedies.keys())
        habit.brought += sum(one.forbidden for one in effect.added)
    return sum(len(one.remedies) for one in wanted)


def _changes(lever: Lever, site: Site, shift: float, stage: Stage) -> tuple[str, ...]:
    """The changes to one design; none where its stage is too late."""
    if STAGES.index(stage) > STAGES.index(lever.until):
        return ()
    table = TABLE_OF[lever.of]
    if table == DESIGNS:
        paths = [lever.field]
    elif lever.nearest:
        paths = [site.nearest(row, lever.field) for row in site.rows(table)]
    elif table == PARTS:
        rows = [row for row in site.rows(PARTS) if site.value(PARTS, "feed", row) != 1.0]
        paths = [f"loops.{site.tables[PARTS].ids[row]}.{lever.field}" for row in rows]
    else:
        paths = [site.path(table, row, lever.field) for row in site.rows(table)]
    made: dict[str, str] = {}
    for path in dict.fromkeys(paths):
        for words in shifted(lever, site, path, shift, stage):
            where, _, text = words.partition("=")
            made[where] = text
    return tuple(f"{path}={text}" for path, text in made.items())


def best(known: Mapping[str, Habit], most: int = 5) -> list[Habit]:
    """List the changes that leave the fewest grave findings.

    Args:
        known: the counts, by the words of the change.
        most: how many are listed at most.

    Returns:
        Those that clear more than they add, the best first.
    """
    gain = [one for one in known.values() if one.cleared > one.brought]
    order = np.argsort([one.brought - one.cleared for one in gain], kind="stable")
    return [gain[nth] for nth in order[:most].tolist()]
