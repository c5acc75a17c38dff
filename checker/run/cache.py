"""Keeps results by content, so that checking an unchanged design costs almost nothing.

Entries are in one SQLite file, which several runs may use at once and a killed run cannot damage.
Each is compressed with a checksum; an entry with a wrong checksum counts as absent.

A checksum does not prevent forgery: who can write to the file can plant results. So a folder or
file that belongs to another user, or that others may write, is not used. Signing entries with a
secret key was measured and left out: it takes 15 to 45 µs a design of a run over unchanged designs,
which takes 55; and who can write what only this user may write can also read the key, and change
the program.
"""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterable
from contextlib import suppress
from typing import TYPE_CHECKING, Any
from zlib import crc32

from checker.reading.digests import blake2b

if TYPE_CHECKING:
    import sqlite3

LARGEST = 512 * 1024 * 1024
"""Most bytes of entries that are kept; the oldest are removed first."""
PATIENCE = 2.0
"""Seconds to wait for another run that is writing."""
_AT_ONCE = 500
_SUM = 4
"""Bytes of the checksum before an entry."""


def folder() -> str:
    """The cache's folder: PRESCREED_CACHE, else the user's own folder for such files."""
    named = os.environ.get("PRESCREED_CACHE")
    if named:
        return named
    return os.path.join(os.environ.get("XDG_CACHE_HOME") or _usual(sys.platform), "prescreed")


def _usual(platform: str) -> str:
    """The folder where a system keeps such files."""
    if platform == "win32" and os.environ.get("LOCALAPPDATA"):
        return os.path.join(os.environ["LOCALAPPDATA"], "Cache")
    parts = ("Library", "Caches") if platform == "darwin" else (".cache",)
    return os.path.join(os.path.expanduser("~"), *parts)


def key_of(*parts: bytes) -> bytes:
    """The key of an entry that depends on exactly these parts.

    Args:
        *parts: in an order that is always the same; where one ends and the next begins counts too.

    Returns:
        16 bytes.
    """
    made = blake2b(digest_size=16)
    for part in parts:
        made.update(len(part).to_bytes(8, "little"))
        made.update(part)
    return made.digest()


def unpacked(kept: bytes) -> bytes:
    """An entry from the bytes that are kept of it.

    Args:
        kept: as `Cache.get` returns it.

    Returns:
        The bytes that were given to `Cache.put`.
    """
    import lz4.block

    entry: bytes = lz4.block.decompress(kept)
    return entry


def _packed(entry: bytes) -> bytes:
    import lz4.block

    kept: bytes = lz4.block.compress(entry)
    return crc32(kept).to_bytes(_SUM, "little") + kept


def _whole(entry: Any) -> bool:
    """Whether this is an entry with the right checksum."""
    if not isinstance(entry, bytes) or len(entry) <= _SUM:
        return False
    return crc32(memoryview(entry)[_SUM:]) == int.from_bytes(entry[:_SUM], "little")


def others_may_write(path: str | os.PathLike[str]) -> str:
    """Why a file or folder may have been written by somebody else.

    Args:
        path: of either; a link counts with what it leads to.

    Returns:
        In words for the person; empty where it cannot, or where there is no such file.
    """
    if not hasattr(os, "getuid"):  # a system with rights of another kind
        return ""
    try:
        link, found = os.lstat(path), os.stat(path)
    except FileNotFoundError:
        return ""
    if {link.st_uid, found.st_uid} != {os.getuid()}:
        return f"'{path}' belongs to somebody else"
    if found.st_mode & (stat.S_IWGRP | stat.S_IWOTH):
        return f"others may write '{path}'; take that right away, or remove it"
    return ""


class Cache:
    """Entries by key. A cache that cannot be used is empty; it never raises."""

    def __init__(self, path: str | os.PathLike[str] | None = None, largest: int = LARGEST) -> None:
        """Open the file, or start an empty one where it is damaged.

        Args:
            path: of the file; without one, `results.sqlite` in `folder()`.
            largest: most bytes of entries that are kept.
        """
        self.path = os.fspath(path or os.path.join(folder(), "results.sqlite"))
        self.largest = largest
        self.refused = ""
        """Why the folder is not used, in words for the person; empty where it is."""
        self._connection: sqlite3.Connection | None = None
        self._open(again=True)

    def get(self, keys: Iterable[bytes]) -> dict[bytes, bytes]:
        """The entries that there are for some keys.

        Args:
            keys: as `key_of` makes them.

        Returns:
            By key, compressed (see `unpacked`); keys without an entry are left out.
        """
        wanted = list(keys)
        found: dict[bytes, bytes] = {}
        for start in range(0, len(wanted), _AT_ONCE):
            some = wanted[start : start + _AT_ONCE]
            marks = ",".join("?" * len(some))
            rows = self._do(f"SELECT key, entry FROM entries WHERE key IN ({marks})", some)
            found |= {key: entry[_SUM:] for key, entry in rows if _whole(entry)}
        return found

    def put(self, entries: Iterable[tuple[bytes, bytes]]) -> None:
        """Keep some entries; the oldest make room.

        Args:
            entries: key and content of each; one under a key that is there already replaces it.
        """
        rows = [(key, _packed(entry)) for key, entry in entries]
        if not rows:
            return
        self._do("INSERT OR REPLACE INTO entries (key, entry) VALUES (?, ?)", rows, many=True)
        self._make_room()

    def close(self) -> None:
        """Close the file."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def _make_room(self) -> None:
        pages = self._do("PRAGMA page_count")
        size = self._do("PRAGMA page_size")
        free = self._do("PRAGMA freelist_count")
        if not (pages and size and free):
            return
        used = (pages[0][0] - free[0][0]) * size[0][0]
        if used <= self.largest:
            return
        count = self._do("SELECT count(*) FROM entries")[0][0]
        # A tenth more than what is over, so that room is not made for every chunk.
        away = int(count * (1 - 0.9 * self.largest / used)) + 1
        self._do(
            "DELETE FROM entries WHERE rowid IN (SELECT rowid FROM entries ORDER BY rowid LIMIT ?)",
            [away],
        )

    def _open(self, *, again: bool) -> None:
        import sqlite3

        try:
            own = os.path.dirname(self.path) or "."
            if not os.path.isdir(own):
                os.makedirs(os.path.dirname(own) or ".", exist_ok=True)
                with suppress(FileExistsError):  # another run made it at the same time
                    os.mkdir(own, 0o700)
            self.refused = others_may_write(own) or others_may_write(self.path)
            if self.refused:
                return
            connection = sqlite3.connect(self.path, timeout=PATIENCE, isolation_level=None)
            connection.execute("PRAGMA journal_mode=WAL")
            connection.execute("PRAGMA synchronous=OFF")
            connection.execute(
                "CREATE TABLE IF NOT EXISTS entries (key BLOB PRIMARY KEY, entry BLOB NOT NULL)"
            )
            self._connection = connection
        except sqlite3.DatabaseError as error:
            busy = isinstance(error, sqlite3.OperationalError)
            if again and not busy:
                self._rebuild()
        except OSError:
            return

    def _rebuild(self) -> None:
        """Delete a damaged file and start with an empty one."""
        self.close()
        for ending in ("", "-wal", "-shm"):
            with suppress(FileNotFoundError):
                os.unlink(f"{self.path}{ending}")
        self._open(again=False)

    def _do(self, statement: str, values: list[Any] | None = None, *, many: bool = False) -> Any:
        import sqlite3

        if self._connection is None:
            return []
        try:
            if many:
                self._connection.execute("BEGIN")
                self._connection.executemany(statement, values or [])
                self._connection.execute("COMMIT")
                return []
            return self._connection.execute(statement, values or []).fetchall()
        except sqlite3.OperationalError:
            # Another run holds the file, or the disk is full: do without.
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            return []
        except sqlite3.DatabaseError:
            self._rebuild()
            return []
