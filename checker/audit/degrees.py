"""How far a piece of evidence is there, in degrees from 0 to 1, and what several come to.

All these shares are our conventions, without a source.
"""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import UNSET

from checker.audit.observing import Observed
from checker.outcome.results import Limit, Measure, Result

BROKEN = 0.5
"""How far a rule's evidence is there just past the limit; at `_ALL_THERE` past it, it is 1."""
NEAR = 0.2
"""How far it is there where the limit is only just kept."""
KEPT = -0.3
"""How far it is there where the limit is kept with room."""
FOR_REVIEW = 0.2
"""How far it is there where a review is needed."""
NOT_THERE = -0.5
"""How far a sign is there that was looked for and not seen."""
FADING = 0.5
"""The share that each further piece counts of the one before it."""
_ALL_THERE = 0.25
"""The evidence is fully there at this share of the limit past it."""
_JUST_KEPT = 0.10
_SCALES = {"K": 20.0, "°C": 20.0, "day": 28.0}
"""Replaces the limit's own size where that means nothing; so 5 K or 7 days count fully."""


def diminishing_sum(points: Iterable[float]) -> float:
    """Add up points, each counting half as much as the one before it.

    Args:
        points: the strongest first.

    Returns:
        The sum; 0 for none.
    """
    return sum(point * FADING**place for place, point in enumerate(points))


def sign_degree(observed: Observed, least: float, full: float) -> float:
    """Say how far a sign is there.

    It is there as far as the value minus one standard deviation is between `least` and `full`, and
    absent where the value plus one standard deviation is below `least`.

    Args:
        observed: the value with its standard deviation, SI.
        least: up to this value nothing is there.
        full: from this value on it is fully there.

    Returns:
        From above 0 to 1 where it is there, NOT_THERE where it is absent, 0 in between.
    """
    value, deviation = float(observed.value), float(observed.deviation)
    surely = (value - deviation - least) / (full - least)
    if surely > 0:
        return min(surely, 1.0)
    return NOT_THERE if value + deviation < least else 0.0


def degree_of(result: Result) -> float | None:
    """Say how far a rule's evidence is there.

    Args:
        result: of the rule.

    Returns:
        From KEPT to 1; None where the rule does not apply or is open.
    """
    if result.kind == "review":
        return FOR_REVIEW
    if result.kind not in ("pass", "fail"):
        return None
    if result.kind == "fail":
        return BROKEN + (1 - BROKEN) * min(1.0, past(result) / _ALL_THERE)
    return NEAR if only_just(result) else KEPT


def only_just(result: Result) -> bool:
    """Whether a limit is kept by little; a count at its limit is not a near miss.

    Args:
        result: a pass.

    Returns:
        False where value and limit are not numbers.
    """
    counted = result.margin is UNSET or result.margin.unit == "1"
    return not counted and past(result) < _JUST_KEPT


def past(result: Result) -> float:
    """Give the distance of a value from its limit.

    Args:
        result: of a rule.

    Returns:
        A share of the limit, without a sign; 1 where the two are not numbers, or the limit is zero.
    """
    if result.margin is UNSET or result.margin.magnitude is None or result.limit is UNSET:
        return 1.0
    size = _SCALES.get(result.margin.unit) or _size(result.limit)
    return abs(result.margin.magnitude) / size if size else 1.0


def _size(limit: Limit) -> float:
    """The larger bound of a limit, without a sign; 0 where it has no number."""
    bounds: list[Measure] = []
    if limit.at_most is not UNSET:
        bounds.append(limit.at_most)
    if limit.at_least is not UNSET:
        bounds.append(limit.at_least)
    if limit.between is not UNSET:
        bounds.extend(limit.between)
    return max((abs(bound.magnitude) for bound in bounds if bound.magnitude), default=0.0)
