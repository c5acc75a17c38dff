"""A design as YAML, a record a line, and behind each record where it was read.

A review finds the row of a subcontractor's own sheet in these comments (`rows_of`).
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from checker.design.schema import (
    TRUE,
    Collection,
    Leaf,
    NamedRows,
    Record,
    Rows,
    Texts,
    design_format,
)
from checker.intake.assembling import Assembled

_PLAIN = re.compile(r"-?[\w(°](?:[\w .·/²³()°%+*µ–−≤≥'&;=@-]*[\w.²³()°%/])?")
_TYPED = frozenset(("true", "false", "yes", "no", "on", "off", "y", "n", "null", "none"))
_NUMBER_OR_DAY = re.compile(
    r"[-+]?(?:0x[0-9a-fA-F_]+|0o[0-7_]+|0b[01_]+|(?:[0-9][0-9_]*[.]?[0-9_]*|[.][0-9_]+)(?:[eE][-+]?[0-9]+)?)"
    r"|[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}"
)
"""What YAML 1.1 and 1.2 readers take for a number or a date when it stands without quotes."""
_ORIGIN = re.compile(r"# (.+), rows? ([0-9, ]+)$")
_FROM = "# Read from "


def written(read: Assembled, map_name: str) -> str:
    """The design file: what it was read from, what was assumed and left, then the design."""
    sheets, plan = _shown(Path(read.path).name), _shown(Path(map_name).name)
    lines = [f"{_FROM}{sheets} by the map {plan}; mend the sheet, not this."]
    if read.assumed:
        lines += ["#", "# Assumed:", *(f"# - {_shown(text)}" for text in read.assumed)]
    if read.slips:
        lines += ["#", "# Look at:", *(f"# - {_shown(str(slip))}" for slip in read.slips)]
    if read.unused:
        lines += ["#", "# Not used:", *(f"# - {_shown(text)}" for text in read.unused)]
    lines += ["design: 1", *_sections(read)]
    return "\n".join(lines) + "\n"


def rows_of(text: str) -> tuple[str, dict[int, str]]:
    """The sheet file that a design was read from, and for each line of the design its rows there.

    The file's name is empty for a design that was not read from a sheet.
    """
    lines = text.splitlines()
    if not lines or not lines[0].startswith(_FROM):
        return "", {}
    path = lines[0].removeprefix(_FROM).partition(" by the map ")[0]
    rows = {}
    for number, line in enumerate(lines, 1):
        match = None if line.startswith("#") else _ORIGIN.search(line)
        if match:
            sheet = match[1].rsplit("# ", 1)[-1]
            rows[number] = f"{sheet}, row{'s' if ',' in match[2] else ''} {match[2]}"
    return path, rows


def _shown(text: str) -> str:
    """A text that stays on its line in a comment."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def _sections(read: Assembled) -> list[str]:
    lines: list[str] = []
    for section, member in design_format().top.members.items():
        value = read.tree.get(section)
        if value is None:
            continue
        lines.append("")
        if isinstance(member, Collection):
            lines.append(f"{section}:" if value else f"{section}: {{}}")
            for name, record in value.items():
                origin = read.origins.get((section, name))
                rows = ", ".join(str(row) for row in dict.fromkeys(origin.rows)) if origin else ""
                several = "s" if "," in rows else ""
                behind = f"  # {_shown(origin.sheet)}, row{several} {rows}" if origin else ""
                lines.append(f"  {_name(name)}: {_flow(record, member.record)}{behind}")
        else:
            lines.append(f"{section}: {_flow(value, member)}")
    return lines


def _flow(value: Any, member: Any) -> str:
    """A part of the design in braces and brackets, its keys in the format's order."""
    if isinstance(member, Leaf) and member.listed is not None and isinstance(value, list):
        member = member.listed
    if isinstance(member, Record) and isinstance(value, dict):
        keys = [key for key in member.members if key in value]
        inner = ", ".join(f"{key}: {_flow(value[key], member.members[key])}" for key in keys)
        return "{" + inner + "}"
    if isinstance(member, NamedRows) and isinstance(value, dict):
        named = ", ".join(
            f"{_name(key)}: {_flow(each, member.rows)}" for key, each in value.items()
        )
        return "{" + named + "}"
    if isinstance(member, Rows) and isinstance(value, list):
        return "[" + ", ".join(_item(item, member) for item in value) + "]"
    if isinstance(member, Texts) and isinstance(value, list):
        return "[" + ", ".join(scalar(item) for item in value) + "]"
    if isinstance(member, Leaf) and member.kind == "boolean" and isinstance(value, str):
        return scalar(value.lower() in TRUE)
    if isinstance(member, Leaf) and member.kind in ("reference", "text"):
        return _name(value)
    return scalar(value)


def _item(item: Any, rows: Rows) -> str:
    if rows.tuple_of and isinstance(item, dict):
        item = [item[part] for part in rows.tuple_of if part in item]
    if isinstance(item, list):
        return "[" + ", ".join(scalar(part) for part in item) + "]"
    return _flow(item, rows.record)


def _name(value: Any) -> str:
    """A name as YAML reads it back, in quotes where a reader would take it for something else."""
    text = str(value)
    return f'"{text}"' if _NUMBER_OR_DAY.fullmatch(text) else scalar(text)


def scalar(value: Any) -> str:
    """A value as YAML reads it back: plain where that is safe, else in double quotes."""
    if isinstance(value, bool):
        return "true" if value else "false"
    text = str(value)
    if _PLAIN.fullmatch(text) and text.casefold() not in _TYPED and text != "":
        return text
    quoted = json.dumps(text, ensure_ascii=False)
    return "".join(
        sign if sign.isprintable() else f"\\u{ord(sign):04x}"
        if ord(sign) < 0x10000 else f"\\U{ord(sign):08x}"
        for sign in quoted
    )  # fmt: skip
