"""Names records of a design as they are called on site: 'loop L3', 'part 2 of loop L3'."""

from __future__ import annotations

import re
from collections.abc import Sequence

from checker.words import listed

CALLED = {
    "loops": ("loop", "loops", "in"),
    "headers": ("header", "headers", "at"),
    "floors": ("floor", "floors", "on"),
    "pipes": ("pipe", "pipes", "of"),
    "pressure_tests": ("the pressure test", "the pressure tests", "in"),
    "rooms": ("", "", "in"),
}
"""For each section: the noun for one record, for several, and the preposition before it. A room is
called by its name alone, unless that does not begin with a letter.
"""
_INNER = re.compile(r"^(.*)\.(part|feed|step)s\[(\d+)\]$")
WHOLE_PLANT = ("plant.supply", "plant.drop")
"""What applies to all loops that state nothing else."""


def called(record: str) -> str:
    """Name a record, or a part of one, as it is called on site.

    Args:
        record: its path ('loops.L3', 'loops.L3.parts[2]').

    Returns:
        'loop L3', 'part 2 of loop L3'; 'the design' for what is in no section of records.
    """
    inner = _INNER.match(record)
    if inner is not None:
        outer = "the first heating" if inner[1] == "heat_up" else called(inner[1])
        return f"{inner[2]} {inner[3]} of {outer}"
    section, _, name = record.partition(".")
    if section not in CALLED:
        return "the design"
    return f"{_kind(section, name)}{_name(section, name)}"


def _kind(section: str, name: str) -> str:
    one = CALLED[section][0]
    if section == "rooms" and not name[:1].isalpha():
        one = "room"
    return f"{one} " if one else ""


def _name(section: str, name: str) -> str:
    return f"'{name}'" if section == "pressure_tests" else name


def all_called(records: Sequence[str]) -> str:
    """Name several records of one kind: 'loops L1, L2 and L3'.

    Args:
        records: their paths, one at least; of different kinds, or parts of records, are named one
            by one.

    Returns:
        A phrase without a preposition.
    """
    sections = {record.partition(".")[0] for record in records}
    (section, *more) = sections
    plain = not more and section in CALLED and not any(_INNER.match(one) for one in records)
    if len(records) == 1 or not plain or not CALLED[section][1]:
        return listed([called(one) for one in records])
    names = [_name(section, one.partition(".")[2]) for one in records]
    return f"{CALLED[section][1]} {listed(names)}"


def where(records: Sequence[str]) -> str:
    """Name records of one kind with their preposition.

    Args:
        records: their paths, one at least.

    Returns:
        'in loop L3', 'at headers H1 and H2'.
    """
    joins = CALLED.get(records[0].partition(".")[0], ("", "", "of"))[2]
    return f"{joins} {all_called(records)}"


def along(changes: Sequence[str], text: str, records: Sequence[str]) -> str:
    """Say what changes along with a value.

    Args:
        changes: changed lengths of loops, or temperatures in steps of the first heating, each
            `path=text`.
        text: the value itself, which is not repeated.
        records: the records whose value it is, which are not named again.

    Returns:
        A phrase that follows the value, beginning with a comma; empty where nothing changes along.
    """
    heating: list[str] = []
    lengths: list[str] = []
    for words in changes:
        path, _, own = words.partition("=")
        record = path.rpartition(".")[0]
        if record.startswith("heat_up."):
            heating.append(f"{'' if own == text else f'{own} '}in {called(record)}")
        else:
            at = "" if [record] == [*records] else f" {where([record])}"
            lengths.append(f"{own} of pipe{at}")
    return "".join(
        [
            f", also {listed(heating)}" if heating else "",
            f", with {listed(lengths)}" if lengths else "",
        ]
    )
