"""A document as it was typed: texts in mappings and lists, each with its place."""

from __future__ import annotations

from typing import Any

DEEPEST = 20
"""Most levels of nesting, aliases expanded; the format itself needs six."""
TOO_DEEP = "The file is nested deeper than {} levels; what is written here needs six at most."
LONGEST_SHOWN = 64
"""Most characters of a word that an error repeats."""

Place = int
"""A line and a column in one number, both from 0; a later place is a larger number."""

COLUMN_BITS = 24

START: Place = 0


def place_at(line: int, column: int) -> Place:
    """The place of a line and a column.

    Args:
        line: from 0.
        column: from 0, below 2²⁴.

    Returns:
        One number for both.
    """
    return line << COLUMN_BITS | column


def place_of_mark(mark: Any) -> Place:
    """The place of a mark of the parser.

    Args:
        mark: with `line` and `column`, both from 0.

    Returns:
        One number for both.
    """
    return place_at(mark.line, mark.column)


def line_of(place: Any) -> Any:
    """The line of a place, or of an array of places.

    Args:
        place: one, or an integer array.

    Returns:
        Counted from 1; an array for an array.
    """
    return (place >> COLUMN_BITS) + 1


def column_of(place: Any) -> Any:
    """The column of a place, or of an array of places.

    Args:
        place: one, or an integer array.

    Returns:
        Counted from 1; an array for an array.
    """
    return (place & ((1 << COLUMN_BITS) - 1)) + 1


class Problem(Exception):
    """Something in a file that the user must correct, and its place (counted from 1).

    The message is one line; a character that cannot be printed is shown as �.
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
    """A mapping as typed; `places[key]` holds the places of the key and its value."""

    __slots__ = ("place", "places")

    def __init__(self, place: Place) -> None:
        self.place = place
        self.places: dict[str, tuple[Place, Place]] = {}


def shown(word: str) -> str:
    """A word from a file as an error repeats it.

    Args:
        word: as it was typed.

    Returns:
        Cut after LONGEST_SHOWN characters, with an ellipsis.
    """
    return word if len(word) <= LONGEST_SHOWN else word[:LONGEST_SHOWN] + "…"


class Sequence(list[Any]):
    """A list as typed; `places[number]` holds the place of an item."""

    __slots__ = ("place", "places")

    def __init__(self, place: Place) -> None:
        self.place = place
        self.places: list[Place] = []


def place_of(text: str, offset: int) -> Place:
    """The place of a character of a text.

    Args:
        text: the whole file.
        offset: the character's index.

    Returns:
        Lines end at line feeds.
    """
    return place_at(text.count("\n", 0, offset), offset - text.rfind("\n", 0, offset) - 1)
