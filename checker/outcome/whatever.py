"""Results that are the same over the whole range of an unknown datum, and where open ones
change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

import numpy as np
from msgspec.structs import replace

from checker.arrays import Array, Index, Mask
from checker.compute.boxes import boxed
from checker.compute.certainty import Boxed, Certain, Turning, merged
from checker.compute.graph import Graph
from checker.compute.judging import InForce, result_subject
from checker.compute.naming import TABLE_OF
from checker.compute.ranges import LAYERS, Unknown, known_ranges, valued
from checker.compute.variants import Copies
from checker.design.parts import KEYS, stated_in
from checker.design.schema import DESIGNS, PARTS
from checker.design.tables import Tables
from checker.outcome.columns import Findings
from checker.outcome.phrasing import Shown
from checker.outcome.results import Result, Severity, TurnsAt, Whatever
from checker.rulebook.beside_records import Range
from checker.rulebook.book import Rulebook
from checker.rulebook.outcomes import FAIL, OPEN, REVIEW, Outcome
from checker.words import listed
from checker.words.speech import Speech


class Judged(Protocol):
    """Designs with their results, while they are judged."""

    tables: Tables
    graph: Graph
    outcomes: dict[int, Outcome]
    findings: dict[int, Findings]
    speech: list[Speech]
    """For each design, how values are shown to its reader."""

    def raw(self, rule: int) -> tuple[Outcome, Index | None]:
        """Give a rule's outcome before it is brought together by loop.

        Args:
            rule: its number in the rulebook.

        Returns:
            The outcome for the rows of the rule's subject, and for a rule on parts the part that
            gives each loop's result, shape (loops,); None where each row gives its own.
        """

    def in_force(self, rule: int) -> Mask:
        """Say which limits of a rule are in force for each design.

        Args:
            rule: its number in the rulebook.

        Returns:
            A mask, shape (limits, designs).
        """

    def lacking(self, rule: int) -> Iterator[tuple[int, Severity]]:
        """Find the designs for which a rule is open because the whole section is missing.

        Args:
            rule: its number in the rulebook.

        Returns:
            The row of each such design whose stage asks for the rule, and the rule's severity.
        """


def settle(
    judged: Judged, book: Rulebook, force: InForce, judge: Callable[[Tables, list[int]], Judged]
) -> list[Boxed]:
    """Replace open results by those that are certain whatever a missing datum is.

    Args:
        judged: the designs with their results; these are changed.
        book: the rules.
        force: which limits are in force.
        judge: judges copies of the designs by the rules with these numbers, for the words of their
            results.

    Returns:
        The data with a range, as they were explored.
    """
    ranges = known_ranges(book, layered=len(judged.tables[LAYERS]) > 0)
    found = [*boxed(judged.tables, book.rules, ranges, force, judged.outcomes)]
    words = _Words(judged, book, ranges)
    words.certain(found, judge)
    for one in found:
        for turning in one.turning:
            words.turning(one, turning)
    return found


def path_of(tables: Tables, table: str, field: str, row: int) -> str:
    """Give the path of a datum in its design, as changes are written.

    Args:
        tables: the designs.
        table: of the datum.
        field: its name, with dots for fields within others.
        row: of the record.

    Returns:
        `rooms.study.covering.resistance`; `pressure_tests.first.readings[2].at` for an item of a
        list; the field's name alone for the whole design.
    """
    if table == DESIGNS:
        return field
    if table == PARTS:
        table, row = stated_in(tables, row, field)
    own = tables[table]
    if own.shape.parent not in ("", DESIGNS):
        parent = own.parents[row]
        above = tables[own.shape.parent]
        number = row - own.parents.index(parent) + 1
        key = KEYS.get(table, table)
        return f"{above.section}.{above.ids[parent]}.{key}[{number}].{field}"
    return f"{own.section}.{own.ids[row]}.{field}"


class _Words:
    """Words results that are certain over a range, and the values at which open ones change."""

    def __init__(self, judged: Judged, book: Rulebook, ranges: tuple[Range, ...]) -> None:
        self.judged = judged
        self.tables = judged.tables
        self.book = book
        self.ranges = ranges
        self._known: dict[Unknown, tuple[Whatever, str]] = {}

    def certain(self, found: list[Boxed], judge: Callable[[Tables, list[int]], Judged]) -> None:
        """Word the results that are certain, at the point of the range where they are worst."""
        wanted: list[tuple[Boxed, Certain, int]] = []
        designs: list[int] = []
        points: list[tuple[Boxed, Array]] = []
        for one in found:
            matters = []
            for result in one.certain:
                mask = np.zeros(len(one.unknowns), dtype=bool)
                mask[list(result.data)] = True
                matters.append((mask, result.at))
            at, became = merged(matters)
            wanted += [
                (one, result, len(designs) + number)
                for result, number in zip(one.certain, became, strict=True)
            ]
            designs += [one.design] * len(at)
            points += [(one, point) for point in at]
        if not wanted:
            return
        copies = Copies(self.tables, np.array(designs, dtype=np.intp))
        for copy, (one, point) in enumerate(points):
            for unknown, share in zip(one.unknowns, point, strict=True):
                row = copies.rows(unknown.table, copy, unknown.row)
                value = valued(self.ranges[unknown.range], share)
                copies.tables[unknown.table].fill(unknown.slot, row, value)
        judged_again = judge(copies.tables, sorted({result.rule for _, result, _ in wanted}))
        for one, result, copy in wanted:
            table = TABLE_OF[result_subject(self.book.rules[result.rule])]
            row = copies.rows(table, copy, result.row)
            worst = judged_again.findings[result.rule].result(row)
            self.judged.findings[result.rule].put(
                result.row, self._certain_result(one, result, worst)
            )

    def _certain_result(self, one: Boxed, certain: Certain, worst: Result) -> Result:
        """The result that is certain, with the data that it holds for."""
        if certain.kind == REVIEW:
            so = "The result is the same wherever the unknown data are in their ranges."
            return replace(worst, message=f"{worst.message} {so}")
        data = certain.data or tuple(range(len(one.unknowns)))
        ranges = [self._range_of(one.unknowns[nth], self.judged.speech[one.design]) for nth in data]
        whatever, between = tuple(own for own, _ in ranges), listed([words for _, words in ranges])
        severity = certain.severity if certain.kind == FAIL else worst.severity
        message = f"At worst: {worst.message} This is so whatever {between}."
        return replace(worst, severity=severity, whatever=whatever, message=message)

    def _range_of(self, unknown: Unknown, speech: Speech) -> tuple[Whatever, str]:
        """The range of a datum, as data and in words; many results depend on the same one."""
        found = self._known.get(unknown)
        if found is None:
            one = self.ranges[unknown.range]
            field = path_of(self.tables, unknown.table, one.field, unknown.row)
            ends = np.array([one.least, one.most])
            plain, shown = Shown(one.described), Shown(one.described, speech)
            least, most = map(plain.measured, plain.numbers(ends))
            low, high = shown.numbers(ends)
            words = f"{field} is between {shown.in_words([low])[0]} and {shown.words(high)}"
            found = self._known[unknown] = Whatever(field, least, most, one.source), words
        return found

    def turning(self, one: Boxed, turning: Turning) -> None:
        """Add to an open result the value at which it changes."""
        if self.judged.outcomes[turning.rule].kinds[turning.row] != OPEN:
            return
        findings = self.judged.findings[turning.rule]
        unknown = one.unknowns[turning.unknown]
        speech = self.judged.speech[one.design]
        shown = Shown(self.ranges[unknown.range].described, speech)
        (value,) = shown.numbers(np.array([turning.value]))
        field = path_of(self.tables, unknown.table, self.ranges[unknown.range].field, unknown.row)
        before = findings.result(turning.row)
        words = shown.words(value)
        passes = f"up to {words}" if turning.passes_below else f"from {words} on"
        message = f"{before.message} It passes {passes}."
        turns_at = TurnsAt(field, shown.measured(value))
        findings.put(turning.row, replace(before, turns_at=turns_at, message=message))
