"""Messages of a command besides its reports: one a line, without control characters."""

from __future__ import annotations

import argparse
import os
import re
import sys
from contextlib import suppress
from typing import Any, NoReturn

from checker.words import visible

_PLACE = re.compile(r".+?:\d+(:\d+)?: ")
"""The beginning of a message that names a line of a file, as editors recognise it."""


def tell(*lines: str) -> None:
    """Write lines to standard error, with control characters made visible.

    Args:
        *lines: without line ends.
    """
    for line in lines:
        print(visible(line), file=sys.stderr)


def say(*lines: str) -> None:
    """The same to standard output.

    Args:
        *lines: without line ends.
    """
    for line in lines:
        print(visible(line))


def refuse(why: str) -> None:
    """Write to standard error why a call cannot be carried out.

    Args:
        why: a line; one that does not begin with a place in a file is written after the program's
            name.
    """
    tell(why if _PLACE.match(why) else f"prescreed: {why}")


def columns() -> int:
    """The width of the terminal, as `shutil` finds it, but without its many imports."""
    with suppress(ValueError, KeyError):
        if (stated := int(os.environ["COLUMNS"])) > 0:
            return stated
    with suppress(ValueError, OSError, AttributeError):
        if (found := os.get_terminal_size(sys.__stdout__.fileno()).columns) > 0:  # type: ignore[union-attr]
            return found
    return 80


class Help(argparse.HelpFormatter):
    """Help as wide as the terminal; argparse makes one for each argument, only to look at it."""

    def __init__(self, prog: str, **look: Any) -> None:
        super().__init__(prog, **{"width": columns() - 2, **look})


class Parser(argparse.ArgumentParser):
    """Parser of a command's arguments; quoted words in its messages cannot hide control
    characters.
    """

    def __init__(self, **about: Any) -> None:
        super().__init__(**{"formatter_class": Help, **about})

    def error(self, message: str) -> NoReturn:
        """Write what is wrong with the call, and what may be meant; ends the program with status 2.

        Args:
            message: argparse's own.
        """
        self.exit(2, f"{self.prog}: {visible(self._meant(message))}\n")

    def _meant(self, message: str) -> str:
        """The message, with the nearest option or value."""
        from checker.words import nearest

        options = [one for action in self._actions for one in action.option_strings]
        unknown = re.fullmatch(r"unrecognized arguments: (.*)", message)
        if unknown:
            word = unknown[1].split()[0]
            near = nearest(word.partition("=")[0], options) if word.startswith("-") else None
            hint = f"did you mean '{near}'?" if near else f"'{self.prog} --help' lists what is."
            what = "option of this command" if word.startswith("-") else "argument of this command"
            return f"'{word}' is no {what}; {hint}"
        wrong = re.fullmatch(
            r"argument (\S+): invalid choice: '?(.*?)'? \(choose from (.*)\)", message, re.DOTALL
        )
        if wrong:
            known = [one.strip(" '\"") for one in wrong[3].split(",")]
            near = nearest(wrong[2], known)
            hint = f"did you mean '{near}'?" if near else f"write one of {', '.join(known)}."
            return f"{wrong[1].split('/')[0]}: '{wrong[2]}' is not allowed; {hint}"
        return f"{message.rstrip('.')}. '{self.prog} --help' explains it."
