"""Recognises rows of totals in a schedule, never reads them as loops, and checks their sums."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from fnmatch import fnmatchcase
from math import isclose

from checker.intake.sheets import Value, plain

TOTAL = re.compile(
    r"(?:^|[\s(:])(?:totals?|sub-?totals?|sum|sums|summe|zwischensumme|gesamt\w*|insgesamt|σ|∑|"
    r"somme|total général|sous-total|totaal|subtotaal|som|suma|subtotal|totale|subtotale|somma)"
    r"(?:$|[\s):.,])",
    re.IGNORECASE,
)
"""Words that begin or end the label of a row of sums, in six languages; ordinary words."""
MEAN = re.compile(
    r"\W*(?:averages?|avg|means?|mittelwerte?|mittel|durchschnitt\w*|ø|moyennes?|moy|gemiddelde?|gem|"
    r"promedio|valor medio|valore medio)\W*",
    re.IGNORECASE,
)
"""Whole labels of rows of means, in six languages; ordinary words."""
EXTREME = re.compile(
    r"\W*(?:max|min|maxi|mini|maximum|minimum|máximo|mínimo|massimo|minimo|media)\W*", re.IGNORECASE
)
"""Whole labels of rows of extremes (`media` is a mean); rooms may have such names too."""
_OF_ALL = re.compile(
    r"gesamt(?!summe|ergebnis|länge|rohr|fläche|leistung|heizlast|bedarf)\w+", re.IGNORECASE
)
"""German words that begin like a word of sums and may name a room, such as Gesamtküche."""
SPARE = re.compile(
    r"(?:spare|reserved?|free|unused|not used|blank|blanked off|empty|reserve (?:port|outlet|loop)|"
    r"spare (?:port|outlet|loop|circuit)|frei|unbelegt|nicht belegt|leer|reserviert|"
    r"libre|non utilise|en attente|vrij|leeg|reserva|sin uso|riserva|libero|vuoto)(?: \d+)?"
)
"""Whole labels, folded, of an outlet without a loop, in six languages; ordinary words."""
LIKE = 2.0
"""A number this many times larger or smaller than the sum is not compared with it."""
SAME = 0.005
"""Allowed difference between a stated total and the sum, as a fraction, for a schedule's
rounding.
"""


def summary(label: str, of_room: bool = False) -> str:
    """What a row with this label holds instead of a loop.

    Args:
        label: the text in the row.
        of_room: whether the label is in the column of rooms, where `min` may be a name.

    Returns:
        In words, such as `a total`; empty where it may be a loop.
    """
    if TOTAL.search(label):
        return "a total"
    extreme = not of_room and EXTREME.fullmatch(label)
    return "a mean or an extreme" if extreme or MEAN.fullmatch(label) else ""


def skips(pattern: str, text: str) -> bool:
    """Whether a text fits a map's pattern of rows to pass over.

    A word of sums at the start of the pattern, as in sum*, must be a whole word in the text: a
    summer room is not a sum.

    Args:
        pattern: the pattern, in the form in which headings are compared.
        text: the row's text, in the same form.

    Returns:
        False for a text that only begins like a word of sums.
    """
    whole = not is_total(pattern) or bool(TOTAL.search(text))
    return whole and fnmatchcase(text, pattern)


def is_total(label: str) -> bool:
    """Whether a label, or a pattern of labels, is nothing but a word of sums."""
    bare = label.strip(" :*.")
    return bool(TOTAL.fullmatch(bare)) and not _OF_ALL.fullmatch(bare)


class Sums:
    """Running sums of a table's columns: of the whole table, and since the last total."""

    def __init__(self) -> None:
        self.whole: dict[int, float] = {}
        self.part: dict[int, float] = {}
        self.rows = [0, 0]
        """How many rows were added since the last total, and in the whole table."""

    def add(self, row: Mapping[int, Value]) -> None:
        """Add the numbers of a row that was read.

        Args:
            row: what it holds, by column; what is not a number counts for nothing.
        """
        self.rows = [count + 1 for count in self.rows]
        for column, value in row.items():
            number = _number(value)
            if number is not None:
                for sums in (self.whole, self.part):
                    sums[column] = sums.get(column, 0.0) + number

    def compared(self, row: Mapping[int, Value]) -> Iterator[tuple[int, float, float, bool]]:
        """Compare the totals in a row with what was read above it, and begin the next part's sums.

        Args:
            row: what the row of totals holds, by column.

        Returns:
            For each total its column, its value, the nearer of the sums of the whole table and
            since the last total, and whether the two agree. A number of quite another size is left
            out: it may be a count or a mean.
        """
        for column, value in row.items():
            number = _number(value)
            if number is None or column not in self.whole:
                continue
            sums = (self.part.get(column, 0.0), self.whole[column])
            near = min(sums, key=lambda one: abs(one - number))
            agrees = isclose(number, near, rel_tol=SAME, abs_tol=0.05)
            # A number of another size is no sum: it may count the loops, or be a mean.
            if agrees or near / LIKE < number < near * LIKE:
                yield column, number, near, agrees
        self.part = {}
        self.rows[0] = 0

    def agree(self, row: Mapping[int, Value]) -> bool:
        """Whether a number of a row is the sum of several rows that were read."""
        return any(
            count > 1 and number is not None and column in sums
            and isclose(number, sums[column], rel_tol=SAME, abs_tol=0.05)
            for column, value in row.items()
            for number in [_number(value)]
            for count, sums in zip(self.rows, (self.part, self.whole), strict=True)
        )  # fmt: skip


def _number(value: Value) -> float | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return float(value)
    match = re.match(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*[^0-9.,]*$", plain(value))
    return float(match[1].replace(",", ".")) if match else None
