"""Findings as columns: the results of a batch before any single result is asked for.

A rule has the same outcome in a few ways for thousands of subjects (`Way`); each subject has a
number, a margin and a few words of its own (`Findings`). A result is put together when it is asked
for, and `reports.json` writes all of a batch at once.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import accumulate, chain, pairwise
from operator import itemgetter
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

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


class ToldLimit(Struct, frozen=True, eq=False):
    """A limit as results state it; bounds: in the unit shown, NO_LIMIT where one is missing."""

    comparison: str
    bounds: tuple[float | Bound, ...]
    shown: Shown

    def at(self, row: int) -> Limit | UnsetType:
        """The limit of this row."""
        numbers = [b.numbers[row] if isinstance(b, Bound) else b for b in self.bounds]
        return limit(self.comparison, tuple(numbers), self.shown)


class ToldOther(NamedTuple):
    """A further limit that counts: what all rows share of it, its message, and its limit."""

    judged: Judged
    message: Phrase
    limit: ToldLimit


class _Spelled(NamedTuple):
    """What rows with the same bounds share; message: the text around the words of the row."""

    common: Result
    message: tuple[str, ...]


class Way(Struct, frozen=True, eq=False):
    """What all results of one rule with the same outcome share, and how each is worded.

    common: the members that are equal in all; message, limit and also may differ by their bounds
    (`bounds`: those that differ); shown: how the value is shown, if there is one.
    """

    pattern: Pattern
    common: Result
    message: Phrase
    limit: ToldLimit | None
    also: tuple[ToldOther, ...]
    shown: Shown | None
    bounds: tuple[Bound, ...]
    missing: bool
    """Whether the words of each row are the datum that is missing."""
    spelled: dict[tuple[float, ...], _Spelled]

    def of(self, row: int) -> _Spelled:
        """What this row shares with others."""
        key = tuple([bound.numbers[row] for bound in self.bounds])
        found = self.spelled.get(key)
        if found is None:
            found = self.spelled[key] = self._spell(row)
        return found

    def _spell(self, row: int) -> _Spelled:
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

    names: `loops.L1`; fingerprints: for each subject its half of the fingerprints of its results;
    design_rows: the row of each one's design.
    """

    def __init__(
        self,
        names: list[str],
        designs: list[str],
        design_rows: list[int],
        cells: Mapping[int, Cells] | None = None,
    ) -> None:
        """designs: the names of all designs; cells: of those that were read from sheets."""
        self.names = names
        self.design_rows = design_rows
        self._designs = designs
        self.cells = cells or {}
        self.fingerprints = [*map(self.fingerprint, design_rows, names)]

    def fingerprint(self, design: int, name: str) -> str:
        """A subject's half of its results' fingerprints."""
        return fingerprint_of(f"{self._designs[design]}\0{name}")

    def release(self) -> None:
        """Drop what only judging needs."""

    def of_rows(self, rows: list[int]) -> Subjects:
        """Some of these rows, in their order."""
        names = [self.names[row] for row in rows]
        return Subjects(names, self._designs, [self.design_rows[row] for row in rows], self.cells)

    def located(self, row: int, place: int) -> tuple[int, int, str]:
        """Line, column and cell (empty where there is none) of a place in the row's design."""
        line, column = int(line_of(place)), int(column_of(place))
        cells = self.cells.get(self.design_rows[row]) if self.cells else None
        spot = cells.of(int(place)) if cells is not None else None
        if cells is None or spot is None:
            return (1, 1, "") if cells is not None and cells.direct else (line, column, "")
        if cells.direct:
            line, column = spot.row, max(1, spot.column)
        return line, column, str(spot)

    def ends_of(self, design: int) -> tuple[int, int]:
        """The first row of a design and the row after its last; its rows are consecutive."""
        return bisect_left(self.design_rows, design), bisect_right(self.design_rows, design)


class Results(Protocol):
    """Some results of one rule, by row."""

    patterns: list[Pattern]

    def result(self, row: int) -> Result:
        """The result of this row."""

    def subject(self, row: int) -> str:
        """The subject of this row's result."""


class Findings:
    """The results of one rule for all rows of a table.

    ways: the way of each row; values, margins: in the unit shown, NaN where a row has none; words:
    the row's own part of the message; places: where each subject is in its file, packed.
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
        """Replace the result of this row, before any result is asked for."""
        self.instead[row] = result
        self.patterns[row] = Pattern.of(result)

    def subject(self, row: int) -> str:
        """The subject of this row's result."""
        return self.subjects.names[row]

    def result(self, row: int) -> Result:
        """The result of this row."""
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


class Computed(NamedTuple):
    """The computed values of a subject: units by name, and for each name a column.

    numbers: in the unit shown, NaN where one is missing; missing: the reason, by row.
    """

    subjects: Subjects
    units: dict[str, str]
    numbers: list[list[float]]
    missing: list[dict[int, str]]


class Batch:
    """All findings about some designs, as columns.

    findings: of each rule; computed: makes the computed values, those in every report or those that
    only pictures show.
    """

    def __init__(
        self,
        count: int,
        found: list[tuple[npt.NDArray[np.intp], Places, Results]],
        computed: Callable[[bool], list[Computed]],
    ) -> None:
        """count: the number of designs; found: results, each with the row of its design and its
        place there.

        Results of the design NOBODY are left out.
        """
        self.findings = [results for *_, results in found]
        self._computed = computed
        self.starts = [0, *accumulate(len(one.patterns) for one in self.findings)]
        """Where the results of each of `findings` begin among all of them, and where all end."""
        self.order: list[int] = []
        """For each result, design by design, its place in `findings`."""
        self.ends = [0] * (count + 1)
        """Where each design's results begin in `order`, and where the last ones end."""
        if self.starts[-1]:
            designs = np.concatenate([designs for designs, *_ in found])
            designs = np.where(designs == NOBODY, count, designs)
            places = np.concatenate([places for _, places, _ in found])
            # By one number: each rule's rows come nearly sorted, which a stable sort is quick at.
            order = np.argsort(designs * (places.max() + 1) + places, kind="stable")
            self.order = order.tolist()
            ends = np.cumsum(np.bincount(designs, minlength=count))[:count].tolist()
            self.ends = [0, *ends]

    def release(self, computed: Callable[[bool], list[Computed]]) -> None:
        """Drop the tables and columns from which computed values are made; computed: makes them
        again where they are needed after all.
        """
        self._computed = computed
        for one in self.findings:
            if isinstance(one, Findings):
                one.subjects.release()

    def designs(self) -> Iterator[OfDesign]:
        """What was found about each design."""
        patterns = self.in_order([*chain.from_iterable(one.patterns for one in self.findings)])
        for number, (start, end) in enumerate(pairwise(self.ends)):
            yield OfDesign(self, number, patterns[start:end])

    def in_order(self, of_findings: list[Any]) -> Sequence[Any]:
        """A list in the order of `findings`, sorted by design."""
        # The quickest way to so many; one more, so that it is always a tuple.
        return itemgetter(*self.order, 0)(of_findings) if self.order else ()

    def result(self, number: int) -> Result:
        """The result at this place in `findings`."""
        of = bisect_right(self.starts, number) - 1
        return self.findings[of].result(number - self.starts[of])

    def subject(self, number: int) -> str:
        """The subject of that result, without making the result."""
        of = bisect_right(self.starts, number) - 1
        return self.findings[of].subject(number - self.starts[of])

    @cached_property
    def computed(self) -> list[Computed]:
        """The computed values in every report."""
        return self._computed(True)

    @cached_property
    def further(self) -> list[Computed]:
        """The computed values that only pictures show."""
        return self._computed(False)


class OfDesign:
    """What was found about one design of a batch."""

    def __init__(self, batch: Batch, number: int, patterns: Sequence[Pattern]) -> None:
        self.batch = batch
        self.number = number
        self.patterns = [*patterns]

    def result(self, place: int) -> Result:
        """The result at this place."""
        return self.batch.result(self.batch.order[self.batch.ends[self.number] + place])

    def subject(self, place: int) -> str:
        """The subject of the result at this place."""
        return self.batch.subject(self.batch.order[self.batch.ends[self.number] + place])

    def computed(self, *, shown: bool = True) -> dict[str, dict[str, Measure]]:
        """For each subject its computed values by name; shown: those in every report."""
        found = {}
        for one in self.batch.computed if shown else self.batch.further:
            for row in range(*one.subjects.ends_of(self.number)):
                found[one.subjects.names[row]] = {
                    name: _measure(numbers[row], unit, missing.get(row, ""))
                    for (name, unit), numbers, missing in zip(
                        one.units.items(), one.numbers, one.missing, strict=True
                    )
                }
        return found


def _measure(number: float, unit: str, missing: str) -> Measure:
    return Measure(number, unit) if number == number else Measure(None, unit, missing or UNSET)
