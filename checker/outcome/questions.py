"""Everything that is missing in a design, each datum once, in the order of how much it decides."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

import numpy as np
from msgspec import Struct

from checker.arrays import Mask
from checker.compute.certainty import Boxed
from checker.compute.graph import Graph
from checker.compute.judging import result_subject
from checker.compute.meanings import meaning
from checker.compute.naming import OF_PARTS, ROWS, TABLE_OF
from checker.compute.registry import REGISTRY
from checker.compute.wanted import Datum, Pairs, Wanted
from checker.design.parts import stated_in
from checker.design.schema import DESIGNS, PARTS, design_format
from checker.outcome.columns import Findings
from checker.outcome.results import SEVERITIES, Question, Severity
from checker.outcome.whatever import Judged, path_of
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import OPEN

DESIGNER, MAKER, OWNER, SITE = "designer", "maker's paper", "owner", "site"
"""Who would know a datum."""

_KNOWN_BY = {
    "pipes": MAKER,
    "headers": MAKER,
    "pressure_tests": SITE,
    "readings": SITE,
    "balance": SITE,
    "rooms.covering": OWNER,
    "rooms.use": OWNER,
    "floors.screed.laid_on": SITE,
    "headers.height": SITE,
    "headers.pump": DESIGNER,
    "headers.pump.curve": MAKER,
    "headers.purge_flow": SITE,
    "loops.joints": SITE,
    "loops.sleeved": SITE,
    "heat_up.started_on": SITE,
}
"""By table, or by table and the beginning of a field; the designer knows everything else."""


@cache
def who(table: str, field: str) -> str:
    """Say who would know a datum.

    Args:
        table: of the design format ('rooms').
        field: in it, with dots for fields within others ('covering.resistance').

    Returns:
        'designer', "maker's paper", 'owner' or 'site'; for a field that `_KNOWN_BY` does not name,
        what it says of the nearest section around it.
    """
    path = field if table == DESIGNS else f"{table}.{field}"
    parts = path.split(".")
    for length in range(len(parts), 0, -1):
        found = _KNOWN_BY.get(".".join(parts[:length]))
        if found is not None:
            return found
    return DESIGNER


class _Asked(Struct):
    """What a datum decides: for each severity the number of results, and their rules."""

    counts: list[int]
    rules: set[str]


def questions(
    judged: Judged, graph: Graph, book: Rulebook, boxes: Iterable[Boxed], count: int
) -> tuple[list[tuple[Question, ...]], list[frozenset[tuple[str, str]]]]:
    """The questions about each design, the gravest and those that decide most first.

    Args:
        judged: the designs with their results.
        graph: has the values.
        book: the rules.
        boxes: the data with a range, as they were explored.
        count: the number of designs.

    Returns:
        The questions of each design, and its open results (by rule and subject) that no datum would
        settle.
    """
    wanted = Wanted(graph)
    deciding = _deciding(boxes)
    asked: list[dict[Datum, _Asked]] = [{} for _ in range(count)]
    unasked: list[set[tuple[str, str]]] = [set() for _ in range(count)]
    for number, rule in enumerate(book.rules):
        findings = judged.findings.get(number)
        outcome = judged.outcomes.get(number)
        if findings is not None and outcome is not None:
            rows = outcome.kinds == OPEN
            for row in findings.instead:
                rows[row] = findings.patterns[row].kind == "open"
            if np.count_nonzero(rows):
                pairs = _wanted(wanted, judged, graph, number, rule, rows)
                for row, code in zip(pairs.rows.tolist(), pairs.data.tolist(), strict=True):
                    datum = _stated(judged, wanted.datum(code))
                    _ask(asked, rule, findings, row, datum, deciding.get((number, row)))
                without = rows.copy()
                without[pairs.rows] = False
                for row in np.flatnonzero(without).tolist():
                    subjects = findings.subjects
                    unasked[subjects.design_rows[row]].add((rule.id, subjects.names[row]))
        for design, severity in judged.lacking(number):
            datum = Datum(TABLE_OF[result_subject(rule)], "", design)
            _count(asked[design], datum, rule, severity)
    sentences = [tuple(_worded(judged, book, own)) for own in asked]
    return sentences, [*map(frozenset, unasked)]


def _wanted(
    wanted: Wanted, judged: Judged, graph: Graph, number: int, rule: Rule, rows: Mask
) -> Pairs:
    """The data that results of these rows need; of a rule on parts, those of the deciding part."""
    outcome, which = judged.raw(number)
    in_force = judged.in_force(number)[:, graph.tables.design_of(TABLE_OF[rule.subject])]
    if which is None:
        return wanted.of_rule(rule, outcome, rows, in_force)
    of_parts = np.zeros(graph.size("part"), dtype=bool)
    of_parts[which[rows]] = True
    pairs = wanted.of_rule(rule, outcome, of_parts, in_force)
    loops = graph.tables[PARTS].above()
    return Pairs.of([Pairs(loops[pairs.rows], pairs.data)])


def _stated(judged: Judged, datum: Datum) -> Datum:
    """A datum of a part, by the record in which a design states it."""
    if datum.table != PARTS or not datum.field:
        return datum
    table, row = stated_in(judged.tables, datum.row, datum.field)
    return Datum(table, datum.field, row)


def _deciding(boxes: Iterable[Boxed]) -> dict[tuple[int, int], set[tuple[str, int, int]]]:
    """By rule and row, for results that only need data with a range: the data that decide them."""
    return {
        key: {one.unknowns[number][:3] for number in data}
        for one in boxes
        for key, data in one.depends_on.items()
    }


def _ask(
    asked: list[dict[Datum, _Asked]],
    rule: Rule,
    findings: Findings,
    row: int,
    datum: Datum,
    deciding: set[tuple[str, int, int]] | None,
) -> None:
    """Ask for a datum that a result needs, unless others decide it; deciding: None for all."""
    if deciding is not None and datum.field:
        slot = _slot(datum)
        if (datum.table, datum.row, slot) not in deciding:
            return
    design = findings.subjects.design_rows[row]
    _count(asked[design], datum, rule, findings.patterns[row].severity)


def _slot(datum: Datum) -> int:
    """The slot of the datum's column; -1 for a field that has none."""
    for leaf in design_format().shapes[datum.table].columns:
        if leaf.name == datum.field:
            return leaf.slot
    return -1


def _count(asked: dict[Datum, _Asked], datum: Datum, rule: Rule, severity: Severity) -> None:
    """Count one more result that the datum decides."""
    one = asked.setdefault(datum, _Asked([0] * len(SEVERITIES), set()))
    one.counts[SEVERITIES.index(severity)] += 1
    one.rules.add(rule.id)


def _worded(judged: Judged, book: Rulebook, asked: dict[Datum, _Asked]) -> Iterator[Question]:
    """The questions of one design, the gravest and those that decide most first."""
    order = sorted(asked.items(), key=lambda each: ([-n for n in each[1].counts], each[0]))
    for datum, one in order:
        gravest = next(number for number, count in enumerate(one.counts) if count)
        fields: tuple[str, ...] = ()
        if datum.field:
            field = _path(judged, datum)
        else:
            field = datum.table
            fields = fields_of(datum.table, (r for r in book.rules if r.id in one.rules))
        yield Question(
            field,
            who(datum.table, datum.field),
            SEVERITIES[gravest],
            sum(one.counts),
            tuple(sorted(one.rules)),
            fields,
        )


def _path(judged: Judged, datum: Datum) -> str:
    if datum.table == "balance":
        return f"balance.{judged.tables['loops'].ids[datum.row]}.{datum.field}"
    return path_of(judged.tables, datum.table, datum.field, datum.row)


def fields_of(table: str, rules: Iterable[Rule]) -> tuple[str, ...]:
    """List the fields that some rules need of each record of a section.

    Args:
        table: the section ('headers').
        rules: those that need it.

    Returns:
        The fields' names in the order of the format; empty for what is no section.
    """
    needed: set[tuple[str, str]] = set()
    seen: set[tuple[str, str]] = set()
    for rule in rules:
        names = [rule.value, *(one.name for one in rule.applies)]
        for limit in rule.limits:
            names += [one.name for one in limit.when]
            names += [bound.name for bound in limit.bounds if bound.name is not None]
            names += [bound.table.by for bound in limit.bounds if bound.table is not None]
        for name in names:
            _needs(rule.subject, name, needed, seen)
    if table not in design_format().shapes:
        return ()
    shape = design_format().shapes[table]
    return tuple(leaf.name for leaf in shape.columns if (table, leaf.name) in needed)


def _needs(
    subject: str, name: str, needed: set[tuple[str, str]], seen: set[tuple[str, str]]
) -> None:
    """Add to `needed` the fields (table and name) that a name of a rule is computed from."""
    if (subject, name) in seen:
        return
    seen.add((subject, name))
    meant = meaning(subject, name)
    if meant is None:
        part, _, rest = name.partition(".")
        if rest:
            of = OF_PARTS.get(part)
            if of is not None:
                _needs(of, rest, needed, seen)
        return
    if meant.kind == "computed":
        known = REGISTRY[subject, name]
        for one in known.inputs:
            if one not in ROWS and one not in known.optional:
                _needs(subject, one, needed, seen)
    elif meant.kind == "field":
        needed.add((TABLE_OF[subject], meant.leaf.name))
    elif meant.kind == "linked":
        needed.add((TABLE_OF[subject], meant.leaf.name))
        _needs(meant.subject, meant.name, needed, seen)
    elif meant.kind == "whole":
        _needs("design", meant.name, needed, seen)
