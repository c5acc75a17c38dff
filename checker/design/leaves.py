"""One value of the format: how its text becomes a number in a column."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from msgspec import Struct

from checker import units
from checker.words import calendar_day, choices

if TYPE_CHECKING:
    from checker.design.schema import Rows

MEMO_SIZE = 65_536

TRUE = frozenset(("true", "yes", "on"))

FALSE = frozenset(("false", "no", "off"))

INSTEAD = {
    "pattern": {
        "spiral": "counterflow",
        "snail": "counterflow",
        "bifilar": "counterflow",
        "meander": "serpentine",
    },
    "project.region": {"UK": "GB"},
}
"""For a field, words that mean one of its choices.

Patterns: common practice, no source. Regions: ISO 3166-1 reserves UK, and GB is the code.
"""

SURE = 0.75
"""A word at least this similar to a choice counts as a typing mistake."""


class Words:
    """Texts by number, so that a column can hold them; the numbers differ between processes."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}
        self._texts: list[str] = []

    def number(self, text: str) -> int:
        """Give the number of a text, and remember the text if it is new.

        Args:
            text: any.

        Returns:
            A whole number from 0, the same for the same text in this process only.
        """
        found = self._numbers.setdefault(text, len(self._texts))
        if found == len(self._texts):
            self._texts.append(text)
        return found

    def text(self, number: float) -> str:
        """Give the text of a number.

        Args:
            number: one that `number` gave, as columns hold it.

        Returns:
            The text.
        """
        return self._texts[int(number)]


words = Words()


class Leaf(Struct):
    """One value of the format: how its text becomes a number in a column.

    A choice of words becomes the number of the word in `options`, a date its day number, a boolean
    1 or 0, a word the number that it has in `words`, a reference the row of its record; a text has
    no column.

    Attributes:
        name: of its column, with dots for fields within others.
        kind: quantity, integer, boolean, date, enumeration, reference, word or text.
        slot: the number of its column; -1 for a text.
        quantity: a quantity's kind of unit, a key of `checker.units.KINDS`.
        unit: that a quantity is shown in.
        least: what a quantity or integer may be, SI.
        most: likewise.
        least_text: `least` as a person would write it.
        most_text: `most`, likewise.
        options: of an enumeration.
        refers_to: the table that a reference leads into.
        longest: most characters.
        pattern: a regular expression that a text must match; empty for any.
        example: how such a value is written.
        memo: texts that were converted before, with their numbers.
    """

    name: str
    kind: str
    slot: int = -1
    quantity: str = ""
    unit: str = ""
    least: float = 0.0
    most: float = 0.0
    least_text: str = ""
    most_text: str = ""
    smallest: float = 0.0
    """For a quantity that may be zero: the smallest other value; a smaller one is a typing
    mistake.
    """
    smallest_text: str = ""
    options: tuple[str, ...] = ()
    refers_to: str = ""
    longest: int = 200
    pattern: str = ""
    example: str = ""
    drawn: str = ""
    """What the word `drawn` takes from a drawing, where that word is allowed."""
    memo: dict[str, float] = {}
    listed: Rows | None = None
    """The list that is allowed instead of one value."""

    def convert(self, text: str) -> float:
        """Convert a value as it is written in a design.

        A text that is accepted is remembered in `memo` where the value has a column.

        Args:
            text: '88 m', 'tile', '2026-03-12'.

        Returns:
            The number for the column, SI for a quantity; 0 for a text, which has no column.

        Raises:
            ValueError: the text is not such a value, or outside what is possible; the message is
                meant for the user.
        """
        instead = INSTEAD.get(self.name, {}).get(text)
        if instead is not None:
            raise ValueError(f"'{text}' is not allowed here; write '{instead}'")
        if len(text) > self.longest:
            raise ValueError(
                f"the text has {len(text)} characters; at most {self.longest} are allowed"
            )
        value = _CONVERTERS[self.kind](self, text)
        if self.slot >= 0:
            if len(self.memo) >= MEMO_SIZE:
                self.memo.clear()
            self.memo[text] = value
        return value


def _quantity(leaf: Leaf, text: str) -> float:
    """The quantity in SI, within the leaf's bounds."""
    try:
        value = units.parse(text, leaf.quantity, leaf.example)
    except units.UnitError:
        if leaf.quantity == "duration" and re.fullmatch(r"[0-9]{1,3}(:[0-9]{2}){1,2}", text):
            raise ValueError(_not_a_clock(text)) from None
        raise
    slack = 1e-12 * abs(value)
    if leaf.least - slack <= value <= leaf.most + slack:
        if leaf.least < value < leaf.smallest - slack:
            raise ValueError(
                f"'{text}' is more than nothing and less than is possible here "
                f"({leaf.smallest_text}); look at the unit and the decimal point"
            )
        return value
    if value < 0 <= leaf.least:
        raise ValueError(f"'{text}' is negative, which is impossible here")
    raise ValueError(
        f"'{text}' is outside what is possible here ({leaf.least_text} to {leaf.most_text}); "
        "look at the unit and the decimal point"
    )


def _not_a_clock(text: str) -> str:
    first, second, *seconds = (int(part) for part in text.split(":"))
    if seconds:
        return f"'{text}' has no unit; write '{first * 60 + second + seconds[0] / 60:g} min'"
    sixtieths = first * 60 + second
    return f"'{text}' can be read in two ways; write '{sixtieths} min' or '{sixtieths} s'"


def _integer(leaf: Leaf, text: str) -> float:
    """The whole number, within the leaf's bounds."""
    digits = text.removeprefix("-")
    if not (digits.isascii() and digits.isdigit()) or len(digits) > 9:
        raise ValueError(f"'{text}' is not a whole number; write one such as {leaf.example or '1'}")
    value = float(text)
    if not leaf.least <= value <= leaf.most:
        if leaf.least == leaf.most:
            raise ValueError(f"{text} is not known here; write {leaf.least}")
        raise ValueError(f"{text} is outside what is possible here ({leaf.least} to {leaf.most})")
    return value


def _boolean(leaf: Leaf, text: str) -> float:
    word = text.lower()
    if word in TRUE:
        return 1.0
    if word in FALSE:
        return 0.0
    raise ValueError(f"'{text}' is neither true nor false; write 'true' or 'false'")


def _date(leaf: Leaf, text: str) -> float:
    day = calendar_day(text)
    if not EARLIEST <= day.year <= LATEST:
        raise ValueError(
            f"'{text}' is outside what is possible here ({EARLIEST} to {LATEST}); look at the year"
        )
    return float(day.toordinal())


EARLIEST, LATEST = 1950, 2100
"""Years between which the dates of a design or its records must be; our convention."""


def _enumeration(leaf: Leaf, text: str) -> float:
    raise ValueError(f"'{text}' is not allowed here; {choices(text, leaf.options, SURE)}")


def _reference(leaf: Leaf, text: str) -> float:
    raise AssertionError("a reference is resolved once the whole design is read")


def _word(leaf: Leaf, text: str) -> float:
    if not text.strip() or not text.isprintable():
        raise ValueError(f"a name is expected here, such as '{leaf.example}'")
    return float(words.number(text))


def _text(leaf: Leaf, text: str) -> float:
    if leaf.pattern and not re.search(leaf.pattern, text):
        raise ValueError(f"'{text}' is not allowed here; write one such as '{leaf.example}'")
    return 0.0


_CONVERTERS = {
    "quantity": _quantity,
    "integer": _integer,
    "boolean": _boolean,
    "date": _date,
    "enumeration": _enumeration,
    "reference": _reference,
    "word": _word,
    "text": _text,
}
