"""Report formats: one module each, found by its name in one table.

A format turns each design into a piece of text on its own, so that workers can write; the pieces
are joined between a head and a tail.
"""

from __future__ import annotations

from functools import lru_cache
from importlib import import_module
from typing import Any, NamedTuple, Protocol

from checker.results import DesignReport, RuleSet, Totals, Unreadable

FORMATS = {
    "text": "checker.reports.text",
    "json": "checker.reports.json",
}
"""A format's name, and the module whose `Writer` makes it."""


class Chosen(NamedTuple):
    """A format, and how its reader will see it: columns of the terminal, and whether in colour."""

    name: str
    width: int = 80
    colour: bool = False


class Writer(Protocol):
    """One format."""

    separator: bytes

    def head(self, rules: RuleSet) -> bytes:
        """What stands before the first design."""

    def piece(self, design: DesignReport) -> bytes:
        """One design, written alone."""

    def tail(self, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """What stands after the last design."""


@lru_cache(maxsize=16)
def writer(chosen: Chosen) -> Writer:
    """The writer of a format; KeyError for an unknown name."""
    module: Any = import_module(FORMATS[chosen.name])
    made: Writer = module.Writer(chosen)
    return made
