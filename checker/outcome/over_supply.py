"""How the supply temperature affects flows, losses and pumps, for pictures on pages."""

from __future__ import annotations

import numpy as np

from checker import units
from checker.arrays import Array
from checker.compute.graph import Graph
from checker.compute.settling import settled
from checker.design.schema import DESIGNS, design_format
from checker.outcome.drawn_records import OverSupply

STEPS = 7
"""The number of supplies that are computed, from the least that every room needs to the
design's.
"""
VALUES = {"flow": "l/min", "pump_loss": "kPa", "pump_head": "kPa"}


def over_supply(graph: Graph) -> dict[int, list[OverSupply]]:
    """Work out what a lower supply would mean for headers, where the supply is higher than needed.

    Args:
        graph: has the values of all designs.

    Returns:
        By the row of each such design, its headers at STEPS supplies; none where flows are not set
        by room.
    """
    supply = graph.column("design", "plant.supply").values
    needed = graph.column("design", "supply_bound").values
    by_room = graph.column("design", "flows_by_room").values == 1
    wanted = np.flatnonzero(by_room & (supply > needed))
    if not len(wanted) or not graph.size("header"):
        return {}
    designs = np.repeat(wanted, STEPS)
    share = np.tile(np.linspace(0.0, 1.0, STEPS), len(wanted))
    supplies = needed[designs] + share * (supply - needed)[designs]
    copies = graph.tables.repeated(designs)
    slot = design_format().leaf(DESIGNS, "plant.supply").slot
    copies[DESIGNS].fill(slot, slice(None), supplies)
    made = settled(copies)
    columns = {name: _shown(made, name, unit) for name, unit in VALUES.items()}
    of, names = copies.design_of("headers"), copies["headers"].ids
    found: dict[int, list[OverSupply]] = {}
    for nth, design in enumerate(wanted.tolist()):
        own = np.flatnonzero(of // STEPS == nth)
        count = len(own) // STEPS
        steps = own.reshape(STEPS, count)
        at = tuple(np.round(supplies[nth * STEPS : (nth + 1) * STEPS], 3).tolist())
        for header in range(count):
            rows = steps[:, header]
            flow, loss, head = (tuple(column[rows].tolist()) for column in columns.values())
            if np.isfinite((*flow, *loss)).all():
                one = OverSupply(names[rows[0]], at, flow, loss, head)
                found.setdefault(design, []).append(one)
    return found


def _shown(graph: Graph, name: str, unit: str) -> Array:
    scale, offset = units.factor(unit, units.kind_of(unit))
    values: Array = (graph.column("header", name).values - offset) / scale
    return values
