"""`prescreed remedy PATH…`: works out the least changes that clear each grave finding."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from checker.reading.design_files import ENDINGS, STANDARD_INPUT, is_json
from checker.run import held_to, session
from checker.run.printing import format_option
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, Unwritable, put, refuse_overwriting

if TYPE_CHECKING:
    from checker.outcome.proposals import Proposal
    from checker.outcome.report import DesignReport
    from checker.reading.mistakes import Unreadable
    from checker.remedies.habits import Habit
    from checker.reports.terminal import Page


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed remedy",
        description="Work out what would clear each critical and major finding: the least changes "
        "that clear it and make nothing else worse, found by changing the design and judging it "
        "again. Over several designs, also the one change of habit that clears most.",
        epilog="Exit status: 0, whatever was found; 2 the call or a design could not be read; 3 "
        "the program itself failed on a design.",
    )
    session.judging_options(made)
    format_option(made, ("text", "json"))
    made.add_argument("--output", metavar="FILE", help="where to write (default: standard output)")
    made.add_argument(
        "--apply",
        action="append",
        type=_number,
        default=[],
        metavar="N",
        help="write the design with the proposal of this number made, and nothing else changed in "
        "the file; may be given several times",
    )
    made.add_argument(
        "--in-place", action="store_true", help="with --apply: write over the design itself"
    )
    made.add_argument(
        "--rule", action="append", default=[], metavar="RULE", help="only findings of this rule"
    )
    return made


def _number(text: str) -> int:
    if not text.isdecimal() or not text.isascii() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"'{text}' is not the number of a proposal, 1 or more")
    return int(text)


def run(words: list[str]) -> int:
    """Work out remedies; returns the exit status."""
    return session.answered(lambda: _worked(session.open_run(parser(), words)))


def _worked(opened: session.Session) -> int:
    from checker.remedies.habits import best, habits
    from checker.run import batch

    values = opened.options.values
    output = values.output or STANDARD_OUTPUT
    refuse_overwriting(output, opened.inputs)
    held_to.refuse_unknown_rules("--rule", values.rule, opened.heads)
    _refuse_contradictions(values)
    known: dict[str, Habit] = {}
    counted = 0
    texts: dict[str, bytes] = {}

    def judge(files: Any, plan: batch.Plan) -> tuple[list[Any], list[Unreadable]]:
        nonlocal counted
        contents = dict(files)
        texts.update(contents)
        found, bad = batch.check(contents.items(), replace(plan, remedies=True))
        if len(opened.files) > 1 and not values.apply:
            basis = batch.read([], plan)
            counted += habits(found, contents, basis.book, basis.judging, known)
        return found, bad

    designs, problems = opened.judged_and_reported(judge)
    for design in designs:
        if values.rule:
            own = design.remedies
            design.remedies = {name: own[name] for name in own if name[0] in values.rule}
    if values.apply:
        if problems:
            return session.status(problems)
        _apply(opened, designs, texts)
        return 0
    if values.written == "json":
        put(_as_json(designs, best(known), counted), output)
    else:
        put(_as_text(designs, output, best(known), counted), output)
    return session.status(problems)


def _refuse_contradictions(values: argparse.Namespace) -> None:
    if values.in_place and not values.apply:
        raise Unwritable("--in-place writes what --apply makes; name a proposal with --apply N")
    if values.in_place and values.output:
        raise Unwritable("--in-place and --output name two places; keep one")


def _apply(opened: session.Session, designs: list[DesignReport], texts: dict[str, bytes]) -> None:
    """Write the design with proposals applied; raises Unwritable.

    texts: by path what was judged; for a sheet the design that was made of it.
    """
    from checker.design.changes import BadChange, written

    values = opened.options.values
    if len(designs) != 1 or len(opened.files) != 1:
        raise Unwritable("--apply changes one design; name one file")
    (design,), (path,) = designs, opened.files
    if values.in_place and path == STANDARD_INPUT:
        raise Unwritable("standard input cannot be written over; name an --output")
    if values.in_place and not path.lower().endswith(ENDINGS):
        raise Unwritable(
            f"'{path}' is not a design file, so the design cannot be written over it; name "
            "an --output"
        )
    known = {one.number: one for own in design.remedies.values() for one in own.proposals}
    chosen = []
    for number in dict.fromkeys(values.apply):
        if number not in known:
            have = f"1 to {max(known)}" if known else "none"
            raise Unwritable(f"--apply {number}: there is no such proposal; there are {have}")
        chosen.append(known[number])
    changes = _together(chosen)
    try:
        made = written(texts[design.path], changes, is_json=is_json(path))
    except BadChange as error:
        raise Unwritable(f"{path}: {error}") from None
    target = path if values.in_place else values.output or STANDARD_OUTPUT
    put(made, target)
    for one in chosen:
        tell(f"{one.number}. {one.what}. Have it confirmed: {'; '.join(one.confirm)}.")
    if target not in (STANDARD_OUTPUT, path) and path != STANDARD_INPUT:
        tell(f"'prescreed compare {path} {target}' shows what changed.")


def _together(chosen: list[Proposal]) -> list[str]:
    """The changes of several proposals; raises Unwritable where they change the same value."""
    texts: dict[str, str] = {}
    for one in chosen:
        for words in one.changes:
            path, _, text = words.partition("=")
            if texts.setdefault(path, text) != text:
                raise Unwritable(
                    f"--apply: the proposals change '{path}' to '{texts[path]}' and to '{text}'; "
                    "apply one, and ask again"
                )
    return [f"{path}={text}" for path, text in texts.items()]


def _as_json(designs: list[DesignReport], moves: list[Habit], counted: int) -> bytes:
    from msgspec.json import encode
    from msgspec.json import format as indented

    from checker import __version__
    from checker.reports.remedies import plain

    many = len(designs) > 1
    remedies = [
        {**({"path": design.path} if many else {}), **plain(own)}
        for design in designs
        for own in design.remedies.values()
    ]
    whole: dict[str, Any] = {
        "remedy": 1,
        "tool": {"name": "prescreed", "version": __version__},
        "remedies": remedies,
        **({"findings": counted, "habits": moves} if many else {}),
    }
    return indented(encode(whole), indent=1) + b"\n"


def _as_text(designs: list[DesignReport], output: str, moves: list[Habit], counted: int) -> bytes:
    from checker.reports.remedies import CONFIRM
    from checker.reports.terminal import WIDEST, Page
    from checker.run.outputs import width_and_colour

    width, colour = width_and_colour(output)
    out = Page(max(40, min(width, WIDEST)), colour)
    for design in designs:
        _design(out, design)
    if moves:
        out.line(f"Of {counted} critical and major findings, one change of habit clears:", "bold")
        for one in moves:
            brings = f", and brings {one.brought} that would not be proposed" if one.brought else ""
            words = f"{one.words}: {one.cleared} of {counted}{brings}"
            tried = "1 design" if one.designs == 1 else f"{one.designs} designs"
            out.wrapped(f"{words} ({tried} tried).", first="  ")
        out.line("")
    if any(own.proposals for design in designs for own in design.remedies.values()):
        out.wrapped(CONFIRM, first="", style="dim")
        if len(designs) == 1:
            words = f"prescreed remedy {designs[0].path} --apply N --output changed.yaml"
            out.wrapped(f"'{words}' writes the design with proposal N made.", first="", style="dim")
    elif not designs:
        out.line("No design was judged.")
    return out.bytes()


def _design(out: Page, design: DesignReport) -> None:
    from checker.reports.remedies import remedy_lines
    from checker.reports.sentences import judged_by, worst_first
    from checker.reports.terminal import INDENT
    from checker.reports.text import STYLES
    from checker.reports.verdicts import STYLES as VERDICTS

    out.parts(
        (f"{design.name:<{out.width - 9}} ", "bold"),
        (f"{design.verdict.upper():>8}", VERDICTS[design.verdict]),
    )
    out.wrapped(f"{design.path} · {judged_by(design)}", first="", style="dim")
    out.line("")
    if not design.remedies:
        out.line("  No critical or major finding that needs a remedy.")
        out.line("")
    for result in worst_first(design.results_of("fail")):
        own = design.remedies.get((result.rule, result.subject))
        if own is None:
            continue
        label = f"{own.severity.upper():<{INDENT}}"
        out.parts((label, STYLES[own.severity]), (f"{own.subject}  ", "bold"), (result.title, ""))
        out.wrapped(result.message)
        remedy_lines(out, own)
        out.line("")
