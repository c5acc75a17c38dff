"""Bytes to plain data, in one pass over the YAML events, the place of every value kept.

Nothing is given a type here: a scalar stays the text that was typed, and the field that
asks for it decides what it means. So `no`, `12:30` and `3.10` cannot turn into something else.
"""

from __future__ import annotations

from typing import Any

import yaml
from yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
    StreamEndEvent,
)

LARGEST_FILE = 8 * 1024 * 1024
"""Bytes of one design file; the largest real design met so far is under 1 MB."""
MOST_VALUES = 500_000
"""Values of one design file, every alias counted at the size of what it repeats."""
DEEPEST = 20
"""Levels of nesting; the format itself needs six."""

try:
    from yaml.cyaml import CParser as _PARSER
except ImportError:  # PyYAML was built without libyaml
    _PARSER: Any = yaml.Loader  # type: ignore[no-redef]
_NULLS = frozenset(("", "~", "null", "Null", "NULL"))


class Place:
    """A line and a column, both counted from 0 as the YAML parser counts them."""

    __slots__ = ("column", "line")

    def __init__(self, line: int, column: int) -> None:
        self.line = line
        self.column = column


START = Place(0, 0)


class Problem(Exception):
    """Something in a file that a person must mend, and where it stands (counted from 1)."""

    def __init__(self, message: str, place: Any = START) -> None:
        super().__init__(message)
        self.message = message
        self.line: int = place.line + 1
        self.column: int = place.column + 1


class Mapping(dict[str, Any]):
    """A mapping as typed; `places[key]` holds where the key and its value stand."""

    __slots__ = ("place", "places")

    def __init__(self, place: Any) -> None:
        super().__init__()
        self.place = place
        self.places: dict[str, tuple[Any, Any]] = {}


class Sequence(list[Any]):
    """A list as typed; `places[number]` holds where an item stands."""

    __slots__ = ("place", "places")

    def __init__(self, place: Any) -> None:
        super().__init__()
        self.place = place
        self.places: list[Any] = []


def read(data: bytes, *, json: bool = False, first: str = "design: 1") -> Mapping:
    """The document in these bytes.

    data: a whole file, UTF-8, with or without a byte-order mark; json: hold it to JSON's
    own grammar first; first: how such a file starts, for the words of an error. Raises
    Problem, and nothing else, for any bytes.
    """
    text = _decoded(data)
    if json:
        text = _strict_json(text)
    try:
        root = _built(text)
    except yaml.YAMLError as error:
        raise _syntax_problem(error) from None
    if root is None:
        raise Problem(f"The file is empty; it should start with '{first}'.")
    if not isinstance(root, Mapping):
        raise Problem(
            f"The file should be a mapping of keys to values, starting with '{first}'; "
            f"it holds {'a list' if isinstance(root, Sequence) else 'a single value'}."
        )
    return root


def _decoded(data: bytes) -> str:
    if len(data) > LARGEST_FILE:
        raise Problem(
            f"The file has {len(data):,} bytes; a design file may have {LARGEST_FILE:,}. Split it."
        )
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise Problem("The file is saved as UTF-16; save it as UTF-8.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8", "replace")
        place = Place(before.count("\n"), len(before) - before.rfind("\n") - 1)
        raise Problem(
            f"The byte 0x{data[error.start]:02x} is not UTF-8; save the file as UTF-8.", place
        ) from None
    if "\ufeff" in text:
        raise Problem(
            "A byte-order mark stands inside the file; delete this invisible character.",
            _place_of(text, text.index("\ufeff")),
        )
    return text


def _place_of(text: str, offset: int) -> Place:
    return Place(text.count("\n", 0, offset), offset - text.rfind("\n", 0, offset) - 1)


def _strict_json(text: str) -> str:
    """The same text, after JSON's own parser has taken it, in a form that YAML reads alike."""
    import json
    import re

    def refuse(word: str) -> None:
        raise Problem(
            f"{word} is not a number that JSON knows; write the value, or leave the key out.",
            _place_of(text, max(text.find(word), 0)),
        )

    if not text.strip():
        raise Problem('The file is empty; it should start with {"design": 1}.')
    try:
        json.loads(text, parse_constant=refuse, parse_int=str, parse_float=str)
    except json.JSONDecodeError as error:
        raise Problem(
            f"This is not JSON: {error.msg}.", Place(error.lineno - 1, error.colno - 1)
        ) from None
    except RecursionError:
        raise Problem(f"The file is nested deeper than {DEEPEST} levels.") from None
    # The two halves of a character outside the basic plane are one escape in YAML.
    pair = re.compile(r"\\u([dD][89abAB][0-9a-fA-F]{2})\\u([dD][c-fC-F][0-9a-fA-F]{2})")
    if "\\u" in text:
        text = pair.sub(
            lambda m: (
                f"\\U{0x10000 + ((int(m[1], 16) - 0xD800) << 10) + int(m[2], 16) - 0xDC00:08x}"
            ),
            text,
        )
    # JSON indents with tabs where YAML does not; between tokens a tab is one column either way.
    return text.replace("\t", " ")


def _syntax_problem(error: yaml.YAMLError) -> Problem:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    said = getattr(error, "problem", None) or getattr(error, "reason", None) or str(error)
    place: Any = START
    if mark is not None:
        place = mark
    hint = ""
    if "mapping values are not allowed" in said:
        hint = "; a text with ': ' in it wants quotes, and keys of one level the same indent"
    elif "found character '\\t'" in said or "cannot start any token" in said:
        hint = "; indent with spaces, and quote a text that starts with a sign such as % or @"
    elif "did not find expected" in said:
        hint = "; look at the indent, quotes and brackets here and on the line above"
    return Problem(f"The YAML cannot be read: {said}{hint}.", place)


def _built(text: str) -> Any:
    """The root of the one document in the text, or None where there is none."""
    next_event = _PARSER(text).get_event
    root: Any = None
    holder: Any = None
    key: Any = None  # the key that waits for its value, where the holder is a mapping
    key_place: Any = None
    above: list[tuple[Any, Any, Any]] = []
    anchors: dict[str, tuple[Any, int]] = {}
    open_anchors: list[tuple[str | None, int]] = []
    count = 0
    documents = 0

    while True:
        event = next_event()
        kind = type(event)
        if kind is ScalarEvent:
            count += 1
            value: Any = event.value
            place = event.start_mark
            if event.tag is not None:
                raise _tag_problem(event)
            if value in _NULLS and not event.style:
                value = None
            if event.anchor is not None:
                anchors[event.anchor] = (value, 1)
        elif kind is MappingStartEvent or kind is SequenceStartEvent:
            count += 1
            if event.tag is not None:
                raise _tag_problem(event)
            place = event.start_mark
            if len(above) >= DEEPEST:
                raise Problem(f"The file is nested deeper than {DEEPEST} levels.", place)
            above.append((holder, key, key_place))
            open_anchors.append((event.anchor, count))
            if event.anchor is not None:
                anchors.pop(event.anchor, None)
            if type(holder) is Mapping and key is None:
                raise Problem("A key must be a plain word, not a list or a mapping.", place)
            holder = Mapping(place) if kind is MappingStartEvent else Sequence(place)
            key = None
            continue
        elif kind is MappingEndEvent or kind is SequenceEndEvent:
            value = holder
            place = value.place
            anchor, before = open_anchors.pop()
            if anchor is not None:
                anchors[anchor] = (value, count - before + 1)
            holder, key, key_place = above.pop()
        elif kind is AliasEvent:
            place = event.start_mark
            if event.anchor not in anchors:
                raise Problem(
                    f"'*{event.anchor}' repeats '&{event.anchor}', which is not complete before "
                    "this line; write the value itself.",
                    place,
                )
            value, size = anchors[event.anchor]
            count += size
        elif kind is DocumentStartEvent:
            documents += 1
            if documents > 1:
                raise Problem("A second document starts here; write one a file.", event.start_mark)
            continue
        elif kind is StreamEndEvent:
            return root
        else:
            continue

        if count > MOST_VALUES:
            raise Problem(
                f"With every alias written out the file holds more than {MOST_VALUES:,} values.",
                place,
            )
        if holder is None:
            root = value
        elif type(holder) is Mapping:
            if key is None:
                if type(value) is not str:
                    raise Problem("A key must be a plain word; this one is empty.", place)
                if value in holder:
                    raise Problem(
                        f"The key '{value}' stands twice here, first in line "
                        f"{holder.places[value][0].line + 1}; keep one.",
                        place,
                    )
                key, key_place = value, place
            else:
                holder[key] = value
                holder.places[key] = (key_place, place)
                key = None
        else:
            holder.append(value)
            holder.places.append(place)


def _tag_problem(event: Any) -> Problem:
    return Problem(
        f"The tag '{event.tag}' is not taken; write the plain value without it.", event.start_mark
    )
