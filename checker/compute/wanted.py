"""Finds all data that a missing value needs, not only the first.

A graph's reason names the first datum that is missing. People are asked for everything at once, so
the graph is followed once more here, as relations between rows and data in arrays.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from checker.arrays import Index, Mask
from checker.compute.columns import Column, Grouped
from checker.compute.graph import Graph
from checker.compute.meanings import meaning
from checker.compute.naming import MEMBERS, OF_PARTS, ROWS, TABLE_OF
from checker.compute.registry import REGISTRY
from checker.design.materials import conductivity_of
from checker.design.schema import DESIGNS
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import ABSENT, OPEN, Outcome

Codes = npt.NDArray[np.int64]

_ROW_BITS = 40
_ROW = (1 << _ROW_BITS) - 1


class Datum(NamedTuple):
    """A missing datum: a field of a record, or a whole section of a design.

    Attributes:
        table: its table's name; for a section the section's.
        field: empty for a section.
        row: of the record in its table; for a section, that of the design.
    """

    table: str
    field: str
    row: int


class Pairs(NamedTuple):
    """Rows of a subject and the data that each needs, in the order of the rows.

    Attributes:
        rows: shape (pairs,).
        data: numbers that `Wanted.datum` knows, shape (pairs,).
    """

    rows: Index
    data: Codes

    @classmethod
    def of(cls, parts: Iterable[Pairs]) -> Pairs:
        """Several pairs joined, each once.

        Args:
            parts: pairs of one subject, in any order.

        Returns:
            In the order of the rows, then of the data.
        """
        known = [part for part in parts if len(part.rows)]
        if not known:
            return NOTHING
        rows = np.concatenate([part.rows for part in known])
        data = np.concatenate([part.data for part in known])
        order = np.lexsort((data, rows))
        rows, data = rows[order], data[order]
        first = np.ones(len(rows), dtype=bool)
        first[1:] = (rows[1:] != rows[:-1]) | (data[1:] != data[:-1])
        return cls(rows[first], data[first])

    def where(self, mask: Mask) -> Pairs:
        """The pairs of some rows.

        Args:
            mask: for each row of the subject whether its pairs are kept, shape (rows,).

        Returns:
            Those pairs, in the same order.
        """
        kept = mask[self.rows]
        return Pairs(self.rows[kept], self.data[kept])

    def along(self, links: Index) -> Pairs:
        """What rows of another subject need because they link to rows of this one.

        Args:
            links: for each row of the other subject the row that it links to, -1 for none.

        Returns:
            Pairs of the other subject.
        """
        first = np.searchsorted(self.rows, links)
        counts = np.searchsorted(self.rows, links, "right") - first
        counts = np.where(links < 0, 0, counts)
        which = np.repeat(np.arange(len(links)), counts)
        at = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts) + first[which]
        return Pairs(which, self.data[at])


NOTHING = Pairs(np.empty(0, dtype=np.intp), np.empty(0, dtype=np.int64))


class Wanted:
    """The data that missing values of a graph need."""

    def __init__(self, graph: Graph) -> None:
        """Find nothing yet.

        Args:
            graph: whose missing values are asked about.
        """
        self.graph = graph
        self._kinds: list[tuple[str, str]] = []
        self._numbers: dict[tuple[str, str], int] = {}
        self._known: dict[tuple[str, str], Pairs] = {}

    def datum(self, code: int) -> Datum:
        """The datum of a number.

        Args:
            code: one of `Pairs.data` of these values.

        Returns:
            Its place in the tables.
        """
        return Datum(*self._kinds[code >> _ROW_BITS], code & _ROW)

    def of_rule(self, rule: Rule, outcome: Outcome, rows: Mask, in_force: Mask) -> Pairs:
        """What a rule needs where it is open.

        Where it is not known whether the rule applies, the limits in force may still count.

        Args:
            rule: the rule.
            outcome: its outcome for every row of its subject.
            rows: which of these are wanted, shape (rows,).
            in_force: of each limit for each row, shape (limits, rows).

        Returns:
            Pairs of the rule's subject. Of limits that replace one another none is asked for where
            another lacks nothing.
        """
        subject = rule.subject
        parts = [self.of(subject, name) for name in (rule.value, *rule.raised_by)]
        parts += [self.of(subject, one.name) for one in rule.applies]
        answered: dict[str, Mask] = {}
        bounds: list[tuple[str, Mask, Pairs]] = []
        unsettled = outcome.governing < 0
        for limit_outcome, own_force in zip(outcome.limits, in_force, strict=True):
            counts = (limit_outcome.kinds == OPEN) | (
                unsettled & (limit_outcome.kinds == ABSENT) & own_force
            )
            limit = limit_outcome.limit
            names = [
                bound.name or (bound.table.by if bound.table else "") for bound in limit.bounds
            ]
            own = Pairs.of(
                self.of(subject, name)
                for name in [*filter(None, names), *(one.name for one in limit.when)]
            )
            complete = counts.copy()
            complete[own.rows] = False
            answered[limit.group] = answered.get(limit.group, np.zeros_like(counts)) | complete
            bounds.append((limit.group, counts, own))
        parts += [own.where(counts & ~answered[group]) for group, counts, own in bounds]
        return Pairs.of(parts).where(rows)

    def of(self, subject: str, name: str) -> Pairs:
        """What the missing values of a column need.

        Args:
            subject: a key of `naming.TABLE_OF`.
            name: of the column, with dots.

        Returns:
            Pairs of the subject; rows whose value is there have none.
        """
        found = self._known.get((subject, name))
        if found is None:
            found = self._known[subject, name] = self._find(subject, name)
        return found

    def _find(self, subject: str, name: str) -> Pairs:
        graph = self.graph
        meant = meaning(subject, name)
        if meant is None or meant.kind == "earlier":  # an earlier graph's value is never a datum
            return NOTHING
        if meant.kind == "computed":
            return self._computed(subject, name)
        column = graph.column(subject, name)
        missing = np.isnan(column.values)
        if not missing.any():
            return NOTHING
        table = TABLE_OF[subject]
        if meant.kind == "field":
            return self._field(table, name.removeprefix("given."), column)
        if meant.kind == "measured":
            return self._each(missing, "balance", meant.leaf.name)
        far = self.of(meant.subject, meant.name)
        if meant.kind == "whole":
            return far.along(graph.tables.design_of(table)).where(missing)
        link = graph.column(subject, meant.leaf.name)
        lost = np.isnan(link.values)
        rows = np.where(lost, -1, link.values).astype(np.intp)
        found = [self.of(subject, meant.leaf.name).where(lost), far.along(rows)]
        if lost.any():
            # It may turn out to be any record of its design, so what each of them lacks is wanted.
            far_designs = graph.tables.design_of(TABLE_OF[meant.subject])
            of_design = Pairs.of([Pairs(far_designs[far.rows], far.data)])
            found.append(of_design.along(graph.tables.design_of(table)).where(lost))
        return Pairs.of(found)

    def _field(self, table: str, name: str, column: Column) -> Pairs:
        """A field that is not stated, or that refers into a section which is not there."""
        graph = self.graph
        missing = np.isnan(column.values)
        shape = graph.tables[table].shape
        leaf = next(leaf for leaf in shape.columns if leaf.name == name)
        if leaf.kind != "reference":
            return self._each(missing, table, name)
        typed = graph.tables[table].placed(leaf.slot)
        designs = graph.tables.design_of(table)
        return Pairs.of(
            (
                self._each(missing & ~typed, table, name),
                self._each(missing & typed, leaf.refers_to, "", designs),
            )
        )

    def _each(self, rows: Mask, table: str, field: str, of: Index | None = None) -> Pairs:
        """These rows, each needing the field of its own row, or of the row in `of`."""
        number = self._numbers.get((table, field))
        if number is None:
            number = self._numbers[table, field] = len(self._kinds)
            self._kinds.append((table, field))
        found = np.flatnonzero(rows)
        data = (number << _ROW_BITS) + (found if of is None else of[found])
        return Pairs(found, data.astype(np.int64))

    def _computed(self, subject: str, name: str) -> Pairs:
        graph = self.graph
        missing = np.isnan(graph.column(subject, name).values)
        if not missing.any():
            return NOTHING
        known = REGISTRY[subject, name]
        required: list[Pairs] = []
        stands_in: list[tuple[str, Pairs]] = []
        for one in known.inputs:
            if one in ROWS:
                continue
            if one.split(".", 1)[0] in MEMBERS:
                if one not in known.optional or not one.startswith("layers."):
                    required.append(self._members(subject, one))
                continue
            own = self.of(subject, one)
            if one in known.needed_when:
                by, wanted = known.needed_when[one]
                gate = graph.column(subject, by).values
                own = own.where(np.isin(gate, wanted) | np.isnan(gate))
            if (
                one in known.optional
                and one not in known.needed_when
                and (subject, one) not in REGISTRY
            ):
                stands_in.append((one, own))
            else:
                required.append(own)
        found = Pairs.of(required).where(missing)
        # A field that another may replace is asked for only where no other is.
        alone = missing.copy()
        alone[found.rows] = False
        for one, _ in stands_in:
            alone &= np.isnan(graph.column(subject, one).values)
        return Pairs.of([found, *(own.where(alone) for _, own in stands_in)])

    def _members(self, subject: str, name: str) -> Pairs:
        """What the members of a part need, by the row that each belongs to."""
        graph = self.graph
        members = graph.members.grouped(subject, name)
        part, _, rest = name.partition(".")
        table = TABLE_OF[subject]
        size = graph.size(subject)
        empty = np.bincount(members.group, minlength=size) == 0
        of = OF_PARTS.get(part)
        section = part if of is None else TABLE_OF[of]
        if part == "pump_curve":
            owner = graph.pumps.owner()
            several = graph.pumps.several_speeds()[owner]
            none = graph.pumps.without()
            lacking = Pairs.of(
                (
                    self._each(empty & several, table, "pump.setting", owner),
                    self._each(empty & ~several & ~none, table, "pump.curve", owner),
                    self._each(empty & ~several & none, table, "pump", owner),
                )
            )
        elif of is None:
            lacking = self._each(empty, table, _PART_FIELDS[part])
        else:
            lacking = self._each(empty, section, "", graph.tables.design_of(table))
        if of is None:
            return self._layers(rest, members, lacking) if part == "layers" else lacking
        found = [lacking]
        for column, rows, groups in graph.members.membership(subject, part):
            if column.startswith("test."):
                own = self.of("test", column.removeprefix("test."))
            elif column == "pump":
                own = self._each(graph.pumps.without(), table, column)
            else:
                own = self.of(of, column or rest)
            behind = own.along(rows)
            found.append(Pairs(groups[behind.rows], behind.data))
        return Pairs.of(found)

    def _layers(self, name: str, members: Grouped, lacking: Pairs) -> Pairs:
        """The layers that do not state this, and whose material does not imply it."""
        values = members.values
        if name == "conductivity":
            table = self.graph.tables["layers"]
            slot = next(leaf.slot for leaf in table.shape.columns if leaf.name == "material")
            values = conductivity_of(values, table.column(slot))
        own = self._each(np.isnan(values), "layers", name)
        return Pairs.of([lacking, Pairs(members.group[own.rows], own.data)])


_PART_FIELDS = {
    "layers": "layers",
    "readings": "readings",
    "heat_up_steps": "heat_up.steps",
    "loop_feeds": "feeds",
}
"""The key under which a design states a part that is a list."""


def is_section(datum: Datum) -> bool:
    """Whether a whole section is missing.

    Args:
        datum: what a value needs.

    Returns:
        False for a field.
    """
    return datum.field == "" and datum.table != DESIGNS
