"""Reads YAML bytes into plain data, in one pass over the events, with the place of every value.

Nothing gets a type here: a scalar remains the text that was typed, and the field that it belongs to
decides what it means. So `no`, `12:30` and `3.10` cannot turn into something else.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any, NamedTuple

from checker.reading.bounded import LARGEST_FILE
from checker.reading.documents import (
    COLUMN_BITS,
    DEEPEST,
    TOO_DEEP,
    Mapping,
    Place,
    Problem,
    Sequence,
    line_of,
    place_at,
    place_of,
    place_of_mark,
    shown,
)

MOST_VALUES = 500_000
"""Most values of one design file, every alias counted at the size of what it repeats."""

_NULLS = frozenset(("", "~", "null", "Null", "NULL"))

_ODD_KEYS = _NULLS | {"<<"}


def read(data: bytes, *, json: bool = False, first: str = "design: 1") -> Mapping:
    """The document in these bytes.

    Args:
        data: a whole file, UTF-8, with or without a byte-order mark.
        json: whether to check it by JSON's own grammar first.
        first: how such a file begins, for the words of an error.

    Returns:
        Every value as the text that was typed, None for one left empty, each with its place.

    Raises:
        Problem: and nothing else, for any bytes.
    """
    text = _decoded(data)
    if json:
        from checker.reading.syntax import strict_json

        text = strict_json(text)
    libyaml = _libyaml()
    try:
        root = _Builder(text, libyaml).document()
    except libyaml.error as error:
        from checker.reading.syntax import syntax_problem

        raise syntax_problem(error, text) from None
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
            "There is a byte-order mark inside the file; delete this invisible character.",
            place_of(text, text.index("\ufeff")),
        )
    return text


class _Libyaml(NamedTuple):
    """The parts of PyYAML that are used, imported when the first file is read."""

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


class _Later:
    """A pattern that is compiled when it is first used."""

    def __init__(self, *words: Any) -> None:
        self._words = words

    def __getattr__(self, name: str) -> Any:
        import re

        return getattr(re.compile(*self._words), name)


@contextmanager
def _patterns_later() -> Iterator[None]:
    """Within this context, imported modules compile their patterns when they first use them.

    PyYAML's patterns are half of its import time, and its parser in C, which reads the files, uses
    none of them.
    """
    import re

    compiled = re.compile
    re.compile = _Later  # type: ignore[assignment]  # for as long as the import takes
    try:
        yield
    finally:
        re.compile = compiled


@lru_cache(maxsize=1)
def _libyaml() -> _Libyaml:
    with _patterns_later():
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
                    raise Problem(words, place_of_mark(event.start_mark))
            elif kind is self.libyaml.scalar:
                root = event.value
                self.note(event, root, place_of_mark(event.start_mark))
                if _is_null(event):
                    root = None
            elif kind is self.libyaml.stream_end:
                return root
            elif kind in self.libyaml.compound_or_alias:
                root = self.compound(event, place_of_mark(event.start_mark), 0)

    def mapping(self, place: Place, depth: int) -> Mapping:
        """A mapping, whose start was read; depth: its level.

        Nearly all values of a design are read here, so the tests for a place and a null are
        inlined.
        """
        next_event, careful = self.next_event, self.careful
        scalar, end = self.libyaml.scalar, self.libyaml.mapping_end
        made = Mapping(place)
        places = made.places
        while True:
            event = next_event()
            mark = event.start_mark
            key_place = mark.line << COLUMN_BITS | mark.column
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
            place = mark.line << COLUMN_BITS | mark.column
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
        """A list, whose start was read; depth: its level."""
        made = Sequence(place)
        while True:
            event = self.next_event()
            place = place_of_mark(event.start_mark)
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
        of_mapping = type(event) is self.libyaml.mapping_start
        if not self.careful:
            self.hold_depth(depth, place)
            return (self.mapping if of_mapping else self.sequence)(place, depth + 1)
        if event.tag is not None:
            raise _tag_problem(event)
        self.hold_depth(depth, place)
        before, around = self.count, self.deepest
        self.deepest = depth + 1
        self.add(1, place)
        self.anchors.pop(event.anchor, None)
        made = (self.mapping if of_mapping else self.sequence)(place, depth + 1)
        if event.anchor is not None:
            self.anchors[event.anchor] = (made, self.count - before, self.deepest - depth)
        self.deepest = max(around, self.deepest)
        return made

    def repeated(self, event: Any, place: Place, depth: int) -> Any:
        """The value of an alias."""
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
        """Keep the anchor, and refuse the tag, of a scalar."""
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
        """A key that is not a scalar: an alias of a word is allowed."""
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
        """Refuse more levels than are allowed."""
        if depth >= DEEPEST:
            raise Problem(TOO_DEEP.format(DEEPEST), place)

    def hold_key(self, key: Any, made: Mapping, place: Place) -> None:
        """Refuse what cannot be a key of this mapping."""
        if type(key) is not str:
            words = "A key must be a word; an empty one, '~' or 'null' means no value."
            raise Problem(words, place)
        if key in made:
            raise Problem(
                f"The key '{shown(key)}' is here twice, first in line "
                f"{line_of(made.places[key][0])}; keep one.",
                place,
            )
        if key == "<<":
            raise Problem("Merge keys (<<) are not part of YAML 1.2; repeat the keys.", place)


def _is_null(event: Any) -> bool:
    return event.value in _NULLS and not event.style


def _tag_problem(event: Any) -> Problem:
    typed = shown(event.tag.replace("tag:yaml.org,2002:", "!!"))
    return Problem(
        f"The tag '{typed}' is not allowed; write the plain value without it.",
        place_of_mark(event.start_mark),
    )
