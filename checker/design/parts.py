"""The parts of loops as one table: a loop's own floor, its parts, and its feeds by room."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

import numpy as np

from checker.arrays import Array, Index

if TYPE_CHECKING:
    from checker.design.table import Table
    from checker.design.tables import Tables


INHERITED = ("pipe", "supply")
"""Fields of the loop that its parts have too."""
KEYS = {"loop_parts": "parts", "loop_feeds": "feeds"}
"""The key of a loop under which a design states the rows of a table."""


def stated_in(tables: Tables, row: int, field: str) -> tuple[str, int]:
    """Find where a design states a field of a part.

    Args:
        tables: the designs.
        row: of the part, in the table of parts.
        field: of a part.

    Returns:
        The table (`loops`, `loop_parts` or `loop_feeds`), and the row in it.
    """
    parts = tables["parts"]
    loop, name = int(parts.parents[row]), parts.ids[row]
    if field not in INHERITED:
        for table, key in KEYS.items():
            before = f"{tables['loops'].ids[loop]}.{key}["
            if name.startswith(before) and name.endswith("]"):
                number = int(name[len(before) : -1])
                return table, bisect_left(tables[table].parents, loop) + number - 1
    return "loops", loop


def fill(parts: Table, tables: dict[str, Table]) -> None:
    """Fill the table of parts, in the order of their loops.

    A loop without parts is one part with what is stated in the loop itself. A feed is a part where
    it gives heat: it passes through a room and is not insulated there.

    Args:
        parts: the table, which is replaced.
        tables: the tables of all designs, by name, of which loops, their parts and feeds are read.
    """
    loops, own, feeds = tables["loops"], tables["loop_parts"], tables["loop_feeds"]
    divided, fed = own.above(), feeds.above()
    undivided = np.ones(len(loops), dtype=bool)
    undivided[divided] = False
    whole = np.flatnonzero(undivided)
    warm = _warm(feeds)
    parents = np.concatenate((whole, divided, fed[warm]))
    sources = [(loops, whole), (own, np.arange(len(own))), (feeds, warm)]
    names = [
        [loops.ids[loop] for loop in whole.tolist()],
        _numbered(loops, divided, "parts"),
        [
            name
            for name, kept in zip(_numbered(loops, fed, "feeds"), _mask(warm, fed), strict=True)
            if kept
        ],
    ]
    order = np.argsort(parents, kind="stable")
    parents = parents[order]
    count = len(parents)
    columns = parts.shape.columns
    matrix = np.full((2 * len(columns), count), np.nan)
    matrix[len(columns) :] = 0.0
    for leaf in columns:
        if leaf.name == "loop":
            matrix[leaf.slot] = parents
        elif leaf.name == "feed":
            matrix[leaf.slot] = np.repeat((0.0, 0.0, 1.0), [len(rows) for _, rows in sources])[
                order
            ]
        elif leaf.name in INHERITED:
            values, places = _field(loops, leaf.name)
            matrix[leaf.slot] = values[parents]
            matrix[leaf.slot + len(columns)] = places[parents]
        else:
            taken = [_field(table, leaf.name) for table, _ in sources]
            if leaf.name == "zone":  # a feed lies where people walk
                taken[2] = np.full(len(feeds), leaf.options.index("occupied"), float), taken[2][1]
            for at, kind in ((leaf.slot, 0), (leaf.slot + len(columns), 1)):
                every = [one[kind][rows] for one, (_, rows) in zip(taken, sources, strict=True)]
                matrix[at] = np.concatenate(every)[order]
    ids = [name for group in names for name in group]
    places = np.concatenate([np.array(table.places, dtype=float)[rows] for table, rows in sources])
    parts.take(matrix, [ids[at] for at in order.tolist()], parents, places[order])
    if loops.sources:
        typed = [table.sources[row] for table, rows in sources for row in rows.tolist()]
        parts.sources = [typed[at] for at in order.tolist()]


def _field(table: Table, name: str) -> tuple[Array, Array]:
    """Values and places of a field; all missing where the table does not have it."""
    slot = next((leaf.slot for leaf in table.shape.columns if leaf.name == name), None)
    if slot is None or not len(table):
        return np.full(len(table), np.nan), np.zeros(len(table))
    return table.column(slot), table.column(slot + len(table.shape.columns))


def _warm(feeds: Table) -> Index:
    _, placed = _field(feeds, "room")
    insulated, _ = _field(feeds, "insulated")
    return np.flatnonzero((placed > 0) & (insulated != 1))


def _mask(rows: Index, of: Index) -> list[bool]:
    mask = np.zeros(len(of), dtype=bool)
    mask[rows] = True
    return mask.tolist()


def _numbered(loops: Table, parents: Index, kind: str) -> list[str]:
    """The name of each member of a loop's list: `L1.parts[2]`."""
    found: list[str] = []
    last, number = -1, 0
    for loop in parents.tolist():
        number = number + 1 if loop == last else 1
        last = loop
        found.append(f"{loops.ids[loop]}.{kind}[{number}]")
    return found
