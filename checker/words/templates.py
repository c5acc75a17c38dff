"""Templates of pages and letters, in which text from a design never becomes markup."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from checker.words import visible

if TYPE_CHECKING:
    from jinja2 import Environment


def templates(package: str, folder: str = "templates") -> Environment:
    """The templates in a package's folder.

    They escape every text that is no markup, refuse names that are not defined, and show no
    invisible characters.

    Args:
        package: the package's whole name, such as `checker.page`.
        folder: the folder inside the package; `.` for the package itself.

    Returns:
        A new environment, to which the caller may add filters and globals.
    """
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
    """A text without invisible characters; what is marked as markup was made by the program."""
    return visible(value, "\n\t\u00a0") if type(value) is str else value
