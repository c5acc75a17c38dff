"""A quantity's formula as it is written by hand: with symbols, with numbers, and computed.

A formula is what is to the right of the equals sign. A name in braces is an input of the quantity,
by its parameter's name, and a value in braces is a constant with its unit: `{flow} / (π/4 ·
{bore}²)`, `{room_temperature} + {9 K}`. After Σ, and alone in max( ) and min( ), the name means all
members of a part. A formula of nothing but braces, numbers, signs and the functions below can be
computed; anything else, such as the reading of a table, is words.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from types import MappingProxyType

from checker import units

Several = list[float]
"""The values of a part's members."""

_BRACES = re.compile(r"\{([^}]*)\}")
_SUM = re.compile(r"Σ(\{[^}]*\})")
_ROOT = re.compile(r"√(\{[^}]*\})")
_ARITHMETIC = re.compile(r"(?:[\d\s.,()+−·/²³^|πΣ√]|\b(?:ln|exp|min|max)\()*")
_SIGNS = {"·": "*", "−": "-", "²": "**2", "³": "**3", "^": "**", "√": "sqrt"}
_FUNCTIONS = {
    "ln": math.log,
    "exp": math.exp,
    "sqrt": math.sqrt,
    "π": math.pi,
    "abs": abs,
    "min": min,
    "max": max,
    "sum": sum,
}


def names(formula: str) -> list[str]:
    """The inputs in the formula.

    Args:
        formula: as the registry states it.

    Returns:
        Parameters' names, each once, in the formula's order.
    """
    found = (name for name in _BRACES.findall(formula) if not name[0].isdigit())
    return list(dict.fromkeys(found))


def is_arithmetic(formula: str) -> bool:
    """Whether the formula can be computed; if not, it is words.

    Args:
        formula: as the registry states it.

    Returns:
        Whether it consists of nothing but braces, numbers, signs and known functions.
    """
    return _ARITHMETIC.fullmatch(_BRACES.sub("1", formula)) is not None


def is_words(formula: str) -> bool:
    """Whether the formula is a sentence (`read from …`), without an equals sign before it.

    Args:
        formula: as the registry states it.

    Returns:
        Whether it begins with a word in small letters.
    """
    return re.match(r"[a-z]+ ", formula) is not None


def written(formula: str, symbols: Mapping[str, str]) -> str:
    """The formula with symbols.

    Args:
        formula: as the registry states it.
        symbols: of inputs, by parameter's name; what has none keeps its name.

    Returns:
        A line of text without braces.
    """
    return _placed(formula.replace("Σ", "Σ "), symbols)


def filled(formula: str, texts: Mapping[str, str | list[str]]) -> str:
    """The formula with numbers and units instead of symbols, in brackets where necessary.

    Args:
        formula: as the registry states it.
        texts: the number and unit of each input, by parameter's name, and of each constant, by its
            text; a list for the members of a part.

    Returns:
        A line of text without braces.
    """

    def members(found: re.Match[str]) -> str:
        many = texts[found[1][1:-1]]
        return f"({' + '.join(many)})" if isinstance(many, list) else many

    return _outermost(_placed(_SUM.sub(members, formula), texts))


def _placed(formula: str, texts: Mapping[str, str] | Mapping[str, str | list[str]]) -> str:
    def one(found: re.Match[str]) -> str:
        text = texts.get(found[1], found[1])
        if isinstance(text, list):
            return ", ".join(text)
        before, after = formula[: found.start()].rstrip()[-1:], formula[found.end() :].lstrip()[:1]
        tight = " " in text and (before == "/" or after in ("²", "³", "^"))
        negative = text.startswith("−") and before not in ("", "(")
        return f"({text})" if negative or tight else text

    return _BRACES.sub(one, formula)


def _outermost(text: str) -> str:
    """A text without brackets around the whole of it."""
    depth = 0
    for at, sign in enumerate(text):
        depth += {"(": 1, ")": -1}.get(sign, 0)
        if depth == 0 and at < len(text) - 1:
            return text
    return text[1:-1] if text.startswith("(") else text


def constants(formula: str) -> list[str]:
    """The constants in the formula.

    Args:
        formula: as the registry states it.

    Returns:
        Their texts, number and unit, each once, in the formula's order.
    """
    return list(dict.fromkeys(c for c in _BRACES.findall(formula) if c[0].isdigit()))


def worked(
    formula: str,
    values: Mapping[str, float | Several],
    scaled: Callable[[float, str], float] = lambda value, kind: value,
    functions: Mapping[str, object] = MappingProxyType({}),
) -> float:
    """Compute the formula.

    Args:
        formula: one that `is_arithmetic`.
        values: of each input, SI, temperatures in °C, days in seconds.
        scaled: from a constant in SI and its kind of quantity to the value to compute with; without
            it, the constant itself.
        functions: by name, what replaces a function such as `max`.

    Returns:
        SI; NaN where it has no value, such as a division by zero.

    Raises:
        SyntaxError: the formula is not arithmetic.
        KeyError: an input has no value.
    """
    text = _ROOT.sub(r"sqrt(\1)", _SUM.sub(r"sum(\1)", formula))
    text = re.sub(r"\|([^|]*)\|", r"abs(\1)", text)
    for sign, instead in _SIGNS.items():
        text = _outside_braces(text, sign, instead)
    scope: dict[str, object] = {**_FUNCTIONS, **functions}

    def bound(found: re.Match[str]) -> str:
        name = f"_{len(scope)}"
        constant = found[1][0].isdigit()
        scope[name] = _constant(found[1], scaled) if constant else values[found[1]]
        return name

    expression = _BRACES.sub(bound, text)
    try:
        return float(eval(expression, {"__builtins__": {}}, scope))
    except (ValueError, ZeroDivisionError, OverflowError, TypeError):
        return math.nan


def _outside_braces(text: str, sign: str, instead: str) -> str:
    parts = re.split(r"(\{[^}]*\})", text)
    return "".join(part if part.startswith("{") else part.replace(sign, instead) for part in parts)


def _constant(text: str, scaled: Callable[[float, str], float]) -> float:
    kind = units.kind_of(text.partition(" ")[2])
    return scaled(units.parse(text, kind), kind)


_DIMENSIONS = {
    "length": (1, 0, 0, 0),
    "area": (2, 0, 0, 0),
    "volume": (3, 0, 0, 0),
    "volume_flow": (3, 0, -1, 0),
    "speed": (1, 0, -1, 0),
    "pressure": (-1, 1, -2, 0),
    "temperature": (0, 0, 0, 1),
    "temperature_difference": (0, 0, 0, 1),
    "thermal_resistance": (0, -1, 3, 1),
    "conductivity": (1, 1, -3, -1),
    "heat_coefficient": (0, 1, -3, -1),
    "power": (2, 1, -3, 0),
    "heat_flux": (0, 1, -3, 0),
    "duration": (0, 0, 1, 0),
    "mass": (0, 1, 0, 0),
    "oxygen_permeation": (-2, 1, -1, 0),
    "thermal_expansion": (0, 0, 0, -1),
    "density": (-3, 1, 0, 0),
    "mass_flow": (0, 1, -1, 0),
    "compliance": (1, -1, 2, 0),
    "specific_heat": (2, 0, -2, -1),
    "viscosity": (-1, 1, -1, 0),
    "pressure_per_kelvin": (-1, 1, -2, -1),
}
"""For each kind of quantity, the powers of length, mass, time and temperature, where it has any."""
_OTHER = (1.7, 2.3, 1.3, 1.9)
"""Arbitrary other units of length, mass, time and temperature, in those of SI."""
_OTHER_ZERO = 31.0
"""°C at which the temperature scale of those units begins."""


def in_other_units(value: float, kind: str) -> float:
    """An SI value in other units that are consistent with one another.

    Args:
        value: SI, °C for a temperature.
        kind: its kind of quantity; an unknown one has no unit.

    Returns:
        In the units of `_OTHER`.
    """
    powers = _DIMENSIONS.get(kind, (0, 0, 0, 0))
    shifted = value - _OTHER_ZERO if kind == "temperature" else value
    return shifted / math.prod(unit**power for unit, power in zip(_OTHER, powers, strict=True))


def _mean(*values: float | Several) -> float:
    flat = [one for value in values for one in (value if isinstance(value, list) else [value])]
    return sum(flat) / len(flat)


def holds_in_any_units(
    formula: str, values: Mapping[str, float | Several], kinds: Mapping[str, str], kind: str
) -> bool:
    """Whether the formula gives the same quantity whatever units its inputs are in.

    One fitted in SI, such as a power of a temperature difference, does not.

    Args:
        formula: one that `is_arithmetic`.
        values: as for `worked`.
        kinds: the kind of quantity of each input.
        kind: that of the result.

    Returns:
        Whether results in two systems of units agree to 10⁻⁶.
    """
    other = {
        name: [in_other_units(one, kinds[name]) for one in value]
        if isinstance(value, list)
        else in_other_units(value, kinds[name])
        for name, value in values.items()
    }
    # In the mean each part has its say, where the least and the largest are only one of them.
    alike = {"min": _mean, "max": _mean}
    found = worked(formula, other, in_other_units, alike)
    wanted = in_other_units(worked(formula, values, functions=alike), kind)
    return math.isclose(found, wanted, rel_tol=1e-6, abs_tol=1e-12)
