"""All findings about some designs, sorted by design, and their computed values."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from functools import cached_property
from itertools import accumulate, chain, pairwise
from operator import itemgetter
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import UNSET

from checker.arrays import Index
from checker.outcome.columns import NOBODY, Findings, Results, Subjects
from checker.outcome.results import Measure, Pattern, Result

Places = npt.NDArray[np.int64]


class Computed(NamedTuple):
    """The computed values of a subject, as columns.

    Attributes:
        subjects: whose they are, n of them.
        units: the unit of each value, by name.
        numbers: for each name its n numbers in that unit, NaN where one is missing.
        missing: for each name the reason where one is missing, by row.
    """

    subjects: Subjects
    units: dict[str, str]
    numbers: list[list[float]]
    missing: list[dict[int, str]]


class Batch:
    """All findings about some designs, as columns.

    Attributes:
        findings: of each rule.
    """

    def __init__(
        self,
        count: int,
        found: list[tuple[Index, Places, Results]],
        computed: Callable[[bool], list[Computed]],
    ) -> None:
        """Sort results by design.

        Args:
            count: the number of designs.
            found: results, each with the row of its design and its place there; those of the design
                NOBODY are left out.
            computed: makes the computed values; called with True for those in every report, False
                for those that only pictures show.
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
        """Drop the tables and columns that computed values are made from, to free memory.

        Args:
            computed: makes the computed values again where they are needed after all; called with
                True for those in every report, False for those that only pictures show.
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
        """Sort a list by design.

        Args:
            of_findings: an item for each result, in the order of `findings` and then by row.

        Returns:
            The items design by design, and one more at the end that means nothing; empty where
            there are no results.
        """
        # The quickest way to so many; one more, so that it is always a tuple.
        return itemgetter(*self.order, 0)(of_findings) if self.order else ()

    def result(self, number: int) -> Result:
        """Make one result.

        Args:
            number: its place among all results, in the order of `findings` and then by row.

        Returns:
            The result, without notes such as a waiver.
        """
        of = bisect_right(self.starts, number) - 1
        return self.findings[of].result(number - self.starts[of])

    def subject(self, number: int) -> str:
        """Give the subject of one result, without making the result.

        Args:
            number: its place among all results, in the order of `findings` and then by row.

        Returns:
            Its name as reports show it ('loops.L1').
        """
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
        """Make one result of the design from the columns of its batch.

        Args:
            place: among the design's results.

        Returns:
            The result, without notes.
        """
        return self.batch.result(self.batch.order[self.batch.ends[self.number] + place])

    def subject(self, place: int) -> str:
        """Give the subject of one result from the columns of its batch.

        Args:
            place: among the design's results.

        Returns:
            Its name as reports show it ('loops.L1').
        """
        return self.batch.subject(self.batch.order[self.batch.ends[self.number] + place])

    def computed(self, *, shown: bool = True) -> dict[str, dict[str, Measure]]:
        """Give the design's computed values from the columns of its batch.

        Args:
            shown: True for those in every report, False for those that only pictures show.

        Returns:
            By subject and name, each value in the unit of reports; one that is missing has no
            number, and the reason.
        """
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
