"""Evaluates one rule for all rows at once: array comparisons, no words yet."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from checker.arrays import Array, Index, Mask
from checker.rulebook.model import Bound, Condition, Rule, RuleLimit, Table
from checker.rulebook.outcomes import (
    ABSENT,
    FAIL,
    NOT_APPLICABLE,
    OPEN,
    PASS,
    REVIEW,
    Codes,
    LimitOutcome,
    Outcome,
    Reasons,
)

EXACT = 1e-9
"""A value this close to its limit, as a share of it, is equal to it, and equal passes."""


class _Constant(NamedTuple):
    """Shared read-only columns with one value for all rows."""

    yes: Mask
    no: Mask
    absent: Codes
    nothing: Array
    no_reasons: Reasons
    inapplicable: Codes
    ungoverned: npt.NDArray[np.int16]


@lru_cache(maxsize=16)
def _constant(size: int) -> _Constant:
    """The shared columns for this number of rows, made once."""
    made = _Constant(
        np.ones(size, dtype=bool),
        np.zeros(size, dtype=bool),
        np.full(size, ABSENT, dtype=np.int8),
        np.full(size, np.nan),
        np.full(size, -1, dtype=np.int64),
        np.full(size, NOT_APPLICABLE, dtype=np.int8),
        np.full(size, -1, dtype=np.int16),
    )
    for column in made:
        column.setflags(write=False)
    return made


def among(values: Array, wanted: Iterable[float]) -> Mask:
    """Mark the values that are one of a few.

    Args:
        values: a column, shape (n,), NaN where missing.
        wanted: numbers in the unit of the column; compared exactly, so meant for the numbers of
            words.

    Returns:
        A mask, shape (n,), False for NaN; read-only where nothing is wanted.
    """
    found = _constant(len(values)).no
    for one in wanted:
        found = found | (values == one)
    return found


class Values(NamedTuple):
    """A column for rules.

    Attributes:
        values: SI, temperatures in °C, shape (n,), NaN where missing.
        reasons: the number of the reason for each missing value, shape (n,); None where none is
            missing.
    """

    values: Array
    reasons: Reasons | None


class Columns(Protocol):
    """Where a rule gets its values."""

    def column(self, subject: str, name: str) -> Any:
        """Give one column.

        Args:
            subject: whose, in the singular ('loop').
            name: of a field or a quantity.

        Returns:
            The column as `Values`, with one row for each of the subject.
        """

    def size(self, subject: str) -> int:
        """Give the number of rows of a subject.

        Args:
            subject: in the singular ('loop').

        Returns:
            How many there are in all designs together.
        """

    def note(self, words: str, subject: str) -> int:
        """Register the words of a reason why a value is missing.

        Args:
            words: why, without the row that it is about.
            subject: what each row is, in the singular ('loop').

        Returns:
            The number of the reason for row 0; that for another row is this number plus the row's.
        """


def evaluate(rule: Rule, columns: Columns, counts: Mask, due: Mask) -> Outcome:
    """Compare a rule with every row of its subject.

    Args:
        rule: what is compared, with its limits.
        columns: gives the values.
        counts: whether each limit's source is in force for each row, shape (limits, n).
        due: whether the job's stage asks for the rule, shape (n,); where it does not, a rule that
            is open because of missing data does not apply yet.

    Returns:
        The governing limit and the outcome of each of the n rows, and each limit's own outcomes.
    """
    size = columns.size(rule.subject)
    value = columns.column(rule.subject, rule.value)
    applies, unknown, unknown_reasons = where_holds(rule.applies, rule.subject, columns, size)
    constant = _constant(size)
    if unknown is not constant.no:
        # Where no limit is in force it does not matter whether the rule would apply.
        unknown = unknown & counts.any(axis=0)
    limits: list[LimitOutcome] = []
    settled: dict[str, Mask] = {}
    for limit, in_force in zip(rule.limits, counts, strict=True):
        if not np.count_nonzero(in_force):
            limits.append(_nowhere(limit, constant))
            continue
        group = limit.group
        free = in_force & applies
        if limit.document.scope:
            free &= _within(limit.document.scope, rule.subject, columns, size)
        for other, taken in settled.items():
            if limit.fallback or other == group:
                free = free & ~taken
        one = _limit_outcome(rule, limit, value, free, columns, size)
        limits.append(one)
        if one.applies_anywhere and len(rule.limits) > 1:
            found = (one.kinds == FAIL) | (one.kinds == PASS) | (one.kinds == REVIEW)
            settled[group] = found | settled[group] if group in settled else found
    if settled:
        _forget_superseded(limits, settled)
    raising = [columns.column(rule.subject, name) for name in rule.raised_by]
    return _governed(rule, value, limits, due, (unknown, unknown_reasons), raising, size)


def _forget_superseded(limits: list[LimitOutcome], settled: dict[str, Mask]) -> None:
    """Drop an open limit where another of the same group could be computed.

    Where the value itself is missing, every limit is open and none is settled, so nothing is
    dropped.
    """
    for one in limits:
        if one.applies_anywhere:
            superseded = (one.kinds == OPEN) & settled[one.limit.group]
            if np.count_nonzero(superseded):
                one.kinds[superseded] = ABSENT


def where_holds(
    conditions: tuple[Condition, ...], subject: str, columns: Columns, size: int
) -> tuple[Mask, Mask, Reasons]:
    """Find the rows for which all conditions are met.

    Args:
        conditions: none at all are met everywhere.
        subject: whose columns they name, in the singular ('loop').
        columns: gives the values.
        size: the number of rows, n.

    Returns:
        Three columns of shape (n,): where all are met; where that is unknown because a value is
        missing and no other condition is broken; and the number of the reason why it is missing, -1
        where none is. They may be read-only.
    """
    constant = _constant(size)
    if not conditions:
        return constant.yes, constant.no, constant.no_reasons
    holds, unknown, reasons = constant.yes, constant.no, constant.no_reasons
    for condition in conditions:
        column = columns.column(subject, condition.name)
        if condition.stated is not None:
            holds = holds & (np.isnan(column.values) != condition.stated)
            continue
        equal = among(column.values, condition.values)
        if column.reasons is None:
            holds = holds & equal
            continue
        missing = np.isnan(column.values)
        reasons = np.where(missing & (reasons < 0), column.reasons, reasons)
        unknown = unknown | (missing & holds)
        holds = holds & (equal | missing)
    if unknown is constant.no:
        return holds, unknown, reasons
    return holds & ~unknown, unknown & holds, reasons


def _within(scope: tuple[Condition, ...], subject: str, columns: Columns, size: int) -> Mask:
    """The rows that a document applies to: all but those that are stated to be something else."""
    within = _constant(size).yes
    for condition in scope:
        values = columns.column(subject, condition.name).values
        within = within & (np.isnan(values) | among(values, condition.values))
    return within


def _nowhere(limit: RuleLimit, constant: _Constant) -> LimitOutcome:
    """A limit that counts for no row."""
    _, _, absent, nothing, none, *_ = constant
    return LimitOutcome(limit, absent, nothing, nothing, (), none, applies_anywhere=False)


def _limit_outcome(
    rule: Rule, limit: RuleLimit, value: Any, free: Mask, columns: Columns, size: int
) -> LimitOutcome:
    """The outcome of one limit; free: the rows that it may still count for."""
    constant = _constant(size)
    if not np.count_nonzero(free):
        return _nowhere(limit, constant)
    holds, unknown, reasons = where_holds(limit.when, rule.subject, columns, size)
    counted = free & holds
    unsettled = free & unknown
    if not np.count_nonzero(counted | unsettled):
        return _nowhere(limit, constant)
    kinds = constant.absent.copy()
    kinds[unsettled] = OPEN
    if limit.comparison == "review":
        kinds[counted] = REVIEW
        return LimitOutcome(limit, kinds, constant.nothing, constant.nothing, (), reasons)
    bounds = []
    for bound in limit.bounds:
        values, why = _bound(bound, rule, columns, size)
        if why is not None:
            reasons = np.where((reasons < 0) & np.isnan(values), why, reasons)
        bounds.append(values)
    if value.reasons is not None:
        reasons = np.where(np.isnan(value.values), value.reasons, reasons)
    with np.errstate(all="ignore"):
        broken, whole, margins, ratios = _compared(limit, value.values, bounds)
    kinds[counted] = OPEN
    kinds[counted & whole] = PASS
    kinds[counted & broken] = FAIL
    near = None
    if rule.uncertainty is not None:
        within = rule.uncertainty
        near = (np.abs(margins) < within.difference) | (np.abs(ratios) < within.share)
        near &= kinds == FAIL
    return LimitOutcome(limit, kinds, margins, ratios, tuple(bounds), reasons, near=near)


def _compared(
    limit: RuleLimit, value: Array, bounds: list[Array]
) -> tuple[Mask, Mask, Array, Array]:
    """Rows beyond a bound; rows within all (no NaN among them); margin; margin over bound."""
    comparison = limit.comparison
    least_share = EXACT if limit.strict else -EXACT
    if comparison == "one_of":
        equal = np.zeros(len(value), dtype=bool)
        for bound in bounds:
            equal |= value == bound
        missing = np.isnan(value)
        ratios = np.where(equal, 1.0, -1.0)
        return ~equal & ~missing, equal, np.full(len(value), np.nan), ratios
    if comparison == "between":
        each = ["at_least", "at_most"]
    else:
        side = {"before": "at_most", "after": "at_least"}.get(comparison, comparison)
        each = [side] * len(bounds)
    broken = np.zeros(len(value), dtype=bool)
    whole = ~broken
    margins, ratios = np.array(np.nan), np.array(np.inf)
    for side, bound, stated in zip(each, bounds, limit.bounds, strict=True):
        margin = bound - value if side == "at_most" else value - bound
        if stated.number is None:
            share = margin / np.where(bound == 0, 1.0, np.abs(bound))
        else:
            share = margin / (abs(stated.number) or 1.0)
        broken |= share < least_share
        whole &= share >= least_share
        nearer = share < ratios
        margins = np.where(nearer, margin, margins)
        ratios = np.where(nearer, share, ratios)
    return broken, whole, margins, ratios


def _bound(bound: Bound, rule: Rule, columns: Columns, size: int) -> tuple[Array, Reasons | None]:
    """What a bound is for each row, SI, and why it is missing; None where it never is."""
    if bound.number is not None:
        return np.full(size, bound.number), None
    if bound.name is not None:
        column = columns.column(rule.subject, bound.name)
        return column.values, column.reasons
    assert bound.table is not None
    return _looked_up(bound.table, rule, columns)


def _looked_up(table: Table, rule: Rule, columns: Columns) -> tuple[Array, Reasons]:
    """What a table gives for each row, SI, and why it gives nothing."""
    by = columns.column(rule.subject, table.by)
    keys, steps = np.array(table.keys), np.array(table.values)
    known = ~np.isnan(by.values)
    slack = EXACT * np.maximum(np.abs(by.values), 1e-3)
    at = np.searchsorted(keys, by.values + slack, "right") - 1
    found = known & (at >= 0)
    at = np.maximum(at, 0)
    if table.exact:
        found &= np.abs(keys[at] - by.values) <= slack
    values = np.where(found, steps[at], np.nan)
    rows = np.arange(len(values))
    reasons = np.where(known, columns.note(table.words, rule.subject) + rows, -1)
    if by.reasons is not None:
        reasons = np.where(known, reasons, by.reasons)
    return values, reasons


def worst_of(outcome: Outcome, group: Index, counts: Mask, size: int) -> Index:
    """For each group of rows the one with the worst outcome, of those that count; the first of
    equal ones.

    Args:
        outcome: of all rows.
        group: of each row, in rising order; every group has a row that counts.
        counts: whether each row counts.
        size: the number of groups.

    Returns:
        Row numbers, shape (size,).
    """
    if len(group) == size:
        return np.arange(size)
    gravity = np.where(counts, outcome.kinds * 1e9, np.inf)
    for number, limit_outcome in enumerate(outcome.limits):
        if limit_outcome.applies_anywhere:
            governs = counts & (outcome.governing == number)
            gravity = np.where(governs, _gravity(limit_outcome), gravity)
    order = np.lexsort((gravity, group))
    _, first = np.unique(group[order], return_index=True)
    found: Index = order[first]
    return found


def _gravity(one: LimitOutcome) -> Array:
    """One number to order outcomes by: kind first, for a fail or open its severity, then margin."""
    margin = np.clip(np.nan_to_num(one.ratios), -1e6, 1e6)
    grave = one.severities() * 1e7
    asks = (one.kinds == FAIL) | (one.kinds == OPEN)
    gravity: Array = one.kinds * 1e9 + np.where(asks, grave, 0.0) + margin
    return gravity


def _governed(
    rule: Rule,
    value: Any,
    limits: list[LimitOutcome],
    due: Mask,
    applying: tuple[Mask, Reasons],
    raising: list[Any],
    size: int,
) -> Outcome:
    """The worst limit of each row: a fail, then open, review, and the pass with least margin.

    Args:
        rule: the rule.
        value: the column that it compares, as `Values`.
        limits: each limit's own outcome.
        due: whether the rule is asked for yet, shape (n,).
        applying: rows for which it is not known whether the rule applies, and why.
        raising: columns that only raise the value, so that nothing certainly fails where one is
            missing.
        size: the number of rows, n.

    Returns:
        The outcome of the rule.
    """
    constant = _constant(size)
    kinds, governing = constant.inapplicable.copy(), constant.ungoverned.copy()
    reasons = constant.no_reasons.copy()
    counting = [(number, one) for number, one in enumerate(limits) if one.applies_anywhere]
    rank: Array | float = np.inf
    for number, one in counting:
        better = one.kinds != ABSENT
        if len(counting) > 1:
            own = _gravity(one)
            better &= own < rank
            rank = np.where(better, own, rank)
        governing[better] = number
        kinds[better] = one.kinds[better]
        reasons = np.where(better, one.reasons, reasons)
    unknown, unknown_reasons = applying
    if unknown is not constant.no:
        kinds[unknown] = OPEN
        governing[unknown] = -1
        reasons = np.where(unknown, unknown_reasons, reasons)
    for more in raising:
        lower = (kinds == FAIL) & np.isnan(more.values)
        if np.count_nonzero(lower):
            kinds[lower] = OPEN
            reasons = np.where(lower, more.reasons, reasons)
    early = (kinds == OPEN) & ~due
    if np.count_nonzero(early):
        kinds[early] = NOT_APPLICABLE
        governing[early] = -1
    return Outcome(rule, kinds, governing, value.values, reasons, tuple(limits), due)
