"""A design as its sender wrote it: where a finding is in it, and the value in the sender's unit."""

from __future__ import annotations

from math import isclose

from checker import units
from checker.intake.fields import fields, value_of
from checker.outcome.results import Measure, Result
from checker.revisions.contents import SAME
from checker.revisions.missing import Style
from checker.revisions.plainly import way_out
from checker.revisions.revision import Revision
from checker.run import batch, rules_in_force


class AsSent:
    """One revision, for looking up where its sender wrote something, and how."""

    def __init__(self, one: Revision, from_sheet: bool, plan: batch.Plan, style: Style) -> None:
        self.speech = one.report.speech
        self.content = one.content
        self.named = "sheet" if from_sheet else "design"
        rules = rules_in_force.rulebook(plan.rules, plan.compiled).rules
        self.judged = {rule.id: rule.value for rule in rules}
        self.titles = {rule.id: rule.title for rule in rules}
        self.at = {rule.id: rule.at or rule.value for rule in rules}
        self.style = style

    def way_out(self, text: str) -> str:
        """A proposed change in words that its reader knows."""
        return way_out(text, self.content, self.titles)

    def place(self, result: Result) -> str:
        """Where a finding is in what its sender sent.

        Args:
            result: a result of this revision.

        Returns:
            The cell of the sheet, with its heading where that is known (`'Length', Loops C7`), else
            the line of the design; empty for what no cell of the sheet states.
        """
        if not result.cell:
            return result.where if self.named == "design" else ""
        section = result.subject.partition(".")[0]
        key = self.at.get(result.rule, "")
        heading = self.style.titles.get(key if section == "design" else f"{section}.{key}", "")
        return f"'{heading}', {result.where}" if heading else result.where

    def written(self, result: Result) -> str:
        """The value of a finding as its sender wrote it.

        Args:
            result: a result of this revision.

        Returns:
            For example `288.7 ft in your sheet`; empty where the value was computed, or is shown in
            the sender's unit anyway.
        """
        section, _, name = result.subject.partition(".")
        key = self.judged.get(result.rule, "")
        text = self.content.get((section, name), {}).get(key, "")
        field = fields().get(key if section == "design" else f"{section}.{key}")
        value = result.value
        if not text or field is None or field.leaf.kind != "quantity":
            return ""
        if not isinstance(value, Measure) or value.magnitude is None:
            return ""
        own_unit = text.lstrip("-+−.0123456789eE").strip()
        kind = field.leaf.quantity
        given = units.from_si(value_of(field.leaf, text), value.unit, kind)
        # A computed quantity can have the same name as a stated one.
        own = (value.unit, self.speech.unit(value.unit))
        if own_unit in own or not isclose(given, value.magnitude, rel_tol=SAME):
            return ""
        return f"{text} in your {self.named}"
