"""Finds the fields of a design that a column, or a rule, depends on."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from checker.compute.meanings import meaning
from checker.compute.naming import EARLIER, OF_PARTS
from checker.compute.registry import REGISTRY
from checker.rulebook.model import Rule

OF_ROWS = {"supplies_differ": "supply"}
"""For inputs that are not columns, the fields that they are computed from."""


@cache
def fields_of(subject: str, names: tuple[str, ...]) -> frozenset[str]:
    """The names of all fields that some columns of a subject may depend on, in any record.

    A loop's parts have fields of the loop under the same name, so tables are not distinguished.

    Args:
        subject: a key of `naming.TABLE_OF`.
        names: of the columns, with dots.

    Returns:
        Fields by their names without the record's.
    """
    seen: set[tuple[str, str]] = set()
    fields: set[str] = set()
    waiting = [(subject, name) for name in names]
    while waiting:
        key = waiting.pop()
        if key not in seen:
            seen.add(key)
            waiting += _under(*key, fields)
    return frozenset(fields)


def _under(subject: str, name: str, fields: set[str]) -> Iterator[tuple[str, str]]:
    """The columns that one is computed from; a field is added to `fields`."""
    part, _, rest = name.partition(".")
    meant = meaning(subject, name)
    if meant is None:
        if part in OF_PARTS:
            yield OF_PARTS[part], rest
        else:
            fields.add(OF_ROWS.get(name, rest))
    elif meant.kind == "computed":
        known = REGISTRY[subject, name]
        for own in (*known.inputs, *(by for by, _ in known.needed_when.values())):
            yield subject, own
    elif meant.kind in ("linked", "whole", EARLIER):
        fields.add(meant.leaf.name)
        yield meant.subject, meant.name
    else:
        fields.add(meant.leaf.name)


def fields_of_rule(rule: Rule) -> frozenset[str]:
    """The names of all fields that the outcome of a rule may depend on.

    Args:
        rule: its value, conditions, limits and their documents' scopes are looked at.

    Returns:
        As `fields_of`.
    """
    names = [rule.value, *rule.raised_by, *(one.name for one in rule.applies)]
    for limit in rule.limits:
        names += [one.name for one in (*limit.when, *limit.document.scope)]
        for bound in limit.bounds:
            names += [bound.name] if bound.name is not None else []
            names += [bound.table.by] if bound.table is not None else []
    return fields_of(rule.subject, tuple(names))
