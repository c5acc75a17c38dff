"""A chunk of files while it is worked on: their bytes, the files beside them, and known results."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from datetime import timedelta

from msgspec import Struct, msgpack
from msgspec.structs import replace

from checker.reading import beside as besides
from checker.reading import bounded
from checker.reading.addresses import is_remote
from checker.reading.design_files import STANDARD_INPUT, answers_to
from checker.run.cache import Cache, key_of, unpacked
from checker.run.plan import BY_THE_DESIGN, CachedEntry, Entry, Plan
from checker.run.rules_in_force import program
from checker.run.sheets import provided

A_DAY = re.compile(rb"2\d{3}-[01]\d-[0-3]\d")
STEPS = timedelta(days=60)
"""Longest first heating; the cache may go on saying of a longer one that it has not ended."""
CHUNK = 500
"""Designs judged at once: enough for arrays to pay off, few enough for constant memory."""

MOST_BYTES = 1_500_000
"""Most bytes of designs judged at once; judging takes some seventy times as much memory."""

DRAWN = 50
"""Designs judged at once where each floor is solved in section, and may be drawn: 2 MB each."""

WRITTEN_AT_ONCE = 20
"""Designs whose reports are in memory at once: few, because a report is fifty times its design."""


def shown(path: str, plan: Plan = BY_THE_DESIGN) -> str:
    r"""A path as reports show it.

    Args:
        path: as the call names it or as it was found.
        plan: says how standard input is shown.

    Returns:
        With `/` between folders; bytes that are not UTF-8 are written as `\xe4`.
    """
    path = plan.standard_input if path == STANDARD_INPUT else path
    # A name that is not UTF-8 has no letters for its bytes.
    plain = path.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    return plain.replace(os.sep, "/")


def content_of(path: str) -> bytes:
    """The bytes of a design: of a file, of standard input, or of an object that fsspec can open.

    Args:
        path: as the call names it or as it was found; for a design that was read from a sheet, one
            of `sheets.provided`.

    Returns:
        For a file that is larger than any design, one byte more than LARGEST_FILE, which the reader
        then refuses.

    Raises:
        OSError: it cannot be read.
    """
    if path in provided:
        return provided[path]
    if path == STANDARD_INPUT:
        return bounded.standard_input()
    if is_remote(path):
        import fsspec

        with fsspec.open(path, "rb") as remote:
            return bounded.bounded(remote, bounded.LARGEST_FILE)
    return bounded.start_of(path)


def chunks(
    files: Iterable[str],
    size: int = CHUNK,
    most: int = MOST_BYTES,
    plan: Plan = BY_THE_DESIGN,
) -> Iterator[list[str]]:
    """Split files into chunks.

    No two files of a chunk are shown with the same path, because results are matched by it.

    Args:
        files: the designs' paths.
        size: most files in a chunk; fewer where every floor is solved in section.
        most: most bytes in a chunk of more than one file.
        plan: says how paths are shown, and whether floors are solved in section.

    Returns:
        In order, none of them empty; sizes of files are looked up as it goes on.
    """
    some: dict[str, str] = {}
    weight = 0
    size = min(size, DRAWN) if plan.wants_sections else size
    for path in files:
        own, name = _bytes_of(path), shown(path, plan)
        if some and (len(some) == size or weight + own > most or name in some):
            yield [*some.values()]
            some, weight = {}, 0
        some[name] = path
        weight += own
    if some:
        yield [*some.values()]


def _bytes_of(path: str) -> int:
    """The size of a file; zero where it cannot be known from here."""
    if path in provided:
        return len(provided[path])
    try:
        return 0 if path == STANDARD_INPUT or is_remote(path) else os.stat(path).st_size
    except OSError:
        return 0


class Part(Struct):
    """One chunk of designs while it is worked on.

    Attributes:
        files: their paths, in order.
        known: by path, what the cache kept of their results, packed.
        keys: by path, the keys under which results are kept; empty without a cache.
        to_do: those that are still to be judged, with their content where it was read already.
        beside: the files beside these, for workers that may not reach them; else None.
    """

    files: list[str]
    known: dict[str, bytes]
    keys: dict[str, bytes]
    to_do: list[tuple[str, bytes | None]]
    beside: besides.Files | None = None

    def in_slices(self, fresh: Iterator[Entry]) -> Iterator[dict[str, Entry]]:
        """The results of the whole chunk, in order, a few files at a time.

        Args:
            fresh: those of the files that were to be judged, in their order.

        Returns:
            By path, WRITTEN_AT_ONCE files at most.
        """
        for start in range(0, len(self.files), WRITTEN_AT_ONCE):
            some = self.files[start : start + WRITTEN_AT_ONCE]
            yield {path: self._kept(path) or next(fresh) for path in some}

    def _kept(self, path: str) -> Entry | None:
        return unpack(self.known[path]) if path in self.known else None


def basis_of(plan: Plan) -> bytes:
    """Everything that results depend on besides a design: program, compiled rules and options.

    Args:
        plan: with its rules compiled.

    Returns:
        A digest, for the keys of cached results; the same on another day, unless waivers are judged
        by the day.
    """
    # Of the whole plan, whatever its type holds: nothing that decides a verdict can be left out.
    # But the day only decides where waivers are judged by it, or a design may be ahead of it.
    lasting = plan if plan.waivers else replace(plan, today=None, newest_day=None)
    return key_of(program(), msgpack.encode(lasting))


def _day_of(plan: Plan, path: str, content: bytes, beside: besides.Files) -> bytes:
    """The day of the check, for a design whose dates or answers may be after it; else empty.

    A day that is past stays past; a first heating ends up to `STEPS` days after its own date.
    """
    today = plan.happened_by
    if today is None:
        return b""
    # What counts as begun, though the computer's own calendar is not there yet, is told.
    own = plan.today or today
    since = own - STEPS if b"heat_up" in content else own
    early = since.isoformat().encode()
    answers = beside.get(answers_to(path))
    days = A_DAY.findall(content)
    days += A_DAY.findall(answers) if isinstance(answers, bytes) else []
    ahead = any(day > early for day in days)
    return today.isoformat().encode() if ahead else b""


def part_of(files: list[str], cache: Cache | None, basis: bytes, plan: Plan, *, read: bool) -> Part:
    """Make a chunk.

    Args:
        files: the designs' paths.
        cache: where results are kept; None where none are.
        basis: as from `basis_of`, for this plan.
        plan: how they are judged.
        read: whether to include the content, for workers that may not reach the files.

    Returns:
        With the results that the cache has; a file that cannot be read is among those to do, for
        whoever judges it to report.
    """
    if cache is None:
        # Workers have no standard input; it is read here.
        only_here = {STANDARD_INPUT, *provided}
        here = [(f, _read(f) if read or f in only_here else None) for f in files]
        along = [_beside(shown(f, plan), own) for f, own in here if own is not None and read]
        return Part(files, {}, {}, here, _together(along) if read else None)
    contents = {path: _read(path) for path in files}
    beside = {
        path: _beside(shown(path, plan), own) for path, own in contents.items() if own is not None
    }
    keys = {
        path: key_of(
            basis,
            path.encode("utf-8", "surrogateescape"),
            content,
            _day_of(plan, shown(path, plan), content, beside[path]),
            *_parts_of_key(beside[path]),
        )
        for path, content in contents.items()
        if content is not None
    }
    found = cache.get(keys.values())
    known = {path: found[key] for path, key in keys.items() if key in found}
    to_do = [(path, contents[path]) for path in files if path not in known]
    along = [beside[path] for path, _ in to_do if path in beside]
    return Part(files, known, keys, to_do, _together(along) if read else None)


def _together(files: list[dict[str, bytes | OSError]]) -> dict[str, bytes | OSError]:
    return {path: content for own in files for path, content in own.items()}


def _beside(path: str, content: bytes) -> dict[str, bytes | OSError]:
    """The files beside a design, as it is shown, by path: its answers, a drawing and its map."""
    answers = answers_to(path)
    there = not is_remote(path) and besides.exists(answers)
    wanted = [(answers, bounded.LARGEST_FILE)] if there else []
    if b"drawing" in content or b"\\" in content:  # a key may be written with escapes
        from checker.design.drawings import named
        from checker.geometry.dxf import LARGEST

        wanted += [(own, LARGEST) for own in named(path, content)]
    return besides.read_all(wanted)


def digest_of(path: str, content: bytes) -> str:
    """A digest of a design and of the files that it names.

    Args:
        path: of the design as reports show it, beside which these are looked for.
        content: the design's bytes.

    Returns:
        Hexadecimal digits.
    """
    return key_of(content, *_parts_of_key(_beside(path, content))).hex()


def _parts_of_key(files: dict[str, bytes | OSError]) -> list[bytes]:
    return [own if isinstance(own, bytes) else repr(own).encode() for own in files.values()]


def _read(path: str) -> bytes | None:
    """The content of a file that can be read from here; None where not, and the worker will say
    why.
    """
    if is_remote(path):
        return None
    try:
        return content_of(path)
    except OSError:
        return None


def pack(entry: Entry) -> bytes:
    """An entry as it is given to the cache.

    Args:
        entry: the results of a file.

    Returns:
        MessagePack, not yet compressed.
    """
    return msgpack.encode(entry)


def unpack(data: bytes) -> Entry:
    """An entry that the cache kept.

    Args:
        data: as `Cache.get` returns it.

    Returns:
        The results of a file, as they were packed.
    """
    return msgpack.decode(unpacked(data), type=CachedEntry)
