"""One line for each finding, for editors and scripts: `path:line:column: severity rule: message`.

This is the shape that editors' quick-fix lists and `grep` users know. It has fails that count, and
open or unanswered results that are critical or major; no passes. For a design that was read from a
sheet, line and column are the cell's row and column.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING, PASSING, Pattern, Result
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports.sentences import amiss, not_judged
from checker.words import visible

if TYPE_CHECKING:
    from checker.reports import FormatOptions


class Writer:
    """Writes one line for each finding, in the order of the file."""

    separator = b""

    def __init__(self, chosen: FormatOptions) -> None:
        pass

    def head(self, run: Run) -> bytes:
        """Nothing: every line is a finding.

        Args:
            run: not used.

        Returns:
            No bytes.
        """
        return b""

    def piece(self, design: DesignReport) -> bytes:
        """The findings of one design, in file order.

        Args:
            design: its report.

        Returns:
            A line for each fail that counts, and for each open or unanswered result that is
            critical or major.
        """
        patterns = enumerate(design.found.patterns)
        places = [place for place, pattern in patterns if _has_line(pattern)]
        return b"".join(_line_of(design.path, design.result(place)) for place in places)

    def tail(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """What could not be judged, and problems with waivers.

        Args:
            run: adds what the program failed on.
            totals: adds problems with waivers.
            unreadable: a line each.

        Returns:
            The lines, of the same shape as findings.
        """
        lines = [
            _line(one.path, one.line, one.column, "error", "unreadable", one.message)
            for one in not_judged(run, unreadable)
        ]
        lines += [
            _line(one.path, one.line, 1, "warning", "waiver", one.message) for one in amiss(totals)
        ]
        return b"".join(lines)


def _has_line(pattern: Pattern) -> bool:
    notes = pattern.notes
    if notes.waived or notes.state in PASSING:
        return False
    return pattern.kind == "fail" or (pattern.asks and pattern.severity in HOLDING)


def _line_of(path: str, result: Result) -> bytes:
    asks = "" if result.kind == "fail" else f"{result.kind}: "
    message = f"{asks}{result.subject}: {result.message or result.title} {result.remedy}"
    return _line(path, result.line, result.column, result.severity, result.rule, message)


def _line(path: str, line: int, column: int, severity: str, rule: str, message: str) -> bytes:
    words = " ".join(message.split())
    return f"{visible(path)}:{line}:{column}: {severity} {rule}: {visible(words)}\n".encode()
