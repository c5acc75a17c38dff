"""A graph of designs that are given as texts, and what it says is missing."""

from __future__ import annotations

import numpy as np

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.graph import Graph
from checker.design.tables import Tables


def graph(*texts: str) -> Graph:
    tables = Tables()
    for number, text in enumerate(texts):
        tables.add(f"{number}.yaml", text.encode())
    return Graph(tables)


def reason(made: Graph, subject: str, name: str, row: int = 0) -> tuple[str, str]:
    column = made.column(subject, name)
    assert np.isnan(column.values[row])
    assert column.reasons is not None
    return made.reason(int(column.reasons[row]))
