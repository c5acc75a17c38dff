"""How results came out, for the tables and bars of a page."""

from __future__ import annotations

from collections import Counter

from msgspec import Struct

from checker.outcome.results import SEVERITIES, Result
from checker.reports.sentences import magnitude
from checker.reports.verdicts import answered

HIGHEST_SHARE = 0.92
"""Where on its scale the larger of value and limit is."""


class PassedRule(Struct):
    """A rule that passed for some subject.

    Attributes:
        title: of the rule.
        rule: its id.
        count: for how many subjects it passed.
        of: how many subjects it applies to.
        closest: the pass that is closest to its limit.
    """

    title: str
    rule: str
    count: int
    of: int
    closest: Result


def passed_rules(results: list[Result]) -> list[PassedRule]:
    """The rules that passed for some subject.

    Args:
        results: of one design, in the reader's units.

    Returns:
        One for each rule, by its id.
    """
    kept: dict[str, PassedRule] = {}
    applies = Counter(result.rule for result in results if result.kind != "notApplicable")
    for result in results:
        if result.kind != "pass":
            continue
        known = kept.get(result.rule)
        if known is None:
            kept[result.rule] = PassedRule(
                result.title, result.rule, 1, applies[result.rule], result
            )
        else:
            known.count += 1
            margin, best = magnitude(result.margin), magnitude(known.closest.margin)
            if margin is not None and (best is None or margin < best):
                known.closest = result
    return [kept[rule] for rule in sorted(kept)]


def required(results: list[Result]) -> dict[str, list[Result]]:
    """What is required of each subject, for the table in which it has a row.

    Args:
        results: of one design.

    Returns:
        For each subject that was judged its fails, open results and unanswered reviews, the gravest
        first, and after them those that are waived; empty where all is kept.
    """
    asking: dict[str, list[Result]] = {}
    for result in results:
        if result.kind == "notApplicable" or (result.kind == "review" and result.due):
            continue
        found = asking.setdefault(result.subject, [])
        if result.kind in ("fail", "open") or (result.kind == "review" and not answered(result)):
            found.append(result)
    order = ("fail", "review", "open")
    for found in asking.values():
        found.sort(
            key=lambda r: (bool(r.waived), order.index(r.kind), SEVERITIES.index(r.severity))
        )
    return asking


class Gauge(Struct):
    """A value and its limit, or its two limits, as percentages of one scale."""

    value: float
    bounds: list[float]


def gauge(result: Result) -> Gauge | None:
    """A result's value and limit on one scale.

    Args:
        result: of any kind.

    Returns:
        The scale; None where value and limit are not numbers, or one is negative.
    """
    value = magnitude(result.value)
    if value is None or not result.limit:
        return None
    limit = result.limit
    bounds = limit.between or [one for one in (limit.at_most, limit.at_least) if one]
    limits = [bound for one in bounds if (bound := magnitude(one)) is not None]
    top = max([value, *limits])
    if not limits or top <= 0 or min([value, *limits]) < 0:
        return None
    scale = 100 * HIGHEST_SHARE / top
    return Gauge(round(value * scale, 1), [round(bound * scale, 1) for bound in limits])
