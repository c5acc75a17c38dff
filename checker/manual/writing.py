"""Writes the manual's pages as Markdown from what the program knows.

Written pages are in `pages/`. A page for each rule, the keys of a design and the commands' options
are made from the rule files, the schema and the commands' own parsers, so that they are always up
to date.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from checker.reading.package_data import data_folder
from checker.rulebook import catalogue
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Rule
from checker.words import table_row

EXAMPLES = (
    "orchard-row-1-ground-floor.yaml",
    "orchard-row-3-eight-mistakes.yaml",
    "orchard-row-4-installed.yaml",
)
"""The example designs for the worked calculations on the rules' pages, tried in this order."""
WRITTEN = (
    "before-site",
    "review",
    "ci",
    "site-papers",
    "past-jobs",
    "format",
    "reports",
    "packs",
    "library",
    "editors",
    "many-designs",
    "methods",
    "changes",
)
"""The written pages, in the order of the contents."""
IN_THE_MANUAL = {
    "schemas/design.schema.json": "keys.md",
    "tests/published/FIGURES.md": "figures.md",
    "rules/CHANGES.md": "rules/changes.md",
    "rules/README.md": "rules/index.md",
    "rules/coverage.yaml": "rules/coverage.md",
}
"""Files of the repository that written pages link to, and the manual's pages made from them. So the
links work in both places."""


class Command(NamedTuple):
    """A command as the manual shows it.

    Attributes:
        name: as it is typed.
        use: the heading of its group.
        what: it does, in a sentence.
        help: its help text.
    """

    name: str
    use: str
    what: str
    help: str


def pages(
    book: Rulebook,
    commands: Iterable[Command],
    worked: Mapping[str, str],
    commit: str,
) -> Iterator[tuple[str, str]]:
    """The pages of the manual.

    Args:
        book: the rules.
        commands: the commands.
        worked: by rule, a worked calculation in Markdown.
        commit: a commit of this repository for recipes that install the program; empty where
            unknown.

    Returns:
        Each page's name, without its ending, and its text in Markdown; the contents come last.
    """
    folder = Path(__file__).parent / "pages"
    for name in WRITTEN:
        text = (folder / f"{name}.md").read_text("utf-8")
        for there, here in IN_THE_MANUAL.items():
            text = text.replace(f"](../../../{there})", f"]({here})")
        yield name, text.replace("COMMIT", commit) if commit else text
    yield "keys", "\n".join(_keys()) + "\n"
    yield "commands", "\n".join(_commands(commands)) + "\n"
    yield "figures", _figures()
    yield "rules/index", "\n".join(catalogue.index(book, lambda rule: f"{rule.id}.md")) + "\n"
    yield "rules/changes", (data_folder("rules") / "CHANGES.md").read_text("utf-8")
    yield (
        "rules/coverage",
        "\n".join(("# What the documents ask for", *catalogue.coverage())) + "\n",
    )
    for rule in book.rules:
        yield f"rules/{rule.id}", "\n".join(_rule(rule, worked.get(rule.id, ""))) + "\n"
    yield "index", "\n".join(_contents(book)) + "\n"


def _rule(rule: Rule, worked: str) -> Iterator[str]:
    story = [*catalogue.story(rule)]
    yield f"# {rule.id}"
    yield from story[1:]
    if worked:
        yield from ("", "## A worked calculation", "")
        # The calculation's own headings go below this one.
        yield from (f"##{line}" if line.startswith("#") else line for line in worked.splitlines())


def _keys() -> Iterator[str]:
    """Every key of a design, as its schema states it."""
    schema = json.loads((data_folder("schemas") / "design.schema.json").read_text("utf-8"))
    yield "# Every key of a design"
    yield ""
    yield "Made from the schema that the program reads designs by (`prescreed schema design`)."
    for name, section in schema["properties"].items():
        yield from ("", f"## {name}", "", str(section.get("description", "")), "")
        rows = [*_rows(section, "")]
        if rows:
            yield "| key | meaning | values |"
            yield "|---|---|---|"
            yield from rows


def _rows(schema: Mapping[str, Any], before: str) -> Iterator[str]:
    inner = schema.get("additionalProperties")
    if isinstance(inner, dict):
        yield from _rows(inner, f"{before}ID." if "properties" in inner else before)
    items = schema.get("items")
    if isinstance(items, dict):
        yield from _rows(items, f"{before}[]." if "properties" in items else before)
    for key, value in schema.get("properties", {}).items():
        values = [str(one) for one in value.get("enum", ())]
        if not values and value.get("examples"):
            values = [f"such as {value['examples'][0]}"]
        if "x-least" in value:
            values.append(f"{value['x-least']} to {value.get('x-most', '…')}")
        yield table_row(f"`{before}{key}`", value.get("description", ""), ", ".join(values))
        yield from _rows(value, f"{before}{key}.")


def _commands(commands: Iterable[Command]) -> Iterator[str]:
    yield "# The commands"
    use = ""
    for command in commands:
        if command.use != use:
            use = command.use
            yield from ("", f"## {use}")
        yield from ("", f"### {command.name}", "", f"{command.what[:1].upper()}{command.what[1:]}.")
        yield from ("", "```text", command.help.strip(), "```")


def _figures() -> str:
    """The figures against which the methods were tested."""
    packaged = data_folder("published") / "FIGURES.md"
    file = packaged if packaged.is_file() else packaged.parents[1] / "tests/published/FIGURES.md"
    return file.read_text("utf-8")


def _contents(book: Rulebook) -> Iterator[str]:
    yield "# prescreed"
    yield ""
    yield (
        "Checks designs of wet underfloor heating before the screed buries them. Start with "
        "`prescreed check house.yaml`, or with `prescreed new` where there is no design yet."
    )
    for caption, names in (
        ("What it is for", WRITTEN[:5]),
        ("Designs and reports", (*WRITTEN[5:7], "keys", "commands")),
        ("Further", (*WRITTEN[7:], "figures")),
        ("Rules", ("rules/index", "rules/coverage", "rules/changes")),
    ):
        yield from ("", "```{toctree}", f":caption: {caption}", ":maxdepth: 1", *names, "```")
    yield from ("", "```{toctree}", ":hidden:")
    yield from (f"rules/{rule.id}" for rule in book.rules)
    yield "```"
