"""The report for a merge request or an e-mail: worst first, short, the rest folded.

Hosts refuse a comment of more than 65,536 characters (from memory), so designs end before that.
Text from a design never becomes markup, a link or a mention.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

import msgspec
from msgspec import Struct

from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING, SEVERITIES
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import ReportText, WholeReport
from checker.reports.joining import Joined, joined
from checker.reports.sentences import (
    cited,
    counted,
    held_to,
    judged_by,
    marks,
    passed_over,
    stand_ins,
    subject_words,
    troubles,
    wanted_data,
    worst_first,
)
from checker.reports.verdicts import ORDER, asked, looked_at, sentence, to_look_at
from checker.words import visible

if TYPE_CHECKING:
    from checker.reports import FormatOptions

MOST_BYTES = 60_000
"""Largest report, below what hosts accept."""

_MARKUP = re.compile(r"[\\`*_\[\]|~]")
_CALL = re.compile(r"[@#:!%&$](?=[\w/#])|www(?=\.)")
"""Characters of which hosts make links, mentions, numbers, entities or pictures, before a word."""
_APART = "<!-- -->"
"""Invisible to a reader; prevents a sign and its word from being read together."""


class Piece(Struct):
    """A design's row in the overview, and its section.

    Attributes:
        rank: a sort key with the worst first: whether something is new or worse than what was
            known, whether it is released, then the number of its fails by severity, open results
            and reviews, all negative.
        clean: whether it is released, and there is none of these.
        row: of the overview.
        section: the design's part of the report.
    """

    rank: tuple[int, ...]
    clean: bool
    row: str
    section: str


class Writer(WholeReport):
    """Writes the Markdown report."""

    def __init__(self, chosen: FormatOptions) -> None:
        self._encode = msgspec.json.Encoder().encode
        self._decode = msgspec.json.Decoder(Piece).decode

    def piece(self, design: DesignReport) -> bytes:
        """One design: what must change, then folded what else was found.

        Args:
            design: its report.

        Returns:
            A `Piece` as JSON.
        """
        return self._encode(Piece(*_rank(design), _row(design), "\n".join(_section(design))))

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The report: a table of the designs where there are several, then each, worst first.

        Args:
            run: adds the answer, the rules, the policy and what the program failed on.
            pieces: the designs, of which those without a finding are counted only, unless there is
                one design.
            totals: the counts, the cautions, and problems with waivers.
            unreadable: listed before the designs.

        Returns:
            The text in one part, within what hosts accept; a line for the log where designs are
            left out.
        """
        order = sorted(
            (one.rank, number)
            for number, one in enumerate(map(self._decode, pieces))
            if not one.clean or len(pieces) == 1
        )
        lines = [f"**{plain(run.answer)}**", ""] if run.answer else []
        answer = lines[:]
        if len(pieces) != 1 or unreadable:
            lines += [f"# {plain(counted(totals))}", ""]
            if clean := len(pieces) - len(order):
                lines += [f"Without any finding, and not shown: {clean}.", ""]
            for problem in unreadable:
                where = problem.place
                lines.append(f"- **Could not be read:** {plain(where)}: {plain(problem.message)}")
            lines.append("")
        own = [f"**{plain(limit)}**" for limit in stand_ins(totals)]
        lines += [line for limit in own for line in (limit, "")]
        said = [f"- {plain(caution)}" for caution in totals.cautions]
        last = [*_folded("Cautions", said), "", f"Rules {run.edition}, {run.digest}.", ""]
        last += [line for one in troubles(run, totals) for line in (plain(one), "")]
        beside = [one for one in (held_to(run), passed_over(run)) if one]
        last += [line for one in beside for line in (plain(one), "")]
        last += answer
        designs = (self._decode(pieces[number]) for _, number in order)
        shown = [*_fitting(designs, MOST_BYTES - _bytes([*lines, *last]))]
        left_out = len(order) - len(shown)
        if len(pieces) > 1 and shown:
            lines += ["| Design | Verdict | Fails | Open | For review |", "|---|---|---|--:|--:|"]
            lines += [one.row for one in shown] + [""]
        lines += [one.section for one in shown]
        log: tuple[str, ...] = ()
        if left_out:
            many = "s are" if left_out > 1 else " is"
            words = f"{left_out} more design{many} left out: the report would be too large"
            lines += [f"**{words}; the other reports have them.**", ""]
            log = (f"markdown: {words}.",)
        return ReportText(["\n".join([*lines, *last]).encode()], log)


def plain(text: str) -> str:
    """A text that Markdown shows as it is.

    Args:
        text: any text; line ends become blanks.

    Returns:
        One line, in which nothing becomes markup, a link, a mention or a picture.
    """
    line = _MARKUP.sub(r"\\\g<0>", visible(" ".join(text.split()))).replace("<", "\x00")
    line = _CALL.sub(lambda sign: sign[0].replace("&", "&amp;") + _APART, line)
    return line.replace("\x00", "&lt;")


def _bytes(lines: list[str]) -> int:
    return len("\n".join(lines).encode())


def _fitting(designs: Iterable[Piece], room: int) -> Iterator[Piece]:
    """As many of the designs, from the first on, as fit into this many bytes; at least the
    first.
    """
    for number, one in enumerate(designs):
        room -= _bytes([one.row, one.section, ""])
        if room < 0 and number:
            return
        yield one


def _rank(design: DesignReport) -> tuple[tuple[int, ...], bool]:
    """The design's rank, and whether it is released without any finding."""
    fails = [result.severity for result in design.results_of("fail") if not result.waived]
    others = [len(design.results_of(kind)) for kind in ("open", "review")]
    others[1] = len(to_look_at(design.results_of("review")))
    counts = (
        *(-fails.count(severity) for severity in SEVERITIES),
        *(-count for count in others),
    )
    rank = (-bool(marks(design)), ORDER.index(design.verdict), *counts)
    proven = design.verdict == "release"
    return rank, proven and not any(counts) and not design.results_of("fail")


def _row(design: DesignReport) -> str:
    fails = [result for result in design.results_of("fail") if not result.waived]
    counts = [
        f"{count} {severity}"
        for severity in SEVERITIES
        if (count := sum(fail.severity == severity for fail in fails))
    ]
    words = ", ".join(counts) or "none"
    if marked := marks(design):
        words += f" (**{marked}**)"
    unjudged = sum(not result.waived for result in design.results_of("open"))
    review = len(to_look_at(design.results_of("review")))
    done = design.judged
    word = design.verdict if design.verdict == "release" else f"**{design.verdict.upper()}**"
    verdict = f"{word}, {done.done} of {done.of} judged"
    return f"| {plain(design.name)} | {verdict} | {words} | {unjudged} | {review} |"


def _section(design: DesignReport) -> Iterable[str]:
    speech = design.speech
    fails = joined(worst_first(r for r in design.results_of("fail") if not r.waived), speech)
    grave = [one for one in fails if one.severity in HOLDING]
    yield f"## {plain(design.name)}: {design.verdict.upper()}"
    yield ""
    yield f"{plain(sentence(design))}"
    yield ""
    yield f"{plain(design.path)} · {plain(judged_by(design))}"
    yield ""
    for one in joined((r for r in design.results_of("open") if r.state == "worse"), speech):
        yield from _finding("-", one, "NEWLY OPEN")
    if not grave:
        yield "Nothing found that must change."
    for number, one in enumerate(grave, 1):
        yield from _finding(f"{number}.", one, one.severity.upper())
    milder = [line for one in fails if one not in grave for line in _finding("-", one)]
    yield from _folded("Short of good practice", milder)
    waived = [
        f"- {plain(r.subject)}: {plain(r.message)} Accepted by {plain(r.waived.by)} until "
        f"{r.waived.until}: {plain(r.waived.reason)}"
        for r in design.results_of("fail", "open")
        if r.waived
    ]
    yield from _folded(f"Accepted by a waiver: {len(waived)}", waived)
    questions = [
        f"- {plain(one.what)} ({one.who}; {one.severity}: {plain(', '.join(one.rules))})"
        for one in asked(design.questions)
    ]
    yield from _folded(f"To be asked: {len(questions)}", questions)
    wanted = [
        f"- {plain(missing)} (wanted by {plain(', '.join(rules))})"
        for missing, rules in wanted_data(design).items()
    ]
    yield from _folded(f"Cannot be judged: {len(wanted)}", wanted)
    every = design.results_of("review")
    reviews, seen = joined(to_look_at(every), speech), joined(looked_at(every), speech)
    yield from _folded(
        f"For review: {len(reviews)}",
        [line for one in reviews for line in _finding("-", one)],
    )
    yield from _folded(
        f"Reviewed: {len(seen)}", [line for one in seen for line in _finding("-", one)]
    )
    yield from _folded("Where the limits are published", _sources(fails))
    yield ""


def _finding(bullet: str, one: Joined, label: str = "") -> Iterable[str]:
    result = one.result
    who = plain(", ".join(subject_words(subject) for subject in one.subjects))
    start = f"**{label}** " if label else ""
    if result.state in ("new", "worse"):
        start += f"**({result.state})** "
    yield f"{bullet} {start}**{who}**: {plain(one.message)}"
    for under, words in one.below:
        them = plain(", ".join(subject_words(subject) for subject in under.subjects))
        yield f"   - {under.result.severity}, **{them}**: {plain(words)}"
    if result.remedy:
        yield f"   → {plain(result.remedy)}"


def _sources(fails: list[Joined]) -> list[str]:
    return [
        f"- {plain(one.result.rule)}: {plain(cited(one.result.source))} ({plain(one.where)})"
        for one in fails
        if one.result.source
    ]


def _folded(title: str, lines: list[str]) -> Iterable[str]:
    """Lines that open on a click; nothing where there are none."""
    if not lines:
        return
    # Without the blank lines the list would be read as HTML.
    yield from ("", f"<details><summary>{title}</summary>", "", *lines, "", "</details>")
