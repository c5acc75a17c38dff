"""The content of a design as typed: its records, and the text of each of their values."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from checker.design.leaves import Leaf
from checker.design.schema import Collection, NamedRows, Record, Rows, design_format
from checker.intake.fields import value_of

Key = tuple[str, str]
"""A section and the id of a record in it; the design's own values are at ('design', '')."""
Content = dict[Key, dict[str, str]]
"""For each record the text of each of its values."""
SAME = 1e-9
"""Two inputs that differ by less than this share count as equal: 88 m and 88.0 m, or 288.7 ft."""


def dotted(key: Key) -> str:
    """A record as reports name it.

    Args:
        key: its section and id.

    Returns:
        For example `loops.L2`; `design` for the design itself.
    """
    return f"{key[0]}.{key[1]}" if key[1] else key[0]


def key_of(subject: str) -> Key:
    """The record that reports name so, the reverse of `dotted`.

    Args:
        subject: for example `loops.L2`, without an item of a list.

    Returns:
        Its section and id; whether the design has it is not looked up.
    """
    section, _, name = subject.partition(".")
    return section, name


def content_of(document: Any) -> Content:
    """The values of a design by record and field.

    Args:
        document: the design as it was read, every value a text.

    Returns:
        Texts as typed; items of lists are counted from 1, as in `pump.curve[1].flow`, and what
        belongs to no record is under `('design', '')`.
    """
    content: Content = {("design", ""): {}}
    for section, member in design_format().top.members.items():
        value = document.get(section)
        if value is None:
            continue
        if isinstance(member, Collection):
            for name, record in value.items():
                content[section, name] = dict(leaves_of(record, member.record, ""))
        elif section != "design":
            content["design", ""].update(leaves_of(value, member, section))
    return content


def leaves_of(value: Any, member: Any, where: str) -> Iterator[tuple[str, str]]:
    """The fields of a part of a design, with their texts.

    Args:
        value: the part, as it was read.
        member: its type in the design format.
        where: the field that it is in; empty for a whole record.

    Returns:
        Pairs of field, as in `Content`, and text as typed.
    """
    if isinstance(member, Leaf):
        if isinstance(value, str):
            yield where, value
        else:
            yield from leaves_of(value, member.listed, where)
    elif isinstance(member, Record):
        for key, inner in value.items():
            yield from leaves_of(inner, member.members[key], f"{where}.{key}" if where else key)
    elif isinstance(member, NamedRows):
        for name, inner in value.items():
            yield from leaves_of(inner, member.rows, f"{where}.{name}")
    elif isinstance(member, Rows):
        for number, item in enumerate(value, 1):
            here = f"{where}[{number}]"
            if member.tuple_of:
                for part, text in zip(member.tuple_of, item, strict=True):
                    yield f"{here}.{part}", text
            else:
                yield from leaves_of(item, member.record, here)
    else:
        yield where, ", ".join(value)


def leaf_of(section: str, field: str) -> Leaf | None:
    """The kind and bounds of a field in the design format.

    Args:
        section: the section of the record; `design` for what belongs to none.
        field: the field as in `Content`, such as `pump.curve[1].flow`.

    Returns:
        What the format's schema says of it; None where it is not a value.
    """
    top: Any = design_format().top
    member = top if section == "design" else top.members[section].record
    for step in (step.partition("[")[0] for step in field.split(".")):
        if isinstance(member, NamedRows):  # the step is the name of one of them
            member = member.rows
            continue
        listed = member.listed if isinstance(member, Leaf) else member
        member = listed.record if isinstance(listed, Rows) else listed
        member = member.members.get(step) if isinstance(member, Record) else None
    return member if isinstance(member, Leaf) else None


def alike(section: str, field: str, old: str, new: str, names: dict[Key, Key]) -> bool:
    """Whether two texts of a field mean the same, in whatever unit.

    Args:
        section: the section of the record.
        field: the field as in `Content`.
        old: its text before.
        new: its text now.
        names: for each old record its new one; a reference is the same where its record is.

    Returns:
        True where quantities differ by no more than a share of `SAME`; texts and words must be
        equal.
    """
    leaf = leaf_of(section, field)
    if leaf is not None and leaf.kind == "reference":
        # Where no record has that name, the names alone can be compared.
        was = leaf.refers_to, old
        return names[was] == (leaf.refers_to, new) if was in names else old == new
    if old == new:
        return True
    if leaf is None or leaf.kind in ("text", "words"):
        return False
    before, after = value_of(leaf, old), value_of(leaf, new)
    return abs(before - after) <= SAME * max(abs(before), abs(after))
