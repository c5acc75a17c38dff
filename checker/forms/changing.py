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
    """Whether a text and a stated value mean the same, in whatever unit."""
    if not isinstance(stated, str) or text == typed(stated):
        return isinstance(stated, str)
    try:
        kind = units.kind_of(stated.partition(" ")[2])
        values = [units.parse(one, kind) for one in (text, stated)]
    except units.UnitError:
        return False
    return math.isclose(*values, rel_tol=1e-9, abs_tol=1e-12)


def typed(text: str) -> str:
    """A truth value as designs write it (`true`, `false`); any other text unchanged."""
    return {"yes": "true", "no": "false"}.get(truth(text), text)


class Flow(str):
    """A text that is already written as a YAML list or mapping."""

    __slots__ = ()


def mapping(values: Mapping[str, str]) -> str:
    """A record as a YAML flow mapping; keys with a dot are nested: `screed.cover` goes into
    `screed`.
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
    """Records as a YAML list of flow mappings."""
    return "[" + ", ".join(mapping(row) for row in rows) + "]"


def quoted(text: str) -> str:
    """A text for a design file, in quotation marks where a sign in it has a meaning in YAML."""
    if isinstance(text, Flow) or (
        text and set(text) <= PLAIN and text[0] not in " -.%" and text[-1] != " "
    ):
        return text
    return json.dumps(text, ensure_ascii=False)
