"""`prescreed settings [PATH…]`: the settings in force for a call, and where each comes from."""

from __future__ import annotations

import argparse
from typing import Any

from checker.cli import check
from checker.run import session
from checker.run.options import Options
from checker.run.telling import say, tell

SILENT = ("paths", "pairs", "files_from", "stdin_path", "today", "policy", "policy_from")


def parser() -> argparse.ArgumentParser:
    """The command's arguments: those of a check."""
    made = check.parser()
    made.prog = "prescreed settings"
    made.description = (
        "Show the settings that 'prescreed check' uses with the same arguments,"
        " and where each comes from: the command line, a settings file, or the "
        "default."
    )
    made.epilog = ""
    return made


def run(words: list[str]) -> int:
    """Print the settings of a call of `check` with the same words."""
    return session.answered(lambda: _shown(session.open_run(parser(), words or ["."])))


def _shown(opened: session.Session) -> int:
    say(f"rules {opened.heads.edition}, {opened.heads.digest}")
    say(f"policy {opened.policy.name}, {opened.policy_digest}")
    for line in opened.notes:
        say(line)
    chosen = {repr(_rows(group)): _rows(group) for group in opened.groups}
    for rows in [*chosen.values()] or [_rows_of(opened.options)]:
        say("")
        _show(rows)
    for problem in opened.problems:
        tell(session.problem_line(problem))
    return session.UNUSABLE if opened.problems else 0


def _rows(group: session.Group) -> list[tuple[str, str, str]]:
    rows = _rows_of(group.options)
    if group.policy.further_codes:
        rows.append(("further codes", ", ".join(group.policy.further_codes), ""))
    return rows


def _rows_of(options: Options) -> list[tuple[str, str, str]]:
    """For each option: its name, its value, and where that comes from."""
    return [
        (name.replace("_", "-"), _written(_value(options, name)), origin)
        for name, origin in options.origins.items()
        if name not in SILENT
    ]


def _show(rows: list[tuple[str, str, str]]) -> None:
    widths = [max(len(row[column]) for row in rows) for column in (0, 1)]
    for name, value, origin in sorted(rows):
        say(f"{name:<{widths[0]}}  {value:<{widths[1]}}  {origin}".rstrip())


def _value(options: Options, name: str) -> Any:
    if name in ("format", "output"):
        return [value for option, value in options.values.pairs or [] if option == name]
    return getattr(options.values, name)


def _written(value: Any) -> str:
    if isinstance(value, list | tuple):
        return ", ".join(str(one) for one in value) or "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "–" if value in (None, "") else str(value)
