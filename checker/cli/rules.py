"""`prescreed rules [ID|WORDS]`: rules in a table, all or those found; or one in full."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from checker.outcome.results import SEVERITIES
from checker.run import session
from checker.run.printing import output_option
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, put
from checker.words import choices

if TYPE_CHECKING:
    from rich.console import RenderableType

    from checker.rulebook.book import Rulebook
    from checker.rulebook.model import Rule

UNUSABLE = 2
WIDE = 100
"""From this width on, the table also shows codes."""
SUBJECTS = ("design", "pipe", "floor", "room", "header", "loop", "part", "test")
STAGES = ("design", "laid", "screeded", "heated", "installed")
STANDINGS = ("standard", "code", "guidance", "common practice")
SEEN = ("text", "reported", "memory")
STYLES = {"critical": "bold red", "major": "red", "minor": "yellow", "observation": "cyan"}


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed rules",
        description="List the rules, or show one: its limits with their sources, why it is there, "
        "what to do where it fails, and its examples.",
        epilog="Exit status: 0; 2 where the call or a rule file could not be read.",
    )
    made.add_argument(
        "words",
        metavar="ID|WORD",
        default=[],
        nargs="*",
        help="the id of a rule, to show it in full; or words, to list the rules that"
        " contain all of them, also words of the trade: manifold, flow "
        "temperature, noise",
    )
    made.add_argument("--format", choices=("table", "markdown", "json"), default="table")
    made.add_argument("--subject", choices=SUBJECTS, help="only rules for these subjects")
    made.add_argument("--severity", choices=SEVERITIES, help="only rules of this severity")
    made.add_argument("--stage", choices=STAGES, help="only rules that are due from this stage on")
    made.add_argument("--code", metavar="CODE", help="only rules with a limit of this code")
    made.add_argument(
        "--standing",
        choices=STANDINGS,
        help="only rules with a limit from a source of this standing",
    )
    made.add_argument(
        "--seen",
        choices=SEEN,
        help="only rules with a limit known in this way (text, reported, memory)",
    )
    session.rules_option(made)
    session.policy_options(made)
    output_option(made)
    return made


def run(words: list[str]) -> int:
    """List or show; returns the exit status."""
    return session.answered(
        lambda: _listed(session.open_run(parser(), words, paths=lambda given: []))
    )


def _listed(opened: session.Session) -> int:
    arguments, book = opened.options.values, opened.book
    asked = " ".join(arguments.words)
    arguments.id = asked if asked in {rule.id for rule in book.rules} else ""
    chosen = [rule for rule in _matching(book, asked, arguments.id) if _wanted(rule, arguments)]
    unknown = _unknown(arguments, book, asked, chosen)
    if unknown:
        tell(f"prescreed rules: {unknown}")
        return UNUSABLE
    if arguments.format == "json":
        put(_json(book, chosen, whole=bool(arguments.id)), STANDARD_OUTPUT)
    elif arguments.format == "markdown":
        from checker.rulebook import catalogue

        lines = catalogue.story(chosen[0]) if arguments.id else catalogue.markdown(book, chosen)
        sys.stdout.write("\n".join(lines) + "\n")
    else:
        from checker.run.outputs import width_and_colour

        width, colour = width_and_colour(STANDARD_OUTPUT)
        listed = listing(book, chosen, wide=width >= WIDE, by_topic=not asked)
        parts = story(chosen[0]) if arguments.id else listed
        _show(parts, width, colour)
    return 0


def _matching(book: Rulebook, words: str, one: str) -> Sequence[Rule]:
    """The rule with this id, those that contain the words, or all where there are none."""
    if one or not words:
        return [rule for rule in book.rules if one in ("", rule.id)]
    from checker.rulebook.searching import search

    return search(book, words)


PICKS = ("subject", "severity", "stage", "code", "standing", "seen")


def _wanted(rule: Rule, arguments: argparse.Namespace) -> bool:
    of_limits = [
        {"code": limit.document.code, "standing": limit.source.standing, "seen": limit.source.seen}
        for limit in rule.limits
    ]
    picked = {name: getattr(arguments, name) for name in PICKS if getattr(arguments, name)}
    own = {name: value for name, value in picked.items() if hasattr(rule, name)}
    rest = {name: value for name, value in picked.items() if name not in own}
    return all(getattr(rule, name) == value for name, value in own.items()) and any(
        all(limit[name] == value for name, value in rest.items()) for limit in of_limits
    )


def _unknown(arguments: argparse.Namespace, book: Rulebook, words: str, found: list[Rule]) -> str:
    """What is wrong with the call; empty where nothing is."""
    if arguments.code is not None and arguments.code not in book.codes:
        return f"--code: there is no code '{arguments.code}'; {choices(arguments.code, book.codes)}"
    if arguments.id and any(getattr(arguments, name) for name in PICKS):
        options = ", ".join(f"--{name}" for name in PICKS)
        return f"an ID shows one rule; leave {options} out"
    if words and not found:
        ids = [rule.id for rule in book.rules]
        return f"no rule has the id '{words}' or contains that; {choices(words, ids)}"
    return ""


def _json(book: Rulebook, rules: list[Rule], *, whole: bool) -> bytes:
    from msgspec.json import encode
    from msgspec.json import format as indented

    from checker.rulebook import catalogue

    data: Any = (
        catalogue.one(rules[0])
        if whole
        else {
            "catalogue": 1,
            "edition": book.edition,
            "digest": book.digest,
            "rules": [catalogue.one(rule) for rule in rules],
        }
    )
    return indented(encode(data), indent=1) + b"\n"


def _show(parts: Iterable[RenderableType], width: int, colour: bool) -> None:
    from rich.console import Console

    console = Console(
        width=max(40, width),
        force_terminal=colour,
        no_color=not colour,
        color_system="standard" if colour else None,
        highlight=False,
        markup=False,
        emoji=False,
    )
    with console.capture() as captured:
        for part in parts:
            console.print(part)
    for line in captured.get().splitlines():
        print(line.rstrip())


def listing(
    book: Rulebook, rules: list[Rule], *, wide: bool, by_topic: bool = True
) -> Iterator[RenderableType]:
    """Rules in a table.

    Args:
        book: all rules.
        rules: those to list.
        wide: whether to show the codes whose limits each has.
        by_topic: whether to group them by topic, else in their order.
    """
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

    table = Table(box=SIMPLE_HEAD, pad_edge=False, expand=True)
    table.add_column("rule", no_wrap=True)
    table.add_column("judges", no_wrap=True)
    table.add_column("severity", no_wrap=True)
    table.add_column("what is wrong where it fails", ratio=3)
    if wide:
        table.add_column("limits of", ratio=2)
    topic = ""
    if by_topic:
        rules = sorted(rules, key=lambda rule: (rule.topic, rule.id))
    for rule in rules:
        if by_topic and rule.topic != topic:
            if topic:
                table.add_section()
            topic = rule.topic
        codes = dict.fromkeys(limit.document.code or "general" for limit in rule.limits)
        own = ["own"] * any(limit.source.own is True for limit in rule.limits)
        table.add_row(
            Text(rule.id, style="bold"),
            rule.subject,
            Text(rule.severity, style=STYLES[rule.severity]),
            Text(rule.title),
            *([Text(", ".join((*codes, *own)))] if wide else ()),
        )
    yield table
    yield Text(
        f"{len(rules)} {'rule' if len(rules) == 1 else 'rules'}, edition {book.edition}. "
        "'prescreed rules ID' shows one: its limits, sources, examples.",
        style="dim",
    )


def story(rule: Rule) -> Iterator[RenderableType]:
    """One rule in full."""
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    from checker.reports.sentences import cited
    from checker.rulebook import catalogue

    yield Text.assemble((rule.id, "bold"), "  ", (rule.severity, STYLES[rule.severity]))
    yield Text(rule.title)
    yield ""
    facts = Table.grid(padding=(0, 2))
    facts.add_column(no_wrap=True, style="dim")
    facts.add_column()
    for name, words in (
        ("judges", catalogue.judges(rule)),
        ("why", rule.why),
        ("remedy", rule.remedy),
        ("caution", rule.caution),
        ("file", rule.path),
    ):
        if words:
            facts.add_row(name, Text(words))
    yield facts
    yield ""
    yield Text("Limits", style="bold")
    for limit in rule.limits:
        where = catalogue.conditions(limit)
        where = f", where {where}" if where else ""
        grave = f" ({limit.severity})" if limit.severity != rule.severity else ""
        yield Padding(Text(f"{limit.words}{where}{grave}"), (0, 0, 0, 2))
        dates = catalogue.in_force(limit)
        parts = (
            limit.document.code or "general",
            cited(limit.source),
            f"in force {dates}" if dates else "",
            f"id {limit.id}",
        )
        yield Padding(Text(" · ".join(part for part in parts if part), style="dim"), (0, 0, 0, 4))
    yield ""
    yield Text("Examples", style="bold")
    for example in rule.examples:
        yield Padding(Text(catalogue.example(example)), (0, 0, 0, 2))
