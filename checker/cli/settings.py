"""`prescreed settings [PATH…]`: what holds for a call, and where it comes from."""

from __future__ import annotations

import argparse
from typing import Any

from checker.cli import check
from checker.run import session

SILENT = ("paths", "pairs", "files_from", "stdin_path", "today")


def parser() -> argparse.ArgumentParser:
    """The command's arguments: those of a check."""
    made = check.parser()
    made.prog = "prescreed settings"
    made.description = (
        "Show what holds for 'prescreed check' with the same words, and where each value comes "
        "from: the command line, a settings file, or the default."
    )
    made.epilog = ""
    return made


def run(words: list[str]) -> int:
    """Print the settings of a call of `check` with the same words."""
    return session.answered(lambda: _shown(session.call(parser(), words or ["."])))


def _shown(call: session.Call) -> int:
    print(f"rules {call.book.edition}, {call.book.digest}")
    for line in call.passed_over:
        print(line)
    chosen = {tuple(g.options.origins.items()): g.options for g in call.groups}
    for options in list(chosen.values()) or [call.options]:
        print()
        _show(options)
    return 0


def _show(options: session.Options) -> None:
    rows = []
    for name, origin in options.origins.items():
        if name in SILENT:
            continue
        rows.append((name.replace("_", "-"), _written(_value(options, name)), origin))
    widths = [max(len(row[column]) for row in rows) for column in (0, 1)]
    for name, value, origin in sorted(rows):
        print(f"{name:<{widths[0]}}  {value:<{widths[1]}}  {origin}".rstrip())


def _value(options: session.Options, name: str) -> Any:
    if name in ("format", "output"):
        return [value for option, value in options.values.pairs or [] if option == name]
    return getattr(options.values, name)


def _written(value: Any) -> str:
    if isinstance(value, list | tuple):
        return ", ".join(str(one) for one in value) or "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "–" if value is None else str(value)
