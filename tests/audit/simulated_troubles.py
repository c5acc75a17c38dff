"""The troubles that are planted in simulated houses, and small faults beside them."""

from __future__ import annotations

from collections.abc import Callable

from tests.audit.simulated_house import House, design_flow_of, needed_of


def _covering(house: House) -> None:
    thick = round(house.chance.uniform(0.11, 0.15), 3)
    house.truth["resistance"] = {house.room: thick}
    if house.likely(0.4):
        house.paper["rooms"][house.room].update(
            covering="carpet", resistance=round(thick + 0.02, 3)
        )


def _starved(house: House) -> None:
    house.truth["flow"] = {house.loop: house.chance.uniform(0.3, 0.6)}
    house.visit["balance_shows"] = house.likely(0.6)


def _too_long(house: House) -> None:
    loop = house.paper["loops"][house.loop]
    longer = round(max(loop["length"] * house.chance.uniform(1.35, 1.7), 112.0), 1)
    house.truth["length"] = {house.loop: longer}
    house.truth["flow"] = {house.loop: house.chance.uniform(0.6, 0.8)}
    if house.likely(0.7):
        loop["length"] = longer
    house.visit["pressure_loss"] = house.likely(0.5)


def _pump_weak(house: House) -> None:
    short = house.chance.uniform(0.45, 0.65)
    house.truth["flow"] = dict.fromkeys(house.paper["loops"], short)
    if house.likely(0.6):
        house.paper["pump"] = [(flow, head * 0.35) for flow, head in house.paper["pump"]]
    house.visit["balance_shows"] = house.likely(0.3)


def _supply_cool(house: House) -> None:
    # The room that needs the warmest water is the one that goes short.
    loops = house.paper["loops"]
    house.room = loops[max(loops, key=lambda name: needed_of(house, name, 1.0))]["room"]
    house.truth["supply"] = -house.chance.uniform(4, 8)
    if house.likely(0.4):
        house.paper["supply"] = round(house.paper["supply"] - house.chance.uniform(3, 6), 1)


def _load(house: House) -> None:
    room = house.paper["rooms"][house.room]
    room["load"] = round(room["load"] * house.chance.uniform(1.35, 1.8))


def _insulation(house: House) -> None:
    house.truth["insulation"] = house.chance.uniform(0.3, 0.6)
    if house.likely(0.5):
        house.paper["insulation"] = round(house.chance.uniform(0.5, 0.8), 2)


def _thick_screed(house: House) -> None:
    house.paper["cover"] = house.chance.randrange(85, 120)


def _supply_hot(house: House) -> None:
    house.truth["supply"] = house.chance.uniform(8, 15)
    if house.likely(0.4):
        house.paper["supply"] = 58.0
    elif house.likely(0.4):
        house.paper["primary"] = None


def _surface(house: House) -> None:
    room = house.paper["rooms"][house.room]
    room["load"] = round(room["load"] * 1.1)
    house.paper["loops"][house.loop].update(supply=52.0, spacing=100)
    loop = house.paper["loops"][house.loop]
    loop["length"] = round(loop["area"] * 10 + loop["feeds"], 1)
    loop["flow"] = 2.6
    room.update(covering="stone", resistance=0.01)


def _much_water(house: House) -> None:
    house.truth["flow"] = {house.loop: house.chance.uniform(1.9, 2.8)}
    house.visit["balance_shows"] = house.likely(0.6)


def _wide(house: House) -> None:
    loop = house.paper["loops"][house.loop]
    loop["spacing"] = house.chance.choice((330, 360, 400))
    loop["length"] = round(loop["area"] / loop["spacing"] * 1000 + loop["feeds"], 1)


def _one_sided(house: House) -> None:
    house.paper["loops"][house.loop]["pattern"] = "serpentine"
    house.truth["flow"] = {house.loop: house.chance.uniform(0.7, 0.9)}


def _fast(house: House) -> None:
    # At 0.7 to 0.9 m/s; a litre a minute through 12 mm is 0.147 m/s.
    bore = house.paper["pipe"]["outside"] - 4
    stated = house.likely(0.5)
    for name, loop in house.paper["loops"].items():
        fast = house.chance.uniform(0.7, 0.9) / 0.147 * (bore / 12) ** 2
        house.truth.setdefault("flow", {})[name] = fast / design_flow_of(house.paper, name)
        if stated:
            loop["flow"] = round(fast * 1.3, 2)
    house.visit["balance_shows"] = house.likely(0.4)


def _air(house: House) -> None:
    house.paper["loops"][house.loop]["flow"] = round(house.chance.uniform(0.35, 0.6), 2)
    house.truth["flow"] = {house.loop: house.chance.uniform(0.3, 0.7)}
    house.paper["valves"] = house.likely(0.5)


def _pump_strong(house: House) -> None:
    house.paper["pump"] = [(flow, head * 2.2) for flow, head in house.paper["pump"]]


def _leak(house: House) -> None:
    house.truth["gauge"] = house.chance.uniform(0.4, 0.9)
    if house.likely(0.5):
        house.paper["test"]["end"] = round(5.0 - house.chance.uniform(0.3, 0.8), 2)
    else:
        house.paper["test"].update(
            hold=house.chance.choice((5, 10)), pressure=2.5, end=2.49, kept=False
        )


def _joint(house: House) -> None:
    house.truth["gauge"] = house.chance.uniform(0.4, 0.9)
    house.paper["loops"][house.loop]["joints"] = house.chance.choice((1, 2))


def _outside(house: House) -> None:
    house.truth["gauge"] = house.chance.uniform(0.0, 0.05)


def _rushed(house: House) -> None:
    house.paper["heat_up_after"] = house.chance.randrange(7, 16)
    if house.likely(0.5):
        house.paper["heat_up"] = [(None, 2)]


def _field(house: House) -> None:
    house.paper["field_area"] = round(house.chance.uniform(48, 80), 1)
    house.paper["field_length"] = round(house.chance.uniform(9, 14), 1)


def _edge(house: House) -> None:
    house.paper["edge"] = house.chance.choice((0, 3))


def _thin_screed(house: House) -> None:
    house.paper["cover"] = house.chance.randrange(18, 27)


def _hot_covering(house: House) -> None:
    room = house.paper["rooms"][house.room]
    room.update(covering="timber", resistance=0.05, temperature=22)
    house.paper["loops"][house.loop].update(supply=52.0, flow=2.4)


def _mixing(house: House) -> None:
    if house.likely(0.5):
        house.paper["primary"] = round(house.paper["supply"] - house.chance.uniform(2, 5), 1)
    else:
        house.paper["loops"][house.loop]["supply"] = round(house.paper["supply"] + 11, 1)


def _oxygen(house: House) -> None:
    house.paper["pipe"]["barrier"] = False


Plant = Callable[[House], None]

PLANTS: dict[str, dict[str, Plant]] = {
    "cold-room": {
        "covering-too-resistive": _covering,
        "loop-starved": _starved,
        "loop-too-long": _too_long,
        "pump-weak": _pump_weak,
        "supply-too-cool": _supply_cool,
        "load-beyond-floor": _load,
    },
    "slow-room": {
        "covering-too-resistive": _covering,
        "screed-too-thick": _thick_screed,
        "supply-too-cool": _supply_cool,
        "pump-weak": _pump_weak,
        "insulation-too-thin": _insulation,
    },
    "hot-floor": {
        "supply-too-hot": _supply_hot,
        "surface-too-hot": _surface,
        "too-much-water": _much_water,
    },
    "uneven-floor": {
        "loop-starved": _starved,
        "loop-too-long": _too_long,
        "pipes-far-apart": _wide,
        "pattern-one-sided": _one_sided,
    },
    "noise": {
        "water-too-fast": _fast,
        "air-in-loop": _air,
        "pump-too-strong": _pump_strong,
    },
    "pressure-falling": {
        "leak-in-loop": _leak,
        "buried-joint-leaks": _joint,
        "outside-the-floor": _outside,
    },
    "cracked-screed": {
        "first-heating-rushed": _rushed,
        "field-too-large": _field,
        "edge-held": _edge,
        "screed-too-thin": _thin_screed,
        "supply-too-hot": _supply_hot,
    },
    "damaged-covering": {
        "covering-overheated": _hot_covering,
        "first-heating-rushed": _rushed,
        "supply-too-hot": _supply_hot,
    },
    "mixing-trouble": {
        "pump-weak": _pump_weak,
        "mixing-wrong": _mixing,
        "oxygen-corrosion": _oxygen,
        "supply-too-cool": _supply_cool,
    },
    "high-bills": {
        "insulation-too-thin": _insulation,
        "supply-too-hot": _supply_hot,
        "covering-too-resistive": _covering,
    },
}  # fmt: skip

SUBJECTS = {
    "noise": "headers.H1",
    "pressure-falling": "headers.H1",
    "mixing-trouble": "headers.H1",
    "cracked-screed": "floors.slab",
    "high-bills": "",
}
"""What the complaint is about, where it is not a room."""


def decoys(house: House) -> list[Plant]:
    others = [name for name, loop in house.paper["loops"].items() if loop["room"] != house.room]
    other = house.chance.choice(others)
    loop = house.paper["loops"][other]
    room = house.paper["rooms"][loop["room"]]

    def slightly_long(h: House) -> None:
        own = h.paper["loops"][h.loop]
        own["length"] = max(own["length"], round(h.chance.uniform(100.5, 104), 1))

    def slightly_short_of_heat(h: House) -> None:
        own = h.paper["rooms"][h.room]
        own["load"] = round(own["load"] * 1.08)

    return [
        lambda h: loop.update(length=round(loop["length"] * 1.5 + 25, 1)),
        lambda h: room.update(covering="carpet", resistance=0.18),
        lambda h: room.update(load=round(room["load"] * 1.5)),
        lambda h: h.paper["test"].update(pressure=2.5, end=2.49),
        lambda h: h.paper["test"].update(kept=False),
        lambda h: h.paper.update(heat_up_after=h.chance.randrange(17, 21)),
        lambda h: h.paper.update(edge=4),
        lambda h: h.paper.update(field_area=round(h.chance.uniform(40.5, 44), 1)),
        lambda h: h.paper.update(valves=False),
        lambda h: h.paper["pipe"].update(barrier=False),
        lambda h: h.paper.update(insulation=round(h.chance.uniform(1.1, 1.6), 2)),
        lambda h: h.paper["pipe"].update(bend=8 * h.paper["pipe"]["outside"]),
        slightly_long,
        slightly_short_of_heat,
    ]
