"""Files beside a design: its answers, its drawing and the map of that.

A worker on another machine cannot read the caller's disk: there, the files are those that were sent
along.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar

from checker.reading import bounded

Files = Mapping[str, "bytes | OSError"]
"""By path, what a file holds, or why it cannot be read."""

_brought: ContextVar[Files | None] = ContextVar("brought", default=None)


@contextmanager
def brought(files: Files | None) -> Iterator[None]:
    """Within this context, the files of the caller's disk are these and no others.

    Args:
        files: by path; None for the disk of this machine.

    Returns:
        A context without a value; it holds for this thread, or this task of an event loop.
    """
    token = _brought.set(files)
    try:
        yield
    finally:
        _brought.reset(token)


def exists(path: str) -> bool:
    """Whether there is anything at this path of the caller's disk, even a broken link.

    Args:
        path: a file's, not an address.

    Returns:
        False also where it was not sent along with the design.
    """
    files = _brought.get()
    return os.path.lexists(path) if files is None else path in files


def content(path: str, most: int = bounded.LARGEST_FILE) -> bytes:
    """The whole file, from the caller's disk or an address.

    Args:
        path: a file's path, or an address.
        most: the bytes that it may have; not checked for a file that was sent along.

    Returns:
        Its bytes.

    Raises:
        OSError: it cannot be read, or is larger.
    """
    if "://" in path:
        return _from_address(path, most)
    files = _brought.get()
    if files is None:
        return bounded.content(path, most)
    found = files.get(path, FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT)))
    if isinstance(found, OSError):
        raise found
    return found


def read_all(paths: list[tuple[str, int]]) -> dict[str, bytes | OSError]:
    """The content of several files, to be sent along with a design.

    Args:
        paths: each with the bytes that it may have.

    Returns:
        By path its bytes, or why it cannot be read.
    """
    found: dict[str, bytes | OSError] = {}
    for path, most in paths:
        try:
            found[path] = content(path, most)
        except OSError as error:
            found[path] = error
    return found


def _from_address(path: str, most: int) -> bytes:
    import fsspec

    with fsspec.open(path, "rb") as remote:
        data = bounded.bounded(remote, most)
    if len(data) > most:
        raise bounded.too_large(most)
    return data
