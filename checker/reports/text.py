"""The report for a terminal: worst first, a design at a time, readable at 80 columns."""

from __future__ import annotations

import io
import re
import textwrap
from typing import TYPE_CHECKING

from msgspec import UNSET
from rich.console import Console
from rich.text import Text

from checker.results import (
    SEVERITIES,
    DesignReport,
    Result,
    RuleSet,
    Source,
    Totals,
    Unreadable,
)

if TYPE_CHECKING:
    from checker.reports import Chosen

STYLES = {"critical": "bold red", "major": "red", "minor": "yellow", "observation": "cyan"}
INDENT = 13
WIDEST = 110
"""Columns; longer lines are hard to read."""

_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=[^\s\d;,.])")


class Writer:
    """Writes the text report."""

    separator = b"\n"

    def __init__(self, chosen: Chosen) -> None:
        self.width = max(40, min(chosen.width, WIDEST))
        self.colour = chosen.colour

    def head(self, rules: RuleSet) -> bytes:
        """Nothing: the first design starts the report."""
        return b""

    def piece(self, design: DesignReport) -> bytes:
        """One design: its verdict, what must change, what is open, what a person must look at."""
        out = _Page(self.width, self.colour)
        self._title(out, design)
        fails = design.results_of("fail")
        fails.sort(key=lambda result: SEVERITIES.index(result.severity))
        for result in fails:
            self._finding(out, result, result.severity.upper(), STYLES[result.severity])
        if not fails:
            out.line("  Nothing found that breaks a limit.")
            out.line("")
        for result in design.results_of("review"):
            self._finding(out, result, "LOOK AT", "magenta")
        self._open(out, design)
        return out.bytes().rstrip(b"\n") + b"\n"

    def tail(self, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """What could not be read, the cautions, and a last line that counts."""
        out = _Page(self.width, self.colour)
        if totals.designs:
            out.line("")
        for problem in unreadable:
            out.wrapped(
                f"{problem.path}:{problem.line}:{problem.column}: {problem.message}",
                first="UNREADABLE   ",
                style="bold red",
            )
        for caution in totals.cautions:
            out.wrapped(caution, first="CAUTION      ", style="bold yellow")
        if unreadable or totals.cautions:
            out.line("")
        out.wrapped(counted(totals), first="", style="bold")
        return out.bytes()

    def _title(self, out: _Page, design: DesignReport) -> None:
        held = design.verdict == "hold"
        verdict = "HOLD" if held else "RELEASE"
        name = textwrap.shorten(design.name, out.width - len(verdict) - 2, placeholder=" …")
        out.line(
            f"{name:<{out.width - len(verdict)}}{verdict}",
            style="bold red" if held else "bold green",
        )
        day = design.judged_by or "unknown day, so by today's editions"
        codes = ", ".join(design.codes) or "no code"
        out.wrapped(f"{design.path} · judged by {codes}, {day}", first="", style="dim")
        out.line("")

    def _finding(self, out: _Page, result: Result, label: str, style: str) -> None:
        out.parts(
            (f"{label:<{INDENT}}", style), (f"{result.subject}  ", "bold"), (result.title, "")
        )
        out.wrapped(result.message)
        for other in result.also or ():
            # Practice that says the same as a code needs no line of its own.
            if other.kind != result.kind and other.kind in ("pass", "fail"):
                out.wrapped(f"But {cited(other.source)}: {other.message}")
            elif other.kind == result.kind == "fail" and other.source.code is not UNSET:
                out.wrapped(f"Likewise {cited(other.source)}: {other.message}")
        if result.remedy:
            out.wrapped(f"→ {result.remedy}", more="  ")
        source = "" if result.source is UNSET else f" · {cited(result.source)}"
        out.wrapped(f"line {result.line} · {result.rule}{source}", style="dim")
        out.line("")

    def _open(self, out: _Page, design: DesignReport) -> None:
        wanted: dict[str, list[str]] = {}
        for result in design.results_of("open"):
            if result.missing:
                rules = wanted.setdefault(result.missing, [])
                if result.rule not in rules:
                    rules.append(result.rule)
        if not wanted:
            return
        out.parts((f"{'OPEN':<{INDENT}}", "blue"), ("Cannot be judged for want of data:", ""))
        for missing, rules in wanted.items():
            out.wrapped(f"{missing} ({', '.join(rules)})", first=" " * INDENT + "- ", more="  ")
        out.line("")


class _Page:
    """Lines of at most so many columns."""

    def __init__(self, width: int, colour: bool) -> None:
        self.width = width
        self.stream = io.StringIO()
        self.console = Console(
            file=self.stream,
            width=10_000,
            force_terminal=colour,
            color_system="standard" if colour else None,
            no_color=not colour,
            highlight=False,
            markup=False,
            emoji=False,
            soft_wrap=True,
        )

    def line(self, text: str, style: str = "") -> None:
        self.console.print(Text(_clean(text), style=style))

    def parts(self, *parts: tuple[str, str]) -> None:
        """One line of several styles, wrapped under its third part where it is too long."""
        whole = "".join(text for text, _ in parts)
        if len(whole) <= self.width:
            self.console.print(Text.assemble(*[(_clean(text), style) for text, style in parts]))
            return
        self.console.print(
            Text.assemble(*[(_clean(text.rstrip()), style) for text, style in parts[:-1]])
        )
        self.wrapped(parts[-1][0], style=parts[-1][1])

    def wrapped(
        self, text: str, first: str = " " * INDENT, more: str = "", style: str = ""
    ) -> None:
        """A paragraph; a number never parts from its unit."""
        glued = _NUMBER_AND_UNIT.sub("\u00a0", _clean(text))
        lines = textwrap.wrap(
            glued,
            self.width,
            initial_indent=first,
            subsequent_indent=" " * len(first) + more,
            break_long_words=True,
            break_on_hyphens=False,
        )
        for line in lines:
            self.line(line.replace("\u00a0", " "), style=style)

    def bytes(self) -> bytes:
        return self.stream.getvalue().encode()


def _clean(text: str) -> str:
    """Without control characters: a design's text must not steer the terminal."""
    return "".join(c if c.isprintable() or c == "\u00a0" else "\ufffd" for c in text)


def cited(source: Source) -> str:
    """A source in a line: title, edition, clause, and how far it can be relied on."""
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
    return ", ".join(parts)


def counted(totals: Totals) -> str:
    """The last line: how many designs, and how their results came out."""
    failed = [f"{totals.failed[s]} {s}" for s in SEVERITIES if totals.failed.get(s)]
    parts = [
        f"{totals.designs} design{'' if totals.designs == 1 else 's'}, {totals.held} on hold",
        f"{totals.passed} passed",
        f"{sum(totals.failed.values())} failed" + (f" ({', '.join(failed)})" if failed else ""),
        f"{totals.open} open",
        f"{totals.review} for review",
    ]
    if totals.unreadable:
        parts.append(f"{totals.unreadable} unreadable")
    return ": ".join((parts[0], ", ".join(parts[1:]))) + "."
