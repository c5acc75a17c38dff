"""`prescreed manual --output FOLDER`: the manual as a site of plain files."""

from __future__ import annotations

import argparse
import os
import shutil
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from checker.run import session
from checker.run.telling import Parser, tell
from checker.run.writer import Unwritable, put_all

if TYPE_CHECKING:
    from checker.manual.writing import Command


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed manual",
        description="Write the manual as a static site: a page for each rule, the design "
        "format, the commands, the methods and recipes. Search works without a "
        "server: open index.html. Needs the extra 'manual'.",
        epilog="Exit status: 0; 2 where the call cannot be carried out.",
    )
    made.add_argument(
        "--output", metavar="FOLDER", required=True, help="a new or empty folder to write it into"
    )
    session.rules_option(made)
    session.policy_options(made)
    return made


def run(words: list[str]) -> int:
    """Write the manual; returns the exit status."""
    return session.answered(
        lambda: _written(session.open_run(parser(), words, paths=lambda given: []))
    )


def _written(opened: session.Session) -> int:
    from checker.manual import site, writing

    output = opened.options.values.output
    if os.path.exists(output) and (not os.path.isdir(output) or os.listdir(output)):
        raise Unwritable(f"'{output}' exists already; name a new or empty folder")
    with TemporaryDirectory(prefix="prescreed-manual-") as folder:
        source, built = Path(folder) / "source", Path(folder) / "site"
        source.mkdir()
        pages = writing.pages(opened.book, _commands(), _worked(opened), _commit())
        try:
            warnings = site.build(pages, source, built)
        except site.NotBuilt as error:
            raise Unwritable(str(error)) from None
        shutil.rmtree(built / ".doctrees", ignore_errors=True)
        (built / ".buildinfo").unlink(missing_ok=True)
        files = sorted(path for path in built.rglob("*") if path.is_file())
        put_all(output, ((str(path.relative_to(built)), [path.read_bytes()]) for path in files))
    tell(*warnings, f"{os.path.join(output, 'index.html')} is the manual's first page.")
    return 0


def _commands() -> Iterator[Command]:
    from checker.cli import USES
    from checker.manual.writing import Command

    for use, commands in USES.items():
        for name, what in commands.items():
            module = import_module(f"checker.cli.{name.replace('-', '_')}")
            yield Command(name, use, what, module.parser().format_help())


def _worked(opened: session.Session) -> dict[str, str]:
    """For each rule with a result in an example design, its calculation in Markdown."""
    from checker.cli.explain import markdown
    from checker.explain.records import NotExplained
    from checker.explain.worked import explain
    from checker.manual.writing import EXAMPLES
    from checker.outcome.findings import judge
    from checker.reading.package_data import data_folder
    from checker.run import batch

    found: dict[str, str] = {}
    for name in EXAMPLES:
        file = data_folder("example_designs") / name
        if not file.is_file():
            continue
        read = batch.read([(name, file.read_bytes())], opened.plan())
        for design in judge(read.tables, read.book, read.judging, False):
            for result in design.results_of("fail", "pass"):
                if result.rule in found:
                    continue
                try:
                    one = explain(read.tables, read.book, result.rule, result.subject, read.judging)
                except NotExplained:
                    continue
                lines = "\n".join(markdown(one))
                found[result.rule] = f"Of the invented design `{name}`.\n\n{lines}"
    return found


def _commit() -> str:
    """The commit of the checkout that the program runs from; empty where there is none."""
    from checker.run import git

    folder = Path(__file__).parents[2]
    if not (folder / ".git").exists():
        return ""
    try:
        return git.commit("HEAD", str(folder))
    except git.NoGit:
        return ""
