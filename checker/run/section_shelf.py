"""Keeps solved floors in section by their content, in the cache beside the results of designs.

A changed design is checked again, but most of its sections are unchanged. Entries are kept and
trusted like any others in the cache.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from msgspec import msgpack

from checker.physics.shelf import shelved
from checker.run.cache import Cache, key_of, unpacked

if TYPE_CHECKING:
    from checker.physics.build_up import Section


class SectionShelf:
    """Solutions of floors in section, in a cache's file; each process opens it for itself."""

    def __init__(self, path: str | os.PathLike[str], program: Callable[[], bytes]) -> None:
        """Open nothing yet.

        Args:
            path: of the cache's file.
            program: returns what identifies this program; called when it is first needed.
        """
        self._path, self._program_of = path, program
        self._program = b""
        self._cache: Cache | None = None
        self._process = 0

    def take(self, sections: Sequence[Section]) -> Mapping[Section, bytes]:
        """The solutions that are kept for some sections.

        Args:
            sections: floors in section.

        Returns:
            By section, as they were given to `keep`; sections without a solution are left out.
        """
        keys = {self._key(section): section for section in sections}
        return {keys[key]: unpacked(entry) for key, entry in self._own().get(keys).items()}

    def keep(self, solutions: Mapping[Section, bytes]) -> None:
        """Keep some solutions.

        Args:
            solutions: by section, packed as `physics.section` does it.
        """
        self._own().put((self._key(section), packed) for section, packed in solutions.items())

    def close(self) -> None:
        """Close the file."""
        if self._cache is not None and self._process == os.getpid():
            self._cache.close()
        self._cache = None

    def _key(self, section: Section) -> bytes:
        self._program = self._program or self._program_of()
        return key_of(b"section", self._program, msgpack.encode(section))

    def _own(self) -> Cache:
        """The file as this process has it open; a forked worker opens it for itself."""
        if self._cache is None or self._process != os.getpid():
            self._cache, self._process = Cache(self._path), os.getpid()
        return self._cache


@contextmanager
def sections_kept(cache: Cache | None, program: Callable[[], bytes]) -> Iterator[None]:
    """Within this context, sections are kept in the file of a cache.

    Args:
        cache: None to keep none.
        program: returns what identifies this program.

    Returns:
        A context without a value.
    """
    if cache is None:
        yield
        return
    shelf = SectionShelf(cache.path, program)
    try:
        with shelved(shelf):
            yield
    finally:
        shelf.close()
