"""Unknown data that have a known range."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from checker.arrays import Array
from checker.compute.graph import Graph
from checker.compute.naming import TABLE_OF
from checker.design.leaves import words
from checker.design.materials import SOURCE_ID, catalogue
from checker.design.schema import design_format
from checker.rulebook.beside_records import Range
from checker.rulebook.book import Rulebook
from checker.rulebook.evaluation import where_holds
from checker.rulebook.model import Described

LAYERS, CONDUCTIVITY = "layers", "conductivity"


class Unknown(NamedTuple):
    """A missing datum that lies in a range.

    Attributes:
        table: its table's name.
        row: of the table.
        slot: the number of its column.
        range: the number of its range, in the order of `known_ranges`.
    """

    table: str
    row: int
    slot: int
    range: int


def known_ranges(book: Rulebook, *, layered: bool = True) -> tuple[Range, ...]:
    """All ranges: those of the rules, then the conductivities of materials of layers.

    Args:
        book: the rules.
        layered: whether there are layered floors; otherwise the catalogue of materials is not read
            and its ranges are left out.

    Returns:
        In the order by which `Unknown.range` numbers them.
    """
    if not layered:
        return book.ranges
    source = book.documents[SOURCE_ID].source
    described = Described("quantity", "W/(m·K)", "conductivity")
    return book.ranges + tuple(
        Range(
            LAYERS,
            CONDUCTIVITY,
            described,
            (),
            material.least,
            material.most,
            replace(source, clause=f"Table 3, {material.name}"),
        )
        for material in catalogue().ranging
    )


def _of_layers(graph: Graph, ranges: tuple[Range, ...]) -> Iterator[tuple[int, Unknown]]:
    """Layers of a material without a single value: the design of each, and the datum."""
    table = graph.tables[LAYERS]
    if not len(table):
        return
    slots = {leaf.name: leaf.slot for leaf in table.shape.columns}
    stated, material = table.column(slots[CONDUCTIVITY]), table.column(slots["material"])
    first = next(number for number, one in enumerate(ranges) if one.subject == LAYERS)
    numbers = {own: first + nth for nth, own in enumerate(catalogue().ranging)}
    designs = graph.tables.design_of(LAYERS)
    for row in np.flatnonzero(np.isnan(stated) & ~np.isnan(material)).tolist():
        known = catalogue().find(words.text(material[row]))
        if known in numbers:
            yield int(designs[row]), Unknown(LAYERS, row, slots[CONDUCTIVITY], numbers[known])


def unknowns_of(graph: Graph, ranges: tuple[Range, ...]) -> dict[int, list[Unknown]]:
    """The missing data of each design that have a range.

    Args:
        graph: of the designs; conditions of ranges take their values from it.
        ranges: those of `known_ranges`; of several for one datum the first whose conditions hold
            counts.

    Returns:
        By row of the design, those of its layers first, then in the order of the ranges; designs
        without any are left out.
    """
    found: dict[int, list[Unknown]] = {}
    for design, unknown in _of_layers(graph, ranges):
        found.setdefault(design, []).append(unknown)
    taken: set[tuple[str, int, int]] = set()
    for number, one in enumerate(ranges):
        if one.subject == LAYERS:
            continue
        table = TABLE_OF[one.subject]
        size = graph.size(one.subject)
        if not size:
            continue
        slot = design_format().leaf(table, one.field).slot
        missing = np.isnan(graph.tables[table].column(slot))
        if not missing.any():
            continue
        here, _, _ = where_holds(one.when, one.subject, graph, size)
        designs = graph.tables.design_of(table)
        for row in np.flatnonzero(missing & here).tolist():
            if (table, slot, row) not in taken:
                taken.add((table, slot, row))
                own = found.setdefault(int(designs[row]), [])
                own.append(Unknown(table, row, slot, number))
    return found


def valued(one: Range, share: Array) -> Array:
    """The values at shares of a range.

    Args:
        one: the range.
        share: 0 for its least, 1 for its most; any shape.

    Returns:
        SI, in the shape of `share`.
    """
    return one.least + share * (one.most - one.least)
