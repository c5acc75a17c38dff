"""Findings that another finding causes, and that are gone once that one is mended.

A rule may name another rule under which it is listed (`under`). Where both are broken, the design
is judged again with the value of that other rule at its limit: what no longer fails was caused by
it.
"""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace

from checker.arrays import Array, Index, Mask
from checker.compute.judging import InForce, OfCopies, judged, result_subject
from checker.compute.naming import TABLE_OF
from checker.compute.settling import settled
from checker.design.schema import design_format
from checker.outcome.columns import Way
from checker.outcome.results import COMES_OF, Under
from checker.outcome.whatever import Judged
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import FAIL, Outcome, taken

ROUNDS = 2
"""Tolerance for films of water: to see whether a finding is gone, a hundredth of the heat is
enough.
"""


def tell_under(whole: Judged, book: Rulebook, force: InForce) -> None:
    """List findings under the finding that causes them, in its words, and without their own
    remedies.

    Args:
        whole: the designs with their results; these are changed.
        book: the rules.
        force: which limits are in force.
    """
    numbers = {rule.id: number for number, rule in enumerate(book.rules)}
    followers: dict[int, list[int]] = {}
    for number, rule in enumerate(book.rules):
        if rule.under in numbers:
            followers.setdefault(numbers[rule.under], []).append(number)
    for cause, own in followers.items():
        if cause in whole.outcomes:
            _tell(whole, book, force, cause, own)


def _tell(whole: Judged, book: Rulebook, force: InForce, cause: int, followers: list[int]) -> None:
    """List what vanishes with the findings of one rule under those."""
    rule, outcome = book.rules[cause], whole.outcomes[cause]
    broken = outcome.kinds == FAIL
    followers = [number for number in followers if number in whole.outcomes]
    designs = _designs(whole, book, followers, broken)
    if not len(designs):
        return
    copies = whole.tables.repeated(designs)
    table = TABLE_OF[rule.subject]
    slot = design_format().leaf(table, rule.value).slot
    copies[table].fill(slot, slice(None), _limits(outcome)[designs])
    graph = settled(copies, rounds=ROUNDS)
    for number in followers:
        follower = book.rules[number]
        mended, which = judged(follower, graph, OfCopies(force, designs))
        mended = mended if which is None else taken(mended, which)
        of = whole.tables.design_of(TABLE_OF[result_subject(follower)])
        rows = np.flatnonzero(np.isin(of, designs))
        comes = (whole.outcomes[number].kinds[rows] == FAIL) & (mended.kinds != FAIL)
        _put(whole, number, rows[comes], rule)


def _designs(whole: Judged, book: Rulebook, followers: list[int], broken: Mask) -> Index:
    """The designs that break the causing rule and one that it may cause."""
    found = np.zeros(len(broken), dtype=bool)
    for number in followers:
        of = whole.tables.design_of(TABLE_OF[result_subject(book.rules[number])])
        found[of[whole.outcomes[number].kinds == FAIL]] = True
    return np.flatnonzero(found & broken)


def _limits(outcome: Outcome) -> Array:
    """The bound that each row is compared with."""
    found = np.full(len(outcome.kinds), np.nan)
    for number, limit_outcome in enumerate(outcome.limits):
        if limit_outcome.applies_anywhere:
            found = np.where(outcome.governing == number, limit_outcome.bounds[0], found)
    return found


def _put(whole: Judged, number: int, rows: Index, cause: Rule) -> None:
    """Put results under the finding that causes them."""
    findings = whole.findings[number]
    under = Under(cause.id, cause.subject)
    named: dict[int, Way] = {}
    for row in rows.tolist():
        way = findings.ways[row]
        if row in findings.instead:
            continue
        if id(way) not in named:
            common = replace(way.common, under=under, remedy="")
            message = (*way.message, COMES_OF.format(cause.id))
            named[id(way)] = replace(way, common=common, message=message, spelled={})
        findings.ways[row] = named[id(way)]
