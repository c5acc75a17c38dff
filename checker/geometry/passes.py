"""Splits routes at the borders of rooms, and separates what they heat from what they only
pass through.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array, Index, Mask
from checker.geometry.measured import Feed, Measured
from checker.geometry.plan import Plan
from checker.geometry.sampling import REACH, Sampled

FIELD_SHARE = 0.5
"""A pass through a room heats it if this share of it is beside another run of the same pass."""
SHORTEST_FIELD = 1.5
"""m; less pipe than this in a room is not meant to heat it."""


class Passed(Sampled):
    """Sampled routes whose passes through rooms are classified as fields or feeds."""

    def __init__(self, plan: Plan, found: Measured) -> None:
        super().__init__(plan)
        self.found = found
        self.field: Mask = np.zeros(len(self.samples.at), dtype=bool)
        """Whether each sample lies in a pass that heats its room."""

    def _passes(self) -> None:
        """Split every route where it goes from room to room, and classify the passes."""
        samples, sides = self.samples, self.sides
        count = len(samples.at)
        self.field = np.zeros(count, dtype=bool)
        if not count:
            return
        change = np.flatnonzero((np.diff(samples.route) != 0) | (np.diff(self.room) != 0)) + 1
        firsts = np.concatenate(([0], change))
        lasts = np.concatenate((change, [count]))
        number = np.repeat(np.arange(len(firsts)), lasts - firsts)
        begins, ends = self._borders(firsts, lasts)
        paired = np.zeros(count, dtype=bool)
        begin_of, end_of = begins[number], ends[number]
        for side in range(2):
            paired |= (
                (sides.route[side] == samples.route)
                & sides.parallel[side]
                & (sides.distance[side] >= begin_of)
                & (sides.distance[side] <= end_of)
            )
        weights = np.bincount(number, samples.weight, len(firsts))
        share = np.bincount(number, samples.weight * paired, len(firsts)) / weights
        heats = (self.room[firsts] >= 0) & (share >= FIELD_SHARE) & (weights >= SHORTEST_FIELD)
        self.field = heats[number]
        routes, rooms = samples.route[firsts], self.room[firsts]
        lengths = ends - begins
        self._rooms_heated(routes, rooms, lengths, heats)
        self._feeds(routes, rooms, lengths, heats, number)

    def _borders(self, firsts: Index, lasts: Index) -> tuple[Array, Array]:
        """Where each pass starts and ends on its route, m: the border found between two samples."""
        samples = self.samples
        begins = np.zeros(len(firsts))
        ends = samples.total[samples.route[firsts]].copy()
        inner = np.flatnonzero(samples.route[firsts[1:]] == samples.route[firsts[:-1]]) + 1
        if not len(inner):
            return begins, ends
        low, high = samples.distance[lasts[inner - 1] - 1], samples.distance[firsts[inner]]
        routes = samples.route[firsts[inner]]
        leaving, entering = self.room[firsts[inner - 1]], self.room[firsts[inner]]
        # Where a wall is between, the one room ends before the other begins.
        ends[inner - 1] = self._border(routes, low, high, leaving, stays=True)
        begins[inner] = self._border(routes, low, high, entering, stays=False)
        return begins, ends

    def _border(self, routes: Index, low: Array, high: Array, room: Index, *, stays: bool) -> Array:
        """Where routes leave or enter a room, between two samples of each.

        The distance between these, up to 200 mm, is halved ten times, so that the place is known to
        0.2 mm.

        Args:
            routes: the number of each route, shape (n,).
            low: the distance of the first sample along it, m.
            high: that of the second.
            room: the room of the one of them that is in it.
            stays: whether that is the first sample, so that the route leaves the room.

        Returns:
            Distances along the routes, m, shape (n,).
        """
        low, high = low.copy(), high.copy()
        for _ in range(10):
            middle = (low + high) / 2
            same = self.rooms_at(self.points_at(routes, middle)) == room
            first = same if stays else ~same
            low, high = np.where(first, middle, low), np.where(first, high, middle)
        border: Array = (low + high) / 2
        return border

    def _rooms_heated(self, routes: Index, rooms: Index, lengths: Array, heats: Mask) -> None:
        """The room that each route heats most, and the number of rooms it heats."""
        found, count, size = self.found, len(self.paths), max(len(self.outlines), 1)
        self.heated = np.zeros((count, size))
        np.add.at(self.heated, (routes[heats], rooms[heats]), lengths[heats])
        heated = self.heated.sum(axis=1)
        most = self.heated.argmax(axis=1)
        found.of_route["room"] = np.where(heated > 0, most, np.nan)
        found.of_route["rooms"] = np.where(heated > 0, (self.heated > 0).sum(axis=1), np.nan)
        found.of_route["feeds"] = np.where(heated > 0, found.of_route["length"] - heated, np.nan)

    def _feeds(
        self, routes: Index, rooms: Index, lengths: Array, heats: Mask, number: Index
    ) -> None:
        """For each route and room that it only passes through: length, and spacing of its runs."""
        samples, sides = self.samples, self.sides
        size = max(len(self.outlines), 1) + 1
        near = np.where(sides.parallel & (sides.gap <= REACH), sides.gap, np.nan)
        passing = np.flatnonzero(~self.field)
        keys = samples.route[passing] * size + self.room[passing] + 1
        totals: dict[tuple[int, int], float] = {}
        for route, room, length, heat in zip(
            routes.tolist(), rooms.tolist(), lengths.tolist(), heats.tolist(), strict=True
        ):
            if not heat:
                totals[(route, room)] = totals.get((route, room), 0.0) + length
        for name in self.found.routes:
            self.found.feeds[name] = []
        for (route, room), length in totals.items():
            own = passing[keys == route * size + room + 1]
            gaps = near[:, own]
            gaps = gaps[~np.isnan(gaps)]
            room_name = "" if room < 0 else self.found.rooms[room]
            spacing = float(np.median(gaps)) if len(gaps) else float("nan")
            self.found.feeds[self.found.routes[route]].append(Feed(room_name, length, spacing))
