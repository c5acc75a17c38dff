"""Which files a call means."""

from __future__ import annotations

import os
from collections.abc import Iterable
from functools import lru_cache

from msgspec import Struct

from checker.reading.mistakes import Unreadable

ENDINGS = (".yaml", ".yml", ".json")
WAIVERS = "prescreed.waivers.yaml"
KNOWN = "prescreed.known.json"
SETTINGS_FILE = "prescreed.yaml"
SETTINGS = frozenset((SETTINGS_FILE, WAIVERS, KNOWN))
"""Files that stand beside designs and are none."""
BESIDE = (".readings.yaml", ".map.yaml")
"""And how the names of others end."""
STANDARD_INPUT = "-"


class Named(Struct, frozen=True):
    """The design files of a call, in path order, each once, and the paths that lead to none."""

    files: list[str]
    problems: list[Unreadable]


def designs(paths: Iterable[str]) -> Named:
    """The design files under these paths; a folder is searched with all folders in it."""
    files: set[str] = set()
    problems: list[Unreadable] = []
    for path in paths:
        if path == STANDARD_INPUT or os.path.isfile(path):
            files.add(path)
        elif is_remote(path):
            found, problem = _remote(path)
            files.update(found)
            problems += problem
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
    return Named(once(sorted(files)), problems)


def once(paths: Iterable[str]) -> list[str]:
    """The paths in their order, without one that leads to the same file as one before it."""
    folders: dict[str, str] = {}
    found: dict[str, str] = {}
    for path in paths:
        named = is_remote(path) or path == STANDARD_INPUT
        found.setdefault(path if named else _real(path, folders), path)
    return list(found.values())


def _real(path: str, folders: dict[str, str]) -> str:
    """The file's path without links; folders: those followed already, for they hold many files."""
    if os.path.islink(path):
        return os.path.realpath(path)
    folder, name = os.path.split(path)
    if folder not in folders:
        folders[folder] = os.path.realpath(folder)
    return os.path.join(folders[folder], name)


def is_remote(path: str) -> bool:
    """Whether a path is an address such as `s3://bucket/jobs`, for fsspec to open."""
    return "://" in path


def _remote(address: str) -> tuple[list[str], list[Unreadable]]:
    try:
        import fsspec
    except ImportError:
        words = "An address wants the extra 'remote': pip install 'prescreed[remote]'."
        return [], [Unreadable(address, 1, 1, words)]
    try:
        store, root = fsspec.core.url_to_fs(address)
        found = [store.unstrip_protocol(name) for name in store.find(root) if _is_design(name)]
    except (OSError, ValueError, ImportError) as error:
        return [], [Unreadable(address, 1, 1, f"The address cannot be read: {error}.")]
    words = "There is no design under this address."
    return found, [] if found else [Unreadable(address, 1, 1, words)]


def _is_design(path: str) -> bool:
    name = path.rsplit("/", 1)[-1].lower()
    beside = name in SETTINGS or name.startswith(".") or name.endswith(BESIDE)
    return not beside and name.endswith(ENDINGS)


def _under(folder: str) -> Iterable[str]:
    for here, folders, names in os.walk(folder):
        folders[:] = [name for name in folders if not name.startswith(".")]
        paths = (os.path.join(here, name) for name in names if _is_design(name))
        # A link that leads nowhere is a mistake to be told; a pipe or a device is no file.
        yield from (path for path in paths if os.path.isfile(path) or not os.path.exists(path))


@lru_cache(maxsize=4096)
def root_of(folder: str) -> str:
    """The root of the repository that a folder lies in.

    A submodule lies in the repository around it. Without a repository: the folder of the call,
    where it holds the folder, else the folder.
    """
    folder = os.path.abspath(folder)
    above = folder
    while not _is_root(above):
        if above == os.path.dirname(above):
            here = os.getcwd()
            return here if os.path.commonpath([folder, here]) == here else folder
        above = os.path.dirname(above)
    return above


def _is_root(folder: str) -> bool:
    """Whether a repository starts here; a submodule is a part of the one around it."""
    mark = os.path.join(folder, ".git")
    if os.path.isdir(mark):
        return True
    try:
        with open(mark, "rb") as file:
            return b"/modules/" not in file.read(4096)
    except OSError:
        return False


def upward(folder: str) -> list[str]:
    """The folder and those above it, up to the root of its repository."""
    folder = os.path.abspath(folder)
    root = root_of(folder)
    folders = [folder]
    while folders[-1] != root:
        folders.append(os.path.dirname(folders[-1]))
    return folders
