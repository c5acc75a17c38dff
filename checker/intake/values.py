"""Converts the content of a cell into a value as a design file writes it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from functools import cache
from typing import NamedTuple

from checker import units
from checker.design.leaves import TRUE, Leaf
from checker.intake.fields import value_of
from checker.intake.sheets import Value, alike, figure, plain
from checker.intake.units_written import feet_and_inches, sign_of, unit_behind

Given = str | bool | list[str]
"""A value as a design file has it."""
THOUSANDS = {"space": " ", "point": ".", "comma": ","}
"""The marks that may separate thousands, by their names in a map."""


class Marks(NamedTuple):
    """The marks in numbers that are written as text; thousands: empty where there is none.

    said: whether the map states them; if not, a text such as 1.101 could be read in two ways.
    """

    decimal: str = "."
    thousands: str = ""
    said: bool = True


EITHER = re.compile(r"[-+−]?[1-9][0-9]{0,2}[.,][0-9]{3}(?![0-9.,])")
"""A number whose only mark may be decimal or separate thousands: 1.101, but not 0.101."""
PLAIN = Marks()
"""Decimal point, and no mark between thousands."""


class Way(NamedTuple):
    """How a cell is converted: its unit, date format, words and factor.

    hint: where to write a unit that is missing, for the message; mapped: whether a map says all
    this, so that what is wrong may be corrected there.
    """

    unit: str = ""
    date: str = ""
    words: Mapping[str, str] = {}
    times: int = 1
    marks: Marks = PLAIN
    hint: str = "give the column its unit in the map (unit: {})"
    mapped: bool = True


class Doubtful(NamedTuple):
    """A value as a design file writes it, and a remark to review where it could be read otherwise.

    other: the factor by which the other reading of its mark is larger; 0 where there is none.
    """

    text: str
    doubt: str = ""
    other: float = 0.0


def text_of(raw: Value, leaf: Leaf, way: Way) -> Doubtful:
    """Convert a cell into the text of a design file.

    Args:
        raw: the cell's content.
        leaf: the field's kind, unit and bounds.
        way: how the map says to convert it.

    Returns:
        The text, which fits the field, with a remark where it could be read otherwise.

    Raises:
        ValueError: the content does not fit the field; the message is for the user.
    """
    known = way.words.get(alike(plain(raw)))
    found = _worded(raw, leaf, way) if known is None else Doubtful(known)
    try:
        value_of(leaf, found.text)
    except ValueError as error:
        hint = ""
        if way.mapped and leaf.kind in ("enumeration", "boolean"):
            hint = f" Or give the map its meaning: words: {{{plain(raw)}: …}}"
        raise ValueError(f"{error}{hint}") from None
    if found.other and not way.mapped:
        _refuse_two_readings(str(raw), found, leaf)
    return found


def _refuse_two_readings(raw: str, found: Doubtful, leaf: Leaf) -> None:
    """Refuse a number whose mark may separate thousands.

    A point is taken for a decimal point where the field cannot have the larger number.

    Raises:
        ValueError: the message is for the user.
    """
    if "," in raw or _possible(_times(found.text, found.other), leaf):
        one, other = (_times(found.text, times) for times in (1, found.other))
        raise ValueError(f"can be {one} or {other}; write one of the two")


def _times(text: str, times: float) -> str:
    number, _, unit = text.partition(" ")
    return f"{figure(float(number) * times)} {unit}"


def _possible(text: str, leaf: Leaf) -> bool:
    try:
        value_of(leaf, text)
    except ValueError:
        return False
    return True


def unmistakable(text: str, leaf: Leaf) -> str:
    """A quantity as a form shows it, so that it is read back as it is meant.

    Args:
        text: the value as a design writes it, with a decimal point.
        leaf: the field's kind, unit and bounds.

    Returns:
        With a fourth decimal where the point before three could be taken for a mark of thousands:
        `2.1500 W`.
    """
    found = EITHER.match(text)
    if not found or "," in found[0] or not _possible(_times(text, 1000.0), leaf):
        return text
    return f"{found[0]}0{text[found.end() :]}"


def sole_mark(raw: Value) -> Marks:
    """The marks of a number that somebody typed into a form: its comma is decimal if it is alone.

    Args:
        raw: what was typed.

    Returns:
        A decimal comma where a text has a comma and no point, else a decimal point.
    """
    return Marks("," if isinstance(raw, str) and "," in raw and "." not in raw else ".")


def typed(leaf: Leaf, text: str) -> Given:
    """A value as the tree of a design holds it.

    Args:
        leaf: the field's kind.
        text: the value as a design writes it.

    Returns:
        A truth value, the words of a list, or the text itself.
    """
    if leaf.kind == "boolean":
        return text.lower() in TRUE
    if leaf.kind == "words":
        return [word for word in (part.strip() for part in text.split(",")) if word]
    return text


def _worded(raw: Value, leaf: Leaf, way: Way) -> Doubtful:
    if leaf.kind == "quantity":
        return _quantity(raw, leaf, way)
    if leaf.kind == "date":
        return Doubtful(_day(raw, way.date))
    if isinstance(raw, datetime | date):
        raise ValueError("is a date; a spreadsheet program makes one of texts such as 1-2")
    if leaf.kind == "integer" and isinstance(raw, str):
        match = re.fullmatch(r"([0-9]+)[.,]0+", raw)
        return Doubtful(match[1] if match else raw)
    if leaf.kind == "enumeration":
        word = next((o for o in leaf.options if o.casefold() == alike(plain(raw))), plain(raw))
        return Doubtful(word)
    return Doubtful(" ".join(plain(raw).split()))


_RAISED = re.compile(r"(?<=[0-9])\s*(?:[⁰¹²³⁴-⁹]+|\*{1,3}\)?|[†‡])$|\s+[¹²³⁴-⁹]\)$|\s*[¹²³⁴-⁹]\)$")
"""A footnote mark after a number, such as 84¹ or 84*."""


def _quantity(raw: Value, leaf: Leaf, way: Way) -> Doubtful:
    unit, marks = way.unit, way.marks
    other = 0.0
    if isinstance(raw, bool) or not isinstance(raw, str | float | int):
        raise ValueError(
            f"is a date or a truth value; a number is expected, such as {leaf.example}"
        )
    doubt = ""
    if not isinstance(raw, str):
        number, own = figure(raw), ""
    else:
        text = raw.replace("\u00a0", " ").replace("\u202f", " ").strip()
        note = _RAISED.search(text)
        if note:
            doubt = f"the '{note[0].strip()}' behind it is read as the mark of a note"
            text = text[: note.start()].rstrip()
        feet = feet_and_inches(text, unit) if leaf.quantity == "length" else ""
        if feet and unit and sign_of(text) not in ("", unit):
            raise ValueError(
                f"has a sign of feet or inches and no unit; write '{feet}' if that is meant"
            )
        if feet:
            return Doubtful(_multiplied(feet, way.times), doubt)
        match = _number(marks.decimal, marks.thousands).fullmatch(text)
        behind = match[2] if match else ""
        if match is None or behind[:1] in (*"0123456789.,'/",):
            raise ValueError(
                "is not a number with or without its unit, such as "
                f"'{leaf.example}'{_marks_hint(text, way)}"
            )
        number = match[1].replace(marks.thousands, "") if marks.thousands else match[1]
        if EITHER.fullmatch(match[1]):
            other = 1000.0 if marks.decimal in match[1] else 0.001
            if not marks.said:
                doubt = "the point could separate thousands too; say 'decimal:' in the map"
        number = number.replace(",", ".").replace("−", "-")
        own = unit_behind(behind, leaf.quantity, unit)
    if not own and not unit:
        if leaf.example:
            shown = leaf.example.split(" ", 1)[-1]
            raise ValueError(f"has no unit; {way.hint.format(shown)}")
        raise ValueError("has no unit; give the column its unit in the map")
    return Doubtful(_multiplied(f"{number} {own or unit}", way.times), doubt, other)


def _multiplied(text: str, times: int) -> str:
    if times == 1:
        return text
    number, _, unit = text.partition(" ")
    return f"{figure(float(number) * times)} {unit}"


def added(texts: list[str], leaf: Leaf) -> str:
    """The sum of several values of one field.

    Args:
        texts: the values, each with its unit; at least one.
        leaf: the field's kind and quantity.

    Returns:
        In the unit of the first.

    Raises:
        ValueError: they are temperatures, or one has no unit of the quantity.
    """
    unit = texts[0].partition(" ")[2]
    scale, _ = units.factor(unit, leaf.quantity)
    if leaf.quantity == "temperature":
        raise ValueError("temperatures cannot be added")
    total = sum(units.parse(text, leaf.quantity) for text in texts)
    return f"{figure(float(f'{total / scale:.12g}'))} {unit}"


def _marks_hint(text: str, way: Way) -> str:
    """What the map could say about decimal marks, for a text that is not a number as it reads
    them; without a map, how to write it.
    """
    marks = way.marks
    if re.fullmatch(r"[0-9.,]+\s*[/–-]\s*[0-9.,]+(\D*)", text):
        return "; two values in one cell need a row or a column each"
    if not re.fullmatch(r"[-+]?[0-9]+([.,'’ ][0-9]+)+(\D*)", text):
        return ""
    if not way.mapped:
        return "; write it without marks between thousands"
    decimal = "comma" if marks.decimal == "," else "point"
    for name, sign in THOUSANDS.items():
        if sign not in (marks.decimal, marks.thousands) and re.match(
            rf"[-+]?[0-9]{{1,3}}({re.escape(sign)}[0-9]{{3}})+(?![0-9])", text
        ):
            other = f", or 'thousands: {name}' where the {name} only separates thousands"
            break
    else:
        other = ""
    return f" (the map says that numbers have a decimal {decimal}; correct it there{other})"


def _day(raw: Value, form: str) -> str:
    if isinstance(raw, datetime | date):
        return plain(raw)[:10]
    if isinstance(raw, str) and form:
        try:
            return datetime.strptime(raw, form).date().isoformat()
        except ValueError:
            raise ValueError(f"is not a date written as {form}") from None
    return plain(raw)


@cache
def _number(decimal: str, thousands: str) -> re.Pattern[str]:
    """A pattern for a number, then any text after it."""
    mark, apart = re.escape(decimal), re.escape(thousands)
    whole = f"[1-9][0-9]{{0,2}}(?:{apart}[0-9]{{3}})+(?![0-9])|[0-9]+" if thousands else "[0-9]+"
    return re.compile(rf"([-+−]?(?:(?:{whole})(?:{mark}[0-9]+)?|{mark}[0-9]+))\s*(.*)")
