"""Loops one by one with a general root finder, against all loops at once in arrays.

Independent of the program but for the heat coefficient, which `test_floor_section` and
`test_whole_designs` hold to the outside world: water from IAPWS-IF97 (library iapws), friction from
the library fluids, and the balance of each loop as one equation for SciPy's brentq. The loops are
those of invented designs with random floors, loads and lengths, with flows by drop; `test_one_house`
has those by room.
"""

from __future__ import annotations

from functools import cache
from math import log, pi
from typing import Any

import fluids
import numpy as np
import yaml
from iapws import IAPWS97
from scipy.optimize import brentq

from tests.design.designs import generate
from tests.example import computed, report
from tests.published.figures import Figure, absolute, relative

DESIGNS = range(4)
LOOPS = 8
VALUES = ("flow", "return_temperature", "excess", "output", "down_loss", "pressure_drop")


def number(text: str) -> float:
    return float(text.split()[0])


def water(celsius: float) -> IAPWS97:
    return IAPWS97(T=celsius + 273.15, P=0.101325)


def one_loop(design: dict[str, Any], name: str, coefficient: float) -> dict[str, float]:
    """Every value of one loop from the design's own words, in the report's units."""
    loop = design["loops"][name]
    room, floor = design["rooms"][loop["room"]], design["floors"][loop["floor"]]
    pipe, plant = design["pipes"][loop["pipe"]], design["plant"]
    supply, drop, inside = (
        number(plant["supply"]),
        number(plant["drop"]),
        number(room["temperature"]),
    )
    below, area, length = (
        number(floor["below_temperature"]),
        number(loop["area"]),
        number(loop["length"]),
    )
    screed = floor["screed"]
    up = (
        1 / 10.8
        + number(room["covering"]["resistance"])
        + number(screed["cover"]) / 1e3 / number(screed["conductivity"])
    )
    down = number(floor["insulation"])
    load = number(room["heat_load"]) / area

    def loss(output: float) -> float:
        return (up * output + inside - below) / down

    # The flow that carries the load, and the loss beside it, at the plant's drop.
    flow = area * (load + loss(load)) / (1e3 * water(supply - drop / 2).cp * drop)

    def excess(back: float) -> float:
        return (supply - back) / log((supply - inside) / (back - inside))

    def surplus(back: float) -> float:
        output = coefficient * excess(back)
        heat = 1e3 * water((supply + back) / 2).cp
        return float(flow * heat * (supply - back) - area * (output + loss(output)))

    back = brentq(surplus, inside + 1e-6, supply - 1e-6, xtol=1e-12)
    state = water((supply + back) / 2)
    bore = (number(pipe["outside"]) - 2 * number(pipe["wall"])) / 1e3
    velocity = flow / state.rho / (pi / 4 * bore**2)
    reynolds = fluids.Reynolds(velocity, bore, state.rho, state.mu)
    at_2300, at_4000 = fluids.friction_laminar(2300.0), fluids.Colebrook(4000.0, 1.5e-6 / bore)
    if reynolds <= 2300:
        factor = fluids.friction_laminar(reynolds)
    elif reynolds >= 4000:
        factor = fluids.Colebrook(reynolds, 1.5e-6 / bore)
    else:
        factor = at_2300 + (reynolds - 2300) / 1700 * (at_4000 - at_2300)
    output = coefficient * excess(back)
    return {
        "flow": flow / state.rho * 6e4,
        "return_temperature": back,
        "excess": excess(back),
        "output": output,
        "down_loss": loss(output),
        "pressure_drop": fluids.dP_from_K(
            fluids.K_from_f(factor, length, bore), rho=state.rho, V=velocity
        )
        / 1e3,
    }


@cache
def solved() -> dict[str, tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]]:
    """Of each of VALUES ours and theirs, of every loop that the standard's tables know.

    Where the section stands in for them, a film of water is in the balance, which
    `tests/quantities/test_section.py` holds.
    """
    ours: dict[str, list[float]] = {name: [] for name in VALUES}
    theirs: dict[str, list[float]] = {name: [] for name in VALUES}
    for which in DESIGNS:
        text = generate(which, loops=LOOPS).replace("plant: {", "plant: {flows: by drop, ")
        design, found = yaml.safe_load(text), report(text)
        for loop in design["loops"]:
            coefficient = computed(found, f"loops.{loop}", "heat_coefficient")
            section = computed(found, f"loops.{loop}", "section_coefficient")
            if np.isfinite(coefficient) and np.isnan(section):
                expected = one_loop(design, loop, coefficient)
                for name in VALUES:
                    ours[name].append(computed(found, f"loops.{loop}", name))
                    theirs[name].append(expected[name])
    return {name: (np.array(ours[name]), np.array(theirs[name])) for name in VALUES}


@cache
def figures() -> tuple[Figure, ...]:
    found = solved()
    count = len(found["flow"][0])
    against = "one equation a loop for SciPy's brentq; water by IAPWS-IF97"
    water_apart = "IAPWS-IF97 and SR6-08 differ by up to 0.05 % in specific heat"
    return (
        relative(f"flow of {count} loops", against, *found["flow"], 0.06, water_apart),
        absolute(
            "return temperature", against, *found["return_temperature"], "K", 0.01, water_apart
        ),
        relative("excess", against, *found["excess"], 0.06, water_apart),
        relative("heat output", against, *found["output"], 0.06, water_apart),
        relative("loss downwards", against, *found["down_loss"], 0.06, water_apart),
        relative(
            "pressure loss",
            against + ", friction by the library fluids",
            *found["pressure_drop"],
            0.15,
            water_apart + ", and pressure goes with nearly the square of the flow",
        ),
    )


def test_enough_loops_are_solved() -> None:
    ours, _ = solved()["flow"]
    assert len(ours) >= 20
    assert ours.max() > 2 * ours.min()
