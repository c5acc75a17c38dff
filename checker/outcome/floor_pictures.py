"""The floors of designs in section, for pictures on pages."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from checker.arrays import Array
from checker.compute.graph import Graph
from checker.design.leaves import words
from checker.design.materials import catalogue
from checker.design.schema import PARTS, design_format
from checker.outcome.drawn_records import FloorPicture
from checker.physics.build_up import BELOW, ROOM, Section
from checker.physics.film import film_resistance
from checker.physics.mixed_section import Solved, flow, solved
from checker.physics.section import Solution
from checker.physics.section_with_pipe import temperatures
from checker.quantities.floor_layers import LAYERED
from checker.quantities.part import OWN
from checker.words.speech import Speech

VALUES = (
    "loop.open_film",
    "open_excess",
    "room.temperature",
    "below_temperature",
    "section_surface_max",
)
MOST = 6
"""At most this many sections of a design are drawn, those with the warmest surfaces."""


def floor_pictures(graph: Graph, speech: Sequence[Speech]) -> dict[int, list[FloorPicture]]:
    """Draw the sections of all designs, each section once, under its warmest loop.

    Args:
        graph: has the values.
        speech: how values are shown to the reader of each design.

    Returns:
        By the row of each design that has any, up to MOST sections, the warmest first.
    """
    numbers = graph.column("part", "section").values
    columns = {name: _column(graph, name) for name in VALUES}
    own_parts = graph.column("part", "feed").values == OWN
    known = own_parts & ~np.isnan(numbers + sum(columns.values()))
    jobs = graph.tables.design_of(PARTS)
    chosen: list[tuple[int, float, list[int], int]] = []
    for job in np.unique(jobs[known]).tolist():
        own = np.flatnonzero(known & (jobs == job))
        sections = []
        for number in np.unique(numbers[own]).tolist():
            rows = own[numbers[own] == number]
            warmest = int(rows[np.argmax(columns["section_surface_max"][rows])])
            sections.append((job, number, rows.tolist(), warmest))
        sections.sort(key=lambda one: -columns["section_surface_max"][one[3]])
        chosen += sections[:MOST]
    floors = _solved(graph, [number for _, number, _, _ in chosen])
    inside = _inside(floors, [row for _, _, _, row in chosen], columns)
    found: dict[int, list[FloorPicture]] = {}
    for (job, _, rows, row), floor, lines in zip(chosen, floors, inside, strict=True):
        picture = _picture(graph, floor, rows, row, columns, lines, speech[job])
        found.setdefault(job, []).append(picture)
    return found


def floor_picture(graph: Graph, row: int, speech: Speech) -> FloorPicture | None:
    """Draw the section of one part of a loop, at the temperatures of that part.

    Args:
        graph: has the values; without `second_opinion` only sections that stand in are known.
        row: of the part, in the table of parts.
        speech: how values are shown to the reader.

    Returns:
        The picture; None where the section or one of its temperatures is not known.
    """
    columns = {name: _column(graph, name) for name in VALUES}
    number = float(graph.column("part", "section").values[row])
    if np.isnan(number + sum(float(column[row]) for column in columns.values())):
        return None
    (floor,) = floors = _solved(graph, [number])
    (lines,) = _inside(floors, [row], columns)
    return _picture(graph, floor, [row], row, columns, lines, speech)


def _column(graph: Graph, name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    values: np.ndarray[tuple[int], np.dtype[np.float64]] = graph.column("part", name).values
    return values


Columns = dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]]


def _solved(graph: Graph, numbers: Sequence[float]) -> list[Solved]:
    """The floors that the column of sections names by these numbers."""
    return solved([graph.things.thing(number) for number in numbers])  # type: ignore[misc]  # sections


def _inside(floors: Sequence[Solved], rows: Sequence[int], columns: Columns) -> list[Array]:
    """For each floor at its row: x and y of its corners, m, and their temperatures, °C."""
    asked = []
    for floor, row in zip(floors, rows, strict=True):
        solution = floor[0][0]
        film, excess, room, below, _ = (float(columns[name][row]) for name in VALUES)
        resistance = film_resistance(solution.section, film)
        asked.append((solution.fine, resistance, room + excess, room, below))
    return [
        np.asarray(np.round(np.stack((mesh.x, mesh.y, inside), axis=-1), 5), dtype=np.float64)
        for mesh, inside in temperatures(asked)
    ]


def _picture(
    graph: Graph,
    floor: Solved,
    rows: list[int],
    row: int,
    columns: Columns,
    lines: Array,
    speech: Speech,
) -> FloorPicture:
    """The picture of one section under its warmest part; rows: all parts that it lies over."""
    solution: Solution = floor[0][0]
    section = solution.section
    film, excess, room, below, _ = (float(columns[name][row]) for name in VALUES)
    water = room + excess
    resistance = film_resistance(section, film)
    values = solution.values(resistance)
    surface = values.surface_temperatures(water, room, below)
    into = flow(floor, film) @ np.array([water, room, below])
    limit = float(graph.column("part", "surface_limit").values[row])
    loops, of = graph.tables["loops"].ids, graph.tables[PARTS].parents
    top = section.heights[section.pipe_layer]
    return FloorPicture(
        loops=tuple(dict.fromkeys(loops[of[one]] for one in rows)),
        spacing=section.spacing,
        covering=_covering(graph, row, section.covering, speech),
        layers=_layers(graph, row, section, speech),
        depth=section.depth,
        outside=section.outside,
        wall=section.wall,
        plate=(section.plate.thickness, section.plate.width, top) if section.plate else None,
        joist=section.joist,
        lines=lines,
        surface=tuple(zip(values.across.tolist(), surface.tolist(), strict=True)),
        mean=float(np.trapezoid(surface, values.across) / values.across[-1]),
        limit=None if np.isnan(limit) else limit,
        water=water,
        room=room,
        heat=(-float(into[ROOM]), -float(into[BELOW])),
        note=_note(graph, row),
    )


def _note(graph: Graph, row: int) -> str:
    """What the picture assumes; empty where it assumes nothing."""
    layered = graph.column("part", "floor.construction").values[row] == LAYERED
    under = "given.insulation" if layered else "screed.below_pipe"
    if not np.isnan(graph.column("part", f"floor.{under}").values[row]):
        return ""
    if layered:
        return "Insulation under the layers is not stated; it counts as none."
    return "How much screed lies under the pipe is not stated; it counts as none."


def _covering(graph: Graph, row: int, resistance: float, speech: Speech) -> str:
    kind = graph.column("part", "room.covering.material").values[row]
    options = design_format().leaf("rooms", "covering.material").options
    name = "covering" if np.isnan(kind) else options[int(kind)]
    return f"{name}, {speech.measure(resistance, 'm²·K/W')}"


def _layers(
    graph: Graph, row: int, section: Section, speech: Speech
) -> tuple[tuple[str, float, bool], ...]:
    """The layers of a section in words, from the top, with thickness, m, and whether joists are in
    them.
    """
    names, stated = ["screed"], [True]
    if graph.column("part", "floor.construction").values[row] == LAYERED:
        table = graph.tables["layers"]
        of = int(graph.column("part", "floor").values[row])
        rows = np.flatnonzero(table.above() == of)
        slot = design_format().leaf("layers", "material").slot
        names = [
            "layer" if np.isnan(number) else words.text(number)
            for number in table.column(slot)[rows].tolist()
        ]
        conductivity = table.column(design_format().leaf("layers", "conductivity").slot)[rows]
        stated = (~np.isnan(conductivity)).tolist()
    return tuple(
        (
            f"{name}, {speech.measure(1000 * layer.thickness, 'mm')}, "
            f"{speech.measure(layer.conductivity, 'W/(m·K)')}"
            + ("" if said else f" by {catalogue().source.partition(',')[0]}"),
            layer.thickness,
            bool(section.joist and layer.joist),
        )
        for name, said, layer in zip(names, stated, section.layers, strict=True)
    )
