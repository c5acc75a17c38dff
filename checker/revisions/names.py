"""Whether two names of senders or designs mean the same."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from difflib import SequenceMatcher
from functools import cache
from itertools import combinations

_MARKS = re.compile(r"[\W_]+")
NEAR = 0.85
"""Names at least this similar are asked about (by `difflib`; our convention)."""


@cache
def plain_name(name: str) -> str:
    """A name without capitals, spaces and punctuation; names that are equal in this are one."""
    return _MARKS.sub(" ", name.casefold()).strip() or name.casefold()


def near_names(names: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Pairs of names that may be one with a typing mistake, for the user to decide.

    A number or single letter makes names different: House 3 is not House 4.

    Args:
        names: names of senders, or of the designs of one.

    Returns:
        Pairs in the order of the alphabet; names that `plain_name` makes equal are no pair.
    """
    parts = {name: _telling(name) for name in names}
    for one, other in combinations(sorted(parts), 2):
        if parts[one] != parts[other] or abs(len(one) - len(other)) > 3:
            continue
        alike = SequenceMatcher(None, plain_name(one), plain_name(other))
        if plain_name(one) != plain_name(other) and alike.quick_ratio() >= NEAR <= alike.ratio():
            yield one, other


def _telling(name: str) -> list[str]:
    """The numbers and single letters in a name."""
    words = plain_name(name).split()
    return [word for word in words if len(word) == 1 or any(sign.isdigit() for sign in word)]
