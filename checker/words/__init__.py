"""Words and numbers as a reader sees them."""

from __future__ import annotations

import math
import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from datetime import date
from functools import lru_cache

from msgspec.json import encode


def nearest(word: str, known: Iterable[str], likeness: float = 0.6) -> str | None:
    """The known word that is most similar to this one.

    Args:
        word: a word, perhaps misspelled.
        known: the words to choose from.
        likeness: the least similarity; 1 is equality.

    Returns:
        The word; None where none is similar enough.
    """
    from difflib import get_close_matches

    by_case = {str(k).lower(): str(k) for k in known}
    found = get_close_matches(word.lower(), by_case, n=1, cutoff=likeness)
    return by_case[found[0]] if found else None


def choices(word: str, known: Iterable[str], likeness: float = 0.6) -> str:
    """What to write instead of an unknown word, as the end of a sentence.

    Args:
        word: the unknown word.
        known: the words to choose from.
        likeness: the least similarity of the nearest; 1 is equality.

    Returns:
        A question with the nearest known word; where none is similar enough, the first twelve known
        words and how many more there are; where nothing is known, that there is none.
    """
    near = nearest(word, known, likeness)
    if near is not None:
        return f"did you mean '{near}'?"
    names = list(known)
    if not names:
        return "there is none."
    shown = ", ".join(f"'{name}'" for name in names[:12])
    return f"write one of {shown}" + (f" (and {len(names) - 12} more)." if names[12:] else ".")


def calendar_day(text: str) -> date:
    """The day of a date that somebody wrote.

    Args:
        text: year-month-day, such as `2026-03-12`, without blanks around it.

    Returns:
        The day.

    Raises:
        ValueError: it is written differently, or there is no such day; the message is for the user.
    """
    # Python also takes weeks (2026-W11-4) and dates without dashes.
    if not re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        raise ValueError(f"'{text}' is not a date; write year-month-day, such as '2026-03-12'")
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"there is no day '{text}'; look at the month and the day") from None


_STEPS = (*(10.0**power for power in range(-12, 2)), 1000.0)
"""A number of at least these sizes has one decimal less each time; below 1 it has three digits."""
_SCALES = (1e14, *(10.0 ** (2 - power) for power in range(-12, 0)), 1e2, 1e1, 1.0)
_UP = 1 + 2.0**-50
"""Raises a decimal tie, which a binary number may store slightly too low (120.65), above the
tie.
"""


FEW = 16
"""Up to this many numbers are written one by one, which is quicker for so few."""


def number(value: float) -> str:
    """A number with the digits that are useful on site: 88, 1.83, 0.02, 12.4, 4190.

    Rounded as by hand: from the decimal digits of the value, halves away from zero.

    Args:
        value: in the unit in which it is shown.

    Returns:
        Three significant digits below 10, one decimal below 1000, a whole number from there on;
        `nan` and `inf` as Python writes them.
    """
    if not math.isfinite(value):
        return str(value)
    size = abs(value)
    scale = _SCALES[bisect_right(_STEPS, size)]
    rounded = math.floor(size * scale * _UP + 0.5) / scale
    return _plain(encode(math.copysign(rounded, value) + 0.0))


def numbers(values: Sequence[float]) -> list[str]:
    """The same as `number`, for many numbers at once.

    Args:
        values: `(n,)`, in the unit in which they are shown.

    Returns:
        `n` texts in the same order; empty where a value is not finite.
    """
    if len(values) <= FEW:
        return [number(value) if math.isfinite(value) else "" for value in values]
    import numpy as np

    sizes = np.abs(values)
    scales = np.array(_SCALES)[np.searchsorted(_STEPS, sizes, "right")]
    rounded = np.copysign(np.floor(sizes * scales * _UP + 0.5) / scales, values)
    # Adding zero turns -0 into 0.
    text = encode((rounded + 0.0).tolist())[1:-1].replace(b"null", b"") + b","
    return _plain(text.replace(b".0,", b",")[:-1]).split(",")


def _plain(written: bytes) -> str:
    return written.decode().removesuffix(".0")


@lru_cache(maxsize=4096)
def measure(value: float, unit: str) -> str:
    """A number with its unit.

    Args:
        value: in this unit.
        unit: as it is shown; `1` for a plain number.

    Returns:
        The number with the digits of `number`, a space and the unit; without either where the unit
        is `1`.
    """
    return number(value) if unit == "1" else f"{number(value)} {unit}"


def apart(value: float, limit: float) -> tuple[str, str]:
    """Two numbers with as many digits as they need to differ.

    Args:
        value: one number.
        limit: the other, in the same unit.

    Returns:
        Both as texts; alike only where the numbers are equal, or differ after the twelfth
        significant digit.
    """
    first, second = number(value), number(limit)
    digits = 4
    while first == second and value != limit and digits < 12:
        digits += 1
        first, second = f"{value:.{digits}g}", f"{limit:.{digits}g}"
    return first, second


def visible(text: str, kept: str = "\u00a0") -> str:
    """A text without characters that control a terminal, reverse reading order or command a CI
    host.

    Args:
        text: any text.
        kept: characters that are kept though they are not printable, such as line ends.

    Returns:
        The text with a replacement character for each that is not printable, and with a blank
        inside whatever a CI host would take for a command.
    """
    if not text.isprintable():
        text = "".join(sign if sign.isprintable() or sign in kept else "\ufffd" for sign in text)
    if "::" in text or "##" in text:
        text = re.sub(_COMMAND, lambda found: f"{found[0][:-1]} {found[0][-1]}", text)
    return text


_COMMAND = r"(?:^|[\n\r])\s*::|##(?=\[|[A-Za-z]+\[)"
"""What CI hosts that read a log take for a command: `::word` at the start of a line, `##[word]` and
`##word[` anywhere. A space between its characters makes it text.
"""


def listed(items: Sequence[str]) -> str:
    """Items in a sentence: 'a, b and c'.

    Args:
        items: texts, in order.

    Returns:
        The sentence's part; empty where there is no item.
    """
    return " and ".join([", ".join(items[:-1]), items[-1]] if len(items) > 1 else items)


def how_many(count: int, noun: str) -> str:
    """A number and its noun: '1 letter', '2 letters'.

    Args:
        count: how many there are.
        noun: singular, of a word that takes an s.

    Returns:
        Both words.
    """
    return f"{count} {noun}{'' if count == 1 else 's'}"


def table_row(*cells: str) -> str:
    """A row of a Markdown table, whatever characters are in the cells.

    Args:
        *cells: texts; line ends become blanks, and what would end a cell or begin a tag is escaped.
            Other markup, such as a link, stays.

    Returns:
        The row without a line end.
    """
    plain = (" ".join(cell.split()).replace("|", "\\|").replace("<", "&lt;") for cell in cells)
    return f"| {' | '.join(plain)} |"
