"""A rule over the rows that its results are told of."""

from __future__ import annotations

from typing import NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from checker.compute.columns import Index
from checker.compute.graph import Graph
from checker.compute.meanings import of_plan
from checker.compute.naming import TABLE_OF
from checker.design.schema import PARTS
from checker.design.tables import Tables
from checker.rulebook.evaluation import Outcome, evaluate, worst_of
from checker.rulebook.model import Rule

Mask = npt.NDArray[np.bool_]


class InForce(Protocol):
    """For each design, which limits of a rule count, and whether the rule is due."""

    def counts(self, rule: Rule) -> Mask:
        """Shape (limits, designs)."""

    def due(self, rule: Rule) -> Mask:
        """Shape (designs,)."""


class OfCopies(NamedTuple):
    """What is in force for copies of designs: that of the design that each is of."""

    force: InForce
    designs: Index

    def counts(self, rule: Rule) -> Mask:
        """Shape (limits, copies)."""
        return self.force.counts(rule)[:, self.designs]

    def due(self, rule: Rule) -> Mask:
        """All: what is missing is asked for."""
        return np.ones(len(self.designs), dtype=bool)


class OfTheSame(NamedTuple):
    """What is in force for copies of designs, each asked for as the design that it is of."""

    force: InForce
    designs: Index

    def counts(self, rule: Rule) -> Mask:
        """Shape (limits, copies)."""
        return self.force.counts(rule)[:, self.designs]

    def due(self, rule: Rule) -> Mask:
        """Shape (copies,)."""
        return self.force.due(rule)[self.designs]


def asked_designs(rule: Rule, tables: Tables) -> Mask | None:
    """Whether a rule is asked of each design, shape (designs,); None where it is of all.

    What only a plan tells is not asked of a design that has none. One that is not to scale is told
    once, by the rules on whole designs.
    """
    if not of_plan(rule.subject, rule.value):
        return None
    whole = rule.subject == "design"
    planned = np.zeros(len(tables.designs), dtype=bool)
    planned[[row for row, one in tables.drawings.items() if whole or one.to_scale]] = True
    return planned


def told_of(rule: Rule) -> str:
    """The subject that a rule's results are told of; of a part, its loop."""
    return "loop" if rule.subject == "part" else rule.subject


def judged(rule: Rule, graph: Graph, force: InForce) -> tuple[Outcome, Index | None]:
    """The outcome of a rule for every row of its subject, and the rows that results are told of.

    Of a rule on parts each loop's worst part, of any other all rows, which are None. Feeds count
    only for a rule whose conditions ask for them.
    """
    designs = graph.tables.design_of(TABLE_OF[rule.subject])
    outcome = evaluate(rule, graph, force.counts(rule)[:, designs], force.due(rule)[designs])
    if rule.subject != "part":
        return outcome, None
    feed = graph.column("part", "feed").values == 1
    asked = any(condition.name == "feed" for condition in rule.applies)
    counts = np.ones(len(feed), dtype=bool) if asked else ~feed
    loops = graph.tables[PARTS].above()
    return outcome, worst_of(outcome, loops, counts, graph.size("loop"))
