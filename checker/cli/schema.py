"""`prescreed schema NAME`: the JSON Schema of a file format, for an editor."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from checker.reading.package_data import data_folder
from checker.run.printing import output_option
from checker.run.telling import Parser


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed schema",
        description="Print the JSON Schema of a file format, so that an editor completes it.",
    )
    output_option(made, "the schema")
    names = sorted(path.name.split(".")[0] for path in _folder().glob("*.schema.json"))
    made.add_argument("name", choices=names, help="which format")
    return made


def run(words: list[str]) -> int:
    """Print the schema."""
    name = parser().parse_args(words).name
    sys.stdout.write((_folder() / f"{name}.schema.json").read_text("utf-8"))
    return 0


def _folder() -> Path:
    return data_folder("schemas")
