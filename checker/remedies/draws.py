"""What is drawn at random of a design under tolerances, and which tolerance a result comes from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from checker.arrays import Array
from checker.compute.naming import TABLE_OF
from checker.design.schema import DESIGNS, PARTS
from checker.remedies.site import Site
from checker.rulebook.beside_records import Tolerance

NINETEEN_OF_TWENTY = 1.959963984540054
"""Standard deviations either way that hold 95 % of a normal distribution."""
CUT = 3.0
"""Draws are cut at this many standard deviations."""


class Drawn(NamedTuple):
    """One datum that is drawn.

    Attributes:
        path: in the design.
        table: that holds it.
        slot: of its column.
        row: of its record.
        stated: its value, SI.
        deviation: its standard deviation, SI.
        least: what it can be, SI.
        most: likewise.
        tolerance: the number of the tolerance that it belongs to.
    """

    path: str
    table: str
    slot: int
    row: int
    stated: float
    deviation: float
    least: float
    most: float
    tolerance: int


def data_of(site: Site, tolerances: Sequence[Tolerance]) -> list[Drawn]:
    """List what is drawn of a design.

    Args:
        site: the design.
        tolerances: those of the rulebook.

    Returns:
        Each stated datum with a tolerance once, under the first tolerance that it belongs to.
    """
    found: dict[tuple[str, int, int], Drawn] = {}
    flows = [site.value("loops", "flow", row) for row in site.rows("loops")]
    for number, one in enumerate(tolerances):
        if one.field == "plant.drop" and flows and not any(map(math.isnan, flows)):
            continue  # their flows are drawn themselves
        for path in _paths(site, one):
            place = site.place(path)
            if place is None:
                continue
            stated = site.number(path)
            if math.isnan(stated):
                continue
            within = one.within if not math.isnan(one.within) else one.share * abs(stated)
            leaf = place.leaf
            key = place.table, leaf.slot, place.row
            found.setdefault(
                key,
                Drawn(
                    path,
                    *(place.table, leaf.slot, place.row),
                    stated,
                    within / NINETEEN_OF_TWENTY,
                    leaf.smallest,
                    leaf.most,
                    number,
                ),
            )
    return [*found.values()]


def _paths(site: Site, one: Tolerance) -> list[str]:
    """The paths of all data that a tolerance applies to."""
    table = TABLE_OF[one.subject]
    if table == DESIGNS:
        return [one.field]
    rows = [*site.rows(table)]
    if one.nearest:
        return [*dict.fromkeys(site.nearest(row, one.field) for row in rows)]
    if table == PARTS:
        rows = [row for row in rows if site.value(PARTS, "feed", row) != 1.0]
        return [f"loops.{site.tables[PARTS].ids[row]}.{one.field}" for row in rows]
    return [site.path(table, row, one.field) for row in rows]


def sample(data: Sequence[Drawn], count: int, generator: np.random.Generator) -> Array:
    """Draw random values of all data.

    Args:
        data: what is drawn, each normally about its stated value.
        count: the number of draws.
        generator: gives the random numbers.

    Returns:
        SI, shape (count, data), cut at CUT standard deviations and at what is possible.
    """
    spread = np.clip(generator.standard_normal((count, len(data))), -CUT, CUT)
    stated, deviation, least, most = (
        np.array([getattr(one, name) for one in data])
        for name in ("stated", "deviation", "least", "most")
    )
    values: Array = np.clip(stated + spread * deviation, least, most)
    return values


def shares(first: Array, second: Array, mixed: Array) -> tuple[Array, Array]:
    """First-order and total shares of the variance of a value.

    Args:
        first: the value in the first sample, shape (n,).
        second: the value in the second sample, shape (n,).
        mixed: with the data of each tolerance from the second sample and all others from the first,
            shape (n, tolerances).

    Returns:
        Both shares, shape (tolerances,) each.
    """
    variance = np.concatenate([first, second]).var()
    if not variance > 0:
        return np.zeros(mixed.shape[1]), np.zeros(mixed.shape[1])
    alone = (second[:, None] * (mixed - first[:, None])).mean(axis=0) / variance
    total = 0.5 * ((first[:, None] - mixed) ** 2).mean(axis=0) / variance
    return alone, total
