"""What a rule comes to for all rows at once: the outcome of each limit, and which governs."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from checker.arrays import Array, Index, Mask
from checker.outcome.results import SEVERITIES
from checker.rulebook.model import Rule, RuleLimit

Codes = npt.NDArray[np.int8]
Reasons = npt.NDArray[np.int64]

FAIL, OPEN, REVIEW, PASS, NOT_APPLICABLE, ABSENT = range(6)
"""Outcomes, in order of precedence; the first five are `results.KINDS`."""


class LimitOutcome(Struct, frozen=True):
    """One limit for all n rows.

    Attributes:
        limit: the limit.
        kinds: outcome of each row, ABSENT where the limit does not count, shape (n,).
        margins: distance to the limit, SI, negative beyond it, shape (n,).
        ratios: the margin as a share of the limit, shape (n,).
        bounds: what the value is compared with, each of shape (n,); NaN where it is missing.
        reasons: numbers of why a row is open, shape (n,).
    """

    limit: RuleLimit
    kinds: Codes
    margins: Array
    ratios: Array
    bounds: tuple[Array, ...]
    reasons: Reasons
    applies_anywhere: bool = True
    """Whether it counts for any row."""
    near: Mask | None = None
    """Fails by less than the uncertainty of the rule's method; None where there is none."""

    def severities(self) -> Codes:
        """For each row the number of the severity of a fail."""
        own = SEVERITIES.index(self.limit.severity)
        found = np.full(len(self.kinds), own, dtype=np.int8)
        if self.near is not None:
            found[self.near] = max(own, SEVERITIES.index("minor"))
        return found


class Outcome(Struct, frozen=True):
    """One rule for all n rows.

    Attributes:
        rule: the rule.
        kinds: the outcome of each row, shape (n,).
        governing: the number of the limit that governs each row, -1 where none does, shape (n,).
        values: of what is compared, SI, shape (n,).
        reasons: numbers of why a row is open, or of what is missing though it is not asked for yet,
            shape (n,).
        limits: each limit's own outcome.
        due: whether the rule is asked for yet, shape (n,); where it is not and data are missing,
            the row does not apply.
    """

    rule: Rule
    kinds: Codes
    governing: npt.NDArray[np.int16]
    values: Array
    reasons: Reasons
    limits: tuple[LimitOutcome, ...]
    due: Mask


def governing(outcome: Outcome) -> tuple[Codes, Array]:
    """Give the severity and the margin of the limit that governs each row.

    Args:
        outcome: of one rule for n rows.

    Returns:
        The number of the severity in `SEVERITIES` and the margin as a share of the limit, negative
        beyond it, both of shape (n,). Where no limit governs, 0 and NaN; where the value or every
        bound of the limit is missing, the margin is infinite.
    """
    severities = np.zeros(len(outcome.kinds), dtype=np.int8)
    margins = np.full(len(outcome.kinds), np.nan)
    for number, limit_outcome in enumerate(outcome.limits):
        if limit_outcome.applies_anywhere:
            here = outcome.governing == number
            margins = np.where(here, limit_outcome.ratios, margins)
            severities[here] = limit_outcome.severities()[here]
    return severities, margins


def taken(outcome: Outcome, rows: Index) -> Outcome:
    """Give the outcome of some of the rows.

    Args:
        outcome: of one rule for n rows; unchanged.
        rows: the numbers of the rows, shape (m,), in any order; one may be named several times.

    Returns:
        The outcome with m rows, as copies.
    """

    def of(column: Any) -> Any:
        return column[rows]

    limits = tuple(
        LimitOutcome(
            one.limit,
            of(one.kinds),
            of(one.margins),
            of(one.ratios),
            tuple(map(of, one.bounds)),
            of(one.reasons),
            one.applies_anywhere,
            None if one.near is None else of(one.near),
        )
        for one in outcome.limits
    )
    return Outcome(
        outcome.rule,
        of(outcome.kinds),
        of(outcome.governing),
        of(outcome.values),
        of(outcome.reasons),
        limits,
        of(outcome.due),
    )
