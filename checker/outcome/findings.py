"""Judges every subject of some designs by every rule, and makes their reports."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from checker.arrays import Index, Mask
from checker.compute.certainty import Boxed
from checker.compute.judging import result_subject
from checker.compute.naming import TABLE_OF
from checker.compute.settling import settled
from checker.design.given import given, sketch
from checker.design.schema import PARTS
from checker.design.tables import Tables
from checker.outcome.answers import answers
from checker.outcome.applicable import ApplicableLimits, JudgingOptions
from checker.outcome.assumed import assumed
from checker.outcome.batches import Batch
from checker.outcome.causes import tell_under
from checker.outcome.columns import Findings, Results
from checker.outcome.computed_values import computed_values
from checker.outcome.questions import questions
from checker.outcome.report import DesignReport
from checker.outcome.results import Severity
from checker.outcome.rule_findings import RuleFindings, Tabled
from checker.outcome.whatever import settle
from checker.physics.arrays import quietly
from checker.rulebook.book import Rulebook
from checker.rulebook.model import STAGES
from checker.rulebook.outcomes import Outcome

if TYPE_CHECKING:
    from checker.outcome.drawn_records import FloorPicture, OverSupply

Objects = npt.NDArray[np.object_]


def judge(
    tables: Tables, rulebook: Rulebook, judging: JudgingOptions, with_given: bool = False
) -> list[DesignReport]:
    """Judge every subject of some designs by every rule.

    Args:
        tables: the designs.
        rulebook: the rules.
        judging: the codes, day, stage and units.
        with_given: whether reports include what the designs state.

    Returns:
        A report for each design, in order.
    """
    with quietly():
        return _judge(tables, rulebook, judging, with_given)


def _judge(
    tables: Tables, rulebook: Rulebook, judging: JudgingOptions, with_given: bool
) -> list[DesignReport]:
    """What `judge` does, while NumPy's warnings about missing numbers are silent."""
    basis = ApplicableLimits(tables, rulebook, judging)
    whole = _Judged(tables, rulebook, basis, range(len(rulebook.rules)))
    boxes: list[Boxed] = []
    if not judging.strict:

        def copies(made: Tables, rules: list[int]) -> _Judged:
            return _Judged(made, rulebook, ApplicableLimits(made, rulebook, judging), rules)

        boxes = settle(whole, rulebook, basis, copies)
    tell_under(whole, rulebook, basis)
    asides = answers(whole, rulebook, judging)
    asked, unasked = questions(whole, whole.graph, rulebook, boxes, len(tables.designs))
    names = whole.names
    batch = Batch(len(names), whole.found(), partial(computed_values, whole.graph, whole.tabled))
    stated = given(tables) if with_given else [{} for _ in names]
    loops = np.bincount(tables.design_of("loops"), minlength=len(names))
    drawn: dict[int, list[FloorPicture]] = {}
    supplies: dict[int, list[OverSupply]] = {}
    if with_given and judging.second_opinion:
        from checker.outcome.floor_pictures import floor_pictures  # only pages show them
        from checker.outcome.over_supply import over_supply

        drawn, supplies = floor_pictures(whole.graph, basis.speech), over_supply(whole.graph)
    own_rules, own_limits = rulebook.has_own, rulebook.own_limits
    stand_ins: dict[int, list[str]] = {}
    for number, words in assumed(whole.graph):
        stand_ins.setdefault(number, []).append(words)
    reports = []
    for design, own, by_name in zip(tables.designs, batch.designs(), stated, strict=True):
        row = design.row
        made = DesignReport(design.path, names[row], basis.days[row], basis.codes[row], own)
        made.own_rules, made.own_limits = own_rules, own_limits
        made.remarks = (*basis.remarks[row], *stand_ins.get(row, ()))
        made.speech = basis.speech[row]
        made.given = by_name
        if row in tables.drawings:
            made.sketch = sketch(tables.drawings[row])
        made.stage = STAGES[basis.stage[row]]
        made.loopless = bool(loops[row] == 0)
        if design.cells is not None:
            made.sheet, made.sheet_remarks = design.cells.file, design.cells.remarks
            made.unread = design.cells.refused
        made.questions, made.asides, made.unasked = asked[row], asides[row], unasked[row]
        made.sections = tuple(drawn.get(row, ()))
        made.supplies = tuple(supplies.get(row, ()))
        reports.append(made)
    return reports


class _Judged:
    """Designs judged by some rules: for each rule, by its number, the outcome and the results."""

    def __init__(
        self, tables: Tables, rulebook: Rulebook, basis: ApplicableLimits, rules: Iterable[int]
    ) -> None:
        self.tables = tables
        judging = basis.judging
        self.graph = settled(
            tables, second_opinion=judging.second_opinion, today=judging.day_number
        )
        self.names = [design.name for design in tables.designs]
        self.speech = basis.speech
        self.tabled = {
            subject: Tabled(tables, table, self.names, basis.speech)
            for subject, table in TABLE_OF.items()
            if table != PARTS
        }
        self.outcomes: dict[int, Outcome] = {}
        self.findings: dict[int, Findings] = {}
        self._rules: dict[int, RuleFindings] = {}
        for number in rules:
            rule = rulebook.rules[number]
            own = RuleFindings(self.graph, basis, rule, self.tabled[result_subject(rule)])
            self._rules[number] = own
            if own.asks_anybody:
                outcome = own.outcome()
                self.outcomes[number] = outcome
                self.findings[number] = own.findings(outcome)

    def raw(self, rule: int) -> tuple[Outcome, Index | None]:
        """A rule's outcome for the rows of its own subject, and the rows that its results are
        about.
        """
        own = self._rules[rule]
        return own.raw, own.rows

    def in_force(self, rule: int) -> Mask:
        """Whether each limit of a rule is in force for each design, shape (limits, designs)."""
        return self._rules[rule].counts

    def lacking(self, rule: int) -> Iterator[tuple[int, Severity]]:
        """The designs for which a rule is open because the whole section is missing."""
        own = self._rules[rule]
        for design in own.lacking.tolist():
            if own.due[design]:
                yield design, own.rule.severity

    def found(self) -> list[tuple[Index, npt.NDArray[np.int64], Results]]:
        """All results, each with the row of its design and its place there."""
        found: list[tuple[Index, npt.NDArray[np.int64], Results]] = []
        for number, own in self._rules.items():
            if number in self.findings:
                findings = self.findings[number]
                found.append((own.of, findings.places, findings))
            found += own.absent()
        return found
