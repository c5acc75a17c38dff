"""A house as it truly is: pump and loops as a network, rooms and slabs in time, drives that cycle."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.audit.independent.floor import Section, star

Array = NDArray[np.float64]

STEP = 300.0  # s
DAYS = 3
SLAB = 2.0e6  # J/(m³·K), cement screed
ROOM = 1.5e5  # J/(K·m²), air, furniture and the skin of the walls
NEIGHBOUR = 6.0  # W/K to the rest of the house
ELSE = 20.0  # °C there


def water(temperature: Array, glycol: float) -> tuple[Array, Array, float]:
    """Density kg/m³, viscosity Pa·s, specific heat J/(kg·K); fits from memory, good to a few %."""
    density = 1000.0 - 0.0045 * (temperature - 4) ** 2 * 0.9 + 85 * glycol
    viscosity = 2.414e-5 * 10 ** (247.8 / (temperature + 133.15)) * np.exp(3.1 * glycol)
    return density, viscosity, 4180.0 - 1350.0 * glycol


@dataclass
class Loop:
    """One loop and its room. SI; valve: pressure taken at 1 l/min, Pa; drive: whose thermostat."""

    room: str
    section: Section
    area: float
    length: float
    load: float
    asked: float
    valve: float
    loss: float = 1.0
    gains: float = 0.0
    sensor: float = 0.0
    drive: int = -1
    stuck: bool = False
    fed: int = -1
    more: float = 0.0


@dataclass
class House:
    """The whole: temperatures in °C, head of the pump in Pa over l/min squared."""

    loops: list[Loop]
    outside: float
    supply: float
    head: float
    steep: float
    ground: float = 10.0
    glycol: float = 0.0
    curve: float = 0.0
    most_supply: float = 90.0
    extra: dict[str, Any] = field(default_factory=dict)


def churchill(reynolds: Array, rough: float) -> Array:
    """Friction factor (Darcy) of S. W. Churchill, 1977; from memory."""
    reynolds = np.maximum(reynolds, 1e-3)
    a = (-2.457 * np.log((7 / reynolds) ** 0.9 + 0.27 * rough)) ** 16
    b = (37530 / reynolds) ** 16
    return np.asarray(8 * ((8 / reynolds) ** 12 + (a + b) ** -1.5) ** (1 / 12))


def resistance(house: House, mean: float) -> Callable[[Array], Array]:
    """What gives Pa of each loop at l/min: pipe with its bends, and valve."""
    count = len(house.loops)
    density, viscosity, _ = water(np.full(count, mean), house.glycol)
    bore = np.array([loop.section.outside - 2 * loop.section.wall for loop in house.loops])
    length = np.array([loop.length for loop in house.loops]) * 1.06
    valve = np.array([loop.valve for loop in house.loops])
    across = np.pi / 4 * bore**2

    def losses(flow: Array) -> Array:
        speed = flow / 6e4 / across
        factor = churchill(density * speed * bore / viscosity, 7e-6 / 0.012)
        own = valve * flow**2
        return np.asarray(factor * length / bore * density * speed**2 / 2 + own)

    return losses


def flows(house: House, mean: float = 35.0) -> Array:
    """l/min through each loop, all valves open, by halving."""
    open_ = np.array([not loop.stuck for loop in house.loops])
    losses = resistance(house, mean)

    def at(pressure: float) -> Array:
        low, high = np.zeros(len(open_)), np.full(len(open_), 20.0)
        for _ in range(40):
            middle = (low + high) / 2
            over = losses(middle) > pressure
            low, high = np.where(over, low, middle), np.where(over, middle, high)
        return np.where(open_, (low + high) / 2, 0.0)

    low, high = 0.0, house.head
    for _ in range(40):
        pressure = (low + high) / 2
        total = float(at(pressure).sum())
        own = 8.0 * total**2
        if house.head - house.steep * total**2 - own > pressure:
            low = pressure
        else:
            high = pressure
    return at((low + high) / 2)


@dataclass(frozen=True)
class Seen:
    """What is true at the end of a visit: l/min, °C, W, each a loop; and the header's pressure."""

    flow: Array
    supply: Array
    back: Array
    room: Array
    surface: Array
    loss: Array
    outside: float


def live(house: House, outside: float, chance: np.random.Generator) -> Seen:
    """Three days of weather, then an hour with every thermostat at its highest; then read."""
    loops = house.loops
    count = len(loops)
    stars = [star(loop.section) for loop in loops]
    to_water, to_room, to_ground = (np.array(one) for one in zip(*stars, strict=True))
    area = np.array([loop.area for loop in loops])
    thick = np.array([loop.section.cover + loop.section.outside for loop in loops])
    # A loop that is joined to another's ports heats its own floor with the other's valve.
    flow = flows(house)
    fed = [loop.fed if loop.fed >= 0 else n for n, loop in enumerate(loops)]
    asked = np.array([loop.asked for loop in loops])
    drop = asked - house.outside
    conductance = np.array([loop.load * loop.loss for loop in loops]) / drop
    share = (20 - outside) / (20 - house.outside)
    supply = np.full(count, 20 + (house.supply - 20) * share**0.9 + house.curve)
    supply = np.minimum(np.maximum(supply, 24.0), house.most_supply)
    density, _, heat = water(np.full(count, 35.0), house.glycol)
    slab, room = np.full(count, 24.0), np.minimum(asked, 20.0).astype(float)
    steps = int(DAYS * 86400 / STEP)
    on = np.ones(count, dtype=bool)
    drives = np.array([loop.drive if loop.drive >= 0 else n for n, loop in enumerate(loops)])
    wrong = np.array([loop.sensor for loop in loops])
    gains = np.array([loop.gains for loop in loops])
    back = supply.copy()
    for step in range(steps + 12):
        felt = room + wrong
        on = np.where(felt < asked - 0.2, True, np.where(felt > asked + 0.2, False, on))
        calls = np.ones(count, dtype=bool) if step >= steps else on[drives]
        running = np.where(calls, flow, 0.0)[fed]
        carried = running / 6e4 * density * heat
        units = np.where(carried > 0, to_water * area / np.maximum(carried, 1e-9), 0.0)
        back = np.where(carried > 0, slab + (supply - slab) * np.exp(-units), slab)
        given = carried * (supply - back)
        up = to_room * area * (slab - room)
        down = to_ground * area * (slab - house.ground)
        hour = step * STEP / 3600 % 24
        weather = outside - 2.0 * np.cos(2 * np.pi * (hour - 3) / 24)
        sun = gains * max(0.0, np.sin(2 * np.pi * (hour - 7) / 24))
        lost = conductance * (room - weather) + NEIGHBOUR * (room - ELSE)
        slab = slab + STEP * (given - up - down) / (SLAB * thick * area)
        room = room + STEP * (up + sun + 20.0 - lost) / (ROOM * area)
    surface = room + to_room * (slab - room) / 10.8
    order = np.argsort(np.array(fed))
    taken = np.array(flow) * np.where(np.array([loop.stuck for loop in loops]), 0.0, 1.0)
    ports = back[order] if fed != list(range(count)) else back
    return Seen(taken, supply, ports, room, surface, resistance(house, 35.0)(flow), outside)


def balanced(house: House, wanted: Array) -> House:
    """The house with each loop's valve set for the flow that was wanted, l/min."""
    found = house
    for _ in range(12):
        now = flows(found)
        loops = [
            replace(loop, valve=max(loop.valve * (is_ / to) ** 2, 200.0))
            for loop, is_, to in zip(found.loops, now, wanted, strict=True)
        ]
        found = replace(found, loops=loops)
    return found
