"""Words of the trade for keys of a design."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import cache
from typing import Any

from checker.reading import yaml_reader
from checker.reading.package_data import headings


@cache
def _words() -> dict[str, list[str]]:
    """For each word of the trade, by its letters, what it means in a design."""
    found: dict[str, list[str]] = {}
    document: Any = yaml_reader.read(headings().read_bytes(), first="columns:")
    for kind in ("columns", "labels"):
        for target, words in document[kind].items():
            for word in words:
                found.setdefault(_letters(word), []).append(target)
    return found


def ours(key: str, known: Collection[str]) -> str:
    """Find the key of the format that a word of the trade means.

    `manifolds` is `headers`, `circuit` is `loops` or in a record `loop`, `floor_finish` is
    `covering`.

    Args:
        key: the word.
        known: the keys that are allowed there.

    Returns:
        One of `known`; empty where the word means none of them.
    """
    word = _letters(key)
    for form in dict.fromkeys((word, word.removesuffix("s"), word.removesuffix("es"))):
        for target in _words().get(form, ()):
            for part in reversed(target.split(".")):
                for own in (part, part.removesuffix("s")):
                    if own in known:
                        return own
    return ""


def _letters(text: str) -> str:
    """A word in small letters, with single spaces for whatever is no letter or digit."""
    return " ".join(re.sub(r"[^\w']+", " ", text.replace("_", " ")).casefold().split())
