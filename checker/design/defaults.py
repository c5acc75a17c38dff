"""`defaults:` of a design: values for every loop, room or floor that states no others.

They are put into the records before anything else reads the design, each with its own place, so
that a value means the same wherever it was written.
"""

from __future__ import annotations

from collections.abc import Iterator

from checker.design.leaves import Leaf
from checker.design.schema import Collection, Defaults, Record, Rows, design_format
from checker.reading.documents import Mapping, Place, Problem, Sequence, shown
from checker.words import choices

KEY = "defaults"
OF_A_PART = frozenset(("room", "floor", "zone", "spacing", "area"))
"""The fields that are stated in the parts of a loop, where it has parts."""


def spread(document: Mapping) -> tuple[Mapping, list[Problem], frozenset[Place]]:
    """Put the defaults of a design into its records.

    A part with keys of its own, such as a covering, is taken as a whole or not at all: half of one
    covering combined with half of another would be neither.

    Args:
        document: the design as it was typed; not modified.

    Returns:
        The design without `defaults`, what is wrong with these, and the places of all that was
        taken from them.
    """
    given = document.get(KEY)
    if KEY not in document:
        return document, [], frozenset()
    made = _copy(document)
    del made[KEY], made.places[KEY]
    place = document.places[KEY][1]
    wanted = design_format().top.members[KEY]
    assert isinstance(wanted, Defaults)
    if type(given) is not Mapping:
        words = f"{KEY}: sections with their values are expected here, such as "
        return made, [Problem(words + "{loops: {zone: occupied}}.", place)], frozenset()
    problems: list[Problem] = []
    places: set[Place] = set()
    for section, values in given.items():
        at = given.places[section]
        record = wanted.members.get(section)
        if not isinstance(record, Record):
            near = choices(shown(section), wanted.members)
            words = f"{KEY}: '{shown(section)}' has no defaults; {near}"
            problems.append(Problem(_ended(words), at[0]))
        elif type(values) is not Mapping:
            words = f"{KEY}.{section}: keys with their values are expected here"
            problems.append(Problem(_ended(words), at[1]))
        else:
            usable, wrong = _usable(section, values, record)
            problems += wrong
            places.update(_places(usable))
            _fill(made, section, usable)
    return made, problems, frozenset(places)


def _usable(section: str, values: Mapping, record: Record) -> tuple[Mapping, list[Problem]]:
    """The defaults of a section that can be used, and what is wrong with the others."""
    usable = Mapping(values.place)
    problems = []
    for key, value in values.items():
        here = values.places[key]
        where = f"{KEY}.{section}.{shown(key)}"
        member = record.members.get(key)
        words = ""
        if member is None:
            near = choices(shown(key), record.members)
            words = f"{KEY}.{section}: the key '{shown(key)}' is not known here; {near}"
            problems.append(Problem(_ended(words), here[0]))
            continue
        if isinstance(member, Rows | Collection) or type(value) is Sequence:
            words = "a list is each record's own; it cannot be a default"
        elif isinstance(member, Leaf):
            words = _refused(member, value)
        elif type(value) is not Mapping:
            words = "keys with their values are expected here"
        if words:
            problems.append(Problem(_ended(f"{where}: {words}"), here[1]))
            continue
        usable[key] = value
        usable.places[key] = here
    return usable, problems


def _refused(leaf: Leaf, value: object) -> str:
    """What is wrong with a default value; empty where nothing is."""
    if type(value) is not str:
        return "there is no value; write one, or leave the key out"
    if value in leaf.memo or leaf.kind == "reference" or (leaf.drawn and value == "drawn"):
        return ""
    try:
        leaf.convert(value)
    except ValueError as error:
        return str(error)
    return ""


def _fill(document: Mapping, section: str, defaults: Mapping) -> None:
    """Put the defaults of a section into each of its records."""
    records = document.get(section)
    if type(records) is not Mapping:
        return
    filled = _copy(records)
    document[section] = filled
    for name, record in records.items():
        if type(record) is Mapping:
            filled[name] = _filled(section, record, defaults)


def _filled(section: str, record: Mapping, defaults: Mapping) -> Mapping:
    """A record with defaults for what it does not state; those of parts go into the parts."""
    made = _copy(record)
    parts = record.get("parts") if section == "loops" else None
    layered = section == "floors" and (
        "layers" in record or _text(record, defaults, "construction") == "layered"
    )
    for key, value in defaults.items():
        if key in record or (layered and key == "screed"):
            continue
        if type(parts) is Sequence and key in OF_A_PART:
            continue
        made[key] = value
        made.places[key] = defaults.places[key]
    if type(parts) is Sequence:
        own = Mapping(defaults.place)
        for key in OF_A_PART & defaults.keys():
            own[key], own.places[key] = defaults[key], defaults.places[key]
        made["parts"] = filled = Sequence(parts.place)
        filled.places = parts.places
        filled.extend(_filled("parts", one, own) if type(one) is Mapping else one for one in parts)
    return made


def _places(mapping: Mapping) -> Iterator[Place]:
    for key, value in mapping.items():
        yield from mapping.places[key]
        if type(value) is Mapping:
            yield from _places(value)


def _text(record: Mapping, defaults: Mapping, key: str) -> object:
    return record.get(key, defaults.get(key))


def _copy(mapping: Mapping) -> Mapping:
    made = Mapping(mapping.place)
    made.update(mapping)
    made.places.update(mapping.places)
    return made


def _ended(words: str) -> str:
    return words if words.endswith((".", "?")) else words + "."


def once(problems: list[Problem], places: frozenset[Place]) -> Iterator[Problem]:
    """Report what is wrong with a default once, however many records it was put into.

    Args:
        problems: all problems of the design; the message of one that is kept for a default is
            changed to name `defaults` instead of a record.
        places: of the defaults, from `spread`.

    Returns:
        The problems that are left, in their order.
    """
    from checker.reading.documents import column_of, line_of

    own = {(line_of(place), column_of(place)) for place in places}
    seen = set()
    for one in problems:
        at = (one.line, one.column)
        if at in own:
            key = (*at, one.message.partition(": ")[2])
            if key in seen:
                continue
            seen.add(key)
            one.message = f"{KEY}: {key[-1]}"
        yield one
