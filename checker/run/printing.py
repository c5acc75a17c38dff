"""`--output FILE` for the commands that print: their output goes there, whole or not at all."""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Callable, Sequence

from checker.run.writer import put

OPTION = "--output"


def format_option(made: argparse.ArgumentParser, formats: Sequence[str]) -> None:
    """Add `--format`, stored as `written` because a settings file's `format` is that of a check.

    Args:
        made: the parser.
        formats: the choices; the first is the default.
    """
    made.add_argument(
        "--format",
        dest="written",
        choices=tuple(formats),
        default=formats[0],
        help=f"how to write it (default: {formats[0]})",
    )


def output_option(made: argparse.ArgumentParser, what: str = "what is printed") -> None:
    """Show `--output` in a command's help; `printed` removes it from the call before it is parsed.

    Args:
        made: the parser; added to.
        what: what the command prints, for the help.
    """
    made.add_argument(
        OPTION, metavar="FILE", help=f"where to write {what} (default: standard output)"
    )


def printed(command: Callable[[list[str]], int], words: list[str]) -> int:
    """Run a command with its standard output going to the file that the words name.

    Args:
        command: takes the words of a call and returns its exit status.
        words: the words of this call, `--output` among them or not.

    Returns:
        The command's exit status; nothing is written to the file where it printed nothing.

    Raises:
        Unwritable: the file cannot be written.
    """
    path, rest = _taken(words)
    if not path:
        return command(words)
    before = sys.stdout
    content = io.BytesIO()
    sys.stdout = io.TextIOWrapper(content, "utf-8", "backslashreplace", newline="\n")
    try:
        status = command(rest)
        sys.stdout.flush()
        said = content.getvalue()
    finally:
        sys.stdout = before
    if said:
        put(said, path)
    return status


def _taken(words: list[str]) -> tuple[str, list[str]]:
    """The file that the words name, and the words without it."""
    for number, word in enumerate(words):
        if word == "--":
            break
        if word == OPTION and number + 1 < len(words):
            return words[number + 1], [*words[:number], *words[number + 2 :]]
        if word.startswith(f"{OPTION}="):
            return word.partition("=")[2], [*words[:number], *words[number + 1 :]]
    return "", words
