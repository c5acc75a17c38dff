"""Words for what a design has in place of a value, a list or a mapping."""

from __future__ import annotations

import re
from typing import Any

from checker.design.leaves import Leaf
from checker.design.schema import (
    Collection,
    Named,
    NamedRows,
    PlanPart,
    Record,
    Rows,
    Texts,
    sample,
)
from checker.reading.documents import Mapping, Sequence

DECIMAL_COMMA = re.compile("-?[0-9]+,[0-9]")


def severed_by_comma(mapping: Mapping, key: str) -> tuple[str, str] | None:
    """Whether a key is the rest of a number with a decimal comma.

    Between braces a comma ends the value, and what follows it looks like a key.

    Args:
        mapping: as typed, with the key.
        key: one that is not known there.

    Returns:
        The key before it, whose value was cut off, and a message for the user; None where the key
        is something else.
    """
    keys = [*mapping]
    before = keys[max(keys.index(key) - 1, 0)]
    typed = f"{mapping[before]},{key}"
    near = mapping.places[key][0] - mapping.places[before][1] == len(typed) - len(key)
    if not (near and mapping[key] is None and DECIMAL_COMMA.match(typed)):
        return None
    return before, f"'{typed}' has a decimal comma; write '{typed.replace(',', '.')}'"


def not_a_value(leaf: Leaf, raw: Any) -> str:
    """Say what is there instead of a single value.

    Args:
        leaf: what the format has here.
        raw: as typed: None, a list or a mapping.

    Returns:
        A phrase for the user without a full stop.
    """
    wanted = f"such as '{leaf.example}'" if leaf.example else "or leave the key out"
    if raw is None:
        return f"there is no value; write one, {wanted}"
    return f"one value is expected here, not a {'list' if type(raw) is Sequence else 'mapping'}"


def wrong_kind(
    raw: Any, member: Record | Collection | Rows | NamedRows | Texts | PlanPart | Named
) -> str:
    """Say what is wrong with the kind of a part: nothing, a value, a list or a mapping.

    Args:
        raw: as typed.
        member: what the format has here.

    Returns:
        A phrase for the user without a full stop; empty where the kind is right.
    """
    wanted = Sequence if type(member) in (Rows, Texts) else Mapping
    if type(raw) is wanted:
        return ""
    if raw is None:
        return "there is no value here; fill it in, or leave the key out"
    if wanted is Mapping:
        return f"keys with their values are expected here, such as {sample(member)}"
    return f"a list is expected here, such as {sample(member)}"
