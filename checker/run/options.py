"""The options of a call: its own words come first, then the policy's, then the defaults."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from datetime import date
from typing import Any, TypeVar

from msgspec import Struct

from checker.run.policy import FolderPolicy
from checker.run.settings_files import KEYS, Glob, web_address
from checker.words import calendar_day
from checker.words.speech import AS_WRITTEN, DECIMALS, POINT, SYSTEMS

T = TypeVar("T")
MOST_JOBS = 128
"""Most worker processes of one call; each is a whole program in memory."""
SHOWN = ("codes", "as_of", "rules", "known", "fail_on", "fail_on_open")
"""Options that affect what a run finds, by their names in its report; others change no result."""
COMMAND_LINE, DEFAULT = "command line", "default"
"""Origins of an option that are not a place in a file."""


def rules_option(made: argparse._ActionsContainer) -> None:
    """Add the option that names a firm's own rules.

    Args:
        made: the parser, or a group of its options; added to.
    """
    made.add_argument(
        "--rules",
        action="append",
        default=[],
        metavar="PATH",
        help="a folder or file of your own rules, added to the built-in ones; the same id replaces",
    )


def policy_options(made: argparse._ActionsContainer, today: str = argparse.SUPPRESS) -> None:
    """Add the options that choose the policy.

    Args:
        made: the parser.
        today: the help for `--today`; without it, that option is not shown.
    """
    made.add_argument(
        "--policy",
        metavar="PATH",
        help="the policy to use: a settings file, or a folder with one and its "
        "waivers (default: the root of the repository, else the current folder)",
    )
    made.add_argument(
        "--policy-from",
        metavar="REF",
        help="use the policy at the root of this commit, so that a change cannot loosen it",
    )
    made.add_argument("--today", type=day, metavar="DATE", help=today)


def basis_options(made: argparse.ArgumentParser, today: str = argparse.SUPPRESS) -> None:
    """Add the options for codes, day, rules and policy.

    Args:
        made: the parser.
        today: the help for `--today`; without it, that option is not shown.
    """
    basis = made.add_argument_group("rules, codes and units")
    basis.add_argument(
        "--codes",
        type=codes,
        metavar="CODE[,CODE…]",
        help="use these codes instead of those that the design or its region names",
    )
    basis.add_argument(
        "--as-of",
        type=day,
        metavar="DATE",
        help="judge by the editions in force on this day (default: the design's own day)",
    )
    basis.add_argument(
        "--strict",
        action="store_true",
        help="treat missing data as unknown, instead of as anywhere in their published range",
    )
    basis.add_argument(
        "--units",
        choices=(*SYSTEMS, AS_WRITTEN),
        default=AS_WRITTEN,
        help="the units of reports for people (default: project.units of the design,"
        " else the units that most of it uses); machine formats keep their own",
    )
    basis.add_argument(
        "--decimal",
        choices=DECIMALS,
        default=POINT,
        help="the decimal mark of reports for people (default: point)",
    )
    basis.add_argument(
        "--map",
        metavar="MAP",
        help="how to read a sheet that is not the program's own form (default: the map beside it, "
        "else the map named like its sender)",
    )
    rules_option(basis)
    policy_options(basis, today)


def jobs_option(made: argparse.ArgumentParser) -> None:
    """Add the option for the number of processes.

    Args:
        made: the parser; added to.
    """
    made.add_argument(
        "--jobs", type=_jobs, metavar="N", help="worker processes (default: as many as cores)"
    )


def judging_options(made: argparse.ArgumentParser) -> None:
    """Add the paths, and the options that say which designs are judged, and by what.

    Args:
        made: the parser; added to.
    """
    made.add_argument(
        "paths",
        nargs="*",
        metavar="PATH",
        help="a design, a folder of designs, or - for standard input",
    )
    basis_options(made)
    which = made.add_argument_group("which designs")
    jobs_option(made)
    which.add_argument(
        "--files-from",
        metavar="FILE",
        help="also check the designs listed in FILE, one a line (quoted as git does,"
        " or not) or separated by NUL; - for standard input; other files in the"
        " list are passed over",
    )
    which.add_argument(
        "--exclude",
        action="append",
        default=[],
        type=glob,
        metavar="GLOB",
        help="pass over designs whose path matches, or that lie in a folder that does; * matches "
        "any characters, / too",
    )
    which.add_argument(
        "--changed",
        metavar="REF",
        help="only designs that are new or differ from this commit; REF... (three "
        "dots): from the commit where REF and HEAD branched. Where a policy "
        "file differs, every design that it applies to",
    )
    which.add_argument("--governed", action="store_true", help=argparse.SUPPRESS)
    which.add_argument(
        "--stdin-path",
        metavar="PATH",
        help="the path of the design on standard input, such as unsaved text from an editor",
    )


def codes(text: str) -> tuple[str, ...]:
    """Read codes separated by commas; none is refused, because then everything would pass.

    Args:
        text: as it is typed.

    Returns:
        The codes as they were written, known or not.

    Raises:
        argparse.ArgumentTypeError: no code is named.
    """
    found = tuple(code.strip() for code in text.split(",") if code.strip())
    if not found:
        raise argparse.ArgumentTypeError(
            "no code is named; write one or several, such as 'EN-1264,DE', or leave it out to "
            "judge by the codes of the design or its region"
        )
    return found


def some_rules(text: str) -> str:
    """Read rules separated by commas; none is refused, because then nothing would be demanded.

    Args:
        text: as it is typed.

    Returns:
        The same text.

    Raises:
        argparse.ArgumentTypeError: no rule is named.
    """
    if not text.replace(",", "").strip():
        raise argparse.ArgumentTypeError("no rule is named; write one or several, or 'all'")
    return text


def glob(text: str) -> Glob:
    """Read a pattern of paths; an empty one is refused, as it would exclude all.

    Args:
        text: as it is typed; * matches any characters, / too.

    Returns:
        The pattern from the working directory.

    Raises:
        argparse.ArgumentTypeError: it is empty.
    """
    if not text.strip():
        raise argparse.ArgumentTypeError("an empty pattern names nothing")
    return Glob(os.getcwd(), text)


def day(text: str) -> date:
    """Read a date.

    Args:
        text: as it is typed, year-month-day.

    Returns:
        The day.

    Raises:
        argparse.ArgumentTypeError: it is no date.
    """
    return _read(calendar_day, text)


def manual_address(text: str) -> str:
    """Read the address at which a manual is published.

    Args:
        text: as it is typed.

    Returns:
        The same text.

    Raises:
        argparse.ArgumentTypeError: it does not begin with https:// or http://, or has characters
            that an address cannot have.
    """
    return _read(web_address, text)


def _read(read: Callable[[str], T], text: str) -> T:
    """Read an option's text; what its reader refuses becomes a refusal of the call."""
    try:
        return read(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _jobs(text: str) -> int:
    if not text.isdecimal() or not text.isascii() or not 1 <= int(text) <= MOST_JOBS:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of workers, 1 to {MOST_JOBS}")
    return int(text)


class Options(Struct, frozen=True):
    """The options of a call.

    Attributes:
        values: by name, with underscores.
        origins: where each comes from: COMMAND_LINE, DEFAULT, or a place in a file.
    """

    values: argparse.Namespace
    origins: dict[str, str]

    def where(self, name: str) -> str:
        """What to correct where an option is wrong: the option itself, or its place in a file.

        Args:
            name: with underscores, as in `values`.

        Returns:
            Such as `--fail-on` or `prescreed.yaml:3: fail-on`.
        """
        written = name.replace("_", "-")
        origin = self.origins.get(name, DEFAULT)
        return f"--{written}" if origin in (COMMAND_LINE, DEFAULT) else f"{origin}: {written}"

    def get(self, name: str, default: Any = None) -> Any:
        """An option that not every command has.

        Args:
            name: with underscores, as in `values`.
            default: what is returned for a command without it.

        Returns:
            Its value in force.
        """
        return getattr(self.values, name, default)

    def shown(self) -> dict[str, Any]:
        """The options that affect what a run finds, by their names in its report."""
        return {
            name.replace("_", "-"): _plain(getattr(self.values, name))
            for name in SHOWN
            if hasattr(self.values, name)
        }


def _plain(value: Any) -> Any:
    """A value with paths as the user would type them."""
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, str) and os.path.isabs(value):
        return os.path.relpath(value).replace(os.sep, "/")
    return value


class Call:
    """The words of a call, parsed once; `under` combines them with a policy."""

    def __init__(self, made: argparse.ArgumentParser, words: list[str]) -> None:
        """Parse the words; what is wrong with them ends the program with a message of the parser.

        Args:
            made: the command's parser; the same afterwards as before.
            words: the words of the call.
        """
        self.parser = made
        actions = {
            action.dest: action
            for action in made._actions
            if action.dest != "help" and action.default != argparse.SUPPRESS
        }
        self.defaults = {name: action.default for name, action in actions.items()}
        for action in actions.values():
            action.default = argparse.SUPPRESS  # so that only what is typed is in `given`
        self.given: dict[str, Any] = vars(made.parse_args(words))
        for name, action in actions.items():
            action.default = self.defaults[name]
        self.policy = self.given.get("policy")
        self.policy_from = self.given.get("policy_from")

    def get(self, name: str, default: Any = None) -> Any:
        """What the call itself says, else the option's own default; no policy is looked at.

        Args:
            name: with underscores.
            default: what is returned for a command without the option.

        Returns:
            Its value.
        """
        return self.given.get(name, self.defaults.get(name, default))

    def under(self, policy: FolderPolicy) -> Options:
        """The options in force: those of the call, then those of the policy, then the defaults.

        Args:
            policy: for the designs of one folder.

        Returns:
            With the origin of each; settings of the policy for options of other commands are left
            out, except `exclude`.
        """
        # pairs: `format` and `output` with their values, in the order in which they are written.
        values: dict[str, Any] = {**self.defaults, "paths": [], "pairs": None}
        origins = dict.fromkeys(self.defaults, DEFAULT)
        for key, value in policy.values.items():
            name = key.replace("-", "_")
            if name not in self.defaults and name != "exclude":
                continue  # another command's
            origins[name] = value.origin
            if name == "format":
                if self.defaults[name] is None:  # of a check, which can write several
                    values["pairs"] = [("format", one) for one in value.value]
            else:
                values[name] = list(value.value) if KEYS[key].several else value.value
        if values.get("codes") is not None:
            values["codes"] = tuple(values["codes"])
        for name, value in self.given.items():
            values[name] = value
            for one in {pair[0] for pair in value} if name == "pairs" else (name,):
                origins[one] = COMMAND_LINE
        if "pairs" in self.given and not any(p[0] == "format" for p in self.given["pairs"]):
            origins["format"] = DEFAULT
        return Options(argparse.Namespace(**values), origins)
