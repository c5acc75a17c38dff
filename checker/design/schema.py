"""The design format, compiled from `schemas/design.schema.json`, the one place that states it.

An object with `x-table` becomes a table, its members' leaves the table's columns; an object without
one is part of the record around it, its leaves named with a dot (`screed.cover`).
"""

from __future__ import annotations

import os
from functools import cache
from typing import Any

from msgspec import Struct
from msgspec.json import decode
from msgspec.structs import replace

from checker import units
from checker.design.leaves import Leaf
from checker.reading.package_data import data_path

DESIGNS = "designs"
"""The table with one row for each design: project, plant and heat-up."""

PARTS = "parts"
"""The table with one row for each part of a loop; a loop without parts is one part."""


class Record(Struct):
    """Named members, each a leaf, a record within this one, or a table of its own."""

    name: str
    members: dict[
        str, Leaf | Record | Collection | Rows | NamedRows | Texts | PlanPart | Named
    ] = {}
    required: tuple[str, ...] = ()
    columns: tuple[Leaf, ...] = ()
    """The leaves with a column, also those of records within this one."""


class Defaults(Record):
    """Values for records that state no others; `members` has the record of each section that may
    have them.
    """


class Shape(Struct):
    """A table's name, its columns in order, and the table whose rows its own belong to."""

    name: str
    columns: list[Leaf] = []
    parent: str = ""
    _slots: dict[str, int] = {}

    @property
    def slots(self) -> dict[str, int]:
        """The slot of each column by its name."""
        if len(self._slots) < len(self.columns):
            self._slots = {leaf.name: leaf.slot for leaf in self.columns}
        return self._slots


class Collection(Struct):
    """Records by id."""

    shape: Shape
    record: Record
    keys_refer_to: str = ""


class Rows(Struct):
    """A list of records, or of tuples where `tuple_of` names their elements in order."""

    shape: Shape
    record: Record
    tuple_of: tuple[str, ...] = ()
    instead_of: tuple[str, ...] = ()
    """Keys of the record around it that it replaces."""


class NamedRows(Struct):
    """Lists of rows, each list under a name, which each of its rows has in a column."""

    rows: Rows
    name: Leaf


class Texts(Struct):
    """A list of words."""

    name: str
    example: str = ""


class PlanPart(Struct):
    """The layout as outlines and lines; it becomes no table, and is read by `design.plans`.

    Attributes:
        name: its key.
        units: words for its unit.
        bend: the leaf of a radius.
        lines: the kind of each of its keys that hold lines (`outline`, `route`, `line`, `ports`,
            `bend`).
        texts: its other keys.
    """

    name: str
    units: tuple[str, ...]
    bend: Leaf
    lines: dict[str, str]
    texts: tuple[str, ...] = ()


class Named(Struct):
    """Values as they were typed, by name."""

    name: str
    example: str = ""


class Format(Struct, frozen=True):
    """The whole format.

    Attributes:
        top: the record that a design is.
        shapes: of every table, by its name.
    """

    top: Record
    shapes: dict[str, Shape]

    def leaf(self, table: str, column: str) -> Leaf:
        """Find the leaf of a column.

        Args:
            table: of the design ('loops').
            column: its name, with dots for fields within others ('screed.cover').

        Returns:
            The leaf, shared with all that use the format.

        Raises:
            KeyError: there is no such table, or no such column in it.
        """
        for leaf in self.shapes[table].columns:
            if leaf.name == column:
                return leaf
        raise KeyError(column)

    def code(self, table: str, column: str, word: str) -> float:
        """Give the number that stands in a column for a word.

        Args:
            table: of the design ('floors').
            column: of an enumeration ('construction').
            word: one of its options.

        Returns:
            The place of the word among the options.

        Raises:
            KeyError: there is no such table or column.
            ValueError: it is not one of the options.
        """
        return float(self.leaf(table, column).options.index(word))


def path() -> str:
    """The path of the schema's file."""
    return os.path.join(data_path("schemas"), "design.schema.json")


@cache
def design_format() -> Format:
    """The format in the schema that comes with the program."""
    shapes = {DESIGNS: Shape(DESIGNS)}
    top = _record("", _parsed(path()), shapes[DESIGNS], "", shapes)
    for member in top.members.values():
        if isinstance(member, Defaults):
            for section in member.members:
                collection = top.members[section]
                assert isinstance(collection, Collection)
                member.members[section] = collection.record
    shapes[PARTS] = _parts(shapes)
    return Format(top, shapes)


def _parts(shapes: dict[str, Shape]) -> Shape:
    """The table of a loop's own floor, its parts and its feeds by room."""
    made = Shape(PARTS, [Leaf("loop", "reference", refers_to="loops")], "loops")
    wanted = {
        "loops": ("pipe", "supply", "room", "floor", "zone", "spacing", "area"),
        "loop_feeds": ("length",),
    }
    for table, names in wanted.items():
        known = {leaf.name: leaf for leaf in shapes[table].columns}
        made.columns += [replace(known[name], memo={}) for name in names]
    made.columns.append(Leaf("feed", "boolean"))
    for slot, leaf in enumerate(made.columns):
        leaf.slot = slot
    return made


def other_format(schema: str) -> Record:
    """Compile another schema that has the same keywords, such as that of readings.

    Args:
        schema: the path of its file.

    Returns:
        The record at its top.
    """
    return _record("", _parsed(schema), Shape(""), "", {})


def _parsed(schema: str) -> Any:
    with open(schema, "rb") as file:
        return decode(file.read())


def sample(member: Record | Collection | Rows | NamedRows | Texts | PlanPart | Named) -> str:
    """Show how a part of the format is written.

    Args:
        member: any part that is more than one value.

    Returns:
        A short flow mapping or list, such as `{material: tile, resistance: 0.02 m²·K/W}`.
    """
    if isinstance(member, PlanPart):
        return "unit: mm"
    if isinstance(member, Texts):
        return f"[{member.example}]"
    if isinstance(member, Named):
        return f"{{{member.example}}}"
    if isinstance(member, NamedRows):
        return f"{{{member.name.example}: {sample(member.rows)}}}"
    record = member if isinstance(member, Record) else member.record
    leaves = [leaf for leaf in record.members.values() if isinstance(leaf, Leaf)]
    typed = [(leaf.name, leaf.example or next(iter(leaf.options), "…")) for leaf in leaves[:2]]
    if isinstance(member, Rows) and member.tuple_of:
        return f"[[{', '.join(example for _, example in typed)}]]"
    keys = ", ".join(f"{name.rsplit('.', 1)[-1]}: {example}" for name, example in typed)
    if isinstance(member, Record):
        return f"{{{keys}}}"
    return f"[{{{keys}}}]" if isinstance(member, Rows) else f"{{L1: {{{keys}}}}}"


def _record(
    name: str, node: dict[str, Any], shape: Shape, prefix: str, shapes: dict[str, Shape]
) -> Record:
    """The record that an object of the schema states; its leaves become columns of the shape."""
    record = Record(name, required=tuple(node.get("required", ())))
    for key, member in node["properties"].items():
        record.members[key] = _member(key, member, shape, prefix, shapes)
    for made in record.members.values():
        if isinstance(made, Record):
            record.columns += made.columns
        elif isinstance(made, Leaf) and made.slot >= 0:
            record.columns += (made,)
    return record


def _member(
    key: str, node: dict[str, Any], shape: Shape, prefix: str, shapes: dict[str, Shape]
) -> Leaf | Record | Collection | Rows | NamedRows | Texts | PlanPart | Named:
    """What one property of the schema becomes, by its keywords."""
    dotted = prefix + key
    if node.get("x-defaults"):
        return Defaults(dotted, dict.fromkeys(node["properties"], Record("")))
    if node.get("x-plan"):
        return _plan(dotted, node["properties"])
    if "x-rows-by-name" in node:
        each = {**node["additionalProperties"], "x-table": node["x-table"]}
        rows = _member(key, each, shape, prefix, shapes)
        assert isinstance(rows, Rows)
        name = Leaf(node["x-rows-by-name"], "word", len(rows.shape.columns), longest=64)
        name.example = next(iter(node["examples"][0]))
        rows.shape.columns.append(name)
        return NamedRows(rows, name)
    if node.get("type") == "object" and "x-table" in node:
        own = shapes[node["x-table"]] = Shape(node["x-table"], parent=DESIGNS)
        record = _record(key, node["additionalProperties"], own, "", shapes)
        collection = Collection(own, record, node.get("x-keys-refer-to", ""))
        if collection.keys_refer_to:
            own.columns.append(
                Leaf("of", "reference", len(own.columns), refers_to=collection.keys_refer_to)
            )
        return collection
    if node.get("type") == "object" and "properties" not in node:
        pairs = node["examples"][0].items()
        return Named(dotted, ", ".join(f"{name}: {value}" for name, value in pairs))
    if node.get("type") == "object":
        return _record(key, node, shape, dotted + ".", shapes)
    if node.get("type") == "array" and "x-table" in node:
        own = shapes[node["x-table"]] = Shape(node["x-table"], parent=shape.name)
        items, instead_of = node["items"], tuple(node.get("x-instead-of", ()))
        if "prefixItems" in items:
            parts = {part["title"]: part for part in items["prefixItems"]}
            record = _record(key, {"properties": parts, "required": [*parts]}, own, "", shapes)
            return Rows(own, record, tuple(parts))
        return Rows(own, _record(key, items, own, "", shapes), instead_of=instead_of)
    if node.get("type") == "array":
        return Texts(dotted, node["items"]["examples"][0])
    if "oneOf" in node:
        one, many = node["oneOf"]
        leaf = _leaf(dotted, one)
        listed = _member(key, many, shape, prefix, shapes)
        assert isinstance(listed, Rows)
        leaf.listed = listed
    else:
        leaf = _leaf(dotted, node)
    if leaf.kind != "text":
        leaf.slot = len(shape.columns)
        shape.columns.append(leaf)
    return leaf


def _plan(name: str, parts: dict[str, Any]) -> PlanPart:
    """The part of the format that a plan is."""
    lines = {key: part["x-lines"] for key, part in parts.items() if "x-lines" in part}
    return PlanPart(
        name,
        tuple(parts["unit"]["enum"]),
        _leaf("bend", parts["bend"]),
        lines,
        tuple(key for key in parts if key not in lines and key not in ("unit", "bend")),
    )


def _leaf(name: str, node: dict[str, Any]) -> Leaf:
    """The leaf that a value of the schema states, without a column yet."""
    example = str(node.get("examples", [""])[0])
    if "x-quantity" in node:
        kind, least_text, most_text = node["x-quantity"], node["x-least"], node["x-most"]
        return Leaf(
            name,
            "quantity",
            quantity=kind,
            unit=least_text.partition(" ")[2] or "1",
            least=units.parse(least_text, kind),
            most=units.parse(most_text, kind),
            least_text=least_text,
            most_text=most_text,
            smallest=units.parse(node.get("x-smallest", least_text), kind),
            smallest_text=node.get("x-smallest", least_text),
            example=example,
            drawn=node.get("x-drawn", ""),
        )
    if "x-refers-to" in node:
        return Leaf(name, "reference", refers_to=node["x-refers-to"])
    if "enum" in node:
        options = tuple(node["enum"])
        memo = {word: float(number) for number, word in enumerate(options)}
        return Leaf(name, "enumeration", options=options, memo=memo)
    if node.get("type") == "boolean":
        return Leaf(name, "boolean")
    if node.get("type") == "integer":
        const: Any = node.get("const")
        least, most = node.get("minimum", const), node.get("maximum", const)
        return Leaf(name, "integer", least=least, most=most, example=example)
    if node.get("format") == "date":
        return Leaf(name, "date")
    if node.get("x-kept"):
        return Leaf(name, "word", longest=node["maxLength"], example=example)
    return Leaf(
        name,
        "text",
        longest=node.get("maxLength", 200),
        pattern=node.get("pattern", ""),
        example=example,
    )
