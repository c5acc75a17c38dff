"""Reads designs into tables: one matrix of numbers a subject, for all designs judged together."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from msgspec import Struct

from checker.arrays import Index
from checker.design import parts
from checker.design.defaults import once, spread
from checker.design.schema import (
    DESIGNS,
    PARTS,
    Format,
    design_format,
)
from checker.design.table import Table
from checker.design.taking import Walk
from checker.reading import yaml_reader
from checker.reading.cells import Cells, cells_of
from checker.reading.design_files import is_json, is_sheet
from checker.reading.documents import Mapping, Problem
from checker.units.systems import typed_system
from checker.words.speech import METRIC

if TYPE_CHECKING:
    from checker.design.answer_files import AnswerFile
    from checker.design.plans import Drawing

KEPT = ("project", "codes", "seen")
"""The sections that say what a design is judged by, kept as they were typed."""


class BadDesign(Exception):
    """A design cannot be read; holds everything that is wrong with it."""

    def __init__(self, problems: list[Problem], cells: Cells | None = None) -> None:
        super().__init__(problems[0].message)
        self.problems = problems
        self.cells = cells


class Design(Struct):
    """One design in tables.

    Attributes:
        path: of its file, as the call named it.
        document: what was typed; where tables keep nothing else, only the sections of KEPT.
        row: its row in the table of designs.
        beside: the answers in a file of their own; None where there is none.
        system: of units, the one of most of its quantities.
        cells: of a sheet, the cells of its values; None for a text.
    """

    path: str
    document: Mapping
    row: int
    beside: AnswerFile | None = None
    system: str = METRIC
    cells: Cells | None = None

    def text(self, section: str, key: str) -> str:
        """Look up a text of a section.

        Args:
            section: at the top of the design ('project').
            key: in it.

        Returns:
            The text as typed; empty where it is not stated, or the section was not kept.
        """
        found = self.document.get(section)
        value = found.get(key) if found else None
        return value or ""

    @property
    def name(self) -> str:
        """The project's name, else the file's."""
        given = self.text("project", "name")
        return given or self.path.replace("\\", "/").rsplit("/", 1)[-1].rsplit(".", 1)[0]

    @property
    def codes(self) -> list[str] | None:
        """The codes declared for the job; None where there are none."""
        return self.document.get("codes")


class Tables:
    """All designs that are judged together, as one table a subject."""

    def __init__(self, codes: Iterable[str] | None = None, *, keep: bool = True) -> None:
        """Start without a design.

        Args:
            codes: those that a design may declare; None for any.
            keep: whether to keep what was typed (`Design.document`, `Table.sources`).
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
        """Read one design file into the tables.

        Args:
            path: of the file, as the call named it; its ending says whether it is JSON.
            data: its bytes.
            changes: to make in it first, each as `design.changes.read_change` takes it.

        Returns:
            The design, whose row is the next one.

        Raises:
            BadDesign: with every mistake found; the tables are then as they were before.
        """
        try:
            json = is_json(path)
            first = '{"design": 1}' if json else "design: 1"
            document = yaml_reader.read(data, json=json, first=first)
        except Problem as problem:
            raise BadDesign([problem]) from None
        return self.take(path, _with_changes(changes, document) if changes else document, data)

    def take(self, path: str, document: Mapping, data: bytes = b"") -> Design:
        """Read a design that has been parsed already into the tables.

        Args:
            path: of its file, as the call named it.
            document: as it was typed; not modified.
            data: the bytes of its file, in which places of mistakes in a plan and the system of
                units are looked up; empty where there is no file.

        Returns:
            The design, whose row is the next one.

        Raises:
            BadDesign: with every mistake found; the tables are then as they were before.
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
            raise BadDesign(problems, cells)
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
        """Remove the last designs.

        Args:
            count: how many designs stay.
        """
        kept = {name: int(np.searchsorted(self.design_of(name), count)) for name in self.tables}
        for name, length in kept.items():
            self.tables[name].cut(length)
        del self.designs[count:]
        self.drawings = {row: one for row, one in self.drawings.items() if row < count}
        self._parts = None

    def design_of(self, table: str) -> Index:
        """Give the design that each row of a table belongs to.

        Args:
            table: the name of any table.

        Returns:
            The row of the design, for each row of the table, shape (n,), in rising order.
        """
        if table == DESIGNS:
            return np.arange(len(self.designs))
        own = self[table]
        parents, above = own.above(), own.shape.parent
        return parents if above == DESIGNS else self.design_of(above)[parents]

    def repeated(self, wanted: Index) -> Tables:
        """Copy some of the designs, as often as wanted.

        The copies may be filled in (`Table.fill`) without changing these.

        Args:
            wanted: the row of the design for each copy, in any order, shape (copies,).

        Returns:
            New tables with one design for each row in `wanted`, in that order; they share the
            designs' documents and drawings with these.
        """
        made = Tables(self.codes, keep=False)
        made.designs = [self.designs[row] for row in wanted.tolist()]
        made.drawings = {
            copy: self.drawings[row]
            for copy, row in enumerate(wanted.tolist())
            if row in self.drawings
        }
        blocks = {name: self._blocks(name, wanted) for name in self.tables}
        for name, (rows, copies, _) in blocks.items():
            shape, own = self.format.shapes[name], made.tables[name]
            above = shape.parent
            parents = copies
            if above and above != DESIGNS:
                parents = blocks[above].starts[copies] + self._within(name, rows, above)
            own.parents.extend(parents.tolist())
            own.copy(self.tables[name], rows)
            for leaf in shape.columns if len(rows) else ():
                if leaf.kind == "reference":
                    values = own.column(leaf.slot)
                    known = ~np.isnan(values)
                    # A record has the same place among those of its design in every copy.
                    firsts = self._firsts(leaf.refers_to)[wanted[copies[known]]]
                    place = values[known].astype(np.intp) - firsts
                    starts = blocks[leaf.refers_to].starts[copies[known]]
                    own.fill(leaf.slot, known, starts + place)
        return made

    def _firsts(self, table: str) -> Index:
        """For each design, its first row of the table; its rows are consecutive."""
        return np.searchsorted(self.design_of(table), np.arange(len(self.designs)))

    def _blocks(self, table: str, wanted: Index) -> _Blocks:
        """The rows of a table that copies of these designs have."""
        of = self.design_of(table)
        first, last = np.searchsorted(of, wanted), np.searchsorted(of, wanted, "right")
        counts = last - first
        starts = np.cumsum(counts) - counts
        copies = np.repeat(np.arange(len(wanted)), counts)
        rows = np.arange(counts.sum()) - starts[copies] + first[copies]
        return _Blocks(rows, copies, starts)

    def _within(self, table: str, rows: Index, above: str) -> Index:
        """The parent of each row, counted from the first of its design."""
        parents = self.tables[table].above()[rows]
        return parents - self._firsts(above)[self.design_of(above)[parents]]


class _Blocks(NamedTuple):
    """The rows of a table in copies of designs, copy after copy.

    Attributes:
        rows: those that are copied, shape (n,).
        copies: the number of the copy that each is for, shape (n,).
        starts: where the rows of each copy begin among all, shape (copies,).
    """

    rows: Index
    copies: Index
    starts: Index


def _with_changes(changes: tuple[str, ...], document: Mapping) -> Mapping:
    """A design with changes made to it; raises BadDesign."""
    from checker.design.changes import BadChange, changed  # few calls change anything

    try:
        return changed(document, changes)
    except Problem as problem:
        raise BadDesign([problem]) from None
    except BadChange as bad:
        raise BadDesign([Problem(str(bad))]) from None


def _brief(document: Mapping) -> Mapping:
    """A copy of a design with only the sections of KEPT."""
    brief = Mapping(document.place)
    brief.update({key: document[key] for key in KEPT if key in document})
    return brief
