"""What plans show, as columns: for every row of a subject, of all designs judged together."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, log10
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from checker.arrays import Array, Mask
from checker.design.schema import DESIGNS
from checker.design.tables import Tables

if TYPE_CHECKING:
    from checker.design.plans import Drawing
    from checker.geometry.measured import Measured, Spot


NO_PLAN = "the design has no section 'plan'"

MOST_SPOTS = 3
"""A finding names at most this many places; the others are counted."""
MOST_WORDS = 8
"""A finding names at most this many remarks on a plan; the others are counted."""


class Row(NamedTuple):
    """A row that a plan shows.

    Attributes:
        row: of the subject's table.
        number: of its route or room in the drawing.
        drawing: of its design.
    """

    row: int
    number: int
    drawing: Drawing


class Drawn:
    """The drawings of all designs judged together, for the rows of one subject."""

    def __init__(self, tables: Tables, table: str) -> None:
        """Look nothing up yet.

        Args:
            tables: all designs judged together.
            table: the subject's, a value of `naming.TABLE_OF`.
        """
        self.tables = tables
        self.table = table
        self.size = len(tables[table])

    def rows(self, *, to_scale: bool = True) -> Iterator[Row]:
        """The rows that a plan shows.

        Args:
            to_scale: whether to pass over plans that are not to scale.

        Returns:
            Loops with a route, or rooms with an outline; none for any other subject.
        """
        if not self.tables.drawings:
            return
        of = self.tables.design_of(self.table)
        ids = self.tables[self.table].ids
        for design, drawing in self.tables.drawings.items():
            if to_scale and not drawing.to_scale:
                continue
            names = self._names(drawing.measured)
            numbers = {name: number for number, name in enumerate(names)}
            start, end = np.searchsorted(of, [design, design + 1]).tolist()
            for row in range(start, end):
                number = numbers.get(ids[row])
                if number is not None:
                    yield Row(row, number, drawing)

    def _names(self, measured: Measured) -> list[str]:
        return {"loops": measured.routes, "rooms": measured.rooms}.get(self.table, [])

    def column(self, name: str, *, to_scale: bool = True) -> Array:
        """A column of what was measured on the drawings.

        Args:
            name: a key of `Measured.of_route` for loops, of `Measured.of_room` for rooms.
            to_scale: whether to pass over plans that are not to scale.

        Returns:
            SI, shape (n,); NaN where no plan shows the row.
        """
        found = np.full(self.size, np.nan)
        for row, number, drawing in self.rows(to_scale=to_scale):
            measured = drawing.measured
            columns = measured.of_route if self.table == "loops" else measured.of_room
            found[row] = columns[name][number]
        return found

    def of_design(self, value: str) -> Array:
        """A number of each design's drawing itself.

        Args:
            value: an attribute of `Drawing`, such as `misfit`.

        Returns:
            Shape (designs,), whatever the subject; NaN without a plan.
        """
        found = np.full(len(self.tables.designs), np.nan)
        for design, drawing in self.tables.drawings.items():
            found[design] = getattr(drawing, value)
        return found

    def shows(self, part: str) -> Array:
        """Whether the plan of each row's design has lines of a kind, or says that there are none.

        Args:
            part: a key of the plan, such as `joints`.

        Returns:
            1 or 0, shape (n,); NaN without a plan.
        """
        found = np.full(len(self.tables.designs), np.nan)
        for design, drawing in self.tables.drawings.items():
            found[design] = float(drawing.measured.plan.shows(part))
        return found[self.tables.design_of(self.table)]

    def missing(self) -> dict[str, Mask]:
        """For each row, whether its design has no plan, or has one that is not to scale."""
        of = self.tables.design_of(self.table)
        none = np.ones(len(self.tables.designs), dtype=bool)
        none[[*self.tables.drawings]] = False
        flat = np.zeros(len(self.tables.designs), dtype=bool)
        flat[[row for row, one in self.tables.drawings.items() if not one.to_scale]] = True
        return {NO_PLAN: none[of], "the plan is not to scale": flat[of]}

    def references(self, name: str, table: str) -> Array:
        """A column of numbers of a drawing's rooms or headers, as rows of that table.

        Args:
            name: the column, a key of `Measured.of_route`.
            table: `rooms` or `headers`.

        Returns:
            Shape (n,); -1 where the design has no record of the name in the drawing, NaN where no
            plan to scale names one.
        """
        column = self.column(name)
        found = column.copy()
        of = self.tables.design_of(table)
        ids = self.tables[table].ids
        for row, _, drawing in self.rows():
            if np.isnan(column[row]):
                continue
            measured = drawing.measured
            names = measured.rooms if table == "rooms" else [*measured.plan.headers]
            design = int(self.tables.design_of(self.table)[row])
            start, end = np.searchsorted(of, [design, design + 1]).tolist()
            wanted = names[int(column[row])]
            found[row] = next((other for other in range(start, end) if ids[other] == wanted), -1)
        return found

    def same_rooms(self) -> Array:
        """For each loop 1 where its route heats exactly the rooms that it states, else 0.

        Shape (n,); NaN where either is not known.
        """
        found = np.full(self.size, np.nan)
        ids = self.tables["rooms"].ids
        loops, parts = self.tables["loops"], self.tables["loop_parts"]
        own, of_part = (
            self.tables.format.leaf(table, "room").slot for table in ("loops", "loop_parts")
        )
        stated: dict[int, list[float]] = {}
        for number, loop in enumerate(parts.parents):
            stated.setdefault(loop, []).append(float(parts.column(of_part)[number]))
        for row in self.rows():
            rooms = stated.get(row.row) or [float(loops.column(own)[row.row])]
            shown = self._rooms(row)
            if shown and not np.isnan(rooms).any():
                found[row.row] = {ids[int(room)] for room in rooms} == set(shown)
        return found

    def spacings(self, loop: Array, room: Array, stated: Array, length: Array) -> Array:
        """For each part of a loop, the spacing of its runs in its room.

        Args:
            loop: the row of each part's loop, shape (n,); NaN where unknown.
            room: the row of its room, shape (n,), NaN where unknown. A loop's only part has all of
                its runs, wherever they are.
            stated: its spacing, m, shape (n,); parts of one loop in one room are matched by it, the
                closest spacing with the smallest distances.
            length: what it has of the pipe, m, shape (n,).

        Returns:
            m, shape (n,); NaN where a plan shows no runs there, or they cannot be distinguished.
        """
        found = np.full(self.size, np.nan)
        loops, rooms = self.tables["loops"].ids, self.tables["rooms"].ids
        of = self.tables.design_of(self.table)
        for design, drawing in self.tables.drawings.items():
            if not drawing.to_scale:
                continue
            start, end = np.searchsorted(of, [design, design + 1]).tolist()
            parts: dict[int, list[int]] = {}
            for row in range(start, end):
                if not np.isnan(loop[row]):
                    parts.setdefault(int(loop[row]), []).append(row)
            for own, every in parts.items():
                gaps = drawing.measured.gaps.get(loops[own], [])
                if len(every) == 1 and gaps:
                    route = drawing.measured.routes.index(loops[own])
                    found[every[0]] = drawing.measured.of_route["spacing"][route]
                    continue
                for here in gaps:
                    placed = [row for row in every if not np.isnan(room[row])]
                    rows = np.array([row for row in placed if rooms[int(room[row])] == here.room])
                    if not len(rows) or (len(rows) > 1 and np.isnan(length[rows]).any()):
                        continue
                    rows = rows[np.argsort(stated[rows], kind="stable")]
                    found[rows] = here.middles(length[rows])
        return found

    def name(self, name: str, row: Row) -> str:
        """The room or header that a column of a route refers to.

        Args:
            name: the column, a key of `Measured.of_route`; `header` refers to headers, any other to
                rooms.
            row: the route's.

        Returns:
            Its name in the drawing; empty where it refers to none.
        """
        value = row.drawing.measured.of_route[name][row.number]
        measured = row.drawing.measured
        names = [*measured.plan.headers] if name == "header" else measured.rooms
        return "" if np.isnan(value) else names[int(value)]

    def words(self, name: str) -> dict[int, str]:
        """What the plans say about a value.

        Args:
            name: `Quantity.places` of the value.

        Returns:
            By row, with `{value}` for the value; rows without anything to say are left out.
        """
        if name == "rooms":
            return {row.row: " and ".join(self._rooms(row)) for row in self.rows()}
        if name == "pattern":
            return {row.row: self._pattern(row) for row in self.rows()}
        if name == "ports":
            return {row.row: self._port(row) for row in self.rows()}
        if self.table == DESIGNS:
            return self._about_drawings(name)
        return {row: f"{{value}} ({where})" for row, where in self._places(name).items()}

    def _about_drawings(self, name: str) -> dict[int, str]:
        """By row of the designs, what is to be said about the drawing as a whole."""
        said = {}
        for design, drawing in self.tables.drawings.items():
            if name == "complete":
                parts = unmatched(drawing, self.tables, design)
            else:
                parts = [*drawing.measured.plan.remarks]
            if name == "scale":
                said[design] = f"{{value}} ({drawing.words})"
            elif parts:
                more = f" and {len(parts) - MOST_WORDS} more" if len(parts) > MOST_WORDS else ""
                said[design] = "; ".join(parts[:MOST_WORDS]) + more
        return said

    @staticmethod
    def _rooms(row: Row) -> list[str]:
        """The rooms that a route heats."""
        measured = row.drawing.measured
        return [name for name, *_ in measured.fields[measured.routes[row.number]]]

    def _pattern(self, row: Row) -> str:
        uneven = row.drawing.measured.of_route["unevenness"][row.number]
        return "serpentine" if uneven > 0.5 else "counterflow"

    def _port(self, row: Row) -> str:
        port = row.drawing.measured.of_route["port"][row.number]
        return "" if np.isnan(port) else f"port {port:.0f} of {self.name('header', row)}"

    def _places(self, name: str) -> dict[int, str]:
        """By row, where on the drawing a column's value was found."""
        found = {}
        for row, number, drawing in self.rows():
            spots = drawing.measured.spots.get((name, self._names(drawing.measured)[number]))
            if spots:
                found[row] = places_in_words(spots, drawing)
        return found


def places_in_words(spots: list[Spot], drawing: Drawing) -> str:
    """Places as the plan writes points, each with its room.

    Args:
        spots: where a value was found, in m; the first MOST_SPOTS are named.
        drawing: says in which unit its plan is.

    Returns:
        Begins with `at`; to a millimetre or finer.
    """
    shown = []
    digits = max(0, ceil(log10(drawing.metre / 0.001)))
    for spot in spots[:MOST_SPOTS]:
        x, y = (f"{value / drawing.metre:.{digits}f}" for value in (spot.x, spot.y))
        shown.append(f"{x} {y}{f' in {spot.room}' if spot.room else ''}")
    more = len(spots) - len(shown)
    return "at " + ", ".join(shown) + (f" and {more} more" if more else "")


def unmatched(drawing: Drawing, tables: Tables, design: int) -> list[str]:
    """The loops of a design without a route in its plan, and the routes without a loop.

    Args:
        drawing: what its plan shows.
        tables: all designs judged together.
        design: row of the design.

    Returns:
        One sentence each; none where the plan is complete.
    """
    start, end = np.searchsorted(tables.design_of("loops"), [design, design + 1]).tolist()
    ids, routes = tables["loops"].ids[start:end], drawing.measured.routes
    return [
        *(f"loop {own} has no route" for own in ids if own not in routes),
        *(f"route {name} is not a loop" for name in routes if name not in ids),
    ]
