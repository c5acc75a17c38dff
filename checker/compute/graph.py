"""Computed columns: names resolved through a design's tables, missing data carried as reasons.

A name is a column of the subject's own table (`length`), a column or quantity of a record it
refers to (`room.temperature`), of its design (`plant.supply`), or a quantity. A quantity that
has the name of a field hides it; the field is then `given.flow`. A quantity on a header or a
room may ask for `loops.flow`: the values of all loops there, with the row that each belongs to.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from functools import cache, partial, wraps
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from checker import units
from checker.compute.drawn import Drawn
from checker.compute.numbered import Numbered
from checker.compute.pumps import Pumps
from checker.compute.runs import runs
from checker.design.leaves import Leaf
from checker.design.schema import DESIGNS, PARTS, design_format
from checker.design.tables import Tables
from checker.rulebook.evaluation import among
from checker.rulebook.model import Described

if TYPE_CHECKING:
    from checker.physics.carried import Carried

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]
Reasons = npt.NDArray[np.int64]

NO_REASON = -1
_NO_LEAF = Leaf("", "")
_NOWHERE = ""
"""Stands for the table where a reason is about none of the rows that there are."""
_ROWS_BITS = 40
_ROWS = (1 << _ROWS_BITS) - 1
"""A reason is one number: what is wrong, shifted, and the row it is wrong in."""

TABLE_OF = {
    "design": DESIGNS,
    "pipe": "pipes",
    "floor": "floors",
    "room": "rooms",
    "header": "headers",
    "loop": "loops",
    "part": PARTS,
    "test": "pressure_tests",
}
"""A subject's name in rules and quantities, and its table."""


T = TypeVar("T")

ROWS = (
    "size",
    "job",
    "plan",
    "second_opinion",
    "things",
    "pump_owner",
    "pump_stated",
    "supplies_differ",
)
"""Parameters that are no columns: the number of rows, the row of each one's design, what the plans
show of each (`compute.drawn.Drawn`), whether values are wanted that nothing is judged by, the run's
things that columns hold by number, and of headers the row of the one whose pump serves each, and
whether that states a pump; whether a header of the design has water of its own."""


class Column(NamedTuple):
    """Values, shape (n,), NaN where missing; and why, None where nothing is missing."""

    values: Array
    reasons: Reasons | None


class Grouped(Struct, frozen=True):
    """Values of all members of some groups: values shape (m,), the group of each, and n groups.

    A member whose group is unknown may belong to each of its design, and is missing in all.
    unknown_groups: groups of designs that list no such members yet, shape (n,).
    """

    values: Array
    group: Index
    size: int
    unknown_groups: npt.NDArray[np.bool_] | None = None

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
        return -Grouped(-self.values, self.group, self.size).largest()

    def ordered(self, by: Grouped, *, last: bool) -> Array:
        """The first or last value of each group in the order of another column, shape (n,)."""
        order = np.argsort(by.values, kind="stable")
        order = order if last else order[::-1]
        found = np.full(self.size, np.nan)
        found[self.group[order]] = self.values[order]
        return found

    def count(self) -> Array:
        """Number of members of each group, shape (n,); NaN where missing or unknown_groups."""
        ones = np.where(np.isnan(self.values), np.nan, 1.0)
        counts = np.bincount(self.group, weights=ones, minlength=self.size).astype(float)
        return (
            counts if self.unknown_groups is None else np.where(self.unknown_groups, np.nan, counts)
        )


class Quantity(Struct, frozen=True):
    """What can be computed: a function of columns, and what to tell a reader about it."""

    subject: str
    name: str
    unit: str
    title: str
    symbol: str
    formula: tuple[str, ...]
    source: str
    function: Callable[..., Any]
    inputs: tuple[str, ...]
    optional: frozenset[str]
    needed_when: dict[str, tuple[str, tuple[float, ...]]]
    within: dict[str, tuple[float | None, float | None, str]]
    missing_because: str
    shown: bool
    places: str
    told: Callable[[Numbered, float], tuple[str, ...]] | None
    whole: Callable[..., Any] | None = None
    """What works it out together with others, of which it is the one at `place`."""
    place: int = 0
    leaps: bool = False

    @property
    def of_plan(self) -> bool:
        """Whether it is read off a plan, and so means nothing for a design that has none."""
        return "plan" in self.inputs


class Output(NamedTuple):
    """One of several results of one computation."""

    name: str
    unit: str
    title: str
    symbol: str = ""
    formula: str | tuple[str, ...] = ()
    missing_because: str = ""
    shown: bool = True


REGISTRY: dict[tuple[str, str], Quantity] = {}
OF_PARTS = {
    "loops": "loop",
    "parts": "part",
    "tests": "test",
    "of_header": "loop",
    "pumped": "header",
}
"""Parts whose members are records of a subject of their own; pumped: the headers on one pump."""
MEMBERS = (*OF_PARTS, "readings", "pump_curve", "heat_up_steps", "layers", "loop_feeds")
EARLIER = "earlier"
"""What a graph before this one found (`earlier.reynolds`): missing in the first."""
_PARTS = ("given", EARLIER, "design", "balance", *MEMBERS)


def quantity(
    subject: str,
    *,
    unit: str = "",
    title: str = "",
    source: str,
    symbol: str = "",
    formula: str | tuple[str, ...] = (),
    optional: tuple[str, ...] = (),
    needed_when: dict[str, tuple[str, tuple[float, ...]]] | None = None,
    within: dict[str, tuple[float | None, float | None, str]] | None = None,
    missing_because: str = "it cannot be computed from what is given",
    shown: bool = True,
    places: str = "",
    told: Callable[[Numbered, float], tuple[str, ...]] | None = None,
    outputs: tuple[Output, ...] = (),
    leaps: bool = False,
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Record a function as a quantity; its name and its parameters' names are the graph.

    A parameter `room_temperature` is the column `room.temperature`: the first underscore after
    a name of a record, section or part is read as a dot. symbol: as it is written by hand; formula:
    how it is worked by hand (`compute.formulas`), with `{parameter}` for each input; where
    there are several, one that gives the value is shown. optional: inputs that the result can do
    without; needed_when: inputs that it needs only where another column has one of some values.
    within: for an input, the range in SI that the method holds for, and the words that name the
    range; outside it the result is missing. missing_because: why the result may be missing though
    all inputs are there. shown: stands among the computed values of a report. places: what of a
    plan says where the value was found (`Drawn.words`), for the words of a finding. told: of a
    value that is a number for a thing, what to say of the thing, a line each. outputs: where the
    function gives several columns, what each is; they are worked out once. leaps: it leaps where
    an input crosses a border, so that its values on either side tell nothing of it.
    """

    def record(function: Callable[..., Any]) -> Callable[..., Any]:
        own = Output(function.__name__, unit, title, symbol, formula, missing_because, shown)
        for place, output in enumerate(outputs or (own,)):
            recorded(function, output, place)
        return function

    def recorded(function: Callable[..., Any], own: Output, place: int) -> None:
        code = inspect.unwrap(function).__code__
        parameters = code.co_varnames[: code.co_argcount]
        REGISTRY[(subject, own.name)] = Quantity(
            subject,
            own.name,
            own.unit,
            own.title,
            own.symbol,
            (own.formula,) if isinstance(own.formula, str) else own.formula,
            source,
            _one_of(function, place) if outputs else function,
            tuple(dotted(subject, name) for name in parameters),
            frozenset(dotted(subject, name) for name in optional),
            {
                dotted(subject, name): (dotted(subject, column), values)
                for name, (column, values) in (needed_when or {}).items()
            },
            {dotted(subject, name): limits for name, limits in (within or {}).items()},
            own.missing_because or missing_because,
            own.shown,
            places,
            told,
            function if outputs else None,
            place,
            leaps,
        )

    return record


def _one_of(function: Callable[..., Any], place: int) -> Callable[..., Any]:
    """One column of several, on its own."""

    @wraps(function)
    def one(*arguments: Any) -> Any:
        return function(*arguments)[place]

    return one


def quantities_of(
    subject: str,
) -> Callable[..., Callable[[Callable[..., Any]], Callable[..., Any]]]:
    """The decorator `quantity` for one subject."""
    return partial(quantity, subject)


def dotted(subject: str, parameter: str) -> str:
    """The column that a parameter's name means for this subject."""
    table = TABLE_OF[subject]
    shapes = design_format().shapes
    own = _as_parameters(table)
    if parameter in own:
        return own[parameter]
    for leaf in shapes[table].columns:
        if leaf.kind == "reference" and parameter.startswith(leaf.name + "_"):
            rest = parameter[len(leaf.name) + 1 :]
            return f"{leaf.name}.{dotted(subject_of(leaf.refers_to), rest)}"
    if table != DESIGNS:
        whole = _as_parameters(DESIGNS)
        if parameter in whole:
            return whole[parameter]
    for part in _PARTS:
        if parameter.startswith(part + "_"):
            rest = parameter[len(part) + 1 :]
            if part in ("given", EARLIER):
                return f"{part}.{dotted(subject, rest)}"
            if part in shapes and part not in TABLE_OF.values():
                return f"{part}.{_as_parameters(part).get(rest, rest)}"
            of = "design" if part == "design" else OF_PARTS.get(part)
            return f"{part}.{rest if of is None else dotted(of, rest)}"
    return parameter


@cache
def _as_parameters(table: str) -> dict[str, str]:
    """The names of a table's columns, by how parameters write them."""
    columns = design_format().shapes[table].columns
    return {leaf.name.replace(".", "_"): leaf.name for leaf in columns}


def subject_of(table: str) -> str:
    """The subject whose rows this table holds."""
    return next(subject for subject, name in TABLE_OF.items() if name == table)


class Resolved(NamedTuple):
    """What a name stands for on a subject.

    kind: computed (a quantity of its own), field (`leaf`, of its own table), measured (`leaf`, of
    its balance), linked (`name` of the `subject` that its field `leaf` refers to), whole (`name` of
    its design), or earlier (`name` as an earlier graph found it).
    """

    kind: str
    leaf: Leaf
    subject: str = ""
    name: str = ""


def meaning(subject: str, name: str) -> Resolved | None:
    """What the name stands for, or None where it stands for nothing."""
    if (subject, name) in REGISTRY:
        return Resolved("computed", _NO_LEAF)
    table = TABLE_OF[subject]
    leaf = _leaf(table, name.removeprefix("given."))
    if leaf is not None:
        return Resolved("field", leaf)
    first, _, rest = name.partition(".")
    link = _leaf(table, first)
    if link is not None and link.kind == "reference" and rest:
        other = subject_of(link.refers_to)
        return Resolved("linked", link, other, rest) if meaning(other, rest) else None
    if first == "balance" and subject == "loop":
        leaf = _leaf("balance", rest)
        return None if leaf is None else Resolved("measured", leaf)
    if first == EARLIER:
        return Resolved(EARLIER, _NO_LEAF, subject, rest) if meaning(subject, rest) else None
    if table != DESIGNS and first in _WHOLE:
        rest = name.removeprefix("design.")
        return Resolved("whole", _NO_LEAF, "design", rest) if meaning("design", rest) else None
    return None


@cache
def of_plan(subject: str, name: str) -> bool:
    """Whether a name has a value only for designs with a plan."""
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


class Graph:
    """The columns of the designs in hand, computed when first asked for."""

    def __init__(
        self,
        tables: Tables,
        *,
        second_opinion: bool = False,
        earlier: Graph | None = None,
        handed: Mapping[tuple[str, str], Array] | None = None,
        carried: Carried | None = None,
    ) -> None:
        """second_opinion: whether values are computed that nothing is judged by; earlier: a graph
        of the same tables, whose work this one goes on from; handed: by subject and name, values
        that come of it; carried: what tells of sections in a run of very many draws."""
        self.tables = tables
        self.pumps = Pumps(tables)
        self.second_opinion = second_opinion
        self._handed = handed or {}
        self._columns: dict[tuple[str, str], Column] = {}
        self._several: dict[tuple[str, Callable[..., Any]], Any] = {}
        self._parts: dict[tuple[str, str], tuple[Array, Index, Reasons | None]] = {}
        self._words: list[tuple[str, str]] = []
        self._word_numbers: dict[tuple[str, str], int] = {}
        self.things = Numbered(carried)
        """What columns hold by number: floors by their layers, sections."""
        self._moving: set[tuple[str, str, str]] = set()
        """What depends on values that were handed on: kind, subject and name."""
        self._trail: list[bool] = []
        """For each column that is being worked out, whether it has met any of that."""
        if earlier is not None:
            self._go_on(earlier)

    def _go_on(self, earlier: Graph) -> None:
        """Take over what does not depend on what a graph before it found."""
        self.things = earlier.things
        self._words, self._word_numbers = earlier._words, earlier._word_numbers
        self._columns = {
            key: column
            for key, column in earlier._columns.items()
            if ("column", *key) not in earlier._moving
        }
        self._parts = {
            key: part
            for key, part in earlier._parts.items()
            if ("part", *key) not in earlier._moving
        }

    def _tracked(self, kind: str, subject: str, name: str, made: Callable[[], T]) -> T:
        """What `made` gives, noted where it depends on the earlier graph."""
        self._trail.append(False)
        try:
            found = made()
        finally:
            met = self._trail.pop()
        if met:
            self._moving.add((kind, subject, name))
        return found

    def _meet(self, kind: str, subject: str, name: str) -> None:
        if self._trail and (kind, subject, name) in self._moving:
            self._trail[-1] = True

    def size(self, subject: str) -> int:
        """Number of rows of a subject."""
        return len(self.tables[TABLE_OF[subject]])

    def column(self, subject: str, name: str) -> Column:
        """The column of that name for every row of the subject; KeyError for an unknown name."""
        found = self._columns.get((subject, name))
        if found is None:
            found = self._tracked("column", subject, name, lambda: self._resolve(subject, name))
            self._columns[(subject, name)] = found
        self._meet("column", subject, name)
        return found

    def members(self, subject: str, name: str) -> Grouped:
        """The values of a part (`loops.flow`, `readings.pressure`) with the row each is of."""
        values, group, _ = self._part(subject, name)
        return Grouped(values, group, self.size(subject), self._unknown_groups(subject, name))

    def membership(self, subject: str, part: str) -> list[tuple[str, Index, Index]]:
        """Whose data the members of a part (`loops`) have: (column, rows, groups) for each kind.

        column: that of a reference for members that may belong to each of their design, because
        theirs is missing, of the loop or test, or with `header` of the test itself; `pump` of
        headers that state none; empty for those whose own values count.
        """
        table = TABLE_OF[subject]
        if part == "pumped":
            return [("", *self.pumps.together()), ("pump", *self.pumps.in_doubt())]
        if part != "of_header":
            members = TABLE_OF[OF_PARTS[part]]
            group = self._group(members, table)
            placed = np.flatnonzero(group >= 0)
            found = [("", placed, group[placed])]
            if len(placed) < len(group):
                link = next(
                    leaf for leaf in self.tables[members].shape.columns if leaf.refers_to == table
                )
                _, rows, groups = self._unplaced(members, table, table)
                found.append((link.name, rows, groups))
            return found
        loops, known, unknown = self._under_tests()
        _, lost, groups = self._unplaced("loops", "headers", "pressure_tests")
        return [("", loops, known), ("header", lost, groups), ("test.header", unknown, unknown)]

    def _unknown_groups(self, subject: str, name: str) -> npt.NDArray[np.bool_] | None:
        """Groups whose design has no loop at all: a header without one there is not known to be."""
        if not name.startswith(("loops.", "parts.")):
            return None
        told = np.zeros(len(self.tables.designs), dtype=bool)
        told[self.tables.design_of("loops")] = True
        return ~told[self.tables.design_of(TABLE_OF[subject])]

    def reason(self, number: int) -> tuple[str, str]:
        """What a reason says: the words, and the subject that they are about."""
        words, table = self._words[number >> _ROWS_BITS]
        row = number & _ROWS
        if table in (DESIGNS, _NOWHERE):
            return words, "design"
        return words, f"{self.tables[table].section}.{self.tables[table].ids[row]}"

    def sentences(self, reasons: Reasons) -> list[str]:
        """What each reason says, behind its subject; an absent section speaks for itself."""
        said = [""] * len(reasons)
        numbers, rows = reasons >> _ROWS_BITS, reasons & _ROWS
        for number in {*numbers.tolist()}:
            words, table = self._words[number]
            places = np.flatnonzero(numbers == number)
            if table in (DESIGNS, _NOWHERE):
                whole = f"design: {words}" if table == DESIGNS else words
                for place in places.tolist():
                    said[place] = whole
                continue
            ids, section = self.tables[table].ids, self.tables[table].section
            for place, row in zip(places.tolist(), rows[places].tolist(), strict=True):
                said[place] = f"{section}.{ids[row]}: {words}"
        return said

    def drawn(self, subject: str) -> Drawn:
        """What the plans show of a subject."""
        return Drawn(self.tables, TABLE_OF[subject])

    def rows(
        self, subject: str, name: str
    ) -> int | Index | npt.NDArray[np.bool_] | Drawn | Numbered:
        """What one of ROWS stands for on a subject."""
        if name == "plan":
            return self.drawn(subject)
        if name == "pump_owner":
            return self.pumps.owner()
        if name == "pump_stated":
            return self.pumps.stated()
        if name == "supplies_differ":
            own = ~np.isnan(self.tables["headers"].column(_slot("headers", "supply")))
            designs = np.zeros(len(self.tables.designs), dtype=bool)
            designs[self.tables.design_of("headers")[own]] = True
            return designs[self.tables.design_of(TABLE_OF[subject])]
        if name == "second_opinion":
            return self.second_opinion
        if name == "things":
            return self.things
        return self.size(subject) if name == "size" else self.tables.design_of(TABLE_OF[subject])

    def note(self, words: str, subject: str) -> int:
        """The number of a reason in these words, for row 0 of the subject; add the row."""
        return self._word(words, TABLE_OF[subject])

    # ---- how a name finds its values

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
        """The row that a meaning of this subject's row leads to; None where it leads to none."""
        table = TABLE_OF[subject]
        if meant.kind == "linked":
            far = self.tables[table].column(meant.leaf.slot)[row]
            return None if np.isnan(far) else int(far)
        if meant.kind == "whole":
            return int(self.tables.design_of(table)[row])
        if meant.kind == "measured":
            balance = self.tables["balance"]
            of = balance.column(_slot("balance", "of")).tolist() if len(balance) else []
            return of.index(row) if row in of else None
        return row

    def members_of(self, subject: str, name: str, row: int) -> tuple[str, list[int]]:
        """The table and the rows of a part's members (`loops.flow`) that belong to this row."""
        part = name.partition(".")[0]
        if part == "pumped":
            rows, groups = self.pumps.together()
            return "headers", rows[groups == row].tolist()
        if part == "pump_curve":
            row = int(self.pumps.owner()[row])
        if part == "of_header":
            headers = self._group("pressure_tests", "headers")
            same = (self._group("loops", "headers") == headers[row]) & (headers[row] >= 0)
            return "loops", np.flatnonzero(same).tolist()
        if part in OF_PARTS:
            of = TABLE_OF[OF_PARTS[part]]
            return of, np.flatnonzero(self._group(of, TABLE_OF[subject]) == row).tolist()
        parents = np.array(self.tables[part].parents, dtype=np.intp)
        return part, np.flatnonzero(parents == row).tolist()

    def _field(self, table: str, leaf: Leaf) -> Column:
        name, rows = leaf.name, self.tables[table]
        values = rows.column(leaf.slot)
        found = self._with_reasons(values, self._word(f"{name} is not given", table), table)
        if found.reasons is None:
            return found
        reasons = found.reasons
        if leaf.kind == "reference":
            absent = self._word(no_section(leaf.refers_to), _NOWHERE)
            reasons = np.where(rows.placed(leaf.slot) & (reasons >= 0), absent, reasons)
        elif (table, name) in _HINTS:
            kind, hint = _HINTS[table, name]
            word = self._word(f"{name} is not given; {hint}", table)
            construction = rows.column(_slot(table, "construction"))
            own = construction == design_format().code(table, "construction", kind)
            reasons = np.where(own & (reasons >= 0), word + np.arange(len(values)), reasons)
        return Column(values, reasons)

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

    def _measured(self, leaf: Leaf) -> Column:
        """A value measured on site, for each loop."""
        balance = self.tables["balance"]
        values = np.full(len(self.tables["loops"]), np.nan)
        if len(balance):
            of = balance.column(_slot("balance", "of"))
            known = ~np.isnan(of)
            values[of[known].astype(np.intp)] = balance.column(leaf.slot)[known]
        word = self._word(f"no measured {leaf.name} is recorded under balance", "loops")
        return self._with_reasons(values, word, "loops")

    def _part(self, subject: str, name: str) -> tuple[Array, Index, Reasons | None]:
        """The values of a part, the row of the subject that each is of, and their reasons."""
        found = self._parts.get((subject, name))
        if found is None:
            found = self._tracked("part", subject, name, lambda: self._resolve_part(subject, name))
            self._parts[(subject, name)] = found
        self._meet("part", subject, name)
        return found

    def _resolve_part(self, subject: str, name: str) -> tuple[Array, Index, Reasons | None]:
        part, _, rest = name.partition(".")
        table = TABLE_OF[subject]
        if part in ("loops", "parts", "tests"):
            of = OF_PARTS[part]
            column = self.column(of, rest)
            group = self._group(TABLE_OF[of], table)
            if (group >= 0).all():
                return column.values, group, column.reasons
            placed = np.flatnonzero(group >= 0)
            return self._joined(
                (column, placed, group[placed]), self._unplaced(TABLE_OF[of], table, table)
            )
        if part == "of_header":
            return self._loops_of_test_header(rest)
        if part == "pumped":
            known = self.column("header", rest), *self.pumps.together()
            lost, groups = self.pumps.in_doubt()
            if not len(lost):
                return self._joined(known)
            size = self.size("header")
            word = self._word(NO_PUMP, "headers")
            nobodys = Column(np.full(size, np.nan), word + np.arange(size))
            return self._joined(known, (nobodys, lost, groups))
        rows = self.tables[part]
        leaf = _leaf(part, rest)
        if leaf is None:
            raise KeyError(name)
        values, parents = rows.column(leaf.slot), np.array(rows.parents, dtype=np.intp)
        if part == "pump_curve":
            which, parents = self.pumps.served(parents)
            values = values[which]
        return values, parents, None

    def _group(self, members: str, table: str) -> Index:
        """For each loop or test the row of the header, room, … it names; -1 where it names none."""
        if table == DESIGNS:
            return self.tables.design_of(members)
        values = self._link(members, table).values
        return np.where(np.isnan(values), -1, values).astype(np.intp)

    def _link(self, members: str, table: str) -> Column:
        """The references from one table to another."""
        leaf = next(leaf for leaf in self.tables[members].shape.columns if leaf.refers_to == table)
        return self.column(subject_of(members), leaf.name)

    def _unplaced(self, members: str, table: str, groups: str) -> tuple[Column, Index, Index]:
        """The references that are missing, each once for every group that it may be of.

        groups: the table whose rows are the groups; those of the member's own design count.
        Returns the references, their rows and the groups.
        """
        link = self._link(members, table)
        lost = np.flatnonzero(np.isnan(link.values))
        designs, of = self.tables.design_of(groups), self.tables.design_of(members)[lost]
        which, group = runs(np.searchsorted(designs, of), np.searchsorted(designs, of, "right"))
        return link, lost[which], group

    @staticmethod
    def _joined(*parts: tuple[Column, Index, Index]) -> tuple[Array, Index, Reasons | None]:
        """Grouped from some rows of several columns, each with its group."""
        values = np.concatenate([column.values[rows] for column, rows, _ in parts])
        reasons = [
            np.full(len(rows), NO_REASON) if column.reasons is None else column.reasons[rows]
            for column, rows, _ in parts
        ]
        return values, np.concatenate([group for *_, group in parts]), np.concatenate(reasons)

    def _loops_of_test_header(self, name: str) -> tuple[Array, Index, Reasons | None]:
        """Every loop on the header of every pressure test: a loop may stand under several."""
        column = self.column("loop", name)
        header = self._link("pressure_tests", "headers")
        loops, tests, unknown = self._under_tests()
        return self._joined(
            (column, loops, tests),
            self._unplaced("loops", "headers", "pressure_tests"),
            (header, unknown, unknown),
        )

    def _under_tests(self) -> tuple[Index, Index, Index]:
        """Loops on a test's header, the test of each, and the tests that name no header."""
        header_of_loop = self._group("loops", "headers")
        order = np.argsort(header_of_loop, kind="stable")
        ordered = header_of_loop[order]
        header = self._link("pressure_tests", "headers")
        missing = np.isnan(header.values)
        known, unknown = np.flatnonzero(~missing), np.flatnonzero(missing)
        wanted = header.values[known]
        which, found = runs(
            np.searchsorted(ordered, wanted), np.searchsorted(ordered, wanted, "right")
        )
        return order[found], known[which], unknown

    # ---- computing

    def _computed(self, known: Quantity) -> Column:
        table = TABLE_OF[known.subject]
        size = len(self.tables[table])
        arguments: list[Any] = []
        required: list[Column] = []
        optional: list[tuple[str, Column]] = []
        outside: list[tuple[npt.NDArray[np.bool_], int]] = []
        for name in known.inputs:
            if name in ROWS:
                arguments.append(self.rows(known.subject, name))
                continue
            if name.split(".", 1)[0] in MEMBERS:
                arguments.append(self.members(known.subject, name))
                required.append(self._first_missing(known.subject, name, size))
                continue
            column = self.column(known.subject, name)
            if name in known.optional:
                optional.append((name, column))
            elif name in known.needed_when:
                required.append(
                    self._where_it_is_needed(column, known.subject, *known.needed_when[name])
                )
            else:
                required.append(column)
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
            values = np.asarray(self._worked_out(known, arguments), dtype=np.float64)
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
        if known.of_plan:
            for words, beyond in self.drawn(known.subject).missing().items():
                reasons = np.where((reasons < 0) & beyond, self._word(words, _NOWHERE), reasons)
        replaced = np.zeros(size, dtype=bool)
        for _, column in optional:
            replaced |= ~np.isnan(column.values)
        for name, column in optional:
            if column.reasons is not None:
                # A field that is left out is no reason where another input stands in for it.
                counts = (reasons < 0) & ~(replaced & ((known.subject, name) not in REGISTRY))
                reasons = np.where(counts, column.reasons, reasons)
        word = self._word(f"{known.title.lower()}: {known.missing_because}", table)
        reasons = np.where(reasons < 0, word + rows, reasons)
        return Column(values, np.where(missing, reasons, NO_REASON))

    def _worked_out(self, known: Quantity, arguments: list[Any]) -> Any:
        """The quantity's values; of several that are worked out together, once for all."""
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

    def _first_missing(self, subject: str, name: str, size: int) -> Column:
        """For each group, the reason of its first missing member, or that it has none."""
        values, group, reasons = self._part(subject, name)
        found: Reasons = np.full(size, NO_REASON, dtype=np.int64)
        part = name.partition(".")[0]
        table = TABLE_OF[subject]
        empty = np.bincount(group, minlength=size) == 0
        if empty.any() and part == "pump_curve":
            found = np.where(empty, self._without_curve(), found)
        elif empty.any():
            word = self._word(_NOTHING[part], table)
            found = np.where(empty, word + np.arange(size), found)
        missing = np.flatnonzero(np.isnan(values))
        if len(missing):
            backward = missing[::-1]
            if reasons is not None:
                found[group[backward]] = reasons[backward]
            else:
                word = self._word(f"a value '{name}' is not given", table)
                found[group[backward]] = word + group[backward]
        return Column(np.empty(0), found)

    def _without_curve(self) -> Reasons:
        """For each header why its pump has no curve, of the one that states the pump."""
        several = self.pumps.several_speeds()
        owner = self.pumps.owner()
        said = (_NOTHING["pump_curve"], NO_SETTING, NO_PUMP)
        curve, setting, pump = (self._word(words, "headers") for words in said)
        lacking = np.where(self.pumps.without(), pump, curve)
        return np.where(several[owner], setting, lacking) + owner

    def _word(self, words: str, table: str) -> int:
        """A reason's number for row 0; add the row."""
        key = (words, table)
        number = self._word_numbers.get(key)
        if number is None:
            number = self._word_numbers[key] = len(self._words)
            self._words.append(key)
        return number << _ROWS_BITS


_HINTS = {
    ("floors", "screed.cover"): (
        "tested",
        "without screed, enter the thickness of the layer over the pipes",
    ),
    ("floors", "screed.conductivity"): (
        "tested",
        "without screed, enter that of the layer over the pipes",
    ),
    ("floors", "screed.material"): ("tested", "without screed, write none"),
    ("floors", "insulation"): (
        "layered",
        "of a layered floor it is what lies under its layers; where nothing does, write 0 m²·K/W",
    ),
}
"""What a floor of one construction states under a name that says something else of most."""


def no_section(section: str) -> str:
    """The reason of what is missing with its whole section."""
    return f"the design has no section '{section}'"


NO_SETTING = "pump.setting is not given"
NO_PUMP = "pump is not given"

_NOTHING = {
    "loops": "it has no loop",
    "parts": "it has no loop",
    "loop_feeds": "feeds is not given",
    "of_header": "its header has no loop",
    "tests": "no pressure test is given",
    "readings": "no readings are given",
    "pump_curve": "pump.curve is not given",
    "pumped": "it has no pump",
    "heat_up_steps": "heat_up.steps is not given",
    "layers": "its layers are not given",
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
    """A field as rules and reports see it."""
    if leaf.kind == "quantity":
        return Described("quantity", leaf.unit, leaf.quantity)
    return Described(leaf.kind, options=leaf.options)


_WHOLE = ("plant", "project", "heat_up", "design")


def _leaf(table: str, name: str) -> Leaf | None:
    return _leaves(table).get(name)


@cache
def _leaves(table: str) -> dict[str, Leaf]:
    return {leaf.name: leaf for leaf in design_format().shapes[table].columns}


def _slot(table: str, name: str) -> int:
    leaf = _leaf(table, name)
    assert leaf is not None
    return leaf.slot
