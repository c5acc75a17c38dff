"""Judges a rule for the rows that its results are about."""

from __future__ import annotations

from typing import NamedTuple, Protocol

import numpy as np

from checker.arrays import Index, Mask
from checker.compute.graph import Graph
from checker.compute.meanings import of_plan
from checker.compute.naming import TABLE_OF
from checker.design.schema import PARTS
from checker.design.tables import Tables
from checker.rulebook.evaluation import evaluate, worst_of
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import Outcome


class InForce(Protocol):
    """For each design, which limits of a rule count, and whether the rule is due."""

    def counts(self, rule: Rule) -> Mask:
        """Whether each limit of a rule is in force for each design.

        Args:
            rule: the rule.

        Returns:
            Shape (limits, designs).
        """

    def due(self, rule: Rule) -> Mask:
        """Whether the stage of each design asks for a rule.

        Args:
            rule: the rule.

        Returns:
            Shape (designs,).
        """


class OfCopies(NamedTuple):
    """For copies of designs: the limits of the original; every rule is due."""

    force: InForce
    designs: Index

    def counts(self, rule: Rule) -> Mask:
        """Whether each limit of a rule is in force for the design of each copy.

        Args:
            rule: the rule.

        Returns:
            Shape (limits, copies).
        """
        return self.force.counts(rule)[:, self.designs]

    def due(self, rule: Rule) -> Mask:
        """Any rule is due, so that a result is not left out for being early.

        Args:
            rule: not looked at.

        Returns:
            True throughout, shape (copies,).
        """
        return np.ones(len(self.designs), dtype=bool)


class OfTheSame(NamedTuple):
    """For copies of designs: the limits and the due rules of the original."""

    force: InForce
    designs: Index

    def counts(self, rule: Rule) -> Mask:
        """Whether each limit of a rule is in force for the design of each copy.

        Args:
            rule: the rule.

        Returns:
            Shape (limits, copies).
        """
        return self.force.counts(rule)[:, self.designs]

    def due(self, rule: Rule) -> Mask:
        """Whether the stage of each copy's design asks for a rule.

        Args:
            rule: the rule.

        Returns:
            Shape (copies,).
        """
        return self.force.due(rule)[self.designs]


def asked_designs(rule: Rule, tables: Tables) -> Mask | None:
    """Whether a rule is asked of each design.

    What only a plan shows is not asked of a design without one. A plan that is not to scale is
    reported once, by the rules about whole designs.

    Args:
        rule: the rule.
        tables: the designs.

    Returns:
        Shape (designs,); None where it is asked of all.
    """
    if not of_plan(rule.subject, rule.value):
        return None
    whole = rule.subject == "design"
    planned = np.zeros(len(tables.designs), dtype=bool)
    planned[[row for row, one in tables.drawings.items() if whole or one.to_scale]] = True
    return planned


def result_subject(rule: Rule) -> str:
    """The subject of a rule's results.

    Args:
        rule: the rule.

    Returns:
        A key of `naming.TABLE_OF`: the rule's own subject, but `loop` for a rule about parts.
    """
    return "loop" if rule.subject == "part" else rule.subject


def judged(rule: Rule, graph: Graph, force: InForce) -> tuple[Outcome, Index | None]:
    """The outcome of a rule for every row of its subject, and the rows that results are about.

    Args:
        rule: the rule.
        graph: has the values.
        force: which limits are in force.

    Returns:
        The outcome; and for a rule about parts the row of each loop's worst part (feeds are looked
        at only where the rule's conditions ask for them). None for any other rule, whose results
        are about every row.
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
