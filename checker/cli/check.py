"""`prescreed check PATH…`: judge designs and report."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from checker.outcome.results import SEVERITIES, PolicyHeld, RuleWords, Run, Totals
from checker.outcome.status import Answer, Held, answer
from checker.reading.ledger import (
    CRASHED,
    FOUND,
    JUDGED,
    NAMED,
    PASSED_OVER,
    UNREADABLE,
    FileState,
    counted,
)
from checker.reading.mistakes import Crashed, Unreadable
from checker.run import session
from checker.run.outputs import Outputs, pair_up
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, Unwritable

if TYPE_CHECKING:
    from checker.run.batch import Checked, Plan


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    from checker.reports import FORMATS

    made = Parser(
        prog="prescreed check",
        description="Check designs: every rule is computed for everything it applies to.",
        epilog="Exit status: 0 nothing at or above --fail-on; 1 a fail, an open result or a "
        "critical review without an answer is, or a design has no loop; 2 the call or a design "
        "could not be read, or nothing was judged; 3 the program itself failed on a design (every "
        "other design is still checked and reported).",
    )
    session.judging_options(made)
    made.add_argument(
        "--format",
        action=_Pairs,
        choices=tuple(FORMATS),
        help="how to report (default: text); may be given several times, each with its --output",
    )
    made.add_argument(
        "--output",
        action=_Pairs,
        metavar="FILE",
        help="where to write the format named before it (default: standard output); for html "
        "also a folder, which gets a page a design",
    )
    made.add_argument(
        "--table",
        choices=("results", "computed"),
        default="results",
        help="csv and parquet: one row a result, or one row a loop (default: results)",
    )
    made.add_argument(
        "--summary", action="store_true", help="text: one line a design instead of its findings"
    )
    made.add_argument(
        "--group-by",
        choices=("severity", "rule"),
        default="severity",
        help="text: findings by how grave they are, or all of a rule together (default: severity)",
    )
    made.add_argument(
        "--fail-on",
        choices=(*SEVERITIES, "never"),
        default="major",
        help="the mildest severity of a rule that failed or is open that makes the exit status 1 "
        "(default: major)",
    )
    made.add_argument(
        "--allow-unproven",
        action="store_true",
        help="let pass what is only open or not looked at, but for what could be judged before",
    )
    made.add_argument(
        "--fail-on-open",
        action="append",
        default=[],
        metavar="RULE[,RULE…]",
        help="rules that must not be open for want of data either ('all': none may)",
    )
    made.add_argument(
        "--known",
        metavar="FILE",
        help="findings written by 'prescreed freeze'; only new and worse ones count",
    )
    made.add_argument(
        "--second-opinion",
        action="store_true",
        help="work every wet floor out by conduction in its section too, beside the standard; "
        "pages always have it",
    )
    made.add_argument(
        "--with",
        action="append",
        default=[],
        metavar="PATH=VALUE",
        help="what if: judge each design with this value in it, say loops.L1.length=98m or "
        "plant.supply=40°C; as many as wanted, null takes a key away; a range such as "
        "plant.supply=35..45°C gives a table and a curve; the file stays as it is",
    )
    made.add_argument(
        "--no-cache", action="store_true", help="compute everything anew, and keep nothing"
    )
    made.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="check on the Dask cluster whose scheduler stands there, say tcp://10.0.0.1:8786",
    )
    made.add_argument(
        "--category",
        default="prescreed",
        metavar="NAME",
        help="what tells this run from others on the same commit, where a SARIF report goes to a "
        "host (default: prescreed)",
    )
    made.add_argument(
        "--quiet", action="store_true", help="say nothing on the terminal but what went wrong"
    )
    made.add_argument(
        "--verbose", action="store_true", help="say on standard error by what is judged"
    )
    return made


class _Pairs(argparse.Action):
    """Keeps formats and outputs in the order they were given."""

    def __call__(
        self, parser: Any, namespace: Any, values: str | Sequence[Any] | None, option: Any = None
    ) -> None:
        given = [*(getattr(namespace, "pairs", None) or []), (self.dest, values)]
        namespace.pairs = given


def run(words: list[str]) -> int:
    """Check and report; returns the exit status."""
    return session.answered(lambda: _checked(session.open_run(parser(), words)))


def _checked(opened: session.Session) -> int:
    from checker.run.progress import watched

    values = opened.options.values
    outputs = _outputs(values, opened.inputs)
    course = _Course(opened)
    with outputs:
        run = _run(opened, outputs)
        if values.verbose:
            tell(*_by_what(opened, run))
        outputs.head(run)
        for group in opened.groups:
            plan = opened.plan(group, tuple(outputs.formats))
            done = 0
            try:
                for checked in watched(_chunks(group.files, plan, values), len(group.files)):
                    outputs.add(checked.pieces)
                    course.take(group, checked)
                    done += len(checked.entries)
            except KeyboardInterrupt:
                tell(f"Stopped after {done} of {len(group.files)} designs; no report is written.")
                raise
        ended = course.end(run)
        for mistake in course.unreadable:
            tell(session.told(mistake))
        for failure in ended.crashed:
            tell(f"{failure.path}: {failure.message}")
            if values.verbose:
                tell(*failure.trace.splitlines())
        if opened.waivers:
            _settle(opened, course, aloud=not outputs.shows_text)
        if values.verbose:
            for one in ended.files:
                tell(f"{one.path}: {one.state} ({one.why})")
        outputs.finish(ended, course.totals, course.unreadable)
        for line in outputs.log:
            tell(line)
        if not (course.totals.designs or outputs.shows_text or values.quiet):
            tell(ended.answer)
    return course.answer.status


class _Course:
    """What a run comes to, while it goes on."""

    def __init__(self, opened: session.Session) -> None:
        self.opened = opened
        self.unreadable: list[Unreadable] = [*opened.problems]
        self.totals = Totals()
        self.held: dict[int, Totals] = {}
        self.groups: dict[int, session.Group] = {}
        self.files: list[FileState] = [*opened.passed_over]
        self.crashed: list[Crashed] = []
        self.answer = Answer()

    def take(self, group: session.Group, checked: Checked) -> None:
        """Take in what came of some designs of a group."""
        of_group = self.held.setdefault(id(group), Totals())
        self.groups[id(group)] = group
        paths = iter(checked.paths)
        for entry in checked.entries:
            path = next(paths)
            how = NAMED if path in self.opened.named else FOUND
            if entry.crashed is not None:
                self.crashed.append(entry.crashed)
                self.files.append(FileState(entry.path, CRASHED, how))
            elif entry.unreadable and entry.else_is and how == FOUND:
                # What a search of a folder came upon, and is no design at all.
                self.files.append(FileState(entry.path, PASSED_OVER, entry.else_is))
            elif entry.unreadable:
                self.unreadable.extend(entry.unreadable)
                self.files.append(FileState(entry.path, UNREADABLE, how))
            else:
                of_group.join(entry.totals)
                self.files.append(FileState(entry.path, JUDGED, how))

    def end(self, run: Run) -> Run:
        """The run with what is known at its end."""
        for totals in self.held.values():
            self.totals.join(totals)
        self.unreadable.sort(key=lambda one: (one.path, one.line, one.column))
        bad = len({one.path for one in self.unreadable})
        self.totals.unreadable = bad
        idle = self.opened.idle
        nothing = not (self.totals.designs or bad or self.crashed or idle)
        self.answer = answer(
            [self._held(key, totals) for key, totals in self.held.items()],
            unreadable=bad,
            crashed=len(self.crashed),
            nothing=(counted(self.files) or "no design was found") if nothing else "",
            nothing_to_do=idle,
        )
        return replace(
            run,
            files=tuple(sorted(self.files, key=lambda one: one.path)),
            crashed=tuple(replace(one, trace="") for one in self.crashed),
            answer=self.answer.line,
        )

    def _held(self, key: int, totals: Totals) -> Held:
        options = self.groups[key].options
        demanded = session.demanded(options)
        if session.EVERY_RULE in options.get("fail_on_open"):
            demanded = list(totals.open_of)
        allow = bool(options.values.allow_unproven)
        return Held(totals, options.get("fail_on"), tuple(demanded), allow)


def _chunks(files: list[str], plan: Plan, values: argparse.Namespace) -> Iterator[Checked]:
    """What the files come to, some at a time: on this machine's cores or on a cluster."""
    from checker.run import batch
    from checker.run.cache import Cache
    from checker.run.progress import at_once

    cache = None if values.no_cache else Cache()
    if cache is not None and cache.refused:
        tell(f"Nothing that was found before is used: {cache.refused}.")
    try:
        if not values.cluster:
            jobs = values.jobs or os.cpu_count() or 1
            yield from batch.run(files, plan, jobs, cache=cache, at_once=at_once())
            return
        from checker.run.cluster import NoCluster, cluster

        compiled = plan.compiled or batch.compiled_rules(plan.rules, cache)
        there = replace(plan, rules=(), compiled=compiled)
        try:
            with cluster(values.cluster) as (executor, workers):
                yield from batch.run(files, there, workers, executor, cache)
        except NoCluster as error:
            raise Unwritable(str(error)) from None
    finally:
        if cache is not None:
            cache.close()


def _outputs(values: argparse.Namespace, inputs: list[str]) -> Outputs:
    pairs = pair_up(values.pairs or [])
    by_rule = values.group_by == "rule"
    look = {"table": values.table, "summary": values.summary, "by_rule": by_rule}
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


def _run(opened: session.Session, outputs: Outputs) -> Run:
    """By what the run judges, as its reports say."""
    shown = opened.options.shown()
    others = {
        group.options.shown()["known"]: group.known.data
        for group in opened.groups
        if group.known is not None
    }
    waivers = opened.waivers
    if waivers:
        shown["waivers"] = [file.path for file in waivers]
    tried = opened.options.get("with")
    if tried:
        shown["with"] = tried
    digest = session.digest(shown, *others.values(), *(repr(file).encode() for file in waivers))
    words: tuple[RuleWords, ...] = ()
    if any(getattr(made, "needs_words", False) for made in outputs.writers):
        from checker.rulebook.catalogue import in_words

        words = tuple(in_words(rule) for rule in opened.book.rules)
    return Run(
        opened.book.edition,
        opened.book.digest,
        shown,
        digest,
        opened.today.isoformat() if waivers else "",
        opened.options.values.category,
        words,
        PolicyHeld(
            opened.policy.name, opened.policy_digest, tuple(opened.notes), tuple(opened.altered)
        ),
    )


def _settle(opened: session.Session, course: _Course, *, aloud: bool) -> None:
    """Say of every waiver how it fared."""
    from checker.notes.waivers import settled

    totals = course.totals
    judged = frozenset(os.path.abspath(one.path) for one in course.files if one.state == JUDGED)
    rules = [rule.id for rule in opened.book.rules]
    totals.waivers = settled(totals.waivers, opened.waivers, opened.today, judged, rules)
    for use in totals.waivers:
        for problem in use.problems if aloud else ():
            tell(f"{use.path}:{use.line}: waiver of {use.rule} for {use.subject}: {problem}")


def _by_what(opened: session.Session, run: Run) -> list[str]:
    lines = [
        f"rules {run.edition}, {run.digest}",
        f"policy {run.policy.origin}, {run.policy.digest}",
        *opened.notes,
        f"{len(opened.files)} design{'' if len(opened.files) == 1 else 's'}",
    ]
    lines += [f"waivers {file.path}, judged by {run.today}" for file in opened.waivers]
    return lines
