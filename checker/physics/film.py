"""The film of water in a pipe: how well it passes heat to the bore."""

from __future__ import annotations

import numpy as np

from checker.physics.arrays import Numbers, elementwise
from checker.physics.build_up import Section

NO_FILM = 0.0
"""m·K/W: a bore as warm as the water."""

# Re below which flow is laminar and above which it is turbulent; Nusselt number of fully developed
# laminar flow at an even heat flux. F. P. Incropera and D. P. DeWitt, chapter 8; from memory.
_LAMINAR, _TURBULENT, _LAMINAR_NUSSELT = 2300.0, 4000.0, 4.36


@elementwise
def nusselt(reynolds: Numbers, prandtl: Numbers) -> Numbers:
    """Nusselt number of water in a pipe: 4.36 below Re 2300, Gnielinski's above 4000, linear in
    Re between.

    reynolds, prandtl: pure numbers; shapes broadcast. Returns a pure number. Gnielinski's formula
    with Petukhov's friction for smooth pipes; Incropera and DeWitt, chapter 8; from memory.
    """
    turbulent = np.maximum(reynolds, _TURBULENT)
    friction = (0.79 * np.log(turbulent) - 1.64) ** -2 / 8
    full = (
        friction
        * (turbulent - 1000)
        * prandtl
        / (1 + 12.7 * np.sqrt(friction) * (prandtl ** (2 / 3) - 1))
    )
    share = np.clip((reynolds - _LAMINAR) / (_TURBULENT - _LAMINAR), 0, 1)
    return np.asarray(_LAMINAR_NUSSELT + share * (full - _LAMINAR_NUSSELT))


@elementwise
def film_coefficient(
    reynolds: Numbers,
    viscosity: Numbers,
    specific_heat: Numbers,
    conductivity: Numbers,
    bore: Numbers,
) -> Numbers:
    """Heat transfer from the water to the bore.

    reynolds: pure number; viscosity: Pa·s; specific_heat: J/(kg·K); conductivity: of the water,
    W/(m·K); bore: m. Shapes broadcast. Returns W/(m²·K): Nu·λ/d.
    """
    prandtl = viscosity * specific_heat / conductivity
    return np.asarray(nusselt(reynolds, prandtl) * conductivity / bore)


def film_resistance(section: Section, coefficient: float) -> float:
    """From the water to the bore of a metre of pipe, m·K/W; coefficient: W/(m²·K), or infinite."""
    return float(1 / (np.pi * (section.outside - 2 * section.wall) * coefficient))
