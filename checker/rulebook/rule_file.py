"""Reads one rule file into a rule."""

from __future__ import annotations

from functools import partial
from string import Formatter

from checker.outcome.results import SEVERITIES
from checker.reading.documents import Mapping, Place, Problem, line_of
from checker.rulebook.limits import LimitNode
from checker.rulebook.literals import day_of, number_of
from checker.rulebook.model import GAP, STAGES, Condition, Example, Rule, RuleLimit, Uncertainty
from checker.rulebook.nodes import REQUIRED
from checker.words import choices

MOST_SHARE, MOST_DIFFERENCE = 0.03, 0.5
"""The largest uncertainty of a method, a share and K; beyond that the method must be improved."""


class RuleFile(LimitNode):
    """A whole rule file."""

    def rule(self, name: str, topic: str) -> Rule | None:
        """Read the whole file.

        Args:
            name: the rule's id, which is the name of its file.
            topic: the name of the folder; a rule that overrides another keeps that rule's topic.

        Returns:
            The rule; None where there are mistakes in it, which are then in `problems`.

        Raises:
            Problem: a required key is missing and the schema has not said so.
        """
        mapping, before = self.mapping, self.before
        if before is None and not self.misfits:
            for key in REQUIRED:
                if key not in mapping:
                    raise Problem(f"The key '{key}' is missing; a rule has one.", mapping.place)
        self.subject = self.part(
            ("subject",),
            lambda: self.one_of(
                "subject", self.known.vocabulary.subjects(), before.subject if before else ""
            ),
            "",
        )
        if not self.subject:
            return None
        value = self.part(("value",), self.value, "")
        severity = self.part(
            ("severity",),
            lambda: self.one_of("severity", SEVERITIES, before.severity if before else ""),
            SEVERITIES[0],
        )
        nothing: tuple[Condition, ...] = before.applies if before else ()
        applies = self.part(
            ("applies",),
            lambda: self.conditions(mapping.get("applies"), mapping, "applies") or nothing,
            nothing,
        )
        limits: list[RuleLimit] = []
        for number, node, place in self.items("limits") if value else ():
            none: list[RuleLimit] = []
            found = self.part(("limits", number), partial(self.limits, node, place, severity), none)
            self.noted(partial(self.one_id_each, limits, found, place), None)
            limits += found
        examples = [
            self.part(("examples", number), partial(self.example, node, place), None)
            for number, node, place in self.items("examples")
        ]
        rule = Rule(
            id=name,
            title=self.text("title", before.title if before else ""),
            subject=self.subject,
            value=value,
            described=self.described,
            severity=severity,
            stage=self.part(
                ("from",),
                lambda: self.one_of("from", STAGES, before.stage if before else ""),
                STAGES[0],
            ),
            applies=applies,
            limits=tuple(limits),
            at=self.part(("at",), lambda: self.field_shown(value), ""),
            found=self.part(("found",), lambda: self.template("found"), ""),
            besides=self.part(("besides",), self.besides, ""),
            why=self.text("why", before.why if before else ""),
            remedy=self.text("remedy", before.remedy if before else ""),
            caution=self.part(("caution",), self.caution, ""),
            of_remedy=self.part(("caution_where",), self.of_remedy, False),
            examples=tuple(example for example in examples if example is not None),
            topic=before.topic if before else topic,
            path=self.shown,
            line=1,
            waivable=self.part(
                ("waivable",), lambda: self.one_of("waivable", ("yes", "no"), "no") == "yes", False
            ),
            uncertainty=self.part(
                ("uncertainty",),
                lambda: self.uncertainty({severity, *(limit.severity for limit in limits)}),
                None,
            ),
            under=self.text("under", before.under if before else ""),
            unlimited=self.text("unlimited", before.unlimited if before else ""),
            changes=self.part(("changes",), self.named_changes, ()),
            raised_by=self.part(("raised_by",), self.raised_by, ()),
        )
        return None if self.problems else rule

    def uncertainty(self, severities: set[str]) -> Uncertainty | None:
        """Read the uncertainty of the rule's method.

        Args:
            severities: of the rule and all its limits.

        Returns:
            The uncertainty; that of the rule that is overridden, or None, where the file states
            none.

        Raises:
            Problem: it is neither a share nor kelvin, is larger than allowed, or a limit is
                critical.
        """
        node = self.mapping.get("uncertainty")
        if node is None:
            return self.before.uncertainty if self.before else None
        place = self.place(self.mapping, "uncertainty")
        if SEVERITIES[0] in severities:
            raise Problem("uncertainty: what can hurt is never let pass as minor.", place)
        text = str(node["within"])
        number, _, unit = text.partition(" ")
        try:
            amount = float(number)
        except ValueError:
            unit = ""
        if unit not in ("%", "K"):
            raise Problem(f"uncertainty: '{text}' is neither a share, '3 %', nor kelvin.", place)
        share, difference = (amount / 100, 0.0) if unit == "%" else (0.0, amount)
        if share > MOST_SHARE * (1 + 1e-9) or difference > MOST_DIFFERENCE * (1 + 1e-9):
            raise Problem("uncertainty: at most 3 % or 0.5 K; correct the method instead.", place)
        document = self.document(node["source"], self.place(node, "source"))
        assert document is not None
        return Uncertainty(share, difference, text, self.source(document.source, node))

    def named_changes(self) -> tuple[str, ...]:
        """Read which changes may clear a fail; else those of the rule that is overridden.

        Returns:
            The names of the changes, the cheapest first.

        Raises:
            Problem: there is no such change.
        """
        if "changes" not in self.mapping:
            return self.before.changes if self.before else ()
        known = self.known.levers
        for number, name, place in self.items("changes"):
            if name not in known:
                raise Problem(
                    f"changes[{number + 1}]: there is no change '{name}'; {choices(name, known)}",
                    place,
                )
        return tuple(self.mapping["changes"])

    def raised_by(self) -> tuple[str, ...]:
        """Columns that only raise the value; else those of the rule that it overrides."""
        if "raised_by" not in self.mapping:
            return self.before.raised_by if self.before else ()
        for _, name, place in self.items("raised_by"):
            self.describe(name, place)
        return tuple(self.mapping["raised_by"])

    def value(self) -> str:
        """Read the name of what the rule compares, and keep what that means for its limits.

        Returns:
            The name of a field or quantity of the subject.

        Raises:
            Problem: the subject has no such name, or the rule overrides one that compares another
                value.
        """
        before, mapping = self.before, self.mapping
        name = str(mapping.get("value", before.value if before else ""))
        place = self.place(mapping, "value")
        if before and (name, self.subject) != (before.value, before.subject):
            raise Problem(
                f"'{before.id}' is a rule of the program and judges '{before.value}' of each "
                f"{before.subject}, not '{name}' of each {self.subject}; give your rule's file "
                "another name.",
                place,
            )
        self.described = self.describe(name, place)
        self.compared = name
        return name

    def caution(self) -> str:
        """The caution that the rule names, in words; empty where it names none."""
        if "caution" not in self.mapping:
            return self.before.caution if self.before else ""
        return self.caution_of(self.mapping)

    def of_remedy(self) -> bool:
        """Whether the caution is shown only where something was found."""
        if "caution_where" not in self.mapping:
            return self.before.of_remedy if self.before else False
        return self.one_of("caution_where", ("applies", "found")) == "found"

    def field_shown(self, value: str) -> str:
        """Read the field that a finding points to.

        Args:
            value: the name of what the rule compares.

        Returns:
            `at`, else that of the rule that is overridden, else `value`.

        Raises:
            Problem: the subject has no field or quantity of that name.
        """
        at = self.mapping.get("at")
        if at is not None:
            self.describe(at, self.place(self.mapping, "at"))
            return str(at)
        return self.before.at if self.before else value

    def besides(self) -> str:
        """What follows a fail; else that of the rule that this one overrides."""
        text = self.text("besides", self.before.besides if self.before else "")
        for name in GAP.findall(text):
            self.describe(name, self.place(self.mapping, "besides"))
        return text

    def template(self, key: str) -> str:
        """Read the words of a fail, with placeholders.

        Args:
            key: of the words in the file.

        Returns:
            The words without space around them; where the file has none, `found` of the rule that
            is overridden, or empty.

        Raises:
            Problem: a placeholder is not known, has a format, or stands for the value twice.
        """
        text = self.mapping.get(key, self.before.found if self.before else "")
        bare = [(name, "", None) for name in ("value", "limit", "bound")]
        try:
            gaps = [tuple(gap) for _, *gap in Formatter().parse(text) if gap[0] is not None]
        except ValueError:
            gaps = [()]  # a brace without its other half
        if not {*gaps}.issubset(bare):
            raise Problem(
                f"{key}: only {{value}}, {{limit}} and {{bound}} can be filled in, without a "
                "format.",
                self.place(self.mapping, key),
            )
        if gaps.count(bare[0]) > 1:
            words = f"{key}: {{value}} can be used in it once."
            raise Problem(words, self.place(self.mapping, key))
        return str(text).strip()

    def example(self, node: Mapping, place: Place) -> Example:
        """Read one example; its values must be of fields or quantities of the subject.

        Args:
            node: the item of `examples`.
            place: of the item, whose line messages about the example name.

        Returns:
            The example, values as typed.

        Raises:
            Problem: a name, a value or the day cannot be read.
        """
        values = []
        for name, text in node.items():
            if name in ("gives", "codes", "on"):
                continue
            described = self.describe(name, node.places[name][0])
            number_of(text, described, node.places[name][1])
            values.append((name, text))
        codes = node.get("codes")
        return Example(
            tuple(values),
            node["gives"],
            None if codes is None else tuple(codes),
            day_of(node.get("on"), place),
            line_of(place),
        )
