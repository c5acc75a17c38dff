"""Evaluates a rule's own examples."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from checker.outcome.results import KINDS
from checker.rulebook.book import Rulebook
from checker.rulebook.evaluation import Values, evaluate
from checker.rulebook.literals import literal
from checker.rulebook.model import Example, Rule, Vocabulary
from checker.rulebook.outcomes import Outcome

if TYPE_CHECKING:
    from checker.rulebook.model import Days


class _Given:
    """The columns of one row of which only some values are known."""

    def __init__(self, known: dict[str, float]) -> None:
        self.known = known

    def column(self, subject: str, name: str) -> Values:
        """The value given for the name, or a missing one."""
        value = np.array([self.known.get(name, np.nan)])
        return Values(value, np.where(np.isnan(value), 0, -1))

    def size(self, subject: str) -> int:
        """One row."""
        return 1

    def note(self, words: str, subject: str) -> int:
        """Reasons are not distinguished here."""
        return 0


def day_of(example: Example) -> Days:
    """Give the day that an example is judged by.

    Args:
        example: of a rule.

    Returns:
        The day as `date.toordinal` numbers it, shape (1,); NaN where the example names none.
    """
    return np.array([np.nan if example.on is None else example.on.toordinal()])


def outcome(
    rule: Rule,
    example: Example,
    rulebook: Rulebook,
    vocabulary: Vocabulary,
    value: float | None = None,
) -> Outcome:
    """Evaluate a rule for one of its examples.

    An example is judged by its own codes, else by those of no region, and by its own day, else by
    the editions in force now, at the stage from which the rule is due.

    Args:
        rule: any rule of the rulebook.
        example: one of the rule's own, or one made like it.
        rulebook: all rules, for the codes of no region.
        vocabulary: the names that rules may use, for the units of the example's values.
        value: replaces the example's own value of what the rule compares, in SI; None leaves it.

    Returns:
        The outcome, with a single row.
    """
    known = dict.fromkeys(rule.raised_by, 0.0)  # they are stated unless a test says otherwise
    for name, text in example.values:
        described = vocabulary.describe(rule.subject, name)
        assert described is not None
        known[name] = literal(text, described)
    if value is not None:
        known[rule.value] = value
    codes = rulebook.codes_of("") if example.codes is None else example.codes
    on = day_of(example)
    counts = np.array(
        [
            limit.document.in_force(on) & (limit.document.code in ("", *codes))
            for limit in rule.limits
        ]
    )
    return evaluate(rule, _Given(known), counts, np.ones(1, dtype=bool))


def worked(rule: Rule, rulebook: Rulebook, vocabulary: Vocabulary) -> Iterator[tuple[Example, str]]:
    """Evaluate all examples of a rule.

    Args:
        rule: any rule of the rulebook.
        rulebook: all rules, for the codes of no region.
        vocabulary: the names that rules may use, for the units of the examples' values.

    Returns:
        Each example in the order of the file, with the kind of result that it really gives.
    """
    for example in rule.examples:
        kinds = outcome(rule, example, rulebook, vocabulary).kinds
        yield example, KINDS[int(kinds[0])]
