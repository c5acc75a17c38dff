"""Where one path is from another."""

from __future__ import annotations

import os


def is_below(path: str, folder: str) -> bool:
    """Whether a path is a folder or file, or is under it, by their names alone.

    Args:
        path: absolute, without links.
        folder: likewise.

    Returns:
        True also where both are the same.
    """
    return path == folder or path.startswith(folder.rstrip(os.sep) + os.sep)


def within(path: str, folder: str) -> bool:
    """Whether a path is a folder or file, or is under it, links followed.

    Args:
        path: absolute, or from the working directory; need not exist.
        folder: likewise.

    Returns:
        True also where both are the same.
    """
    return is_below(os.path.realpath(path), os.path.realpath(folder))


def path_from(path: str, folder: str) -> str:
    """A path as a file in a folder names it.

    Args:
        path: absolute, or from the working directory.
        folder: absolute.

    Returns:
        From the folder, with `/` between folders; `..` only where it is not in the folder by a link
        either.
    """
    whole = os.path.abspath(path)
    name = os.path.relpath(whole, folder)
    if name.startswith(os.pardir):
        own, last = os.path.split(whole)
        real = os.path.relpath(os.path.join(os.path.realpath(own), last), os.path.realpath(folder))
        name = name if real.startswith(os.pardir) else real
    return name.replace(os.sep, "/")
