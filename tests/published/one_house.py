"""The operating points of a whole house in plain scalar Python, for `test_one_house`.

Nothing of the program is used: EN 1264-3's balance (as reported) is one equation for SciPy's brentq
for each return, and shares and the heat of passing feeds are taken in turn until they stand still.
Heat coefficients are declared, so that no table stands between. Water from the library iapws, which
has the same release of IAPWS, SR6-08(2011).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf, isnan, log, nan

from iapws._iapws import _Liquid
from scipy.optimize import brentq

ALPHA = 10.8
MOST_PASSING = 0.9


@dataclass
class Room:
    temperature: float
    resistance: float
    load: float | None


@dataclass
class Floor:
    coefficient: float
    cover: float
    conductivity: float
    insulation: float
    over_room: bool
    below: float


@dataclass
class Part:
    room: str
    floor: Floor
    area: float
    feed: bool = False


@dataclass
class Loop:
    supply: float
    flow: float | None
    parts: list[Part] = field(default_factory=list)


@dataclass
class House:
    drop: float
    by_drop: bool
    rooms: dict[str, Room]
    loops: dict[str, Loop]


def specific_heat(celsius: float) -> float:
    return 1e3 * float(_Liquid(celsius + 273.15, 0.1)["cp"])


def density(celsius: float) -> float:
    return float(_Liquid(celsius + 273.15, 0.1)["rho"])


def excess(part: Part, supply: float, back: float, inside: float) -> float:
    if part.feed:
        return max((supply + back) / 2 - inside, 0.0)
    if abs(supply - back) < 1e-12:
        return supply - inside
    return (supply - back) / log((supply - inside) / (back - inside))


def down(part: Part, output: float, room: Room) -> float:
    floor = part.floor
    up = 1 / ALPHA + room.resistance + floor.cover / floor.conductivity
    resistance = floor.insulation + (0.17 if floor.over_room else 0.0)
    return (up * output + room.temperature - floor.below) / resistance


class Solved:
    """Every value of the house, by loop and room; °C, W, kg/s, m³/s."""

    def __init__(self, house: House) -> None:
        self.house = house
        self.open_return = {name: self._open(loop) for name, loop in house.loops.items()}
        self.back = dict(self.open_return)
        self.runs = {name: self._runs(loop) for name, loop in house.loops.items()}
        self.passing = dict.fromkeys(house.rooms, 0.0)
        for _ in range(200):
            before = dict(self.back)
            self.passing = {name: self._passing(name) for name in house.rooms}
            for name in house.loops:
                self.back[name] = self._set(name)
            if all(abs(self.back[n] - before[n]) < 1e-12 for n in before if self.runs[n]):
                break
        else:
            raise AssertionError("the house does not settle")

    def heat(self, name: str, part: Part, back: float) -> float:
        """Heat flow up of one part, W."""
        loop = self.house.loops[name]
        inside = self.house.rooms[part.room].temperature
        return part.area * part.floor.coefficient * excess(part, loop.supply, back, inside)

    def taken(self, name: str, back: float) -> float:
        """Heat flow up and down of a loop, W."""
        total = 0.0
        for part in self.house.loops[name].parts:
            up = self.heat(name, part, back)
            total += up + part.area * down(part, up / part.area, self.house.rooms[part.room])
        return total

    def passes(self, name: str, part: Part) -> bool:
        own = {p.room for p in self.house.loops[name].parts if not p.feed}
        return part.feed and part.room not in own

    def open_heat(self, room: str) -> float:
        return sum(
            self.heat(name, part, self.open_return[name])
            for name, loop in self.house.loops.items()
            for part in loop.parts
            if part.room == room and not self.passes(name, part)
        )

    def share(self, room: str) -> float | None:
        load = self.house.rooms[room].load
        if load is None:
            return None
        return (load - min(self.passing[room], MOST_PASSING * load)) / self.open_heat(room)

    def _runs(self, loop: Loop) -> bool:
        if loop.flow is not None:
            return loop.flow > 0
        return any(self.house.rooms[p.room].load != 0 for p in loop.parts if not p.feed)

    def _warmest(self, name: str) -> float:
        parts = self.house.loops[name].parts
        return max(self.house.rooms[p.room].temperature for p in parts if not p.feed)

    def _balanced(self, name: str, rate) -> float:  # type: ignore[no-untyped-def]
        supply = self.house.loops[name].supply
        return float(
            brentq(
                lambda back: self.taken(name, back) - rate((supply + back) / 2) * (supply - back),
                self._warmest(name) + 1e-9,
                supply - 1e-9,
                xtol=1e-13,
                rtol=1e-15,
            )
        )

    def _open(self, loop: Loop) -> float:
        if loop.flow is None:
            return loop.supply - self.house.drop
        name = next(n for n, other in self.house.loops.items() if other is loop)
        return self._balanced(name, lambda m: loop.flow * density(m) * specific_heat(m))

    def _passing(self, room: str) -> float:
        return sum(
            self.heat(name, part, self.back[name])
            for name, loop in self.house.loops.items()
            for part in loop.parts
            if part.room == room and self.passes(name, part) and self.runs[name]
        )

    def dropped(self, name: str) -> float:
        """Mass flow at the plant's drop, kg/s."""
        loop, total = self.house.loops[name], 0.0
        if all(self.house.rooms[p.room].load == 0 for p in loop.parts if not p.feed):
            return 0.0
        for part in loop.parts:
            room = self.house.rooms[part.room]
            if part.feed:
                up = self.heat(name, part, loop.supply - self.house.drop)
            else:
                share = self.share(part.room)
                up = self.heat(name, part, self.open_return[name])
                up *= 1.0 if share is None else share
            total += up + part.area * down(part, up / part.area, room)
        return total / specific_heat(loop.supply - self.house.drop / 2) / self.house.drop

    def _set(self, name: str) -> float:
        loop, most = self.house.loops[name], self.open_return[name]
        if not self.runs[name]:
            return nan
        if loop.flow is not None:
            return most
        if self.house.by_drop:
            mass = self.dropped(name)
            return self._balanced(name, lambda m: mass * specific_heat(m))
        found = -inf
        for room in {p.room for p in loop.parts if not p.feed}:
            share = self.share(room)
            if share is None or share >= 1:
                found = most
            elif share > 0:
                there = [p for p in loop.parts if p.room == room]
                wanted = share * sum(self.heat(name, p, most) for p in there)
                found = max(
                    found,
                    brentq(
                        lambda b, there=there, wanted=wanted: (
                            sum(self.heat(name, p, b) for p in there) - wanted
                        ),
                        self.house.rooms[room].temperature + 1e-12,
                        most,
                        xtol=1e-13,
                        rtol=1e-15,
                    ),
                )
        return found

    # ---- what the report has

    def loop(self, name: str) -> dict[str, float]:
        """Of one loop, in the report's units; without what has no value."""
        loop, back = self.house.loops[name], self.back[name]
        own = [p for p in loop.parts if not p.feed]
        area = sum(p.area for p in own)
        rooms = self.house.rooms

        def mean(value) -> float:  # type: ignore[no-untyped-def]
            return float(sum(p.area * value(p) for p in own) / area)

        def output(part: Part) -> float:
            return self.heat(name, part, back) / part.area if self.runs[name] else 0.0

        found = {
            "largest_output": mean(lambda p: self.heat(name, p, self.open_return[name]) / p.area),
            "output": mean(output),
            "down_loss": mean(
                lambda p: down(p, output(p), rooms[p.room]) if self.runs[name] else 0.0
            ),
            "flow_at_drop": 6e4 * self.dropped(name) / density(loop.supply - self.house.drop / 2),
            "flow": 0.0,
        }
        needed = [self._needed(name, part) for part in own]
        if not any(isnan(one) for one in needed) and max(needed) > -inf:
            found["needed_supply"] = max(needed)
        if self.runs[name]:
            mean_water = (loop.supply + back) / 2
            mass = self.taken(name, back) / specific_heat(mean_water) / (loop.supply - back)
            found["flow"] = 6e4 * mass / density(mean_water)
            found["return_temperature"] = back
            found["drop"] = loop.supply - back
            found["excess"] = mean(
                lambda p: excess(p, loop.supply, back, rooms[p.room].temperature)
            )
        return found

    def _needed(self, name: str, part: Part) -> float:
        share = self.share(part.room)
        if share is None:
            return nan
        wanted = share * self.heat(name, part, self.open_return[name])
        if wanted == 0:
            return -inf
        drop, inside = self.house.drop, self.house.rooms[part.room].temperature

        def surplus(supply: float) -> float:
            given = part.floor.coefficient * excess(part, supply, supply - drop, inside)
            return part.area * given - wanted

        return float(brentq(surplus, inside + drop + 1e-9, 500.0, xtol=1e-12, rtol=1e-15))

    def room(self, name: str) -> dict[str, float]:
        """Of one room, in the report's units."""
        given = sum(
            self.heat(loop, part, self.back[loop])
            for loop, of in self.house.loops.items()
            for part in of.parts
            if part.room == name and self.runs[loop]
        )
        found = {"output": given, "passing_heat": self.passing[name]}
        load = self.house.rooms[name].load
        if load:
            found["coverage"] = 100 * (self.open_heat(name) + self.passing[name]) / load
        return found
