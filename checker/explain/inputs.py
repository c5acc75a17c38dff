"""The inputs of a value as numbers, their kinds, and which of them it depends on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from checker.compute.columns import NO_REASON
from checker.compute.graph import Graph
from checker.compute.meanings import Names, described
from checker.compute.naming import MEMBERS, OF_PARTS, ROWS, TABLE_OF, subject_of
from checker.compute.registry import Quantity

DAY = 86_400.0
"""Seconds."""


class Inputs:
    """The inputs of the quantities of one graph."""

    def __init__(self, graph: Graph, names: Names) -> None:
        self.graph = graph
        self.names = names
        self.tables = graph.tables

    def number(self, subject: str, name: str, row: int) -> float | list[float] | None:
        """A value as a formula uses it: in SI, days in seconds.

        Args:
            subject: whose quantity has this input, such as `loop`.
            name: the input; with a point for the parts of a loop or the members of a subject, such
                as `loops.flow` of a header.
            row: the subject's row.

        Returns:
            The number, NaN where it is missing; a list with one for each member; None where it is a
            word.
        """
        part, _, field = name.partition(".")
        if part in OF_PARTS:
            of, (table, rows) = OF_PARTS[part], self.graph.members.rows_of(subject, name, row)
            shown = self.names.describe(of, field)
            values = self.graph.column(of, field).values[rows]
        elif part in MEMBERS:
            table, rows = self.graph.members.rows_of(subject, name, row)
            leaf = self.tables.format.leaf(table, field)
            shown, values = described(leaf), self.tables[table].column(leaf.slot)[rows]
        else:
            shown = self.names.describe(subject, name)
            values = self.graph.column(subject, name).values[row : row + 1]
        if shown is None or shown.kind not in ("quantity", "integer", "date"):
            return None
        numbers: list[float] = (values * (DAY if shown.kind == "date" else 1.0)).tolist()
        return numbers if has_members(name) else numbers[0]

    def kind(self, subject: str, name: str) -> str:
        """The kind of quantity that an input is.

        Args:
            subject: whose quantity has this input, such as `loop`.
            name: the input, as in `number`.

        Returns:
            A key of `checker.units.KINDS`; `duration` for a date, and `ratio` for a count or a
            word.
        """
        part, _, field = name.partition(".")
        if part in OF_PARTS:
            shown = self.names.describe(OF_PARTS[part], field)
        elif part in MEMBERS:
            table, _ = self.graph.members.rows_of(subject, name, 0)
            shown = described(self.tables.format.leaf(table, field))
        else:
            shown = self.names.describe(subject, name)
        if shown is None or shown.kind != "quantity":
            return "duration" if shown is not None and shown.kind == "date" else "ratio"
        return shown.measure

    def depends_on(self, known: Quantity, name: str, row: int) -> bool:
        """Whether the result would change if this input were missing.

        Args:
            known: the quantity.
            name: one of its inputs, without members.
            row: the subject's row.

        Returns:
            False where the quantity is worked out without it for this subject.
        """
        arguments: list[Any] = []
        for own in known.inputs:
            if own in ROWS:
                arguments.append(self.graph.rows(known.subject, own))
            elif has_members(own):
                arguments.append(self.graph.members.grouped(known.subject, own))
            else:
                values = self.graph.column(known.subject, own).values
                if own == name:
                    values = values.copy()
                    values[row] = np.nan
                arguments.append(values)
        with np.errstate(all="ignore"):
            without = np.asarray(known.function(*arguments), dtype=np.float64)
        without = np.broadcast_to(without, (self.graph.size(known.subject),))
        return bool(without[row] != self.graph.column(known.subject, known.name).values[row])

    def inputs_to_follow(
        self, known: Quantity, parameters: Mapping[str, str], row: int, reason: int
    ) -> dict[str, str]:
        """The inputs to follow where a value is missing.

        Args:
            known: the quantity whose value is missing.
            parameters: its inputs, by the parameters of its function.
            row: the subject's row.
            reason: why it is missing, as the graph numbers reasons.

        Returns:
            The first input that is missing for the same reason; where the reason begins here, all
            inputs that are not missing, and those with members.
        """
        for parameter, name in parameters.items():
            if has_members(name):
                table, rows = self.graph.members.rows_of(known.subject, name, row)
                if table not in TABLE_OF.values():
                    continue
                own = self.graph.column(subject_of(table), name.partition(".")[2]).reasons
                if own is not None and reason in own[rows]:
                    return {parameter: name}
                continue
            reasons = self.graph.column(known.subject, name).reasons
            if reasons is not None and reasons[row] == reason != NO_REASON:
                return {parameter: name}
        return {
            parameter: name
            for parameter, name in parameters.items()
            if has_members(name) or not np.isnan(self.graph.column(known.subject, name).values[row])
        }


def has_members(name: str) -> bool:
    """Whether a name refers to the members of a subject, such as all loops of a header.

    Args:
        name: of an input.

    Returns:
        True where it has a value for each member.
    """
    return name.partition(".")[0] in MEMBERS
