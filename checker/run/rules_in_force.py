"""The rules in force, compiled and cached while none of their files changes; the program's
identity.
"""

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
    from checker.rulebook.book import Rulebook
    from checker.run.cache import Cache


class RuleHead(Struct, frozen=True):
    """A rule's name and what is needed without judging."""

    id: str


class Heads(Struct, frozen=True):
    """What a run needs to know about its rules where nothing is judged again: a tenth of the
    reading time.
    """

    edition: str
    digest: str
    codes: dict[str, Raw]
    rules: tuple[RuleHead, ...]


@lru_cache(maxsize=4)
def rulebook(rules: tuple[str, ...] = (), compiled: bytes = b"") -> Rulebook:
    """The rules in force, with a firm's own replacing the program's.

    The last few are kept in memory, and must not be changed.

    Args:
        rules: paths of a firm's own rule folders or files.
        compiled: the result of `compiled_rules`, instead of reading any files.

    Returns:
        The rules, complete.

    Raises:
        BadRules: a file has a mistake.
    """
    if compiled:
        from checker.rulebook.book import Rulebook

        return msgpack.decode(compiled, type=Rulebook)
    return _loaded(rules)


def heads(compiled: bytes) -> Heads:
    """The heads of compiled rules.

    Args:
        compiled: the result of `compiled_rules`.

    Returns:
        What is needed of them without judging.
    """
    return msgpack.decode(compiled, type=Heads)


def _loaded(rules: tuple[str, ...]) -> Rulebook:
    from pathlib import Path

    import checker.quantities  # noqa: F401  # registers what rules may name
    from checker.compute.meanings import Names
    from checker.rulebook.loading import load

    return load(Names(), [Path(path) for path in rules])


def kept_rules(rules: tuple[str, ...]) -> bytes:
    """The rules in force, compiled; from the user's cache while none of their files has changed.

    Args:
        rules: paths of a firm's own rule folders or files.

    Returns:
        Bytes for `rulebook` and `heads`.

    Raises:
        BadRules: a file has a mistake, or cannot be read.
    """
    if not rules and (own := _own_rules()):
        return own
    from checker.run.cache import Cache

    cache = Cache()
    try:
        return compiled_rules(rules, cache)
    finally:
        cache.close()


def compiled_rules(rules: tuple[str, ...], cache: Cache | None) -> bytes:
    """The rules in force, compiled; from this cache while none of their files has changed.

    Args:
        rules: paths of a firm's own rule folders or files.
        cache: kept there too, where they are compiled now; without one they may be kept beside
            Python's bytecode.

    Returns:
        Bytes for `rulebook` and `heads`.

    Raises:
        BadRules: a file has a mistake, or cannot be read.
    """
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
    """The key of these rules: a digest of the program and all files of rules; raises OSError."""
    parts = [part for named in _contents(rule_files(data_path("rules"))) for part in named]
    for root in rules:
        for file in rule_files(root):
            parts += [os.fsencode(file), bounded.content(file)]
    return key_of(b"rules", program(), *parts)


def _own_rules() -> bytes:
    """The program's own rules where they are compiled with it; else empty."""
    try:
        return _ready_made() or _beside_bytecode(_key(()))
    except OSError:
        return b""


PACKAGED = "rules.compiled"
"""The file of the program's own rules, compiled when it was packaged, after the key of their
files.
"""


def packaged() -> bytes:
    """The content of PACKAGED."""
    return _key_of_files() + msgpack.encode(_loaded(()))


def _ready_made() -> bytes:
    """The compiled rules in the package; empty where there are none, or a file differs."""
    file = os.path.join(os.path.dirname(data_path("rules")), PACKAGED)
    if not os.path.isfile(file):
        return b""
    key = _key_of_files()
    ((_, content),) = _contents([file])
    return content.removeprefix(key) if content.startswith(key) else b""


def _bytecode() -> str:
    """Where a checkout's compiled rules are: beside Python's bytecode of this module."""
    from importlib.util import cache_from_source

    return os.path.join(os.path.dirname(cache_from_source(__file__)), PACKAGED)


def _beside_bytecode(key: bytes) -> bytes:
    """The compiled rules of a checkout; empty where there are none, or a file differs."""
    try:
        ((_, content),) = _contents([_bytecode()])
    except OSError:
        return b""
    return content.removeprefix(key) if content.startswith(key) else b""


def _keep_beside_bytecode(content: bytes) -> None:
    """Write them beside Python's bytecode, where that is allowed and there is room."""
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
    """What identifies this program: its version, and in a checkout its source too."""
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
    """The name and the bytes of the program's own files; raises OSError.

    Read without Python's buffers, because a start from a checkout waits for some five hundred.
    """
    found = []
    for path in files:
        with FileIO(path) as file:
            found.append((os.fsencode(path), file.readall()))
    return found
