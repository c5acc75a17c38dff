"""Writes the answers of a form as a design file would, for changing a design."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from checker import units
from checker.forms.declaring import truth

PLAIN = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .-+/°²³·%()_")


def alike(text: str, stated: Any) -> bool:
    """Whether an answer and what a design states mean the same, in whatever unit.

    Args:
        text: the answer as a design file writes it, such as `88 m` or `true`.
        stated: what the design has there; False comes of anything but a text.

    Returns:
        Whether the texts, or the quantities that they stand for, are equal.
    """
    if not isinstance(stated, str) or text == typed(stated):
        return isinstance(stated, str)
    try:
        kind = units.kind_of(stated.partition(" ")[2])
        values = [units.parse(one, kind) for one in (text, stated)]
    except units.UnitError:
        return False
    return math.isclose(*values, rel_tol=1e-9, abs_tol=1e-12)


def typed(text: str) -> str:
    """A word for a truth value as design files write it.

    Args:
        text: any text of a form or a design, such as `yes`.

    Returns:
        `true` or `false`; any other text unchanged.
    """
    return {"yes": "true", "no": "false"}.get(truth(text), text)


class Flow(str):
    """A text that is already written as a YAML list or mapping."""

    __slots__ = ()


def mapping(values: Mapping[str, str]) -> str:
    """A record as a YAML flow mapping.

    Args:
        values: texts by key, as a design writes them; a key with a dot is nested, so that
            `screed.cover` goes into `screed`.

    Returns:
        For example `{length: 88 m, screed: {cover: 45 mm}}`.
    """
    made: dict[str, str] = {}
    inner: dict[str, dict[str, str]] = {}
    for key, text in values.items():
        first, _, rest = key.partition(".")
        if rest:
            made.setdefault(first, "")
            inner.setdefault(first, {})[rest] = text
        else:
            made[first] = text
    texts = (f"{key}: {mapping(inner[key]) if key in inner else quoted(text)}"
             for key, text in made.items())  # fmt: skip
    return "{" + ", ".join(texts) + "}"


def listed(rows: Sequence[Mapping[str, str]]) -> str:
    """Records as a YAML list of flow mappings.

    Args:
        rows: for each record its texts by key, as `mapping` takes them.

    Returns:
        For example `[{at: 20 min, pressure: 4 bar}]`; `[]` for none.
    """
    return "[" + ", ".join(mapping(row) for row in rows) + "]"


def quoted(text: str) -> str:
    """A text for a design file, in quotation marks where a sign in it has a meaning in YAML.

    Args:
        text: what YAML is to read; a `Flow` is YAML already.

    Returns:
        A `Flow` and a plain word as they are; else the text in double quotes.
    """
    if isinstance(text, Flow) or (
        text and set(text) <= PLAIN and text[0] not in " -.%" and text[-1] != " "
    ):
        return text
    return json.dumps(text, ensure_ascii=False)
