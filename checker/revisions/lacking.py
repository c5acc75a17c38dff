"""What a design lacks and a form can ask for: values, items of lists, whole lists."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from checker.intake.fields import collections, fields
from checker.outcome.report import DesignReport
from checker.revisions.contents import Content, Key
from checker.revisions.items import DESIGN, item_of, lists, name_of

INSTEAD = {"headers.pump": ("headers.pump.with", "headers.pump.curve")}
"""For data that are not a field themselves: the values and lists that state them."""
WITH = {"pressure_tests": ("readings",)}
"""Lists that a section is useless without; they are asked for where the whole section is
missing.
"""


class Lacking(NamedTuple):
    """What a design lacks.

    fields: values by record; items: by list and record, for each item (by number) its fields;
    lists: by name, the records without one; whole: sections that are missing entirely, with the
    fields of each record; left: what no form can ask, by its name in the format.
    """

    fields: dict[Key, list[str]]
    items: dict[str, dict[Key, dict[int, list[str]]]]
    lists: dict[str, list[Key]]
    whole: dict[str, tuple[str, ...]]
    left: dict[str, None]

    def __bool__(self) -> bool:
        return any((self.fields, self.items, self.lists, self.whole))


def lacking(report: DesignReport, content: Content) -> Lacking:
    """What a design lacks and a form can ask for.

    Args:
        report: the design's report, whose questions say what is missing.
        content: the values of the design.

    Returns:
        What is missing, by where a form asks for it; false in a condition where there is nothing to
        ask.
    """
    found = Lacking({}, {}, {}, {}, {})
    by_length = sorted(content, key=lambda key: -len(key[1]))
    for one in report.questions:
        section = one.field
        if one.fields and section in collections():
            found.whole[section] = tuple(
                name for name in one.fields if _single(f"{section}.{name}")
            )
            continue
        names = [f"{section}.{name}" for name in one.fields] if one.fields else [section]
        for name in names:
            for key, field in _placed(name, by_length):
                if not _take(found, key, field):
                    found.left[name_of(key[0], field)] = None
    headers = [key for key in content if key[0] == "headers"]
    if len(headers) < 2:  # there is none whose pump could serve this one too
        for key in headers:
            _drop(found.fields, key, "pump.with")
    return found


def _take(found: Lacking, key: Key, field: str) -> bool:
    """Add what a question is about, if a form can ask it.

    Returns:
        Whether it can.
    """
    name = name_of(key[0], field)
    if name in INSTEAD:
        return all(_take(found, key, one.removeprefix(f"{key[0]}.")) for one in INSTEAD[name])
    item = item_of(field)
    if item is not None:
        name = name_of(key[0], item.key)
        own = found.items.setdefault(name, {}).setdefault(key, {}).setdefault(item.number, [])
        if not _single(f"{name}.{item.field}", listed=True):
            return False
        if item.field not in own:
            own.append(item.field)
    elif name in lists():
        own_lists = found.lists.setdefault(name, [])
        if key not in own_lists:
            own_lists.append(key)
    elif not _single(name):
        return False
    elif field not in found.fields.get(key, ()):
        found.fields.setdefault(key, []).append(field)
    return True


def _drop(fields: dict[Key, list[str]], key: Key, field: str) -> None:
    if field in fields.get(key, ()):
        fields[key].remove(field)
        if not fields[key]:
            del fields[key]


def _placed(path: str, keys: list[Key]) -> Iterator[tuple[Key, str]]:
    """The record and the field at a path in a design."""
    section = path.partition(".")[0]
    if section not in collections():
        yield (DESIGN, ""), path
        return
    for own, name in keys:
        before = f"{section}.{name}."
        if own == section and path.startswith(before):
            yield (section, name), path.removeprefix(before)
            return


def _single(name: str, *, listed: bool = False) -> bool:
    found = fields().get(name)
    return found is not None and bool(found.listed) == listed
