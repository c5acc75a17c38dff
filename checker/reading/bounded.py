"""Reads files: plain ones only, and never more bytes than such a file can plausibly have."""

from __future__ import annotations

import errno
import os
import stat
import sys
from typing import IO

LARGEST_FILE = 8 * 1024 * 1024
"""Largest file that is written by people, in bytes."""
LARGEST_RECORD = 256 * 1024 * 1024
"""Largest file that is written by a program (a list of files, known findings), in bytes."""
USUAL_FILE = 64 * 1024
"""Most files have fewer bytes than this."""


def start_of(path: str | os.PathLike[str], most: int = LARGEST_FILE) -> bytes:
    """The file's bytes, at most one more than `most`, so that the caller sees when it is too large.

    Raises OSError, also for a pipe or a device, which may never end or block for ever.
    """
    _refuse_unless_plain(os.stat(path).st_mode)
    # Between the look and the opening the file may have become a pipe: not to wait for its writer.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with open(handle, "rb") as file:
        _refuse_unless_plain(os.fstat(handle).st_mode)
        return bounded(file, most)


def content(path: str | os.PathLike[str], most: int = LARGEST_FILE) -> bytes:
    """The whole file; raises OSError, also where it has more than `most` bytes."""
    data = start_of(path, most)
    if len(data) > most:
        raise OSError(errno.EFBIG, f"it has more than the {most:,} bytes that it may have")
    return data


def standard_input(most: int = LARGEST_FILE) -> bytes:
    """The content of standard input, at most one byte more than `most`."""
    return bounded(sys.stdin.buffer, most)


def bounded(file: IO[bytes], most: int) -> bytes:
    """The stream's bytes, at most one more than `most`."""
    # Room for the largest file is made only where a file is large.
    data = file.read(min(USUAL_FILE, most + 1))
    return data if len(data) < USUAL_FILE else data + file.read(most + 1 - USUAL_FILE)


def why(error: OSError) -> str:
    """An error's message without numbers and paths."""
    return str(error.strerror or error)


def _refuse_unless_plain(mode: int) -> None:
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "it is a pipe or a device, not a file")
