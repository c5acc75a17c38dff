"""The program gives what `designs_by_hand` works out for three small designs."""

from __future__ import annotations

from functools import cache
from math import isnan

import pytest

from checker.outcome.report import DesignReport
from tests.example import computed, report
from tests.published.designs_by_hand import BATHROOM, HALL, KITCHEN, bathroom, hall, kitchen
from tests.published.figures import Figure, relative

DESIGNS = {
    "kitchen": (KITCHEN, kitchen),
    "bathroom": (BATHROOM, bathroom),
    "hall": (HALL, hall),
}

READ_OFF = {
    "reynolds": 3e-3,
    "pressure_drop": 3e-3,
    "valve_drop": 3e-3,
    "valve_kv": 3e-3,
    "pump_head": 1e-4,
}
"""What hangs on the viscosity, read between lines 5 K apart of a curve that bends: within 0.3 %."""

EXACT = 1e-9

ON_WATER = 5e-5
"""What hangs on the density or specific heat, read to five places and between the lines."""

DRY = {"bore", "heat_coefficient", "needed_supply", "expected_length", "content", "pipe_length"}
DRY |= {"loop_count", "supply_temperature", "output_limit"}


@cache
def reported(name: str) -> DesignReport:
    return report(DESIGNS[name][0])


@pytest.mark.parametrize("name", DESIGNS)
def test_the_program_finds_what_the_hand_found(name: str) -> None:
    by_hand = DESIGNS[name][1]()
    for (subject, what), value in by_hand.items():
        tolerance = EXACT if what in DRY else READ_OFF.get(what, ON_WATER)
        found = computed(reported(name), subject, what)
        assert found == pytest.approx(value, rel=tolerance), (subject, what)


@pytest.mark.parametrize("name", DESIGNS)
def test_the_hand_works_out_everything_of_a_loop(name: str) -> None:
    """No computed value of a loop is left without a reference; those without a datum are open."""
    by_hand = DESIGNS[name][1]()
    for subject, quantities in reported(name).computed.items():
        if subject.startswith("loops."):
            for what in set(quantities) - {what for place, what in by_hand if place == subject}:
                found = computed(reported(name), subject, what)
                known = {"expected_length", "content", "supply_temperature"}
                assert isnan(found) or what in known, (subject, what)


@cache
def figures() -> tuple[Figure, ...]:
    groups: dict[str, tuple[list[float], list[float]]] = {
        "dry": ([], []),
        "wet": ([], []),
        "μ": ([], []),
    }
    for name, (_, work) in DESIGNS.items():
        for (subject, what), value in work().items():
            if value == 0:  # of the index loop's valve
                continue
            group = "dry" if what in DRY else "μ" if READ_OFF.get(what, 0) > 1e-3 else "wet"
            groups[group][0].append(computed(reported(name), subject, what))
            groups[group][1].append(value)
    hand = "three designs worked out line by line"
    return (
        relative(
            f"{len(groups['dry'][0])} values that need no water: K_H, limits, lengths, contents",
            hand,
            *groups["dry"],
            100 * EXACT,
            "the same formulas in double precision",
        ),
        relative(
            f"{len(groups['wet'][0])} values on density and specific heat: flow, return, output, surface",
            hand,
            *groups["wet"],
            100 * ON_WATER,
            "water read from a table of five places",
        ),
        relative(
            f"{len(groups['μ'][0])} values on viscosity: Reynolds number, pressure loss",
            hand,
            *groups["μ"],
            0.3,
            "viscosity read straight between lines 5 K apart of a curve that bends",
        ),
    )
