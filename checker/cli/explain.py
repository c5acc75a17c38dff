"""`prescreed explain FILE RULE SUBJECT`: the worked calculation behind a result."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING
from unicodedata import combining

from checker.reading import bounded
from checker.run import session
from checker.run.printing import format_option, output_option
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, Unwritable, put, refuse_overwriting

if TYPE_CHECKING:
    from checker.explain.records import ComparedLimit, Explained, Step

UNUSABLE = 2
MARKS = {"governs": "▶", "counts": "●", "not": "○"}
"""The sign before a limit: it governs the result, it counts, it does not count for this job."""


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed explain",
        description="Show how a rule's value is worked out, step by step with symbols, "
        "numbers, units and source, and compare it with every limit that it can"
        " have.",
        epilog="Exit status: 0, whatever the result; 2 the call or the design could not be read.",
    )
    made.add_argument("file", metavar="FILE", help="a design, or - for standard input")
    made.add_argument(
        "rule", metavar="RULE", help="a rule's id, as reports and 'prescreed rules' name it"
    )
    made.add_argument(
        "subject",
        metavar="SUBJECT",
        nargs="?",
        default="",
        help="what is judged, as reports name it (loops.L1), or its id; may be left "
        "out where there is only one",
    )
    format_option(made, ("text", "markdown", "json"))
    made.add_argument(
        "--picture",
        metavar="FILE.svg",
        help="also write a drawing of the floor in section that the value comes from",
    )
    session.basis_options(made)
    output_option(made)
    return made


def run(words: list[str]) -> int:
    """Explain; returns the exit status."""
    return session.answered(
        lambda: _explained(session.open_run(parser(), words, paths=lambda given: [given.file]))
    )


def _explained(opened: session.Session) -> int:
    from checker.explain.records import NotExplained
    from checker.explain.worked import explain
    from checker.run import batch

    arguments = opened.options.values
    for note in opened.notes:
        tell(note)
    for problem in opened.problems:
        tell(session.problem_line(problem))
    if opened.problems:
        return UNUSABLE
    if opened.judged_none(opened.files, ()):
        return 0
    (group,) = opened.groups
    (path,) = group.files
    plan = opened.plan(group)
    try:
        read = batch.read([(batch.shown(path, plan), batch.content_of(path))], plan)
    except OSError as error:
        raise Unwritable(f"{path}:1:1: The file cannot be read: {bounded.why(error)}.") from None
    for mistake in read.unreadable:
        tell(session.problem_line(mistake))
    if read.unreadable:
        return UNUSABLE
    try:
        worked = explain(read.tables, read.book, arguments.rule, arguments.subject, read.judging)
    except NotExplained as unknown:
        raise Unwritable(str(unknown)) from None
    if arguments.picture:
        _draw(worked, arguments.picture, arguments.file)
    if arguments.written == "json":
        from msgspec.json import encode
        from msgspec.json import format as indented

        put(indented(encode(worked), indent=1) + b"\n", STANDARD_OUTPUT)
    elif arguments.written == "markdown":
        sys.stdout.write("\n".join(markdown(worked)) + "\n")
    else:
        from checker.run.outputs import width_and_colour

        sys.stdout.buffer.write(text(worked, *width_and_colour(STANDARD_OUTPUT)))
    return 0


def _draw(worked: Explained, file: str, design: str) -> None:
    """Write the picture; raises Unwritable where there is none, or it cannot be written."""
    if not file.lower().endswith(".svg"):
        raise Unwritable(f"--picture: a drawing is written as SVG; write '{file}.svg'")
    if not worked.sections:
        raise Unwritable(
            f"there is no picture of '{worked.rule}' of {worked.subject}: no "
            "floor's section is worked out for it; leave --picture out, or explain "
            "'surface-temperature' of a loop whose floor, pipe and covering are stated"
        )
    refuse_overwriting(file, [design])
    put(worked.sections[0].svg.encode(), file)


KIND_STYLES = {"pass": "bold green", "fail": "bold red", "open": "blue", "review": "magenta"}


def text(worked: Explained, width: int, colour: bool) -> bytes:
    """The worked calculation for a terminal.

    Args:
        worked: the calculation.
        width: columns of the terminal.
        colour: whether it shows colours.
    """
    from checker.reports.sentences import cited
    from checker.reports.terminal import WIDEST, Page

    out = Page(max(40, min(width, WIDEST)), colour)
    kind = _kind(worked)
    title = f"{worked.rule} · {worked.subject}"
    out.parts(
        (f"{title:<{out.width - len(kind) - 1}} ", "bold"), (kind, KIND_STYLES.get(worked.kind, ""))
    )
    out.wrapped(f"{worked.title}. {worked.why}", first="")
    out.wrapped(f"{worked.path} · judged by {_by(worked)}", first="", style="dim")
    out.line("")
    out.line("Given", style="bold")
    if not worked.given:
        out.line("  Nothing.")
    symbols = max((_columns(one.symbol) for one in worked.given), default=0)
    for one in worked.given:
        other_unit = one.typed.partition(" ")[2] != one.value.partition(" ")[2]
        typed = f"{one.typed} = " if other_unit and " " in one.value else ""
        sign = f"{_padded(one.symbol, symbols)} = " if one.symbol else " " * (symbols + 3)
        value = f"  {sign}{typed}{one.value}"
        where = f"{one.subject}.{one.name}  {one.where}"
        gap = out.width - _columns(value) - len(where)
        if gap >= 1:
            out.line(f"{value}{' ' * gap}{where}")
        else:
            out.wrapped(value.strip(), first="  ", more=" " * (symbols + 3))
            out.line(f"{where:>{out.width}}")
    out.line("")
    for step in worked.steps:
        named = f"{step.title} · {step.subject}"
        out.wrapped(named, first=f"{step.number:>2}  ", style="bold")
        lead = f"    {step.symbol} "
        for line in _equations(step):
            out.wrapped(line, first=lead, more="  ")
            lead = " " * _columns(lead)
        if step.missing:
            out.wrapped(f"missing: {step.missing}.", first=" " * 4, style="blue")
        for line in (*_with(step), f"source: {step.source}"):
            out.wrapped(line, first=" " * 4, style="dim")
        out.line("")
    for picture in worked.sections:
        out.wrapped(picture.title, first="", style="bold")
        out.wrapped(picture.says, first="  ")
        for line in picture.text:
            out.line(f"  {line}")
        out.line("")
    out.line("Compared with", style="bold")
    for limit in worked.limits:
        style = KIND_STYLES.get(limit.kind, "") if limit.counts else "dim"
        words = f"{limit.limit}: {_verdict(limit)}"
        out.wrapped(words, first=f"  {_mark(limit)} ", style=style)
        if limit.why_not:
            out.wrapped(f"does not count: {limit.why_not}", first=" " * 4, style="dim")
        dates = f", in force {limit.in_force}" if limit.in_force else ""
        out.wrapped(f"{_code(limit)} · {cited(limit.source)}{dates}", first=" " * 4, style="dim")
    out.wrapped(f"{LEGEND}", first="  ", style="dim")
    out.line("")
    out.wrapped(worked.message, first=f"{kind}: ", style=KIND_STYLES.get(worked.kind, "bold"))
    if worked.remedy:
        out.wrapped(f"→ {worked.remedy}", first="", more="  ")
    if worked.caution:
        out.wrapped(f"Caution: {worked.caution}", first="", style="bold yellow")
    return out.bytes()


LEGEND = (
    f"{MARKS['governs']} governs the result, {MARKS['counts']} counts too, "
    f"{MARKS['not']} does not count for this job"
)


def _kind(worked: Explained) -> str:
    words = {"notApplicable": "DOES NOT APPLY"}
    failed = f"FAIL, {worked.severity}" if worked.kind == "fail" else worked.kind.upper()
    return words.get(worked.kind, failed)


def _by(worked: Explained) -> str:
    codes = ", ".join(worked.codes) or "no code"
    return f"{codes}, {worked.judged_by or 'unknown day'}"


def _equations(step: Step) -> Iterator[str]:
    """The formulas and the number after the symbol, one below the other."""
    yield step.formula
    if step.numbers:
        yield step.numbers
    if not step.missing and step.formula != f"= {step.result}":
        yield f"= {step.result}"


def _padded(text: str, columns: int) -> str:
    """The text padded to this many columns; a combining mark takes none."""
    return text + " " * (columns - _columns(text))


def _columns(text: str) -> int:
    return sum(not combining(sign) for sign in text)


def _with(step: Step) -> Iterator[str]:
    if step.uses:
        yield f"with {'; '.join(step.uses)}"
    if step.members:
        yield f"of {'; '.join(step.members)}"


def _mark(limit: ComparedLimit) -> str:
    return MARKS["governs" if limit.governs else "counts" if limit.counts else "not"]


def _verdict(limit: ComparedLimit) -> str:
    return f"{limit.verdict}, {limit.margin}" if limit.margin else limit.verdict


def _code(limit: ComparedLimit) -> str:
    return limit.code or "general"


def markdown(worked: Explained) -> Iterator[str]:
    """The worked calculation in Markdown, line by line."""
    from checker.reports.sentences import cited
    from checker.words import table_row

    yield f"# {worked.rule} · {worked.subject}: {_kind(worked)}"
    yield ""
    yield f"{worked.title}. {worked.why}"
    yield ""
    yield f"`{worked.path}`, {worked.design}; judged by {_by(worked)}."
    yield ""
    yield "## Given"
    yield ""
    yield "| symbol | value | as typed | where | line |"
    yield "|---|---|---|---|---|"
    for one in worked.given:
        yield table_row(
            one.symbol, one.value, one.typed, f"{one.subject}.{one.name}", one.cell or str(one.line)
        )
    yield ""
    yield "## Worked"
    for step in worked.steps:
        yield ""
        yield f"{step.number}. **{step.title}** ({step.subject})"
        yield ""
        yield "   ```text"
        lead = f"{step.symbol} "
        for line in _equations(step):
            yield f"   {lead}{line}"
            lead = " " * _columns(lead)
        yield "   ```"
        yield ""
        notes = [*_with(step), f"source: {step.source}"]
        if step.missing:
            notes.insert(0, f"**missing:** {step.missing}")
        yield f"   {'; '.join(notes)}."
    for picture in worked.sections:
        yield ""
        yield f"## {picture.title}"
        yield ""
        yield picture.says
        yield ""
        yield "```text"
        yield from picture.text
        yield "```"
    yield ""
    yield "## Compared with"
    yield ""
    yield "| | limit | verdict | margin | code | source | in force | if it does not count, why |"
    yield "|---|---|---|---|---|---|---|---|"
    for limit in worked.limits:
        yield table_row(
            _mark(limit),
            limit.limit,
            limit.verdict,
            limit.margin,
            _code(limit),
            cited(limit.source),
            limit.in_force,
            limit.why_not,
        )
    yield ""
    yield f"{LEGEND}."
    yield ""
    yield f"**{_kind(worked)}:** {worked.message}"
    if worked.remedy:
        yield ""
        yield f"→ {worked.remedy}"
    if worked.caution:
        yield ""
        yield f"Caution: {worked.caution}"
