"""Converts values in rule files into the numbers of columns; and conditions on columns."""

from __future__ import annotations

from datetime import date
from math import isfinite
from typing import Any

from msgspec.structs import replace

from checker import units
from checker.reading.documents import Place, Problem, Sequence
from checker.rulebook.model import Condition, Described
from checker.words import choices

BOOLEANS = {"true": 1.0, "yes": 1.0, "false": 0.0, "no": 0.0}

DAY = 86_400.0
"""Seconds."""

_WRITTEN = {
    "quantity": "a plain number",
    "integer": "a whole number",
    "boolean": "true or false",
    "date": "a date, year-month-day",
}


def literal(text: str, described: Described) -> float:
    """Convert a value as rules write it into the number that columns have.

    Args:
        text: '100 m', 'yes', '2026-03-12', a word of an enumeration.
        described: what kind of value it must be.

    Returns:
        SI for a quantity, 1 or 0 for yes and no, `date.toordinal` for a date, the place among its
        options for a word.

    Raises:
        ValueError: the text is not such a value; the message is meant for the user.
    """
    try:
        if described.kind == "quantity":
            if described.measure != "ratio":
                return units.parse(text, described.measure)
            value = float(text)
            if not isfinite(value):
                raise ValueError
            return value
        if described.kind == "integer":
            return float(int(text))
        if described.kind == "boolean":
            return BOOLEANS[text.lower()]
        if described.kind == "date":
            return float(date.fromisoformat(text).toordinal())
        return float(described.options.index(text))
    except units.UnitError:
        raise
    except (ValueError, KeyError):
        if described.options:
            words = f"'{text}' is not known here; {choices(text, described.options)}"
        else:
            words = f"'{text}' is not {_WRITTEN[described.kind]}."
        raise ValueError(words) from None


def number_of(text: str, described: Described, place: Any) -> float:
    """Convert a value as rules write it, and name its place where that fails.

    Args:
        text: as in `literal`.
        described: what kind of value it must be.
        place: where the text is in its file.

    Returns:
        The number that columns have, as `literal` gives it.

    Raises:
        Problem: the text is not such a value.
    """
    try:
        return literal(text, described)
    except ValueError as error:
        raise Problem(str(error), place) from None


def difference_of(text: str, described: Described, place: Place) -> float:
    """Convert a difference of values: kelvin for a temperature, days for a date.

    Args:
        text: '2 K', '3 day', '100 mm'.
        described: what the difference is of.
        place: where the text is in its file.

    Returns:
        SI, but days for a date.

    Raises:
        Problem: the text is not such a difference.
    """
    if described.measure == "temperature":
        described = replace(described, measure="temperature_difference")
    if described.kind == "date":
        return number_of(text, Described("quantity", measure="duration"), place) / DAY
    return number_of(text, described, place)


def day_of(text: str | None, place: Any) -> date | None:
    """Read a date.

    Args:
        text: ISO 8601; None for no date.
        place: where the text is in its file.

    Returns:
        The date; None for None.

    Raises:
        Problem: the text is no date.
    """
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Problem(f"'{text}' is not a date; write year-month-day.", place) from None


STATED = {"stated": True, "not stated": False}
"""The words of a condition that only asks whether there is a value."""


def condition(name: str, wanted: Any, described: Described, place: Any) -> Condition:
    """Read the condition that a column has one of some values, or is stated at all.

    Args:
        name: of the column.
        wanted: as typed: a value, a list of them, `stated` or `not stated`.
        described: what the column is.
        place: where the values are in the file.

    Returns:
        The condition, with its words for reports.

    Raises:
        Problem: a value is not one that the column can have.
    """
    if isinstance(wanted, str) and wanted in STATED:
        return Condition(name, (), f"{name} is {wanted}", STATED[wanted])
    texts = wanted if isinstance(wanted, Sequence) else [wanted]
    values = tuple(number_of(text, described, place) for text in texts)
    return Condition(name, values, f"{name} is {' or '.join(texts)}")


def nature(described: Described) -> str:
    """Say what a value is; only values of the same nature can be compared.

    Args:
        described: what the value is.

    Returns:
        A phrase with its article: 'a length', 'one of wet, layered', 'a date'.
    """
    if described.kind in ("quantity", "integer"):
        return units.KINDS[described.measure].title
    if described.options:
        return f"one of {', '.join(described.options)}"
    return f"a {described.kind}"
