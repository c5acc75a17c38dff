"""`prescreed schema NAME`: the JSON Schema of a file format, for an editor."""

from __future__ import annotations

import sys

from checker.reading.package_data import data_folder
from checker.run.printing import output_option
from checker.run.telling import Parser


def run(words: list[str]) -> int:
    """Print the schema."""
    folder = data_folder("schemas")
    names = sorted(path.name.split(".")[0] for path in folder.glob("*.schema.json"))
    parser = Parser(
        prog="prescreed schema",
        description="Print the JSON Schema of a file format, so that an editor completes it.",
    )
    output_option(parser, "the schema")
    parser.add_argument("name", choices=names, help="which format")
    name = parser.parse_args(words).name
    sys.stdout.write((folder / f"{name}.schema.json").read_text("utf-8"))
    return 0
