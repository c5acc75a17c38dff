"""The rules in force, compiled and kept while no file of them changes; which program it is."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from functools import lru_cache
from io import FileIO
from typing import TYPE_CHECKING

from msgspec import Raw, Struct, msgpack

from checker.reading import bounded
from checker.reading.package_data import PACKAGE, data_path, rule_files
from checker.run.cache import key_of, unpacked

if TYPE_CHECKING:
    from checker.rulebook.model import Rulebook
    from checker.run.cache import Cache


class RuleHead(Struct, frozen=True):
    """A rule by its name."""

    id: str


class Heads(Struct, frozen=True):
    """What a run asks of its rules where nothing is judged again: a tenth of the work to read."""

    edition: str
    digest: str
    codes: dict[str, Raw]
    rules: tuple[RuleHead, ...]


@lru_cache(maxsize=4)
def rulebook(rules: tuple[str, ...] = (), compiled: bytes = b"") -> Rulebook:
    """The rules in force, with a firm's own over them; raises BadRules.

    compiled: the same, as `compiled_rules` has it, where the files are not at hand.
    """
    if compiled:
        from checker.rulebook.model import Rulebook

        return msgpack.decode(compiled, type=Rulebook)
    return _loaded(rules)


def heads(compiled: bytes) -> Heads:
    """The same, but only what tells these rules from others, and their names."""
    return msgpack.decode(compiled, type=Heads)


def _loaded(rules: tuple[str, ...]) -> Rulebook:
    from pathlib import Path

    import checker.quantities  # noqa: F401  # registers what rules may name
    from checker.compute.meanings import Names
    from checker.rulebook.loading import load

    return load(Names(), [Path(path) for path in rules])


def kept_rules(rules: tuple[str, ...]) -> bytes:
    """The rules in force, compiled, from the user's cache while no file of them has changed."""
    if not rules and (own := _own_rules()):
        return own
    from checker.run.cache import Cache

    cache = Cache()
    try:
        return compiled_rules(rules, cache)
    finally:
        cache.close()


def compiled_rules(rules: tuple[str, ...], cache: Cache | None) -> bytes:
    """The rules in force as bytes: from the cache while no file of them has changed."""
    if not rules and (own := _own_rules()):
        return own
    try:
        key = _key(rules)
    except OSError:
        return msgpack.encode(_loaded(rules))  # which says what is wrong
    kept = cache.get([key]).get(key) if cache is not None else None
    if kept is not None:
        return unpacked(kept)
    fresh = msgpack.encode(_loaded(rules))
    if cache is not None:
        cache.put([(key, fresh)])
    if not rules:
        _keep_beside_bytecode(key + fresh)
    return fresh


def _key(rules: tuple[str, ...]) -> bytes:
    """The key of these rules: they depend on the program and all files of rules; raises OSError."""
    parts = [part for named in _contents(rule_files(data_path("rules"))) for part in named]
    for root in rules:
        for file in rule_files(root):
            parts += [os.fsencode(file), bounded.content(file)]
    return key_of(b"rules", program(), *parts)


def _own_rules() -> bytes:
    """The program's own rules where they lie compiled with it; else empty."""
    try:
        return _ready_made() or _beside_bytecode(_key(()))
    except OSError:
        return b""


PACKAGED = "rules.compiled"
"""The program's own rules, compiled when it was packaged, behind the key of their files."""


def packaged() -> bytes:
    """What PACKAGED holds."""
    return _key_of_files() + msgpack.encode(_loaded(()))


def _ready_made() -> bytes:
    """The rules that the package brought, compiled; empty where it did not, or a file differs."""
    file = os.path.join(os.path.dirname(data_path("rules")), PACKAGED)
    if not os.path.isfile(file):
        return b""
    key = _key_of_files()
    ((_, content),) = _contents([file])
    return content.removeprefix(key) if content.startswith(key) else b""


def _bytecode() -> str:
    """Where a checkout's compiled rules lie: with what Python keeps of this module."""
    from importlib.util import cache_from_source

    return os.path.join(os.path.dirname(cache_from_source(__file__)), PACKAGED)


def _beside_bytecode(key: bytes) -> bytes:
    """The compiled rules of a checkout; empty where there are none, or a file of them differs."""
    try:
        ((_, content),) = _contents([_bytecode()])
    except OSError:
        return b""
    return content.removeprefix(key) if content.startswith(key) else b""


def _keep_beside_bytecode(content: bytes) -> None:
    """Keep them, as Python keeps its bytecode: where it may, and where there is room for it."""
    if sys.dont_write_bytecode:
        return
    file = _bytecode()
    fresh = f"{file}.{os.getpid()}"
    with suppress(OSError):
        with open(fresh, "wb") as made:
            made.write(content)
        os.replace(fresh, file)


def _key_of_files() -> bytes:
    from checker import __version__

    root = data_path("rules")
    start = len(os.fsencode(root)) + 1
    named = [
        part
        for name, content in _contents(rule_files(root))
        for part in (name[start:].replace(os.sep.encode(), b"/"), content)
    ]
    return key_of(b"packaged", __version__.encode(), *named)


@lru_cache(maxsize=1)
def program() -> bytes:
    """What tells this program from another: its version, and from a checkout its source too."""
    from checker import __version__

    if os.path.isdir(os.path.join(PACKAGE, "data")):
        return __version__.encode()
    sources = []
    for root in (PACKAGE, data_path("schemas")):
        for at, _, names in os.walk(root):
            # Python's own folder in each changes with the Python that runs, not with the program.
            if os.path.basename(at) != "__pycache__":
                sources += [os.path.join(at, name) for name in names]
    files = [part for named in _contents(sorted(sources)) for part in named]
    return key_of(__version__.encode(), *files)


def _contents(files: Iterable[str]) -> list[tuple[bytes, bytes]]:
    """The name and the bytes of files of the program's own; raises OSError.

    Read without Python's buffers, since a start from a checkout waits for some five hundred.
    """
    found = []
    for path in files:
        with FileIO(path) as file:
            found.append((os.fsencode(path), file.readall()))
    return found
