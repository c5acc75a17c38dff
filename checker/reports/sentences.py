"""Sentences that all reports for people share."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from msgspec import UNSET, UnsetType

from checker.outcome.report import DesignReport
from checker.outcome.results import SEVERITIES, Limit, Measure, Result, Source, Value
from checker.outcome.runs import Run, Totals
from checker.reading import ledger
from checker.reading.mistakes import Unreadable
from checker.reports.verdicts import to_look_at
from checker.words import how_many, listed
from checker.words.speech import Speech

STATES = {
    "new": "new",
    "worse": "worse than known",
    "judged otherwise": "judged otherwise, by other rules or another program",
    "unchanged": "known, no worse",
}
"""The states of findings compared with the known ones, in words."""


def cited(source: Source) -> str:
    """A source in a line: title, edition, clause, and how far it can be relied on.

    Args:
        source: of a limit.

    Returns:
        The line without a full stop.
    """
    parts = [source.title]
    if source.edition:
        parts[0] += f" ({source.edition})"
    if source.clause:
        parts.append(f"clause {source.clause}" if source.clause[0].isdigit() else source.clause)
    if source.standing == "common practice":
        parts.append("common practice, no source")
    elif source.seen == "memory":
        parts.append("from memory")
    elif source.seen == "reported":
        parts.append("as reported")
    if source.replaces is not UNSET:
        parts.append(f"own limit, instead of {source.replaces}")
    elif source.own is not UNSET:
        parts.append("own limit")
    return ", ".join(parts)


def counted(totals: Totals) -> str:
    """How many designs there are, and the number of results of each kind: a report's last line.

    Args:
        totals: the counts over all designs.

    Returns:
        A sentence; what there is none of, such as waived findings, is left out.
    """
    failed = [f"{totals.failed[s]} {s}" for s in SEVERITIES if totals.failed.get(s)]
    parts = [
        f"{how_many(totals.designs, 'design')}, {totals.held} on hold"
        + (f", {totals.unproven} unproven" if totals.unproven else ""),
        f"{totals.passed} passed",
        f"{sum(totals.failed.values())} failed" + (f" ({', '.join(failed)})" if failed else ""),
        f"{totals.open} open",
        f"{totals.review} for review",
    ]
    if totals.waived:
        parts.append(f"{totals.waived} waived")
    if totals.known:
        parts.append(f"{sum(totals.known.values())} of the failed known and no worse")
    if totals.mended:
        parts.append(f"{totals.mended} mended")
    if totals.unreadable:
        parts.append(f"{totals.unreadable} unreadable")
    return ": ".join((parts[0], ", ".join(parts[1:]))) + "."


def judged_by(design: DesignReport) -> str:
    """The codes, and the day whose editions counted.

    Args:
        design: its report.

    Returns:
        Words without a full stop, with what a reader must know about codes and day after
        semicolons.
    """
    codes = ", ".join(design.codes) or "no code (limits of codes do not count)"
    day = design.judged_by or "unknown day, so by today's editions"
    own = " and own rules" if design.own_rules else ""
    return "; ".join((f"judged by {codes}{own}, {day}", *design.remarks))


def held_to(run: Run) -> str:
    """The policy that applied; and what was tried instead of what the designs state.

    Args:
        run: what the run judged by.

    Returns:
        One or two sentences; empty where there is neither.
    """
    tried = run.settings.get("with")
    instead = f"Not the designs as they are: judged with {listed(tried)}." if tried else ""
    return " ".join(
        filter(None, [f"Policy: {run.policy.origin}." * bool(run.policy.digest), instead])
    )


def passed_over(run: Run) -> str:
    """How many files were not judged, and why.

    Args:
        run: with what became of its files, which is known at its end.

    Returns:
        A sentence; empty where every file was judged.
    """
    sentences = ledger.counted(run.files)
    return f"{sentences}." if sentences else ""


def not_judged(run: Run, unreadable: list[Unreadable]) -> list[Unreadable]:
    """What could not be read, and what the program failed on, for formats with one place for both.

    Args:
        run: has what the program failed on.
        unreadable: what could not be read.

    Returns:
        A new list, what could not be read first.
    """
    return [*unreadable, *run.crashed]


class Amiss(NamedTuple):
    """A waiver that expired, has no effect or does not count: its place, and what is wrong."""

    path: str
    line: int
    message: str


def amiss(totals: Totals) -> list[Amiss]:
    """Everything that is wrong with waivers.

    Args:
        totals: has how each waiver was used.

    Returns:
        One for each problem, in the order of the waivers.
    """
    return [
        Amiss(use.path, use.line, f"Waiver of {use.rule} for {use.subject}: {problem}")
        for use in totals.waivers
        for problem in use.problems
    ]


def troubles(run: Run, totals: Totals) -> list[str]:
    """What a report must say besides its findings.

    Args:
        run: has what the program failed on, settings that are ignored, and how a change alters the
            policy.
        totals: has problems with waivers.

    Returns:
        Sentences; empty where nothing is wrong.
    """
    said = [f"Not judged: {one.path}: {one.message}" for one in run.crashed]
    said += [f"{one.path}:{one.line}: {one.message}" for one in amiss(totals)]
    said += [f"{note}." for note in run.policy.not_held]
    return [*said, *(f"The change alters the policy: {one}." for one in run.policy.altered)]


def stand_ins(totals: Totals) -> list[str]:
    """Each limit of a firm's own that replaced one of the program's.

    Args:
        totals: has these limits over all designs.

    Returns:
        Lines that a report shows before its findings.
    """
    return [f"OWN LIMIT {limit}" for limit in totals.own_limits]


def worst_first(results: Iterable[Result]) -> list[Result]:
    """New or worse findings before known ones, then by severity, then as they are.

    Args:
        results: in any order.

    Returns:
        A new list.
    """
    groups = {"judged otherwise": 1, "unchanged": 2}
    return sorted(
        results, key=lambda one: (groups.get(one.state or "", 0), SEVERITIES.index(one.severity))
    )


def known_words(design: DesignReport) -> str:
    """What was known about a design and is no worse, and what only other rules find.

    Args:
        design: its report, compared with known findings.

    Returns:
        A sentence with counts of fails and open results, waived findings, and reviews that nobody
        has answered.
    """
    counts: dict[str, int] = {}
    for result in design.results_of("fail", "open"):
        if not result.waived:
            counts[result.state or ""] = counts.get(result.state or "", 0) + 1
    said = [
        f"{counts.get('new', 0) + counts.get('worse', 0)} new or worse",
        f"{counts.get('unchanged', 0)} known and no worse",
    ]
    if counts.get("judged otherwise"):
        said.append(f"{counts['judged otherwise']} judged otherwise by other rules")
    waived = sum(bool(result.waived) for result in design.results_of("fail", "open"))
    if waived:
        said.append(f"{waived} waived")
    reviews = to_look_at(design.results_of("review"))
    if reviews:
        said.append(f"{len(reviews)} for review")
    return f"{', '.join(said)}."


def marks(design: DesignReport) -> str:
    """How many of a design's findings are new and worse: '2 new, 1 worse'.

    Args:
        design: its report.

    Returns:
        Words; empty where none is, or where no findings were known. An open result counts where it
        is worse, a waived one never.
    """
    counts = {"new": 0, "worse": 0}
    for result in design.results_of("fail", "open"):
        counted_too = result.kind == "fail" or result.state == "worse"
        if result.state in counts and counted_too and not result.waived:
            counts[result.state] += 1
    return ", ".join(f"{count} {state}" for state, count in counts.items() if count)


def waived_results(results: Iterable[Result]) -> list[Result]:
    """Fails and open results that a waiver accepts.

    Args:
        results: of one design.

    Returns:
        A new list, the gravest first.
    """
    return worst_first(one for one in results if one.kind in ("fail", "open") and one.waived)


def fresh(results: Iterable[Result]) -> list[Result]:
    """Findings except those that were known and are no worse.

    Args:
        results: of one design.

    Returns:
        A new list in the same order.
    """
    return [one for one in results if one.state != "unchanged"]


_ITEM = re.compile(r"(.+)\.(part|feed|layer|reading)s\[(\d+)\]")


def subject_words(subject: str) -> str:
    """A subject in words: 'loop L1', 'part 2 of loop L1', 'the design'.

    Args:
        subject: as reports name it (`loops.L1`, `loops.L1.parts[2]`).

    Returns:
        Words; ids as they are.
    """
    table, _, name = subject.partition(".")
    if not name:
        return "the design" if table == "design" else table.replace("_", " ")
    item = _ITEM.fullmatch(subject)
    if item:
        return f"{item[2]} {item[3]} of {subject_words(item[1])}"
    return f"{table.removesuffix('s').replace('_', ' ')} {name}"


def second_opinions(result: Result) -> list[str]:
    """What other limits say about the same value, where that adds something.

    Args:
        result: of any kind.

    Returns:
        A sentence for each limit that says otherwise, and for each code that says the same of a
        fail.
    """
    sentences = []
    for other in result.also or ():
        # Practice that says the same as a code needs no line of its own.
        if other.kind != result.kind and other.kind in ("pass", "fail"):
            sentences.append(f"But {cited(other.source)}: {other.message}")
        elif other.kind == result.kind == "fail" and other.source.code is not UNSET:
            sentences.append(f"Also {cited(other.source)}: {other.message}")
    return sentences


def wanted_data(design: DesignReport, *, known: bool = True) -> dict[str, list[str]]:
    """Reasons why something cannot be judged whatever is stated.

    Args:
        design: its report.
        known: whether to include reasons that were known before.

    Returns:
        By the words for what is missing, the ids of the rules that need it.
    """
    wanted: dict[str, list[str]] = {}
    asked = {rule for question in design.questions for rule in question.rules}
    opened = design.results_of("open")
    for result in opened if known else fresh(opened):
        no_question = result.rule not in asked or (result.rule, result.subject) in design.unasked
        if result.missing and not result.waived and no_question:
            rules = wanted.setdefault(result.missing, [])
            if result.rule not in rules:
                rules.append(result.rule)
    return wanted


def cautions(design: DesignReport) -> list[str]:
    """The cautions of the rules that apply at the design's stage.

    Args:
        design: its report.

    Returns:
        Sentences, each once.
    """
    applying = (
        pattern
        for pattern in design.patterns
        if pattern.kind != "notApplicable" and not pattern.early
    )
    return [*dict.fromkeys(pattern.caution for pattern in applying if pattern.caution)]


def value_text(value: Value | UnsetType, speech: Speech) -> str:
    """A value in words.

    Args:
        value: in a unit of reports, or already in the reader's; UNSET where there is none.
        speech: how values are shown.

    Returns:
        A text, yes or no, or number and unit of the reader; a dash where it could not be computed,
        nothing for UNSET.
    """
    if value is UNSET:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    return "–" if value.magnitude is None else speech.measure(value.magnitude, value.unit)


def bounded(limit: Limit, speech: Speech) -> str:
    """A limit in words: 'at most 100 m'.

    Args:
        limit: with one kind of bound, in units of reports or already in the reader's.
        speech: how values are shown.

    Returns:
        Words; of a range both ends, of a choice all that is allowed.
    """
    if limit.at_most:
        return f"at most {value_text(limit.at_most, speech)}"
    if limit.at_least:
        return f"at least {value_text(limit.at_least, speech)}"
    if limit.between:
        return " to ".join(value_text(bound, speech) for bound in limit.between)
    if limit.one_of:
        return " or ".join(value_text(one, speech) for one in limit.one_of)
    return f"by {limit.before}" if limit.before else f"from {limit.after}"


def magnitude(measured: object) -> float | None:
    """The number of a measure.

    Args:
        measured: a measure, or anything else, such as a text or UNSET.

    Returns:
        The number in the measure's unit; None where it has none, and for anything else.
    """
    return measured.magnitude if isinstance(measured, Measure) else None
