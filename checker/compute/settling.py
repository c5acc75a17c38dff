"""The graph, solved for the films of water that its own flows make.

The water film of a floor judged by its section depends on the loop's flow, and this on the heat
that the film lets through. So the graph is computed without a film, then with the film that it
found, and then with the one at which the film tried and the film found would meet on a straight
line (the secant method, on the film's resistance). A loop whose film no longer changes keeps it, so
that its result does not depend on the other designs; once none changes, the graph is final.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from checker.arrays import Array
from checker.compute.graph import Graph
from checker.design.tables import Tables

if TYPE_CHECKING:
    from checker.physics.carried import Carried

ROUNDS = 8
"""Most rounds; most loops have converged after two or three."""
STILL = 1e-3
"""Relative change of a film that no longer matters. At most a tenth of the resistance is film, so
this is a ten-thousandth of a coefficient; its grid's error is several times that.
"""
SLOPES = (-2.0, 0.5)
"""The range within which a line from film tried to film found is followed."""


def settled(
    tables: Tables,
    *,
    second_opinion: bool = False,
    rounds: int = ROUNDS,
    carried: Carried | None = None,
    today: float = np.nan,
) -> Graph:
    """The final graph of these tables.

    Args:
        tables: the designs.
        second_opinion: as for `Graph`.
        rounds: how often it is computed at most.
        carried: as for `Graph`.
        today: as for `Graph`.

    Returns:
        A graph whose films of water no longer change, or the last one after all rounds; where no
        section replaces the standard's floor, the first one, because no film matters there.
    """
    graph = Graph(tables, second_opinion=second_opinion, carried=carried, today=today)
    if not (graph.column("part", "stands_in").values == 1).any():
        return graph
    before: tuple[Array, Array] | None = None
    for _ in range(rounds):
        tried = graph.column("part", "working_film").values
        found = graph.column("part", "loop.film").values
        film = next_film(tried, found, before)
        if np.array_equal(film, tried, equal_nan=True):
            break
        before = tried, found
        graph = Graph(
            tables,
            second_opinion=second_opinion,
            earlier=graph,
            handed={("part", "working_film"): film},
            today=today,
        )
    return graph


def next_film(tried: Array, found: Array, before: tuple[Array, Array] | None) -> Array:
    """The film to try next.

    A film that was never found is unknown: without one, the floor would give too much.

    Args:
        tried: W/(m²·K), shape (n,), may be infinite.
        found: the film that it led to, NaN where unknown.
        before: both of the previous round, None in the first.

    Returns:
        W/(m²·K), shape (n,); the same as tried where it has converged or is unknown.
    """
    found = np.where(np.isnan(found), np.where(np.isinf(tried), np.nan, tried), found)
    with np.errstate(all="ignore"):
        here, there = 1 / tried, 1 / found
        slope = np.zeros_like(here)
        if before is not None:
            last, came = 1 / before[0], 1 / before[1]
            slope = np.nan_to_num((there - came) / (here - last), nan=0.0, posinf=0.0, neginf=0.0)
        aimed = here + (there - here) / (1 - np.clip(slope, *SLOPES))
        film = np.where(aimed > 0, 1 / aimed, found)
        still = np.abs(found / tried - 1) <= STILL
    # A row without a film to try has converged, whatever is found there.
    return np.where(still | (found == tried) | np.isnan(tried), tried, film)
