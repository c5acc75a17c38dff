"""`prescreed check PATH…`: judge designs and report."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from checker.outcome.results import SEVERITIES, RuleWords, Run
from checker.reading.mistakes import Unreadable
from checker.run import session
from checker.run.outputs import STANDARD_OUTPUT, Outputs, Unwritable, pair_up

if TYPE_CHECKING:
    from checker.run.batch import Checked, Plan

FOUND = 1
EVERY_RULE = "all"


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    from checker.reports import FORMATS

    made = argparse.ArgumentParser(
        prog="prescreed check",
        description="Check designs: every rule is computed for everything it applies to.",
        epilog="Exit status: 0 nothing at or above --fail-on; 1 something is; 2 the call or a "
        "design could not be read (every other design is still checked and reported).",
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
        help="the mildest severity of a failed rule that makes the exit status 1 (default: major)",
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
    return session.answered(lambda: _checked(session.call(parser(), words)))


def _checked(call: session.Call) -> int:
    from checker.outcome.results import Totals
    from checker.run import batch
    from checker.run.progress import watched

    values = call.options.values
    for group in call.groups:
        where = group.options.where("fail_on_open")
        session.known_rules(where, _demanded(group.options.values), call.book)
    waivers, bad_waivers = session.waiver_files(call)
    today = (values.today or date.today()) if waivers else None
    outputs = _outputs(values)
    unreadable: list[Unreadable] = [*call.problems, *bad_waivers]
    totals = Totals(unreadable=len({problem.path for problem in unreadable}))
    failed = False
    with outputs:
        run = _run(call, outputs, today, waivers)
        if values.verbose:
            _say(_by_what(call, run, waivers))
        if not call.files and not unreadable:
            _say("No design to check.")
        outputs.head(run)
        for group in call.groups:
            own = group.options.values
            plan = batch.Plan(
                codes=own.codes,
                on=own.as_of,
                rules=() if call.compiled else tuple(own.rules),
                compiled=call.compiled,
                formats=tuple(outputs.formats),
                waivers=tuple(waivers),
                today=today,
                known=group.known,
                folder=os.getcwd() if waivers or group.known else "",
                standard_input=values.stdin_path or "standard input",
            )
            of_group = Totals()
            done = 0
            try:
                for checked in watched(_chunks(group.files, plan, values), len(group.files)):
                    outputs.add(checked.pieces)
                    of_group.join(checked.totals)
                    unreadable.extend(checked.unreadable)
                    done += len(checked.entries)
            except KeyboardInterrupt:
                _say(f"Stopped after {done} of {len(group.files)} designs; no report is written.")
                raise
            totals.join(of_group)
            demanded = _demanded(own)
            if EVERY_RULE in own.fail_on_open:
                demanded = list(of_group.open_of)
            failed |= of_group.reaches(own.fail_on) or of_group.lacks(demanded)
        unreadable.sort(key=lambda u: (u.path, u.line, u.column))
        for mistake in unreadable:
            _say(session.told(mistake))
        if today is not None:
            _settle(call, totals, waivers, today, unreadable, aloud=not outputs.shows_text)
        outputs.finish(totals, unreadable)
        for line in outputs.log:
            _say(line)
    if unreadable:
        return session.UNUSABLE
    return FOUND if failed else 0


def _chunks(files: list[str], plan: Plan, values: argparse.Namespace) -> Iterator[Checked]:
    """What the files come to, some at a time: on this machine's cores or on a cluster."""
    from checker.run import batch
    from checker.run.cache import Cache

    cache = None if values.no_cache else Cache()
    try:
        if not values.cluster:
            jobs = values.jobs or os.cpu_count() or 1
            yield from batch.run(files, plan, jobs, cache=cache)
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


def _demanded(values: argparse.Namespace) -> list[str]:
    """The rules that must not be open."""
    named = [rule.strip() for one in values.fail_on_open for rule in one.split(",")]
    return [rule for rule in named if rule and rule != EVERY_RULE]


def _outputs(values: argparse.Namespace) -> Outputs:
    pairs = pair_up(values.pairs or [])
    by_rule = values.group_by == "rule"
    look = {"table": values.table, "summary": values.summary, "by_rule": by_rule}
    text = ("text", STANDARD_OUTPUT)
    if values.quiet:
        return Outputs([pair for pair in pairs if pair != text], look=look)
    annotated = any(name == "annotations" for name, _ in pairs)
    if text in pairs and not annotated and _host_annotates():
        # The text quotes designs, which must not be able to give the host a command.
        import secrets

        guard = secrets.token_hex(16)
        return Outputs([*pairs, ("annotations", STANDARD_OUTPUT)], guard, look)
    return Outputs(pairs, look=look)


def _host_annotates() -> bool:
    """Whether the log goes to a CI host that reads workflow commands in it."""
    return os.environ.get("GITHUB_ACTIONS") == "true"


def _run(call: session.Call, outputs: Outputs, today: date | None, waivers: list[Any]) -> Run:
    """By what the run judges, as its reports say."""
    shown = call.options.shown()
    others = {
        group.options.shown()["known"]: group.known.data
        for group in call.groups
        if group.known is not None
    }
    if waivers:
        shown["waivers"] = [file.path for file in waivers]
    digest = session.digest(shown, *others.values(), *(repr(file).encode() for file in waivers))
    words: tuple[RuleWords, ...] = ()
    if any(getattr(made, "needs_words", False) for made in outputs.writers):
        from checker.rulebook.catalogue import in_words

        words = tuple(in_words(rule) for rule in call.book.rules)
    return Run(
        call.book.edition,
        call.book.digest,
        shown,
        digest,
        today.isoformat() if today else "",
        call.options.values.category,
        words,
    )


def _settle(
    call: session.Call,
    totals: Any,
    waivers: list[Any],
    today: date,
    unreadable: list[Unreadable],
    *,
    aloud: bool,
) -> None:
    """Say of every waiver how it fared."""
    from checker.notes.waivers import settled

    bad = {os.path.abspath(problem.path) for problem in unreadable}
    judged = frozenset(os.path.abspath(path) for path in call.files) - bad
    rules = [rule.id for rule in call.book.rules]
    totals.waivers = settled(totals.waivers, waivers, today, judged, rules)
    for use in totals.waivers:
        for problem in use.problems if aloud else ():
            _say(f"{use.path}:{use.line}: waiver of {use.rule} for {use.subject}: {problem}")


def _by_what(call: session.Call, run: Run, waivers: list[Any]) -> str:
    lines = [
        f"rules {run.edition}, {run.digest}",
        f"settings {call.settings.path or 'none'}, {run.settings_digest}",
        *call.passed_over,
        f"{len(call.files)} design{'' if len(call.files) == 1 else 's'}"
        + (f", {call.excluded} excluded" if call.excluded else ""),
    ]
    lines += [f"waivers {file.path}, judged by {run.today}" for file in waivers]
    return "\n".join(lines)


def _say(text: str) -> None:
    print(text, file=sys.stderr)
