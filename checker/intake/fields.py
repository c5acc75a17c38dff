"""The fields of the design format by dotted names without ids, such as
`rooms.covering.resistance`.
"""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

from checker.design.leaves import Leaf
from checker.design.schema import (
    Collection,
    Defaults,
    NamedRows,
    Record,
    Rows,
    Texts,
    design_format,
)


class Field(NamedTuple):
    """One value that a design can hold.

    section: its top-level key; keys: the keys below the section, or below a record's id where the
    section is `by_id`; listed: how many of these keys lead to a list (0: no list; each row then
    adds one item to it); paired: the names of an item's elements where an item is itself a list. Of
    lists with names (`headers.pump.curves`), the list's name is one of the values of each item
    (`setting`).
    """

    name: str
    section: str
    keys: tuple[str, ...]
    leaf: Leaf
    by_id: bool
    listed: int = 0
    paired: tuple[str, ...] = ()


@cache
def fields() -> dict[str, Field]:
    """Every field of the format, by name, in the format's order."""
    found: dict[str, Field] = {}

    def take(record: Record, section: str, keys: tuple[str, ...], **rest: object) -> None:
        for key, member in record.members.items():
            here = (*keys, key)
            if isinstance(member, Record):
                take(member, section, here, **rest)
            elif isinstance(member, Rows):
                take(member.record, section, here, **rest, listed=len(here), paired=member.tuple_of)
            elif isinstance(member, NamedRows):
                own = (*here, member.name.name)
                name = ".".join((section, *own))
                found[name] = Field(name, section, own, member.name, listed=len(here), **rest)  # type: ignore[arg-type]
                paired = (member.name.name, *member.rows.tuple_of)
                take(member.rows.record, section, here, **rest, listed=len(here), paired=paired)
            elif isinstance(member, Leaf):
                name = ".".join((section, *here))
                found[name] = Field(name, section, here, member, **rest)  # type: ignore[arg-type]
                if member.listed is not None:
                    take(member.listed.record, section, here, **rest, listed=len(here))

    for section, member in design_format().top.members.items():
        if isinstance(member, Collection):
            take(member.record, section, (), by_id=True)
        elif isinstance(member, Record) and not isinstance(member, Defaults):
            take(member, section, (), by_id=False)
        elif isinstance(member, Texts):
            found[section] = Field(section, section, (), Leaf(section, "words"), by_id=False)
    return found


@cache
def collections() -> dict[str, str]:
    """The sections whose records have ids, each with the section whose ids it uses."""
    return {
        section: member.keys_refer_to
        for section, member in design_format().top.members.items()
        if isinstance(member, Collection)
    }


@cache
def references(section: str) -> tuple[Field, ...]:
    """The fields of a section's records that hold the id of another record.

    Args:
        section: a key at the top of a design, such as `loops`.

    Returns:
        Those that are a value of the record itself, not of an item in a list of it.
    """
    return tuple(
        field
        for field in fields().values()
        if field.section == section and field.leaf.kind == "reference" and not field.listed
    )


def value_of(leaf: Leaf, text: str) -> float:
    """A field's text as a number in SI.

    Args:
        leaf: the field's kind, unit and bounds.
        text: the value as a design writes it, with its unit.

    Returns:
        The number; 0 for references and words in a list, which have none.

    Raises:
        ValueError: the text does not fit the field; the message is for the user.
    """
    if leaf.kind in ("reference", "words"):
        return 0.0
    known = leaf.memo.get(text)
    return leaf.convert(text) if known is None else known


def stated_at(holder: Any, keys: tuple[str, ...]) -> Any:
    """The value under these keys of a tree that was read from sheets; None where there is none."""
    for key in keys:
        holder = holder.get(key) if isinstance(holder, dict) else None
    return holder
