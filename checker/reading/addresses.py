"""Designs at addresses such as `s3://bucket/jobs`, which fsspec lists and opens."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from checker.reading.mistakes import Unreadable
from checker.words.extras import needs


def is_remote(path: str) -> bool:
    """Whether a path is an address such as `s3://bucket/jobs`, for fsspec to open.

    Args:
        path: as it is given on the command line.

    Returns:
        True also for an address that nothing can open.
    """
    return "://" in path


class Listing(Iterable[str]):
    """The designs at some addresses in path order, each once, found on demand.

    Only the names in one folder and those above it are in memory at once, so any number of folders
    can be searched.

    Attributes:
        addresses: of files or folders.
        problems: why some cannot be read, as far as they were looked up; each search begins without
            any.
    """

    def __init__(self, addresses: Sequence[str], is_design: Callable[[str], bool]) -> None:
        """Look nothing up yet.

        Args:
            addresses: of files or folders.
            is_design: whether a file is a design, by its name or address.
        """
        self.addresses = addresses
        self.problems: list[Unreadable] = []
        self._is_design = is_design

    def __iter__(self) -> Iterator[str]:
        from heapq import merge

        self.problems.clear()
        last = ""
        for path in merge(*map(self._under, self.addresses)):
            if path != last:
                yield path
            last = path

    def _under(self, address: str) -> Iterator[str]:
        try:
            import fsspec
        except ImportError:
            self._refuse(address, f"An address {needs('remote')}.")
            return
        before, found = len(self.problems), False
        try:
            store, root = fsspec.core.url_to_fs(address)
            for path in self._files(store, root):
                found = True
                yield store.unstrip_protocol(path)
        except FileNotFoundError:
            pass  # reported below
        except (OSError, ValueError, ImportError) as error:
            self._refuse(address, f"The address cannot be read: {error}.")
        if not found and len(self.problems) == before:
            self._refuse(address, "There is no design under this address.")

    def _files(self, store: Any, folder: str) -> Iterator[str]:
        """The designs under a folder, or the file of that name, in the order of their paths."""
        names: list[tuple[str, bool]] = []
        for entry in store.ls(folder, detail=True):
            name, further = entry["name"], entry["type"] == "directory"
            if further and name.rstrip("/") != folder.rstrip("/"):
                names.append((f"{name.rstrip('/')}/", True))
            elif not further and self._is_design(name):
                names.append((name, False))
        store.invalidate_cache(folder)  # else the store keeps the names of all of them
        names.sort(reverse=True)
        while names:
            name, further = names.pop()
            if not further:
                yield name
                continue
            try:
                yield from self._files(store, name.rstrip("/"))
            except OSError as error:  # the others can be read all the same
                words = f"The folder cannot be read: {error}."
                self._refuse(store.unstrip_protocol(name), words)

    def _refuse(self, address: str, words: str) -> None:
        self.problems.append(Unreadable(address, 1, 1, words))
