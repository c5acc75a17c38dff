"""Changes to a design: a path in it and its new text.

A path is written as in messages: `plant.supply`, `loops.L1.length`, `loops.L2.parts[1].area`. A new
record is written as a flow mapping (`loops.L3 b={header: H1}`), and `null` removes a key.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from msgspec import Struct

from checker.design.leaves import Leaf
from checker.design.schema import (
    Collection,
    Named,
    NamedRows,
    PlanPart,
    Record,
    Rows,
    Texts,
    design_format,
)
from checker.reading import yaml_reader
from checker.reading.documents import Mapping, Place, Problem
from checker.reading.documents import Sequence as Typed
from checker.reading.yaml_text import Edit, NotEdited, edited, edits
from checker.words import choices

TAKEN_AWAY = "null"
"""The text that removes a key."""

Step = str | int
"""A key of a mapping, or a position in a list, from zero."""
Steps = tuple[Step, ...]
Member = Leaf | Record | Collection | Rows | NamedRows | Texts | PlanPart | Named | None


class BadChange(Exception):
    """A change cannot be made in this design; the message is for the user."""

    def __init__(self, words: str) -> None:
        super().__init__(words if words.endswith((".", "?")) else f"{words}.")


class Change(Struct, frozen=True):
    """A path in a design and its new text.

    Attributes:
        path: as in messages, `loops.L1.length`.
        text: as it would be typed there; `null` removes a key.
    """

    path: str
    text: str

    def __str__(self) -> str:
        return f"{self.path}={self.text}"


class Target(NamedTuple):
    """Where a path leads.

    Attributes:
        steps: from the top of the design.
        member: what the format has there; None inside a plan or named values.
    """

    steps: Steps
    member: Member


def read_change(words: str, document: Mapping) -> tuple[Change, Target]:
    """Read a change as it is written, `path=text`.

    An id may contain a full stop or an equals sign, so the meaning of a path depends on the design.

    Args:
        words: the change.
        document: the design that it is to be made in, with earlier changes already made.

    Returns:
        The change, and where its path leads in this design.

    Raises:
        BadChange: it is not written like that, has no text, or its path leads nowhere.
    """
    refusal = BadChange(
        f"'{words}' is not a change; write a path and its new text, 'plant.supply=40 °C'"
    )
    signs = [sign.start() for sign in re.finditer("=", words)]
    # The first sign behind a path that leads somewhere; an id may have one too.
    for number, sign in enumerate(signs):
        change = Change(words[:sign].strip(), words[sign + 1 :].strip())
        try:
            return change, target_of(change, document)
        except BadChange as bad:
            refusal = bad if number == 0 else refusal
    raise refusal


def target_of(change: Change, document: Mapping) -> Target:
    """Find where a change's path leads in a design.

    Args:
        change: its text says whether a new record is meant.
        document: the design as it was typed.

    Returns:
        The steps from the top, and the type that the format has at their end.

    Raises:
        BadChange: the path leads nowhere, or the change has no text.
    """
    if not change.text:
        raise BadChange(f"{change.path}: nothing is written behind '='; 'null' takes a key away")
    steps, member = _found(change.path, design_format().top, document, "", change.text)
    return Target(steps, member)


def _found(rest: str, member: Member, value: Any, where: str, text: str) -> tuple[Steps, Member]:
    """The remaining steps of a path from a part of the design, and the type at its end.

    Args:
        rest: the path from here on.
        member: what the format has here.
        value: what the design has here, as typed; None where it has nothing.
        where: the path up to here, with a full stop, for messages.
        text: of the change, which says whether a new record or item is meant.

    Raises:
        BadChange: the path leads nowhere.
    """
    if not rest:
        return (), member
    if isinstance(member, Leaf) and member.listed is not None:
        member = member.listed
    if isinstance(member, Rows):
        return _item(rest, member, value, where, text)
    if isinstance(member, Collection):
        return _id(rest, member, value, where, text)
    rest = rest.removeprefix(".")
    if isinstance(member, Record):
        key = re.split(r"[.\[]", rest, maxsplit=1)[0]
        if key not in member.members:
            near = choices(key, member.members)
            raise BadChange(f"{where}{rest}: there is no key '{key}' here; {near}")
        under = value.get(key) if isinstance(value, Mapping) else None
        steps, end = _found(rest[len(key) :], member.members[key], under, f"{where}{key}.", text)
        return (key, *steps), end
    if isinstance(member, NamedRows):
        # A name may contain a full stop or a bracket, so the longest that the design has counts.
        known = [*value] if isinstance(value, Mapping) else []
        names = [one for one in known if rest == one or rest.startswith((f"{one}[", f"{one}."))]
        key = max(names, key=len, default="" if "[" in rest else rest)
        if not key or not (key in names or text.startswith("[")):
            raise BadChange(f"{where}{rest}: {choices(rest.partition('[')[0], known)}")
        under = value[key] if key in names else None
        steps, end = _found(rest[len(key) :], member.rows, under, f"{where}{key}.", text)
        return (key, *steps), end
    if isinstance(member, PlanPart | Named) or member is None:
        # The format says nothing about keys from here on.
        key, _, more = rest.partition(".")
        if isinstance(value, Mapping):
            names = [name for name in value if rest == name or rest.startswith(f"{name}.")]
            key = max(names, key=len, default=rest)
            more = rest[len(key) :]
        under = value.get(key) if isinstance(value, Mapping) else None
        steps, _ = _found(more, None, under, f"{where}{key}.", text)
        return (key, *steps), None
    raise BadChange(
        f"{where}{rest}: there is nothing under '{where.rstrip('.')}', which is a value"
    )


def _id(rest: str, of: Collection, value: Any, where: str, text: str) -> tuple[Steps, Member]:
    """The steps from a section on, by the longest id that the path goes on with."""
    rest = rest.removeprefix(".")
    known = [*value] if isinstance(value, Mapping) else []
    # The longest first, because an id may begin like another: 'B1' and 'B1.2'.
    for name in sorted(known, key=len, reverse=True):
        if rest == name or rest.startswith(f"{name}."):
            try:
                steps, end = _found(
                    rest[len(name) :], of.record, value[name], f"{where}{name}.", text
                )
            except BadChange:
                if not text.startswith("{"):
                    raise
                break  # a new record whose id begins like this one
            return (name, *steps), end
    if text.startswith("{"):
        return (rest,), of.record
    near = choices(rest.split(".")[0], known)
    raise BadChange(f"{where}{rest}: there is no '{rest.split('.')[0]}' in {of.shape.name}; {near}")


def _item(rest: str, of: Rows, value: Any, where: str, text: str) -> tuple[Steps, Member]:
    """The steps from a list on, by the number in brackets."""
    match = re.match(r"\[(\d{1,6})\]", rest)
    where = where.rstrip(".")
    if match is None:
        raise BadChange(f"{where}{rest}: this is a list; write '{where}[1]' for its first item")
    count = len(value) if isinstance(value, Typed) else 0
    number = int(match[1])
    if not 1 <= number <= count + (text.startswith(("{", "["))):
        raise BadChange(f"{where}{rest}: the list has {count} item{'s' * (count != 1)}")
    under = value[number - 1] if number <= count else None
    where = f"{where}{match[0]}."
    more = rest[match.end() :]
    if of.tuple_of and more:
        names = {f"[{nth}]": nth - 1 for nth in range(1, len(of.tuple_of) + 1)}
        names |= {f".{name}": nth for nth, name in enumerate(of.tuple_of)}
        if more not in names:
            raise BadChange(f"{where}{more}: {choices(more, names)}")
        return (number - 1, names[more]), of.record.members[of.tuple_of[names[more]]]
    steps, end = _found(more, of.record, under, where, text)
    return (number - 1, *steps), end


def changed(document: Mapping, changes: Sequence[str]) -> Mapping:
    """Make changes in a design, one after the other.

    New values have the place of what is around them.

    Args:
        document: as it was typed; not modified.
        changes: each as `read_change` takes it.

    Returns:
        The changed design, which shares with the given one what did not change.

    Raises:
        BadChange: a change cannot be made in the design as it then is.
    """
    return _made(document, changes)[0]


def _made(document: Mapping, changes: Sequence[str]) -> tuple[Mapping, list[tuple[Steps, Any]]]:
    """The changed design, and for each change where it is made and its value."""
    found = []
    for words in changes:
        change, where = read_change(words, document)
        value = value_of(change, document.place)
        document = put(document, where.steps, value, document.place)
        found.append((where.steps, value))
    return document, found


def value_of(change: Change, place: Place) -> Any:
    """Read the new value of a change.

    Args:
        change: its text is a value, a flow mapping, a flow list, or `null`.
        place: what every part of the value gets as its place in the file.

    Returns:
        A text, a mapping, a list, or None to remove the key. Whether the format takes it is only
        seen when the changed design is read.

    Raises:
        BadChange: the text begins like a mapping or list and is none.
    """
    text = change.text
    if text == TAKEN_AWAY:
        return None
    if not text.startswith(("{", "[")):
        return text
    try:
        made = yaml_reader.read(f"value: {text}".encode())["value"]
    except Problem as problem:
        raise BadChange(f"{change.path}: {problem.message}") from None
    return _placed(made, place)


def _placed(value: Any, place: Place) -> Any:
    """The value with one place for all of it, because its place in the file is not known."""
    if isinstance(value, Mapping):
        made = Mapping(place)
        for key, own in value.items():
            made[key] = _placed(own, place)
            made.places[key] = (place, place)
        return made
    if isinstance(value, Typed):
        items = Typed(place)
        for own in value:
            items.append(_placed(own, place))
            items.places.append(place)
        return items
    return value


def put(part: Any, steps: Sequence[Step], value: Any, place: Place = 0) -> Any:
    """Set one value in a copy of a part of a design.

    Only what is on the way to the value is copied; the rest is shared.

    Args:
        part: a mapping or a list as typed; anything else is replaced by what the steps need.
        steps: keys, and positions in lists from zero, of which one past the end adds an item; none
            replaces the part itself.
        value: as `value_of` gives it; None removes the key or item.
        place: the place in the file of what the part lacks on the way.

    Returns:
        The copy.
    """
    if not steps:
        return value
    first, rest = steps[0], steps[1:]
    if isinstance(first, int):
        items = _copied(part) if isinstance(part, Typed) else Typed(place)
        if first == len(items):
            items.append(None)
            items.places.append(items.place)
        items[first] = put(items[first], rest, value, items.places[first])
        if items[first] is None:
            del items[first], items.places[first]
        return items
    made = _copied(part) if isinstance(part, Mapping) else Mapping(place)
    if first in made:
        own = made[first]
        at = made.places[first]
    else:
        own, at = None, (made.place, made.place)
    new = put(own, rest, value, at[1])
    if new is None:
        made.pop(first, None)
        made.places.pop(first, None)
    else:
        made[first] = _placed(new, at[1]) if not rest else new
        made.places[first] = at
    return made


def _copied(part: Any) -> Any:
    """A mapping or list of its own, with the same members."""
    made: Any = Mapping(part.place) if isinstance(part, Mapping) else Typed(part.place)
    if isinstance(part, Mapping):
        made.update(part)
        made.places = dict(part.places)
    else:
        made.extend(part)
        made.places = [*part.places]
    return made


def stated(document: Mapping, steps: Sequence[Step]) -> Any:
    """Look up what a design states.

    Args:
        document: as it was typed.
        steps: keys, and positions in lists from zero.

    Returns:
        The value as typed; None where the design does not state it.
    """
    value: Any = document
    for step in steps:
        if isinstance(step, int):
            value = value[step] if isinstance(value, Typed) and step < len(value) else None
        else:
            value = value.get(step) if isinstance(value, Mapping) else None
    return value


def texts(value: Any) -> Iterator[str]:
    """Go through all texts of a part of a design.

    Args:
        value: a text, or a mapping or list as typed; None has none.

    Returns:
        The texts in the order of the file, without keys.
    """
    if isinstance(value, Mapping):
        for own in value.values():
            yield from texts(own)
    elif isinstance(value, Typed):
        for own in value:
            yield from texts(own)
    elif value is not None:
        yield value


@lru_cache(maxsize=2)
def _read(data: bytes, is_json: bool) -> Mapping:
    """The design before it is changed, cached because it is often changed in several ways in
    turn.
    """
    return yaml_reader.read(data, json=is_json)


def replacements(data: bytes, changes: Sequence[str], *, is_json: bool = False) -> list[Edit]:
    """Find the replacements in a file's text that make some changes.

    Args:
        data: the file's bytes.
        changes: each as `read_change` takes it, made one after the other.
        is_json: whether the file is JSON rather than YAML.

    Returns:
        Which characters are replaced, and by what.

    Raises:
        BadChange: a change cannot be made in this design, or not in the way its file is written.
        Problem: the file is no YAML or JSON.
    """
    _, found = _made(_read(data, is_json), changes)
    try:
        return edits(data, found, is_json=is_json)
    except NotEdited as error:
        raise BadChange(f"the changes cannot be written into this file: {error}") from None


def written(data: bytes, changes: Sequence[str], *, is_json: bool = False) -> bytes:
    """Make changes in a file's text, and leave every other character as it was.

    The text is read again, so that what comes out means exactly the changed design.

    Args:
        data: the file's bytes.
        changes: each as `read_change` takes it, made one after the other.
        is_json: whether the file is JSON rather than YAML.

    Returns:
        The bytes of the changed file.

    Raises:
        BadChange: a change cannot be made in this design, or its text cannot express it.
        Problem: the file is no YAML or JSON.
    """
    wanted, found = _made(_read(data, is_json), changes)
    try:
        made = edited(data, found, is_json=is_json)
        if yaml_reader.read(made, json=is_json) == wanted:
            return made
    except (NotEdited, Problem) as error:
        raise BadChange(f"the changes cannot be written into this file: {error}") from None
    raise BadChange(
        "the changes cannot be written into this file, because a value in it is written by an "
        "alias or in an unusual way; make them by hand"
    )
