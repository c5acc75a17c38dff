"""A summary in Markdown for the page of a CI job: verdicts, then what breaks a limit.

Hosts drop a summary of more than one mebibyte entirely (actions/runner #4337), so rows end before
that, and the last line says how many are left out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec.json import decode, encode

from checker.outcome.report import DesignReport
from checker.outcome.results import PASSING, SEVERITIES, Result
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import ReportText, WholeReport
from checker.reports.addresses import Addresses
from checker.reports.sentences import (
    STATES,
    counted,
    held_to,
    marks,
    passed_over,
    stand_ins,
    troubles,
)
from checker.reports.verdicts import ORDER, worst
from checker.words import visible

if TYPE_CHECKING:
    from checker.reports import FormatOptions

MOST_BYTES = 900_000
"""Largest summary, well below the one mebibyte that hosts accept."""

_SIGNS = re.compile(r"([\\`*_{}\[\]()#+!|<>~@&:])")


class Writer(WholeReport):
    """Writes the summary of a job."""

    names_from_root = True

    def __init__(self, chosen: FormatOptions) -> None:
        self.addresses = Addresses(chosen)

    def piece(self, design: DesignReport) -> bytes:
        """The rows of one design: its verdict, and its fails with their ranks.

        Args:
            design: its report.

        Returns:
            The place of its verdict, its row, and a row for each fail and each newly open result,
            as JSON.
        """
        address = self.addresses.of(design.path)
        fails = design.results_of("fail")
        standing = [r for r in fails if not r.waived]
        counts = ", ".join(
            f"{number} {severity}"
            for severity in SEVERITIES
            if (number := sum(r.severity == severity for r in standing))
        )
        done = design.judged
        word = design.verdict if design.verdict == "release" else f"**{design.verdict.upper()}**"
        verdict = f"{word}, {done.done} of {done.of} rules judged"
        waived = f"; {len(fails) - len(standing)} waived" if len(fails) > len(standing) else ""
        row = f"| {verdict} | {_cell(address)} | {counts or 'none'}{waived} |"
        deprived = [r for r in design.results_of("open") if r.state == "worse" and not r.waived]
        findings = [(_rank(result), _row(address, result)) for result in [*fails, *deprived]]
        place = ORDER.index(design.verdict) - (len(ORDER) if marks(design) else 0)
        return encode((place, row, findings))

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The summary, cut at the end of a row where it would become too large.

        Args:
            run: adds the answer, the rules, the policy and what the program failed on.
            pieces: the rows of each design, which are sorted with the gravest first.
            totals: the counts, and problems with waivers.
            unreadable: a table of its own.

        Returns:
            The page in one part; a line for the log where rows are left out.
        """
        read = [decode(p, type=tuple[int, str, list[tuple[int, str]]]) for p in pieces]
        designs = [row for _, row, _ in sorted(read, key=lambda one: one[0])]
        findings = [finding for _, _, own in read for finding in own]
        findings.sort(key=lambda one: one[0])
        page = _Page()
        page.paragraph(f"## prescreed: {_cell(run.answer or worst(totals))}")
        page.paragraph(_cell(counted(totals)))
        page.paragraph(
            f"Rules {_cell(run.edition)}, {run.digest[:19]}…"
            + (f"; waivers judged by {run.today}" if run.today else "")
            + "."
        )
        for limit in stand_ins(totals):
            page.paragraph(f"**{_cell(limit)}**")
        for line in (held_to(run), passed_over(run), *troubles(run, totals)):
            if line:
                page.paragraph(_cell(line))
        unread = [
            f"| {_cell(f'{self.addresses.of(u.path)}:{u.line}:{u.column}')} | {_cell(u.message)} |"
            for u in unreadable
        ]
        page.table("### Cannot be read", "| where | what is wrong |", unread)
        rows = [row for _, row in findings]
        head = "| severity | what | found | where |"
        page.table("### What breaks a limit", head, rows)
        page.table("### Designs", "| verdict | design | fails |", designs)
        if run.answer:
            page.paragraph(_cell(run.answer))
        log: tuple[str, ...] = ()
        if page.left_out:
            log = (f"job-summary: {page.left_out} rows are left out: the page would be too large.",)
        return ReportText([page.text().encode()], log)


class _Page:
    """Paragraphs and tables with a limit on their bytes."""

    def __init__(self) -> None:
        self.parts: list[str] = []
        self.size = 0
        self.left_out = 0

    def paragraph(self, text: str) -> None:
        if not self._fits(f"{text}\n\n"):
            self.left_out += 1

    def table(self, title: str, head: str, rows: list[str]) -> None:
        if not rows:
            return
        line = "|" + "---|" * (head.count("|") - 1)
        self._fits(f"{title}\n\n{head}\n{line}\n")
        for number, row in enumerate(rows):
            if not self._fits(f"{row}\n"):
                self.left_out += len(rows) - number
                break
        self._fits("\n")

    def _fits(self, text: str) -> bool:
        size = len(text.encode())
        if self.size + size > MOST_BYTES:
            return False
        self.parts.append(text)
        self.size += size
        return True

    def text(self) -> str:
        more = f"{self.left_out} rows are left out; the other reports have them.\n"
        return "".join(self.parts) + (more if self.left_out else "")


def _rank(result: Result) -> int:
    """A sort key: new or worse findings before known ones, waived ones last; each by severity."""
    group = 2 if result.waived else result.state in PASSING
    return SEVERITIES.index(result.severity) + len(SEVERITIES) * group


def _row(address: str, result: Result) -> str:
    state: str = result.severity
    if result.waived:
        state = f"waived until {result.waived.until}, {result.severity}"
    elif result.kind == "open":
        state += ", newly open"
    elif result.state:
        state += f", {STATES[result.state]}"
    what = f"**{_cell(result.subject)}** {_cell(result.title)} ({_cell(result.rule)})"
    said = result.message
    if result.waived:
        said += f" Accepted by {result.waived.by}: {result.waived.reason}"
    where = f"{address}:{result.line}"
    return f"| {state} | {what} | {_cell(said)} | {_cell(where)} |"


def _cell(text: str) -> str:
    """A text on one line that Markdown shows as it is: no markup, no link, no mention."""
    return _SIGNS.sub(lambda sign: f"&#{ord(sign[0])};", visible(" ".join(text.split())))
