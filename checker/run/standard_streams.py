"""Standard output and error for commands, whatever their reader does.

A command whose reader has gone continues, so that its exit status is right; any other failure of
standard output is one sentence and status 2.
"""

from __future__ import annotations

import errno
import io
import os
import sys
from contextlib import suppress
from typing import Any, TextIO

ROOM = 1 << 16
"""Bytes that are buffered before a write."""


class Lost(Exception):
    """Output cannot be written; the message is for the user."""


class StandardOutput(io.FileIO):
    """Raw standard output; a reader that stops reading (`| head`) is not an error.

    The command goes on without a reader, so that its exit status is that of its findings. Any other
    failure is reported once, as Lost.
    """

    heard = True

    def write(self, data: Any) -> int:
        """Write as to any raw file, also without a reader.

        Args:
            data: bytes.

        Returns:
            How many bytes were taken; all of them where nobody reads any more.

        Raises:
            Lost: the first time that it fails for another reason than that.
        """
        if self.heard:
            try:
                return super().write(data)
            except BrokenPipeError:
                self.heard = False
            except OSError as error:
                self.heard = False
                why = "it is closed" if error.errno == errno.EBADF else error.strerror
                raise Lost(f"standard output cannot be written: {why}") from None
        return len(data)


class StandardError(io.FileIO):
    """Raw standard error; where it cannot be written, the command goes on without messages."""

    def write(self, data: Any) -> int:
        """Write as to any raw file, but never raise.

        Args:
            data: bytes.

        Returns:
            How many bytes were taken; all of them where it cannot be written.
        """
        with suppress(OSError):
            return super().write(data)
        return len(data)


def install() -> None:
    """Replace Python's streams by these; a stream that the caller closed gets a substitute."""
    if os.name == "nt" and sys.stdout is not None and sys.stdout.isatty():
        return  # Python's own console stream knows the signs that the console's code page lacks
    # A stand-in that cannot be written to says so at the first attempt.
    raw = StandardOutput(_descriptor(sys.stdout), "wb", closefd=False)
    sys.stdout = _text(raw, sys.stdout, "strict", by_line=raw.isatty())
    buffer = StandardError(_descriptor(sys.stderr), "wb", closefd=False)
    sys.stderr = _text(buffer, sys.stderr, "backslashreplace", by_line=True)


def _descriptor(stream: TextIO | None) -> int:
    if stream is None:
        return os.open(os.devnull, os.O_RDONLY)
    stream.flush()
    return stream.fileno()


def _text(raw: io.FileIO, before: TextIO | None, errors: str, *, by_line: bool) -> TextIO:
    # Into a file or another program everything goes as UTF-8, whatever code page a system has, so
    # that what one command writes another can read; a terminal gets only characters it can show.
    own = before.encoding if before and raw.isatty() else "utf-8"
    errors = "backslashreplace" if raw.isatty() else (before.errors if before else None) or errors
    return io.TextIOWrapper(
        io.BufferedWriter(raw, ROOM), own, errors, newline="\n", line_buffering=by_line
    )
