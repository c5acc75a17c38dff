"""Reads designs, judges them together and writes them out; a failure on one does not affect the
others.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from msgspec import UNSET

from checker.outcome.report import DesignReport
from checker.outcome.results import Notes
from checker.outcome.runs import RuleSet, Totals
from checker.reading import beside as besides
from checker.reading import bounded
from checker.reading.design_files import is_sheet
from checker.reading.mistakes import Crashed, OfTheFile, Unreadable
from checker.reading.other_files import what_else
from checker.reports import writer
from checker.run.part import content_of, digest_of, shown
from checker.run.plan import BY_THE_DESIGN, Entry, Plan
from checker.run.rules_in_force import rulebook
from checker.words import listed

if TYPE_CHECKING:
    from checker.design.tables import Design, Tables
    from checker.outcome.applicable import JudgingOptions
    from checker.reading.cells import Cells
    from checker.reading.documents import Problem
    from checker.rulebook.book import Rulebook

MOST_GARBAGE = 200_000
"""Garbage is collected when writing has left this many objects in cycles, as pages do."""


class ReadIn(NamedTuple):
    """Designs as tables, with what they are judged by.

    Attributes:
        tables: the designs that can be read, in the order of the files.
        book: the rules.
        judging: the options of judging.
        unreadable: the mistakes in those that cannot be read.
    """

    tables: Tables
    book: Rulebook
    judging: JudgingOptions
    unreadable: list[Unreadable]


def read(
    files: Iterable[tuple[str, bytes]],
    plan: Plan,
    *,
    stage: str = "",
    with_given: bool = True,
) -> ReadIn:
    """Read designs into tables, with what they are judged by.

    Args:
        files: path and content of each design.
        plan: how they are judged.
        stage: the stage to judge by, instead of the designs' own.
        with_given: whether to keep what was typed.

    Returns:
        Tables of those that can be read, in the order of the files, and the mistakes in the others.

    Raises:
        BadRules: the rules cannot be used.
    """
    import checker.quantities  # noqa: F401  # registers what rules may name
    from checker.design.answer_files import beside
    from checker.design.tables import BadDesign, Tables

    book = rulebook(plan.rules, plan.compiled)
    tables = Tables(book.codes, keep=with_given)
    unreadable: list[Unreadable] = []
    for path, data in files:
        try:
            answers = beside(path)
            tables.add(path, data, plan.changes).beside = answers
        except BadDesign as refused:
            so = " This is the design with what --with changes." if plan.changes else ""
            own = OWN_KINDS.get(what_else(data), "")
            if own:
                unreadable.append(OfTheFile(path, 1, 1, own))
                continue
            unreadable.extend(
                _unreadable(path, problem, problem.message + so, refused.cells)
                for problem in refused.problems
            )
    return ReadIn(tables, book, _judging(plan, stage), unreadable)


def _judging(plan: Plan, stage: str = "") -> JudgingOptions:
    """The options of judging in a plan."""
    from checker.outcome.applicable import JudgingOptions

    return JudgingOptions(
        plan.codes,
        plan.on,
        stage,
        plan.further_codes,
        plan.strict,
        plan.accepted,
        plan.wants_sections,
        plan.units,
        plan.decimal,
        plan.happened_by,
        plan.today if plan.happened_by != plan.today else None,
    )


def remedies(
    reports: Sequence[DesignReport],
    contents: Mapping[str, bytes],
    plan: Plan,
    only: Mapping[str, Container[tuple[str, str]]],
) -> None:
    """Work out what would clear some findings.

    Args:
        reports: the designs' reports, judged by the same plan.
        contents: the designs' files by path.
        plan: how they were judged.
        only: by path the findings, by rule and subject.
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
    "waivers": "These are waivers, not a design: they belong in 'prescreed.waivers.yaml' at the "
    "root.",
    "answers": "These are answers, not a design: they belong beside it as '….answers.yaml'.",
    "known findings": "These are known findings, no design: name them with --known.",
    "own report": "This is a report of this program, no design.",
    "rules": "These are rules, no design: name them with --rules.",
}
"""The message for one of the program's own files that is named as a design."""


def _unreadable(path: str, problem: Problem, words: str, cells: Cells | None) -> Unreadable:
    """A mistake in a design; in one that was read from a sheet, with its cell."""
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
    """Judge designs given as (path, content).

    Args:
        files: the designs.
        plan: how they are judged.
        stage: the stage to judge by, instead of the designs' own.
        with_given: whether reports include what the designs state; they do anyway where a format of
            the plan needs it.

    Returns:
        The report of each design that can be read, and the mistakes in the others.

    Raises:
        BadRules: the rule files cannot be used.
    """
    reports, unreadable, _ = check_and_keep(files, plan, stage=stage, with_given=with_given)
    return reports, unreadable


def check_and_keep(
    files: Iterable[tuple[str, bytes]],
    plan: Plan = BY_THE_DESIGN,
    *,
    stage: str = "",
    with_given: bool = False,
    keep: bool = False,
) -> tuple[list[DesignReport], list[Unreadable], list[Design]]:
    """The same as `check`, with the design of each report.

    Args:
        files: as for `check`.
        plan: as for `check`.
        stage: as for `check`.
        with_given: as for `check`.
        keep: whether to keep what was typed in the designs.

    Returns:
        The report of each design that can be read, the mistakes in the others, and the designs, in
        the order of the reports.

    Raises:
        BadRules: the rule files cannot be used.
    """
    from checker.outcome.findings import judge

    with_given |= any(getattr(writer(one), "needs_given", False) for one in plan.formats)
    contents = dict(files)
    read_in = read(contents.items(), plan, stage=stage, with_given=with_given or keep)
    book, unreadable = read_in.book, read_in.unreadable
    designs = judge(read_in.tables, book, read_in.judging, with_given)
    for design in designs if plan.changes else ():
        design.remarks += (f"not as it is but with {listed(plan.changes)}",)
    note(designs, book, plan, contents)
    if plan.remedies or any(getattr(writer(one), "needs_remedies", False) for one in plan.formats):
        from checker.remedies.search import remedied

        remedied(designs, contents, book, read_in.judging, plan.changes)
    return designs, unreadable, read_in.tables.designs


def note(
    designs: Iterable[DesignReport], book: Rulebook, plan: Plan, contents: dict[str, bytes]
) -> None:
    """Note on each finding whether it is waived, and whether it was known.

    Args:
        designs: the reports.
        book: the rules.
        plan: has the waivers and known findings.
        contents: the designs' files by path.
    """
    if plan.waivers or plan.known is not None:
        waivable = frozenset(rule.id for rule in book.rules if rule.waivable)
        for design in designs:
            digest = ""
            if plan.known is not None and design.path in contents:
                digest = digest_of(design.path, contents[design.path])
            _note(design, plan, waivable, RuleSet(book.edition, book.digest), digest)


def _note(
    design: DesignReport, plan: Plan, waivable: frozenset[str], rules: RuleSet, digest: str
) -> None:
    """The same for one design."""
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


def entries(
    files: list[tuple[str, bytes | None]], plan: Plan, beside: besides.Files | None = None
) -> Iterator[Entry]:
    """The results of files, in order; each design is written out when it is asked for.

    Args:
        files: the path of each, and its content where it was read already.
        plan: how they are judged.
        beside: the files beside them, where this is not done on the caller's machine.

    Returns:
        One entry a file, also for one that cannot be read or on which the program fails.

    Raises:
        BadRules: the rules cannot be used.
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
        designs, unreadable, crashed = crashes_apart(contents, plan)
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
            # Else the last one would keep all that was judged with it while more is read.
            del design
            if gc.get_count()[0] - objects > MOST_GARBAGE:
                gc.collect(1)
                objects = gc.get_count()[0]
        yield entry


def crashes_apart(
    contents: dict[str, bytes],
    plan: Plan,
    judged: Callable[..., tuple[list[Any], list[Unreadable]]] | None = None,
) -> tuple[list[Any], list[Unreadable], list[Crashed]]:
    """The same as `check`, but designs on which the program fails are separated from the rest.

    Designs that are judged together fail together, so a chunk that fails is split until the failing
    design is alone.

    Args:
        contents: the designs' files by path.
        plan: how they are judged.
        judged: a function to call instead of `check`, with the same arguments.

    Returns:
        The results, the mistakes in designs, and the designs on which the program failed.

    Raises:
        BadRules: the rules cannot be used.
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
        found, bad, fell = crashes_apart({name: contents[name] for name in some}, plan, judged)
        designs += found
        unreadable += bad
        crashed += fell
    return designs, unreadable, crashed


def files_judged(
    files: Iterable[str],
    plan: Plan,
    by: Callable[..., tuple[list[Any], list[Unreadable]]],
    named: Iterable[str] = (),
) -> tuple[list[Any], list[Unreadable]]:
    """Read and judge files.

    Args:
        files: their paths.
        plan: how they are judged.
        by: a function that judges (path, content) pairs by a plan, as `check` does.
        named: the files that the call names itself.

    Returns:
        The results, and what is wrong with the files that cannot be judged.
    """
    contents: dict[str, bytes] = {}
    problems: list[Unreadable] = []
    for path in files:
        try:
            contents[shown(path, plan)] = content_of(path)
        except OSError as error:
            words = f"The file cannot be read: {bounded.why(error)}."
            problems.append(OfTheFile(shown(path, plan), 1, 1, words))
    found, unreadable, crashed = crashes_apart(contents, plan, by)
    meant = {shown(path, plan) for path in named}
    # What a search of a folder came upon, and is no design at all, is no mistake.
    problems += [
        one for one in unreadable if one.path in meant or not what_else(contents[one.path])
    ]
    return found, [*problems, *crashed]


def _is_of_the_rules(error: Exception) -> bool:
    return type(error).__name__ == "BadRules"


def failed(path: str, error: BaseException) -> Crashed:
    """The message for a design on which the program failed.

    Args:
        path: of the design, as reports show it.
        error: what was raised, or what stands for a worker that died.

    Returns:
        In words for the person, with the trace for developers.
    """
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
        trace="".join(traceback.format_exception(error)),
    )
