"""What a command says to a person beside its reports: line by line, and nothing hidden in it."""

from __future__ import annotations

import argparse
import sys
from typing import NoReturn

from checker.words import visible


def tell(*lines: str) -> None:
    """Say lines on standard error, whatever is quoted in them."""
    for line in lines:
        print(visible(line), file=sys.stderr)


def say(*lines: str) -> None:
    """The same on standard output."""
    for line in lines:
        print(visible(line))


class Parser(argparse.ArgumentParser):
    """Arguments of a command; a word that is quoted in a mistake hides nothing either."""

    def error(self, message: str) -> NoReturn:
        """As of any parser."""
        super().error(visible(message))
