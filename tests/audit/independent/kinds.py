"""Kinds of past jobs: what is complained of, what is truly wrong, and what papers do not say.

A kind changes the house as it is (`truth`), what stands on paper (`paper`), or the instruments.
`causes` are those that are truly at work, none for a sound job; `alike` are causes that read the
same on any instrument of the visit, and are no mistake (a load that is too much for its floor is a
supply that is too cool for it). Kinds with an even number tune, those with an odd number report.
FRESH kinds came when all else stood, and report too: they read more, or hold what no other holds.
LEARNT kinds tune, LATEST report: each has buildings and instruments that the other has not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tests.audit.independent.house import House, Loop
from tests.audit.independent.papers import GOOD, USUAL, Building, Instruments, Paper, Visit

Truth = Callable[[House, np.random.Generator], House]
OnPaper = Callable[[Paper, np.random.Generator], None]
Reading = Callable[[Visit, np.random.Generator], None]


@dataclass(frozen=True)
class Kind:
    """One kind of job; the room complained of is the first, its loop L1."""

    name: str
    complaint: str
    causes: tuple[str, ...]
    alike: tuple[str, ...] = ()
    truth: Truth = lambda house, chance: house
    paper: OnPaper = lambda paper, chance: None
    reading: Reading = lambda visit, chance: None
    reads: tuple[str, ...] = ()
    gauge: str = ""
    elsewhere: bool = False
    building: Building = USUAL
    instruments: Instruments = GOOD


def first(house: House, change: Callable[[Loop], Loop], at: int = 0) -> House:
    """The house with one of its loops changed."""
    loops = [*house.loops]
    loops[at] = change(loops[at])
    return replace(house, loops=loops)


def every(house: House, change: Callable[[Loop], Loop]) -> House:
    """The house with each of its loops changed."""
    return replace(house, loops=[change(loop) for loop in house.loops])


def covered(resistance: float) -> Callable[[Loop], Loop]:
    """A loop under another covering."""
    return lambda loop: replace(loop, section=loop.section._replace(covering=resistance))


def throttled(factor: float) -> Callable[[Loop], Loop]:
    """A loop whose valve takes so many times what it should."""
    return lambda loop: replace(loop, valve=(loop.valve + 2500) * factor)


def _carpet(low: float, high: float) -> Truth:
    return lambda h, c: first(h, covered(c.uniform(low, high)))


def _throttle(low: float, high: float) -> Truth:
    return lambda h, c: first(h, throttled(c.uniform(low, high)))


def _longer(low: float, high: float) -> Truth:
    def truth(house: House, chance: np.random.Generator) -> House:
        factor = chance.uniform(low, high)
        return first(house, lambda loop: replace(loop, length=loop.length * factor))

    return truth


def _loses(low: float, high: float, *, all_of_it: bool = False) -> Truth:
    def truth(house: House, chance: np.random.Generator) -> House:
        factor = chance.uniform(low, high)

        def change(loop: Loop) -> Loop:
            return replace(loop, loss=factor)

        return every(house, change) if all_of_it else first(house, change)

    return truth


def _curve(low: float, high: float) -> Truth:
    return lambda h, c: replace(h, curve=c.uniform(low, high))


def _weak(low: float, high: float) -> Truth:
    return lambda h, c: replace(h, head=h.head * c.uniform(low, high))


def _sensor(low: float, high: float) -> Truth:
    return lambda h, c: first(h, lambda loop: replace(loop, sensor=c.uniform(low, high)))


def _both(*truths: Truth) -> Truth:
    def truth(house: House, chance: np.random.Generator) -> House:
        for one in truths:
            house = one(house, chance)
        return house

    return truth


def _swapped_loops(house: House, chance: np.random.Generator) -> House:
    return first(first(house, lambda o: replace(o, fed=1)), lambda o: replace(o, fed=0), 1)


def _swapped_drives(house: House, chance: np.random.Generator) -> House:
    return first(first(house, lambda o: replace(o, drive=1)), lambda o: replace(o, drive=0), 1)


def _thick(low: float, high: float) -> Truth:
    def truth(house: House, chance: np.random.Generator) -> House:
        cover = chance.uniform(low, high)
        return every(house, lambda o: replace(o, section=o.section._replace(cover=cover)))

    return truth


def _uninsulated(low: float, high: float) -> Truth:
    def truth(house: House, chance: np.random.Generator) -> House:
        thin = chance.uniform(low, high)
        return every(house, lambda o: replace(o, section=o.section._replace(insulation=thin)))

    return truth


def _wide_open(house: House, chance: np.random.Generator) -> House:
    return first(house, lambda o: replace(o, valve=max(o.valve * 0.02, 100.0)))


def _supply_reads(off: float) -> Reading:
    def reading(visit: Visit, chance: np.random.Generator) -> None:
        visit.supply = visit.supply + off

    return reading


def _flow_reads(factor: float) -> Reading:
    def reading(visit: Visit, chance: np.random.Generator) -> None:
        visit.flow = visit.flow * factor

    return reading


def _return_reads(off: float) -> Reading:
    def reading(visit: Visit, chance: np.random.Generator) -> None:
        visit.back = visit.back + off

    return reading


def _paper(**values: object) -> OnPaper:
    return lambda paper, chance: paper.values.update(values)


def _room(**values: object) -> OnPaper:
    return lambda paper, chance: paper.rooms[0].update(values)


def _drawn_short(paper: Paper, chance: np.random.Generator) -> None:
    paper.rooms[0]["load"] = round(paper.rooms[0]["load"] * chance.uniform(1.3, 1.6))


def _needs_more(house: House, chance: np.random.Generator) -> House:
    return first(house, lambda o: replace(o, load=o.load * chance.uniform(1.3, 1.6)))


COVERING, STARVED, LONG = "covering-too-resistive", "loop-starved", "loop-too-long"
AIR, PUMP, COOL = "air-in-loop", "pump-weak", "supply-too-cool"
HOUSE, CONTROLS, SWAPPED = "house-loses-more", "controls", "loops-swapped"
WRONG, FLUID, NOTHING = "reading-wrong", "wrong-fluid", "nothing-wrong"
LEAK, OUTSIDE, BURIED = "leak-in-loop", "outside-the-floor", "buried-joint-leaks"
HOT, THIN, LOAD = "supply-too-hot", "insulation-too-thin", "load-beyond-floor"
COLD, SLOW, BILLS = "cold-room", "slow-room", "high-bills"

KINDS: tuple[Kind, ...] = (
    Kind("carpet on tiles", COLD, (COVERING,), truth=_carpet(0.10, 0.13)),
    Kind("thick carpet", COLD, (COVERING,), truth=_carpet(0.13, 0.15), reads=("surface",)),
    Kind("valve throttled", COLD, (STARVED,), (AIR,), truth=_throttle(8, 14)),
    Kind("valve nearly shut", COLD, (STARVED,), (AIR,), truth=_throttle(20, 40)),
    Kind("pump weak", COLD, (PUMP,), truth=_weak(0.25, 0.35)),
    Kind("pump very weak", COLD, (PUMP,), truth=_weak(0.15, 0.22)),
    Kind("curve low", COLD, (COOL,), truth=_curve(-7, -5)),
    Kind("mixing held down", COLD, (COOL,), truth=lambda h, c: replace(h, most_supply=c.uniform(26.5, 28))),
    Kind("house loses more", COLD, (HOUSE,), truth=_loses(1.6, 1.9)),
    Kind("window left in a rough wall", COLD, (HOUSE,), truth=_loses(1.9, 2.3), reads=("surface",)),
    Kind("load beyond floor", COLD, (LOAD,), (COOL,), truth=_needs_more, paper=_drawn_short),
    Kind("load far beyond floor", COLD, (LOAD,), (COOL,), truth=_needs_more, paper=_drawn_short, reads=("surface",)),
    Kind("loops swapped", COLD, (SWAPPED,), truth=_swapped_loops, elsewhere=True),
    Kind("loops swapped, surface read", COLD, (SWAPPED,), truth=_swapped_loops, elsewhere=True, reads=("surface",)),
    Kind("drives swapped", COLD, (CONTROLS,), truth=_swapped_drives, elsewhere=True),
    Kind("room sensor warm", COLD, (CONTROLS,), truth=_sensor(2.5, 4.0)),
    Kind("drive stuck shut", COLD, (CONTROLS,), (STARVED, AIR), truth=lambda h, c: first(h, lambda o: replace(o, stuck=True))),
    Kind("air shuts the loop", COLD, (AIR,), (STARVED, CONTROLS), truth=lambda h, c: first(h, lambda o: replace(o, stuck=True))),
    Kind("nothing wrong", COLD, ()),
    Kind("nothing wrong, surface read", COLD, (), reads=("surface",)),
    Kind("supply clamp reads high", COLD, (WRONG,), (FLUID,), reading=_supply_reads(5.0)),
    Kind("flow scale reads low", COLD, (WRONG,), (FLUID,), reading=_flow_reads(0.45)),
    Kind("glycol, papers say water", COLD, (FLUID,), (WRONG,), truth=lambda h, c: replace(h, glycol=0.35), reads=("refractometer",)),
    Kind("glycol, strong", COLD, (FLUID,), (WRONG,), truth=lambda h, c: replace(h, glycol=0.45), reads=("refractometer",)),
    Kind("loop much longer, loss read", COLD, (LONG,), truth=_longer(1.7, 2.1), reads=("pressure_drop",)),
    Kind("loop longer, loss read", COLD, (LONG,), truth=_longer(1.5, 1.8), reads=("pressure_drop",)),
    Kind("carpet, slow", SLOW, (COVERING,), truth=_carpet(0.11, 0.14)),
    Kind("pump weak, slow", SLOW, (PUMP,), truth=_weak(0.2, 0.3)),
    Kind("thick screed on paper", SLOW, ("screed-too-thick",), truth=_thick(0.085, 0.1), paper=_paper(cover=92)),
    Kind("nothing wrong, slow", SLOW, ()),
    Kind("curve low, slow", SLOW, (COOL,), truth=_curve(-8, -5)),
    Kind("thicker screed on paper", SLOW, ("screed-too-thick",), truth=_thick(0.095, 0.11), paper=_paper(cover=102)),
    Kind("curve high", "hot-floor", (HOT,), truth=_curve(8, 11)),
    Kind("mixing open", "hot-floor", (HOT,), truth=_curve(11, 15)),
    Kind("valve wide open", "hot-floor", ("too-much-water",), truth=_both(_wide_open, lambda h, c: replace(h, head=h.head * 1.3))),
    Kind("room sensor cold", "hot-floor", (CONTROLS,), truth=_sensor(-4.5, -3)),
    Kind("no insulation on paper", BILLS, (THIN,), truth=_uninsulated(0.3, 0.5), paper=_paper(insulation=0.4)),
    Kind("insulation left out", BILLS, (THIN,), truth=_uninsulated(0.15, 0.25)),
    Kind("curve high, bills", BILLS, (HOT,), truth=_curve(8, 12)),
    Kind("whole house loses more", BILLS, (HOUSE,), truth=_loses(1.5, 1.8, all_of_it=True)),
    Kind("nothing wrong, bills", BILLS, ()),
    Kind("pump weak, mixing", "mixing-trouble", (PUMP,), truth=_weak(0.15, 0.3)),
    Kind("curve low, mixing", "mixing-trouble", (COOL,), truth=_curve(-9, -6)),
    Kind("valve throttled, stripes", "uneven-floor", (STARVED,), truth=_throttle(10, 30)),
    Kind("wide spacing on paper", "uneven-floor", ("pipes-far-apart",), paper=_paper(spacing=300), reads=("surface_max",)),
    Kind("leak", "pressure-falling", (LEAK,), gauge="leak"),
    Kind("vessel flat", "pressure-falling", (OUTSIDE,), gauge="tight"),
    Kind("gauge lower by a kelvin", "pressure-falling", (OUTSIDE,), gauge="months"),
    Kind("leak at a coupling on paper", "pressure-falling", (BURIED,), (LEAK,), paper=lambda p, c: p.rooms[0].update(joints=1), gauge="leak"),
    Kind("small leak", "pressure-falling", (LEAK,), gauge="small leak"),
    Kind("carpet and a throttled valve", COLD, (COVERING, STARVED), (AIR,), truth=_both(_carpet(0.11, 0.14), _throttle(8, 14))),
    Kind("curve low and house loses more", COLD, (COOL, HOUSE), truth=_both(_curve(-6, -4), _loses(1.5, 1.7))),
    Kind("carpet and a weak pump", COLD, (COVERING, PUMP), truth=_both(_carpet(0.11, 0.14), _weak(0.25, 0.35))),
    Kind("house loses more and a throttled valve", COLD, (HOUSE, STARVED), (AIR,), truth=_both(_loses(1.5, 1.8), _throttle(8, 14))),
    Kind("carpet and curve low", COLD, (COVERING, COOL), truth=_both(_carpet(0.11, 0.14), _curve(-7, -5))),
    Kind("return clamps read low", COLD, (WRONG,), (FLUID,), reading=_return_reads(-4.0)),
)  # fmt: skip


def _stuck(house: House, chance: np.random.Generator) -> House:
    return first(house, lambda o: replace(o, stuck=True))


def _asks_less(low: float, high: float) -> Truth:
    return lambda h, c: first(h, lambda o: replace(o, asked=o.asked - c.uniform(low, high)))


def _needs(factor: float) -> Truth:
    return lambda h, c: first(h, lambda o: replace(o, load=o.load * factor))


def _drawn(factor: float) -> OnPaper:
    """The load as it truly is, on paper too: the floor was laid too small for it."""
    return lambda p, c: p.rooms[0].update(load=round(p.rooms[0]["load"] * factor))


HALL = Building(
    rooms=7,
    area=(9, 16),
    load=(28, 40),
    spacing=200,
    cover=60,
    pipe=(20, 2),
    drop=5.0,
    outside=-8.0,
)
POCKET = Instruments(warm=0.2, scale=0.04, flow_scatter=0.04, flow_step=0.1, declared=(10, 0.5, 1))
"""A building and instruments that tune."""

SET_LOW, SET_HIGH = "set-too-low", "set-too-high"
LEARNT: tuple[Kind, ...] = (
    Kind("thermostat turned down", COLD, (SET_LOW,), (NOTHING,), truth=_asks_less(2.0, 3.5), reads=("set",)),
    Kind("return clamps low, header read", COLD, (WRONG,), (FLUID,), reading=_return_reads(-4.0), reads=("header",)),
    Kind("supply clamps high, header read", COLD, (WRONG,), (FLUID,), reading=_supply_reads(4.5), reads=("header",)),
    Kind("carpet, header read", COLD, (COVERING,), truth=_carpet(0.10, 0.14), reads=("header", "set")),
    Kind("air, loop flushed alone", COLD, (AIR,), truth=_stuck, reads=("purge", "heads")),
    Kind("drive stuck, heads swapped", COLD, (CONTROLS,), truth=_stuck, reads=("purge", "heads")),
    Kind("nothing wrong, all read", COLD, (), reads=("header", "set", "surface")),
    Kind("sensor over a lamp", COLD, (CONTROLS,), truth=_sensor(2.5, 4.5)),
    Kind("sensor over a lamp, surface read", COLD, (CONTROLS,), truth=_sensor(2.0, 4.0), reads=("surface",)),
    Kind("sensor over a lamp, display read", COLD, (CONTROLS,), truth=_sensor(2.0, 4.0), reads=("set", "shown")),
    Kind("house loses more, display read", COLD, (HOUSE,), truth=_loses(1.5, 2.0), reads=("set", "shown")),
    Kind("sensor in a draught", "hot-floor", (CONTROLS,), truth=_sensor(-5, -3)),
    Kind("sensor in a draught, display read", "hot-floor", (CONTROLS,), truth=_both(_sensor(-5, -3), _curve(2, 4)), reads=("set", "shown")),
    Kind("large windows", COLD, (LOAD,), (COOL,), truth=_needs(1.6), paper=_drawn(1.6)),
    Kind("windows all round", COLD, (LOAD,), (COOL,), truth=_needs(2.0), paper=_drawn(2.0), reads=("surface", "header")),
    Kind("little floor in a hall", COLD, (LOAD,), (COOL,), truth=_needs(1.7), paper=_drawn(1.7), building=HALL, instruments=POCKET),
    Kind("loose return clamps", COLD, (WRONG,), (FLUID,), reading=_return_reads(-4.5)),
    Kind("return clamps near the supply", COLD, (WRONG,), (FLUID,), reading=_return_reads(3.5)),
    Kind("loose supply clamps", COLD, (WRONG,), (FLUID, COOL), reading=_supply_reads(-4.0)),
    Kind("flow scale reads high", COLD, (WRONG,), (FLUID,), reading=_flow_reads(1.9)),
    Kind("house loses half more", COLD, (HOUSE,), truth=_loses(1.45, 1.7)),
    Kind("valve throttled in a hall", COLD, (STARVED,), (AIR,), truth=_throttle(8, 14), building=HALL, instruments=POCKET),
    Kind("carpet in a hall", COLD, (COVERING,), truth=_carpet(0.12, 0.15), building=HALL, instruments=POCKET),
    Kind("nothing wrong in a hall", COLD, (), building=HALL, instruments=POCKET),
    Kind("curve low in a hall", COLD, (COOL,), truth=_curve(-6, -4.5), building=HALL, instruments=POCKET),
    Kind("thermostat and curve low", COLD, (SET_LOW, COOL), truth=_both(_asks_less(1.5, 2.5), _curve(-7, -5)), reads=("set",)),
)  # fmt: skip
"""Kinds that tune, for the readings, buildings and instruments that the others do not have."""

FRESH: tuple[Kind, ...] = (
    Kind("thermostat lowered in a sound house", COLD, (SET_LOW,), (NOTHING,), truth=_asks_less(1.8, 3.0), reads=("set", "header")),
    Kind("thermostat turned up", "hot-floor", (SET_HIGH,), truth=_asks_less(-4.0, -2.5), reads=("set",)),
    Kind("thermostats as designed, curve low", COLD, (COOL,), truth=_curve(-7, -5), reads=("set", "header")),
    Kind("return clamps high, header read", COLD, (WRONG,), (FLUID,), reading=_return_reads(3.5), reads=("header",)),
    Kind("supply clamps low, header read", COLD, (WRONG,), (FLUID, COOL), reading=_supply_reads(-4.5), reads=("header",)),
    Kind("house loses more, header read", COLD, (HOUSE,), truth=_loses(1.6, 2.1), reads=("header", "set")),
    Kind("valve nearly shut, flushed in vain", COLD, (STARVED,), truth=_throttle(20, 40), reads=("purge", "heads")),
    Kind("drive stuck shut, another head tried", COLD, (CONTROLS,), truth=_stuck, reads=("heads",)),
    Kind("whole house under carpet", COLD, (COVERING,), truth=lambda h, c: every(h, covered(c.uniform(0.11, 0.14)))),
    Kind("carpet and thermostat as designed", COLD, (COVERING,), truth=_carpet(0.11, 0.14), reads=("set",)),
    Kind("nothing wrong, header read", COLD, (), reads=("header", "set")),
    Kind("curve high, header read", "hot-floor", (HOT,), truth=_curve(8, 12), reads=("header",)),
)  # fmt: skip


TERRACE = Building(
    rooms=4, area=(10, 18), load=(42, 58), timber=0.6, spacing=100, cover=55, insulation=1.6,
    pipe=(17, 2), drop=7.0, outside=-9.0, source="boiler",
)  # fmt: skip
FLAT = Building(
    rooms=6, area=(6, 10), load=(24, 36), timber=0.2, spacing=125, cover=40, insulation=3.2,
    pipe=(14, 2), drop=5.0, outside=-2.0, source="district",
)  # fmt: skip
WORN = Instruments(0.25, 0.05, 0.6, 0.05, 0.15, 0.1, 0.1, (12, 0.6, 1.5))
FINE = Instruments(0.08, 0.015, 0.3, 0.015, 0.05, 0.02, 0.05, (4, 0.25, 0.8))
LATEST: tuple[Kind, ...] = (
    Kind("boards over the tiles, terrace", COLD, (COVERING,), truth=_carpet(0.13, 0.17), reads=("header",), building=TERRACE),
    Kind("carpet, worn instruments", COLD, (COVERING,), truth=_carpet(0.12, 0.15), instruments=WORN),
    Kind("valve nearly shut in a flat", COLD, (STARVED,), (AIR,), truth=_throttle(20, 45), reads=("shown",), building=FLAT),
    Kind("valve throttled, terrace, worn instruments", COLD, (STARVED,), (AIR,), truth=_throttle(10, 18), building=TERRACE, instruments=WORN),
    Kind("pump weak in a flat", COLD, (PUMP,), truth=_weak(0.15, 0.28), building=FLAT, instruments=FINE),
    Kind("curve low, terrace", COLD, (COOL,), truth=_curve(-10, -7), reads=("set", "shown"), building=TERRACE),
    Kind("house loses more, terrace, display read", COLD, (HOUSE,), truth=_loses(1.5, 1.9), reads=("set", "shown"), building=TERRACE),
    Kind("house loses more in a flat, display read", COLD, (HOUSE,), truth=_loses(1.8, 2.4), reads=("shown", "header"), building=FLAT, instruments=FINE),
    Kind("sensor beside a stove, display read", COLD, (CONTROLS,), truth=_sensor(2.2, 3.5), reads=("shown",), building=TERRACE),
    Kind("sensor in the sun, flat, display read", COLD, (CONTROLS,), truth=_sensor(2.5, 4.0), reads=("set", "shown", "surface"), building=FLAT),
    Kind("sensor on an outer wall, display read", "hot-floor", (CONTROLS,), truth=_both(_sensor(-4.5, -3), _curve(3, 5)), reads=("shown",), building=TERRACE),
    Kind("bay window, terrace", COLD, (LOAD,), (COOL,), truth=_needs(1.7), paper=_drawn(1.7), building=TERRACE),
    Kind("glass corner in a flat", COLD, (LOAD,), (COOL,), truth=_needs(2.2), paper=_drawn(2.2), reads=("surface",), building=FLAT),
    Kind("nothing wrong, terrace, worn instruments", COLD, (), building=TERRACE, instruments=WORN),
    Kind("nothing wrong in a flat, display read", COLD, (), reads=("shown", "set"), building=FLAT, instruments=FINE),
    Kind("return clamps slipped, fine instruments, header read", COLD, (WRONG,), (FLUID,), reading=_return_reads(-3.5), reads=("header",), building=FLAT, instruments=FINE),
    Kind("flow scale of another make, terrace", COLD, (WRONG,), (FLUID,), reading=_flow_reads(0.5), building=TERRACE),
    Kind("loops crossed, terrace", COLD, (SWAPPED,), truth=_swapped_loops, elsewhere=True, reads=("surface",), building=TERRACE),
    Kind("carpet and curve low, terrace", COLD, (COVERING, COOL), truth=_both(_carpet(0.13, 0.16), _curve(-9, -7)), building=TERRACE),
    Kind("valve throttled and house loses more, flat, display read", COLD, (STARVED, HOUSE), (AIR,), truth=_both(_throttle(12, 20), _loses(1.6, 1.9)), reads=("shown", "set"), building=FLAT),
    Kind("whole flat loses more, bills", BILLS, (HOUSE,), truth=_loses(1.5, 1.9, all_of_it=True), building=FLAT, instruments=FINE),
    Kind("curve high, terrace", "hot-floor", (HOT,), truth=_curve(9, 13), reads=("shown",), building=TERRACE, instruments=WORN),
)  # fmt: skip
"""Kinds of other buildings and instruments, written before any of them was audited; they report."""


def tuning() -> list[Kind]:
    """The kinds that weights may be tuned on."""
    return [*KINDS[0::2], *LEARNT]


def reporting() -> list[Kind]:
    """The kinds that are only reported."""
    return [*KINDS[1::2], *FRESH, *LATEST]
