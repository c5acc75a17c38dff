"""`prescreed check PATH…`: judge designs and report."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from checker.outcome.results import SEVERITIES
from checker.outcome.runs import Run
from checker.run import held_to, session
from checker.run.course import Course, Gate
from checker.run.options import manual_address, some_rules
from checker.run.outputs import Outputs, format_options, pair_up
from checker.run.provenance import by_what, run_of
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, Unwritable
from checker.words import how_many

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from checker.reports import FormatOptions
    from checker.run.batch import Checked, Plan
    from checker.run.options import Options
    from checker.run.parts import Sink


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    from checker.reports import FORMATS

    made = Parser(
        prog="prescreed check",
        description="Check designs against every rule that applies to them.",
        epilog="Exit status: 0 nothing is at or above --fail-on; 1 a fail or an open "
        "result is, or a critical review has no answer, or a design has no "
        "loop; 2 the call or a design could not be read, or nothing was judged;"
        " 3 the program itself failed on a design (every other design is still "
        "checked and reported).",
    )
    session.judging_options(made)
    report = made.add_argument_group("the report")
    report.add_argument(
        "--format",
        action=_Pairs,
        choices=tuple(FORMATS),
        help="how to report (default: text); may be given several times, each with its --output",
    )
    report.add_argument(
        "--output",
        action=_Pairs,
        metavar="FILE",
        help="where to write the format named before it (default: standard output); "
        "for html also a folder, with one page for each design; with a * in its"
        " name, or at an address, the report is written in numbered parts by "
        "the workers, compressed where the name ends in .gz, .bz2 or .xz",
    )
    report.add_argument(
        "--table",
        choices=("results", "computed"),
        default="results",
        help="csv and parquet: one row a result, or one row a loop (default: results)",
    )
    report.add_argument(
        "--summary", action="store_true", help="text: one line a design instead of its findings"
    )
    report.add_argument(
        "--group-by",
        choices=("severity", "rule"),
        default="severity",
        help="text: findings by severity, or all of a rule together (default: severity)",
    )
    report.add_argument(
        "--second-opinion",
        action="store_true",
        help="also compute every wet floor by conduction in its section, beside the "
        "standard; pages always do",
    )
    report.add_argument(
        "--remedies",
        action="store_true",
        help="text, json, sarif: add to each critical or major fail the changes that would clear "
        f"it; pages of up to {MOST_PAGED} designs always have them",
    )
    report.add_argument(
        "--open", action="store_true", help="also open the report's page in the browser"
    )
    report.add_argument(
        "--mark",
        metavar="BOOK.xlsx",
        help="write a copy of the sheet with each finding marked in its cell",
    )
    report.add_argument(
        "--category",
        default="prescreed",
        metavar="NAME",
        help="name that distinguishes this SARIF report from others on the same "
        "commit (default: prescreed)",
    )
    report.add_argument(
        "--manual",
        type=manual_address,
        default="",
        metavar="URL",
        help="address of your published 'prescreed manual', for links from findings "
        "in pages and SARIF to their rule",
    )
    report.add_argument(
        "--quiet", action="store_true", help="print nothing on the terminal except what went wrong"
    )
    report.add_argument(
        "--verbose",
        action="store_true",
        help="print on standard error which rules, settings and waivers are in use",
    )
    gate = made.add_argument_group("when the exit status is 1")
    gate.add_argument(
        "--fail-on",
        choices=(*SEVERITIES, "never"),
        default="major",
        help="exit with 1 if a rule of this severity or a graver one failed or is open (default: "
        "major)",
    )
    gate.add_argument(
        "--allow-unproven",
        action="store_true",
        help="do not exit with 1 for what is only open or not reviewed, unless it "
        "could be judged before",
    )
    gate.add_argument(
        "--fail-on-open",
        action="append",
        default=[],
        type=some_rules,
        metavar="RULE[,RULE…]",
        help="exit with 1 if one of these rules lacks data, whatever its severity ('all': any "
        "rule)",
    )
    gate.add_argument(
        "--known",
        metavar="FILE",
        help="findings written by 'prescreed freeze'; only new and worse ones count",
    )
    made.add_argument(
        "--with",
        action="append",
        default=[],
        metavar="PATH=VALUE",
        help="what if: judge each design with this value, such as "
        "loops.L1.length=98m or plant.supply=40°C; may be given several times; "
        "null removes a key; a range such as plant.supply=35..45°C gives a "
        "table and a curve; the file is not changed",
    )
    made.add_argument(
        "--no-cache", action="store_true", help="compute everything again, and store nothing"
    )
    made.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="check on the Dask cluster with this scheduler, such as "
        "tcp://10.0.0.1:8786; into a folder or at an address, its workers write"
        " the report themselves, in parts",
    )
    return made


class _Pairs(argparse.Action):
    """Keeps formats and outputs in the order in which they were given."""

    def __call__(
        self, parser: Any, namespace: Any, values: str | Sequence[Any] | None, option: Any = None
    ) -> None:
        given = [*(getattr(namespace, "pairs", None) or []), (self.dest, values)]
        namespace.pairs = given


def run(words: list[str]) -> int:
    """Check and report; returns the exit status."""
    return session.answered(lambda: _whole(session.open_run(parser(), words, lazily=True)))


def _whole(opened: session.Session) -> int:
    """Check; then write the marked copy of the sheet and open the page in a browser, where
    wanted.
    """
    values = opened.options.values
    page = _page_to_open(values) if values.open else ""
    if values.mark:
        from checker.run.marking import mark, sheet_to_mark

        sheet_to_mark(opened)
        status = _checked(opened)
        mark(opened)
    else:
        status = _checked(opened)
    if page and os.path.exists(page):
        import webbrowser

        webbrowser.open(f"file://{os.path.abspath(page)}")
        tell(f"The page of the report: {page}")
    return status


def _page_to_open(values: argparse.Namespace) -> str:
    """The file of the page that is opened: where the call says, else in a new folder."""
    pairs = [*(values.pairs or [])]
    for (key, name), (other, path) in pairwise(pairs):
        if (key, name, other) == ("format", "html", "output"):
            return os.path.join(path, "index.html") if path.endswith(("/", os.sep)) else path
    import tempfile

    page = os.path.join(tempfile.mkdtemp(prefix="prescreed-page-"), "report.html")
    values.pairs = [*(pairs or [("format", "text")]), ("format", "html"), ("output", page)]
    return page


def _checked(opened: session.Session) -> int:
    from checker.cli.what_if import has_range, ranged
    from checker.run.progress import watched

    if has_range(opened.options.get("with")):
        return ranged(opened)
    values = opened.options.values
    pairs = pair_up(values.pairs or [])
    if sinks := _sinks(pairs, values):
        return _in_parts(opened, sinks)
    opened = opened.listed()
    outputs = _outputs(pairs, values, opened.inputs)
    course = _course(opened)
    with outputs:
        run = run_of(opened, outputs.writers)
        if values.verbose:
            tell(*by_what(opened, run))
        outputs.head(run)
        for group in opened.groups:
            remedies = _tells_remedies(opened, outputs.formats)
            plan = opened.plan(group, tuple(outputs.formats), remedies=remedies)
            done = 0
            try:
                for checked in watched(_chunks(group.files, plan, values), len(group.files)):
                    outputs.add(checked.pieces)
                    course.take(_gate(group.options), checked)
                    done += len(checked)
            except KeyboardInterrupt:
                tell(f"Stopped after {done} of {len(group.files)} designs; no report is written.")
                raise
        ended = course.end(run)
        _tell(opened, course, ended, aloud=not outputs.shows_text)
        outputs.finish(ended, course.totals, course.unreadable)
        for line in outputs.log:
            tell(line)
        if not (course.totals.designs or outputs.shows_text or values.quiet):
            tell(ended.answer)
    return course.answer.status


def _one_terminal() -> bool:
    """Whether report and messages go to the same terminal."""
    return sys.stdout.isatty() and sys.stderr.isatty()


def _tell(opened: session.Session, course: Course, ended: Run, *, aloud: bool) -> None:
    """Write messages about what went wrong to standard error; aloud: also about waivers."""
    verbose = opened.options.values.verbose
    # On a terminal the text report says it already.
    for mistake in course.unreadable if aloud or not _one_terminal() else ():
        tell(session.problem_line(mistake))
    for failure in ended.crashed:
        tell(f"{failure.path}: {failure.message}")
        if verbose:
            tell(*failure.trace.splitlines())
    if opened.waivers:
        _settle(opened, course, aloud=aloud)
    if verbose:
        for one in ended.files:
            tell(f"{one.path}: {one.state} ({one.why})")


def _sinks(pairs: list[tuple[str, str]], values: argparse.Namespace) -> tuple[Sink, ...]:
    """The parts of reports that workers write themselves; raises Unwritable."""
    if all(file == STANDARD_OUTPUT for _, file in pairs):
        return ()
    from checker.run.parts import Sink, name_for_workers, name_of_parts, refuse_existing_parts

    names = [name_of_parts(name, file, far=bool(values.cluster)) for name, file in pairs]
    if not any(names):
        return ()
    if not all(names):
        raise Unwritable("--output: a report in parts and one that is whole are two calls")
    sinks = tuple(
        Sink(format_options(name, file, _look(values)), name_for_workers(parts))
        for (name, file), parts in zip(pairs, names, strict=True)
    )
    for sink in sinks:
        refuse_existing_parts(sink)
    return sinks


def _in_parts(opened: session.Session, sinks: tuple[Sink, ...]) -> int:
    """Let workers write the reports, a part for each chunk of designs; returns the status."""
    from checker.reports import writer
    from checker.run import parts
    from checker.run.progress import watched

    values = opened.options.values
    course = _course(opened)
    formats = tuple(sink.chosen for sink in sinks)
    run = run_of(opened, [writer(chosen) for chosen in formats])
    if values.verbose:
        tell(*by_what(opened, run))
    count = 0
    with _crew(values) as (executor, jobs):
        for group in opened.groups:
            gate = _gate(group.options)
            plan = opened.plan(group, formats, remedies=_tells_remedies(opened, formats))
            task = parts.Task(plan, sinks, run, gate, opened.named)
            far = group.listing
            chunks = parts.run(group.files if far is None else far, task, jobs, executor, count)
            for checked in watched(chunks, len(group.files) if far is None else None):
                course.take(gate, checked)
                count += 1
            course.unreadable += far.problems if far is not None else ()
    ended = course.end(run)
    _tell(opened, course, ended, aloud=True)
    if not values.quiet:
        for sink in sinks:
            tell(f"{sink.name}: {how_many(count, 'part')}")
        tell(ended.answer)
    return course.answer.status


def _course(opened: session.Session) -> Course:
    return Course(opened.named, opened.problems, opened.passed_over, opened.idle)


def _gate(options: Options) -> Gate:
    """Which findings count, by these options."""
    return Gate(
        options.get("fail_on"),
        tuple(held_to.demanded(options)),
        held_to.demands_every(options),
        bool(options.values.allow_unproven),
    )


MOST_PAGED = 25
"""Up to this many designs, pages show remedies without being asked; each finding takes some 50
ms.
"""


def _tells_remedies(opened: session.Session, formats: Iterable[FormatOptions]) -> bool:
    pages = any(one.name == "html" for one in formats)
    asked = bool(opened.options.get("remedies"))
    few = not any(group.listing for group in opened.groups) and len(opened.files) <= MOST_PAGED
    return asked or (pages and few)


def _chunks(files: list[str], plan: Plan, values: argparse.Namespace) -> Iterator[Checked]:
    """The results of the files, some at a time, from this machine's processes or a cluster."""
    from checker.run import batch
    from checker.run.cache import Cache
    from checker.run.progress import at_once

    cache = None if values.no_cache else Cache()
    if cache is not None and cache.refused:
        tell(f"Nothing that was found before is used: {cache.refused}.")
    try:
        with _crew(values) as (executor, jobs):
            yield from batch.run(files, plan, jobs, executor, cache, at_once())
    finally:
        if cache is not None:
            cache.close()


@contextmanager
def _crew(values: argparse.Namespace) -> Iterator[tuple[Executor | None, int]]:
    """The cluster and its number of workers; None twice for this machine's own."""
    if not values.cluster:
        yield None, values.jobs or os.cpu_count() or 1
        return
    from checker.run.cluster import NoCluster, cluster

    try:
        with cluster(values.cluster) as (executor, workers):
            yield executor, workers
    except NoCluster as error:
        raise Unwritable(str(error)) from None


def _look(values: argparse.Namespace) -> dict[str, Any]:
    by_rule = values.group_by == "rule"
    return {
        "table": values.table,
        "summary": values.summary,
        "by_rule": by_rule,
        "remedies": values.remedies,
        "manual": values.manual,
    }


def _outputs(
    pairs: list[tuple[str, str]], values: argparse.Namespace, inputs: list[str]
) -> Outputs:
    look = _look(values)
    text = ("text", STANDARD_OUTPUT)
    if values.quiet:
        return Outputs([pair for pair in pairs if pair != text], look=look, inputs=inputs)
    annotated = any(name == "annotations" for name, _ in pairs)
    if text in pairs and not annotated and _host_annotates():
        # The text quotes designs, which must not be able to give the host a command.
        import secrets

        guard = secrets.token_hex(16)
        return Outputs([*pairs, ("annotations", STANDARD_OUTPUT)], guard, look, inputs)
    return Outputs(pairs, look=look, inputs=inputs)


def _host_annotates() -> bool:
    """Whether the log goes to a CI host that reads workflow commands in it."""
    return os.environ.get("GITHUB_ACTIONS") == "true"


def _settle(opened: session.Session, course: Course, *, aloud: bool) -> None:
    """Write a message about what became of every waiver."""
    from checker.notes.waivers import settled

    totals = course.totals
    judged = frozenset(map(os.path.abspath, course.judged))
    rules = [rule.id for rule in opened.heads.rules]
    totals.waivers = settled(totals.waivers, opened.waivers, opened.today, judged, rules)
    for use in totals.waivers:
        for problem in use.problems if aloud else ():
            tell(f"{use.path}:{use.line}: waiver of {use.rule} for {use.subject}: {problem}")
