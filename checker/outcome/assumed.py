"""Remarks on each design about what was assumed for data that are not stated."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from checker.arrays import Mask
from checker.compute.graph import Graph
from checker.design.schema import PARTS
from checker.words import listed

OPEN_POINT = (
    "the heat load of {rooms} is not stated, so what depends on it is judged with loops wide open, "
    "the most they can take"
)
PLANTS_WATER = "the headers are not stated, so loops count with the plant's own water"
NO_INSULATION = "no insulation is stated under the layers of {floors}, so none is counted there"


MOST = 4
"""At most this many names are listed."""


def assumed(graph: Graph) -> Iterator[tuple[int, str]]:
    """Say what was assumed for data that are not stated.

    About rooms whose loops are set by a load that is not stated, loops whose headers may have water
    of their own, and layered floors without insulation under them.

    Args:
        graph: has the values of all designs.

    Returns:
        Each remark, as a phrase without a full stop, with the row of its design.
    """
    loads = np.isnan(graph.column("room", "heat_load").values)
    flows = np.isnan(graph.column("loop", "given.flow").values)
    parts = graph.tables[PARTS].above()
    rooms = graph.column("part", "room").values
    waiting = flows[parts] & ~np.isnan(rooms)
    open_rooms = np.zeros(len(loads), dtype=bool)
    open_rooms[rooms[waiting].astype(np.intp)] = True
    yield from _assumptions(graph, "rooms", open_rooms & loads, OPEN_POINT)
    plain = np.isnan(graph.column("loop", "supply").values)
    without = sorted({*graph.tables.design_of("loops")[plain].tolist()})
    stated = {*graph.tables.design_of("headers").tolist()}
    yield from ((design, PLANTS_WATER) for design in without if design not in stated)
    layered = ~np.isnan(graph.column("floor", "layering").values)
    bare = np.isnan(graph.column("floor", "given.insulation").values)
    yield from _assumptions(graph, "floors", layered & bare, NO_INSULATION)


def _assumptions(graph: Graph, table: str, rows: Mask, words: str) -> Iterator[tuple[int, str]]:
    """One remark a design about those of its rows that are marked, which it names."""
    of: dict[int, list[str]] = {}
    designs = graph.tables.design_of(table)
    for row in np.flatnonzero(rows).tolist():
        of.setdefault(int(designs[row]), []).append(graph.tables[table].ids[row])
    for design, names in of.items():
        more = [f"{len(names) - MOST} more"] if len(names) > MOST else []
        yield design, words.format(**{table: listed([*names[:MOST], *more])})
