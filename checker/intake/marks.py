"""Decides which sign is the decimal mark in somebody's file, as far as its numbers show it."""

from __future__ import annotations

import re
from typing import NamedTuple

from checker.intake.sheets import Book, quoted
from checker.intake.values import EITHER, Marks
from checker.intake.weighing import UNKNOWN, Weighed

SAMPLE = 400
"""Only this many rows of a sheet are looked at."""
_COMMA = re.compile(
    r"[-+]?(?:[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})|0+,[0-9]+)(?![0-9,.])|[-+]?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+"
)
_POINT = re.compile(
    r"[-+]?(?:[0-9]+\.(?:[0-9]{1,2}|[0-9]{4,})|0+\.[0-9]+)(?![0-9,.])|[-+]?[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+"
)
"""Numbers whose comma, or point, can only be the decimal mark."""


_SPACED = re.compile(r"[-+]?[1-9][0-9]{0,2}(?:[ \u00a0\u202f][0-9]{3})+(?![0-9])")
"""A number whose thousands are separated by a space, such as 1 180."""


class Proposed(NamedTuple):
    """Lines for a map, and the marks that they state."""

    lines: list[str]
    marks: Marks = Marks(said=False)


def marks(book: Book, weighed: Weighed = UNKNOWN) -> Proposed:
    """Decide how numbers that are written as text are meant, from the whole file.

    Args:
        book: the sheets of the file.
        weighed: what the columns of its table, compared with one another, say about marks.

    Returns:
        The lines to write into the map, and the marks that they state.
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
    either = [text for text in texts if EITHER.match(text)]
    with_comma = [text for text in either if "," in text]
    with_point = [text for text in either if "." in text]
    if commas and points:
        look = f"  # LOOK: the file has both {quoted(commas[0])} and {quoted(points[0])}"
        own, apart = (",", ".") if len(commas) > len(points) else (".", ",")
        parted = any(apart in text for text in (commas if own == "," else points))
        return _said(own, apart if parted else "", look)
    spaced = next((text for text in texts if _SPACED.match(text)), "")
    if spaced and not (commas and with_point) and not (points and with_comma):
        sign = "," if commas or (with_comma and not points) else "."
        look = f"  # LOOK: {quoted(spaced)} is read as {re.sub(chr(92) + 's', '', spaced)}"
        return _said(sign, " ", look)
    if commas or points:
        other = with_point if commas else with_comma
        look = f"  # LOOK: {quoted(other[0])}" if other else ""
        own, apart = (",", ".") if commas else (".", ",")
        # Without a line in the map a point is decimal, and is remarked on where it may be none.
        return _said(own, apart if other else "", look) if commas or other else Proposed([])
    if either and weighed.apart is not None and not (with_comma and with_point):
        return _weighed(either[0], "," if with_comma else ".", weighed)
    if either:
        return Proposed(_undecided(either[0], "," if with_comma else "."))
    return Proposed([])


_NAMES = {",": "comma", ".": "point", " ": "space"}


def _said(decimal: str, apart: str, look: str) -> Proposed:
    """The marks that a map states; its last line carries the remark to review."""
    lines = [f"decimal: {_NAMES[decimal]}", *([f"thousands: {_NAMES[apart]}"] if apart else [])]
    lines[-1] += look
    return Proposed(lines, Marks(decimal, apart))


def _undecided(text: str, sign: str) -> list[str]:
    """Both readings, each as the lines of a map, for the user to choose from."""
    name, other = ("comma", "point") if sign == "," else ("point", "comma")
    return [
        f"# LOOK: {quoted(text)} can be read in two ways, so such cells are not safe. Take the",
        "# sign '#' off the lines of the one that is right. As " + text.replace(",", ".") + ":",
        f"# decimal: {name}",
        "# Or as " + re.sub("[.,]", "", text) + ":",
        f"# decimal: {other}",
        f"# thousands: {name}",
    ]


def _weighed(text: str, sign: str, weighed: Weighed) -> Proposed:
    """The lines of a map where only one reading of the sign is possible."""
    other = "." if sign == "," else ","
    read = re.sub(r"[.,]", "" if weighed.apart else ".", text)
    look = f"  # LOOK: {quoted(text)} is read as {read}; only that is possible by {weighed.why}"
    return _said(other, sign, look) if weighed.apart else _said(sign, "", look)
