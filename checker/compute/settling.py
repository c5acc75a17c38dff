"""The graph once the films of water are what the flows make them.

The film of a floor that is given by its layers depends on the loop's flow, and this on the heat
that the film lets through. So the graph is worked without a film, then with the film that it
found, and so on; the film changes heat by a tenth at most, and each round closes in by that.
"""

from __future__ import annotations

from checker.compute.graph import Graph
from checker.design.schema import design_format
from checker.design.tables import Tables

ROUNDS = 4


def settled(tables: Tables, *, second_opinion: bool = False) -> Graph:
    """The graph of these tables; second_opinion: as for `Graph`."""
    graph = Graph(tables, second_opinion=second_opinion)
    layered = design_format().code("floors", "construction", "layered")
    if not (graph.column("floor", "construction").values == layered).any():
        return graph
    for _ in range(ROUNDS):
        graph.column("part", "loop.film")
        graph.earlier = None
        graph = Graph(tables, second_opinion=second_opinion, earlier=graph)
    return graph
