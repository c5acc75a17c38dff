"""The design format, compiled from `schemas/design.schema.json`, the one place that states it.

An object with `x-table` becomes a table, its members' leaves the table's columns; an object
without one is part of the record around it, its leaves named with a dot (`screed.cover`).
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

from checker import units
from checker.reading.package_data import data_folder
from checker.words import calendar_day, choices

MEMO_SIZE = 65_536
DESIGNS = "designs"
"""The table that holds one row a design: project, plant and heat-up."""

PARTS = "parts"
"""The table that holds one row for each part of a loop; a loop without parts is one part."""

TRUE = frozenset(("true", "yes", "on"))
FALSE = frozenset(("false", "no", "off"))
INSTEAD = {
    "pattern": {
        "spiral": "counterflow",
        "snail": "counterflow",
        "bifilar": "counterflow",
        "meander": "serpentine",
    },
    "project.region": {"UK": "GB"},
}
"""For a field, words that are written for another, and that other.

Patterns: common practice, no source. Regions: ISO 3166-1 reserves UK, and GB is the code.
"""
SURE = 0.75
"""Likeness from which on a word of a choice is taken for a slip of the pen."""


class Words:
    """Texts by number, so that a column can hold them; each process numbers for itself."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}
        self._texts: list[str] = []

    def number(self, text: str) -> int:
        """That of a text."""
        found = self._numbers.setdefault(text, len(self._texts))
        if found == len(self._texts):
            self._texts.append(text)
        return found

    def text(self, number: float) -> str:
        """What a number stands for."""
        return self._texts[int(number)]


words = Words()


@dataclass(slots=True)
class Leaf:
    """One value of the format: how its text becomes a number in a column.

    `kind` is quantity, integer, boolean, date, enumeration, reference, word or text. A choice of
    words becomes the number of the word in `options`, a date its day number, a boolean 1 or
    0, a word the number it has in `words`; a text has no column (`slot` -1).
    """

    name: str
    kind: str
    slot: int = -1
    quantity: str = ""
    unit: str = ""
    least: float = 0.0
    most: float = 0.0
    least_text: str = ""
    most_text: str = ""
    smallest: float = 0.0
    """Of what may be nothing at all, the smallest that it can be else; less is a slip."""
    smallest_text: str = ""
    options: tuple[str, ...] = ()
    refers_to: str = ""
    longest: int = 200
    pattern: re.Pattern[str] | None = None
    example: str = ""
    drawn: str = ""
    """What of a drawing the word `drawn` stands for here, where it may stand."""
    memo: dict[str, float] = field(default_factory=dict)
    listed: Rows | None = None
    """What may stand in its place as a list."""

    def convert(self, text: str) -> float:
        """The number that stands for this text; raises ValueError with words for the person."""
        instead = INSTEAD.get(self.name, {}).get(text)
        if instead is not None:
            raise ValueError(f"'{text}' is not taken here; write '{instead}'")
        if len(text) > self.longest:
            raise ValueError(f"the text has {len(text)} characters; {self.longest} are taken")
        value = _CONVERTERS[self.kind](self, text)
        if self.slot >= 0:
            if len(self.memo) >= MEMO_SIZE:
                self.memo.clear()
            self.memo[text] = value
        return value


@dataclass(slots=True)
class Record:
    """Named members, each a leaf, a record within this one, or a table of its own."""

    name: str
    members: dict[str, Leaf | Record | Collection | Rows | NamedRows | Texts | PlanPart | Named] = (
        field(default_factory=dict)
    )
    required: tuple[str, ...] = ()
    columns: tuple[Leaf, ...] = ()
    """The leaves, also of records within this one, that have a column."""


@dataclass(slots=True)
class Defaults(Record):
    """What records have that say nothing else; members: the record of each section that may."""


@dataclass(slots=True)
class Shape:
    """A table's name, its columns in order, and the table whose rows its own belong to."""

    name: str
    columns: list[Leaf] = field(default_factory=list)
    parent: str = ""
    _slots: dict[str, int] = field(default_factory=dict)

    @property
    def slots(self) -> dict[str, int]:
        """The slot of each column by its name."""
        if len(self._slots) < len(self.columns):
            self._slots = {leaf.name: leaf.slot for leaf in self.columns}
        return self._slots


@dataclass(slots=True)
class Collection:
    """Records by id."""

    shape: Shape
    record: Record
    keys_refer_to: str = ""


@dataclass(slots=True)
class Rows:
    """A list of records, or of tuples where `tuple_of` names their parts in order."""

    shape: Shape
    record: Record
    tuple_of: tuple[str, ...] = ()
    instead_of: tuple[str, ...] = ()
    """Keys of the record around it that it takes the place of."""


@dataclass(slots=True)
class NamedRows:
    """Lists of rows, each list under a name of its own, which each of its rows has in a column."""

    rows: Rows
    name: Leaf


@dataclass(slots=True)
class Texts:
    """A list of words."""

    name: str
    example: str = ""


@dataclass(slots=True)
class PlanPart:
    """The layout as outlines and lines; it becomes no table, and is read by `design.plans`.

    units: words for its unit; bend: the leaf of a radius; lines: the kind of each of its keys that
    hold lines (`outline`, `route`, `line`, `ports`, `bend`); texts: its other keys.
    """

    name: str
    units: tuple[str, ...]
    bend: Leaf
    lines: dict[str, str]
    texts: tuple[str, ...] = ()


@dataclass(slots=True)
class Named:
    """Values as they were typed, by name."""

    name: str
    example: str = ""


@dataclass(frozen=True, slots=True)
class Format:
    """The whole format: the top record and the shape of every table."""

    top: Record
    shapes: dict[str, Shape]

    def leaf(self, table: str, column: str) -> Leaf:
        """The leaf behind a column; raises KeyError where the table has no such column."""
        for leaf in self.shapes[table].columns:
            if leaf.name == column:
                return leaf
        raise KeyError(column)

    def code(self, table: str, column: str, word: str) -> float:
        """The number that stands for a word of an enumeration's choice."""
        return float(self.leaf(table, column).options.index(word))


def path() -> Path:
    """Where the schema's file lies."""
    return data_folder("schemas") / "design.schema.json"


@cache
def design_format() -> Format:
    """The format of the schema that comes with the program."""
    shapes = {DESIGNS: Shape(DESIGNS)}
    top = _record("", json.loads(path().read_text("utf-8")), shapes[DESIGNS], "", shapes)
    for member in top.members.values():
        if isinstance(member, Defaults):
            for section in member.members:
                collection = top.members[section]
                assert isinstance(collection, Collection)
                member.members[section] = collection.record
    shapes[PARTS] = _parts(shapes)
    return Format(top, shapes)


def _parts(shapes: dict[str, Shape]) -> Shape:
    """The table that a loop's own floor, its parts and its feeds by room make up together."""
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


def other_format(schema: Path) -> Record:
    """What another schema in the same words states, such as that of readings."""
    return _record("", json.loads(schema.read_text("utf-8")), Shape(""), "", {})


def sample(member: Record | Collection | Rows | NamedRows | Texts | PlanPart | Named) -> str:
    """How a part of the format is written, such as `{material: tile, resistance: 0.02 m²·K/W}`."""
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
    lines = {key: part["x-lines"] for key, part in parts.items() if "x-lines" in part}
    return PlanPart(
        name,
        tuple(parts["unit"]["enum"]),
        _leaf("bend", parts["bend"]),
        lines,
        tuple(key for key in parts if key not in lines and key not in ("unit", "bend")),
    )


def _leaf(name: str, node: dict[str, Any]) -> Leaf:
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
    pattern = re.compile(node["pattern"]) if "pattern" in node else None
    if node.get("x-kept"):
        return Leaf(name, "word", longest=node["maxLength"], example=example)
    return Leaf(name, "text", longest=node.get("maxLength", 200), pattern=pattern, example=example)


def _quantity(leaf: Leaf, text: str) -> float:
    try:
        value = units.parse(text, leaf.quantity, leaf.example)
    except units.UnitError:
        if leaf.quantity == "duration" and re.fullmatch(r"[0-9]{1,3}(:[0-9]{2}){1,2}", text):
            raise ValueError(_not_a_clock(text)) from None
        raise
    slack = 1e-12 * abs(value)
    if leaf.least - slack <= value <= leaf.most + slack:
        if leaf.least < value < leaf.smallest - slack:
            raise ValueError(
                f"'{text}' is more than nothing and less than is possible here "
                f"({leaf.smallest_text}); look at the unit and the decimal point"
            )
        return value
    if value < 0 <= leaf.least:
        raise ValueError(f"'{text}' is negative, which is impossible here")
    raise ValueError(
        f"'{text}' is outside what is possible here ({leaf.least_text} to {leaf.most_text}); "
        "look at the unit and the decimal point"
    )


def _not_a_clock(text: str) -> str:
    first, second, *seconds = (int(part) for part in text.split(":"))
    if seconds:
        return f"'{text}' has no unit; write '{first * 60 + second + seconds[0] / 60:g} min'"
    sixtieths = first * 60 + second
    return f"'{text}' can be read in two ways; write '{sixtieths} min' or '{sixtieths} s'"


def _integer(leaf: Leaf, text: str) -> float:
    digits = text.removeprefix("-")
    if not (digits.isascii() and digits.isdigit()) or len(digits) > 9:
        raise ValueError(f"'{text}' is not a whole number; write one such as {leaf.example or '1'}")
    value = float(text)
    if not leaf.least <= value <= leaf.most:
        if leaf.least == leaf.most:
            raise ValueError(f"{text} is not known here; write {leaf.least}")
        raise ValueError(f"{text} is outside what is possible here ({leaf.least} to {leaf.most})")
    return value


def _boolean(leaf: Leaf, text: str) -> float:
    word = text.lower()
    if word in TRUE:
        return 1.0
    if word in FALSE:
        return 0.0
    raise ValueError(f"'{text}' is neither true nor false; write 'true' or 'false'")


def _date(leaf: Leaf, text: str) -> float:
    day = calendar_day(text)
    if not EARLIEST <= day.year <= LATEST:
        raise ValueError(
            f"'{text}' is outside what is possible here ({EARLIEST} to {LATEST}); look at the year"
        )
    return float(day.toordinal())


EARLIEST, LATEST = 1950, 2100
"""Years between which the day of a design or its records can lie; our convention."""


def _enumeration(leaf: Leaf, text: str) -> float:
    raise ValueError(f"'{text}' is not taken here; {choices(text, leaf.options, SURE)}")


def _reference(leaf: Leaf, text: str) -> float:
    raise AssertionError("a reference is resolved once the whole design is read")


def _word(leaf: Leaf, text: str) -> float:
    if not text.strip() or not text.isprintable():
        raise ValueError(f"a name is wanted here, such as '{leaf.example}'")
    return float(words.number(text))


def _text(leaf: Leaf, text: str) -> float:
    if leaf.pattern is not None and not leaf.pattern.search(text):
        raise ValueError(f"'{text}' is not taken here; write one such as '{leaf.example}'")
    return 0.0


_CONVERTERS = {
    "quantity": _quantity,
    "integer": _integer,
    "boolean": _boolean,
    "date": _date,
    "enumeration": _enumeration,
    "reference": _reference,
    "word": _word,
    "text": _text,
}
