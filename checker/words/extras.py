"""How to install what only some commands need."""

from __future__ import annotations


def needs(extra: str) -> str:
    """What a message says where an optional part of the program is not installed.

    The program is in no package index, so it is installed from the folder of its source.

    Args:
        extra: the name of the extra in pyproject.toml, such as 'page'.

    Returns:
        The end of a sentence whose subject is what needs it.
    """
    return (
        f"needs the extra '{extra}': pip install '.[{extra}]' in the folder of the program's source"
    )
