"""A heated floor in section, by finite differences: what flows between water, room and ground."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

CELL = 0.0025  # m
ABOVE = 10.8  # W/(m²·K), floor to room, as EN 1264-2:2021 has it (from memory)


class Section(NamedTuple):
    """Lengths in m, conductivities in W/(m·K), resistances in m²·K/W."""

    spacing: float
    cover: float
    screed: float
    covering: float
    insulation: float
    outside: float
    wall: float
    pipe: float


class Star(NamedTuple):
    """Conductances from the slab's own temperature to water, room and ground, W/(m²·K)."""

    water: float
    room: float
    ground: float


@cache
def star(section: Section) -> Star:
    """The star that is equal to the section, from two solutions of it."""
    water_room, water_ground = _fluxes(section, water=1.0, room=0.0)
    _, room_ground = _fluxes(section, water=0.0, room=1.0)
    both = water_room * water_ground + water_ground * room_ground + room_ground * water_room
    return Star(both / room_ground, both / water_ground, both / water_room)


def _fluxes(section: Section, water: float, room: float) -> tuple[float, float]:
    """W/m² up into the room and down into the ground at 0, over half a spacing of floor."""
    width = max(round(section.spacing / 2 / CELL), 2)
    depth = round((section.cover + section.outside) / CELL)
    x, y = (np.arange(width) + 0.5) * CELL, (np.arange(depth) + 0.5) * CELL
    axis = depth * CELL - section.outside / 2
    radius = np.hypot(x[None, :], (y - axis)[:, None])
    number = np.arange(width * depth).reshape(depth, width)
    pipe = width * depth
    number[radius < section.outside / 2] = pipe
    rows: list[int] = []
    columns: list[int] = []
    values: list[float] = []
    given = np.zeros(pipe + 1)

    def joined(one: int, other: int, conductance: float) -> None:
        if one != other:
            rows.extend((one, other, one, other))
            columns.extend((one, other, other, one))
            values.extend((conductance, conductance, -conductance, -conductance))

    def held(one: int, temperature: float, conductance: float) -> None:
        rows.append(one)
        columns.append(one)
        values.append(conductance)
        given[one] += conductance * temperature

    for row in range(depth):
        for column in range(width):
            here = int(number[row, column])
            if column + 1 < width:
                joined(here, int(number[row, column + 1]), section.screed)
            if row + 1 < depth:
                joined(here, int(number[row + 1, column]), section.screed)
    half = CELL / 2 / section.screed
    up = CELL / (1 / ABOVE + section.covering + half)
    down = CELL / (section.insulation + half)
    for column in range(width):
        held(int(number[0, column]), room, up)
        held(int(number[-1, column]), 0.0, down)
    bore = section.outside - 2 * section.wall
    half_pipe = np.pi * section.pipe / np.log(section.outside / bore)
    held(pipe, water, float(half_pipe))
    # Cells that the pipe has swallowed stand alone.
    for one in set(range(pipe)) - set(number.ravel().tolist()):
        held(one, 0.0, 1.0)
    matrix = coo_matrix((values, (rows, columns)), shape=(pipe + 1, pipe + 1)).tocsr()
    found = spsolve(matrix, given)
    flux_up = sum(up * (found[number[0, c]] - room) for c in range(width)) / (width * CELL)
    flux_down = sum(down * found[number[-1, c]] for c in range(width)) / (width * CELL)
    return float(flux_up), float(flux_down)
