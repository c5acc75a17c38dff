"""Answers of a form as changes of a design: texts as a design writes them."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from checker import units
from checker.forms.declaring import truth

PLAIN = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .-+/°²³·%()_")


def alike(text: str, stated: Any) -> bool:
    """Whether both say the same, whatever the unit."""
    if not isinstance(stated, str) or text == typed(stated):
        return isinstance(stated, str)
    try:
        kind = units.kind_of(stated.partition(" ")[2])
        values = [units.parse(one, kind) for one in (text, stated)]
    except units.UnitError:
        return False
    return math.isclose(*values, rel_tol=1e-9, abs_tol=1e-12)


def typed(text: str) -> str:
    """A truth value as designs write it, any other text as it is."""
    return {"yes": "true", "no": "false"}.get(truth(text), text)


class Flow(str):
    """A text that is a list or a mapping as a design writes it."""

    __slots__ = ()


def mapping(values: Mapping[str, str]) -> str:
    """A record as a flow mapping, with those in it: `screed.cover` stands in `screed`."""
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
    """Records as a list of flow mappings."""
    return "[" + ", ".join(mapping(row) for row in rows) + "]"


def quoted(text: str) -> str:
    """The text as it may stand in a design, in quotation marks where a sign could mean more."""
    if isinstance(text, Flow) or (
        text and set(text) <= PLAIN and text[0] not in " -.%" and text[-1] != " "
    ):
        return text
    return json.dumps(text, ensure_ascii=False)
