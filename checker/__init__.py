"""prescreed: checks designs of wet underfloor heating before the screed buries them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from checker.outcome.results import DesignReport, Result, Totals
    from checker.run.batch import Plan, check

__all__ = ["DesignReport", "Plan", "Result", "Totals", "__version__", "check"]

_HOMES = {
    "Plan": "checker.run.batch",
    "check": "checker.run.batch",
    "DesignReport": "checker.outcome.results",
    "Result": "checker.outcome.results",
    "Totals": "checker.outcome.results",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used, so that starting the program stays quick."""
    if name not in _HOMES:
        raise AttributeError(f"module 'checker' has no attribute '{name}'")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
