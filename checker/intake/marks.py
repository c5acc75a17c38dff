"""Which sign is the decimal mark in a file of somebody's, as far as its numbers tell."""

from __future__ import annotations

import re

from checker.intake.sheets import Book, quoted
from checker.intake.weighing import UNKNOWN, Weighed

SAMPLE = 400
"""Rows that are looked at."""
_COMMA = re.compile(
    r"[-+]?[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})(?![0-9,.])|[-+]?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+"
)
_POINT = re.compile(
    r"[-+]?[0-9]+\.(?:[0-9]{1,2}|[0-9]{4,})(?![0-9,.])|[-+]?[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+"
)
_EITHER = re.compile(r"[-+]?[0-9]{1,3}[.,][0-9]{3}(?![0-9.,])")
"""Numbers whose comma, or point, can only be the decimal mark; and those that leave both open."""


def marks(book: Book, weighed: Weighed = UNKNOWN) -> list[str]:
    """How numbers that are written as text are meant, weighed over the whole file.

    weighed: what the columns of its table say, held against one another.
    """
    texts = [
        value.strip()
        for sheet in book.sheets
        for row in sheet.rows[:SAMPLE]
        for value in row
        if isinstance(value, str)
    ]
    commas = [text for text in texts if _COMMA.match(text)]
    points = [text for text in texts if _POINT.match(text)]
    either = [text for text in texts if _EITHER.match(text)]
    with_comma = [text for text in either if "," in text]
    with_point = [text for text in either if "." in text]
    if commas and points:
        return [
            f"decimal: {'comma' if len(commas) > len(points) else 'point'}  # LOOK: the file has "
            f"both {quoted(commas[0])} and {quoted(points[0])}"
        ]
    if commas:
        more = "thousands: point  # LOOK: " + quoted(with_point[0]) if with_point else ""
        return ["decimal: comma", *([more] if more else [])]
    if points:
        more = "thousands: comma  # LOOK: " + quoted(with_comma[0]) if with_comma else ""
        return ["decimal: point", *([more] if more else [])] if more else []
    if either and weighed.apart is not None and not (with_comma and with_point):
        return _weighed(either[0], "," if with_comma else ".", weighed)
    if either:
        return _undecided(either[0], "," if with_comma else ".")
    return []


def _undecided(text: str, sign: str) -> list[str]:
    """Both readings, each as the whole lines of a map that make it."""
    name, other = ("comma", "point") if sign == "," else ("point", "comma")
    return [
        f"# LOOK: {quoted(text)} can be read in two ways, so that such cells are not safe. Take the "
        "# away from",
        "# the lines of the one that is right. As " + re.sub("[.,]", ".", text) + ":",
        f"# decimal: {name}",
        "# Or as " + re.sub("[.,]", "", text) + ":",
        f"# decimal: {other}",
        f"# thousands: {name}",
    ]


def _weighed(text: str, sign: str, weighed: Weighed) -> list[str]:
    """The lines of a map where only one reading of the sign is possible."""
    name, other = ("comma", "point") if sign == "," else ("point", "comma")
    read = re.sub(r"[.,]", "" if weighed.apart else ".", text)
    look = f"  # LOOK: {quoted(text)} is read as {read}; only that is possible by {weighed.why}"
    if weighed.apart:
        return [f"decimal: {other}", f"thousands: {name}{look}"]
    return [f"decimal: {name}{look}"]
