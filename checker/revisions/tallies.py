"""Tables for the reviewer about what came in: senders by rules, trends over revisions,
repetitions.
"""

from __future__ import annotations

from collections import Counter, defaultdict
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
    """A finding in one revision; number: of the revision, 0 for the oldest."""

    by: str
    project: str
    number: int
    is_newest: bool
    title: str
    kind: str
    severity: str


def overview(found: list[Project], by: str) -> list[Table]:
    """Tables of senders by rules, findings per loop, trends over revisions, and repetitions."""
    made = findings(found)
    return [
        _senders(found, made, by),
        _by_rule(made, by),
        _moves(found),
        _repeated(made, by),
        _wanted(found, by),
    ]


def findings(found: list[Project]) -> list[Finding]:
    """Every finding of every revision that is not waived."""
    return [
        Finding(
            project.by,
            project.name,
            number,
            one is project.newest,
            result.title,
            result.kind,
            result.severity,
        )
        for project in found
        for number, one in enumerate(project.revisions)
        for result in one.report.results_of("fail", "open", "review")
        if not result.waived
    ]


def _loops(project: Project) -> int:
    return sum(section == "loops" for section, _ in project.newest.content)


def _senders(found: list[Project], made: list[Finding], by: str) -> Table:
    newest = [one for one in made if one.is_newest]
    fails = Counter((one.by, one.severity) for one in newest if one.kind == "fail")
    opened = Counter(one.by for one in newest if one.kind == "open")
    rows = []
    for sender in dict.fromkeys(project.by for project in found):
        own = [project for project in found if project.by == sender]
        loops = sum(_loops(project) for project in own)
        by_severity = [fails[sender, severity] for severity in SEVERITIES]
        verdicts = Counter(project.newest.report.verdict for project in own)
        rate = f"{sum(by_severity) / loops:.2f}" if loops else "–"
        numbers = (
            len(own), sum(len(project.revisions) for project in own), loops, verdicts["hold"],
            verdicts["unproven"], *by_severity, opened[sender],
        )  # fmt: skip
        rows.append((sender, *map(str, numbers), rate))
    heads = (
        by.capitalize(), "Projects", "Revisions", "Loops", "On hold", "Unproven",
        *(severity.capitalize() for severity in SEVERITIES), "Open", "Fails a loop",
    )  # fmt: skip
    return Table(f"By {by}, newest revisions", "No design.", heads, tuple(rows))


def _by_rule(made: list[Finding], by: str) -> Table:
    fails = Counter((one.title, one.by) for one in made if one.is_newest and one.kind == "fail")
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


def _moves(found: list[Project]) -> Table:
    heads = (
        "Project", "Revision", "Verdict", "Fails", "Open", "New", "Worse", "Better", "Mended",
    )  # fmt: skip
    rows = []
    for project in found:
        if not project.moves:
            continue
        for number, one in enumerate(project.revisions):
            results = one.report.results_of("fail", "open")
            counts = [sum(r.kind == kind for r in results) for kind in ("fail", "open")]
            states: list[str] = ["", "", "", ""]
            if number:
                move = project.moves[number - 1]
                states = [str(len(move.of(s))) for s in ("new", "worse", "better", "mended")]
            name = project.name if not number else ""
            rows.append((name, one.revision or "?", one.report.verdict, *map(str, counts), *states))
    return Table("Over the revisions", "No project was sent more than once.", heads, tuple(rows))


def _repeated(made: list[Finding], by: str) -> Table:
    """Rules that fail in several projects of one sender, or in several revisions of a project."""
    heads = (by.capitalize(), "Rule", "Projects", "Revisions", "Fails in the newest")
    together: dict[tuple[str, str], list[Finding]] = defaultdict(list)
    for one in made:
        if one.kind == "fail":
            together[one.by, one.title].append(one)
    counted = []
    for (sender, rule), fails in together.items():
        projects = len({one.project for one in fails})
        revisions = len({(one.project, one.number) for one in fails})
        if revisions > 1:
            newest = sum(one.is_newest for one in fails)
            counted.append((sender, rule, projects, revisions, newest))
    counted.sort(key=lambda one: (-one[3], -one[4], one[0], one[1]))
    rows = tuple((sender, rule, *map(str, counts)) for sender, rule, *counts in counted)
    empty = "No rule fails in several projects or revisions of one sender."
    return Table("Mistakes that repeat", empty, heads, rows)


def _wanted(found: list[Project], by: str) -> Table:
    wanted: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    for project in found:
        for one in asked_of(project.newest.report, unjudged=[]):
            own = wanted[project.by, one.datum]
            own[0] += 1
            own[1] += max(1, len(one.subjects))
    ordered = sorted(wanted.items(), key=lambda one: (-one[1][1], one[0]))
    rows = tuple((sender, datum, str(n), str(times)) for (sender, datum), (n, times) in ordered)
    heads = (by.capitalize(), "Datum", "Projects", "Times")
    return Table("Data that left rules open", "No datum is missing.", heads, rows)
