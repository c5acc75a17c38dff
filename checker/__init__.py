"""prescreed: checks designs of wet underfloor heating before the screed buries them.

From Python: `from checker import check`, then `help(check)`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from checker.library import CannotCheck, Checked, check
    from checker.outcome.report import DesignReport
    from checker.outcome.results import Measure, Result

__all__ = ["CannotCheck", "Checked", "DesignReport", "Measure", "Result", "__version__", "check"]

_HOMES = {
    "CannotCheck": "checker.library",
    "Checked": "checker.library",
    "check": "checker.library",
    "DesignReport": "checker.outcome.report",
    "Measure": "checker.outcome.results",
    "Result": "checker.outcome.results",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used, so that starting the program stays quick."""
    if name not in _HOMES:
        raise AttributeError(f"module 'checker' has no attribute '{name}'")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    """The public names, for completion."""
    return sorted(__all__)
