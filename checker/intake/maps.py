"""Map files, which say where the values of a design are in somebody's sheets."""

from __future__ import annotations

import dataclasses
import json
import re
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from typing import Any

from checker import units
from checker.design.leaves import TRUE, Leaf
from checker.design.schema import Collection, NamedRows, Record, Rows, design_format
from checker.intake.fields import Field, collections, fields, value_of
from checker.intake.sheets import alike
from checker.intake.values import PLAIN, THOUSANDS, Marks
from checker.reading import yaml_reader
from checker.reading.documents import Mapping, Problem, Sequence, line_of
from checker.reading.package_data import data_folder
from checker.words import choices

SHEET = "sheet"
"""In an id, this is replaced by the sheet's name."""
IN_BRACES = re.compile(r"\{([^{}]+)\}")


class BadMap(Exception):
    """A map cannot be used; holds every mistake found in it."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(problems[0].message)
        self.problems = problems


@dataclass(frozen=True)
class Reading:
    """How a cell becomes a value: the field, and the unit, date format and words that the sheet
    uses.

    spelt: the sheet's words as the map spells them, for messages.
    """

    field: Field
    unit: str = ""
    date: str = ""
    words: dict[str, str] = dataclasses.field(default_factory=dict)
    spelt: dict[str, str] = dataclasses.field(default_factory=dict)


@dataclass(frozen=True)
class Column:
    """A column to read, found by its heading or by its letters.

    plus: headings of columns whose values are added to it; times: a factor for its values; add:
    whether values of several rows about one record are summed.
    """

    heading: str
    letters: str
    reading: Reading
    despite_heading: bool = False
    plus: tuple[str, ...] = ()
    times: int = 1
    add: bool = False


@dataclass(frozen=True)
class Single:
    """A single cell to read, found by its address or by the label beside it."""

    at: str
    beside: str
    reading: Reading


@dataclass(frozen=True)
class Part:
    """What to read from one sheet, or from several sheets of the same kind."""

    sheet: str = ""
    optional: bool = False
    each: bool = False
    transposed: bool = False
    title: str = ""
    header_row: int = 0
    header_rows: int = 1
    skip: tuple[str, ...] = ()
    fill_down: tuple[str, ...] = ()
    ids: dict[str, str] = dataclasses.field(default_factory=dict)
    columns: tuple[Column, ...] = ()
    cells: tuple[Single, ...] = ()

    @property
    def headings(self) -> list[str]:
        """Every heading that the sheet must have."""
        named = [column.heading for column in self.columns if column.heading]
        named += [other for column in self.columns for other in column.plus]
        for template in self.ids.values():
            named += IN_BRACES.findall(template)
        own = {*self.variables, SHEET}
        return [one for one in dict.fromkeys((*named, *self.fill_down)) if one not in own]

    @property
    def variables(self) -> list[str]:
        """The names in braces in the patterns of sheet names and titles; ids may use them."""
        return [*IN_BRACES.findall(self.sheet), *IN_BRACES.findall(self.title)]

    def title_values(self, sheet: str, title: str) -> dict[str, str]:
        """What a sheet's name and a table's title say for the names in braces in their patterns.

        Args:
            sheet: the sheet's name.
            title: the title over the table; empty where it has none.

        Returns:
            A text by name, with the sheet's name as `sheet`; names of a pattern that does not fit
            are left out.
        """
        found = {SHEET: sheet}
        for pattern, text in ((self.sheet, sheet), (self.title, title)):
            match = fitting(pattern, text)
            found.update(match or {})
        return found


def fitting(pattern: str, text: str) -> dict[str, str] | None:
    """Match a text with a pattern of a map.

    Args:
        pattern: for example `Manifold {M} *`; `*` matches any text.
        text: for example `Manifold H1 (ground floor)`.

    Returns:
        What each name in braces matched (`{"M": "H1"}`); None where the text does not fit.
    """
    names = IN_BRACES.findall(pattern)
    if not names:
        return {} if fnmatchcase(alike(text), alike(pattern)) else None
    parts = []
    for part in re.split(r"(\{[^{}]+\}|\*)", " ".join(pattern.split())):
        if part == "*":
            parts.append(".*")
        elif part.startswith("{"):
            parts.append(r"(\S.*?)")
        else:
            parts.append(re.escape(part).replace(r"\ ", r"\s+"))
    match = re.fullmatch("".join(parts), " ".join(text.split()), re.IGNORECASE)
    return dict(zip(names, match.groups(), strict=True)) if match else None


@dataclass(frozen=True)
class Default:
    """The value of a field for every record for which the sheets give none."""

    field: Field
    text: str
    line: int


@dataclass(frozen=True)
class Map:
    """A whole map file."""

    path: str
    parts: tuple[Part, ...]
    marks: Marks = PLAIN
    empty: frozenset[str] = frozenset()
    delimiter: str = ""
    encoding: str = ""
    design: Mapping | None = None
    every: tuple[Default, ...] = ()
    split: str = ""


def load(path: str, data: bytes) -> Map:
    """Read a map file.

    Args:
        path: the file's path, for messages.
        data: the file's bytes.

    Returns:
        The map, held to its schema and to the fields of the design format.

    Raises:
        BadMap: with every mistake found.
    """
    try:
        document = yaml_reader.read(data, first="map: 1")
    except Problem as problem:
        raise BadMap([problem]) from None
    problems = list(_held_to_schema(document))
    if problems:
        raise BadMap(problems)
    made = _MapFile(path, document)
    result = made.map()
    if made.problems:
        raise BadMap(sorted(made.problems, key=lambda one: (one.line, one.column)))
    return result


@cache
def _validator() -> Any:
    from jsonschema import Draft202012Validator

    text = (data_folder("schemas") / "map.schema.json").read_text("utf-8")
    return Draft202012Validator(json.loads(text))


def _held_to_schema(document: Mapping) -> Any:
    for error in _validator().iter_errors(document):
        holder: Any = document
        place = document.place
        for step in error.absolute_path:
            found = holder.places[step]
            place = found[1] if isinstance(holder, Mapping) else found
            holder = holder[step]
        where = ".".join(
            str(step + 1) if isinstance(step, int) else step for step in error.absolute_path
        )
        words = error.message
        if error.validator == "additionalProperties":
            known = error.schema["properties"]
            for key in holder:
                if key not in known:
                    unknown = f"the key '{key}' is not known here; {choices(key, known)}"
                    yield Problem(
                        f"{where + ': ' if where else ''}{unknown}", holder.places[key][0]
                    )
            continue
        if error.validator == "required":
            lacking = next(key for key in error.validator_value if key not in holder)
            words = f"the key '{lacking}' is missing here"
        elif error.validator == "enum":
            taken = dict.fromkeys(str(one).lower() for one in error.validator_value)
            words = f"'{holder}' is not allowed here; {choices(str(holder), taken)}"
        elif error.validator == "type" and holder is None:
            words = "there is no value here; fill it in, or leave the key out"
        yield Problem(f"{where + ': ' if where else ''}{words}", place)


class _MapFile:
    """Converts a document that fits the schema into a Map, collecting mistakes."""

    def __init__(self, path: str, document: Mapping) -> None:
        self.path = path
        self.document = document
        self.problems: list[Problem] = []

    def problem(self, words: str, place: Any) -> None:
        end = "" if words.endswith((".", "?")) else "."
        self.problems.append(Problem(words + end, place))

    def map(self) -> Map:
        document = self.document
        csv = document.get("csv", {})
        design = document.get("design")
        if design is not None:
            self.constants(design, design_format().top, "design")
        return Map(
            self.path,
            tuple(self.part(part) for part in document["sheets"]),
            self.marks(),
            frozenset(text.strip().casefold() for text in document.get("empty", ())),
            csv.get("delimiter", ""),
            csv.get("encoding", ""),
            design,
            tuple(self.defaults()),
            document.get("split", ""),
        )

    def marks(self) -> Marks:
        document = self.document
        decimal = "," if document.get("decimal") == "comma" else "."
        thousands = THOUSANDS.get(document.get("thousands", ""), "")
        if thousands == decimal:
            name = document["thousands"]
            words = f"thousands: the {name} is the decimal mark already; "
            words += "it cannot also separate thousands"
            self.problem(words, document.places["thousands"][1])
        return Marks(decimal, thousands, "decimal" in document)

    def part(self, node: Mapping) -> Part:
        for section in node.get("ids", {}):
            if section not in collections():
                words = f"'{section}' has no ids; {choices(section, collections())}"
                self.problem(words, node["ids"].places[section][0])
        part = Part(
            node.get("sheet", ""),
            _true(node.get("optional", "false")),
            _true(node.get("each", "false")),
            _true(node.get("transposed", "false")),
            node.get("title", ""),
            int(node.get("header_row", 0)),
            int(node.get("header_rows", 1)),
            tuple(node.get("skip", ())),
            tuple(node.get("fill_down", ())),
            dict(node.get("ids", {})),
            tuple(c for one in node.get("columns", ()) for c in self.column(one, node)),
            tuple(c for one in node.get("cells", ()) for c in self.single(one)),
        )
        if part.each and not part.sheet:
            self.problem("'each' needs the 'sheet' whose name fits, such as 'House *'", node.place)
        if not part.columns and not part.cells:
            self.problem("a sheet needs 'columns' or 'cells' to read", node.place)
        filled: dict[str, str] = {}
        for column in part.columns:
            name = column.reading.field.name
            if name in filled and not column.reading.field.listed:
                words = (
                    f"two columns fill {name}: '{filled[name]}' and "
                    f"'{column.heading or column.letters}'; join them with 'plus: "
                    f"[{column.heading}]' where they add up, else leave one out"
                )
                self.problem(words, node.places["columns"][1])
            filled[name] = column.heading or column.letters
        return part

    def column(self, node: Mapping, part: Mapping) -> list[Column]:
        if "heading" not in node and "column" not in node:
            self.problem("a column needs its 'heading', or its letters as 'column'", node.place)
        found = self.reading(node)
        if found is None:
            return []
        section = found.field.section
        ids = part.get("ids", {})
        if found.field.by_id and section not in ids and collections()[section] not in ids:
            self.problem(
                f"'{found.field.name}' needs to know which record: give the sheet "
                f"'ids: {{{section}: …}}'",
                node.places["field"][1],
            )
        despite = _true(node.get("despite_heading", "false"))
        plus, times = tuple(node.get("plus", ())), int(node.get("times", 1))
        add = _true(node.get("add", "false"))
        if (plus or times != 1 or add) and found.field.leaf.kind != "quantity":
            words = f"'{found.field.name}' is not a quantity; it cannot be added or multiplied"
            self.problem(words, node.place)
        column = node.get("column", "").upper()
        return [Column(node.get("heading", ""), column, found, despite, plus, times, add)]

    def single(self, node: Mapping) -> list[Single]:
        if ("at" in node) == ("beside" in node):
            self.problem("a cell needs either 'at' or 'beside'", node.place)
        found = self.reading(node)
        if found is None:
            return []
        if found.field.by_id or found.field.listed:
            words = f"'{found.field.name}' is one of many; a single cell cannot fill it"
            self.problem(words, node.places["field"][1])
        return [Single(node.get("at", "").upper(), node.get("beside", ""), found)]

    def reading(self, node: Mapping) -> Reading | None:
        name, place = node["field"], node.places["field"][1]
        found = fields().get(name)
        if found is None:
            self.problem(f"there is no field '{name}'; {choices(name, fields())}", place)
            return None
        leaf = found.leaf
        if "unit" in node:
            if leaf.kind != "quantity":
                self.problem(f"'{name}' has no unit; leave 'unit' out", node.places["unit"][1])
            else:
                try:
                    units.factor(node["unit"], leaf.quantity)
                except units.UnitError as error:
                    self.problem(str(error), node.places["unit"][1])
        if "date" in node and leaf.kind != "date":
            self.problem(f"'{name}' is not a date; leave 'date' out", node.places["date"][1])
        words = {
            " ".join(str(key).split()).casefold(): value
            for key, value in node.get("words", {}).items()
        }
        for value, at in zip(words.values(), node.get("words", {}), strict=True):
            self.value(leaf, value, node["words"].places[at][1], name)
        spelt = {str(key): value for key, value in node.get("words", {}).items()}
        return Reading(found, node.get("unit", ""), node.get("date", ""), words, spelt)

    def value(self, leaf: Leaf, text: Any, place: Any, where: str) -> None:
        """Note what is wrong with a value that the map itself states."""
        if type(text) is not str:
            self.problem(f"{where}: one value is expected here", place)
        else:
            try:
                value_of(leaf, text)
            except ValueError as error:
                self.problem(f"{where}: {error}", place)

    def defaults(self) -> Any:
        every = self.document.get("every", {})
        for section, values in every.items():
            if section not in collections():
                words = f"'{section}' has no records; {choices(section, collections())}"
                self.problem(words, every.places[section][0])
                continue
            for key, text in values.items():
                name = f"{section}.{key}"
                found = fields().get(name)
                if found is None or found.listed:
                    own = [
                        one.removeprefix(f"{section}.")
                        for one in fields()
                        if one.startswith(f"{section}.")
                    ]
                    words = f"there is no field '{key}' in {section}; {choices(key, own)}"
                    self.problem(words, values.places[key][0])
                    continue
                self.value(found.leaf, text, values.places[key][1], name)
                yield Default(found, text, line_of(values.places[key][0]))

    def constants(self, node: Any, member: Any, where: str) -> None:
        """Note every mistake in the part of a design that the map states."""
        if isinstance(member, Leaf):
            self.problem(f"{where}: one value is expected here", getattr(node, "place", None))
        elif isinstance(member, NamedRows):
            for key, value in node.items():
                self.constant(value, member.rows, node.places[key][1], f"{where}.{key}")
        elif isinstance(member, Rows):
            for number, item in enumerate(node if type(node) is Sequence else ()):
                if member.tuple_of and type(item) is Sequence:
                    for key, text, at in zip(member.tuple_of, item, item.places, strict=False):
                        self.constant(text, member.record.members[key], at, f"{where}.{key}")
                else:
                    self.constant(item, member.record, node.places[number], where)
        elif isinstance(member, Record | Collection):
            for key, value in node.items():
                below = member.record if isinstance(member, Collection) else member.members.get(key)
                if below is None:
                    words = f"the key '{key}' is not known here; {choices(key, member.members)}"  # type: ignore[union-attr]
                    self.problem(f"{where}: {words}", node.places[key][0])
                else:
                    self.constant(value, below, node.places[key][1], f"{where}.{key}")

    def constant(self, value: Any, member: Any, place: Any, where: str) -> None:
        if isinstance(member, Leaf):
            self.value(member, value, place, where)
        elif isinstance(member, Record | Collection | NamedRows) and type(value) is not Mapping:
            self.problem(f"{where}: keys with their values are expected here", place)
        elif isinstance(member, Rows) and type(value) is not Sequence:
            self.problem(f"{where}: a list is expected here", place)
        else:
            self.constants(value, member, where)


def _true(text: Any) -> bool:
    return str(text).lower() in TRUE
