"""What a falling pressure frees in closed pipes, and how a leak slackens on the way down."""

import numpy as np

from checker.arrays import Array
from checker.physics.leak import ATMOSPHERE
from checker.physics.tightness import SHORT_TERM

_ALIKE = 1e-4
"""Of the first pressure, by which pressures may differ and count as one."""


def freed(pressure: Array, first: Array, soft: Array, air: Array) -> tuple[Array, Array]:
    """Share of the volume that a fall of the pressure has set free, and that of the next pascal.

    Shapes broadcast.

    Args:
        pressure: gauge, Pa.
        first: that of the first reading, Pa.
        soft: give without trapped air, 1/Pa.
        air: share of the bore that trapped air fills at the first pressure.

    Returns:
        A pure number, and 1/Pa.

    Source:
        Boyle's law: air·(p₁ + 1 atm)/(p + 1 atm) of the bore is air's at p.
    """
    kept = (first + ATMOSPHERE) / (pressure + ATMOSPHERE)
    return soft * (first - pressure) + air * (kept - 1), soft + air * kept / (pressure + ATMOSPHERE)


def slackened(
    higher: Array, lower: Array, first: Array, soft: Array, air: Array, exponent: Array
) -> Array:
    """Mean over time of (p/p₁)^m while a leak alone takes the pressure from reading to reading.

    Of two pressures that are alike it is their own. Shapes broadcast.

    Args:
        higher: gauge, of the one reading, Pa.
        lower: of the next, Pa.
        first: of the first, Pa.
        soft: give without trapped air, 1/Pa.
        air: see `freed`.
        exponent: m, 0.5 or 1.

    Returns:
        A pure number.

    Source:
        Such a leak takes (p₁/p)^m·dF for dF to be freed, so the mean is ∫dF over ∫(p₁/p)^m·dF,
        both in closed form.
    """
    alike = np.abs(higher - lower) <= _ALIKE * first
    gas = first + ATMOSPHERE

    def taken(pressure: Array) -> Array:
        """∫(p₁/p)^m·dF up to this pressure, for both exponents."""
        beyond, root = pressure + ATMOSPHERE, np.sqrt(pressure)
        seam = np.log(pressure / beyond) / ATMOSPHERE + 1 / beyond
        seam = first * (soft * np.log(pressure) + air * gas / ATMOSPHERE * seam)
        hole = root / beyond + np.arctan(root / np.sqrt(ATMOSPHERE)) / np.sqrt(ATMOSPHERE)
        hole = np.sqrt(first) * (2 * soft * root + air * gas / ATMOSPHERE * hole)
        return np.where(exponent == 1.0, seam, hole)

    volume = freed(lower, first, soft, air)[0] - freed(higher, first, soft, air)[0]
    time = np.where(alike, 1.0, taken(higher) - taken(lower))
    return np.where(alike, ((higher + lower) / 2 / first) ** exponent, volume / time)


def crept(since: Array, stretch: Array, creep: Array) -> Array:
    """How many times the short-term give a slow fall has set free.

    Shapes broadcast.

    Args:
        since: time since the fall began, s.
        stretch: the pipe's share of the give.
        creep: exponent n of its modulus' fall with time.

    Returns:
        A pure number, at least about 1.

    Source:
        Boltzmann's superposition of a power law; from memory.
    """
    return 1 + stretch * ((1 + since / SHORT_TERM) ** creep / (1 + creep) - 1)
