"""Computed columns: names resolved through a design's tables, missing data carried as reasons.

A name is a column of the subject's own table (`length`), a column or quantity of a record it
refers to (`room.temperature`), of its design (`plant.supply`), or a quantity. A quantity that
has the name of a field hides it; the field is then `given.flow`. A quantity on a header or a
room may ask for `loops.flow`: the values of all loops there, with the row that each belongs to.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from checker import units
from checker.design.schema import DESIGNS, Leaf, design_format
from checker.design.tables import Tables
from checker.rulebook.model import Described

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]
Reasons = npt.NDArray[np.int64]

NO_REASON = -1
_ROWS_BITS = 40
"""A reason is one number: what is wrong, shifted, and the row it is wrong in."""

TABLE_OF = {
    "design": DESIGNS,
    "pipe": "pipes",
    "floor": "floors",
    "room": "rooms",
    "header": "headers",
    "loop": "loops",
    "test": "pressure_tests",
}
"""A subject's name in rules and quantities, and its table."""


class Column(NamedTuple):
    """Values, shape (n,), NaN where missing; and why, None where nothing is missing."""

    values: Array
    reasons: Reasons | None


class Members(Struct, frozen=True):
    """Values of all members of some groups: values shape (m,), the group of each, and n groups.

    A member whose group is unknown has none and is left out beforehand.
    """

    values: Array
    group: Index
    size: int

    def sum(self) -> Array:
        """Total of each group, shape (n,); NaN where a member is missing or there is none."""
        total = np.bincount(self.group, weights=self.values, minlength=self.size)
        return np.where(self.count() > 0, total, np.nan)

    def largest(self) -> Array:
        """Largest of each group, shape (n,); NaN where a member is missing or there is none."""
        found = np.full(self.size, -np.inf)
        with np.errstate(invalid="ignore"):
            np.maximum.at(found, self.group, self.values)
        return np.where(np.isneginf(found), np.nan, found)

    def smallest(self) -> Array:
        """Smallest of each group, shape (n,); NaN where a member is missing or there is none."""
        return -Members(-self.values, self.group, self.size).largest()

    def ordered(self, by: Members, *, last: bool) -> Array:
        """The first or last value of each group in the order of another column, shape (n,)."""
        order = np.argsort(by.values, kind="stable")
        order = order if last else order[::-1]
        found = np.full(self.size, np.nan)
        found[self.group[order]] = self.values[order]
        return found

    def count(self) -> Array:
        """Number of members of each group, shape (n,)."""
        return np.bincount(self.group, minlength=self.size).astype(float)


class Quantity(Struct, frozen=True):
    """What can be computed: a function of columns, and what to tell a reader about it."""

    subject: str
    name: str
    unit: str
    title: str
    source: str
    function: Callable[..., Any]
    inputs: tuple[str, ...]
    optional: frozenset[str]
    matters: dict[str, tuple[str, tuple[float, ...]]]
    within: dict[str, tuple[float | None, float | None, str]]
    fails: str
    shown: bool


REGISTRY: dict[tuple[str, str], Quantity] = {}
_OF_PARTS = {"loops": "loop", "tests": "test", "of_header": "loop"}
"""Parts whose members are records of a subject of their own."""
_MEMBERS = (*_OF_PARTS, "readings", "pump_curve", "heat_up_steps")
_PARTS = ("given", "design", "balance", *_MEMBERS)


def quantity(
    subject: str,
    *,
    unit: str,
    title: str,
    source: str,
    optional: tuple[str, ...] = (),
    matters: dict[str, tuple[str, tuple[float, ...]]] | None = None,
    within: dict[str, tuple[float | None, float | None, str]] | None = None,
    fails: str = "it cannot be computed from what is given",
    shown: bool = True,
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Record a function as a quantity; its name and its parameters' names are the graph.

    A parameter `room_temperature` is the column `room.temperature`: the first underscore after
    a name of a record, section or part is read as a dot. optional: inputs that the result can do
    without; matters: inputs that it needs only where another column has one of some values. within:
    for an input, the range in SI
    that the method holds for, and the words that name the range; outside it the result is
    missing. fails: why the result may be missing though all inputs are there. shown: stands
    among the computed values of a report.
    """

    def record(function: Callable[..., Any]) -> Callable[..., Any]:
        parameters = tuple(inspect.signature(function).parameters)
        REGISTRY[(subject, function.__name__)] = Quantity(
            subject,
            function.__name__,
            unit,
            title,
            source,
            function,
            tuple(dotted(subject, name) for name in parameters),
            frozenset(dotted(subject, name) for name in optional),
            {
                dotted(subject, name): (dotted(subject, column), values)
                for name, (column, values) in (matters or {}).items()
            },
            {dotted(subject, name): limits for name, limits in (within or {}).items()},
            fails,
            shown,
        )
        return function

    return record


def quantities_of(
    subject: str,
) -> Callable[..., Callable[[Callable[..., Any]], Callable[..., Any]]]:
    """The decorator `quantity` for one subject."""
    return partial(quantity, subject)


def dotted(subject: str, parameter: str) -> str:
    """The column that a parameter's name means for this subject."""
    table = TABLE_OF[subject]
    shapes = design_format().shapes
    own = {leaf.name.replace(".", "_"): leaf.name for leaf in shapes[table].columns}
    if parameter in own:
        return own[parameter]
    for leaf in shapes[table].columns:
        if leaf.kind == "reference" and parameter.startswith(leaf.name + "_"):
            rest = parameter[len(leaf.name) + 1 :]
            return f"{leaf.name}.{dotted(_subject_of(leaf.refers_to), rest)}"
    if table != DESIGNS:
        whole = {leaf.name.replace(".", "_"): leaf.name for leaf in shapes[DESIGNS].columns}
        if parameter in whole:
            return whole[parameter]
    for part in _PARTS:
        if parameter.startswith(part + "_"):
            rest = parameter[len(part) + 1 :]
            if part == "given":
                return f"given.{dotted(subject, rest)}"
            of = "design" if part == "design" else _OF_PARTS.get(part)
            return f"{part}.{rest if of is None else dotted(of, rest)}"
    return parameter


def _subject_of(table: str) -> str:
    return next(subject for subject, name in TABLE_OF.items() if name == table)


class Graph:
    """The columns of the designs in hand, computed when first asked for."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables
        self._columns: dict[tuple[str, str], Column] = {}
        self._words: list[tuple[str, str]] = []
        self._word_numbers: dict[tuple[str, str], int] = {}
        self._empty: dict[str, Index] = {}

    def size(self, subject: str) -> int:
        """Number of rows of a subject."""
        return len(self.tables[TABLE_OF[subject]])

    def column(self, subject: str, name: str) -> Column:
        """The column of that name for every row of the subject; KeyError for an unknown name."""
        found = self._columns.get((subject, name))
        if found is None:
            found = self._columns[(subject, name)] = self._resolve(subject, name)
        return found

    def members(self, subject: str, name: str) -> Members:
        """The values of a part (`loops.flow`, `readings.pressure`) with the row each is of."""
        values, group, _ = self._part(subject, name)
        keep = group >= 0
        return Members(values[keep], group[keep], self.size(subject))

    def reason(self, number: int) -> tuple[str, str]:
        """What a reason says: the words, and the subject that they are about."""
        words, table = self._words[number >> _ROWS_BITS]
        row = number & ((1 << _ROWS_BITS) - 1)
        if table == DESIGNS:
            return words, "design"
        return words, f"{table}.{self.tables[table].ids[row]}"

    def note(self, words: str, subject: str) -> int:
        """The number of a reason in these words, for row 0 of the subject; add the row."""
        return self._word(words, TABLE_OF[subject])

    # ---- how a name finds its values

    def _resolve(self, subject: str, name: str) -> Column:
        known = REGISTRY.get((subject, name))
        if known is not None:
            return self._computed(known)
        table = TABLE_OF[subject]
        if name.startswith("given."):
            return self._field(table, name.removeprefix("given."))
        first, _, rest = name.partition(".")
        leaf = _leaf(table, name)
        if leaf is not None:
            return self._field(table, name)
        link = _leaf(table, first)
        if link is not None and link.kind == "reference" and rest:
            other = _subject_of(link.refers_to)
            return self._through(self._field(table, first), self.column(other, rest))
        if first == "balance" and subject == "loop":
            return self._measured(rest)
        if table != DESIGNS and first in _WHOLE:
            whole = self.column("design", name.removeprefix("design."))
            rows = self.tables.design_of(table)
            values = whole.values[rows]
            return Column(values, None if whole.reasons is None else whole.reasons[rows])
        raise KeyError(name)

    def _field(self, table: str, name: str) -> Column:
        leaf = _leaf(table, name)
        if leaf is None:
            raise KeyError(name)
        values = self.tables[table].column(leaf.slot)
        return self._with_reasons(values, self._word(f"{name} is not given", table), table)

    def _with_reasons(self, values: Array, word: int, table: str) -> Column:
        missing = np.isnan(values)
        if not missing.any():
            return Column(values, None)
        return Column(values, np.where(missing, word + np.arange(len(values)), NO_REASON))

    def _through(self, link: Column, far: Column) -> Column:
        """The far column's values along a reference; a missing reference is its own reason."""
        known = ~np.isnan(link.values)
        if known.all():
            rows = link.values.astype(np.intp)
            values = far.values[rows]
            return Column(values, None if far.reasons is None else far.reasons[rows])
        rows = np.where(known, link.values, 0).astype(np.intp)
        assert link.reasons is not None
        if len(far.values) == 0:
            return Column(np.full(len(known), np.nan), link.reasons)
        values = np.where(known, far.values[rows], np.nan)
        reasons = np.full(len(values), NO_REASON) if far.reasons is None else far.reasons[rows]
        return Column(values, np.where(known, reasons, link.reasons))

    def _measured(self, name: str) -> Column:
        """A value measured on site, for each loop."""
        balance = self.tables["balance"]
        values = np.full(len(self.tables["loops"]), np.nan)
        leaf = _leaf("balance", name)
        if leaf is None:
            raise KeyError(f"balance.{name}")
        if len(balance):
            of = balance.column(_slot("balance", "of")).astype(np.intp)
            values[of] = balance.column(leaf.slot)
        word = self._word(f"no measured {name} is recorded under balance", "loops")
        return self._with_reasons(values, word, "loops")

    def _part(self, subject: str, name: str) -> tuple[Array, Index, Reasons | None]:
        part, _, rest = name.partition(".")
        table = TABLE_OF[subject]
        if part in ("loops", "tests"):
            of = _OF_PARTS[part]
            column = self.column(of, rest)
            return column.values, self._group(TABLE_OF[of], table), column.reasons
        if part == "of_header":
            return self._loops_of_test_header(rest)
        rows = self.tables[part]
        leaf = _leaf(part, rest)
        if leaf is None:
            raise KeyError(name)
        return rows.column(leaf.slot), np.array(rows.parents, dtype=np.intp), None

    def _group(self, members: str, table: str) -> Index:
        """For each loop or test the row of the header, room, … it names; -1 where it names none."""
        if table == DESIGNS:
            return self.tables.design_of(members)
        link = next(leaf for leaf in self.tables[members].shape.columns if leaf.refers_to == table)
        values = self.tables[members].column(link.slot)
        return np.where(np.isnan(values), -1, values).astype(np.intp)

    def _loops_of_test_header(self, name: str) -> tuple[Array, Index, Reasons | None]:
        """Every loop on the header of every pressure test: a loop may stand under several."""
        column = self.column("loop", name)
        header_of_loop = self._group("loops", "headers")
        tests = self.tables["pressure_tests"].column(_slot("pressure_tests", "header"))
        order = np.argsort(header_of_loop, kind="stable")
        ordered = header_of_loop[order]
        known = np.flatnonzero(~np.isnan(tests))
        left = np.searchsorted(ordered, tests[known], "left")
        counts = np.searchsorted(ordered, tests[known], "right") - left
        group = np.repeat(known, counts)
        within = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        rows = order[np.repeat(left, counts) + within]
        reasons = None if column.reasons is None else column.reasons[rows]
        return column.values[rows], group, reasons

    # ---- computing

    def _computed(self, known: Quantity) -> Column:
        table = TABLE_OF[known.subject]
        size = len(self.tables[table])
        arguments: list[Any] = []
        required: list[Column] = []
        optional: list[Column] = []
        outside: list[tuple[npt.NDArray[np.bool_], int]] = []
        for name in known.inputs:
            if name == "size":
                arguments.append(size)
                continue
            if name.split(".", 1)[0] in _MEMBERS:
                arguments.append(self.members(known.subject, name))
                required.append(self._first_missing(known.subject, name, size))
                continue
            column = self.column(known.subject, name)
            if name in known.matters:
                required.append(self._where_it_matters(column, known.subject, *known.matters[name]))
            else:
                (optional if name in known.optional else required).append(column)
            values = column.values
            limits = known.within.get(name)
            if limits is not None:
                least, most, words = limits
                beyond = np.zeros(size, dtype=bool)
                if least is not None:
                    beyond |= values < least * (1 - 1e-12)
                if most is not None:
                    beyond |= values > most * (1 + 1e-12)
                if beyond.any():
                    outside.append((beyond, self._word(words, table)))
                    values = np.where(beyond, np.nan, values)
            arguments.append(values)
        with np.errstate(all="ignore"):
            values = np.asarray(known.function(*arguments), dtype=np.float64)
        if values.shape != (size,):
            values = np.broadcast_to(values, (size,)).copy()
        missing = np.isnan(values)
        if not missing.any():
            return Column(values, None)
        rows = np.arange(size)
        reasons: Reasons = np.full(size, NO_REASON, dtype=np.int64)
        for column in required:
            if column.reasons is not None:
                reasons = np.where(reasons < 0, column.reasons, reasons)
        for beyond, word in outside:
            reasons = np.where((reasons < 0) & beyond, word + rows, reasons)
        for column in optional:
            if column.reasons is not None:
                reasons = np.where(reasons < 0, column.reasons, reasons)
        word = self._word(f"{known.title.lower()}: {known.fails}", table)
        reasons = np.where(reasons < 0, word + rows, reasons)
        return Column(values, np.where(missing, reasons, NO_REASON))

    def _where_it_matters(
        self, column: Column, subject: str, by: str, wanted: tuple[float, ...]
    ) -> Column:
        """The column with only those reasons that count."""
        if column.reasons is None:
            return column
        counts = np.isin(self.column(subject, by).values, wanted)
        return Column(column.values, np.where(counts, column.reasons, NO_REASON))

    def _first_missing(self, subject: str, name: str, size: int) -> Column:
        """For each group, the reason of its first missing member, or that it has none."""
        values, group, reasons = self._part(subject, name)
        found: Reasons = np.full(size, NO_REASON, dtype=np.int64)
        part = name.partition(".")[0]
        table = TABLE_OF[subject]
        empty = np.bincount(group[group >= 0], minlength=size) == 0
        if empty.any():
            word = self._word(_NOTHING[part], table)
            found = np.where(empty, word + np.arange(size), found)
        missing = np.flatnonzero(np.isnan(values) & (group >= 0))
        if len(missing):
            backward = missing[::-1]
            if reasons is not None:
                found[group[backward]] = reasons[backward]
            else:
                word = self._word(f"a value '{name}' is not given", table)
                found[group[backward]] = word + group[backward]
        return Column(np.empty(0), found)

    def _word(self, words: str, table: str) -> int:
        """A reason's number for row 0; add the row."""
        key = (words, table)
        number = self._word_numbers.get(key)
        if number is None:
            number = self._word_numbers[key] = len(self._words)
            self._words.append(key)
        return number << _ROWS_BITS

    def explain_inputs(self, known: Quantity) -> Iterator[tuple[str, Column]]:
        """The columns a quantity is computed from, by name."""
        for name in known.inputs:
            if name != "size" and "." not in name:
                yield name, self.column(known.subject, name)


_NOTHING = {
    "loops": "it has no loop",
    "of_header": "its header has no loop",
    "tests": "no pressure test is given",
    "readings": "no readings are given",
    "pump_curve": "pump.curve is not given",
    "heat_up_steps": "heat_up.steps is not given",
}


class Names:
    """What a name can mean, for those who write rules: every column of every subject."""

    def subjects(self) -> list[str]:
        """All subjects."""
        return [*TABLE_OF]

    def names(self, subject: str) -> list[str]:
        """All names that stand on the subject itself, quantities and fields."""
        own = [leaf.name for leaf in design_format().shapes[TABLE_OF[subject]].columns]
        return own + [name for of, name in REGISTRY if of == subject]

    def describe(self, subject: str, name: str) -> Described | None:
        """What the name stands for, or None where it is unknown."""
        known = REGISTRY.get((subject, name))
        if known is not None:
            return Described("quantity", known.unit, units.kind_of(known.unit))
        table = TABLE_OF[subject]
        leaf = _leaf(table, name.removeprefix("given."))
        if leaf is not None:
            return None if leaf.kind == "reference" else _described(leaf)
        first, _, rest = name.partition(".")
        link = _leaf(table, first)
        if link is not None and link.kind == "reference" and rest:
            return self.describe(_subject_of(link.refers_to), rest)
        if first == "balance" and subject == "loop":
            leaf = _leaf("balance", rest)
            return None if leaf is None else _described(leaf)
        if table != DESIGNS and first in _WHOLE:
            return self.describe("design", name.removeprefix("design."))
        return None


def _described(leaf: Leaf) -> Described:
    if leaf.kind == "quantity":
        return Described("quantity", leaf.unit, leaf.quantity)
    return Described(leaf.kind, options=leaf.options)


_WHOLE = ("plant", "project", "heat_up", "design")


def _leaf(table: str, name: str) -> Leaf | None:
    for leaf in design_format().shapes[table].columns:
        if leaf.name == name:
            return leaf
    return None


def _slot(table: str, name: str) -> int:
    leaf = _leaf(table, name)
    assert leaf is not None
    return leaf.slot
