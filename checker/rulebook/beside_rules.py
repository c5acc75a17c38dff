"""Reads files beside the rules: ranges of unknown data, tolerances of a site, changes of a
design.
"""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from checker.reading.documents import Mapping, Place, Problem
from checker.rulebook.beside_records import Lever, Range, Steps, Tolerance
from checker.rulebook.literals import difference_of, nature, number_of
from checker.rulebook.model import STAGES, Described
from checker.rulebook.nodes import Node

SIZES = {"pipe size": "length", "flow setters": "volume_flow"}
"""Changes whose sizes are pairs, and what these are."""


class BesideRules(Node):
    """One entry of such a file."""

    def range(self, place: Place) -> Range:
        """Read the entry as the range of a value that designs may leave out.

        Args:
            place: of the whole entry, for a mistake that is not about one key.

        Returns:
            The range, in SI, with the conditions under which it counts.

        Raises:
            Problem: the field is no quantity, the least is above the most, or a name, value or
                source is not known.
        """
        mapping = self.mapping
        self.subject = self.one_of("subject", self.known.vocabulary.subjects())
        field = mapping["field"]
        described = self.describe(field, self.place(mapping, "field"))
        if described.kind != "quantity":
            raise Problem(f"'{field}' is {nature(described)}, which has no range.", place)
        least, most = (
            number_of(mapping[key], described, self.place(mapping, key))
            for key in ("least", "most")
        )
        if least > most:
            raise Problem("The least is above the most.", self.place(mapping, "least"))
        document = self.document(mapping["source"], self.place(mapping, "source"))
        assert document is not None
        return Range(
            self.subject,
            field,
            described,
            self.conditions(mapping.get("when"), mapping, "when"),
            least,
            most,
            self.source(document.source, mapping),
        )

    def tolerance(self, place: Place) -> Tolerance:
        """Read the entry as a tolerance between what is stated and what is built.

        Args:
            place: of the whole entry, for a mistake that is not about one key.

        Returns:
            The tolerance in SI; one of `within` and `share` is a number, the other NaN.

        Raises:
            Problem: the field is no quantity, not exactly one of `within` and `share` is stated, or
                a name, value or source is not known.
        """
        mapping = self.mapping
        self.subject = self.one_of("subject", self.known.vocabulary.subjects())
        described = self.describe(mapping["field"], self.place(mapping, "field"))
        if described.kind != "quantity" or ("within" in mapping) == ("share" in mapping):
            raise Problem(f"{mapping['name']}: give 'within' or 'share' of a quantity.", place)
        within = share = float("nan")
        if "within" in mapping:
            within = difference_of(mapping["within"], described, self.place(mapping, "within"))
        else:
            fraction = Described("quantity", measure="fraction")
            share = number_of(mapping["share"], fraction, self.place(mapping, "share"))
        document = self.document(mapping["source"], self.place(mapping, "source"))
        assert document is not None
        return Tolerance(
            mapping["name"],
            mapping["title"],
            self.subject,
            mapping["field"],
            mapping.get("nearest") == "yes",
            within,
            share,
            self.source(document.source, mapping),
        )

    def lever(self, name: str) -> Lever:
        """Read the entry as a kind of change to a design.

        Args:
            name: the key of the entry, by which rules refer to the change.

        Returns:
            The change, with its steps in SI.

        Raises:
            Problem: it says neither which field is changed nor how, or a name or value is not
                known.
        """
        mapping = self.mapping
        self.subject = self.one_of("of", self.known.vocabulary.subjects())
        field = mapping.get("field", "")
        described = self.describe(field, self.place(mapping, "field")) if field else None
        if described is None and "how" not in mapping:
            raise Problem(f"{name}: state a 'field' that is changed, or 'how'.", mapping.place)
        imperial = mapping.get("imperial")
        steps = self.steps(mapping, described)
        return Lever(
            name,
            mapping["title"],
            self.subject,
            field,
            described,
            mapping.get("nearest") == "yes",
            steps,
            replace(steps, **_given(self.steps(imperial, described))) if imperial else None,
            mapping.get("way", ""),
            mapping.get("along", ""),
            self.one_of("until", STAGES),
            tuple(mapping.get("unless", ())),
            mapping.get("how", ""),
            mapping["confirm"],
            tuple(
                difference_of(text, described or Described("quantity"), place)
                for text, place in self.habit()
            ),
            tuple(text for text, _ in self.habit()),
        )

    def habit(self) -> list[tuple[str, Place]]:
        """The shifts that are tried in all designs, as written."""
        node = self.mapping.get("habit")
        return [] if node is None else [*zip(node, node.places, strict=True)]

    def steps(self, node: Mapping, described: Described | None) -> Steps:
        """Read the values that can be built or set.

        Args:
            node: the entry, or the part of it that is for designs in imperial units.
            described: what the changed field is; None for a change without a field, whose numbers
                are then plain, but for pairs of sizes.

        Returns:
            The steps in SI; what the mapping does not state keeps the defaults of `Steps`.

        Raises:
            Problem: a value cannot be read as what the field is.
        """
        found: dict[str, Any] = {}
        described = described or Described("quantity")
        for key in ("by", "fine", "within"):
            if key in node:
                found[key] = difference_of(node[key], described, self.place(node, key))
        if "least" in node:
            found["least"] = number_of(node["least"], described, self.place(node, "least"))
        if "values" in node:
            places = node["values"].places
            found["values"] = tuple(
                number_of(text, described, place)
                for text, place in zip(node["values"], places, strict=True)
            )
        if "sizes" in node:
            measure = SIZES.get(self.mapping.get("how", ""), "length")
            of = Described("quantity", measure=measure)
            found["sizes"] = tuple(
                tuple(number_of(text, of, self.place(node, "sizes")) for text in pair)
                for pair in node["sizes"]
            )
        return Steps(**found)


def _given(steps: Steps) -> dict[str, Any]:
    """The fields of some steps that are stated."""
    own = {name: getattr(steps, name) for name in steps.__struct_fields__}
    return {
        name: value for name, value in own.items() if value not in ((), None) and value == value
    }
