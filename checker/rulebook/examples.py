"""Evaluates a rule's own examples."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from checker.outcome.results import KINDS
from checker.rulebook.evaluation import Outcome, Values, evaluate
from checker.rulebook.literals import literal
from checker.rulebook.model import Example, Rule, Rulebook, Vocabulary

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
    """The day that an example is judged by, shape (1,); NaN where it names none."""
    return np.array([np.nan if example.on is None else example.on.toordinal()])


def outcome(
    rule: Rule,
    example: Example,
    rulebook: Rulebook,
    vocabulary: Vocabulary,
    value: float | None = None,
) -> Outcome:
    """The rule evaluated for the one row of an example.

    An example is judged by its own codes, else by those of no region, and by its own day, else by
    the editions in force now, at the stage from which the rule is due.

    Args:
        rule: the rule.
        example: its example.
        rulebook: all rules.
        vocabulary: the names that rules may use.
        value: replaces the example's own value.
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
    """Each example of a rule with the kind of result that it gives."""
    for example in rule.examples:
        kinds = outcome(rule, example, rulebook, vocabulary).kinds
        yield example, KINDS[int(kinds[0])]
