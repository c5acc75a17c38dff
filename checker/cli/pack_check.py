"""`prescreed pack-check PATH…`: what is wrong with a firm's own rules, and what they change."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from checker.run.telling import Parser, say, tell

if TYPE_CHECKING:
    from checker.rulebook.book import Rulebook
    from checker.rulebook.model import Rule, Vocabulary

FOUND, UNUSABLE = 1, 2


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed pack-check",
        description="Check a pack of your own rules: every mistake with file, line and "
        "column; its examples, run as tests; and which limits it replaces or "
        "adds.",
        epilog="Exit status: 0 the pack can be used; 1 it has mistakes; 2 there is no such pack.",
    )
    made.add_argument(
        "paths",
        nargs="+",
        metavar="PATH",
        help="a folder of rule files, or one file; several are checked together",
    )
    return made


def run(words: list[str]) -> int:
    """Check the pack; returns the exit status."""
    paths = [Path(path) for path in parser().parse_args(words).paths]
    absent = [path for path in paths if not path.exists()]
    for path in absent:
        tell(f"{path}:1:1: There is no such file or folder.")
    if absent:
        return UNUSABLE
    import checker.quantities  # noqa: F401  # registers what rules may name
    from checker.compute.meanings import Names
    from checker.rulebook.loading import inspect

    names = Names()
    book, problems = inspect(names, paths)
    ours = _ours(names)
    own = [rule for rule in book.rules if rule.path not in ours]
    mistakes = [(path, problem.line, problem.column, problem.message) for path, problem in problems]
    for rule in own:
        mistakes += _wrong_examples(rule, book, names)
    for file, at, column, message in sorted(mistakes, key=lambda mistake: mistake[0]):
        say(f"{file}:{at}:{column}: {message}")
    if mistakes:
        say(f"{len(mistakes)} mistake{'s' * (len(mistakes) > 1)}; the pack cannot be used.")
        return FOUND
    for rule in own:
        for line in rule_lines(rule):
            say(line)
    for alters in book.altered:
        say(f"alters {alters}")
    examples = sum(len(rule.examples) for rule in own)
    files = "1 rule file" if len(own) == 1 else f"{len(own)} rule files"
    counted_examples = "no examples"
    if examples:
        counted_examples = f"{examples} example{'s' * (examples > 1)}, all true"
    say(f"The pack can be used: {files}, {counted_examples}.")
    return 0


def _ours(names: Vocabulary) -> frozenset[str]:
    from checker.rulebook.loading import load

    return frozenset(rule.path for rule in load(names).rules)


def _wrong_examples(
    rule: Rule, book: Rulebook, names: Vocabulary
) -> Iterator[tuple[str, int, int, str]]:
    from checker.rulebook.catalogue import example as in_a_line
    from checker.rulebook.examples import worked

    for example, kind in worked(rule, book, names):
        if kind != example.gives:
            words = f"This example gives {kind}, not {example.gives}: {in_a_line(example)}."
            yield rule.path, example.line, 1, words


def rule_lines(rule: Rule) -> Iterator[str]:
    """What a rule of the pack changes, line by line."""
    own = [limit for limit in rule.limits if limit.source.own is True]
    replaced = sum(isinstance(limit.source.replaces, str) for limit in own)
    new = replaced == 0 and len(own) == len(rule.limits)
    yield f"{rule.path}: {rule.id}{', a new rule' if new else ', a rule of the program'}"
    for limit in own:
        instead = limit.source.replaces
        does = f"replaces the limit of {instead}" if isinstance(instead, str) else "adds a limit"
        yield f"  {does}: {limit.words} (id {limit.id}, {limit.source.title})"
    kinds = {example.gives for example in rule.examples}
    lacking = [kind for kind in ("pass", "fail", "open") if kind not in kinds]
    if lacking and any(limit.comparison != "review" for limit in own):
        yield f"  no example gives {' or '.join(lacking)}; one of each shows what the rule means"
