"""Names of subjects, tables and parts, and what a parameter's name means."""

from __future__ import annotations

from functools import cache

from checker.design.leaves import Leaf
from checker.design.schema import DESIGNS, PARTS, design_format

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

ROWS = (
    "size",
    "job",
    "plan",
    "second_opinion",
    "things",
    "pump_owner",
    "pump_stated",
    "supplies_differ",
    "today",
)
"""Parameters that are not columns: the number of rows; the row of each one's design; what the plans
show of each (`compute.drawn.Drawn`); whether values are wanted that nothing is judged by; the run's
things that columns hold by number; for headers the row of the one whose pump serves each, and
whether that one states a pump; whether a header of the design has water of its own; the day of the
check as `date.toordinal` numbers it, NaN where there is none.
"""

OF_PARTS = {
    "loops": "loop",
    "parts": "part",
    "tests": "test",
    "tested_loops": "loop",
    "pumped": "header",
}
"""Parts whose members are records of a subject of their own; pumped: the headers on one pump."""

MEMBERS = (*OF_PARTS, "readings", "pump_curve", "heat_up_steps", "layers", "loop_feeds")

EARLIER = "earlier"
"""Names of values of the previous graph (`earlier.reynolds`); missing in the first one."""

_PARTS = ("given", EARLIER, "design", "balance", *MEMBERS)


@cache
def dotted(subject: str, parameter: str) -> str:
    """The column that a parameter's name means for this subject.

    Args:
        subject: a key of `TABLE_OF`.
        parameter: with underscores, such as `room_temperature` or `loops_flow`.

    Returns:
        The name with dots (`room.temperature`); unchanged where no record, section or part begins
        it.
    """
    table = TABLE_OF[subject]
    shapes = design_format().shapes
    own = _as_parameters(table)
    if parameter in own:
        return own[parameter]
    for leaf in _references(table):
        if parameter.startswith(leaf.name + "_"):
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
def _references(table: str) -> tuple[Leaf, ...]:
    columns = design_format().shapes[table].columns
    return tuple(leaf for leaf in columns if leaf.kind == "reference")


@cache
def _as_parameters(table: str) -> dict[str, str]:
    """The names of a table's columns, by how parameters write them."""
    columns = design_format().shapes[table].columns
    return {leaf.name.replace(".", "_"): leaf.name for leaf in columns}


def subject_of(table: str) -> str:
    """The subject whose rows a table has; the inverse of `TABLE_OF`.

    Args:
        table: one of the values of `TABLE_OF`.

    Returns:
        The subject's name in rules and quantities.
    """
    return _SUBJECT_OF[table]


_SUBJECT_OF = {table: subject for subject, table in TABLE_OF.items()}


WHOLE = ("plant", "project", "heat_up", "design")


def leaf_named(table: str, name: str) -> Leaf | None:
    """The field of a table by its name.

    Args:
        table: its name in the format.
        name: with dots where the field is within a section of the record (`screed.cover`).

    Returns:
        None where the table has no such field.
    """
    return _leaves(table).get(name)


@cache
def _leaves(table: str) -> dict[str, Leaf]:
    return {leaf.name: leaf for leaf in design_format().shapes[table].columns}


@cache
def reference(table: str, other: str) -> Leaf:
    """The field of a table that refers to another.

    Args:
        table: its name in the format; one that has such a field.
        other: the table referred to.

    Returns:
        The first such field.
    """
    return next(leaf for leaf in _leaves(table).values() if leaf.refers_to == other)


@cache
def slot_of(table: str, name: str) -> int:
    """The number of a field's column in its table.

    Args:
        table: its name in the format.
        name: of a field that the table has.

    Returns:
        For `Table.column` and `Table.fill`.
    """
    leaf = leaf_named(table, name)
    assert leaf is not None
    return leaf.slot
