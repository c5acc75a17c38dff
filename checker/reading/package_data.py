"""Where the program's own data lie."""

from __future__ import annotations

import errno
import os
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


def data_folder(name: str) -> Path:
    """The folder `rules` or `schemas`: inside the installed package, else beside it."""
    package = Path(__file__).parents[1]
    packaged = package / "data" / name
    return packaged if packaged.is_dir() else package.parent / name


def headings() -> Path:
    """The file of what people call things, by what they are in a design."""
    return Path(__file__).parents[1] / "words" / "headings.yaml"
