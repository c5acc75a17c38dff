"""Templates of pages and letters: everything that comes from a design is text and nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from checker.words import visible

if TYPE_CHECKING:
    from jinja2 import Environment


def templates(package: str, folder: str = "templates") -> Environment:
    """The templates in a package's folder."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader(package, folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_plain,
    )


def _plain(value: Any) -> Any:
    """A text without hidden signs; what is marked as mark-up was made here."""
    return visible(value, "\n\t\u00a0") if type(value) is str else value
