"""The computed values of all subjects, in the units of reports."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from checker import units
from checker.compute.graph import Graph
from checker.compute.meanings import of_plan
from checker.compute.registry import REGISTRY, Quantity
from checker.outcome.batches import Computed
from checker.outcome.phrasing import shown_as
from checker.outcome.rule_findings import Tabled
from checker.rulebook.model import Described

Objects = npt.NDArray[np.object_]


def computed_values(graph: Graph, tabled: dict[str, Tabled], shown: bool) -> list[Computed]:
    """The computed values of all subjects.

    Values that come from plans are left out for designs without one.

    Args:
        graph: computes them.
        tabled: the tables of the subjects.
        shown: whether those in every report are meant, else those that only pictures show.

    Returns:
        For each subject its values as columns; designs with a plan have columns of their own.
    """
    found = []
    planned = [*graph.tables.drawings]
    for subject, own in tabled.items():
        every = [q for q in REGISTRY.values() if q.subject == subject and q.shown is shown]
        plain = [q for q in every if not of_plan(subject, q.name)]
        if not planned:
            found.append(_columns(graph, own, plain))
            continue
        with_plan = np.isin(own.of, planned)
        for known, rows in ((plain, ~with_plan), (every, with_plan)):
            some = np.flatnonzero(rows).tolist()
            found.append(_columns(graph, own, known, some))
    return [one for one in found if one.units and one.subjects.names]


def _columns(
    graph: Graph, own: Tabled, known: list[Quantity], rows: list[int] | None = None
) -> Computed:
    """These values of a subject, for all its rows or for some."""
    columns = [_numbers(graph, quantity) for quantity in known]
    units_of = {q.name: q.unit for q in known}
    if rows is None:
        return Computed(own, units_of, [n for n, _ in columns], [m for _, m in columns])
    return Computed(
        own.of_rows(rows),
        units_of,
        [[numbers[row] for row in rows] for numbers, _ in columns],
        [
            {place: missing[row] for place, row in enumerate(rows) if row in missing}
            for _, missing in columns
        ],
    )


def _numbers(graph: Graph, quantity: Quantity) -> tuple[list[float], dict[int, str]]:
    """The numbers of a quantity in its unit, and why some are missing, by row."""
    column = graph.column(quantity.subject, quantity.name)
    shown = shown_as(Described("quantity", quantity.unit, units.kind_of(quantity.unit)))
    missing: dict[int, str] = {}
    if column.reasons is not None:
        rows = np.flatnonzero(np.isnan(column.values))
        missing = dict(zip(rows.tolist(), graph.sentences(column.reasons[rows]), strict=True))
    return shown.numbers(column.values), missing
