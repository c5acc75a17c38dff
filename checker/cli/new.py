"""`prescreed new`: a form to fill in, as a workbook or as a design file to type into."""

from __future__ import annotations

import argparse
import io
import os
import sys
from pathlib import Path

from checker.run.telling import Parser, say, tell
from checker.run.writer import Unwritable, put, put_parts

UNUSABLE = 2
FORM, FILE = "house.xlsx", "house.yaml"
SYSTEMS = ("metric", "us")
US = {"m": "ft", "mm": "in", "m²": "ft²", "W": "Btu/h", "°C": "°F", "K": "°F", "l/min": "gpm",
      "m²·K/W": "ft²·°F·h/Btu", "bar": "psi", "kPa": "psi",
      "W/(m·K)": "Btu·in/(h·ft²·°F)"}  # fmt: skip
"""For each unit in the form, the one that is used in the United States."""


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed new",
        description="Make a form for a house: a workbook with lists to choose from, notes, units "
        "and a filled-in example. Filled in, 'prescreed check house.xlsx' reads it directly. "
        "--yaml makes a design file to type into instead.",
        epilog="On a terminal it asks three questions; Enter skips one. With an option"
        " it asks none.",
    )
    made.add_argument("--yaml", action="store_true", help="a design file instead of a workbook")
    made.add_argument("--name", default="", help="the name of the job")
    made.add_argument(
        "--region", default="", metavar="CODE", help="the country or part of it, such as GB-ENG"
    )
    made.add_argument("--units", choices=SYSTEMS, help="the units it asks in (default: metric)")
    made.add_argument(
        "--output", metavar="FILE", help=f"the file to write (default: {FORM}, {FILE} for --yaml)"
    )
    made.add_argument("--replace", action="store_true", help="overwrite an existing file")
    return made


def run(words: list[str]) -> int:
    """Write the form; returns the exit status."""
    arguments = parser().parse_args(words)
    try:
        return _made(arguments, asks=not words and sys.stdin.isatty() and sys.stdout.isatty())
    except Unwritable as error:
        tell(f"prescreed new: {error}")
        return UNUSABLE


def _made(arguments: argparse.Namespace, *, asks: bool) -> int:
    if asks:
        _ask(arguments)
    path = arguments.output or (FILE if arguments.yaml else FORM)
    endings = (".yaml", ".yml") if arguments.yaml else (".xlsx",)
    if path != "-" and not path.lower().endswith(endings):
        raise Unwritable(f"--output: '{path}' should end in {endings[0]}")
    problem = _wrong_region(arguments.region)
    if problem:
        raise Unwritable(f"--region: {problem}")
    if os.path.lexists(path) and not arguments.replace:
        raise Unwritable(f"'{path}' exists already; --replace overwrites it")
    units = arguments.units or SYSTEMS[0]
    known = {"project.name": arguments.name, "project.region": arguments.region}
    known = {to: text for to, text in known.items() if text}
    if arguments.yaml:
        put_parts([_typed(known, us=units == "us")], path)
    else:
        put(_form(known, us=units == "us"), path)
    if path != "-":
        say(f"{path}: fill it in, then: prescreed check {Path(path).as_posix()}")
    return 0


def _wrong_region(code: str) -> str:
    from checker.intake.fields import fields, value_of

    if code:
        try:
            value_of(fields()["project.region"].leaf, code)
        except ValueError as error:
            return str(error)
    return ""


def _ask(arguments: argparse.Namespace) -> None:
    """Ask for what the user most likely knows; Enter skips a question."""
    arguments.name = input("Name of the job (Enter: none yet): ").strip()
    while True:
        arguments.region = input("Country or part of it, such as GB-ENG, DE, US (Enter: none): ")
        arguments.region = arguments.region.strip().upper()
        problem = _wrong_region(arguments.region)
        if not problem:
            break
        say(problem)
    if arguments.region[:2] == "US":
        answer = input("Feet, inches and °F? (Enter: yes; n: metric): ").strip().lower()
        arguments.units = "metric" if answer.startswith("n") else "us"


def _form(known: dict[str, str], *, us: bool) -> bytes:
    from checker.forms.declaring import house
    from checker.forms.model import Record
    from checker.forms.writing import workbook

    form = house()
    shown = {
        one.to: US[one.units[0]]
        for block in form.blocks
        for one in block.questions
        if us and one.units and US.get(one.units[0]) in one.units
    }
    made = io.BytesIO()
    workbook(made, form, {"project": [Record("", known)]} if known else {}, shown_units=shown)
    return made.getvalue()


def _typed(known: dict[str, str], *, us: bool) -> bytes:
    """The form's example as a design file, whose values are to be replaced."""
    from checker.forms.declaring import house
    from checker.forms.starting import starter

    return starter(house(), known, us=us).encode()
