"""Glycol mixtures against correlations that were made from other measurements.

The program has A. Melinder's correlations (2010). CoolProp has them too, in a port of its own, which
guards the figures (`tests/physics/test_fluid.py`). Whether they are right is for others to say: the
tables of the ASHRAE Handbook, Fundamentals, 2001, as fitted in CoolProp, and IAPWS for no glycol.
"""

from functools import cache

import numpy as np

from checker.physics import fluid
from tests.published.figures import Figure, relative

FRACTIONS = np.array([0.1, 0.2, 0.3, 0.4, 0.5])
CELSIUS = np.linspace(20.0, 60.0, 9)
PROPERTIES = {
    "density": (fluid.density, "D"),
    "specific heat": (fluid.specific_heat, "C"),
    "viscosity": (fluid.viscosity, "V"),
}
GLYCOLS = {
    "propylene glycol": (fluid.PROPYLENE_GLYCOL, "APG", (0.7, 0.3, 5.5)),
    "ethylene glycol": (fluid.ETHYLENE_GLYCOL, "AEG", (1.2, 2.2, 7.6)),
}
WITHOUT = {"density": 0.1, "specific heat": 0.15, "viscosity": 1.7}
WHY = "two sets of measurements by two laboratories; no correlation of glycol is better known"


@cache
def figures() -> tuple[Figure, ...]:
    # Takes seconds to load, in every worker that only asks what tests there are.
    from CoolProp.CoolProp import PropsSI

    found = []
    for glycol, (kind, name, ends) in GLYCOLS.items():
        for (what, (ours, letter)), end in zip(PROPERTIES.items(), ends, strict=True):
            theirs = [
                [
                    PropsSI(letter, "T", t + 273.15, "P", 3e5, f"INCOMP::{name}[{x}]")
                    for t in CELSIUS
                ]
                for x in FRACTIONS
            ]
            found.append(
                relative(
                    f"{what} of {glycol}, 10 to 50 %, 20 to 60 °C",
                    "ASHRAE Fundamentals 2001 (library CoolProp)",
                    ours(kind, FRACTIONS[:, None], CELSIUS),
                    theirs,
                    end,
                    WHY,
                )
            )
        for what, (ours, _) in PROPERTIES.items():
            celsius = np.linspace(5.0, 70.0, 14)
            found.append(
                relative(
                    f"{what} with no {glycol}, 5 to 70 °C",
                    "IAPWS SR6-08, of water",
                    ours(kind, 0.0, celsius),
                    ours(fluid.WATER, np.nan, celsius),
                    WITHOUT[what],
                    "the correlation's own end, far from its middle at 30 % and 32 °C",
                )
            )
    return tuple(found)


def test_more_glycol_is_denser_stickier_and_holds_less_heat() -> None:
    fractions = np.linspace(0.0, 0.6, 25)[:, None]
    for kind in (fluid.PROPYLENE_GLYCOL, fluid.ETHYLENE_GLYCOL):
        for function, sign in (
            (fluid.density, 1),
            (fluid.viscosity, 1),
            (fluid.specific_heat, -1),
        ):
            steps = np.diff(function(kind, fractions, np.linspace(20.0, 55.0, 8)), axis=0)
            # Propylene glycol holds a little more than water at first.
            assert (sign * steps[4:] > 0).all()
