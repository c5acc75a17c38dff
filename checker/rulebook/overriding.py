"""Combines a firm's rule with the program's rule that it overrides."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from checker.rulebook.model import Rule


def altered(before: Rule, after: Rule) -> Iterator[str]:
    """List what a firm's rule changes in the program's besides the limits that it replaces.

    Args:
        before: the rule so far, the program's or that of an earlier pack.
        after: the firm's rule of the same id, before the two are combined.

    Returns:
        A phrase for each change, which starts with the rule's id; none where only limits differ.
    """
    if after.severity != before.severity:
        yield f"{before.id}: severity {after.severity} instead of {before.severity}"
    if after.stage != before.stage:
        yield f"{before.id}: from {after.stage} instead of {before.stage}"
    if after.applies != before.applies:
        own, ours = (
            " and ".join(one.words for one in rule.applies) or "always" for rule in (after, before)
        )
        yield f"{before.id}: applies where {own} instead of {ours}"
    if after.waivable and not before.waivable:
        yield f"{before.id}: even a critical fail may be waived"
    known = {limit.id: limit for limit in before.limits}
    for limit in after.limits:
        ours_of = known.get(limit.id)
        if ours_of is not None and limit.severity != ours_of.severity:
            yield f"{before.id}: limit {limit.id} {limit.severity} instead of {ours_of.severity}"
        if ours_of is not None and limit.fallback and not ours_of.fallback:
            yield f"{before.id}: limit {limit.id} counts only where no other could be worked out"


def overridden(before: Rule, after: Rule) -> Rule:
    """Combine a rule with a firm's rule of the same id.

    Args:
        before: the rule so far.
        after: the firm's rule.

    Returns:
        The firm's rule; its limits replace those of the same id, and the others are kept.
    """
    known = {limit.id: limit for limit in before.limits}
    for limit in after.limits:
        replaced = known.get(limit.id)
        if replaced is not None:
            instead = f"{replaced.source.id} {replaced.source.clause}".strip()
            limit = replace(limit, source=replace(limit.source, replaces=instead))
            if limit.document.code == replaced.document.code:
                limit = replace(limit, group=replaced.group)
        known[limit.id] = limit
    return after.with_limits(tuple(known.values()))
