"""Reads files: plain ones only, and never more bytes than such a file can plausibly have."""

from __future__ import annotations

import errno
import os
import stat
import sys
from io import BufferedReader
from typing import IO

LARGEST_FILE = 8 * 1024 * 1024
"""Largest file that is written by people, in bytes."""
LARGEST_RECORD = 256 * 1024 * 1024
"""Largest file that is written by a program (a list of files, known findings), in bytes."""
USUAL_FILE = 64 * 1024
"""Most files have fewer bytes than this."""


def start_of(path: str | os.PathLike[str], most: int = LARGEST_FILE) -> bytes:
    """The file's bytes, at most one more than it may have.

    By that one more the caller sees that the file is too large.

    Args:
        path: a file's path.
        most: the bytes that it may have.

    Returns:
        Up to `most` + 1 bytes.

    Raises:
        OSError: it cannot be read, or is a folder, or a pipe or a device, which may never end.
    """
    _refuse_unless_plain(os.stat(path).st_mode)
    # Between the look and the opening the file may have become a pipe: not to wait for its writer.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with open(handle, "rb") as file:
        _refuse_unless_plain(os.fstat(handle).st_mode)
        return bounded(file, most)


def content(path: str | os.PathLike[str], most: int = LARGEST_FILE) -> bytes:
    """The whole file.

    Args:
        path: a file's path.
        most: the bytes that it may have.

    Returns:
        Its bytes.

    Raises:
        OSError: as for `start_of`, and where it has more than `most` bytes.
    """
    data = start_of(path, most)
    if len(data) > most:
        raise too_large(most)
    return data


def too_large(most: int) -> OSError:
    """The error for a file that has more bytes than it may have.

    Args:
        most: the bytes that it may have.

    Returns:
        To be raised by the caller.
    """
    return OSError(errno.EFBIG, f"it has more than the {most:,} bytes that it may have")


def standard_input(most: int = LARGEST_FILE) -> bytes:
    """The content of standard input, at most one byte more than it may have.

    Args:
        most: the bytes that it may have.

    Returns:
        Up to `most` + 1 bytes.
    """
    return bounded(sys.stdin.buffer, most)


def bounded(file: IO[bytes], most: int) -> bytes:
    """The content of a stream, at most one byte more than it may have.

    Args:
        file: opened for reading; may return fewer bytes than asked for, and none only at its end.
        most: the bytes that it may have.

    Returns:
        Up to `most` + 1 bytes.
    """
    # Python's own streams give less than is asked for only at their end, one from far away does
    # before, too. To ask once more would take half as long again for a small file.
    at_once = isinstance(file, BufferedReader)
    parts = []
    left = most + 1
    while left:
        # Room for the largest file is made only where a file is large.
        wanted = min(left, max(USUAL_FILE, most + 1 - left))
        part = file.read(wanted)
        parts.append(part)
        left -= len(part)
        if not part or (at_once and len(part) < wanted):
            break
    return b"".join(parts)


def why(error: OSError) -> str:
    """An error's message without numbers and paths.

    Args:
        error: from reading or writing a file.

    Returns:
        A few words, as the system has them.
    """
    return str(error.strerror or error)


def _refuse_unless_plain(mode: int) -> None:
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "it is a pipe or a device, not a file")
