"""Compares a value with the limits of every code, for a worked calculation."""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace

from checker.arrays import Array
from checker.compute.graph import Graph
from checker.compute.naming import TABLE_OF
from checker.explain.figures import symbol_of
from checker.explain.records import ComparedLimit
from checker.outcome.applicable import ApplicableLimits
from checker.outcome.phrasing import NO_LIMIT, Shown, limit_words
from checker.outcome.results import KINDS
from checker.rulebook import catalogue
from checker.rulebook.evaluation import evaluate
from checker.rulebook.model import Rule, RuleLimit
from checker.rulebook.outcomes import ABSENT, FAIL, PASS, LimitOutcome, Outcome
from checker.words.speech import Speech


def columns_of(limit: RuleLimit) -> list[str]:
    """The columns that a limit is computed from."""
    found = [bound.name for bound in limit.bounds if bound.name is not None]
    return found + [bound.table.by for bound in limit.bounds if bound.table is not None]


def compared_with(
    rule: Rule, nth: int, outcome: Outcome, graph: Graph, row: int, basis: ApplicableLimits
) -> ComparedLimit:
    """Compare the value with one limit alone.

    Args:
        rule: the rule.
        nth: the number of the limit in the rule.
        outcome: the rule's outcome.
        graph: the graph that computed the value.
        row: the row of the subject.
        basis: the limits that apply to each design.

    Returns:
        The result by this limit, and whether the limit counts for the job.
    """
    limit = rule.limits[nth]
    size = graph.size(rule.subject)
    everywhere = np.ones((1, size), dtype=bool)
    alone = evaluate(rule.with_limits((limit,)), graph, everywhere, everywhere[0]).limits[0]
    bare = replace(rule, applies=(), limits=(replace(limit, when=()),))
    bounds = evaluate(bare, graph, everywhere, everywhere[0]).limits[0].bounds
    kind = int(alone.kinds[row])
    counts = int(outcome.limits[nth].kinds[row]) != ABSENT
    document = limit.document
    design = int(graph.tables.design_of(TABLE_OF[rule.subject])[row])
    in_force = catalogue.in_force(limit)
    if counts:
        why_not = ""
    elif document.code and document.code not in basis.codes[design]:
        why_not = f"the job is not under {document.code}"
    elif not basis.counts(rule)[nth, design]:
        why_not = f"not in force on {basis.days[design] or 'an unknown day'} ({in_force})"
    elif kind != ABSENT and limit.fallback:
        why_not = "a limit before it applies"
    elif kind == ABSENT:
        why_not = "only where " + " and ".join(c.words for c in (*rule.applies, *limit.when))
    else:
        why_not = "another limit of the same code decides"
    return ComparedLimit(
        id=limit.id,
        code=document.code,
        limit=_limit_words(rule, limit, bounds, row, basis.speech[design]),
        kind="" if kind == ABSENT else KINDS[kind],
        verdict=_VERDICTS.get(kind, "cannot be judged" if kind != ABSENT else "does not apply"),
        margin=_margin(rule, alone, row, basis.speech[design]) if kind in (PASS, FAIL) else "",
        severity=limit.severity,
        counts=counts,
        governs=int(outcome.governing[row]) == nth,
        why_not=why_not,
        source=limit.source,
        in_force=in_force,
    )


_VERDICTS = {PASS: "met", FAIL: "not met", KINDS.index("review"): "for review"}


def _limit_words(
    rule: Rule, limit: RuleLimit, bounds: tuple[Array, ...], row: int, speech: Speech
) -> str:
    """The limit with its value for this subject, and the symbol of what it is computed from."""
    shown = Shown(rule.described, speech)
    numbers = tuple(
        NO_LIMIT if np.isnan(bound[row]) else shown.numbers(bound[row : row + 1])[0]
        for bound in bounds
    )
    symbols = {name: symbol_of(rule.subject, name) for name in columns_of(limit)}
    if not bounds or all(number == NO_LIMIT for number in numbers):
        words = speech.words(limit.words)
        for name, symbol in symbols.items():
            words = words.replace(name, symbol)
        return words
    words = limit_words(limit.comparison, numbers, shown)
    return f"{words} (by {', '.join(symbols.values())})" if symbols else words


def _margin(rule: Rule, alone: LimitOutcome, row: int, speech: Speech) -> str:
    """The distance to the limit, or how far the value is beyond it."""
    shown = Shown(rule.described)
    (margin,) = shown.differences(alone.margins[row : row + 1])
    if np.isnan(margin):
        return ""
    distance = speech.measure(abs(margin), shown.difference_unit)
    return f"{distance} {'beyond' if margin < 0 else 'to spare'}"
