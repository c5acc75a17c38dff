"""Whether two names are one: of senders, and of designs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from difflib import SequenceMatcher
from functools import cache
from itertools import combinations

_MARKS = re.compile(r"[\W_]+")
NEAR = 0.85
"""So alike two names are asked about (by `difflib`; our convention)."""


@cache
def plain_name(name: str) -> str:
    """What is left of a name without capitals, spaces and marks: those alike in it are one."""
    return _MARKS.sub(" ", name.casefold()).strip() or name.casefold()


def near_names(names: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Pairs that may be one by a slip: asked about, never taken for one.

    A number or single letter tells names apart: House 3 is not House 4.
    """
    told = {name: _telling(name) for name in names}
    for one, other in combinations(sorted(told), 2):
        if told[one] != told[other] or abs(len(one) - len(other)) > 3:
            continue
        alike = SequenceMatcher(None, plain_name(one), plain_name(other))
        if plain_name(one) != plain_name(other) and alike.quick_ratio() >= NEAR <= alike.ratio():
            yield one, other


def _telling(name: str) -> list[str]:
    words = plain_name(name).split()
    return [word for word in words if len(word) == 1 or any(sign.isdigit() for sign in word)]
