"""Decides which readings of a sheet's numbers are possible, by checking marks and units together.

A text such as 1,234 may be a little over one or over a thousand, and a heading without a unit may
mean metres or feet. The columns of a table are checked against each other: a pipe is about as long
as its area over its spacing, a load is so much per area, and a flow carries its load at some drop.
A reading is taken only where every other one is impossible, and the proposal says why.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product
from statistics import median
from typing import Any

from checker import units
from checker.intake.values import EITHER

UNITS: Mapping[str, tuple[str, ...]] = {
    "loops.length": ("m", "ft", "cm", "mm"),
    "loops.area": ("m²", "ft²"),
    "loops.spacing": ("mm", "cm", "in", "m"),
    "rooms.heat_load": ("W", "kW", "Btu/h"),
    "loops.flow": ("l/min", "l/h", "m³/h", "gpm"),
}
"""The units that a column without a unit is likely to be in."""
KINDS = {
    "loops.length": "length",
    "loops.area": "area",
    "loops.spacing": "length",
    "rooms.heat_load": "power",
    "loops.flow": "volume_flow",
}
LENGTH_OVER_AREA = (0.7, 2.0)
"""Length over area/spacing, feeds included; common practice, no source."""
LOAD_OVER_AREA = (8.0, 300.0)
"""W/m², a room's load, also over the area of one of its loops; common practice, no source."""
LOAD_OVER_FLOW = (1.0, 50.0)
"""K, the drop at which a flow carries a load; common practice, no source."""
HEAT_OF_WATER = 4.18e6
"""J/(m³·K), near 20 °C, from memory; the ranges above are far wider than its variation."""
FEWEST_ROWS = 2
_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?")


@dataclass(frozen=True)
class Column:
    """A column: the unit in its heading, empty where there is none, and its cells."""

    unit: str
    cells: tuple[Any, ...]


@dataclass
class Weighed:
    """The only possible reading of a table's numbers.

    apart: whether the mark in texts such as 1,234 separates thousands; None where both or neither
    is possible. units: by field, only for columns that name none. why: the relations that decided;
    about: the fields in these.
    """

    apart: bool | None = None
    units: dict[str, str] = field(default_factory=dict)
    why: str = ""
    about: frozenset[str] = frozenset()


UNKNOWN = Weighed()
"""Nothing could be decided."""


def weigh(columns: Mapping[str, Column]) -> Weighed:
    """Find the only readings of marks and units with which the columns fit one another.

    Args:
        columns: by field, the heading's unit and the cells.

    Returns:
        The reading; UNKNOWN where several are possible.
    """
    taken = {target: columns[target] for target in UNITS if target in columns}
    choices = [(one.unit,) if one.unit else UNITS[target] for target, one in taken.items()]
    unsure = {
        target: tuple(isinstance(c, str) and bool(EITHER.fullmatch(c.strip())) for c in one.cells)
        for target, one in taken.items()
    }
    open_marks = any(any(cells) for cells in unsure.values())
    possible: list[tuple[bool, dict[str, str]]] = []
    words: dict[str, None] = {}
    asked: set[str] = set()
    for apart in (False, True) if open_marks else (False,):
        numbers = {
            target: [_number(cell, apart) for cell in one.cells] for target, one in taken.items()
        }
        for chosen in product(*choices):
            named = dict(zip(taken, chosen, strict=True))
            found = list(_relations(numbers, named, unsure))
            words |= dict.fromkeys(words for words, _, _ in found)
            asked |= {target for _, _, about in found for target in about}
            if found and all(fits for _, fits, _ in found):
                possible.append((apart, named))
    marks = {apart for apart, _ in possible}
    if len(marks) != 1:
        return Weighed()  # none fits, or the numbers themselves can be read in two ways
    only = {
        target: possible[0][1][target]
        for target in taken
        if target in asked
        and not taken[target].unit
        and len({named[target] for _, named in possible}) == 1
    }
    return Weighed(marks.pop() if open_marks else None, only, ", ".join(words), frozenset(asked))


def _number(cell: Any, apart: bool) -> float | None:
    """A cell's number; None where it has none, or states a unit itself."""
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return float(cell)
    text = cell.strip() if isinstance(cell, str) else ""
    if not _NUMBER.fullmatch(text):
        return None
    if apart and EITHER.fullmatch(text):
        return float(text.replace(",", "").replace(".", ""))
    return float(text.replace(",", "."))


Relation = tuple[str, str, tuple[str, ...], float, tuple[float, float]]
RELATIONS: tuple[Relation, ...] = (
    (
        "length against area over spacing",
        "loops.length", ("loops.area", "loops.spacing"), 1.0, LENGTH_OVER_AREA,
    ),
    ("load against area", "rooms.heat_load", ("loops.area",), 1.0, LOAD_OVER_AREA),
    ("load against flow", "rooms.heat_load", ("loops.flow",), 1 / HEAT_OF_WATER, LOAD_OVER_FLOW),
)  # fmt: skip
"""Each relation: its words, one field, the fields that it is divided by, a factor, and the
range.
"""


def _relations(
    numbers: Mapping[str, list[float | None]],
    named: Mapping[str, str],
    unsure: Mapping[str, tuple[bool, ...]],
) -> Iterator[tuple[str, bool, tuple[str, ...]]]:
    """Each relation that can be checked: its words, whether it holds, and the fields in it.

    It holds where the median over all rows is possible, and every row with an ambiguous mark is.
    """
    for words, over, under, times, (least, most) in RELATIONS:
        about = (over, *under)
        if not all(target in numbers for target in about):
            continue
        scales = [units.factor(named[target], KINDS[target])[0] for target in about]
        ratios, doubtful = [], []
        for at, row in enumerate(zip(*(numbers[target] for target in about), strict=True)):
            given = [n * scale for n, scale in zip(row, scales, strict=True) if n]
            if len(given) < len(about):
                continue
            ratio = times * given[0] / given[1] * (given[2] if len(given) > 2 else 1.0)
            ratios.append(ratio)
            if any(unsure[target][at] for target in about):
                doubtful.append(ratio)
        if len(ratios) >= FEWEST_ROWS:
            fits = all(least <= one <= most for one in (median(ratios), *doubtful))
            yield words, fits, about
