"""The film of water in a pipe: the heat transfer from the water to the bore."""

from __future__ import annotations

import numpy as np

from checker.physics.arrays import Numbers, elementwise
from checker.physics.build_up import Section

NO_FILM = 0.0
"""m·K/W: no film, so that the bore is as warm as the water."""

# Re below which flow is laminar and above which it is turbulent; Nusselt number of fully developed
# laminar flow at an even heat flux. F. P. Incropera and D. P. DeWitt, chapter 8; from memory.
_LAMINAR, _TURBULENT, _LAMINAR_NUSSELT = 2300.0, 4000.0, 4.36


@elementwise
def nusselt(reynolds: Numbers, prandtl: Numbers) -> Numbers:
    """Nusselt number of water in a pipe.

    Shapes broadcast. It is 4.36 below Re 2300, Gnielinski's above 4000, and linear in Re between.

    Args:
        reynolds: a pure number.
        prandtl: a pure number.

    Returns:
        A pure number.

    Source:
        Gnielinski's formula with Petukhov's friction for smooth pipes; F. P. Incropera and D. P.
        DeWitt, chapter 8; from memory.
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

    Shapes broadcast.

    Args:
        reynolds: a pure number.
        viscosity: dynamic, Pa·s.
        specific_heat: J/(kg·K).
        conductivity: of the water, W/(m·K).
        bore: inside diameter, m.

    Returns:
        W/(m²·K).

    Source:
        Nu·λ/d, with `nusselt`.
    """
    prandtl = viscosity * specific_heat / conductivity
    return np.asarray(nusselt(reynolds, prandtl) * conductivity / bore)


def film_resistance(section: Section, coefficient: float) -> float:
    """Resistance from the water to the bore of a metre of pipe.

    Args:
        section: the floor with its pipe.
        coefficient: W/(m²·K), or infinite where there is no film.

    Returns:
        m·K/W.

    Source:
        1/(π·d·α).
    """
    return float(1 / (np.pi * (section.outside - 2 * section.wall) * coefficient))
