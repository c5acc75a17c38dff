"""Writes a design as YAML, one record a line, each followed by the cells it was read from.

Reports find the cell of a finding in these comments (`reading.cells`).
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from checker.design.leaves import TRUE, Leaf
from checker.design.schema import Collection, NamedRows, Record, Rows, Texts, design_format
from checker.intake.assembling import Assembled
from checker.reading.cells import BEGINNING, REFUSED, Spot, comment

Way = tuple[str | int, ...]
"""The keys and list positions that lead to a value: section, id (may be empty), further keys."""
_PLAIN = re.compile(r"-?[\w(°](?:[\w .·/²³()°%+*µ–−≤≥'&;=@-]*[\w.²³()°%/])?")
_TYPED = frozenset(("true", "false", "yes", "no", "on", "off", "y", "n", "null", "none"))
_NUMBER_OR_DAY = re.compile(
    r"[-+]?(?:0x[0-9a-fA-F_]+|0o[0-7_]+|0b[01_]+|(?:[0-9][0-9_]*[.]?[0-9_]*|[.][0-9_]+)(?:[eE][-+]?[0-9]+)?)"
    r"|[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}"
)
"""Unquoted texts that YAML 1.1 or 1.2 readers take for a number or a date."""


def written(read: Assembled, by: str) -> str:
    """Write a design file.

    Args:
        read: the design as it was read.
        by: what it was read with: `map NAME` or `form`.

    Returns:
        The text: comments on what it was read from, what was assumed and left out, then the design.
    """
    sheets = _shown(Path(read.path).name)
    lines = [f"{BEGINNING}{sheets} by the {_shown(by)}; mend the sheet, not this."]
    for title, texts in (
        ("Assumed", read.assumed),
        ("Look at", map(str, read.slips)),
        (REFUSED, map(str, read.refused)),
        ("Not used", read.unused),
    ):
        entries = [f"# - {_shown(text)}" for text in texts]
        if entries:
            lines += ["#", f"# {title}:", *entries]
    lines += ["design: 1", *_sections(read)]
    return "\n".join(lines) + "\n"


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
                line = _Line(read)
                line.note((section, name))
                text = line.flow(record, member.record, (section, name))
                lines.append(f"  {_name(name)}: {text}{line.behind((section, name))}")
        else:
            line = _Line(read)
            lines.append(
                f"{section}: {line.flow(value, member, (section, ''))}{line.behind((section, ''))}"
            )
    return lines


class _Line:
    """One line of the design, and the cells that its values came from."""

    def __init__(self, read: Assembled) -> None:
        self.read = read
        self.spots: list[Spot | None] = []

    def note(self, way: Way) -> None:
        self.spots.append(self.read.cells.get(way))

    def behind(self, key: tuple[str, str]) -> str:
        """The comment that names the cells; empty where no value came from a cell."""
        origin = self.read.origins.get(key)
        known = [spot for spot in self.spots if spot is not None]
        if origin is not None:
            return comment(origin.sheet, list(dict.fromkeys(origin.rows)), self.spots)
        if not known:
            return ""
        rows = list(dict.fromkeys(spot.row for spot in known if spot.sheet == known[0].sheet))
        return comment(known[0].sheet, rows, self.spots)

    def flow(self, value: Any, member: Any, way: Way) -> str:
        """A part of the design in braces and brackets, its keys in the format's order."""
        if isinstance(member, Leaf) and member.listed is not None and isinstance(value, list):
            member = member.listed
        if isinstance(member, Record) and isinstance(value, dict):
            keys = [key for key in member.members if key in value]
            inner = ", ".join(
                f"{key}: {self.flow(value[key], member.members[key], (*way, key))}" for key in keys
            )
            return "{" + inner + "}"
        if isinstance(member, NamedRows) and isinstance(value, dict):
            named = ", ".join(
                f"{_name(key)}: {self.flow(each, member.rows, (*way, key))}"
                for key, each in value.items()
            )
            return "{" + named + "}"
        if isinstance(member, NamedRows) and isinstance(value, list):
            return self.by_name(value, member, way)
        if isinstance(member, Rows) and isinstance(value, list):
            items = enumerate(value)
            return "[" + ", ".join(self.item(one, member, (*way, n)) for n, one in items) + "]"
        if isinstance(member, Texts) and isinstance(value, list):
            for _ in value:
                self.note(way)
            return "[" + ", ".join(scalar(item) for item in value) + "]"
        self.note(way)
        if isinstance(member, Leaf) and member.kind == "boolean" and isinstance(value, str):
            return scalar(value.lower() in TRUE)
        if isinstance(member, Leaf) and member.kind in ("reference", "text"):
            return _name(value)
        return scalar(value)

    def by_name(self, items: list[Any], member: NamedRows, way: Way) -> str:
        """List items that each hold the name of their list, written as lists under these names."""
        lists: dict[str, list[str]] = {}
        names = [str(item.get(member.name.name, "")) for item in items]
        for name in dict.fromkeys(names):
            own = [n for n, other in enumerate(names) if other == name]
            lists[name] = [self.item(items[n], member.rows, (*way, n)) for n in own]
        entries = (f"{_name(name)}: [{', '.join(own)}]" for name, own in lists.items())
        return "{" + ", ".join(entries) + "}"

    def item(self, item: Any, rows: Rows, way: Way) -> str:
        if rows.tuple_of and isinstance(item, dict):
            own = [part for part in rows.tuple_of if part in item]
            for part in own:
                self.note((*way, part))
            return "[" + ", ".join(scalar(item[part]) for part in own) + "]"
        if isinstance(item, list):
            for _ in item:
                self.note(way)
            return "[" + ", ".join(scalar(part) for part in item) + "]"
        return self.flow(item, rows.record, way)


def _name(value: Any) -> str:
    """A key as YAML reads it back, quoted where a reader would take it for something else."""
    text = str(value)
    return f'"{text}"' if _NUMBER_OR_DAY.fullmatch(text) else scalar(text)


def scalar(value: Any) -> str:
    """A value as YAML reads it back.

    Args:
        value: a truth value, or anything whose text is meant.

    Returns:
        Without quotation marks where that is safe, else in double ones.
    """
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
