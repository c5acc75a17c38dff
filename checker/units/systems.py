"""The system of units that a design's author uses."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import chain
from typing import Any

from checker import units
from checker.units.table import ROWS
from checker.words.speech import METRIC, US

_US_NAMES = re.compile("foot|inch|yard|gallon|pound|psi|Btu|degF")
_BOTH = ("duration", "fraction", "ratio")
"""Kinds of quantity with the same units in both systems."""
_TYPED = re.compile(r"[-+−]?[0-9.,]+(?:[eE][-+]?[0-9]+)?\s*(\S.*)")
_MAYBE_US = re.compile(
    rb"[0-9]\s*(?:ft|foot|feet|in|inch|inches|gpm|GPM|gal|yd|lb|psi|sq ?ft|[Bb][Tt][Uu]|"
    rb"(?:deg|\xc2\xb0) ?F|\xe2\x84\x89)"
)


@lru_cache(maxsize=1)
def _systems() -> dict[str, str]:
    """The system of each spelling that belongs to one of the two."""
    known: dict[str, str] = {}
    for kind, unit, _, _, spellings in ROWS:
        if kind not in _BOTH:
            system = US if _US_NAMES.search(unit) else METRIC
            known |= dict.fromkeys(map(units.alike, spellings), system)
    return known


def typed_system(data: bytes, document: Any) -> str:
    """The system in which most quantities of a design were typed.

    Args:
        data: the file's bytes, for a quick first look.
        document: the design as mappings and lists of texts.

    Returns:
        `METRIC` or `US`; metric where as many were typed in either, or none at all.
    """
    if not _MAYBE_US.search(data):
        return METRIC
    known = _systems()
    count = {METRIC: 0, US: 0}
    for text in _texts(document):
        typed = _TYPED.fullmatch(text)
        system = known.get(units.alike(typed[1])) if typed else None
        if system:
            count[system] += 1
    return US if count[US] > count[METRIC] else METRIC


def _texts(document: Any) -> Iterator[str]:
    if isinstance(document, str):
        yield document
    elif isinstance(document, dict):
        yield from chain.from_iterable(map(_texts, document.values()))
    elif isinstance(document, list):
        yield from chain.from_iterable(map(_texts, document))
