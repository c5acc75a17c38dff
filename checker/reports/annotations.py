"""Findings as workflow commands in the log, which CI hosts show beside the lines of a change.

Hosts keep ten errors and ten warnings of a step and drop the rest silently (actions/toolkit pull
request 734), so the gravest come first and a last notice says how many more there are. All text is
escaped: a design must not be able to give the host a command.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import TYPE_CHECKING

from msgspec.json import decode, encode

from checker.outcome.report import DesignReport
from checker.outcome.results import PASSING, SEVERITIES
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import ReportText, WholeReport
from checker.reports.addresses import Addresses
from checker.reports.sentences import amiss, not_judged
from checker.words import visible

if TYPE_CHECKING:
    from checker.reports import FormatOptions

MOST = 10
"""The number of annotations of one level that hosts show for a step."""
MOST_HELD = 1000
"""Annotations of one level that are kept before the gravest are chosen, for constant memory."""
LEVELS = {"critical": "error", "major": "error", "minor": "warning", "observation": "notice"}
"""The level of each severity."""


class Writer(WholeReport):
    """Writes annotations."""

    names_from_root = True

    def __init__(self, chosen: FormatOptions) -> None:
        self.addresses = Addresses(chosen)

    def piece(self, design: DesignReport) -> bytes:
        """The fails of one design that count.

        Args:
            design: its report.

        Returns:
            A line of JSON for each fail that is neither waived nor known: its rank, its level, and
            the command.
        """
        where = self.addresses.of(design.path)
        made = []
        for result in design.results_of("fail"):
            if result.waived or result.state in PASSING:
                continue
            level = LEVELS[result.severity]
            said = f"{result.subject}: {result.message} {result.remedy}".rstrip()
            title = f"{result.title} ({result.rule}, {result.severity})"
            line = command(level, said, where, result.line, result.column, title)
            made.append(encode((SEVERITIES.index(result.severity), level, line)))
        return b"\n".join(made)

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The commands: of each level as many as hosts show, the gravest first.

        Args:
            run: adds what the program failed on.
            pieces: the fails of each design, with their ranks.
            totals: adds problems with waivers, and how many findings were waived or known.
            unreadable: shown as errors, before all fails.

        Returns:
            The lines in one part; the last counts what is not shown.
        """
        broken = [
            (-1, "error", command("error", p.message, where, p.line, p.column, "Cannot be read"))
            for p in not_judged(run, unreadable)
            for where in (self.addresses.of(p.path),)
        ]
        broken += [
            (len(SEVERITIES), "warning", command("warning", p.message, where, p.line, 1, "Waiver"))
            for p in amiss(totals)
            for where in (self.addresses.of(p.path),)
        ]
        kept: dict[str, list[tuple[int, str]]] = {"error": [], "warning": [], "notice": []}
        count = 0
        for rank, level, line in chain(broken, chain.from_iterable(map(_lines, pieces))):
            count += 1
            kept[level].append((rank, line))
            if len(kept[level]) > MOST_HELD:
                kept[level] = _gravest(kept[level])
        # The last notice is for what is not shown.
        kept["notice"] = _gravest(kept["notice"])[: MOST - 1]
        lines = [line for level in kept.values() for _, line in _gravest(level)]
        more = []
        if count > len(lines):
            more.append(f"{count - len(lines)} more findings")
        if totals.waived:
            more.append(f"{totals.waived} waived")
        if totals.known:
            more.append(f"{sum(totals.known.values())} known and no worse")
        if more:
            lines.append(command("notice", f"Not shown here: {', '.join(more)}; see the report."))
        return ReportText(["".join(f"{line}\n" for line in lines).encode()])


def _lines(piece: bytes) -> list[tuple[int, str, str]]:
    return [decode(line, type=tuple[int, str, str]) for line in piece.split(b"\n") if line]


def _gravest(found: list[tuple[int, str]]) -> list[tuple[int, str]]:
    """As many as are shown; of equal ones the first."""
    return sorted(found, key=lambda one: one[0])[:MOST]


def command(
    level: str, message: str, path: str = "", line: int = 0, column: int = 0, title: str = ""
) -> str:
    """One workflow command.

    Args:
        level: `error`, `warning` or `notice`.
        message: any text; it is escaped.
        path: of the file, as the host names it; empty for a command about no place.
        line: from 1.
        column: from 1.
        title: shown above the message; empty for none.

    Returns:
        The line, without a line end.
    """
    members = []
    if path:
        members.append(f"file={_member(path)},line={line},col={column}")
    if title:
        members.append(f"title={_member(title)}")
    place = f" {','.join(members)}" if members else ""
    return f"::{level}{place}::{_message(message)}"


def _message(text: str) -> str:
    return visible(text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A"))


def _member(text: str) -> str:
    return _message(text).replace(":", "%3A").replace(",", "%2C")
