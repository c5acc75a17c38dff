"""Where reports go: standard output, or files that appear whole or not at all."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from types import TracebackType
from typing import IO

from checker.reports import Chosen, Writer, writer
from checker.results import RuleSet, Totals, Unreadable

STANDARD_OUTPUT = "-"


class Unwritable(Exception):
    """A call that cannot be carried out, in words for the person."""


def pair_up(given: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """(format, file) pairs from options in the order given: an --output follows its --format.

    An --output before every --format belongs to the first. Raises Unwritable where an output
    has no format left, or two reports would go to the same place.
    """
    pairs: list[list[str | None]] = []
    for option, value in given:
        if option == "format":
            if pairs and pairs[-1][0] is None:
                pairs[-1][0] = value
            else:
                pairs.append([value, None])
        elif pairs and pairs[-1][1] is None:
            pairs[-1][1] = value
        else:
            pairs.append([None, value])
    if len(pairs) > 1 and any(name is None for name, _ in pairs):
        raise Unwritable("--output: there are more outputs than formats; give each its --format")
    whole = [(name or "text", file or STANDARD_OUTPUT) for name, file in pairs]
    whole = whole or [("text", STANDARD_OUTPUT)]
    files = [file for _, file in whole]
    for file in files:
        if files.count(file) > 1:
            where = "standard output" if file == STANDARD_OUTPUT else f"'{file}'"
            raise Unwritable(f"--output: two reports cannot both go to {where}")
    return whole


class Outputs:
    """The reports of one run, being written."""

    def __init__(self, pairs: list[tuple[str, str]]) -> None:
        self.files = [file for _, file in pairs]
        self.formats = [Chosen(name, *_look(file)) for name, file in pairs]
        self.writers: list[Writer] = [writer(chosen) for chosen in self.formats]
        self.started = [False] * len(pairs)
        self.streams: list[IO[bytes]] = []
        try:
            for file in self.files:
                self.streams.append(_opened(file))
        except Unwritable:
            self._forget()
            raise

    def __enter__(self) -> Outputs:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._forget()

    def head(self, rules: RuleSet) -> None:
        """Write what stands before the first design."""
        for stream, made in zip(self.streams, self.writers, strict=True):
            stream.write(made.head(rules))

    def add(self, pieces: list[list[bytes]]) -> None:
        """Write the next designs."""
        for number, own in enumerate(pieces):
            if not own:
                continue
            stream, separator = self.streams[number], self.writers[number].separator
            if self.started[number]:
                stream.write(separator)
            stream.write(separator.join(own))
            self.started[number] = True
            if self.files[number] == STANDARD_OUTPUT:
                stream.flush()

    def finish(self, totals: Totals, unreadable: list[Unreadable]) -> None:
        """Write what stands after the last design, and put each file in its place."""
        for stream, made in zip(self.streams, self.writers, strict=True):
            stream.write(made.tail(totals, unreadable))
            stream.flush()
        for stream, file in zip(self.streams, self.files, strict=True):
            if file == STANDARD_OUTPUT:
                continue
            stream.close()
            try:
                _put(stream.name, file)
            except OSError as error:
                raise Unwritable(f"'{file}' cannot be written: {error.strerror}") from None

    def _forget(self) -> None:
        """Remove what was not finished."""
        for stream, file in zip(self.streams, self.files, strict=False):
            if file != STANDARD_OUTPUT:
                stream.close()
                if os.path.exists(stream.name):
                    os.unlink(stream.name)


def _opened(file: str) -> IO[bytes]:
    if file == STANDARD_OUTPUT:
        return sys.stdout.buffer
    folder = os.path.dirname(file) or "."
    if os.path.isdir(file):
        raise Unwritable(f"'{file}' is a folder; name a file for --output")
    if not os.path.isdir(folder):
        raise Unwritable(f"'{file}' cannot be written: there is no folder '{folder}'")
    if os.path.exists(file) and not os.path.isfile(file):
        # A device or a pipe has no place to put a whole file in; it takes the bytes at the end.
        folder = tempfile.gettempdir()
    try:
        return tempfile.NamedTemporaryFile(  # lives as long as the run
            dir=folder, prefix=".prescreed-", delete=False
        )
    except OSError as error:
        raise Unwritable(f"'{file}' cannot be written: {error.strerror}") from None


def _put(written: str, file: str) -> None:
    if os.path.exists(file) and not os.path.isfile(file):
        with open(written, "rb") as source, open(file, "wb") as sink:
            shutil.copyfileobj(source, sink)
        os.unlink(written)
        return
    if os.path.exists(file):
        mode = os.stat(file).st_mode & 0o777
    else:
        mask = os.umask(0)
        os.umask(mask)
        mode = 0o666 & ~mask
    os.chmod(written, mode)
    os.replace(written, file)


def _look(file: str) -> tuple[int, bool]:
    """The width and colour that a report's reader has."""
    if file != STANDARD_OUTPUT:
        return 100, False
    columns = shutil.get_terminal_size((80, 24)).columns
    terminal = sys.stdout.isatty() and os.environ.get("TERM") != "dumb"
    if os.environ.get("NO_COLOR"):
        return columns, False
    forced = os.environ.get("FORCE_COLOR", "") not in ("", "0")
    return columns, terminal or forced
