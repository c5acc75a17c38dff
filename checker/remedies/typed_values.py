"""Values as designs write them: a number and its unit."""

from __future__ import annotations

from typing import Any

from checker import units
from checker.design.leaves import Leaf

IMPERIAL = frozenset(
    "in,inch,inches,ft,foot,feet,ft²,ft2,sqft,°F,degF,psi,gpm,gal/min,ft²·°F·h/Btu,Btu/h".split(",")  # noqa: SIM905
)
"""Units of designs that use inches, feet and °F."""
OTHER_UNITS = {
    "°C": "°F",
    "mm": "in",
    "m": "ft",
    "l/min": "gpm",
    "kPa": "psi",
    "bar": "psi",
    "m²·K/W": "ft²·°F·h/Btu",
    "K": "°F",
    "m²": "ft²",
}
"""The unit that such a design uses instead of a metric one."""
DECIMALS = 9
"""More than any value needs, and fewer than binary fractions add."""


def unit_of(text: Any) -> str:
    """Take the unit from a quantity as it is typed.

    Args:
        text: '150 mm'; anything else that may be typed has no unit.

    Returns:
        What follows the number; empty where nothing does.
    """
    if not isinstance(text, str):
        return ""
    return text.strip().lstrip("+-−0123456789.eE").strip()


def typed(value: float, unit: str, leaf: Leaf) -> str:
    """Write a quantity as it is typed.

    Args:
        value: SI.
        unit: to write it in.
        leaf: its type.

    Returns:
        '150 mm'.
    """
    scale, offset = units.factor(unit, leaf.quantity)
    return f"{plain((value - offset) / scale)} {unit}"


def plain(number: float) -> str:
    """Write a number without the digits that binary fractions add, and without an exponent.

    Args:
        number: any that is finite.

    Returns:
        At most DECIMALS decimals, no zeros at the end, '0' for minus zero.
    """
    text = f"{round(number, DECIMALS):.9f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
