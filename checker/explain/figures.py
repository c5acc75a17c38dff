"""Writes the numbers, symbols and subjects of a worked calculation."""

from __future__ import annotations

import numpy as np

from checker.compute.meanings import meaning
from checker.compute.naming import TABLE_OF
from checker.compute.registry import REGISTRY
from checker.design.schema import DESIGNS
from checker.design.tables import Tables
from checker.outcome.phrasing import Shown
from checker.quantities.symbols import SYMBOLS
from checker.rulebook.model import Described
from checker.words.speech import PLAIN, Speech

FIGURES = 4
"""Significant digits of a number that the next step uses."""


def written(number: float, shown: Described, speech: Speech = PLAIN) -> str:
    """A value in the reader's unit, with the digits that the next step needs.

    Args:
        number: the value in SI.
        shown: the unit that reports use, and the kind of quantity.
        speech: how values are shown to the reader.

    Returns:
        Number and unit, without the unit where it is a plain number; a day, or another value that
        is no plain measure, in words.
    """
    how = Shown(shown, speech)
    (value,) = how.numbers(np.array([number]))
    if not how.plain:
        return how.words(value)
    text = speech.marked(figures(speech.converted(value, how.unit)))
    return f"{text} {speech.unit(how.unit)}".removesuffix(" 1")


def figures(value: float) -> str:
    """A number with four significant digits: 88, 1.834, 0.02, 41900, 2.1·10⁻⁹.

    Args:
        value: in the unit in which it is shown.

    Returns:
        The number with a decimal point and a real minus sign; all digits before the point where it
        is 10,000 or more, a power of ten below 10⁻⁴ and from 10⁹ on.
    """
    if value != 0 and not 1e-4 <= abs(value) < 1e9:
        mantissa, _, exponent = f"{value:.{FIGURES - 1}e}".partition("e")
        power = str(int(exponent)).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))
        return f"{mantissa.rstrip('0').rstrip('.')}·10{power}".replace("-", "−")
    text = f"{value:.0f}" if abs(value) >= 10**FIGURES else f"{value:.{FIGURES}g}"
    return text.replace("-", "−")


def symbol_of(subject: str, name: str) -> str:
    """The symbol of a field or quantity.

    Args:
        subject: whose it is, such as `loop`.
        name: of the field or quantity.

    Returns:
        The symbol; the name where it has none.
    """
    meant = meaning(subject, name)
    if meant is None:
        return name
    if meant.kind == "computed":
        return REGISTRY[(subject, name)].symbol or name.replace("_", " ")
    if meant.kind in ("field", "measured"):
        table = "balance" if meant.kind == "measured" else TABLE_OF[subject]
        return SYMBOLS.get(table, {}).get(meant.leaf.name, meant.leaf.name)
    return symbol_of(meant.subject, meant.name)


def subject_name(tables: Tables, table: str, row: int) -> str:
    """A row of a table as reports name it.

    Args:
        tables: the tables of the design.
        table: the name of one of them.
        row: in this table.

    Returns:
        Section and id (`loops.L1`), or `design`.
    """
    return "design" if table == DESIGNS else f"{tables[table].section}.{tables[table].ids[row]}"
