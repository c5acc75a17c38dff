"""Where the program's own data lie."""

from __future__ import annotations

import errno
import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

MOST_FOLDERS = 2_000
"""Folders that a pack of rules may have; whoever names more has named something else."""


def rule_files(folder: str | Path) -> list[str]:
    """The files of a folder of rules, or the one file that is named instead; raises OSError."""
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
    """The folder `rules` or `schemas`: inside the installed package, else beside it."""
    packaged = os.path.join(PACKAGE, "data", name)
    return packaged if os.path.isdir(packaged) else os.path.join(os.path.dirname(PACKAGE), name)


def data_folder(name: str) -> Path:
    """The same as a Path, which a start over unchanged designs does without."""
    from pathlib import Path

    return Path(data_path(name))


def headings() -> Path:
    """The file of what people call things, by what they are in a design."""
    from pathlib import Path

    return Path(PACKAGE, "words", "headings.yaml")
