"""Which pump serves which header: its own, another's, or one that is not stated."""

from __future__ import annotations

import numpy as np

from checker.arrays import Index, Mask
from checker.compute.runs import runs
from checker.design.tables import Tables


class Pumps:
    """The pumps of all designs judged together. Arrays have shape (headers,) unless stated."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables
        self._with = tables.format.leaf("headers", "pump.with").slot

    def owner(self) -> Index:
        """For each header the row of the header whose pump serves it, usually itself."""
        if not len(self.tables["headers"]):
            return np.empty(0, dtype=np.intp)
        other = self.tables["headers"].column(self._with)
        own = np.arange(len(other))
        return np.where(np.isnan(other), own, np.nan_to_num(other)).astype(np.intp)

    def stated(self) -> Mask:
        """For each header whether its pump is stated, with a curve or without."""
        typed = self.tables["headers"].placed(self._with)
        curves = self.tables["pump_curve"].above()
        one = np.bincount(curves, minlength=len(typed)) > 0
        return (typed | one | self.several_speeds())[self.owner()]

    def in_doubt(self) -> tuple[Index, Index]:
        """Headers with loops that state no pump, each with every pump of its design.

        It is not known on which of these they are.

        Returns:
            The rows of these headers, one for each pump that it may be, and the rows of the headers
            with the pumps, shape (pairs,) both.
        """
        stated = self.stated()
        named = self.tables["loops"].column(self.tables.format.leaf("loops", "header").slot)
        placed = named[~np.isnan(named)].astype(np.intp)
        loops = np.bincount(placed, minlength=len(stated))
        lost = np.flatnonzero(~stated & (loops > 0))
        pumped = np.flatnonzero(stated)
        designs = self.tables.design_of("headers")
        own = designs[lost]
        which, found = runs(
            np.searchsorted(designs[pumped], own), np.searchsorted(designs[pumped], own, "right")
        )
        return lost[which], pumped[found]

    def without(self) -> Mask:
        """For each header whether it states no pump, while another of its design does."""
        stated = self.stated()
        designs = self.tables.design_of("headers")
        others = np.zeros(len(self.tables.designs), dtype=bool)
        others[designs[stated]] = True
        return ~stated & others[designs]

    def several_speeds(self) -> Mask:
        """For each header whether it states the curves of several settings."""
        curves = self.tables["pump_curves"].above()
        return np.bincount(curves, minlength=len(self.tables["headers"])) > 0

    def together(self) -> tuple[Index, Index]:
        """Every header with every header on the same pump, itself included.

        Returns:
            The rows of both, shape (pairs,): the one on the pump, and the one that it is paired
            with, in rising order.
        """
        owner = self.owner()
        order = np.argsort(owner, kind="stable")
        found = np.searchsorted(owner[order], owner), np.searchsorted(owner[order], owner, "right")
        group, place = runs(*found)
        return order[place], group

    def served(self, parents: Index) -> tuple[Index, Index]:
        """The points of pump curves, once for every header that the pump serves.

        Args:
            parents: for each point of the curves the row of the header that states it, shape
                (points,).

        Returns:
            Rows of points, and the row of the header that each counts for.
        """
        owner = self.owner()
        others = np.flatnonzero(owner != np.arange(len(owner)))
        if not len(others):
            return np.arange(len(parents)), parents
        points = [np.flatnonzero(parents == owner[header]) for header in others.tolist()]
        which = np.concatenate((np.arange(len(parents)), *points))
        served = [np.full(len(own), header) for header, own in zip(others, points, strict=True)]
        return which, np.concatenate((parents, *served))
