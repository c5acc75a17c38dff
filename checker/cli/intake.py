"""`prescreed intake FILE… --map MAP --output DIR`: contractors' sheets to design files."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from checker.reading import bounded
from checker.reading.cells import REFUSED
from checker.run.telling import Parser, say, tell
from checker.run.writer import Unwritable, put, refuse_overwriting
from checker.words import how_many

if TYPE_CHECKING:
    from checker.intake.maps import Map
    from checker.intake.reading import Intake

TO_LOOK_AT, UNUSABLE = 1, 2


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed intake",
        description="Read loop schedules (XLSX, ODS, CSV) into design files, by a map that "
        "says which column is what. Without --map, a form of this program needs"
        " none, and any other sheet is read by the map beside it. A drawing "
        "(DXF) becomes the plan of a design, by a map of its layers.",
        epilog="Exit status: 0 all files were read; 1 they were, and some cells look "
        "like slips or could not be read; "
        "2 a file, the map or the call could not be used (every other file is still read).",
    )
    made.add_argument(
        "files", nargs="+", metavar="FILE", help="a workbook, CSV file or DXF drawing"
    )
    made.add_argument("--map", metavar="MAP", help="the map file (see --suggest)")
    made.add_argument(
        "--output", metavar="DIR", help="the folder for the design files; with --suggest the file"
    )
    made.add_argument("--replace", action="store_true", help="overwrite existing design files")
    made.add_argument(
        "--suggest",
        action="store_true",
        help="propose a map from the headings or layers of one FILE and print it",
    )
    return made


def run(words: list[str]) -> int:
    """Read the files; returns the exit status."""
    arguments = parser().parse_args(words)
    drawn = [file for file in arguments.files if file.lower().endswith(".dxf")]
    if drawn and len(drawn) < len(arguments.files):
        return _unusable("give drawings and sheets in calls of their own, for each has its map")
    if drawn:
        from checker.cli.intake_drawings import run as run_drawings

        return run_drawings(arguments)
    if arguments.suggest:
        return _suggest(arguments.files, arguments.output)
    if not arguments.output:
        return _unusable("--output: name the folder for the design files")
    from checker.intake.maps import BadMap, load

    try:
        plan = load(arguments.map, bounded.start_of(arguments.map)) if arguments.map else None
    except OSError as error:
        return _unusable(f"--map: '{arguments.map}' cannot be read: {bounded.why(error)}")
    except BadMap as bad:
        for one in bad.problems:
            tell(f"{arguments.map}:{one.line}:{one.column}: {one.message}")
        return UNUSABLE
    try:
        os.makedirs(arguments.output, exist_ok=True)
    except OSError as error:
        return _unusable(
            f"--output: '{arguments.output}' cannot be used as a folder: {error.strerror}"
        )
    try:
        statuses = [_take(file, plan, arguments) for file in _once(arguments.files)]
    except Unwritable as error:
        return _unusable(f"--output: {str(error).rstrip('.')}")
    return max(statuses, default=UNUSABLE)


def _once(files: list[str]) -> list[str]:
    return list(dict.fromkeys(files))


def _take(file: str, plan: Map | None, arguments: argparse.Namespace) -> int:
    from checker.intake.maps import BadMap
    from checker.run.sheets import designs_of, map_beside

    try:
        found = designs_of(file, plan)
    except BadMap as bad:
        for one in bad.problems:
            tell(f"{map_beside(file)}:{one.line}:{one.column}: {one.message}")
        return UNUSABLE
    if found is None:
        tell(f"{file}: this is not a form of the program ('prescreed new' and 'prescreed schedule' "
             "make them), and there is no map beside it; --suggest proposes one.")  # fmt: skip
        return UNUSABLE
    return max((_keep(file, taken, arguments) for taken in found), default=UNUSABLE)


def _keep(file: str, taken: Intake, arguments: argparse.Namespace) -> int:
    """Write one design, and report how it was read."""
    design = Path(arguments.output) / f"{taken.name}.yaml"
    kept = taken.text and design.exists() and not arguments.replace
    if kept and _there(design) != taken.text.encode():
        tell(f"{file}: '{design}' exists already and differs; --replace overwrites it.")
        return UNUSABLE
    if taken.text:
        refuse_overwriting(
            str(design), filter(None, [*arguments.files, arguments.map]), design=True
        )
        put(taken.text.encode(), str(design))
    say(*_said(file, str(design), taken))
    for mistake in (*taken.read.refused, *taken.read.mistakes):
        tell(str(mistake))
    if not taken.text:
        return UNUSABLE
    return TO_LOOK_AT if taken.read.slips or taken.read.refused else 0


def _there(design: Path) -> bytes:
    """A file's content; empty where it cannot be read."""
    try:
        return bounded.start_of(design)
    except OSError:
        return b""


def _said(file: str, design: str, taken: Intake) -> list[str]:
    """The report on one file."""
    read = taken.read
    if not taken.text:
        lines = [f"{file}: not written, {how_many(len(read.mistakes), 'mistake')} to mend."]
        if read.slips:
            lines += ["  Look at:", *(f"    - {slip}" for slip in read.slips)]
        return lines
    loops = len(read.tree.get("loops", {}))
    lines = [
        f"{file} → {design}: {loops} loops; {read.cells_used} cells used, "
        f"{read.cells_unused} not used."
    ]
    for title, entries in (
        ("Look at", [str(slip) for slip in read.slips]),
        (REFUSED, [str(one) for one in read.refused]),
        ("Assumed", read.assumed),
        ("Not used", read.unused),
    ):
        if entries:
            lines += [f"  {title}:", *(f"    - {entry}" for entry in entries)]
    return lines


def _suggest(files: list[str], output: str | None) -> int:
    from checker.intake.reading import opened
    from checker.intake.sheets import BadSheet
    from checker.intake.suggesting import suggest

    if len(files) != 1:
        return _unusable("--suggest looks at one FILE")
    try:
        proposal = suggest(opened(files[0]))
        if output:
            refuse_overwriting(output, files)
            put(proposal.encode(), output)
            say(
                f"{output}: a map proposed from the headings; read it through, above "
                "all the lines marked LOOK."
            )
        else:
            say(*proposal.rstrip("\n").split("\n"))
    except BadSheet as bad:
        return _unusable(f"{files[0]}: {bad}")
    return 0


def _unusable(words: str) -> int:
    tell(f"prescreed intake: {words}.")
    return UNUSABLE
