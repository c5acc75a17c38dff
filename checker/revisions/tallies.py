"""Tables for the reviewer about what came in: senders by rules, trends over revisions,
repetitions.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from checker.outcome.results import SEVERITIES
from checker.revisions.reviewing import asked_of
from checker.revisions.senders import Project


class Table(NamedTuple):
    """A table for the reviewer: its title, what it says when empty, headings and rows of texts."""

    title: str
    empty: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class Finding(NamedTuple):
    """What equal findings of one revision share; number: of the revision, 0 for the oldest."""

    number: int
    is_newest: bool
    title: str
    kind: str
    severity: str


class Tally(NamedTuple):
    """What the tables need of a project, so that it need not stay in memory.

    findings: how many there are that are not waived; moves: a row for each revision, where there
    are several; wanted: each datum that is missing, and how often.
    """

    by: str
    name: str
    revisions: int
    loops: int
    verdict: str
    findings: Counter[Finding]
    moves: tuple[tuple[str, ...], ...]
    wanted: tuple[tuple[str, int], ...]


def tally(project: Project) -> Tally:
    """What the tables need of a design, so that the design itself can be let go.

    Args:
        project: the design with its revisions.

    Returns:
        Its numbers, without results or content.
    """
    return Tally(
        project.by,
        project.name,
        len(project.revisions),
        sum(section == "loops" for section, _ in project.newest.content),
        project.newest.report.verdict,
        Counter(
            Finding(number, one is project.newest, result.title, result.kind, result.severity)
            for number, one in enumerate(project.revisions)
            for result in one.report.results_of("fail", "open", "review")
            if not result.waived
        ),
        tuple(_moves_of(project)),
        tuple(
            (one.datum, max(1, len(one.subjects)))
            for one in asked_of(project.newest.report, unjudged=[])
        ),
    )


def overview(found: Sequence[Tally], by: str) -> list[Table]:
    """The reviewer's tables of what came in.

    Args:
        found: the numbers of each design, in the order of sender and name.
        by: what senders are grouped by, for the headings.

    Returns:
        Senders, rules by sender, changes over the revisions, mistakes that repeat, missing data.
    """
    return [
        _senders(found, by),
        _by_rule(found, by),
        _moves(found),
        _repeated(found, by),
        _wanted(found, by),
    ]


def _senders(found: Sequence[Tally], by: str) -> Table:
    fails: Counter[tuple[str, str]] = Counter()
    opened: Counter[str] = Counter()
    together: dict[str, list[Tally]] = defaultdict(list)
    for project in found:
        together[project.by].append(project)
        for one, count in project.findings.items():
            if one.is_newest and one.kind == "fail":
                fails[project.by, one.severity] += count
            elif one.is_newest and one.kind == "open":
                opened[project.by] += count
    rows = []
    for sender, own in together.items():
        loops = sum(project.loops for project in own)
        by_severity = [fails[sender, severity] for severity in SEVERITIES]
        verdicts = Counter(project.verdict for project in own)
        rate = f"{sum(by_severity) / loops:.2f}" if loops else "–"
        numbers = (
            len(own), sum(project.revisions for project in own), loops, verdicts["hold"],
            verdicts["unproven"], *by_severity, opened[sender],
        )  # fmt: skip
        rows.append((sender, *map(str, numbers), rate))
    heads = (
        by.capitalize(), "Projects", "Revisions", "Loops", "On hold", "Unproven",
        *(severity.capitalize() for severity in SEVERITIES), "Open", "Fails a loop",
    )  # fmt: skip
    return Table(f"By {by}, newest revisions", "No design.", heads, tuple(rows))


def _by_rule(found: Sequence[Tally], by: str) -> Table:
    fails: Counter[tuple[str, str]] = Counter()
    for project in found:
        for one, count in project.findings.items():
            if one.is_newest and one.kind == "fail":
                fails[one.title, project.by] += count
    title = f"{by.capitalize()}s by rules: fails of the newest revisions"
    if not fails:
        return Table(title, "No rule fails.", (), ())
    totals: Counter[str] = Counter()
    for (rule, _), times in fails.items():
        totals[rule] += times
    senders = sorted({sender for _, sender in fails})
    rows = [
        (rule, *(str(fails[rule, sender] or "") for sender in senders))
        for rule in sorted(totals, key=lambda rule: (-totals[rule], rule))
    ]
    return Table(title, "", ("Rule", *senders), tuple(rows))


def _moves_of(project: Project) -> Iterator[tuple[str, ...]]:
    if not project.moves:
        return
    for number, one in enumerate(project.revisions):
        counts = [one.report.counts[kind] for kind in ("fail", "open")]
        states: list[str] = ["", "", "", ""]
        if number:
            move = project.moves[number - 1]
            states = [str(len(move.of(s))) for s in ("new", "worse", "better", "mended")]
        name = project.name if not number else ""
        yield name, one.revision or "?", one.report.verdict, *map(str, counts), *states


def _moves(found: Sequence[Tally]) -> Table:
    heads = (
        "Project", "Revision", "Verdict", "Fails", "Open", "New", "Worse", "Better", "Mended",
    )  # fmt: skip
    rows = [row for project in found for row in project.moves]
    return Table("Over the revisions", "No project was sent more than once.", heads, tuple(rows))


def _repeated(found: Sequence[Tally], by: str) -> Table:
    """Rules that fail in several projects of one sender, or in several revisions of a project."""
    heads = (by.capitalize(), "Rule", "Projects", "Revisions", "Fails in the newest")
    projects: Counter[tuple[str, str]] = Counter()
    revisions: Counter[tuple[str, str]] = Counter()
    newest: Counter[tuple[str, str]] = Counter()
    for project in found:
        numbers: dict[str, set[int]] = {}
        for one, count in project.findings.items():
            if one.kind == "fail":
                numbers.setdefault(one.title, set()).add(one.number)
                newest[project.by, one.title] += count * one.is_newest
        for rule, own in numbers.items():
            projects[project.by, rule] += 1
            revisions[project.by, rule] += len(own)
    counted = [
        (*key, projects[key], count, newest[key]) for key, count in revisions.items() if count > 1
    ]
    counted.sort(key=lambda one: (-one[3], -one[4], one[0], one[1]))
    rows = tuple((sender, rule, *map(str, counts)) for sender, rule, *counts in counted)
    empty = "No rule fails in several projects or revisions of one sender."
    return Table("Mistakes that repeat", empty, heads, rows)


def _wanted(found: Sequence[Tally], by: str) -> Table:
    wanted: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    for project in found:
        for datum, times in project.wanted:
            own = wanted[project.by, datum]
            own[0] += 1
            own[1] += times
    ordered = sorted(wanted.items(), key=lambda one: (-one[1][1], one[0]))
    rows = tuple((sender, datum, str(n), str(times)) for (sender, datum), (n, times) in ordered)
    heads = (by.capitalize(), "Datum", "Projects", "Times")
    return Table("Data that left rules open", "No data are missing.", heads, rows)
