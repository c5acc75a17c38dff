"""The one way onto the disk: files appear whole or not at all, and never over what was read.

A file is written beside its final place and then moved there. Until then it is locked, so that
another run can distinguish it from what a killed run left, which it removes.
"""

from __future__ import annotations

import os
import re
import stat
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from typing import IO, Any

from checker.reading import bounded
from checker.reading.other_files import what_else

STANDARD_OUTPUT = "-"
PREFIX = ".prescreed-"
"""Prefix of the names of files that are still being written."""


BEGINNING = 1024
OURS = rb'\{("report":\d+,"tool":\{"name":"prescreed"|"\$schema":"https://[^"]*/sarif/v2\.1\.0/)'
"""How reports of this program begin, and nothing else does."""


class Unwritable(Exception):
    """A call that cannot be carried out, in words for the person."""


def unwritable(file: str, error: OSError) -> Unwritable:
    """The error for a file that cannot be written.

    Args:
        file: as the call names it.
        error: why.

    Returns:
        To be raised by the caller.
    """
    return Unwritable(f"'{file}' cannot be written: {bounded.why(error)}")


def is_folder(file: str) -> bool:
    """Whether an output is a folder, or is to be one.

    Args:
        file: as the call names it.

    Returns:
        True also for a name that ends in a slash.
    """
    return file.endswith(("/", os.sep)) or os.path.isdir(file)


def is_plain(file: str) -> bool:
    """Whether a whole file can be put here: not standard output, a device or a pipe.

    Args:
        file: as the call names it.

    Returns:
        True also where there is no file yet.
    """
    return file != STANDARD_OUTPUT and (not os.path.exists(file) or os.path.isfile(file))


def folder_of(file: str) -> str:
    """The folder for temporary files of an output.

    Args:
        file: as the call names it.

    Returns:
        Its own folder, so that a file can be moved to its place at once; else the system's folder
        for such files.
    """
    folder = os.path.dirname(file) or "."
    if is_plain(file) and os.path.isdir(folder):
        return folder
    from tempfile import gettempdir

    return gettempdir()


def refuse_overwriting(
    file: str, inputs: Iterable[str], *, is_own: str = "", design: bool = False
) -> None:
    """Refuse an output that would overwrite what must not be lost.

    Args:
        file: the output; `-` for standard output. One that is not there yet, or is no plain file,
            is never refused.
        inputs: paths of what the call reads.
        is_own: the kind of file that may be overwritten (`other_files.what_else`), besides reports
            of this program.
        design: whether designs may be overwritten.

    Raises:
        Unwritable: it is an input, or may be a design or another file that is not a report.
    """
    if file == STANDARD_OUTPUT:
        return
    try:
        there = os.stat(file)
    except OSError:
        return
    if not stat.S_ISREG(there.st_mode):
        return
    for one in inputs:
        with suppress(OSError):
            own = os.stat(one)
            if (own.st_dev, own.st_ino) == (there.st_dev, there.st_ino):
                raise Unwritable(f"'{file}' is an input of this call; name another output")
    lower = file.lower()
    if lower.endswith(".dxf"):
        raise Unwritable(f"'{file}' is there already, and a drawing; name another output")
    if design:
        return
    if lower.endswith((".yaml", ".yml")):
        raise Unwritable(f"'{file}' exists already and is no report; name another output")
    if lower.endswith(".json") and there.st_size:
        try:
            # A report of many designs is large, and is known by how it begins.
            if re.match(OURS, bounded.start_of(file, BEGINNING)):
                return
            kind = what_else(bounded.content(file, bounded.LARGEST_RECORD))
        except OSError:
            return  # the writing will say what is wrong
        if not kind:
            raise Unwritable(f"'{file}' exists already and may be a design; name another output")
        if kind not in ("own report", "no design", is_own):
            raise Unwritable(f"'{file}' exists already and holds {kind}; name another output")


_UNSEEN = "[\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]"
"""Characters that JSON leaves as they are and a terminal may obey."""


class Log:
    """Standard output as a report's place: a CI host that reads it finds no command in JSON.

    The values are the same, with such characters written as escapes; other formats do this
    themselves.
    """

    def __init__(self) -> None:
        self._json: bool | None = None

    def write(self, data: Any) -> None:
        """Write a part of a report.

        Args:
            data: bytes or a view of them; the first part decides whether it is JSON.

        Raises:
            OSError: standard output cannot be written.
        """
        if self._json is None and data:
            self._json = bytes(data[:1]) in (b"{", b"[")
        if self._json and sys.stdout.isatty():
            text = bytes(data).decode()
            data = re.sub(_UNSEEN, lambda sign: f"\\u{ord(sign[0]):04x}", text).encode()
        if self._json:
            data = bytes(data)
            # Searching for one character is by far the fastest.
            if b"#" in data and b"##" in data:
                data = data.replace(b"##", b"#\\u0023")
        sys.stdout.buffer.write(data)

    def flush(self) -> None:
        """Flush all parts.

        Raises:
            OSError: standard output cannot be written.
        """
        sys.stdout.buffer.flush()


class Staged:
    """A file being written, until it is moved to its place or discarded. Raises Unwritable."""

    def __init__(self, file: str) -> None:
        """Begin a file beside its place.

        Args:
            file: as the call names it; not standard output.

        Raises:
            Unwritable: it is a folder, or its folder is missing or has no room.
        """
        self.file = file
        folder = os.path.dirname(file) or "."
        if is_folder(file):
            raise Unwritable(f"'{file}' is a folder; name a file for --output")
        if not os.path.isdir(folder):
            raise Unwritable(f"'{file}' cannot be written: there is no folder '{folder}'")
        beside = folder_of(file)
        try:
            clear(beside)
            self.stream: IO[bytes] = _locked(beside)
        except OSError as error:
            raise unwritable(file, error) from None
        self.path = str(self.stream.name)

    def write(self, data: Any) -> None:
        """Write a part.

        Args:
            data: bytes or a view of them.

        Raises:
            Unwritable: there is no room.
        """
        try:
            self.stream.write(data)
        except OSError as error:
            raise unwritable(self.file, error) from None

    def flush(self) -> None:
        """Flush all parts to the disk.

        Raises:
            Unwritable: there is no room.
        """
        try:
            self.stream.flush()
        except OSError as error:
            raise unwritable(self.file, error) from None

    def place(self) -> None:
        """Put the whole file in its place.

        Raises:
            Unwritable: the place cannot be written; nothing is left beside it.
        """
        self.flush()
        try:
            if is_plain(self.file):
                os.chmod(self.path, _mode(self.file))
                os.replace(self.path, self.file)
            else:
                # A device or a pipe has no place to put a whole file in; it takes the bytes.
                from shutil import copyfileobj

                with open(self.path, "rb") as source, open(self.file, "wb") as sink:
                    copyfileobj(source, sink)
        except OSError as error:
            raise unwritable(self.file, error) from None
        finally:
            self.forget()

    def forget(self) -> None:
        """Leave nothing behind."""
        with suppress(OSError):  # what a full disk holds back is no longer needed
            self.stream.close()
        with suppress(OSError):
            os.unlink(self.path)


def put(content: bytes, file: str) -> None:
    """Write standard output, or a file that appears whole.

    Args:
        content: all of it.
        file: as the call names it; `-` for standard output.

    Raises:
        Unwritable: it cannot be written.
    """
    put_parts([content], file)


def put_parts(parts: Iterable[bytes], file: str) -> None:
    """The same for content that comes part by part.

    Args:
        parts: taken one after another.
        file: as for `put`.

    Raises:
        Unwritable: it cannot be written.
    """
    if file == STANDARD_OUTPUT:
        try:
            log = Log()
            for part in parts:
                log.write(part)
            log.flush()
        except OSError as error:
            raise unwritable(file, error) from None
        return
    made = Staged(file)
    try:
        for part in parts:
            made.write(part)
        made.place()
    finally:
        made.forget()


def put_all(folder: str, files: Iterable[tuple[str, Iterable[bytes]]]) -> None:
    """Write files into a folder; none appears before all are written.

    Args:
        folder: made where it is missing; files of the same names are replaced, others stay.
        files: the name of each, which may have folders in it, and its parts.

    Raises:
        Unwritable: one cannot be written.
    """
    from shutil import rmtree
    from tempfile import mkdtemp

    try:
        os.makedirs(folder, exist_ok=True)
        clear(folder)
        beside = mkdtemp(dir=folder, prefix=PREFIX)
    except OSError as error:
        raise unwritable(folder, error) from None
    held = os.open(beside, os.O_RDONLY)
    try:
        _lock(held)
        names = []
        for name, content in files:
            os.makedirs(os.path.dirname(os.path.join(beside, name)), exist_ok=True)
            with open(os.path.join(beside, name), "wb") as file:
                file.writelines(content)
            names.append(name)
        for name in names:
            whole = os.path.join(folder, name)
            os.makedirs(os.path.dirname(whole), exist_ok=True)
            os.chmod(os.path.join(beside, name), _mode(whole))
            os.replace(os.path.join(beside, name), whole)
    except OSError as error:
        raise unwritable(folder, error) from None
    finally:
        os.close(held)
        rmtree(beside, ignore_errors=True)


@contextmanager
def staged(file: str) -> Iterator[str]:
    """A path for another library to write to; at the end the file is moved to its place.

    Args:
        file: as the call names it.

    Returns:
        A context whose value is the path; where an error leaves it, nothing is put in place.

    Raises:
        Unwritable: it cannot be written.
    """
    made = Staged(file)
    try:
        yield made.path
        made.place()
    except OSError as error:
        raise unwritable(file, error) from None
    finally:
        made.forget()


def clear(folder: str) -> None:
    """Remove what killed runs left in a folder.

    Args:
        folder: what cannot be removed from it, or belongs to a run that goes on, stays.
    """
    try:
        with os.scandir(folder) as found:
            left = [one.path for one in found if one.name.startswith(PREFIX)]
    except OSError:
        return
    if not left:
        return
    from shutil import rmtree

    for path in left:
        with suppress(OSError):
            held = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
            try:
                if _lock(held, sure=True):
                    rmtree(path) if os.path.isdir(path) else os.unlink(path)
            finally:
                os.close(held)


def _locked(folder: str) -> IO[bytes]:
    """A new file in a folder, which no other run clears; raises OSError."""
    from tempfile import NamedTemporaryFile

    while True:
        made: Any = NamedTemporaryFile(  # noqa: SIM115  # lives as long as the run
            dir=folder, prefix=PREFIX, delete=False
        )
        # Another run may have removed it as left over before it was locked.
        if _lock(made.fileno()) and os.fstat(made.fileno()).st_nlink:
            return made  # type: ignore[no-any-return]
        made.close()


def _lock(handle: int, *, sure: bool = False) -> bool:
    """Lock an open file, unless another run has; sure: whether that must be known for certain."""
    try:
        import fcntl
    except ImportError:  # this system has no such locks
        return not sure
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a file system without locks
        return not sure
    return True


def _mode(file: str) -> int:
    """The permissions that a file has, or would be created with."""
    if os.path.exists(file):
        return os.stat(file).st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
