"""Which files a call means."""

from __future__ import annotations

import os
from collections.abc import Iterable

from msgspec import Struct

from checker.results import Unreadable

ENDINGS = (".yaml", ".yml", ".json")
SETTINGS = frozenset(("prescreed.yaml", "prescreed.waivers.yaml"))
"""Files that stand beside designs and are none."""
STANDARD_INPUT = "-"


class Named(Struct, frozen=True):
    """The design files of a call, in path order, and the paths that lead to none."""

    files: list[str]
    problems: list[Unreadable]


def designs(paths: Iterable[str]) -> Named:
    """The design files under these paths; a folder is searched with all folders in it."""
    files: set[str] = set()
    problems: list[Unreadable] = []
    for path in paths:
        if path == STANDARD_INPUT or os.path.isfile(path):
            files.add(path)
        elif os.path.isdir(path):
            found = list(_under(path))
            files.update(found)
            if not found:
                wanted = ", ".join(f"*{ending}" for ending in ENDINGS)
                problems.append(
                    Unreadable(path, 1, 1, f"There is no design under this folder ({wanted}).")
                )
        elif os.path.exists(path):
            files.add(path)
        else:
            problems.append(Unreadable(path, 1, 1, "There is no such file or folder."))
    return Named(sorted(files), problems)


def _under(folder: str) -> Iterable[str]:
    for here, folders, names in os.walk(folder):
        folders[:] = [name for name in folders if not name.startswith(".")]
        for name in names:
            if name.endswith(ENDINGS) and name not in SETTINGS and not name.startswith("."):
                yield os.path.join(here, name)
