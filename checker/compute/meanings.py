"""What a name means for a subject."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from checker import units
from checker.compute.naming import EARLIER, OF_PARTS, TABLE_OF, WHOLE, leaf_named, subject_of
from checker.compute.registry import REGISTRY
from checker.design.leaves import Leaf
from checker.design.schema import DESIGNS, design_format
from checker.rulebook.model import Described

_NO_LEAF = Leaf("", "")


class Resolved(NamedTuple):
    """What a name means for a subject.

    Attributes:
        kind: `computed` (a quantity of its own), `field` (of its own table), `measured` (of its
            balance), `linked` (a name of the record that a field refers to), `whole` (a name of its
            design), or `earlier` (a name in an earlier graph).
        leaf: the field; the one that refers to the record where it is linked.
        subject: that `name` is a name of; empty for a quantity or field of its own.
        name: there.
    """

    kind: str
    leaf: Leaf
    subject: str = ""
    name: str = ""


@cache
def meaning(subject: str, name: str) -> Resolved | None:
    """What the name means for a subject.

    Args:
        subject: a key of `naming.TABLE_OF`.
        name: with dots, such as `room.temperature`; of a part's members (`loops.flow`) there is no
            meaning.

    Returns:
        None where it means nothing.
    """
    if (subject, name) in REGISTRY:
        return Resolved("computed", _NO_LEAF)
    table = TABLE_OF[subject]
    leaf = leaf_named(table, name.removeprefix("given."))
    if leaf is not None:
        return Resolved("field", leaf)
    first, _, rest = name.partition(".")
    link = leaf_named(table, first)
    if link is not None and link.kind == "reference" and rest:
        other = subject_of(link.refers_to)
        return Resolved("linked", link, other, rest) if meaning(other, rest) else None
    if first == "balance" and subject == "loop":
        leaf = leaf_named("balance", rest)
        return None if leaf is None else Resolved("measured", leaf)
    if first == EARLIER:
        return Resolved(EARLIER, _NO_LEAF, subject, rest) if meaning(subject, rest) else None
    if table != DESIGNS and first in WHOLE:
        rest = name.removeprefix("design.")
        return Resolved("whole", _NO_LEAF, "design", rest) if meaning("design", rest) else None
    return None


@cache
def of_plan(subject: str, name: str) -> bool:
    """Whether a name has a value only for designs with a plan.

    Args:
        subject: a key of `naming.TABLE_OF`.
        name: with dots; may be of a part's members (`loops.drawn_length`).

    Returns:
        Also true where an input that cannot be left out comes from a plan.
    """
    part, _, rest = name.partition(".")
    if part in OF_PARTS:
        return of_plan(OF_PARTS[part], rest)
    meant = meaning(subject, name)
    if meant is None or meant.kind != "computed":
        return meant is not None and bool(meant.subject) and of_plan(meant.subject, meant.name)
    known = REGISTRY[subject, name]
    return known.of_plan or any(
        of_plan(subject, own) for own in known.inputs if own not in known.optional
    )


class Names:
    """All names that rules may use: every column of every subject.

    All instances are equal, so that rules which were read once are kept whichever instance asks
    (`rulebook.loading`).
    """

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Names)

    def __hash__(self) -> int:
        return hash(Names)

    def subjects(self) -> list[str]:
        """All subjects."""
        return [*TABLE_OF]

    def names(self, subject: str) -> list[str]:
        """All names of the subject itself.

        Args:
            subject: a key of `naming.TABLE_OF`.

        Returns:
            Its fields in the order of the format, then its quantities; a quantity may have the name
            of a field.
        """
        own = [leaf.name for leaf in design_format().shapes[TABLE_OF[subject]].columns]
        return own + [name for of, name in REGISTRY if of == subject]

    def describe(self, subject: str, name: str) -> Described | None:
        """What kind of value a name has.

        Args:
            subject: a key of `naming.TABLE_OF`.
            name: with dots, such as `room.temperature`.

        Returns:
            None where the name is unknown, or refers to another record.
        """
        meant = meaning(subject, name)
        if meant is None:
            return None
        if meant.kind == "computed":
            unit = REGISTRY[(subject, name)].unit
            return Described("quantity", unit, units.kind_of(unit))
        if meant.kind in ("field", "measured"):
            return None if meant.leaf.kind == "reference" else described(meant.leaf)
        return self.describe(meant.subject, meant.name)


def described(leaf: Leaf) -> Described:
    """What kind of value a field has.

    Args:
        leaf: a field that does not refer to another record.

    Returns:
        Its unit in reports and kind of quantity, or its options.
    """
    if leaf.kind == "quantity":
        return Described("quantity", leaf.unit, leaf.quantity)
    return Described(leaf.kind, options=leaf.options)
