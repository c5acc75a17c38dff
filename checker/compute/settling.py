"""The graph once the films of water are what the flows make them.

The film of a floor that its section is judged by depends on the loop's flow, and this on the heat
that the film lets through. So the graph is worked without a film, then with the film that it
found, and so on; the film changes heat by a tenth at most, and each round closes in by that.
"""

from __future__ import annotations

from checker.compute.graph import Graph
from checker.design.tables import Tables

ROUNDS = 4


def settled(tables: Tables, *, second_opinion: bool = False, rounds: int = ROUNDS) -> Graph:
    """The graph of these tables; second_opinion: as for `Graph`; rounds: how often it is worked."""
    graph = Graph(tables, second_opinion=second_opinion)
    if not (graph.column("part", "stands_in").values == 1).any():
        return graph
    for _ in range(rounds):
        graph.column("part", "loop.film")
        graph.earlier = None
        graph = Graph(tables, second_opinion=second_opinion, earlier=graph)
    return graph
