"""Bytes to plain data, in one pass over the YAML events, the place of every value kept.

Nothing is given a type here: a scalar stays the text that was typed, and the field that
asks for it decides what it means. So `no`, `12:30` and `3.10` cannot turn into something else.
"""

from __future__ import annotations

import codecs
from functools import lru_cache
from typing import Any, NamedTuple

from checker.reading.bounded import LARGEST_FILE

MOST_VALUES = 500_000
"""Values of one design file, every alias counted at the size of what it repeats."""
DEEPEST = 20
"""Levels of nesting, aliases written out; the format itself needs six."""
TOO_DEEP = "The file is nested deeper than {} levels; what is written here needs six at most."
LONGEST_SHOWN = 64
"""Characters of a word that an error repeats."""

_NULLS = frozenset(("", "~", "null", "Null", "NULL"))
_ODD_KEYS = _NULLS | {"<<"}


Place = int
"""A line and a column in one number, both from 0; a later place is a larger one."""

_COLUMN_BITS = 24
START: Place = 0


def place_at(line: int, column: int) -> Place:
    """The place in this line and column, both from 0."""
    return line << _COLUMN_BITS | column


def line_of(place: Any) -> Any:
    """The line of a place, or of an array of them, as people count: from 1."""
    return (place >> _COLUMN_BITS) + 1


def column_of(place: Any) -> Any:
    """The column of a place, or of an array of them, as people count: from 1."""
    return (place & ((1 << _COLUMN_BITS) - 1)) + 1


class Problem(Exception):
    """Something in a file that a person must mend, and where it stands (counted from 1).

    The message is one line; a sign in it that cannot be printed is shown as �.
    """

    def __init__(self, message: str, place: Place = START) -> None:
        if not message.isprintable():
            message = "".join(
                sign if sign.isprintable() else " " if sign.isspace() else "\ufffd"
                for sign in message
            )
        super().__init__(message)
        self.message = message
        self.line: int = line_of(place)
        self.column: int = column_of(place)


class Mapping(dict[str, Any]):
    """A mapping as typed; `places[key]` holds where the key and its value stand."""

    __slots__ = ("place", "places")

    def __init__(self, place: Place) -> None:
        self.place = place
        self.places: dict[str, tuple[Place, Place]] = {}


def shown(word: str) -> str:
    """A word from a file as an error shows it: cut where it is very long."""
    return word if len(word) <= LONGEST_SHOWN else word[:LONGEST_SHOWN] + "…"


class Sequence(list[Any]):
    """A list as typed; `places[number]` holds where an item stands."""

    __slots__ = ("place", "places")

    def __init__(self, place: Place) -> None:
        self.place = place
        self.places: list[Place] = []


def read(data: bytes, *, json: bool = False, first: str = "design: 1") -> Mapping:
    """The document in these bytes.

    data: a whole file, UTF-8, with or without a byte-order mark; json: hold it to JSON's
    own grammar first; first: how such a file starts, for the words of an error. Raises
    Problem, and nothing else, for any bytes.
    """
    text = _decoded(data)
    if json:
        text = _strict_json(text)
    libyaml = _libyaml()
    try:
        root = _Builder(text, libyaml).document()
    except libyaml.error as error:
        raise _syntax_problem(error, text) from None
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
            f"The file has more than the {LARGEST_FILE:,} bytes that a file may have. Split it."
        )
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or 0 in data[:4]:
        raise Problem("The file is saved as UTF-16 or UTF-32; save it as UTF-8.")
    data = data.removeprefix(codecs.BOM_UTF8)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8", "replace")
        place = place_at(before.count("\n"), len(before) - before.rfind("\n") - 1)
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
    return place_at(text.count("\n", 0, offset), offset - text.rfind("\n", 0, offset) - 1)


def _strict_json(text: str) -> str:
    """The same text, after JSON's own parser has taken it, in a form that YAML reads alike."""
    import json
    import re

    def refuse(word: str) -> None:
        tokens = re.finditer(r'"(?:[^"\\]|\\.)*"|-?Infinity|NaN', text)
        offset = next(token.start() for token in tokens if token[0] == word)
        raise Problem(
            f"{word} is not a value that JSON knows; write the value, or leave the key out.",
            _place_of(text, offset),
        )

    if not text.strip():
        raise Problem('The file is empty; it should start with {"design": 1}.')
    try:
        json.loads(text, parse_constant=refuse, parse_int=str, parse_float=str)
    except json.JSONDecodeError as error:
        raise _json_problem(error.msg, text, error.pos) from None
    except RecursionError:
        raise Problem(TOO_DEEP.format(DEEPEST)) from None
    # YAML takes some signs of JSON only as escapes, and some for the end of a line.
    text = re.sub("[\x7f-\x9f\u2028\u2029\ufffe\uffff]", lambda m: f"\\u{ord(m[0]):04x}", text)
    # The two halves of a character outside the basic plane are one escape in YAML.
    escape = re.compile(r"\\(?:u([dD][89abAB][0-9a-fA-F]{2})\\u([dD][c-fC-F][0-9a-fA-F]{2})|.)")

    def joined(match: re.Match[str]) -> str:
        if match[1] is None:
            return match[0]
        return (
            f"\\U{0x10000 + ((int(match[1], 16) - 0xD800) << 10) + int(match[2], 16) - 0xDC00:08x}"
        )

    if "\\u" in text:
        text = escape.sub(joined, text)
    # JSON indents with tabs where YAML does not; between tokens a tab is one column either way.
    return text.replace("\t", " ")


_JSON_WORDS = {
    "Expecting ',' delimiter": "a comma is missing here; or a value is not in double quotes, "
    'as "45 °C" is',
    "Expecting ':' delimiter": "a colon is missing here",
    "Expecting value": 'a value is missing here; a text wants double quotes, such as "45 °C"',
    "Expecting property name enclosed in double quotes": "a key in double quotes is wanted here; "
    "JSON has no other quotes and no comments",
    "Unterminated string starting at": "the quote that opens here is not closed",
    "Invalid control character at": "a line end or a tab stands inside double quotes",
    "Extra data": "something stands behind the end of the design",
}


def _json_problem(said: str, text: str, offset: int) -> Problem:
    before = text[: offset + 1].rstrip("}] \t\r\n")
    if before.endswith(",") and text[len(before) :].lstrip()[:1] in ("}", "]"):
        place = _place_of(text, len(before) - 1)
        return Problem("This is not JSON: the comma before a closing bracket must go.", place)
    return Problem(
        f"This is not JSON: {_JSON_WORDS.get(said, said)}.", _place_of(text, min(offset, len(text)))
    )


_SYNTAX_WORDS = {
    "mapping values are not allowed": "': ' cannot stand here; put a text with ': ' in it in "
    "quotes, and give the keys of one level the same indent",
    "found unexpected end of stream": "the quote that opens here is not closed",
    "did not find expected key": "a key is wanted here; look at the indent, quotes and brackets "
    "of this line and the line above",
    "did not find expected node content": "a value is wanted here; look at the quotes, commas and "
    "brackets of this line and the line above",
    "could not find expected ':'": "the key here or on the line above has no ': ' behind it",
    "unknown escape character": "a backslash in double quotes starts an escape; write two for "
    "the backslash itself",
    "maximum nesting depth": f"it is nested deeper than {DEEPEST} levels",
    "invalid Unicode character escape": "the escape here is half a character; write the "
    "character itself",
}


def _syntax_problem(error: Any, text: str) -> Problem:
    import re

    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    said = getattr(error, "problem", None) or getattr(error, "reason", None) or str(error)
    if mark is None:
        stray = re.search(
            "[^\t\n\r -~\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|\ufeff", text
        )
        if stray is None:
            return Problem(f"The file cannot be read: {said}.")
        return Problem(
            f"A sign that cannot be printed (U+{ord(stray[0]):04X}) stands here; delete it.",
            _place_of(text, stray.start()),
        )
    words = next((own for its, own in _SYNTAX_WORDS.items() if its in said), said)
    start = getattr(error, "context_mark", None) or mark
    if "end of stream" in said:
        mark = start
    elif "expected ','" in said and not text[mark.index :].strip():
        mark, words = start, "the bracket that opens here is not closed"
    elif "expected ','" in said:
        words = (
            "a comma is missing here, or the bracket that closes "
            f"'{text[start.index]}' in line {start.line + 1}; a text with "
            "a comma, ': ' or a bracket in it wants quotes"
        )
    elif "cannot start any token" in said:
        sign = text[mark.index : mark.index + 1]
        if sign == "\t":
            words = "a tab stands here; indent with spaces"
        else:
            words = f"no value starts with '{sign}'; put a text that does in quotes"
    words = f"The file cannot be read: {words}."
    lines = re.split("\r\n|[\n\r\x85\u2028\u2029]", text)
    if mark.line >= len(lines):  # libyaml may point past the end
        return Problem(words, place_at(len(lines) - 1, len(lines[-1])))
    return Problem(words, _place(mark))


class _Libyaml(NamedTuple):
    """What is used of PyYAML, which is imported when the first file is read."""

    parser: Any
    error: Any
    scalar: Any
    alias: Any
    mapping_start: Any
    mapping_end: Any
    sequence_end: Any
    document_start: Any
    stream_end: Any
    compound_or_alias: tuple[Any, ...]


@lru_cache(maxsize=1)
def _libyaml() -> _Libyaml:
    import yaml
    from yaml import events

    parser: Any = yaml.Loader
    if yaml.__with_libyaml__:
        from yaml.cyaml import CParser  # type: ignore[attr-defined]  # its stub leaves it out

        parser = CParser
    return _Libyaml(
        parser,
        yaml.YAMLError,
        events.ScalarEvent,
        events.AliasEvent,
        events.MappingStartEvent,
        events.MappingEndEvent,
        events.SequenceEndEvent,
        events.DocumentStartEvent,
        events.StreamEndEvent,
        (events.AliasEvent, events.MappingStartEvent, events.SequenceStartEvent),
    )


class _Builder:
    """The one document of a text, built from libyaml's events as they come."""

    def __init__(self, text: str, libyaml: _Libyaml) -> None:
        self.libyaml = libyaml
        self.next_event = libyaml.parser(text).get_event
        # Without these signs there is no tag, anchor or alias to look for, and then no file holds
        # more values than it has characters.
        self.careful = any(sign in text for sign in "!&*") or len(text) >= MOST_VALUES
        self.count = 0
        self.deepest = 0
        """Levels down to the deepest value of the compound that is being read."""
        self.anchors: dict[str, tuple[Any, int, int]] = {}
        """What each stands for, its values, its levels."""

    def document(self) -> Any:
        """The root, or None where there is none."""
        root: Any = None
        documents = 0
        while True:
            event = self.next_event()
            kind = type(event)
            if kind is self.libyaml.document_start:
                documents += 1
                if documents > 1:
                    words = "A second document starts here; write one a file."
                    raise Problem(words, _place(event.start_mark))
            elif kind is self.libyaml.scalar:
                root = event.value
                self.note(event, root, _place(event.start_mark))
                if _is_null(event):
                    root = None
            elif kind is self.libyaml.stream_end:
                return root
            elif kind in self.libyaml.compound_or_alias:
                root = self.compound(event, _place(event.start_mark), 0)

    def mapping(self, place: Place, depth: int) -> Mapping:
        """A mapping, whose start is read; depth: the levels up to and with it.

        Nearly all values of a design come by here, so `_place` and `_is_null` are written out.
        """
        next_event, careful = self.next_event, self.careful
        scalar, end = self.libyaml.scalar, self.libyaml.mapping_end
        made = Mapping(place)
        places = made.places
        while True:
            event = next_event()
            mark = event.start_mark
            key_place = mark.line << _COLUMN_BITS | mark.column
            if type(event) is scalar:
                key = event.value
                if careful:
                    self.note(event, key, key_place)
                if key in _ODD_KEYS or key in made:
                    self.hold_key(None if _is_null(event) else key, made, key_place)
            elif type(event) is end:
                return made
            else:
                key = self.odd_key(event, made, key_place, depth)
            event = next_event()
            mark = event.start_mark
            place = mark.line << _COLUMN_BITS | mark.column
            if type(event) is scalar:
                value = event.value
                if value in _NULLS and not event.style:
                    value = None
                if careful:
                    self.note(event, value, place)
            else:
                value = self.compound(event, place, depth)
            made[key] = value
            places[key] = (key_place, place)

    def sequence(self, place: Place, depth: int) -> Sequence:
        """A list, whose start is read; depth: the levels up to and with it."""
        made = Sequence(place)
        while True:
            event = self.next_event()
            place = _place(event.start_mark)
            if type(event) is self.libyaml.scalar:
                value = None if _is_null(event) else event.value
                if self.careful:
                    self.note(event, value, place)
            elif type(event) is self.libyaml.sequence_end:
                return made
            else:
                value = self.compound(event, place, depth)
            made.append(value)
            made.places.append(place)

    def compound(self, event: Any, place: Place, depth: int) -> Any:
        """A mapping, a list, or what an alias repeats; depth: the levels around it."""
        if type(event) is self.libyaml.alias:
            return self.repeated(event, place, depth)
        if event.tag is not None:
            raise _tag_problem(event)
        self.hold_depth(depth, place)
        before, around = self.count, self.deepest
        self.deepest = depth + 1
        if self.careful:
            self.add(1, place)
            self.anchors.pop(event.anchor, None)
        of_mapping = type(event) is self.libyaml.mapping_start
        made = (self.mapping if of_mapping else self.sequence)(place, depth + 1)
        if event.anchor is not None:
            self.anchors[event.anchor] = (made, self.count - before, self.deepest - depth)
        self.deepest = max(around, self.deepest)
        return made

    def repeated(self, event: Any, place: Place, depth: int) -> Any:
        """What an alias stands for."""
        if event.anchor not in self.anchors:
            raise Problem(
                f"'*{shown(event.anchor)}' repeats a '&{shown(event.anchor)}' that is not "
                "complete before it; write the value itself.",
                place,
            )
        value, size, levels = self.anchors[event.anchor]
        self.hold_depth(depth + levels - 1, place)
        self.deepest = max(self.deepest, depth + levels)
        self.add(size, place)
        return value

    def note(self, event: Any, value: Any, place: Place) -> None:
        """Take notice of what a scalar brings besides its value."""
        if event.tag is not None:
            raise _tag_problem(event)
        self.add(1, place)
        if event.anchor is not None:
            self.anchors[event.anchor] = (None if _is_null(event) else value, 1, 0)

    def add(self, values: int, place: Place) -> None:
        """Count values."""
        self.count += values
        if self.count > MOST_VALUES:
            words = f"the file holds more than the {MOST_VALUES:,} values that it may"
            if self.anchors:
                words = f"With every alias (*) written out {words}; repeat less by aliases."
            else:
                words = f"{words.capitalize()}; split it, a design a file."
            raise Problem(words, place)

    def odd_key(self, event: Any, made: Mapping, place: Place, depth: int) -> str:
        """A key that is no scalar: an alias of a word can be one."""
        if type(event) is not self.libyaml.alias:
            if event.tag is not None:
                raise _tag_problem(event)
            self.hold_depth(depth, place)
            raise Problem("A key must be a plain word, not a list or a mapping.", place)
        key: str = self.repeated(event, place, depth)
        self.hold_key(key, made, place)
        return key

    @staticmethod
    def hold_depth(depth: int, place: Place) -> None:
        """Refuse one more level than there may be."""
        if depth >= DEEPEST:
            raise Problem(TOO_DEEP.format(DEEPEST), place)

    def hold_key(self, key: Any, made: Mapping, place: Place) -> None:
        """Refuse what cannot be a key of this mapping."""
        if type(key) is not str:
            words = "A key must be a word; an empty one, '~' or 'null' stands for no value."
            raise Problem(words, place)
        if key in made:
            raise Problem(
                f"The key '{shown(key)}' stands twice here, first in line "
                f"{line_of(made.places[key][0])}; keep one.",
                place,
            )
        if key == "<<":
            raise Problem("Merge keys (<<) are not part of YAML 1.2; repeat the keys.", place)


def _is_null(event: Any) -> bool:
    return event.value in _NULLS and not event.style


def _place(mark: Any) -> Place:
    return place_at(mark.line, mark.column)


def _tag_problem(event: Any) -> Problem:
    typed = shown(event.tag.replace("tag:yaml.org,2002:", "!!"))
    return Problem(
        f"The tag '{typed}' is not taken; write the plain value without it.",
        _place(event.start_mark),
    )
