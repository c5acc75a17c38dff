"""Many designs: in chunks, on as many cores as are wanted, the results in order."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext, suppress
from datetime import date
from functools import partial
from itertools import accumulate, pairwise
from mmap import ACCESS_READ, mmap
from typing import TYPE_CHECKING, Any, NamedTuple

from msgspec import UNSET, Struct, field, msgpack
from msgspec.structs import replace

from checker.outcome.results import DesignReport, Notes, RuleSet, Totals
from checker.reading import beside as besides
from checker.reading import bounded
from checker.reading.design_files import (
    STANDARD_INPUT,
    answers_to,
    is_remote,
    is_sheet,
    what_else,
)
from checker.reading.mistakes import Crashed, OfTheFile, Unreadable
from checker.reports import Chosen, writer
from checker.run.cache import key_of, unpacked
from checker.run.rules_in_force import compiled_rules, program, rulebook
from checker.run.section_shelf import sections_kept
from checker.run.sheets import provided
from checker.run.workers import Crew, Died
from checker.words import listed
from checker.words.speech import AS_WRITTEN, POINT

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from checker.design.tables import Tables
    from checker.notes.baseline import Baseline
    from checker.notes.waivers import WaiverFile
    from checker.outcome.findings import Judging
    from checker.reading.cells import Cells
    from checker.reading.yaml_reader import Problem
    from checker.rulebook.model import Rulebook
    from checker.run.cache import Cache

CHUNK = 500
"""Designs in hand at once: enough for the arrays to pay, few enough for flat memory."""

MOST_BYTES = 2_000_000
"""Bytes of designs in hand at once; judging takes some ninety times as much."""

WRITTEN_AT_ONCE = 20
"""Designs whose reports are in hand at once: few, for a report is fifty times its design."""

MOST_GARBAGE = 200_000
"""Objects in cycles that writing may leave, as pages do, before they are collected."""

WORTH_SHARING = 50
"""Designs from which on starting workers pays."""


class Plan(Struct, frozen=True):
    """How designs are judged and reported; the same for every worker.

    codes: instead of those of the job or its region; on: the day whose editions count, instead of
    the design's own; rules: a firm's own rule folders or files; formats: what to write;
    waivers: those that may count, judged by the day `today`; known: the findings that a run is
    held against; folder: the one that designs' paths start from, for those two; standard_input: the
    path that it is shown by; compiled: the rules themselves, for workers that lack the files;
    further_codes: those that count besides the ones of the job or its region; strict: whether a
    missing datum is never taken to lie in its range; accepted: the answers that count, by their
    digests (`outcome.answers.digest`), where not all that designs bring do;
    second_opinion: whether floors are worked out by their section beside the standard too;
    changes: what is changed in each design before it is judged (`design.changes`); units, decimal:
    how readers are told values; remedies: whether what would clear each grave finding is worked
    out too.
    """

    codes: tuple[str, ...] | None = None
    on: date | None = None
    rules: tuple[str, ...] = ()
    formats: tuple[Chosen, ...] = ()
    waivers: tuple[WaiverFile, ...] = ()
    today: date | None = None
    known: Baseline | None = None
    folder: str = ""
    standard_input: str = "standard input"
    compiled: bytes = b""
    further_codes: tuple[str, ...] = ()
    strict: bool = False
    accepted: tuple[str, ...] | None = None
    second_opinion: bool = False
    changes: tuple[str, ...] = ()
    units: str = AS_WRITTEN
    decimal: str = POINT
    remedies: bool = False


BY_THE_DESIGN = Plan()
"""Judge each design by its own codes and day, with the program's rules."""


Piece = bytes | memoryview
"""What a format writes of a design; a view where a worker left it in a file."""


class Entry(Struct):
    """What came of one file: each format's piece (none where it is no design), and its counts.

    else_is: what a file is that cannot be read and is no design either; crashed: what the program
    failed with on it.
    """

    path: str
    pieces: tuple[Piece, ...] = ()
    totals: Totals = field(default_factory=Totals)
    unreadable: tuple[Unreadable, ...] = ()
    else_is: str = ""
    crashed: Crashed | None = None


class Kept(Entry):
    """What came of one file, as the cache kept it."""

    pieces: tuple[bytes, ...] = ()


class Checked(Struct):
    """What came of some files, one by one in order; paths: theirs, as the call has them.

    Where a worker wrote the report itself: apart: the counts of those that were judged, which are
    not among the entries; judged: their paths, where waivers may name them; count: of all files.
    """

    entries: list[Entry]
    paths: list[str] = []
    apart: Totals | None = None
    judged: list[str] = []
    count: int = 0

    def __len__(self) -> int:
        return self.count or len(self.entries)

    @property
    def pieces(self) -> list[list[Piece]]:
        """For each format the pieces of all designs, in order."""
        return [
            list(own) for own in zip(*[e.pieces for e in self.entries if e.pieces], strict=True)
        ]

    @property
    def totals(self) -> Totals:
        """The counts of all files."""
        totals = Totals()
        for entry in self.entries:
            totals.join(entry.totals)
        return totals

    @property
    def crashed(self) -> list[Crashed]:
        """All designs that the program failed on."""
        return [entry.crashed for entry in self.entries if entry.crashed is not None]

    @property
    def unreadable(self) -> list[Unreadable]:
        """All mistakes that kept a file from being read."""
        return [problem for entry in self.entries for problem in entry.unreadable]


class ReadIn(NamedTuple):
    """Designs in hand with what they are judged by, and the mistakes in those that are not."""

    tables: Tables
    book: Rulebook
    judging: Judging
    unreadable: list[Unreadable]


def read(
    files: Iterable[tuple[str, bytes]],
    plan: Plan,
    *,
    stage: str = "",
    with_given: bool = True,
) -> ReadIn:
    """Designs given as (path, content) as tables; raises BadRules.

    stage: the one to judge by, whatever the designs' own; with_given: keep what was typed.
    """
    import checker.quantities  # noqa: F401  # registers what rules may name
    from checker.design.answer_files import beside
    from checker.design.tables import Tables
    from checker.design.tables import Unreadable as Refused

    book = rulebook(plan.rules, plan.compiled)
    tables = Tables(book.codes, keep=with_given)
    unreadable: list[Unreadable] = []
    for path, data in files:
        try:
            answers = beside(path)
            tables.add(path, data, plan.changes).beside = answers
        except Refused as refused:
            so = " This is the design with what --with changes." if plan.changes else ""
            own = OWN_KINDS.get(what_else(data), "")
            if own:
                unreadable.append(OfTheFile(path, 1, 1, own))
                continue
            unreadable.extend(
                _told(path, problem, problem.message + so, refused.cells)
                for problem in refused.problems
            )
    return ReadIn(tables, book, _judging(plan, stage), unreadable)


def _judging(plan: Plan, stage: str = "") -> Judging:
    """How a plan has designs judged."""
    from checker.outcome.findings import Judging

    second = plan.second_opinion or any(
        getattr(writer(one), "needs_second_opinion", False) for one in plan.formats
    )
    return Judging(
        plan.codes,
        plan.on,
        stage,
        plan.further_codes,
        plan.strict,
        plan.accepted,
        second,
        plan.units,
        plan.decimal,
    )


def remedies(
    reports: Sequence[DesignReport],
    contents: Mapping[str, bytes],
    plan: Plan,
    only: Mapping[str, Container[tuple[str, str]]],
) -> None:
    """Work out what would clear some findings of designs that were judged by the same plan.

    contents: the designs' files by path; only: of each path the findings, by rule and subject.
    """
    from checker.remedies.search import remedied

    remedied(
        reports, contents, rulebook(plan.rules, plan.compiled), _judging(plan), plan.changes, only
    )


OWN_KINDS = {
    "a map of a sheet": "This is a map, no design: name it with --map, or beside its sheet "
    "'….map.yaml'.",
    "a map of a drawing": "This is the map of a drawing, no design: the design names it in its "
    "'plan'.",
    "readings": "These are readings, no design: 'prescreed audit' takes them.",
    "waivers": "These are waivers, no design: they lie as 'prescreed.waivers.yaml' at the root.",
    "answers": "These are answers, no design: they lie beside it as '….answers.yaml'.",
    "known findings": "These are known findings, no design: name them with --known.",
    "own report": "This is a report of this program, no design.",
    "rules": "These are rules, no design: name them with --rules.",
}
"""What is said of a file of the program's own that is named as a design."""


def _told(path: str, problem: Problem, words: str, cells: Cells | None) -> Unreadable:
    """A mistake in a design; in one that is a sheet, with its cell."""
    from checker.reading.cells import spot_at

    spot = spot_at(cells, problem.line, problem.column) if is_sheet(path) else None
    if spot is None:
        return Unreadable(path, problem.line, problem.column, words)
    return Unreadable(path, spot.row, max(1, spot.column), words, str(spot))


def check(
    files: Iterable[tuple[str, bytes]],
    plan: Plan = BY_THE_DESIGN,
    *,
    stage: str = "",
    with_given: bool = False,
) -> tuple[list[DesignReport], list[Unreadable]]:
    """Judge designs given as (path, content): the report of each that can be read, and what cannot.

    The library's way in; raises BadRules for rule files that cannot be used. stage: the one to
    judge by, whatever the designs' own; with_given: the reports carry what the designs state, as
    they do where a format of the plan needs it.
    """
    from checker.outcome.findings import judge

    with_given |= any(getattr(writer(one), "needs_given", False) for one in plan.formats)
    contents = dict(files)
    read_in = read(contents.items(), plan, stage=stage, with_given=with_given)
    book, unreadable = read_in.book, read_in.unreadable
    designs = judge(read_in.tables, book, read_in.judging, with_given)
    for design in designs if plan.changes else ():
        design.remarks += (f"not as it stands but with {listed(plan.changes)}",)
    note(designs, book, plan, contents)
    if plan.remedies or any(getattr(writer(one), "needs_remedies", False) for one in plan.formats):
        from checker.remedies.search import remedied

        remedied(designs, contents, book, read_in.judging, plan.changes)
    return designs, unreadable


def note(
    designs: Iterable[DesignReport], book: Rulebook, plan: Plan, contents: dict[str, bytes]
) -> None:
    """Note on each finding whether it is waived, and whether it was known.

    contents: what the designs' files hold, by path.
    """
    if plan.waivers or plan.known is not None:
        waivable = frozenset(rule.id for rule in book.rules if rule.waivable)
        for design in designs:
            digest = ""
            if plan.known is not None and design.path in contents:
                digest = digest_of(design.path, contents[design.path])
            _note(design, plan, waivable, RuleSet(book.edition, book.digest), digest)


def digest_of(path: str, content: bytes) -> str:
    """A digest of a design, and of the files that it names beside itself."""
    return key_of(content, *_parts_of_key(_beside(path, content))).hex()


def _note(
    design: DesignReport, plan: Plan, waivable: frozenset[str], rules: RuleSet, digest: str
) -> None:
    """Note on each finding whether it is waived, and whether it was known."""
    notes: dict[int, Notes] = {}
    whole = os.path.normpath(os.path.join(plan.folder or os.getcwd(), design.path))
    if plan.waivers and plan.today is not None:
        from checker.notes.waivers import accept

        notes = accept(design, whole, plan.waivers, plan.today, waivable)
    if plan.known is not None:
        from checker.notes.baseline import compare

        for place, own in compare(design, whole, plan.known, rules, digest).items():
            waived = notes[place].waived if place in notes else UNSET
            notes[place] = Notes(waived, own.state)
    if notes:
        design.note(notes)


class Spooled(Struct):
    """A chunk's entries whose pieces lie in a file, one behind the other, each of its size."""

    path: str
    entries: list[Entry]
    sizes: list[list[int]]

    def fetched(self, anew: Callable[[], Iterator[Entry]]) -> Iterator[Entry]:
        """The entries with their pieces; the file is gone as soon as it is opened.

        anew: makes the entries again, should somebody have done away with the file or cut it.
        """
        try:
            content = self._opened()
        except OSError:
            yield from anew()
            return
        start = 0
        for entry, sizes in zip(self.entries, self.sizes, strict=True):
            ends = list(accumulate(sizes, initial=start))
            entry.pieces = tuple([content[own:end] for own, end in pairwise(ends)])
            start = ends[-1]
            yield entry

    def _opened(self) -> memoryview:
        """The file as memory, which lasts as long as it is used; raises OSError."""
        whole = sum(map(sum, self.sizes))
        try:
            with open(self.path, "rb") as file:
                if os.fstat(file.fileno()).st_size != whole:
                    raise OSError("the file was cut")
                return memoryview(mmap(file.fileno(), 0, access=ACCESS_READ) if whole else b"")
        finally:
            with suppress(OSError):
                os.unlink(self.path)  # so that nobody can cut it now


def check_chunk(
    files: list[tuple[str, bytes | None]],
    plan: Plan,
    folder: str = "",
    beside: besides.Files | None = None,
) -> list[Entry] | Spooled:
    """Read, judge and write out a chunk of design files; what a worker does.

    folder: one that caller and worker share, through which reports go faster than through a pipe;
    beside: what lies beside the files, where the worker may not reach it.
    """
    if folder:
        try:
            return _spooled(entries(files, plan, beside), folder)
        except OSError:  # no room there: made anew, they go the other way
            pass
    return list(entries(files, plan, beside))


def _spooled(fresh: Iterator[Entry], folder: str) -> Spooled:
    """The entries, their pieces left in the folder; raises OSError, and then leaves nothing."""
    import tempfile

    handle, path = tempfile.mkstemp(dir=folder)
    made = Spooled(path, [], [])
    try:
        with open(handle, "wb") as file:
            for entry in fresh:
                file.writelines(entry.pieces)
                made.sizes.append([len(piece) for piece in entry.pieces])
                entry.pieces = ()
                made.entries.append(entry)
    except BaseException:
        with suppress(FileNotFoundError):
            os.unlink(path)
        raise
    return made


def entries(
    files: list[tuple[str, bytes | None]], plan: Plan, beside: besides.Files | None = None
) -> Iterator[Entry]:
    """What comes of the files, in order; each design is written out when it is asked for.

    files: the path of each, and its content where that is already at hand; beside: what lies beside
    them, where this is not done on the caller's machine.
    """
    made = {path: Entry(shown(path, plan)) for path, _ in files}
    contents: dict[str, bytes] = {}
    for path, content in files:
        entry = made[path]
        try:
            contents[entry.path] = content_of(path) if content is None else content
        except OSError as error:
            words = f"The file cannot be read: {error.strerror or error}."
            entry.unreadable = (OfTheFile(entry.path, 1, 1, words),)
            entry.totals = Totals(unreadable=1)
    with besides.brought(beside):
        designs, unreadable, crashed = fenced(contents, plan)
    by_path = {entry.path: entry for entry in made.values()}
    for problem in unreadable:
        entry = by_path[problem.path]
        if not entry.unreadable:
            entry.else_is = what_else(contents[problem.path])
        entry.unreadable += (problem,)
        entry.totals = Totals(unreadable=1)
    for failure in crashed:
        by_path[failure.path].crashed = failure
    writers = [writer(chosen) for chosen in plan.formats]
    designs.reverse()
    del by_path
    objects = gc.get_count()[0]
    for path, _ in files:
        entry = made.pop(path)  # not to be held once it is written
        if designs and designs[-1].path == entry.path:
            design = designs.pop()
            design.content = contents[design.path]
            try:
                entry.pieces = tuple([format_writer.piece(design) for format_writer in writers])
                entry.totals.add(design)
            except Exception as error:
                entry.pieces, entry.totals = (), Totals()
                entry.crashed = failed(entry.path, error)
            if gc.get_count()[0] - objects > MOST_GARBAGE:
                gc.collect(1)
                objects = gc.get_count()[0]
        yield entry


def fenced(
    contents: dict[str, bytes],
    plan: Plan,
    judged: Callable[..., tuple[list[Any], list[Unreadable]]] | None = None,
) -> tuple[list[Any], list[Unreadable], list[Crashed]]:
    """As `check`, with what the program itself failed on apart from the rest.

    What is judged together fails together, so a part that fails is parted until what fails is
    alone. judged: what judges instead of `check`, from the same arguments. Raises BadRules.
    """
    judged = judged or check
    try:
        return *judged(contents.items(), plan), []
    except Exception as error:
        if _is_of_the_rules(error):
            raise
        if len(contents) == 1:
            return [], [], [failed(path, error) for path in contents]
    names = list(contents)
    half = len(names) // 2
    designs: list[Any] = []
    unreadable: list[Unreadable] = []
    crashed: list[Crashed] = []
    for some in (names[:half], names[half:]):
        found, bad, fell = fenced({name: contents[name] for name in some}, plan, judged)
        designs += found
        unreadable += bad
        crashed += fell
    return designs, unreadable, crashed


def _is_of_the_rules(error: Exception) -> bool:
    return type(error).__name__ == "BadRules"


def failed(path: str, error: BaseException) -> Crashed:
    """The program failed on a design: what a person is told of it."""
    import traceback

    from checker import __version__

    said = "".join(traceback.format_exception_only(error)).strip().splitlines()[-1]
    return Crashed(
        path,
        1,
        1,
        f"prescreed {__version__} itself failed on this design ({said}); it says nothing of the "
        "design, which is not judged. Please report it to those who maintain the program, with "
        "the design and what --verbose says.",
        "".join(traceback.format_exception(error)),
    )


def shown(path: str, plan: Plan = BY_THE_DESIGN) -> str:
    """A path as reports have it."""
    path = plan.standard_input if path == STANDARD_INPUT else path
    # A name that is not UTF-8 has no letters for its bytes.
    plain = path.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    return plain.replace(os.sep, "/")


def content_of(path: str) -> bytes:
    """The bytes of a file, of standard input, or of an object that fsspec can open.

    Of a design that was read from a sheet, its text.
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
    """The files in runs of at most `size`, and of so many bytes where it is more than one file.

    No two files of a run are shown alike: what comes of a file is told apart by that.
    """
    some: dict[str, str] = {}
    weight = 0
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
    """The size of a file; nought where that cannot be told from here."""
    if path in provided:
        return len(provided[path])
    try:
        return 0 if path == STANDARD_INPUT or is_remote(path) else os.stat(path).st_size
    except OSError:
        return 0


class Part(Struct):
    """One chunk on its way: its files, what is known of them already, and what is to do."""

    files: list[str]
    known: dict[str, bytes]
    keys: dict[str, bytes]
    to_do: list[tuple[str, bytes | None]]
    beside: besides.Files | None = None
    """What lies beside the files that are to do, for workers that may not reach it."""

    def in_slices(self, fresh: Iterator[Entry]) -> Iterator[dict[str, Entry]]:
        """The whole chunk, in order, a few files at a time."""
        for start in range(0, len(self.files), WRITTEN_AT_ONCE):
            some = self.files[start : start + WRITTEN_AT_ONCE]
            yield {path: self._kept(path) or next(fresh) for path in some}

    def _kept(self, path: str) -> Entry | None:
        return unpack(self.known[path]) if path in self.known else None


def run(
    files: list[str],
    plan: Plan,
    jobs: int,
    executor: Executor | None = None,
    cache: Cache | None = None,
    at_once: int = CHUNK,
) -> Iterator[Checked]:
    """The results, some files at a time, in their order, whatever the number of workers.

    executor: any pool of the standard interface instead of one made here; cache: where results
    are kept; at_once: designs that one process has in hand. A worker that dies takes nothing with
    it but the design that killed it, which is reported as unreadable.
    """
    alone = executor is None and (jobs <= 1 or len(files) < WORTH_SHARING)
    if cache is not None and not plan.compiled:
        # The very rules that the entries are kept under must judge.
        plan = replace(plan, rules=(), compiled=compiled_rules(plan.rules, cache))
    basis = basis_of(plan) if cache is not None else b""
    if not alone and executor is None:
        rulebook(plan.rules, plan.compiled)  # so that workers that are forked have it
    parts = (
        part_of(chunk, cache, basis, read=executor is not None)
        for chunk in chunks(files, at_once if alone else _chunk_size(len(files), jobs), plan=plan)
    )
    with sections_kept(cache, program):
        for part, fresh in in_turn(parts, plan) if alone else _shared(parts, plan, jobs, executor):
            for some in part.in_slices(fresh):
                if cache is not None:
                    cache.put(
                        (part.keys[path], pack(entry))
                        for path, entry in some.items()
                        if path in part.keys and path not in part.known and entry.crashed is None
                    )
                yield Checked([*some.values()], [*some])


def basis_of(plan: Plan) -> bytes:
    """All that results depend on besides a design: program, compiled rules and options."""
    # Of the whole plan, whatever its type holds: nothing that decides a verdict can be left out.
    return key_of(program(), msgpack.encode(plan))


def part_of(files: list[str], cache: Cache | None, basis: bytes, *, read: bool) -> Part:
    """read: bring the content along, for workers that may not reach the files."""
    if cache is None:
        # Workers have no standard input; it is read here.
        only_here = {STANDARD_INPUT, *provided}
        here = [(f, _read(f) if read or f in only_here else None) for f in files]
        along = [_beside(f, content) for f, content in here if content is not None and read]
        return Part(files, {}, {}, here, _together(along) if read else None)
    contents = {path: _read(path) for path in files}
    beside = {path: _beside(path, own) for path, own in contents.items() if own is not None}
    keys = {
        path: key_of(
            basis,
            path.encode("utf-8", "surrogateescape"),
            content,
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
    """The files beside the design by their paths: its answers, a drawing and the map of that."""
    path = shown(path)
    answers = answers_to(path)
    there = not is_remote(path) and besides.exists(answers)
    wanted = [(answers, bounded.LARGEST_FILE)] if there else []
    if b"drawing" in content:
        from checker.design.drawings import named
        from checker.geometry.dxf import LARGEST

        wanted += [(own, LARGEST) for own in named(path, content)]
    return besides.read_all(wanted)


def _parts_of_key(files: dict[str, bytes | OSError]) -> list[bytes]:
    return [own if isinstance(own, bytes) else repr(own).encode() for own in files.values()]


def _read(path: str) -> bytes | None:
    """The content of a file that can be read from here, else nothing: the worker will say why."""
    if is_remote(path):
        return None
    try:
        return content_of(path)
    except OSError:
        return None


def in_turn(parts: Iterable[Part], plan: Plan) -> Iterator[tuple[Part, Iterator[Entry]]]:
    """Each chunk with what comes of it, in this process."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        for part in parts:
            yield part, entries(part.to_do, plan)
            gc.collect(1)
    finally:
        if collecting:
            gc.enable()


def _shared(
    parts: Iterable[Part], plan: Plan, jobs: int, executor: Executor | None
) -> Iterator[tuple[Part, Iterator[Entry]]]:
    def arguments(part: Part) -> tuple[Any, ...] | None:
        return (part.to_do, plan, folder, part.beside) if part.to_do else None

    with _folder_between() if executor is None else nullcontext("") as folder:
        for part, fresh in Crew(check_chunk, arguments, jobs, executor).in_order(parts):
            if fresh is Died:
                yield part, (one_alone(file, plan, executor, part.beside) for file in part.to_do)
            elif isinstance(fresh, Spooled):
                yield part, fresh.fetched(partial(entries, part.to_do, plan, part.beside))
            else:
                yield part, iter(fresh or ())


def _folder_between() -> AbstractContextManager[str]:
    """A folder of this run alone, gone at its end; none where none can be made."""
    import tempfile

    try:
        return tempfile.TemporaryDirectory(prefix="prescreed-", ignore_cleanup_errors=True)
    except OSError:
        return nullcontext("")


def one_alone(
    file: tuple[str, bytes | None],
    plan: Plan,
    executor: Executor | None,
    beside: besides.Files | None,
) -> Entry:
    """A file of a chunk whose worker died, in a worker of its own."""

    def arguments(one: tuple[str, bytes | None]) -> tuple[Any, ...]:
        return [one], plan, "", beside

    for _, fresh in Crew(check_chunk, arguments, 1, executor).in_order([file]):
        if fresh is not Died:
            entry: Entry = fresh[0]
            return entry
    path = shown(file[0], plan)
    return Entry(path, crashed=failed(path, RuntimeError("the worker died on it")))


def _chunk_size(count: int, jobs: int) -> int:
    """As large as may be with one for every worker: a chunk itself costs as much as 15 designs."""
    return max(1, min(CHUNK, -(-count // max(1, jobs))))


def pack(entry: Entry) -> bytes:
    """An entry as the cache keeps it."""
    return msgpack.encode(entry)


def unpack(data: bytes) -> Entry:
    """An entry that the cache kept."""
    return msgpack.decode(unpacked(data), type=Kept)
