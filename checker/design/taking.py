"""Reads one design into the tables: converts every value, and notes every mistake."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from checker.design import pumps
from checker.design.layered import misfits
from checker.design.leaves import Leaf
from checker.design.leaves import words as kept_words
from checker.design.schema import (
    DESIGNS,
    Collection,
    Named,
    NamedRows,
    PlanPart,
    Record,
    Rows,
)
from checker.design.table import Row, Table
from checker.design.trade_words import ours
from checker.design.wrong_kinds import not_a_value, severed_by_comma, wrong_kind
from checker.reading.documents import Mapping, Place, Problem, Sequence, column_of, line_of, shown
from checker.words import choices

if TYPE_CHECKING:
    from checker.design.plans import Drawing
    from checker.design.tables import Tables


MOST_PROBLEMS = 100
"""Most mistakes that are listed for one file."""


class _Enough(Exception):
    """Raised after so many mistakes that listing more would not help."""


class Walk:
    """One design that is being read into the tables.

    Attributes:
        path: of its file, as the call named it.
        tables: that it goes into.
        starts: by table, the first row of the design.
        problems: the mistakes found so far.
        references: ids that are still to be looked up, each with the row and leaf that it is for.
        plan: what the format has for a plan, the plan as typed, and its place; None for none.
        drawing: what the plan shows; None until it is read.
    """

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
        """Read the whole design: its values, references, pumps, plan and floors.

        Args:
            document: the design as it was typed, its defaults spread.
            first: the first line that a design of this kind of file has, for the message where it
                is missing.
            data: the bytes of its file; empty where there is none.

        Returns:
            Every mistake found, in the order of the file, MOST_PROBLEMS at most; the rows stay in
            the tables.
        """
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
        """Add a row to a table, and keep what was typed for it where the tables keep that.

        Args:
            table: to add it to.
            name: the id of the record; empty where it has none.
            parent: the row that it belongs to.
            source: the record as typed.
            place: of the record in the file.

        Returns:
            The row, to be filled in place: its values, then the place of each.
        """
        if self.tables.keep:
            table.sources.append(source)  # type: ignore[arg-type]  # a tuple's parts have no keys to look up
        return table.add(name, parent, place)

    def problem(self, where: str, words: str, place: Place) -> None:
        """Note a mistake.

        Args:
            where: the path of what is wrong ('loops.L1.length').
            words: what is wrong and what to write instead; a full stop is added.
            place: where it is in the file.

        Raises:
            _Enough: there are so many mistakes that reading stops.
        """
        end = "" if words.endswith((".", "?")) else "."
        self.problems.append(Problem(f"{where}: {words}{end}", place))
        if len(self.problems) >= MOST_PROBLEMS:
            raise _Enough

    def record(self, record: Record, mapping: Any, row: Row, table: Table, where: str) -> None:
        """Fill a row from a record; tables within the record get their own rows.

        Args:
            record: what the format has here.
            mapping: the record as typed.
            row: its values and their places, filled in place.
            table: whose last row this is.
            where: the record's path with a full stop ('loops.L1.'); empty at the top.
        """
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
        """Note each key that stands beside a list that replaces it.

        Args:
            rows: the list, by the format.
            name: its key.
            mapping: the record with the list, as typed.
            where: the record's path with a full stop.
        """
        for key in rows.instead_of:
            if key in mapping:
                words = f"with '{name}' this belongs in each of them, not beside them"
                self.problem(where + key, words, mapping.places[key][0])

    def leaf(self, leaf: Leaf, raw: Any, row: Row, place: Place, where: str) -> None:
        """Fill in one value; `drawn` and references are only noted, and filled in at the end.

        Args:
            leaf: what the format has here.
            raw: as typed: a text where it is right, but also None, a mapping or a list.
            row: its values and their places, filled in place.
            place: of the value in the file.
            where: the value's path.
        """
        if type(raw) is not str:
            self.problem(where, not_a_value(leaf, raw), place)
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

    def part(self, member: Any, raw: Any, row: Row, table: Table, place: Place, where: str) -> None:
        """Read a member of a record that is more than one value.

        Args:
            member: what the format has here.
            raw: as typed; noted where it is of the wrong type.
            row: of the record around it, filled in place.
            table: whose last row that is.
            place: of the member in the file.
            where: the member's path.
        """
        misfit = wrong_kind(raw, member)
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
                    self.problem(f"{where}.{shown(name)}", "one value is expected here", place)
        elif type(member) is Rows:
            self.rows(member, raw, len(table) - 1, where)
            if member.instead_of and not raw:
                self.problem(
                    where, "one part at least is expected here, or leave the key out", place
                )
        elif type(member) is NamedRows:
            self.named_rows(member, raw, len(table) - 1, where)
        elif type(member) is PlanPart:
            self.plan = (member, raw, place)
        else:
            if not raw:
                self.problem(
                    where, "one code at least is expected here, or leave the key out", place
                )
            for number, item in enumerate(raw):
                if type(item) is not str or not item:
                    self.problem(where, "a list of words is expected here", raw.places[number])
                elif self.tables.codes is not None and item not in self.tables.codes:
                    words = f"there is no code '{shown(item)}'"
                    near = choices(shown(item), self.tables.codes)
                    self.problem(where, f"{words}; {near}", raw.places[number])

    def collection(self, collection: Collection, mapping: Mapping, where: str) -> None:
        """Add a row for each record of a section, by id.

        Args:
            collection: what the format has here.
            mapping: the section as typed.
            where: the section's path.
        """
        table = self.tables[collection.shape.name]
        design = len(self.tables.designs)
        for name, source in mapping.items():
            key_place, place = mapping.places[name]
            here = f"{where}.{shown(name)}"
            misfit = wrong_kind(source, collection.record)
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
        """Note an id that is too long or cannot be displayed.

        Args:
            name: the id as typed.
            where: the path of its record.
            place: of the id in the file.
        """
        if not 1 <= len(name) <= 64 or name[0].isspace() or not name.isprintable():
            words = "an id has 1 to 64 printable characters, and the first is not a space"
            if len(name) > 64:
                words += f"; this one has {len(name)}"
            self.problem(where, words, place)

    def rows(self, rows: Rows, sequence: Sequence, parent: int, where: str) -> None:
        """Add a row for each item of a list.

        Args:
            rows: what the format has here.
            sequence: the list as typed.
            parent: the row that the items belong to.
            where: the list's path; items are counted from 1.
        """
        table = self.tables[rows.shape.name]
        for number, item in enumerate(sequence):
            place = sequence.places[number]
            here = f"{where}[{number + 1}]"
            if rows.tuple_of:
                if type(item) is not Sequence or len(item) != len(rows.tuple_of):
                    pair = ", ".join(rows.tuple_of)
                    self.problem(here, f"a pair [{pair}] is expected here", place)
                    continue
                row = self.add_row(table, "", parent, item, place)
                for part, raw, at in zip(rows.tuple_of, item, item.places, strict=True):
                    leaf = rows.record.members[part]
                    assert isinstance(leaf, Leaf)
                    self.leaf(leaf, raw, row, at, f"{here}.{part}")
            elif type(item) is not Mapping:
                self.problem(here, wrong_kind(item, rows.record), place)
            else:
                row = self.add_row(table, "", parent, item, place)
                self.record(rows.record, item, row, table, here + ".")

    def named_rows(self, named: NamedRows, mapping: Mapping, parent: int, where: str) -> None:
        """Add a row for each item of several lists, with the name of its list.

        Args:
            named: what the format has here.
            mapping: the lists by name, as typed.
            parent: the row that the items belong to.
            where: the path of the mapping.
        """
        table = self.tables[named.rows.shape.name]
        for name, items in mapping.items():
            key_place, place = mapping.places[name]
            here = f"{where}.{shown(name)}"
            self.hold_id(name, here, key_place)
            misfit = wrong_kind(items, named.rows)
            if misfit:
                self.problem(here, misfit, place)
                continue
            start = len(table)
            self.rows(named.rows, items, parent, here)
            for row in table.rows[start:]:
                row[named.name.slot] = kept_words.number(name)

    def unknown(self, key: str, record: Record, mapping: Mapping, where: str) -> None:
        """Note a key that the format does not have, with the nearest that it does.

        Where the key is the rest of a number with a decimal comma, that is noted instead of all
        mistakes of the cut-off value.

        Args:
            key: as typed.
            record: what the format has here.
            mapping: the record as typed.
            where: the record's path with a full stop; empty at the top.
        """
        place = mapping.places[key][0]
        severed = severed_by_comma(mapping, key)
        if severed is not None:
            before, words = severed
            place = mapping.places[before][1]
            self.problems = [
                problem
                for problem in self.problems
                if (problem.line, problem.column) != (line_of(place), column_of(place))
            ]
            self.problem(where + before, words, place)
            return
        meant = ours(key, record.members)
        near = f"write '{meant}'" if meant else choices(shown(key), record.members)
        words = f"the key '{shown(key)}' is not known here; {near}"
        self.problem(where.rstrip(".") or "design", words, place)

    def hold_bores(self, typed: Any) -> None:
        """Note each pipe of this design whose wall leaves no bore.

        Args:
            typed: the design's pipes as they were typed; None where it has none.
        """
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
        """Replace the ids that refer to another record by that record's row.

        References into a section that the design does not have yet stay missing.

        Args:
            document: the design as it was typed, for the sections that it has.
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
