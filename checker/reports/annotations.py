"""Findings as workflow commands on the log, which CI hosts show beside the lines of a change.

Hosts keep ten errors and ten warnings of a step and drop the rest without a word (actions/toolkit
pull request 734), so the gravest come first and a last notice says how many more there are. All
text is escaped: a design must not be able to give the host a command.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec.json import decode, encode

from checker.outcome.results import SEVERITIES, DesignReport, Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import Gathered, Gatherer
from checker.reports.addresses import Addresses

if TYPE_CHECKING:
    from checker.reports import Chosen

MOST = 10
"""Annotations of one level that are shown of a step."""
LEVELS = {"critical": "error", "major": "error", "minor": "warning", "observation": "notice"}


class Writer(Gatherer):
    """Writes annotations."""

    names_from_root = True
    separator = b"\n"

    def __init__(self, chosen: Chosen) -> None:
        self.addresses = Addresses(chosen)

    def piece(self, design: DesignReport) -> bytes:
        """The fails of one design that stand, each with its rank and level."""
        where = self.addresses.of(design.path)
        made = []
        for result in design.results_of("fail"):
            if result.waived or result.state == "unchanged":
                continue
            level = LEVELS[result.severity]
            said = f"{result.subject}: {result.message} {result.remedy}".rstrip()
            title = f"{result.title} ({result.rule}, {result.severity})"
            line = command(level, said, where, result.line, result.column, title)
            made.append(encode((SEVERITIES.index(result.severity), level, line)))
        return b"\n".join(made)

    def whole(
        self, run: Run, pieces: list[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> Gathered:
        """The first of each level, and how many more there are."""
        found: list[tuple[int, str, str]] = [
            (-1, "error", command("error", p.message, where, p.line, p.column, "Cannot be read"))
            for p in unreadable
            for where in (self.addresses.of(p.path),)
        ]
        for piece in pieces:
            own = [line for line in piece.split(b"\n") if line]
            found += [decode(line, type=tuple[int, str, str]) for line in own]
        found.sort(key=lambda one: one[0])
        kept: dict[str, list[str]] = {level: [] for level in ("error", "warning", "notice")}
        for _, level, line in found:
            # The last notice is for what is not shown.
            if len(kept[level]) < (MOST - 1 if level == "notice" else MOST):
                kept[level].append(line)
        lines = [line for level in kept.values() for line in level]
        more = []
        if len(found) > len(lines):
            more.append(f"{len(found) - len(lines)} more findings")
        if totals.waived:
            more.append(f"{totals.waived} waived")
        if totals.known:
            more.append(f"{sum(totals.known.values())} known and no worse")
        if more:
            lines.append(command("notice", f"Not shown here: {', '.join(more)}; see the report."))
        return Gathered("".join(f"{line}\n" for line in lines).encode())


def command(
    level: str, message: str, path: str = "", line: int = 0, column: int = 0, title: str = ""
) -> str:
    """One workflow command."""
    members = []
    if path:
        members.append(f"file={_member(path)},line={line},col={column}")
    if title:
        members.append(f"title={_member(title)}")
    place = f" {','.join(members)}" if members else ""
    return f"::{level}{place}::{_message(message)}"


def _message(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _member(text: str) -> str:
    return _message(text).replace(":", "%3A").replace(",", "%2C")
