"""Computes columns by name through a design's tables, and carries the reasons of missing data.

A name is a column of the subject's own table (`length`), a column or quantity of a record it refers
to (`room.temperature`), of its design (`plant.supply`), or a quantity. A quantity with the name of
a field hides it; the field is then `given.flow`. A quantity on a header or a room may ask for
`loops.flow`: the values of all loops there, with the row that each belongs to.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.compute.columns import NO_REASON, Column, Reasons
from checker.compute.drawn import Drawn
from checker.compute.kept import Kept, Key
from checker.compute.meanings import Resolved, meaning
from checker.compute.members import KeptMembers, Members
from checker.compute.naming import EARLIER, TABLE_OF, slot_of
from checker.compute.numbered import Numbered
from checker.compute.pumps import Pumps
from checker.compute.reasons import HINTS, NOWHERE, Lacking, ReasonWords, no_section
from checker.compute.registry import REGISTRY, Quantity
from checker.design.leaves import Leaf
from checker.design.schema import DESIGNS, design_format
from checker.design.tables import Tables
from checker.physics.arrays import quietly
from checker.rulebook.evaluation import among

if TYPE_CHECKING:
    from checker.physics.carried import Carried

T = TypeVar("T")
Row: TypeAlias = float | Index | Mask | Drawn | Numbered
"""What a quantity takes that is not a column."""


class Graph:
    """The columns of all designs judged together, computed when first asked for."""

    def __init__(
        self,
        tables: Tables,
        *,
        second_opinion: bool = False,
        earlier: Graph | None = None,
        handed: Mapping[tuple[str, str], Array] | None = None,
        carried: Carried | None = None,
        today: float = np.nan,
    ) -> None:
        """Compute nothing yet.

        Args:
            tables: all designs judged together.
            second_opinion: whether to compute values that nothing is judged by.
            earlier: a graph of the same tables, whose work this one continues.
            handed: values that the earlier one led to, by subject and name, one for each row; found
                under `earlier.` and that name.
            carried: interpolates sections in a run of very many draws.
            today: the day of the check as `date.toordinal` numbers it, NaN where there is none.
        """
        self.tables = tables
        self.pumps = Pumps(tables)
        self.second_opinion = second_opinion
        self.today = today
        self._handed = handed or {}
        self.things = Numbered(carried)
        """Things that columns hold by number: layered floors, sections."""
        self.reason_words = ReasonWords()
        self._members = KeptMembers()
        self._columns: Kept[Column] = Kept()
        self._several: dict[tuple[str, Callable[..., Any]], Any] = {}
        self._sizes: dict[str, int] = {}
        self._trail: list[bool] = []
        """For each column that is being computed, whether it depends on anything that changes
        between graphs.
        """
        if earlier is not None:
            self.things, self.reason_words = earlier.things, earlier.reason_words
            self._columns.take(earlier._columns)
            self._members.take(earlier._members)

    @property
    def members(self) -> Members:
        """The members that rows have: loops of a header, readings of a test."""
        return Members(self, self._members)

    def kept(self, kept: Kept[T], key: Key, worked_out: Callable[[str, str], T]) -> T:
        """The value under a key, computed if there is none yet.

        Notes where it depends on an earlier graph, because whatever depends on it then does so too.

        Args:
            kept: where values of its kind are kept; added to.
            key: subject and name.
            worked_out: computes the value from subject and name.

        Returns:
            The value that is kept; not to be changed.
        """
        found = kept.found.get(key)
        if found is None:
            self._trail.append(False)
            try:
                found = kept.found[key] = worked_out(*key)
            finally:
                met = self._trail.pop()
            if met:
                kept.moving.add(key)
        if key in kept.moving and self._trail:
            self._trail[-1] = True
        return found

    def size(self, subject: str) -> int:
        """How many rows a subject has, of all designs together.

        Args:
            subject: a key of `naming.TABLE_OF`.

        Returns:
            n of the subject's columns.
        """
        found = self._sizes.get(subject)
        if found is None:
            found = self._sizes[subject] = len(self.tables[TABLE_OF[subject]])
        return found

    def column(self, subject: str, name: str) -> Column:
        """The values of a name for every row of the subject, computed when first asked for.

        Args:
            subject: a key of `naming.TABLE_OF`.
            name: of a field, a quantity or a value of another record, as described at the top.

        Returns:
            In SI and °C; not to be changed.

        Raises:
            KeyError: the name means nothing for the subject.
        """
        key = subject, name
        found = self._columns.found.get(key)
        if found is None:
            return self.kept(self._columns, key, self._resolve)
        if self._trail and key in self._columns.moving:
            self._trail[-1] = True
        return found

    def reason(self, number: int) -> tuple[str, str]:
        """A reason in words, and what it is about.

        Args:
            number: one of `Column.reasons`.

        Returns:
            The words, and the subject as results name it (`loops.L1`).
        """
        words, table, row = self.reason_words.of(number)
        if table in (DESIGNS, NOWHERE):
            return words, "design"
        return words, f"{self.tables[table].section}.{self.tables[table].ids[row]}"

    def sentences(self, reasons: Reasons) -> list[str]:
        """Several reasons as sentences, each after what it is about.

        Args:
            reasons: numbers of `Column.reasons`, none of them NO_REASON, shape (n,).

        Returns:
            n sentences; one about a missing section names nothing before it.
        """
        return self.reason_words.sentences(self.tables, reasons)

    def drawn(self, subject: str) -> Drawn:
        """What the plans show of a subject.

        Args:
            subject: a key of `naming.TABLE_OF`.

        Returns:
            For all of its rows, also those of designs without a plan.
        """
        return Drawn(self.tables, TABLE_OF[subject])

    def rows(self, subject: str, name: str) -> Row:
        """An input of quantities that is not a column.

        Args:
            subject: a key of `naming.TABLE_OF`.
            name: one of `naming.ROWS`, where each is described.

        Returns:
            An array has one element for each row of the subject.
        """
        table = TABLE_OF[subject]
        worked_out: dict[str, Callable[[], Row]] = {
            "size": lambda: self.size(subject),
            "job": lambda: self.tables.design_of(table),
            "plan": lambda: self.drawn(subject),
            "pump_owner": self.pumps.owner,
            "pump_stated": self.pumps.stated,
            "second_opinion": lambda: self.second_opinion,
            "today": lambda: self.today,
            "things": lambda: self.things,
            "supplies_differ": lambda: self._supplies_differ()[self.tables.design_of(table)],
        }
        return worked_out[name]()

    def _supplies_differ(self) -> Mask:
        """Whether a header of each design states a supply of its own."""
        own = ~np.isnan(self.tables["headers"].column(slot_of("headers", "supply")))
        designs = np.zeros(len(self.tables.designs), dtype=bool)
        designs[self.tables.design_of("headers")[own]] = True
        return designs

    def note(self, words: str, subject: str) -> int:
        """The number of a reason of one's own.

        Args:
            words: the reason, without what it is about.
            subject: whose rows it is about, a key of `naming.TABLE_OF`.

        Returns:
            The number for row 0; that plus the row is the reason for any other.
        """
        return self.reason_words.number(words, TABLE_OF[subject])

    def _resolve(self, subject: str, name: str) -> Column:
        meant = meaning(subject, name)
        if meant is None:
            raise KeyError(name)
        table = TABLE_OF[subject]
        if meant.kind == "computed":
            return self._computed(REGISTRY[(subject, name)])
        if meant.kind == "field":
            return self._field(table, meant.leaf)
        if meant.kind == "measured":
            return self._measured(meant.leaf)
        if meant.kind == EARLIER:
            self._trail[-1] = True
            values = self._handed.get((subject, meant.name))
            return Column(np.full(self.size(subject), np.nan) if values is None else values, None)
        far = self.column(meant.subject, meant.name)
        if meant.kind == "linked":
            return self._through(self._field(table, meant.leaf), far)
        rows = self.tables.design_of(table)
        return Column(far.values[rows], None if far.reasons is None else far.reasons[rows])

    def row_of(self, subject: str, meant: Resolved, row: int) -> int | None:
        """The row in which a value is found that a name means for some row.

        Args:
            subject: a key of `naming.TABLE_OF`.
            meant: what the name means for the subject.
            row: of the subject.

        Returns:
            A row of the record referred to, of the design, or of `balance`; the same row for a
            value of its own; None where the reference, or the measurement, is missing.
        """
        table = TABLE_OF[subject]
        if meant.kind == "linked":
            far = self.tables[table].column(meant.leaf.slot)[row]
            return None if np.isnan(far) else int(far)
        if meant.kind == "whole":
            return int(self.tables.design_of(table)[row])
        if meant.kind == "measured":
            of = self._balanced().tolist()
            return of.index(row) if row in of else None
        return row

    def _field(self, table: str, leaf: Leaf) -> Column:
        name, rows = leaf.name, self.tables[table]
        values = rows.column(leaf.slot)
        missing = np.isnan(values)
        if not np.count_nonzero(missing):
            return Column(values, None)
        reasons = self._reasons_of(missing, f"{name} is not given", table)
        if leaf.kind == "reference":
            absent = self.reason_words.number(no_section(leaf.refers_to), NOWHERE)
            reasons = np.where(rows.placed(leaf.slot) & missing, absent, reasons)
        elif (table, name) in HINTS:
            kind, hint = HINTS[table, name]
            hinted = self._reasons_of(missing, f"{name} is not given; {hint}", table)
            own = missing
            if kind:
                construction = rows.column(slot_of(table, "construction"))
                own = missing & (construction == design_format().code(table, "construction", kind))
            reasons = np.where(own, hinted, reasons)
        return Column(values, reasons)

    def _reasons_of(self, missing: Mask, words: str, table: str) -> Reasons:
        """The reason in these words for each row of a table that is missing."""
        rows = np.arange(len(missing))
        return np.where(missing, self.reason_words.of_rows(words, table, rows), NO_REASON)

    def _through(self, link: Column, far: Column) -> Column:
        """The far column's values along a reference; a missing reference is its own reason."""
        missing = np.isnan(link.values)
        if not np.count_nonzero(missing):
            rows = link.values.astype(np.intp)
            values = far.values[rows]
            return Column(values, None if far.reasons is None else far.reasons[rows])
        known = ~missing
        rows = np.where(known, link.values, 0).astype(np.intp)
        assert link.reasons is not None
        if len(far.values) == 0:
            return Column(np.full(len(known), np.nan), link.reasons)
        values = np.where(known, far.values[rows], np.nan)
        reasons = np.full(len(values), NO_REASON) if far.reasons is None else far.reasons[rows]
        return Column(values, np.where(known, reasons, link.reasons))

    def _balanced(self) -> Index:
        """The loop that each row of what is measured is about; -1 where its design has none."""
        of = self.tables["balance"].column(slot_of("balance", "of"))
        return np.where(np.isnan(of), -1.0, of).astype(np.intp)

    def _measured(self, leaf: Leaf) -> Column:
        """A value measured on site, for each loop."""
        balance = self.tables["balance"]
        values = np.full(len(self.tables["loops"]), np.nan)
        of = self._balanced()
        known = of >= 0
        values[of[known]] = balance.column(leaf.slot)[known]
        missing = np.isnan(values)
        if not np.count_nonzero(missing):
            return Column(values, None)
        words = f"no measured {leaf.name} is recorded under balance"
        return Column(values, self._reasons_of(missing, words, "loops"))

    def _computed(self, known: Quantity) -> Column:
        subject, size = known.subject, self.size(known.subject)
        if not size:
            return Column(np.empty(0), None)
        arguments: list[Any] = []
        outside: list[tuple[Mask, str]] = []
        for name, kind in zip(known.inputs, known.kinds, strict=True):
            if kind == "row":
                arguments.append(self.rows(subject, name))
                continue
            if kind == "members":
                arguments.append(self.members.grouped(subject, name))
                continue
            values = self.column(subject, name).values
            if known.within and name in known.within:
                beyond, words = _beyond(values, *known.within[name])
                if np.count_nonzero(beyond):
                    outside.append((beyond, words))
                    values = np.where(beyond, np.nan, values)
            arguments.append(values)
        with quietly():
            values = np.asarray(self._worked_out(known, arguments), dtype=np.float64)
        if values.shape != (size,):
            values = np.broadcast_to(values, (size,)).copy()
        missing = np.isnan(values)
        if not np.count_nonzero(missing):
            return Column(values, None)
        return Column(values, self._reasons(known, missing, outside))

    def _reasons(
        self,
        known: Quantity,
        missing: Mask,
        outside: list[tuple[Mask, str]],
    ) -> Reasons:
        """Why a quantity is missing, for each row: the reason of the first missing input.

        outside: the rows in which an input is outside the range of the method, and its words.
        """
        subject, table = known.subject, TABLE_OF[known.subject]
        optional: list[tuple[str, Column]] = []
        found = Lacking(missing)
        for name, kind in zip(known.inputs, known.kinds, strict=True):
            if kind == "row":
                continue
            if kind == "members":
                column = self.members.first_missing(subject, name)
            else:
                column = self.column(subject, name)
                if name in known.optional:
                    optional.append((name, column))
                    continue
                if name in known.needed_when:
                    column = self._where_it_is_needed(column, subject, *known.needed_when[name])
            if column.reasons is not None and found.take(column.reasons):
                return found.reasons
        for beyond, words in outside:
            if found.take(self._reasons_of(beyond, words, table)):
                return found.reasons
        if known.of_plan:
            for words, beyond in self.drawn(subject).missing().items():
                word = self.reason_words.number(words, NOWHERE)
                found.take(np.where(beyond, word, NO_REASON))
        replaced = np.zeros(len(missing), dtype=bool)
        for _, column in optional:
            replaced |= ~np.isnan(column.values)
        for name, column in optional:
            if column.reasons is not None:
                # A field that is left out is no reason where another input replaces it.
                own = (subject, name) in REGISTRY
                found.take(column.reasons if own else np.where(replaced, NO_REASON, column.reasons))
        words = f"{known.title.lower()}: {known.missing_because}"
        found.take(self._reasons_of(found.rows, words, table))
        return found.reasons

    def _worked_out(self, known: Quantity, arguments: list[Any]) -> Any:
        """The quantity's values; where several are computed together, once for all."""
        if known.whole is None:
            return known.function(*arguments)
        key = (known.subject, known.whole)
        if key not in self._several:
            self._several[key] = known.whole(*arguments)
        return self._several[key][known.place]

    def _where_it_is_needed(
        self, column: Column, subject: str, by: str, wanted: tuple[float, ...]
    ) -> Column:
        """The column with only those reasons that count."""
        if column.reasons is None:
            return column
        counts = among(self.column(subject, by).values, wanted)
        return Column(column.values, np.where(counts, column.reasons, NO_REASON))


def _beyond(values: Array, least: float | None, most: float | None, words: str) -> tuple[Mask, str]:
    """The values outside the range of a method, and its words."""
    beyond = np.zeros(len(values), dtype=bool)
    if least is not None:
        beyond |= values < least * (1 - 1e-12)
    if most is not None:
        beyond |= values > most * (1 + 1e-12)
    return beyond, words
