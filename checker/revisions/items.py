"""Items of lists within records, such as a pump's curve or the parts of a loop, by number.

A field of an item is named as in a design's path: `parts[2].spacing`; a whole list by its key:
`pump.curve`, with the text that a design file would have: `[[0 l/min, 60 kPa], …]`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache
from typing import NamedTuple

from checker.design.leaves import Leaf
from checker.design.schema import Rows, design_format
from checker.forms.changing import listed, quoted
from checker.intake.fields import Field, fields
from checker.reading import yaml_reader
from checker.revisions.contents import Key, alike, leaves_of

DESIGN = "design"
_ITEM = re.compile(r"([a-z_.]+)\[(\d+)\](?:\.(.+))?")
_SUBJECT = re.compile(r"(.+)\.([a-z_]+\[\d+\])")


class Item(NamedTuple):
    """An item of a list: the list's key in its record, the item's number, its field (or none)."""

    key: str
    number: int
    field: str = ""

    def __str__(self) -> str:
        return f"{self.key}[{self.number}]{f'.{self.field}' if self.field else ''}"


def item_of(field: str) -> Item | None:
    """The item that a field of a record is in; None for any other field."""
    found = _ITEM.fullmatch(field)
    return Item(found[1], int(found[2]), found[3] or "") if found else None


def parted(subject: str) -> tuple[str, str]:
    """Split a subject into a record and an item of a list in it.

    Args:
        subject: as results name it, such as `loops.L2.parts[1]`.

    Returns:
        `loops.L2` and `parts[1]`; an empty text where the subject is a whole record.
    """
    found = _SUBJECT.fullmatch(subject)
    return (found[1], found[2]) if found else (subject, "")


def field_of(subject: str, datum: str) -> str:
    """A missing datum's name in the design format.

    Args:
        subject: the record, or the item of a list in one, that lacks it.
        datum: its path in the record or item.

    Returns:
        For example `loops.parts.spacing`, without ids and numbers.
    """
    record, inside = parted(subject)
    section = record.partition(".")[0]
    steps = (section, inside.partition("[")[0], datum)
    return ".".join(step for step in steps if step)


@cache
def lists() -> Mapping[str, tuple[Field, ...]]:
    """Every list of the format by name (`headers.pump.curve`), with the fields of an item."""
    found: dict[str, list[Field]] = {}
    for field in fields().values():
        if field.listed:
            name = ".".join((field.section, *field.keys[: field.listed]))
            found.setdefault(name, []).append(field)
    return {name: tuple(own) for name, own in found.items()}


def name_of(section: str, key: str) -> str:
    """The name of a list in a record, as `lists` has it.

    Args:
        section: the record's section; `design` for a list that belongs to no record.
        key: the list's key in the record, such as `pump.curve`.

    Returns:
        For example `headers.pump.curve`; whether there is such a list is not looked up.
    """
    return key if section == DESIGN else f"{section}.{key}"


@cache
def rows_of(name: str) -> Rows:
    """What the design format says of the items of a list.

    Args:
        name: the list's name, as `lists` has it.

    Returns:
        The fields of an item, or the parts of one that is itself a list.

    Raises:
        KeyError: there is no such list.
    """
    section, _, keys = name.partition(".")
    member = design_format().top.members[section]
    member = getattr(member, "record", member)
    for key in keys.split("."):
        member = member.members[key]  # type: ignore[union-attr]
    found = member.listed if isinstance(member, Leaf) else member
    if not isinstance(found, Rows):
        raise KeyError(name)
    return found


def needed(name: str) -> tuple[str, ...]:
    """The fields that every item of a list must state.

    Args:
        name: the list's name, as `lists` has it.

    Returns:
        Names of fields within an item.
    """
    rows = rows_of(name)
    return rows.tuple_of or rows.record.required


def text_of(name: str, items: Iterable[Mapping[str, str]]) -> str:
    """A list as a design file writes it.

    Args:
        name: the list's name, as `lists` has it.
        items: the fields of each item, in order; each must state those that are `needed`.

    Returns:
        YAML in one line, such as `[[0 l/min, 60 kPa], [10 l/min, 50 kPa]]`.
    """
    order = rows_of(name).tuple_of
    if not order:
        return listed([*items])
    points = (", ".join(quoted(item[key]) for key in order) for item in items)
    return f"[{', '.join(f'[{point}]' for point in points)}]"


def items_in(record: Mapping[str, str], key: str) -> dict[int, dict[str, str]]:
    """The items of a record's list by number, each with its fields."""
    found: dict[int, dict[str, str]] = {}
    for field, text in record.items():
        item = item_of(field)
        if item is not None and item.key == key:
            found.setdefault(item.number, {})[item.field] = text
    return found


def stated(record: Mapping[str, str], section: str, field: str) -> str | None:
    """What a record states for a value, an item's field or a whole list.

    Args:
        record: its texts by field, as in `Content`.
        section: its section.
        field: the field, or the list's key.

    Returns:
        The text as a design file writes it; None where it states nothing.
    """
    found = record.get(field)
    if found is None and name_of(section, field) in lists():
        items = items_in(record, field)
        return text_of(name_of(section, field), items.values()) if items else None
    return found


def same(section: str, field: str, old: str, new: str, names: dict[Key, Key]) -> bool:
    """Whether two texts of a value or a list mean the same, in whatever units.

    Args:
        section: the section of the record.
        field: the field, or the list's key.
        old: its text before.
        new: its text now.
        names: for each old record its new one.

    Returns:
        Of lists: whether they have as many items, and each the same fields with equal values.
    """
    if name_of(section, field) not in lists():
        return alike(section, field, old, new, names)
    before, after = (_read(section, field, text) for text in (old, new))
    return before.keys() == after.keys() and all(
        alike(section, key, text, after[key], names) for key, text in before.items()
    )


def _read(section: str, field: str, text: str) -> dict[str, str]:
    value = yaml_reader.read(f"value: {text}".encode())["value"]
    return dict(leaves_of(value, rows_of(name_of(section, field)), field))


def followed(
    key: Key,
    item: Item,
    before: Mapping[str, str],
    after: Mapping[str, str],
    names: dict[Key, Key],
    *,
    without: str = "",
) -> Item | None:
    """Find an item in the next revision.

    The new item must state everything that the old one did (except the field `without`), and be the
    only such item, or be in the same place among as many items.

    Args:
        key: the record, by its new id.
        item: the item in the old revision.
        before: the fields of the old record.
        after: the fields of the new record.
        names: for each old record its new one.
        without: a field that may differ.

    Returns:
        The item; None where it cannot be determined.
    """
    then, now = items_in(before, item.key), items_in(after, item.key)

    def like(own: Mapping[str, str], other: Mapping[str, str], names: dict[Key, Key]) -> bool:
        return all(
            field in other and alike(key[0], f"{item.key}[1].{field}", text, other[field], names)
            for field, text in own.items()
            if field != without
        )

    own = then.get(item.number)
    if own is None:
        return None
    twins = [number for number, other in then.items() if like(own, other, {})]
    found = [number for number, other in now.items() if like(own, other, names)]
    if len(found) != len(twins):
        return None
    return item._replace(number=found[twins.index(item.number)])
