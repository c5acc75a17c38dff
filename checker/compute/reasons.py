"""Why a value is missing: each reason in words, by number."""

from __future__ import annotations

import numpy as np

from checker.arrays import Index, Mask
from checker.compute.columns import NO_REASON, Reasons
from checker.design.schema import DESIGNS
from checker.design.tables import Tables

NOWHERE = ""
"""Replaces the table where a reason is not about an existing row."""
_ROWS_BITS = 40
_ROWS = (1 << _ROWS_BITS) - 1
"""A reason is one integer: the index of its words in the high bits, the row that it is about in the
low ones.
"""

HINTS = {
    ("floors", "screed.cover"): (
        "tested",
        "without screed, enter the thickness of the layer over the pipes",
    ),
    ("floors", "screed.conductivity"): (
        "tested",
        "without screed, enter that of the layer over the pipes",
    ),
    ("floors", "screed.material"): ("tested", "without screed, write none"),
    ("floors", "insulation"): (
        "layered",
        "of a layered floor it is what lies under its layers; where nothing does, write 0 m²·K/W",
    ),
    (DESIGNS, "plant.primary_supply"): ("", "without a mixing valve, write the supply again"),
}
"""In words, what a record states under a name that does not say so itself."""


def no_section(section: str) -> str:
    """The reason of what is missing with its whole section.

    Args:
        section: its key in the design.

    Returns:
        A sentence without a full stop, for `Told.number` with the table NOWHERE.
    """
    return f"the design has no section '{section}'"


NO_SETTING = "pump.setting is not given"

NO_PUMP = "pump is not given"

NOTHING = {
    "loops": "it has no loop",
    "parts": "it has no loop",
    "loop_feeds": "feeds is not given",
    "tested_loops": "its header has no loop",
    "tests": "no pressure test is given",
    "readings": "no readings are given",
    "pump_curve": "pump.curve is not given",
    "pumped": "it has no pump",
    "heat_up_steps": "heat_up.steps is not given",
    "layers": "its layers are not given",
}


class Lacking:
    """Rows whose value is missing, while their reasons are looked for.

    Attributes:
        rows: those that still lack one, shape (n,).
        reasons: of each row, shape (n,), NO_REASON where none is found yet or nothing is missing.
    """

    def __init__(self, missing: Mask) -> None:
        """Begin without any reason.

        Args:
            missing: whether each row's value is missing, shape (n,); not changed.
        """
        self.rows = missing
        self.reasons: Reasons = np.full(len(missing), NO_REASON, dtype=np.int64)

    def take(self, reasons: Reasons) -> bool:
        """Take these reasons where one is lacking.

        Args:
            reasons: of each row, shape (n,); NO_REASON where there is none.

        Returns:
            Whether every row whose value is missing has a reason now.
        """
        here = self.rows & (reasons >= 0)
        if np.count_nonzero(here):
            self.reasons = np.where(here, reasons, self.reasons)
            self.rows = self.rows & ~here
        return not np.count_nonzero(self.rows)


class ReasonWords:
    """The reasons of one run by number."""

    def __init__(self) -> None:
        self._words: list[tuple[str, str]] = []
        self._numbers: dict[tuple[str, str], int] = {}

    def number(self, words: str, table: str) -> int:
        """The number of a reason, given out when it is first asked for.

        Args:
            words: the reason, without what it is about.
            table: whose rows it is about, or NOWHERE.

        Returns:
            The number for row 0; that plus the row is the reason for any other.
        """
        key = (words, table)
        number = self._numbers.get(key)
        if number is None:
            number = self._numbers[key] = len(self._words)
            self._words.append(key)
        return number << _ROWS_BITS

    def of_rows(self, words: str, table: str, rows: Index) -> Reasons:
        """The numbers of one reason for several rows.

        Args:
            words: the reason, without what it is about.
            table: whose rows it is about.
            rows: row numbers, shape (n,).

        Returns:
            Shape (n,).
        """
        return self.number(words, table) + rows

    def of(self, number: int) -> tuple[str, str, int]:
        """What a reason's number means.

        Args:
            number: that of a reason about some row.

        Returns:
            Its words, table and row.
        """
        return *self._words[number >> _ROWS_BITS], number & _ROWS

    def sentences(self, tables: Tables, reasons: Reasons) -> list[str]:
        """Several reasons as sentences, each after what it is about (`loops.L1: …`).

        Args:
            tables: those whose rows the reasons are about.
            reasons: their numbers, none of them NO_REASON, shape (n,).

        Returns:
            n sentences; one about a missing section names nothing before it.
        """
        said = [""] * len(reasons)
        numbers, rows = reasons >> _ROWS_BITS, reasons & _ROWS
        for number in {*numbers.tolist()}:
            words, table = self._words[number]
            places = np.flatnonzero(numbers == number)
            if table in (DESIGNS, NOWHERE):
                whole = f"design: {words}" if table == DESIGNS else words
                for place in places.tolist():
                    said[place] = whole
                continue
            ids, section = tables[table].ids, tables[table].section
            for place, row in zip(places.tolist(), rows[places].tolist(), strict=True):
                said[place] = f"{section}.{ids[row]}: {words}"
        return said
