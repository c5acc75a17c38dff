"""The folders of the program's own data."""

from __future__ import annotations

import errno
import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

MOST_FOLDERS = 2_000
"""Subfolders that a pack of rules may have; another one means that the folder is not a pack."""


def rule_files(folder: str | Path) -> list[str]:
    """The files of a folder of rules, or the one file that is named instead.

    Args:
        folder: the path of either; whether a file exists is not looked up.

    Returns:
        Paths of all `*.yaml` in it and below it, sorted folder by folder.

    Raises:
        OSError: it has more than MOST_FOLDERS folders below it.
    """
    if not os.path.isdir(folder):
        return [str(folder)]
    found: list[str] = []
    for number, (here, folders, names) in enumerate(os.walk(folder)):
        if number == MOST_FOLDERS:
            words = f"it has more than {MOST_FOLDERS:,} folders; name the one with the rules"
            raise OSError(errno.EFBIG, words)
        folders.sort()
        found += [os.path.join(here, name) for name in names if name.endswith(".yaml")]
    return sorted(found, key=lambda path: path.split(os.sep))


PACKAGE = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
"""The folder of the package."""


def data_path(name: str) -> str:
    """A folder of the program's own data: inside the installed package, else beside it.

    Args:
        name: `rules` or `schemas`.

    Returns:
        Its absolute path.
    """
    packaged = os.path.join(PACKAGE, "data", name)
    return packaged if os.path.isdir(packaged) else os.path.join(os.path.dirname(PACKAGE), name)


def data_folder(name: str) -> Path:
    """The same as a Path, whose import a start over unchanged designs avoids.

    Args:
        name: `rules` or `schemas`.

    Returns:
        Its absolute path.
    """
    from pathlib import Path

    return Path(data_path(name))


def headings() -> Path:
    """The file of what people call the things in a design."""
    from pathlib import Path

    return Path(PACKAGE, "words", "headings.yaml")
