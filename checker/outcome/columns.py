"""Findings as columns: the results of a batch before any single result is asked for.

A rule has the same outcome in a few ways for thousands of subjects (`Way`); each subject has a
number, a margin and a few words of its own (`Findings`). A result is put together when it is asked
for, and `reports.json` writes all of a batch (`outcome.batches`) at once.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt
from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from checker.outcome.phrasing import Bound, Phrase, Shown, limit, spoken
from checker.outcome.results import (
    Judged,
    Limit,
    Measure,
    Pattern,
    Result,
    fingerprint_of,
)
from checker.reading.documents import column_of, line_of

if TYPE_CHECKING:
    from checker.reading.cells import Cells

    Places = npt.NDArray[np.int64]


NOBODY = -1
"""The row of the design of a result that belongs to none."""


class StatedLimit(Struct, frozen=True, eq=False):
    """A limit as results state it.

    Attributes:
        comparison: how value and bounds are compared.
        bounds: in the unit of reports, NO_LIMIT where one is missing.
        shown: how they are shown.
    """

    comparison: str
    bounds: tuple[float | Bound, ...]
    shown: Shown

    def at(self, row: int) -> Limit | UnsetType:
        """Give the limit of one row.

        Args:
            row: of the rule's subject.

        Returns:
            The limit in the unit of reports; UNSET where its bounds are missing.
        """
        numbers = [b.numbers[row] if isinstance(b, Bound) else b for b in self.bounds]
        return limit(self.comparison, tuple(numbers), self.shown)


class StatedOther(NamedTuple):
    """A further limit that counts.

    Attributes:
        judged: what all rows share of it.
        message: with placeholders for what varies by row.
        limit: for each row.
    """

    judged: Judged
    message: Phrase
    limit: StatedLimit


class _Spelled(NamedTuple):
    """What rows with the same bounds share.

    Attributes:
        common: the result without what is a row's own.
        message: the text around the words of the row.
    """

    common: Result
    message: tuple[str, ...]


class Way(Struct, frozen=True, eq=False):
    """What all results of one rule with the same outcome share, and how each is worded.

    Attributes:
        pattern: what they count as.
        common: the members that are equal in all; message, limit and also may differ by their
            bounds.
        message: with a place for the row's own words.
        limit: the governing one; None where none governs.
        also: further limits that count.
        shown: how the value is shown; None where there is none.
        bounds: those that differ by row.
        spelled: what rows with the same bounds share, by these bounds; filled as it is asked for.
    """

    pattern: Pattern
    common: Result
    message: Phrase
    limit: StatedLimit | None
    also: tuple[StatedOther, ...]
    shown: Shown | None
    bounds: tuple[Bound, ...]
    missing: bool
    """Whether the words of each row are the datum that is missing."""
    spelled: dict[tuple[float, ...], _Spelled]

    def of(self, row: int) -> _Spelled:
        """Give what a row shares with all rows that have the same bounds.

        Args:
            row: of the rule's subject, one that came out in this way.

        Returns:
            The result without what is the row's own, and the message around the row's own words;
            cached by bounds.
        """
        key = tuple([bound.numbers[row] for bound in self.bounds])
        found = self.spelled.get(key)
        if found is None:
            found = self.spelled[key] = self._spell(row)
        return found

    def _spell(self, row: int) -> _Spelled:
        """What this row shares with others, its bounds put into words and limits."""
        also = [
            replace(one.judged, message=spoken(one.message, row), limit=one.limit.at(row))
            for one in self.also
        ]
        common = replace(
            self.common,
            limit=UNSET if self.limit is None else self.limit.at(row),
            also=tuple(also) or UNSET,
        )
        parts = [""]
        for part in self.message:
            if part is None:
                parts.append("")
            else:
                parts[-1] += part if isinstance(part, str) else part.words[row]
        return _Spelled(common, tuple(parts))


class Subjects:
    """The rows of one table as reports name and place them.

    Attributes:
        names: as reports show them (`loops.L1`).
        design_rows: the row of each one's design, in rising order.
        cells: by the row of a design that was read from a sheet, the cells of its values.
        fingerprints: for each subject its half of the fingerprints of its results.
    """

    def __init__(
        self,
        names: list[str],
        designs: list[str],
        design_rows: list[int],
        cells: Mapping[int, Cells] | None = None,
    ) -> None:
        """Take the rows of a table.

        Args:
            names: as reports show them.
            designs: the names of all designs.
            design_rows: the row of each one's design, in rising order.
            cells: by the row of a design that was read from a sheet, the cells of its values.
        """
        self.names = names
        self.design_rows = design_rows
        self._designs = designs
        self.cells = cells or {}
        self.fingerprints = [*map(self.fingerprint, design_rows, names)]

    def fingerprint(self, design: int, name: str) -> str:
        """Give a subject's half of its results' fingerprints.

        Args:
            design: the row of its design; the half depends on the design's name.
            name: of the subject ('loops.L1').

        Returns:
            16 hexadecimal digits; the other half is the rule's.
        """
        return fingerprint_of(f"{self._designs[design]}\0{name}")

    def release(self) -> None:
        """Drop what only judging needs."""

    def of_rows(self, rows: list[int]) -> Subjects:
        """Give some of these rows, for values that others do not have.

        Args:
            rows: their numbers, design by design as here.

        Returns:
            New subjects, numbered from 0.
        """
        names = [self.names[row] for row in rows]
        return Subjects(names, self._designs, [self.design_rows[row] for row in rows], self.cells)

    def located(self, row: int, place: int) -> tuple[int, int, str]:
        """Turn a place in the file of a row's design into what reports show.

        Args:
            row: of these subjects.
            place: a line and a column in one number, as tables hold it.

        Returns:
            Line and column, from 1, and the name of the cell ('Loops C7'), empty where there is
            none. For a design that was read straight from a sheet, line and column are those of the
            cell, and 1 where the place is that of none.
        """
        line, column = int(line_of(place)), int(column_of(place))
        cells = self.cells.get(self.design_rows[row]) if self.cells else None
        spot = cells.of(int(place)) if cells is not None else None
        if cells is None or spot is None:
            return (1, 1, "") if cells is not None and cells.direct else (line, column, "")
        if cells.direct:
            line, column = spot.row, max(1, spot.column)
        return line, column, str(spot)

    def ends_of(self, design: int) -> tuple[int, int]:
        """Find the rows of one design, which are consecutive.

        Args:
            design: its row.

        Returns:
            The first row of the design and the row after its last; equal where it has none.
        """
        return bisect_left(self.design_rows, design), bisect_right(self.design_rows, design)


class Results(Protocol):
    """Some results of one rule, by row."""

    patterns: list[Pattern]

    def result(self, row: int) -> Result:
        """Make one result.

        Args:
            row: of the subject, from 0.

        Returns:
            The result, without notes such as a waiver.
        """

    def subject(self, row: int) -> str:
        """Give the subject of one result, without making the result.

        Args:
            row: of the subject, from 0.

        Returns:
            Its name as reports show it ('loops.L1').
        """


class Findings:
    """The results of one rule for all rows of a table.

    Attributes:
        subjects: the rows.
        places: where each result points in its file: line and column in one number.
        ways: the way of each row.
        values: in the unit of reports, NaN where a row has none.
        margins: in `margin_unit`, NaN where a row has none.
        words: the row's own part of the message.
        patterns: what each row counts as.
    """

    def __init__(
        self,
        subjects: Subjects,
        places: Places,
        ways: list[Way],
        values: list[float],
        margins: list[float],
        margin_unit: str,
        words: list[str],
    ) -> None:
        self.subjects = subjects
        self.places = places
        self.ways = ways
        self.values = values
        self.margins = margins
        self.margin_unit = margin_unit
        self.words = words
        self.patterns = [way.pattern for way in ways]
        self.instead: dict[int, Result] = {}
        """Results that came out in a way of their own, by row."""

    def put(self, row: int, result: Result) -> None:
        """Replace one result, while designs are being judged.

        Reports that were made before keep what the earlier result counted as.

        Args:
            row: of the subject.
            result: instead of that which the rule gave.
        """
        self.instead[row] = result
        self.patterns[row] = Pattern.of(result)

    def subject(self, row: int) -> str:
        """Give the subject of one result, without making the result.

        Args:
            row: of the rule's subject.

        Returns:
            Its name as reports show it ('loops.L1').
        """
        return self.subjects.names[row]

    def result(self, row: int) -> Result:
        """Put one result together from its way and the numbers and words of its row.

        Args:
            row: of the rule's subject.

        Returns:
            The result; that of `put` where the row has one.
        """
        if row in self.instead:
            return self.instead[row]
        way, value, margin = self.ways[row], self.values[row], self.margins[row]
        common, message = way.of(row)
        words = self.words[row]
        line, column, cell = self.subjects.located(row, self.places[row])
        return replace(
            common,
            line=line,
            column=column,
            cell=cell or UNSET,
            subject=self.subjects.names[row],
            fingerprint=self.subjects.fingerprints[row] + common.fingerprint,
            value=UNSET if way.shown is None else way.shown.value(value),
            margin=Measure(margin, self.margin_unit) if margin == margin else UNSET,
            message=words.join(message),
            missing=words if way.missing else UNSET,
        )
