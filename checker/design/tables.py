"""Designs to tables: one matrix of numbers a subject, for all designs in hand at once."""

from __future__ import annotations

import re
from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import numpy.typing as npt

from checker.design import parts, pumps
from checker.design.changes import BadChange, changed
from checker.design.defaults import once, spread
from checker.design.layered import misfits
from checker.design.schema import (
    DESIGNS,
    PARTS,
    Collection,
    Format,
    Leaf,
    Named,
    NamedRows,
    PlanPart,
    Record,
    Rows,
    Shape,
    Texts,
    design_format,
    sample,
)
from checker.design.schema import words as kept_words
from checker.design.trade_words import ours
from checker.reading import yaml_reader
from checker.reading.cells import Cells, cells_of
from checker.reading.design_files import is_json, is_sheet
from checker.reading.yaml_reader import Mapping, Place, Problem, Sequence, shown
from checker.units.systems import typed_system
from checker.words import choices
from checker.words.speech import METRIC

if TYPE_CHECKING:
    from checker.design.answer_files import AnswerFile
    from checker.design.plans import Drawing

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

Row: TypeAlias = "array[float]"

NAN = float("nan")
DECIMAL_COMMA = re.compile("-?[0-9]+,[0-9]")
KEPT = ("project", "codes", "seen")
"""The sections that say what a design is judged by, kept as they were typed."""

MOST_PROBLEMS = 100
"""Mistakes looked for in one file."""


class Unreadable(Exception):
    """A design that cannot be taken, with all that is wrong with it."""

    def __init__(self, problems: list[Problem], cells: Cells | None = None) -> None:
        super().__init__(problems[0].message)
        self.problems = problems
        self.cells = cells


@dataclass(slots=True)
class Table:
    """The rows of one subject. Missing numbers are NaN; a reference is a row number.

    A row is its values and then, as many again, the place of each, else that of the part around
    it (zero where neither was typed).
    `parents` holds for each row the row it belongs to, in the table that the shape names.
    """

    shape: Shape
    rows: list[Row] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    parents: array[int] = field(default_factory=partial(array, "q"))
    sources: list[Mapping] = field(default_factory=list)
    # Like the rows and parents, in an array: NumPy copies one a hundred times as fast as a list.
    places: array[int] = field(default_factory=partial(array, "q"))
    _matrix: Array | None = None
    _blank: Row = field(init=False)

    def __post_init__(self) -> None:
        columns = len(self.shape.columns)
        self._blank = array("d", [NAN] * columns + [0.0] * columns)

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def section(self) -> str:
        """The section of the design that its rows stand in, as subjects begin."""
        return "loops" if self.shape.name == PARTS else self.shape.name

    def add(self, name: str, parent: int, place: Place) -> Row:
        """Add a row of which nothing is known yet."""
        row = self._blank[:]
        self._matrix = None
        self.rows.append(row)
        self.ids.append(name)
        self.parents.append(parent)
        self.places.append(place)
        return row

    def take(self, matrix: Array, ids: list[str], parents: Index, places: Array) -> None:
        """Hold these rows and no others: matrix shape (columns and their places, n)."""
        self._matrix = matrix
        self.ids = ids
        self.parents = array("q", parents.tolist())
        self.places = array("q", places.astype(np.int64).tolist())

    def cut(self, length: int) -> None:
        """Forget all rows from this number on."""
        self._matrix = None
        for column in (self.rows, self.ids, self.parents, self.sources, self.places):
            del column[length:]

    def column(self, slot: int) -> Array:
        """The column's values, shape (n,)."""
        if self._matrix is None:
            rows = np.frombuffer(b"".join(self.rows), dtype=np.float64)
            rows = rows.reshape(len(self.rows), 2 * len(self.shape.columns))
            self._matrix = np.ascontiguousarray(rows.T)
        values: Array = self._matrix[slot]
        return values

    def copy(self, other: Table, rows: Index) -> None:
        """Take over these rows of another table, but for their parents."""
        if len(rows):
            other.column(0)
            assert other._matrix is not None
            self._matrix = other._matrix[:, rows]
        self.rows = [other.rows[row] for row in rows.tolist()]
        self.ids = [other.ids[row] for row in rows.tolist()]
        self.places = array("q", np.array(other.places, dtype=np.int64)[rows].tobytes())

    def fill(self, slot: int, rows: Any, values: Array | Index) -> None:
        """Put values into some rows of a column of a copy."""
        self.column(slot)[rows] = values

    def placed(self, slot: int) -> npt.NDArray[np.bool_]:
        """For each row, whether the field, or a part around it, was typed, shape (n,)."""
        return self.column(slot + len(self.shape.columns)) > 0

    def places_at(self, name: str) -> npt.NDArray[np.int64]:
        """For each row the place of a field, else of the part around it, else of the row, (n,)."""
        own = np.array(self.places, dtype=np.int64)
        slot = next((leaf.slot for leaf in self.shape.columns if leaf.name == name), None)
        if slot is None or not self.ids:
            return own
        places = self.column(slot + len(self.shape.columns)).astype(np.int64)
        return np.where(places > 0, places, own)


@dataclass(slots=True)
class Design:
    """One design: where it came from, what was typed, and its row in the designs table.

    Of tables that keep nothing else, the document has the parts that say what it is judged by.
    beside: the answers that lie in a file of their own; system: of units, the one that most of its
    quantities were typed in; cells: of a sheet, where its values stand.
    """

    path: str
    document: Mapping
    row: int
    beside: AnswerFile | None = None
    system: str = METRIC
    cells: Cells | None = None

    def text(self, section: str, key: str) -> str:
        """A text of a section, empty where none was given."""
        found = self.document.get(section)
        value = found.get(key) if found else None
        return value or ""

    @property
    def name(self) -> str:
        """The project's name, else the file's own."""
        given = self.text("project", "name")
        return given or self.path.replace("\\", "/").rsplit("/", 1)[-1].rsplit(".", 1)[0]

    @property
    def codes(self) -> list[str] | None:
        """The codes declared for the job, if any are."""
        return self.document.get("codes")


class Tables:
    """All designs in hand, as one table a subject."""

    def __init__(self, codes: Iterable[str] | None = None, *, keep: bool = True) -> None:
        """codes: those that a design may declare; any where they are not known here.

        keep: whether what was typed is at hand afterwards (`Design.document`, `Table.sources`).
        """
        self.codes = None if codes is None else (*codes,)
        self.keep = keep
        self.format: Format = design_format()
        self.designs: list[Design] = []
        self.drawings: dict[int, Drawing] = {}
        """What the plans show, by the rows of the designs that have one."""
        self.tables = {
            name: Table(shape) for name, shape in self.format.shapes.items() if name != PARTS
        }
        self._parts: Table | None = None

    def __getitem__(self, name: str) -> Table:
        if name == PARTS:
            if self._parts is None:
                self._parts = Table(self.format.shapes[PARTS])
                parts.fill(self._parts, self.tables)
            return self._parts
        return self.tables[name]

    def add(self, path: str, data: bytes, changes: tuple[str, ...] = ()) -> Design:
        """Read one design file into the tables; raises Unreadable and then leaves no trace.

        changes: made to it before it is taken (`design.changes`).
        """
        try:
            json = is_json(path)
            first = '{"design": 1}' if json else "design: 1"
            document = yaml_reader.read(data, json=json, first=first)
            document = changed(document, changes)
        except Problem as problem:
            raise Unreadable([problem]) from None
        except BadChange as bad:
            raise Unreadable([Problem(str(bad))]) from None
        return self.take(path, document, data)

    def take(self, path: str, document: Mapping, data: bytes = b"") -> Design:
        """Take a design as it was typed into the tables; raises Unreadable and leaves no trace.

        data: the file that it is from, in which places of mistakes in a plan are looked up.
        """
        first = '{"design": 1}' if is_json(path) else "design: 1"
        lengths = {name: len(table) for name, table in self.tables.items()}
        walk = Walk(self, lengths, path)
        cells = cells_of(document, data)
        if cells is not None and is_sheet(path):
            cells = cells._replace(direct=True)
        document, wrong, places = spread(document)
        problems = walk.take(document, first, data)
        if wrong or places:
            problems = sorted([*wrong, *once(problems, places)], key=lambda p: (p.line, p.column))
        if problems:
            for name, table in self.tables.items():
                table.cut(lengths[name])
            raise Unreadable(problems, cells)
        system = typed_system(data, document)
        if not self.keep:
            document = _brief(document)
        if walk.drawing is not None:
            self.drawings[len(self.designs)] = walk.drawing
        design = Design(path, document, len(self.designs), system=system, cells=cells)
        self.designs.append(design)
        self._parts = None
        return design

    def cut(self, count: int) -> None:
        """Forget all designs from this number on."""
        kept = {name: int(np.searchsorted(self.design_of(name), count)) for name in self.tables}
        for name, length in kept.items():
            self.tables[name].cut(length)
        del self.designs[count:]
        self.drawings = {row: one for row, one in self.drawings.items() if row < count}
        self._parts = None

    def design_of(self, table: str) -> Index:
        """For each row of a table, the row of its design. Shape (n,)."""
        if table == DESIGNS:
            return np.arange(len(self.designs))
        parents = np.array(self[table].parents, dtype=np.intp)
        above = self[table].shape.parent
        return parents if above == DESIGNS else self.design_of(above)[parents]

    def repeated(self, wanted: Index) -> Tables:
        """Some of these designs again, each as often and in the order that `wanted` names its row.

        The copies may be filled in (`Table.fill`) without touching these.
        """
        made = Tables(self.codes, keep=False)
        made.designs = [self.designs[row] for row in wanted.tolist()]
        made.drawings = {
            copy: self.drawings[row]
            for copy, row in enumerate(wanted.tolist())
            if row in self.drawings
        }
        runs = {name: self._run(name, wanted) for name in self.tables}
        for name, (rows, copies, _) in runs.items():
            shape, own = self.format.shapes[name], made.tables[name]
            above = shape.parent
            parents = copies
            if above and above != DESIGNS:
                parents = runs[above][2][copies] + self._within(name, rows, above)
            own.parents.extend(parents.tolist())
            own.copy(self.tables[name], rows)
            for leaf in shape.columns if len(rows) else ():
                if leaf.kind == "reference":
                    values = own.column(leaf.slot)
                    known = ~np.isnan(values)
                    far = runs[leaf.refers_to]
                    old = values[known].astype(np.intp)
                    firsts = self._firsts(leaf.refers_to)[wanted[copies[known]]]
                    own.fill(leaf.slot, known, far[2][copies[known]] + old - firsts)
        return made

    def _firsts(self, table: str) -> Index:
        """For each design, its first row of the table; they stand together."""
        return np.searchsorted(self.design_of(table), np.arange(len(self.designs)))

    def _run(self, table: str, wanted: Index) -> tuple[Index, Index, Index]:
        """The rows of these designs, which of `wanted` each is of, and where each one's start."""
        of = self.design_of(table)
        first, last = np.searchsorted(of, wanted), np.searchsorted(of, wanted, "right")
        counts = last - first
        starts = np.cumsum(counts) - counts
        copies = np.repeat(np.arange(len(wanted)), counts)
        rows = np.arange(counts.sum()) - starts[copies] + first[copies]
        return rows, copies, starts

    def _within(self, table: str, rows: Index, above: str) -> Index:
        """The parent of each row, counted from the first of its design."""
        parents = np.array(self.tables[table].parents, dtype=np.intp)[rows]
        return parents - self._firsts(above)[self.design_of(above)[parents]]


def _brief(document: Mapping) -> Mapping:
    brief = Mapping(document.place)
    brief.update({key: document[key] for key in KEPT if key in document})
    return brief


def severed_by_comma(mapping: Mapping, key: str) -> tuple[str, str] | None:
    """Where this key is the rest of a number with a decimal comma: the key before it, and words.

    Between braces a comma ends the value, and what follows it looks like a key.
    """
    keys = [*mapping]
    before = keys[max(keys.index(key) - 1, 0)]
    typed = f"{mapping[before]},{key}"
    near = mapping.places[key][0] - mapping.places[before][1] == len(typed) - len(key)
    if not (near and mapping[key] is None and DECIMAL_COMMA.match(typed)):
        return None
    return before, f"'{typed}' has a decimal comma; write '{typed.replace(',', '.')}'"


class _Enough(Exception):
    """So many mistakes are found that more of them help nobody."""


class Walk:
    """One design on its way into the tables: every value converted, every mistake noted."""

    def __init__(self, tables: Tables, starts: dict[str, int], path: str) -> None:
        self.path = path
        self.tables = tables
        self.starts = starts
        self.problems: list[Problem] = []
        self.references: list[tuple[Row, Leaf, str, Any, str]] = []
        self.from_plan: list[tuple[Row, Leaf, Place, str]] = []
        """Values for which `drawn` is written, each with its place and whose it is."""
        self.plan: tuple[PlanPart, Mapping, Place] | None = None
        self.drawing: Drawing | None = None

    def take(self, document: Mapping, first: str, data: bytes) -> list[Problem]:
        designs = self.tables[DESIGNS]
        row = self.add_row(designs, "", 0, document, document.place)
        if "design" not in document:
            self.problems.append(
                Problem(f"The key 'design' is missing; the file starts with '{first}'.")
            )
        try:
            self.record(self.tables.format.top, document, row, designs, "")
            self.resolve(document)
            self.hold_bores(document.get("pipes"))
            for misfit in pumps.take(self.tables, self.starts, document.get("headers")):
                self.problem(*misfit)
            if self.plan is not None or self.from_plan:
                from checker.design.plans import take_plan

                self.drawing = take_plan(self, data)
            for misfit in misfits(self.tables, self.starts, document.get("floors")):
                self.problem(*misfit)
        except _Enough:
            pass
        self.problems.sort(key=lambda problem: (problem.line, problem.column))
        return self.problems

    def add_row(
        self, table: Table, name: str, parent: int, source: Mapping | Sequence, place: Place
    ) -> Row:
        if self.tables.keep:
            table.sources.append(source)  # type: ignore[arg-type]  # a tuple's parts have no keys to look up
        return table.add(name, parent, place)

    def problem(self, where: str, words: str, place: Place) -> None:
        end = "" if words.endswith((".", "?")) else "."
        self.problems.append(Problem(f"{where}: {words}{end}", place))
        if len(self.problems) >= MOST_PROBLEMS:
            raise _Enough

    def record(self, record: Record, mapping: Any, row: Row, table: Table, where: str) -> None:
        """Fill the row from the mapping's members; tables within it get rows of their own."""
        members = record.members
        columns = len(row) // 2
        for (key, raw), (_, place) in zip(mapping.items(), mapping.places.values(), strict=True):
            member = members.get(key)
            if type(member) is Leaf:
                value = member.memo.get(raw) if type(raw) is str else None
                if value is not None:
                    slot = member.slot
                    row[slot] = value
                    row[slot + columns] = place
                elif type(raw) is Sequence and member.listed is not None:
                    row[member.slot + columns] = place
                    self.rows(member.listed, raw, len(table) - 1, where + key)
                else:
                    self.leaf(member, raw, row, place, where + key)
            elif member is None:
                self.unknown(key, record, mapping, where)
            else:
                self.part(member, raw, row, table, place, where + key)
                if type(member) is Rows and member.instead_of:
                    self.beside(member, key, mapping, where)
        for key in record.required:
            if key not in mapping and where:
                self.problem(where.rstrip("."), f"'{key}' is missing here", mapping.place)

    def beside(self, rows: Rows, name: str, mapping: Mapping, where: str) -> None:
        """Note each key that stands beside a list which takes its place."""
        for key in rows.instead_of:
            if key in mapping:
                words = f"with '{name}' this stands in each of them, not beside them"
                self.problem(where + key, words, mapping.places[key][0])

    def leaf(self, leaf: Leaf, raw: Any, row: Row, place: Place, where: str) -> None:
        if type(raw) is not str:
            self.problem(where, self.not_a_value(leaf, raw), place)
            return
        if leaf.slot >= 0:
            row[leaf.slot + len(row) // 2] = place
        if leaf.drawn and raw == "drawn":
            self.from_plan.append((row, leaf, place, where))
            return
        if leaf.kind == "reference":
            self.references.append((row, leaf, raw, place, where))
            return
        try:
            value = leaf.convert(raw)
        except ValueError as error:
            self.problem(where, str(error), place)
        else:
            if leaf.slot >= 0:
                row[leaf.slot] = value

    @staticmethod
    def not_a_value(leaf: Leaf, raw: Any) -> str:
        wanted = f"such as '{leaf.example}'" if leaf.example else "or leave the key out"
        if raw is None:
            return f"there is no value; write one, {wanted}"
        return f"one value is wanted here, not a {'list' if type(raw) is Sequence else 'mapping'}"

    @staticmethod
    def misfit(
        raw: Any, member: Record | Collection | Rows | NamedRows | Texts | PlanPart | Named
    ) -> str:
        """What is wrong with this part of the file, empty where it is of the type wanted."""
        wanted = Sequence if type(member) in (Rows, Texts) else Mapping
        if type(raw) is wanted:
            return ""
        if raw is None:
            return "nothing stands here; fill it in, or leave the key out"
        if wanted is Mapping:
            return f"keys with their values are wanted here, such as {sample(member)}"
        return f"a list is wanted here, such as {sample(member)}"

    def part(self, member: Any, raw: Any, row: Row, table: Table, place: Place, where: str) -> None:
        misfit = self.misfit(raw, member)
        if misfit:
            self.problem(where, misfit, place)
        elif type(member) is Record:
            for leaf in member.columns:
                row[leaf.slot + len(row) // 2] = place
            self.record(member, raw, row, table, where + ".")
        elif type(member) is Collection:
            self.collection(member, raw, where)
        elif type(member) is Named:
            for name, value in raw.items():
                if type(value) is not str:
                    self.problem(f"{where}.{shown(name)}", "one value is wanted here", place)
        elif type(member) is Rows:
            self.rows(member, raw, len(table) - 1, where)
            if member.instead_of and not raw:
                self.problem(where, "one part at least is wanted here, or leave the key out", place)
        elif type(member) is NamedRows:
            self.named_rows(member, raw, len(table) - 1, where)
        elif type(member) is PlanPart:
            self.plan = (member, raw, place)
        else:
            for number, item in enumerate(raw):
                if type(item) is not str or not item:
                    self.problem(where, "a list of words is wanted here", raw.places[number])
                elif self.tables.codes is not None and item not in self.tables.codes:
                    words = f"there is no code '{shown(item)}'"
                    near = choices(shown(item), self.tables.codes)
                    self.problem(where, f"{words}; {near}", raw.places[number])

    def collection(self, collection: Collection, mapping: Mapping, where: str) -> None:
        table = self.tables[collection.shape.name]
        design = len(self.tables.designs)
        for name, source in mapping.items():
            key_place, place = mapping.places[name]
            here = f"{where}.{shown(name)}"
            misfit = self.misfit(source, collection.record)
            if misfit:
                self.problem(here, misfit, place)
                continue
            self.hold_id(name, here, key_place)
            row = self.add_row(table, name, design, source, key_place)
            self.record(collection.record, source, row, table, here + ".")
            if collection.keys_refer_to:
                of = table.shape.columns[-1]
                self.references.append((row, of, name, key_place, where))

    def hold_id(self, name: str, where: str, place: Place) -> None:
        """Note an id that is too long or cannot be shown."""
        if not 1 <= len(name) <= 64 or name[0].isspace() or not name.isprintable():
            words = "an id has 1 to 64 printable characters, and the first is not a space"
            if len(name) > 64:
                words += f"; this one has {len(name)}"
            self.problem(where, words, place)

    def rows(self, rows: Rows, sequence: Sequence, parent: int, where: str) -> None:
        table = self.tables[rows.shape.name]
        for number, item in enumerate(sequence):
            place = sequence.places[number]
            here = f"{where}[{number + 1}]"
            if rows.tuple_of:
                if type(item) is not Sequence or len(item) != len(rows.tuple_of):
                    pair = ", ".join(rows.tuple_of)
                    self.problem(here, f"a pair [{pair}] is wanted here", place)
                    continue
                row = self.add_row(table, "", parent, item, place)
                for part, raw, at in zip(rows.tuple_of, item, item.places, strict=True):
                    leaf = rows.record.members[part]
                    assert isinstance(leaf, Leaf)
                    self.leaf(leaf, raw, row, at, f"{here}.{part}")
            elif type(item) is not Mapping:
                self.problem(here, self.misfit(item, rows.record), place)
            else:
                row = self.add_row(table, "", parent, item, place)
                self.record(rows.record, item, row, table, here + ".")

    def named_rows(self, named: NamedRows, mapping: Mapping, parent: int, where: str) -> None:
        table = self.tables[named.rows.shape.name]
        for name, items in mapping.items():
            key_place, place = mapping.places[name]
            here = f"{where}.{shown(name)}"
            self.hold_id(name, here, key_place)
            misfit = self.misfit(items, named.rows)
            if misfit:
                self.problem(here, misfit, place)
                continue
            start = len(table)
            self.rows(named.rows, items, parent, here)
            for row in table.rows[start:]:
                row[named.name.slot] = kept_words.number(name)

    def unknown(self, key: str, record: Record, mapping: Mapping, where: str) -> None:
        place = mapping.places[key][0]
        severed = severed_by_comma(mapping, key)
        if severed is not None:
            before, words = severed
            place = mapping.places[before][1]
            self.problems = [
                problem
                for problem in self.problems
                if (problem.line, problem.column)
                != (yaml_reader.line_of(place), yaml_reader.column_of(place))
            ]
            self.problem(where + before, words, place)
            return
        meant = ours(key, record.members)
        near = f"write '{meant}'" if meant else choices(shown(key), record.members)
        words = f"the key '{shown(key)}' is not known here; {near}"
        self.problem(where.rstrip(".") or "design", words, place)

    def hold_bores(self, typed: Any) -> None:
        """Note each pipe of this design whose wall leaves no bore; typed: the design's pipes."""
        pipes = self.tables["pipes"]
        start = self.starts["pipes"]
        outside, wall = (
            self.tables.format.leaf("pipes", name).slot for name in ("outside", "wall")
        )
        for name, row in zip(pipes.ids[start:], pipes.rows[start:], strict=True):
            if row[outside] <= 2 * row[wall]:
                source = typed[name]
                words = (
                    f"two walls of {source['wall']} leave no bore in a pipe of {source['outside']}"
                )
                self.problem(f"pipes.{shown(name)}.wall", words, source.places["wall"][1])

    def resolve(self, document: Mapping) -> None:
        """Turn the ids that refer to another record into that record's row.

        Into a section that the job has no data for yet they lead nowhere, and stay missing.
        """
        known: dict[str, dict[str, int]] = {}
        for row, leaf, raw, place, where in self.references:
            name = leaf.refers_to
            ids = known.get(name)
            if ids is None:
                start = self.starts[name]
                ids = known[name] = {
                    found: start + number
                    for number, found in enumerate(self.tables[name].ids[start:])
                }
            found = ids.get(raw)
            if found is not None:
                row[leaf.slot] = found
            elif name in document:
                near = choices(shown(raw), ids)
                self.problem(where, f"there is no '{shown(raw)}' in {name}; {near}", place)
