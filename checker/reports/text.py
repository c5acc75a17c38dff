"""The report for a terminal: worst first, one design after the other, readable at 80 columns."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import chain
from typing import TYPE_CHECKING

from msgspec import UNSET

from checker.outcome.proposals import Remedy
from checker.outcome.report import DesignReport
from checker.outcome.results import Result
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import ReportText, WholeReport, between
from checker.reports.joining import Joined, joined, lacking, named
from checker.reports.remedies import CONFIRM, remedies_of, remedy_lines
from checker.reports.sentences import (
    STATES,
    amiss,
    cited,
    counted,
    fresh,
    held_to,
    judged_by,
    known_words,
    marks,
    passed_over,
    second_opinions,
    stand_ins,
    wanted_data,
    worst_first,
)
from checker.reports.terminal import INDENT, WIDEST, Page
from checker.reports.verdicts import STYLES as VERDICTS
from checker.reports.verdicts import (
    answered,
    asked,
    later,
    looked_at,
    sentence,
    to_look_at,
    turning,
)

if TYPE_CHECKING:
    from checker.reports import FormatOptions

STYLES = {"critical": "bold red", "major": "red", "minor": "yellow", "observation": "cyan"}
"""The style of each severity, as rich names it."""
SHEET = {"Not read, so not known": "NOT READ", "Look at": "REVIEW"}
"""Remarks on the reading of a sheet that are shown in full, and how their lines begin."""
SUMMED = {
    "CRITICAL": "critical",
    "MAJOR": "major",
    "MINOR": "minor",
    "OPEN": "open",
    "REVIEW": "review",
}
"""The counts of a summary: the heading of each column, and what it counts."""
_FRESH = b"\x00"
"""Marks the piece of a design in which something is new or worse; no report shows it."""


class Writer(WholeReport):
    """Writes the text report; it begins with the answer, so it must know all designs first."""

    def __init__(self, chosen: FormatOptions) -> None:
        self.width = max(40, min(chosen.width, WIDEST))
        self.colour = chosen.colour
        self.summary = chosen.summary
        self.remedies = chosen.remedies
        self.by_rule = chosen.by_rule
        self.separator = b"" if chosen.summary else b"\n"

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The report: the answer, each design, the counts, the answer again.

        Args:
            run: adds the answer, the policy and what the program failed on.
            pieces: the designs, of which those come first in which something is new or worse than
                what was known.
            totals: the counts, the cautions, and problems with waivers.
            unreadable: listed after the designs.

        Returns:
            The text, part by part.
        """
        order = sorted(range(len(pieces)), key=lambda number: pieces[number][:1] != _FRESH)
        in_order = (pieces[number].removeprefix(_FRESH) for number in order)
        inside = between((piece for piece in in_order if piece), self.separator)
        end = self.end(run, totals, unreadable)
        return ReportText(chain([self.begin(run, heads=bool(pieces))], inside, [end]))

    def begin(self, run: Run, *, heads: bool = True) -> bytes:
        """The exit status with its reason; for a summary the heading of its columns too.

        Args:
            run: has the answer, where the run has ended.
            heads: whether there are lines for a heading.

        Returns:
            The lines; empty where there is no answer and no heading.
        """
        out = Page(self.width, self.colour)
        if run.answer:
            out.wrapped(run.answer, first="", style="bold")
            out.line("")
        if not (self.summary and heads):
            return out.bytes()
        counts = "".join(f"{name:>{len(name) + 2}}" for name in SUMMED)
        out.line(f"{'VERDICT':<8}{counts}  DESIGN", style="bold")
        return out.bytes()

    def piece(self, design: DesignReport) -> bytes:
        """One design: its verdict, what must change, what is open, what must be reviewed.

        Args:
            design: its report.

        Returns:
            The lines, or the one line of a summary; a mark before them where something is new or
            worse.
        """
        return (_FRESH if marks(design) else b"") + self._piece(design)

    def _piece(self, design: DesignReport) -> bytes:
        out = Page(self.width, self.colour)
        if self.summary:
            self._summary(out, design)
            return out.bytes()
        self._title(out, design)
        self._sheet(out, design)
        # With known findings, only others are listed; the known ones are counted.
        has_known = design.mended is not None
        fails = worst_first(fresh(r for r in design.results_of("fail") if not r.waived))
        waived = [r for r in design.results_of("fail", "open") if r.waived and not has_known]
        if self.by_rule:
            self._rules(out, fails)
        for one in joined(() if self.by_rule else fails, design.speech):
            severity = one.severity
            remedies = remedies_of(design, one.result.rule, one.subjects) if self.remedies else ()
            self._finding(out, one, severity.upper(), STYLES[severity], remedies)
        for one in joined(
            (r for r in design.results_of("open") if r.state == "worse"), design.speech
        ):
            self._finding(out, one, "NEWLY OPEN", "bold blue")
        if has_known:
            out.wrapped(known_words(design), first="  ")
            out.line("")
        elif not fails:
            what = "that could be judged " if design.verdict == "unproven" else ""
            unwaived = " unwaived" if waived else ""
            out.line(f"  Nothing {what or 'found that '}breaks a limit{unwaived}.")
            out.line("")
        for one in joined(waived, design.speech):
            self._finding(out, one, "WAIVED", "dim")
        reviews = design.results_of("review")
        for one in joined(
            fresh(to_look_at(reviews)) if has_known else to_look_at(reviews), design.speech
        ):
            self._finding(out, one, "REVIEW", "magenta")
        for one in joined(looked_at(reviews), design.speech):
            self._finding(out, one, "SEEN", "dim")
        if not has_known:
            self._asked(out, design)
        self._open(out, design)
        for words in later(reviews):
            out.wrapped(f"For review {words}.", first=f"{'LATER':<{INDENT}}", style="dim")
        if self.remedies and any(one.proposals for one in design.remedies.values()):
            out.wrapped(CONFIRM, first=f"{'WOULD DO':<{INDENT}}", style="dim")
        for words in design.asides:
            out.wrapped(words, first=f"{'ANSWER':<{INDENT}}", style="bold yellow")
        for mended in design.mended or ():
            out.wrapped(f"{mended.subject} ({mended.rule})", first=f"{'MENDED':<{INDENT}}")
        return out.bytes().rstrip(b"\n") + b"\n"

    def end(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """What could not be read or judged, the cautions, the counts; last the exit status.

        Args:
            run: adds the answer, the policy and what the program failed on.
            totals: the counts, the cautions, and problems with waivers.
            unreadable: listed after what the program failed on.

        Returns:
            The lines.
        """
        out = Page(self.width, self.colour)
        if totals.designs:
            out.line("")
        for failure in run.crashed:
            out.wrapped(
                f"{failure.path}: {failure.message}", first="CRASHED      ", style="bold red"
            )
        for problem in unreadable:
            out.wrapped(
                f"{problem.place}: {problem.message}",
                first="UNREADABLE   ",
                style="bold red",
            )
        problems = amiss(totals)
        for one in problems:
            words = one.message.removeprefix("Waiver of ")
            where = f"{one.path}:{one.line}"
            out.wrapped(f"{where}: {words}", first="WAIVER       ", style="bold yellow")
        for caution in totals.cautions:
            out.wrapped(caution, first="CAUTION      ", style="bold yellow")
        for limit in stand_ins(totals):
            out.wrapped(limit, first="", more=" " * INDENT, style="bold yellow")
        for note in run.policy.not_held:
            out.wrapped(note, first="IGNORED      ", style="bold yellow")
        for line in run.policy.altered:
            out.wrapped(line, first="POLICY       ", style="bold yellow")
        above = unreadable or problems or totals.cautions or totals.own_limits or run.crashed
        if above or run.policy.not_held or run.policy.altered:
            out.line("")
        out.wrapped(counted(totals), first="", style="bold")
        for line in (held_to(run), passed_over(run)):
            if line:
                out.wrapped(line, first="", style="dim")
        if run.answer:
            out.wrapped(run.answer, first="", style="bold")
        return out.bytes()

    def _summary(self, out: Page, design: DesignReport) -> None:
        """One line: the verdict, the counts, and the design."""
        counts: Counter[str] = Counter()
        for result in design.results_of("fail", "open", "review"):
            later_or_seen = result.kind == "review" and (result.due or answered(result))
            if not result.waived and not later_or_seen:
                counts[result.severity if result.kind == "fail" else result.kind] += 1
        columns = "".join(f"{counts[key] or '·':>{len(name) + 2}}" for name, key in SUMMED.items())
        start = f"{design.verdict.upper():<8}{columns}  "
        if marked := marks(design):
            start += f"[{marked}] "
        room = self.width - len(start)
        # Of a long path the end tells more than the beginning.
        path = design.path if len(design.path) <= room else f"…{design.path[1 - room :]}"
        whole = f"{path} · {design.name}"
        style = "" if design.verdict == "release" else VERDICTS[design.verdict]
        out.line(start + (whole if len(whole) <= room else path), style=style)

    def _rules(self, out: Page, fails: list[Result]) -> None:
        """The findings of a rule together: title, source and remedy once."""
        groups: dict[tuple[str, str], list[Result]] = {}
        for result in fails:
            groups.setdefault((result.severity, result.rule), []).append(result)
        for (severity, rule), own in groups.items():
            first = own[0]
            out.parts(
                (f"{severity.upper():<{INDENT}}", STYLES[severity]),
                (f"{rule}  ", "bold"),
                (first.title + (f" ({len(own)})" if len(own) > 1 else ""), ""),
            )
            for result in own:
                where = f"{result.subject}, {result.where}: "
                out.wrapped(f"{where}{result.message}", first=" " * INDENT + "- ", more="  ")
            for remedy in dict.fromkeys(result.remedy for result in own if result.remedy):
                out.wrapped(f"→ {remedy}", more="  ")
            for source in dict.fromkeys(cited(result.source) for result in own if result.source):
                out.wrapped(source, style="dim")
            out.line("")

    def _title(self, out: Page, design: DesignReport) -> None:
        unjudged = sum(not result.waived for result in design.results_of("open"))
        verdict = design.verdict.upper() + (f", {unjudged} open" if unjudged else "")
        name = textwrap.shorten(design.name, out.width - len(verdict) - 2, placeholder=" …")
        out.line(
            f"{name:<{out.width - len(verdict)}}{verdict}",
            style=VERDICTS[design.verdict],
        )
        out.wrapped(sentence(design), first="")
        out.wrapped(f"{design.path} · {judged_by(design)}", first="", style="dim")
        out.line("")

    def _sheet(self, out: Page, design: DesignReport) -> None:
        """Remarks on how the sheet was read."""
        remarks = dict(design.sheet_remarks)
        for title, label in SHEET.items():
            for line in remarks.pop(title, ()):
                out.wrapped(line, first=f"{label:<{INDENT}}", style="bold yellow")
        beside = ", ".join(f"{len(lines)} {title.lower()}" for title, lines in remarks.items())
        if beside:
            words = f"Read from {design.sheet}; {beside} (--format html or json lists it)."
            out.wrapped(words, first=f"{'SHEET':<{INDENT}}", style="dim")
        if design.sheet_remarks:
            out.line("")

    def _finding(
        self, out: Page, one: Joined, label: str, style: str, remedies: Iterable[Remedy] = ()
    ) -> None:
        result = one.result
        out.parts(
            (f"{label:<{INDENT}}", style), (f"{named(one.subjects)}  ", "bold"), (result.title, "")
        )
        out.wrapped(one.message)
        for opinion in second_opinions(result):
            out.wrapped(opinion)
        for under, words in one.below:
            where = f"{named(under.subjects)} ({under.where} · {under.result.rule})"
            line = f"{under.result.severity}, {where}: {words}"
            out.wrapped(line, first=" " * INDENT + "- ", more="  ")
        if result.waived:
            waived = result.waived
            out.wrapped(f"Accepted by {waived.by} until {waived.until}: {waived.reason}")
        elif result.remedy:
            out.wrapped(f"→ {result.remedy}", more="  ")
        for remedy in remedies:
            if len(one.subjects) > 1:
                out.wrapped(f"Would do for {remedy.subject}:")
            remedy_lines(out, remedy)
        source = "" if result.source is UNSET else f" · {cited(result.source)}"
        standing = "" if result.state is UNSET else f" · {STATES[result.state]}"
        out.wrapped(f"{one.where} · {result.rule}{source}{standing}", style="dim")
        out.line("")

    def _asked(self, out: Page, design: DesignReport) -> None:
        questions = asked(design.questions)
        if not questions:
            return
        title = "Not stated, the most decisive first (and who would know):"
        out.parts((f"{'ASK':<{INDENT}}", "blue"), (title, ""))
        for one in questions:
            rules = ", ".join(one.rules)
            words = f"{one.what} ({one.who}) · {one.severity}: {rules}"
            out.wrapped(words, first=" " * INDENT + "- ", more="  ")
        out.line("")
        decided = turning(design.results_of("open"))
        if decided:
            out.parts((f"{'DECIDES':<{INDENT}}", "blue"), ("One value alone decides:", ""))
            for words in decided:
                out.wrapped(words, first=" " * INDENT + "- ", more="  ")
            out.line("")

    def _open(self, out: Page, design: DesignReport) -> None:
        wanted = wanted_data(design, known=design.mended is None)
        if not wanted:
            return
        out.parts((f"{'OPEN':<{INDENT}}", "blue"), ("Cannot be judged:", ""))
        for missing, rules in lacking(wanted):
            out.wrapped(f"{missing} ({', '.join(rules)})", first=" " * INDENT + "- ", more="  ")
        out.line("")
