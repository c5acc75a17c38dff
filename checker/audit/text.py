"""An audit for a terminal, readable at 80 columns."""

from __future__ import annotations

from collections.abc import Iterable

from checker.audit.editions import alike
from checker.audit.every_reading import by_subject
from checker.audit.following import NextMeasurement
from checker.audit.ranking import Ranked
from checker.audit.records import Audit, gathered
from checker.audit.siblings import SimilarJob
from checker.audit.timeline import out_of_order
from checker.reports.terminal import INDENT, WIDEST, Page

MOST_CAUSES = 5
"""This many causes are described in full; the others are named in a line."""
EXPLANATION = (
    "Points put the causes in order; they are not probabilities. Each starts with how often it is "
    "met (common 1, occasional 0, rare -1); evidence adds or takes up to 3 points (strong), 1.5 "
    "(fair) or 0.5 (weak), more the further past the limit; of several pieces the strongest counts "
    "whole, the next half, then a quarter. What is missing counts nothing. Causes that the "
    "evidence supports come first, then those with little support, then those it is against."
)
CALLS = 8
COMPUTED = {"supply_temperature": "wanted for that weather"}
"""What a computed value refers to, where that is not the water that was read."""


def written(audit: Audit, width: int = 80, colour: bool = False) -> bytes:
    """Write an audit as text.

    Args:
        audit: what to write, in its own units and decimal mark.
        width: of the terminal, in columns; narrower than 40 or wider than WIDEST is not used.
        colour: whether to style it with the terminal's escape codes.

    Returns:
        UTF-8, with one line end at the end.
    """
    out = Page(max(40, min(width, WIDEST)), colour)
    out.wrapped(audit.name, first="", style="bold")
    if audit.complaint:
        about = f" · {audit.subject}" if audit.subject else ""
        out.wrapped(f"{audit.complaint_title}{about}", first="", style="bold")
    for paper in audit.papers:
        failed = ", ".join(f"{n} {severity}" for severity, n in paper.failed.items()) or "none"
        basis = f"{', '.join(paper.codes)}, {paper.judged_by or 'unknown day'}"
        out.wrapped(
            f"{paper.stage}: {paper.path} · judged by {'; '.join((basis, *paper.remarks))} · "
            f"{paper.verdict} · failed: {failed} · "
            f"{paper.open} open",
            first="",
            more="  ",
            style="dim",
        )
    out.line("")
    _timeline(out, audit)
    _causes(out, audit)
    _differences(out, audit)
    _every_reading(out, audit)
    _editions(out, audit)
    _siblings(out, audit)
    for heading, lines in (
        ("ALL AT ONCE", audit.together),
        ("UNLIKELY", audit.spoken_against),
        ("INSTRUMENTS", audit.as_read),
        ("NOT KNOWN", audit.not_known),
        ("SOURCES", audit.sources),
        ("CAUTION", audit.cautions),
    ):
        _list(out, heading, lines)
    out.line("INPUTS", style="bold")
    for one in audit.inputs:
        out.wrapped(one.path, first="  ", more="    ")
        out.line(f"    {one.digest}", style="dim")
    return out.bytes().rstrip(b"\n") + b"\n"


def step_needs(one: NextMeasurement) -> str:
    """Word the minutes and tools of a step.

    Args:
        one: the step.

    Returns:
        A phrase without a full stop; missing tools are named as missing.
    """
    parts = [f"{one.minutes} min"]
    if one.tools:
        parts.append(f"with {' and '.join(one.tools)}")
    if one.lacking:
        most = "; it would tell most a minute" if one.parts else ""
        parts.append(f"not at hand: {', '.join(one.lacking)}{most}")
    return ", ".join(parts)


def _list(out: Page, heading: str, lines: Iterable[str]) -> None:
    """Write sentences under a heading; nothing where there are none."""
    label = heading
    for text in lines:
        out.wrapped(text, first=f"{label:<{INDENT}}- ")
        label = ""
    if not label:
        out.line("")


def _timeline(out: Page, audit: Audit) -> None:
    """Write the dates in the life of the job."""
    days = [
        f"{event.name} {event.on.isoformat() if event.on else 'unknown'}"
        for event in audit.timeline
    ]  # fmt: skip
    out.wrapped(" · ".join(days), first=f"{'TIMELINE':<{INDENT}}")
    for words in out_of_order(audit.timeline):
        out.wrapped(words)
    out.line("")


def _causes(out: Page, audit: Audit) -> None:
    """Write the causes and what to measure next."""
    if not audit.causes:
        return
    out.wrapped(audit.summary, first=f"{'IN SHORT':<{INDENT}}")
    for words in audit.as_complained:
        out.wrapped(words)
    out.line("")
    out.line("CAUSES, by evidence", style="bold")
    out.line("")
    for place, cause in enumerate(audit.causes[:MOST_CAUSES], 1):
        _cause(out, place, cause)
    rest = [f"{cause.title} ({cause.points:g})" for cause in audit.causes[MOST_CAUSES:]]
    if rest:
        out.wrapped("; ".join(rest) + ".", first=f"{'further':<{INDENT}}", style="dim")
        out.line("")
    out.wrapped(EXPLANATION, first=f"{'the order':<{INDENT}}", style="dim")
    out.line("")
    label = "NEXT"
    for one in audit.next:
        out.wrapped(f"{one.what} ({step_needs(one)}).", first=f"{label:<{INDENT}}")
        words = "Could tell apart" if one.parts else "Would confirm or refute"
        out.wrapped(f"{words}: {'; '.join(one.tells)}.", style="dim")
        label = ""
    out.line("")


def _cause(out: Page, place: int, cause: Ranked) -> None:
    """Write one cause with its evidence."""
    label = f"{place}. {cause.points:+.1f}"
    out.wrapped(f"{cause.title}: {cause.support}", first=f"{label:<{INDENT}}", style="bold")
    out.wrapped(cause.mechanism, style="dim")
    out.wrapped(f"{cause.usual} under this complaint", style="dim")
    for pieces in (cause.supporting, cause.against):
        for piece in pieces:
            out.wrapped(
                f"{piece.points:+.1f} {piece.weight}  {piece.subject}: {piece.says}", more="    "
            )
    for want in cause.missing[:3]:
        out.wrapped(f"?  up to {want.could:g}: {want.says}", more="    ")
    if len(cause.missing) > 3:
        out.wrapped(f"?  and {len(cause.missing) - 3} more that are missing")
    out.line("")


def _differences(out: Page, audit: Audit) -> None:
    """Write what differs between design, installation and readings."""
    if audit.explained:
        out.line("WHAT THE READINGS SAY", style="bold")
        for loops, name, says in gathered(audit.explained):
            out.wrapped(f"{loops} {name}: {says}", first="  ", more="    ")
        out.line("")
    if not audit.differences:
        return
    out.line("DESIGNED, LAID, MEASURED", style="bold")
    last = ""
    days = {row.loop: row.on for row in audit.differences if row.on}
    for row in audit.differences:
        numbers = [
            f"{label} {audit.speech.measure(value, row.unit)}"
            for label, value in (
                ("designed", row.designed),
                ("laid", row.installed),
                ("balanced", row.balanced),
                ("read", row.measured),
                (COMPUTED.get(row.name, "computed for that water"), row.computed),
            )
            if value is not None
        ]
        if row.loop != last:
            day = days.get(row.loop)
            read = f", read {day}" if day else ""
            out.wrapped(f"loops.{row.loop}{read}", first="  ", style="bold")
            last = row.loop
        mark = "*" if row.apart else " "
        name = row.name.replace("_", " ").replace("room.", "")
        says = f": {row.says}" if row.apart else ""
        out.wrapped(f"{mark} {name}: {', '.join(numbers)}{says}", first="    ", more="    ")
    out.line("")


def _every_reading(out: Page, audit: Audit) -> None:
    """Write all readings, visit by visit."""
    if not audit.every_reading:
        return
    out.line("EVERY READING, with how good it was declared to be", style="bold")
    last = ""
    for (visit, subject), own in by_subject(audit.every_reading).items():
        if visit != last:
            out.wrapped(visit, first="  ", style="bold")
            last = visit
        words = ", ".join(one.words(audit.speech) for one in own)
        place = f" [{own[0].place}]" if own[0].place else ""
        out.wrapped(f"{subject}: {words}{place}", first="    ", more="      ")
    out.line("")


def _editions(out: Page, audit: Audit) -> None:
    """Write what today's rules would change."""
    both = audit.editions
    if both is None:
        return
    then_day = both.then_day or "unknown day"
    out.line(f"BY THE RULES OF {then_day} AND OF {both.now_day}", style="bold")
    out.wrapped(
        f"{both.then_verdict} then, {both.now_verdict} now; {len(both.changed)} results differ "
        f"({sum(not one.matters for one in both.changed)} of them met or not in force on either "
        f"day), {both.alike} are alike.",
        first="  ",
    )
    for subjects, one in alike(both):
        out.wrapped(f"{subjects}  {one.title} ({one.rule})", first="  ", style="bold")
        out.wrapped(f"then {one.then}: {one.then_says}{_by(one.then_source)}", first="    ")
        out.wrapped(f"now  {one.now}: {one.now_says}{_by(one.now_source)}", first="    ")
    out.line("")


def _by(source: str) -> str:
    """A source's id in brackets; empty for none."""
    return f" [{source}]" if source else ""


def _siblings(out: Page, audit: Audit) -> None:
    """Write the similar jobs."""
    found = audit.siblings
    if found is None:
        if audit.not_looked:
            out.wrapped(audit.not_looked, first="")
            out.line("")
        return
    out.line(f"OTHER JOBS THAT MAY SHARE IT: {found.cause}", style="bold")
    out.wrapped(
        f"{found.looked_at} other jobs under {found.archive}: {found.found_sharing} show the same "
        f"on paper, {found.found_pattern} more only look alike; the first of each:",
        first="  ",
    )
    if found.sharing or found.pattern:
        out.line(f"  {'exposed':>7} {'near':>5}  job")
    for one in (*found.sharing, *found.pattern):
        out.wrapped(
            f"{one.name} · {one.designed_on} · {one.contractor}",
            first=f"  {one.exposure:>7.0%} {one.nearness:>5.0%}  ",
        )
    if found.sharing:
        out.line("")
        out.line("  To call, in this order:", style="bold")
        for number, one in enumerate(found.sharing[:CALLS], 1):
            _call(out, number, one)
    for problem in found.unreadable[:5]:
        out.wrapped(f"{problem.path}:{problem.line}: {problem.message}", first="  UNREADABLE ")
    out.line("")


def _call(out: Page, number: int, one: SimilarJob) -> None:
    out.wrapped(f"{one.name} ({one.path})", first=f"  {number:>2}. ")
    for finding in one.findings:
        out.wrapped(finding, first="      ")
