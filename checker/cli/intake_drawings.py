"""`prescreed intake FLOOR.dxf`: a drawing to the plan of a design, or a first map for it."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from checker.intake.drawings import BadMap, DrawingMap, Unread, load, plan_text, suggest
from checker.reading import bounded
from checker.run.telling import say, tell
from checker.run.writer import Unwritable, put, refuse_overwriting

TO_LOOK_AT, UNUSABLE = 1, 2


def run(arguments: argparse.Namespace) -> int:
    """Read the drawings; returns the exit status."""
    if arguments.suggest:
        if len(arguments.files) != 1:
            return _unusable("--suggest looks at one FILE")
        try:
            found = suggest(arguments.files[0], _bytes(arguments.files[0]))
            say(*found.rstrip("\n").split("\n"))
        except Unread as unread:
            return _unread(arguments.files[0], unread)
        return 0
    if not arguments.output:
        return _unusable("--output: name the folder for the design files")
    if not arguments.map:
        return _unusable("--map: name the map of the drawing's layers; --suggest proposes one")
    try:
        how = load(_bytes(arguments.map))
    except Unread as unread:
        return _unread(arguments.map, unread)
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
    return max(_take(file, how, arguments) for file in dict.fromkeys(arguments.files))


def _take(file: str, how: DrawingMap, arguments: argparse.Namespace) -> int:
    design = Path(arguments.output) / f"{Path(file).stem}.yaml"
    try:
        text, remarks = plan_text(os.path.basename(file), _bytes(file), how)
        if design.exists() and not arguments.replace and _bytes(str(design)) != text.encode():
            raise Unread(f"'{design}' exists already and differs; --replace overwrites it.")
        refuse_overwriting(str(design), [*arguments.files, arguments.map], design=True)
        put(text.encode(), str(design))
    except Unread as unread:
        return _unread(file, unread)
    except Unwritable as unwritable:
        return _unusable(str(unwritable).rstrip("."))
    first = text.split("\n", 1)[0].removeprefix(f"# The plan in {os.path.basename(file)}: ")
    say(f"{file} → {design}: {first}")
    if remarks:
        say("  Look at:", *(f"    - {one}" for one in remarks))
    return TO_LOOK_AT if remarks else 0


def _bytes(path: str) -> bytes:
    try:
        return bounded.content(path, bounded.LARGEST_RECORD)
    except OSError as error:
        raise Unread(f"The file cannot be read: {bounded.why(error)}.") from None


def _unread(file: str, unread: Unread) -> int:
    tell(f"{file}: {unread}")
    return UNUSABLE


def _unusable(words: str) -> int:
    tell(f"prescreed intake: {words}.")
    return UNUSABLE
