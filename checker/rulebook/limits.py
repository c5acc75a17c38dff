"""Reads a limit of a rule file: its comparison, bounds, conditions and sources."""

from __future__ import annotations

from functools import partial
from typing import Any

from msgspec.structs import replace

from checker.outcome.results import SEVERITIES
from checker.reading.documents import START, Mapping, Place, Problem, Sequence
from checker.rulebook.literals import nature, number_of
from checker.rulebook.model import GAP, Bound, Condition, RuleLimit, Table
from checker.rulebook.nodes import Node
from checker.words import choices

COMPARISONS = ("at_most", "at_least", "between", "one_of", "before", "after", "review")

FITTING = {
    "quantity": ("at_most", "at_least", "between", "one_of", "review"),
    "integer": ("at_most", "at_least", "between", "one_of", "review"),
    "date": ("before", "after", "review"),
    "boolean": ("one_of", "review"),
    "enumeration": ("one_of", "review"),
}
"""The comparisons that make sense for each kind of value."""

STRICTLY = {"at_most": "less than", "at_least": "more than"}
"""The words for a limit that an equal value breaks."""


class LimitNode(Node):
    """A part of a rule file that has limits."""

    def limits(self, node: Any, place: Place, severity: str) -> list[RuleLimit]:
        """Read one item of a rule's limits.

        What the rule compares (`described`, `compared`) must have been read before.

        Args:
            node: the item as typed.
            place: of the whole item, for a mistake that is not about one key.
            severity: the rule's, for a limit that states none.

        Returns:
            One limit for each source that the item names; empty where it has mistakes, which are
            then in `problems`.

        Raises:
            Problem: the item cannot be read as a limit at all, because its comparison, source or
                severity is missing or unknown.
        """
        if not isinstance(node, Mapping):
            raise Problem("A limit is a mapping such as 'at_most: 100 m'.", place)
        named = [key for key in COMPARISONS if key in node]
        if len(named) != 1:
            raise Problem(f"A limit has one of {', '.join(COMPARISONS)}.", place)
        comparison = named[0]
        fitting = FITTING[self.described.kind]
        if comparison not in fitting:
            raise Problem(
                f"'{comparison}' does not fit '{self.compared}', which is "
                f"{nature(self.described)}; write one of {', '.join(fitting)}.",
                self.place(node, comparison),
            )
        review = node["review"].strip() if comparison == "review" else ""
        for name in GAP.findall(review):
            self.describe(name, self.place(node, "review"))
        strict = node.get("strict", "no") == "yes"
        if strict and comparison not in STRICTLY:
            raise Problem(
                f"'strict' goes with {' or '.join(STRICTLY)} alone.", self.place(node, "strict")
            )
        before = len(self.problems)
        no_bounds: tuple[Bound, ...] = ()
        bounds = (
            no_bounds if review else self.noted(lambda: self.bounds(node, comparison), no_bounds)
        )
        no_conditions: tuple[Condition, ...] = ()
        when = self.noted(lambda: self.conditions(node.get("when"), node, "when"), no_conditions)
        about = node.get("scope") or Mapping(START)
        scope = self.noted(
            lambda: self.known.scope(about, self.place(node, "scope")), no_conditions
        )
        if "source" not in node:
            raise Problem("The limit names no source; every limit has one.", place)
        sources = node["source"] if isinstance(node["source"], Sequence) else [node["source"]]
        if "severity" in node and node["severity"] not in SEVERITIES:
            raise Problem(
                f"'{node['severity']}' is not known; {choices(node['severity'], SEVERITIES)}",
                self.place(node, "severity"),
            )
        caution = self.noted(lambda: self.caution_of(node), "")
        place = self.place(node, "source")
        documents = {
            name: self.noted(partial(self.document, name, place), None) for name in sources
        }
        if len(self.problems) > before:
            return []
        found = []
        for name, document in documents.items():
            assert document is not None
            found.append(
                RuleLimit(
                    id=node.get("id", name) if len(sources) == 1 else f"{node.get('id', '')}{name}",
                    comparison=comparison,
                    bounds=bounds,
                    when=when,
                    document=replace(document, scope=document.scope + scope),
                    source=self.source(document.source, node),
                    group=document.code or self.known.group,
                    severity=node.get("severity", severity),
                    fallback=node.get("fallback", "no") == "yes",
                    strict=strict,
                    caution=caution,
                    review=review,
                    words=GAP.sub(r"\1", review)
                    or f"{_compares(comparison, strict)} {_in_words(node[comparison])}",
                )
            )
        return found

    @staticmethod
    def one_id_each(before: list[RuleLimit], more: list[RuleLimit], place: Place) -> None:
        """Refuse two limits with one id: a rule that overrides one of them could not tell them
        apart.

        Args:
            before: the limits of the rule that were read before.
            more: those of one item.
            place: of that item.

        Raises:
            Problem: one of `more` has the id of one of `before`.
        """
        known = {limit.id for limit in before}
        for limit in more:
            if limit.id in known:
                raise Problem(f"Two limits have the id '{limit.id}'; give this one an 'id'.", place)

    def bounds(self, node: Mapping, comparison: str) -> tuple[Bound, ...]:
        """Read what a limit compares the rule's value with.

        Args:
            node: the limit, which has the key `comparison`.
            comparison: one of COMPARISONS other than `review`.

        Returns:
            One bound; for `between` the lower and the upper; for `one_of` any number.

        Raises:
            Problem: a bound cannot be read, is the compared value itself, or the first of `between`
                is above the second.
        """
        raw = node[comparison]
        place = self.place(node, comparison)
        if comparison == "between" and not (isinstance(raw, Sequence) and len(raw) == 2):
            raise Problem("between: write two values, '[4 bar, 6 bar]'.", place)
        many = raw if isinstance(raw, Sequence) else [raw]
        found = tuple(self.bound(one, place) for one in many)
        if any(bound.name == self.compared for bound in found):
            raise Problem(
                f"The limit is '{self.compared}', the value itself, which always keeps it; write "
                "a value or another name.",
                place,
            )
        low, high = (found[0].number, found[-1].number)
        if comparison == "between" and low is not None and high is not None and low > high:
            raise Problem(
                f"between: the first value is above the second, so nothing lies between them; "
                f"write '[{raw[1]}, {raw[0]}]'.",
                place,
            )
        return found

    def bound(self, raw: Any, place: Any) -> Bound:
        """Read one bound.

        Args:
            raw: as typed: a value with its unit, the name of a field or quantity, or the mapping of
                a table.
            place: where it is in the file.

        Returns:
            The bound, numbers in SI.

        Raises:
            Problem: it is none of these, or is not of the same kind as the compared value.
        """
        if isinstance(raw, Mapping):
            return Bound(table=self.table(raw, place))
        if not isinstance(raw, str):
            raise Problem("A value, a name or a table of steps is expected here.", place)
        described = self.known.vocabulary.describe(self.subject, raw)
        if described is not None:
            if nature(described) != nature(self.described):
                raise Problem(
                    f"'{raw}' is {nature(described)}; it cannot be compared with "
                    f"'{self.compared}', which is {nature(self.described)}.",
                    place,
                )
            return Bound(name=raw)
        if self.described.kind == "quantity" and raw[:1].isalpha():
            near = choices(raw, self.known.vocabulary.names(self.subject))
            raise Problem(f"'{raw}' is neither a value nor the name of one; {near}", place)
        return Bound(number=number_of(raw, self.described, place))

    def table(self, raw: Mapping, place: Any) -> Table:
        """Read a limit in steps.

        Args:
            raw: the mapping, with `by` and either `steps` (the column equals a key) or `from` (the
                largest key that is not above the column counts).
            place: where it is in the file.

        Returns:
            The table, in SI, its keys in rising order.

        Raises:
            Problem: a key is missing, or a name or value cannot be read.
        """
        exact = "steps" in raw
        rows = raw.get("steps" if exact else "from")
        if "by" not in raw or not isinstance(rows, Mapping):
            raise Problem("A table has 'by: field' and 'steps:' or 'from:'.", place)
        described = self.describe(raw["by"], self.place(raw, "by"))
        pairs = sorted(
            (
                number_of(key, described, rows.places[key][0]),
                number_of(value, self.described, rows.places[key][1]),
            )
            for key, value in rows.items()
        )
        words = (
            f"{raw['by']} is not in the table ({', '.join(rows)})"
            if exact
            else f"{raw['by']} is below the table (from {next(iter(rows))})"
        )
        return Table(
            raw["by"], tuple(k for k, _ in pairs), tuple(v for _, v in pairs), exact, words
        )


def _compares(comparison: str, strict: bool) -> str:
    """A comparison in words."""
    return STRICTLY[comparison] if strict else comparison.replace("_", " ")


def _in_words(raw: Any) -> str:
    """A limit's values as the rule's file writes them."""
    if isinstance(raw, Sequence):
        return " and ".join(_in_words(one) for one in raw)
    if not isinstance(raw, Mapping):
        return str(raw)
    exact = "steps" in raw
    rows = raw["steps" if exact else "from"]
    steps = ", ".join(f"{key if exact else f'from {key}'}: {value}" for key, value in rows.items())
    return f"by {raw['by']} ({steps})"
