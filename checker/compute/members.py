"""Members of groups: the loops of a header, the parts of a loop, the readings of a test."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.compute.columns import NO_REASON, Column, Grouped, Reasons
from checker.compute.kept import Kept
from checker.compute.naming import OF_PARTS, TABLE_OF, leaf_named, reference, subject_of
from checker.compute.reasons import NO_PUMP, NO_SETTING, NOTHING
from checker.compute.runs import runs
from checker.design.schema import DESIGNS

if TYPE_CHECKING:
    from checker.compute.graph import Graph

Part: TypeAlias = tuple[Array, Index, Reasons | None]
"""Values of members, the row of the subject that each belongs to, and their reasons."""


class KeptMembers:
    """What a graph keeps of its members once worked out. It has no reference to the graph, because
    a cycle would have to be garbage-collected.
    """

    def __init__(self) -> None:
        self.parts: Kept[Part] = Kept()
        self.loopless: dict[str, Mask] = {}
        self.groups: dict[tuple[str, str], Index] = {}
        self.under_tests: tuple[Index, Index, Index] | None = None

    def take(self, earlier: KeptMembers) -> None:
        """Start from what an earlier graph kept, as far as no change can reach it.

        Args:
            earlier: what a graph of the same tables kept; unchanged.
        """
        self.parts.take(earlier.parts)
        self.loopless, self.groups = earlier.loopless, earlier.groups
        self.under_tests = earlier.under_tests


class Members:
    """The members of the rows of one graph."""

    def __init__(self, graph: Graph, kept: KeptMembers) -> None:
        self.graph = graph
        self._parts, self._loopless, self._groups = kept.parts, kept.loopless, kept.groups
        self._kept = kept

    def grouped(self, subject: str, name: str) -> Grouped:
        """The values of a part for sums, counts and extremes.

        Args:
            subject: whose rows are the groups, a key of `naming.TABLE_OF`.
            name: part and column, such as `loops.flow` or `readings.pressure`.

        Returns:
            One group for each row of the subject.

        Raises:
            KeyError: the name means nothing.
        """
        values, group, _ = self.part(subject, name)
        return Grouped(values, group, self.graph.size(subject), self._unknown_groups(subject, name))

    def part(self, subject: str, name: str) -> Part:
        """The values of a part, which row each belongs to, and why some are missing.

        A member that may belong to several rows, because its reference is missing, is there once
        for each of these.

        Args:
            subject: whose rows the members belong to, a key of `naming.TABLE_OF`.
            name: part and column, such as `loops.flow` or `readings.pressure`.

        Returns:
            Values in SI and °C, rows of the subject, and reasons, shape (members,) each; None for
            the reasons where nothing is missing. Not to be changed.

        Raises:
            KeyError: the name means nothing.
        """
        return self.graph.kept(self._parts, (subject, name), self._resolve_part)

    def membership(self, subject: str, part: str) -> list[tuple[str, Index, Index]]:
        """Whose data the members of a part have.

        Args:
            subject: a key of `naming.TABLE_OF`.
            part: such as `loops`, one of `naming.OF_PARTS`.

        Returns:
            Column, rows and groups, one for each kind of member. The column is empty for members
            whose own values count. For a member whose reference is missing, and which may belong to
            any group of its design, it is the column of that reference, of the loop or test,
            `header` for the test itself, `pump` for headers that state none.
        """
        table = TABLE_OF[subject]
        if part == "pumped":
            return [("", *self.graph.pumps.together()), ("pump", *self.graph.pumps.in_doubt())]
        if part != "tested_loops":
            members = TABLE_OF[OF_PARTS[part]]
            group = self._group(members, table)
            placed = np.flatnonzero(group >= 0)
            found = [("", placed, group[placed])]
            if len(placed) < len(group):
                _, rows, groups = self._unplaced(members, table, table)
                found.append((reference(members, table).name, rows, groups))
            return found
        loops, known, unknown = self._under_tests()
        _, lost, groups = self._unplaced("loops", "headers", "pressure_tests")
        return [("", loops, known), ("header", lost, groups), ("test.header", unknown, unknown)]

    def rows_of(self, subject: str, name: str, row: int) -> tuple[str, list[int]]:
        """Where the members of a part are that belong to one row.

        Args:
            subject: a key of `naming.TABLE_OF`.
            name: part and column, such as `loops.flow`; only the part matters.
            row: of the subject.

        Returns:
            The members' table, and their rows in it; members whose reference is missing are left
            out.
        """
        part = name.partition(".")[0]
        if part == "pumped":
            rows, groups = self.graph.pumps.together()
            return "headers", rows[groups == row].tolist()
        if part == "pump_curve":
            row = int(self.graph.pumps.owner()[row])
        if part == "tested_loops":
            headers = self._group("pressure_tests", "headers")
            same = (self._group("loops", "headers") == headers[row]) & (headers[row] >= 0)
            return "loops", np.flatnonzero(same).tolist()
        if part in OF_PARTS:
            of = TABLE_OF[OF_PARTS[part]]
            return of, np.flatnonzero(self._group(of, TABLE_OF[subject]) == row).tolist()
        parents = self.graph.tables[part].above()
        return part, np.flatnonzero(parents == row).tolist()

    def _unknown_groups(self, subject: str, name: str) -> Mask | None:
        """Groups whose design has no loop at all, so that it is unknown which loops they have."""
        if not name.startswith(("loops.", "parts.")):
            return None
        found = self._loopless.get(subject)
        if found is None:
            tables = self.graph.tables
            listed = np.zeros(len(tables.designs), dtype=bool)
            listed[tables.design_of("loops")] = True
            found = self._loopless[subject] = ~listed[tables.design_of(TABLE_OF[subject])]
        return found

    def _resolve_part(self, subject: str, name: str) -> Part:
        part, _, rest = name.partition(".")
        table = TABLE_OF[subject]
        if part in ("loops", "parts", "tests"):
            of = OF_PARTS[part]
            column = self.graph.column(of, rest)
            group = self._group(TABLE_OF[of], table)
            placed = np.flatnonzero(group >= 0)
            if len(placed) == len(group):
                return column.values, group, column.reasons
            return self._joined(
                (column, placed, group[placed]), self._unplaced(TABLE_OF[of], table, table)
            )
        if part == "tested_loops":
            return self._loops_of_test_header(rest)
        if part == "pumped":
            known = self.graph.column("header", rest), *self.graph.pumps.together()
            lost, groups = self.graph.pumps.in_doubt()
            if not len(lost):
                return self._joined(known)
            size = self.graph.size("header")
            none = self.graph.reason_words.of_rows(NO_PUMP, "headers", np.arange(size))
            nobodys = Column(np.full(size, np.nan), none)
            return self._joined(known, (nobodys, lost, groups))
        rows = self.graph.tables[part]
        leaf = leaf_named(part, rest)
        if leaf is None:
            raise KeyError(name)
        values, parents = rows.column(leaf.slot), rows.above()
        if part == "pump_curve":
            which, parents = self.graph.pumps.served(parents)
            values = values[which]
        return values, parents, None

    def _group(self, members: str, table: str) -> Index:
        """For each loop or test the row of the header, room and so on that it names; -1 where it
        names none.
        """
        if table == DESIGNS:
            return self.graph.tables.design_of(members)
        found = self._groups.get((members, table))
        if found is None:
            values = self._link(members, table).values
            found = np.where(np.isnan(values), -1, values).astype(np.intp)
            found.setflags(write=False)
            self._groups[members, table] = found
        return found

    def _link(self, members: str, table: str) -> Column:
        """The references from one table to another."""
        return self.graph.column(subject_of(members), reference(members, table).name)

    def _unplaced(self, members: str, table: str, groups: str) -> tuple[Column, Index, Index]:
        """The missing references, each once for every group that it may belong to.

        groups: the table whose rows are the groups; those of the member's own design count. Returns
        the references, their rows and the groups.
        """
        link = self._link(members, table)
        lost = np.flatnonzero(np.isnan(link.values))
        designs, of = (
            self.graph.tables.design_of(groups),
            self.graph.tables.design_of(members)[lost],
        )
        which, group = runs(np.searchsorted(designs, of), np.searchsorted(designs, of, "right"))
        return link, lost[which], group

    @staticmethod
    def _joined(*parts: tuple[Column, Index, Index]) -> Part:
        """A part made from some rows of several columns, each with its group."""
        values = np.concatenate([column.values[rows] for column, rows, _ in parts])
        reasons = [
            np.full(len(rows), NO_REASON) if column.reasons is None else column.reasons[rows]
            for column, rows, _ in parts
        ]
        return values, np.concatenate([group for *_, group in parts]), np.concatenate(reasons)

    def _loops_of_test_header(self, name: str) -> Part:
        """Every loop on the header of every pressure test; a loop may be under several tests."""
        column = self.graph.column("loop", name)
        header = self._link("pressure_tests", "headers")
        loops, tests, unknown = self._under_tests()
        return self._joined(
            (column, loops, tests),
            self._unplaced("loops", "headers", "pressure_tests"),
            (header, unknown, unknown),
        )

    def _under_tests(self) -> tuple[Index, Index, Index]:
        """Loops on a test's header, the test of each, and the tests that name no header."""
        if self._kept.under_tests is None:
            self._kept.under_tests = self._sorted_under_tests()
        return self._kept.under_tests

    def _sorted_under_tests(self) -> tuple[Index, Index, Index]:
        header_of_loop = self._group("loops", "headers")
        order = np.argsort(header_of_loop, kind="stable")
        ordered = header_of_loop[order]
        header = self._group("pressure_tests", "headers")
        known, unknown = np.flatnonzero(header >= 0), np.flatnonzero(header < 0)
        wanted = header[known]
        which, found = runs(
            np.searchsorted(ordered, wanted), np.searchsorted(ordered, wanted, "right")
        )
        return order[found], known[which], unknown

    def first_missing(self, subject: str, name: str) -> Column:
        """Why the members of each group are not all known.

        Args:
            subject: whose rows are the groups, a key of `naming.TABLE_OF`.
            name: part and column, such as `loops.flow`.

        Returns:
            The reason of each group's first missing member, or that it has no member; without
            values.
        """
        size = self.graph.size(subject)
        values, group, reasons = self.part(subject, name)
        found: Reasons = np.full(size, NO_REASON, dtype=np.int64)
        part = name.partition(".")[0]
        table = TABLE_OF[subject]
        empty = np.bincount(group, minlength=size) == 0
        if not np.count_nonzero(empty):
            pass
        elif part == "pump_curve":
            found = np.where(empty, self._without_curve(), found)
        else:
            none = self.graph.reason_words.of_rows(NOTHING[part], table, np.arange(size))
            found = np.where(empty, none, found)
        missing = np.flatnonzero(np.isnan(values))
        if len(missing):
            backward = missing[::-1]
            if reasons is not None:
                found[group[backward]] = reasons[backward]
            else:
                words, groups = f"a value '{name}' is not given", group[backward]
                found[groups] = self.graph.reason_words.of_rows(words, table, groups)
        return Column(np.empty(0), found)

    def _without_curve(self) -> Reasons:
        """For each header why its pump has no curve, from the header that states the pump."""
        several = self.graph.pumps.several_speeds()
        owner = self.graph.pumps.owner()
        said = (NOTHING["pump_curve"], NO_SETTING, NO_PUMP)
        curve, setting, pump = (self.graph.reason_words.number(words, "headers") for words in said)
        lacking = np.where(self.graph.pumps.without(), pump, curve)
        return np.where(several[owner], setting, lacking) + owner
