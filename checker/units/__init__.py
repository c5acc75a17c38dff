"""Converts text with a unit into an SI number and back; the rest of the program only knows SI.

A spelling is looked up in `checker.units.table`. Only for one that is not there pint is imported,
which then says whether it is a unit of the kind that is needed. What pint would misread (decimal
commas, bare C and F, wrong capitals) never reaches it.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from msgspec import Struct

from checker.units.table import ROWS

if TYPE_CHECKING:
    from pint import UnitRegistry


class UnitError(ValueError):
    """A text is not a quantity of the kind that is needed; the message says what to write
    instead.
    """


class Kind(Struct, frozen=True):
    """A kind of quantity.

    Attributes:
        name: its key in KINDS.
        title: with its article.
        si: the unit inside the program.
        example: how to write one.
        absolute: whether it is a point on the temperature scale, °C inside.
        closed: whether only the spellings in the table are accepted.
    """

    name: str
    title: str
    si: str
    example: str
    absolute: bool = False
    closed: bool = False


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("length", "a length", "m", "88 m"),
        Kind("area", "an area", "m²", "12 m²"),
        Kind("volume", "a volume", "m³", "12 l"),
        Kind("volume_flow", "a volume flow", "m³/s", "1.8 l/min"),
        Kind("speed", "a speed", "m/s", "0.4 m/s"),
        Kind("pressure", "a pressure", "Pa", "4 bar"),
        Kind("temperature", "a temperature", "°C", "45 °C", absolute=True, closed=True),
        Kind("temperature_difference", "a temperature difference", "K", "7 K"),
        Kind("thermal_resistance", "a thermal resistance", "m²·K/W", "0.02 m²·K/W"),
        Kind("conductivity", "a thermal conductivity", "W/(m·K)", "1.2 W/(m·K)"),
        Kind("heat_coefficient", "a heat coefficient", "W/(m²·K)", "4.2 W/(m²·K)"),
        Kind("power", "a power", "W", "900 W"),
        Kind("heat_flux", "a heat flux", "W/m²", "60 W/m²"),
        Kind("duration", "a duration", "s", "20 min"),
        Kind("fraction", "a fraction", "1", "25 %", closed=True),
        Kind("mass", "a mass", "kg", "12 kg"),
        Kind("oxygen_permeation", "an oxygen permeation", "kg/(m²·s)", "0.3 mg/(m²·d)"),
        Kind("thermal_expansion", "a thermal expansion", "1/K", "0.0002 1/K"),
        Kind("density", "a density", "kg/m³", "998 kg/m³"),
        Kind("mass_flow", "a mass flow", "kg/s", "0.03 kg/s"),
        Kind("compliance", "a growth with pressure", "1/Pa", "0.000000004 1/Pa"),
        Kind("specific_heat", "a specific heat", "J/(kg·K)", "4180 J/(kg·K)"),
        Kind("viscosity", "a viscosity", "Pa·s", "0.7 mPa·s"),
        Kind("pressure_per_kelvin", "a pressure for each kelvin", "Pa/K", "0.2 bar/K"),
        Kind("ratio", "a plain number", "1", "1.5", closed=True),
    )
}

Factors = tuple[float, float]

_ALIKE = str.maketrans("²³⁴¹⁻·⋅∙•*.×\u00a0μº", "2341-······· µ°")
_POWER = re.compile(r"(?:\^|\*\*)(?=-?[1-9])")
_DEGREE = re.compile(r"(?:deg|°) ?([CF])(?![A-Za-z])")
_SIGN = re.compile(r"\s*([·/()])\s*")


def alike(unit: str) -> str:
    """A unit with uniform signs: "m² K / W" and "m2*K/W" both become "m2·K/W".

    Args:
        unit: as somebody typed it, whether or not it is known.

    Returns:
        The spelling by which the table is searched; capitals are kept.
    """
    text = _POWER.sub("", unit.replace("℃", "°C").replace("℉", "°F")).translate(_ALIKE)
    return "·".join(_SIGN.sub(r"\1", _DEGREE.sub(r"°\1", text)).split())


@cache
def _known() -> dict[str, dict[str, Factors]]:
    """The factors of every spelling by kind, as written in the table and with uniform signs."""
    known: dict[str, dict[str, Factors]] = {name: {} for name in KINDS}
    for kind, _, scale, offset, spellings in ROWS:
        for spelling in spellings:
            known[kind][spelling] = known[kind][alike(spelling)] = (scale, offset)
    return known


_QUANTITY = re.compile(
    r"([-+−]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?)\s*(.*)", re.DOTALL
)
_LONGEST = 100  # characters; no quantity needs more
_CAPACITY = 65_536  # texts remembered a kind, so that memory stays flat over any number of files
_remembered: dict[str, dict[str, float]] = {name: {} for name in KINDS}


def parse(text: str, kind: str, example: str = "") -> float:
    """The SI value of a number with its unit.

    Args:
        text: the number and the unit.
        kind: a key of KINDS.
        example: shown as the right way to write it, instead of the kind's own example.

    Returns:
        The value in the kind's `si`; °C for a temperature, 0 to 1 for a fraction.

    Raises:
        UnitError: the text is not a quantity of this kind.
    """
    try:
        return _remembered[kind][text]
    except KeyError:
        pass
    value = _read(text, kind)
    if value is None:
        raise UnitError(_refusal(text.strip(), kind, example or KINDS[kind].example))
    if len(_remembered[kind]) >= _CAPACITY:
        _remembered[kind].clear()
    _remembered[kind][text] = value
    return value


@lru_cache(maxsize=1024)
def factor(unit: str, kind: str) -> Factors:
    """Scale and offset of a unit: SI value = value * scale + offset.

    Args:
        unit: in a spelling of the table, or one that pint knows.
        kind: a key of KINDS.

    Returns:
        Both; the offset is 0 except for °F as a temperature.

    Raises:
        UnitError: it is no unit of this kind.
    """
    factors = _factors(unit, kind)
    if factors is None:
        raise UnitError(_misfit(unit, "", unit, kind, KINDS[kind].example))
    return factors


def in_table(unit: str, kind: str) -> bool:
    """Whether a unit is known without asking pint.

    Args:
        unit: in any spelling.
        kind: a key of KINDS.

    Returns:
        False also where pint would accept it.
    """
    return unit in _known()[kind] or alike(unit) in _known()[kind]


def from_si(value: float, unit: str, kind: str) -> float:
    """An SI value in the given unit.

    Args:
        value: in the kind's `si`; °C for a temperature.
        unit: in a spelling of the table, or one that pint knows.
        kind: a key of KINDS.

    Returns:
        The value in the unit, not rounded.

    Raises:
        UnitError: it is no unit of this kind.
    """
    scale, offset = factor(unit, kind)
    return (value - offset) / scale


@lru_cache(maxsize=1024)
def kind_of(unit: str) -> str:
    """The kind that a unit of the table measures; °C is a temperature, K a difference.

    Args:
        unit: in a spelling of the table; pint is not asked.

    Returns:
        A key of KINDS; the first, where several kinds have the unit.

    Raises:
        UnitError: the table has no such unit.
    """
    kind = _kind_in_table(unit)
    if kind is None:
        raise UnitError(f"'{_short(unit)}' is not a unit that is known; write one such as 'mm'")
    return kind


def _read(text: str, kind: str) -> float | None:
    match = _QUANTITY.match(text.strip())
    if match is None or len(text) > _LONGEST:
        return None
    number, unit = match.groups()
    factors = _factors(unit, kind)
    if factors is None:
        return None
    value = float(number.replace("−", "-")) * factors[0] + factors[1]
    return value if abs(value) < float("inf") else None


def _factors(unit: str, kind: str) -> Factors | None:
    known = _known()[kind]
    factors = known.get(unit) or known.get(plain := alike(unit))
    if factors is None and not KINDS[kind].closed and _is_safe(plain):
        return _pint_factors(plain, kind)
    return factors


# Units that the table does not have: pint decides.

_NAME = r"(?:[A-Za-zµ]+|°[CF])(?:-?[1-4])?"
_PRODUCT = rf"{_NAME}(?:[·/]{_NAME})*"
_GRAMMAR = rf"(?:1/)?(?:{_NAME}|\({_PRODUCT}\))(?:[·/](?:{_NAME}|\({_PRODUCT}\)))*"
_EXPONENT = r"(?<=[A-Za-zµ])(-?[1-4])(?![0-9A-Za-z])"


def _is_safe(unit: str) -> bool:
    """Whether pint cannot misread the unit: it would take Min for a megainch, M for molar."""
    known = _by_small_letters()
    return re.fullmatch(_GRAMMAR, unit) is not None and unit.casefold() not in known


@cache
def _by_small_letters() -> dict[str, list[tuple[str, str]]]:
    """The spelling and kind of every unit in the table, by its small letters."""
    found: dict[str, list[tuple[str, str]]] = {}
    for kind, _, _, _, spellings in ROWS:
        for spelling in spellings:
            found.setdefault(alike(spelling).casefold(), []).append((spelling, kind))
    return found


@cache
def _registry() -> UnitRegistry[float]:
    import pint

    return pint.UnitRegistry()


@lru_cache(maxsize=4096)
def _pint_factors(unit: str, kind: str) -> Factors | None:
    """The factors from pint, None where it is not a unit of this kind; the signs are uniform."""
    try:
        zero, one = (
            _registry().Quantity(x, _in_pint_words(unit)).to(_in_pint_words(alike(KINDS[kind].si)))
            for x in (0.0, 1.0)
        )
    except Exception:  # for a text that is no unit pint raises errors of many kinds
        return None
    # An offset here is a scale with its own zero, or a logarithmic one: no plain factor.
    return (float(one.magnitude), 0.0) if zero.magnitude == 0 else None


def _in_pint_words(unit: str) -> str:
    return re.sub(_EXPONENT, r"**(\1)", unit.replace("°", "delta_deg").replace("·", "*"))


# Words for a text that is refused. Nothing below runs for a text that is taken.


def _kind_in_table(unit: str) -> str | None:
    plain = alike(unit)
    return next((kind for kind, known in _known().items() if plain in known), None)


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:40] + "…"


def _refusal(text: str, kind: str, example: str) -> str:
    """Why a text is not a quantity of this kind, and what to write instead."""
    title = KINDS[kind].title
    if not text:
        return f"nothing is written here; write {title} such as '{example}'"
    if len(text) > _LONGEST:
        return f"'{_short(text)}' is too long; write {title} such as '{example}'"
    if any(sign.isdecimal() and not sign.isascii() for sign in text):
        latin = "".join(str(int(sign)) if sign.isdecimal() else sign for sign in text)
        return f"'{text}' has digits other than 0 to 9; write '{latin}'"
    slip = _slip_in_number(text)
    if slip:
        return slip
    match = _QUANTITY.match(text)
    if match is None:
        what = "has no number" if _kind_in_table(text) else "does not begin with a number"
        return f"'{_short(text)}' {what}; write {title} such as '{example}'"
    number, unit = match.groups()
    if abs(float(number.replace("−", "-"))) > 1e300:
        return f"'{_short(text)}' is too large a number; write {title} such as '{example}'"
    if not unit:
        return _bare(number, kind, example)
    return _misfit(text, number, unit, kind, example)


# Patterns as text: most runs refuse nothing and need not compile them.
_SEPARATED = (
    r"(?s)([-+−]?)([0-9]+(?:[.,_][0-9]+|['’\s][0-9]{3}(?![0-9]))+)(?![0-9]*[eE][-+]?[0-9])(.*)"
)
_SIZES = r"([0-9.]+)\s*\D{0,12}?\s*[xX×*]\s*([0-9.]+)\s*([^\W\d]+)"
_COMMON_FRACTION = r"(?:([0-9]{1,6})\s+)?([0-9]{1,6})\s*/\s*([1-9][0-9]{0,5})\s*(\D*)"
_DASHED = r"(?s)[–—]\s*([0-9.]+.*)"


def _slip_in_number(text: str) -> str | None:
    """What is wrong with the way in which the number is written, if anything."""
    separated = re.fullmatch(_SEPARATED, text)
    if separated and not re.fullmatch(r"[0-9]+\.[0-9]+", separated[2]):
        return _separators(text, *separated.groups())
    if sizes := re.fullmatch(_SIZES, text):
        first, second, unit = sizes.groups()
        return f"'{text}' is two sizes; write one of them: '{first} {unit}' or '{second} {unit}'"
    if parts := re.fullmatch(_COMMON_FRACTION, text):
        whole, above, below, unit = parts.groups()
        value = f"{int(whole or 0) + int(above) / int(below):.6g}"
        return f"'{text}' is a common fraction; write '{f'{value} {unit}'.strip()}'"
    if dashed := re.fullmatch(_DASHED, text):
        return f"'{text}' begins with a dash; write '-{dashed[1]}'"
    return None


def _separators(text: str, sign: str, figure: str, rest: str) -> str:
    digits = re.sub(r"['’_\s]", "", figure)
    unit = f" {rest.strip()}" if rest.strip() else ""
    if digits.count(",") == 1 and "." not in digits:
        decimal, grouped = digits.replace(",", "."), digits.replace(",", "")
        if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
            return (
                f"the comma in '{text}' can be read in two ways; "
                f"write '{sign}{grouped}{unit}' or '{sign}{decimal}{unit}'"
            )
        return f"'{text}' has a decimal comma; write '{sign}{decimal}{unit}'"
    mark = max(digits.rfind("."), digits.rfind(","))
    if len({*digits} & {".", ","}) == 2 or digits.count(".") == 1:
        digits = re.sub("[.,]", "", digits[:mark]) + "." + digits[mark + 1 :]
    else:
        digits = re.sub("[.,]", "", digits)
    return f"'{text}' has marks between its digits; write '{sign}{digits}{unit}'"


def _bare(number: str, kind: str, example: str) -> str:
    unit = example.split(" ", 1)[-1]
    value = float(number.replace("−", "-"))
    if kind == "fraction" and 0 < value <= 1:
        return f"{number} has no unit; write '{value * 100:g} %' or '{number} %'"
    return f"{number} has no unit; write '{number} {unit}'"


_DEGREES = {"C": "°C", "F": "°F", "°": "°C", "deg": "°C", "celsius": "°C", "fahrenheit": "°F"}
_QUOTES = {**dict.fromkeys("'′’‘", "ft"), **dict.fromkeys('"″”“', "in")}


def _misfit(text: str, number: str, unit: str, kind: str, example: str) -> str:
    """Why the unit is not one of this kind; number may be empty."""
    wanted = KINDS[kind]
    plain = alike(unit)
    if kind == "temperature_difference" and "f" in plain.casefold():
        example = "12 °F"
    such = f"{wanted.title} is expected, such as '{example}'"

    def right(instead: str) -> str:
        return f"'{f'{number} {instead}'.strip()}'"

    quoted = f"'{_short(text)}'"
    if unit in _QUOTES:
        return f"{quoted} has a sign for feet or inches; write {right(_QUOTES[unit])}"
    if _QUOTES.keys() & {*unit}:
        return f"{quoted} has signs for feet or inches; write 'ft' or 'in' after one number"
    if number and (re.match(r"(\D*\s)?[-+−–.,_]?[0-9]", unit) or unit[0] in "-+−–—,.±~"):
        return f"{quoted} has more than one number or a stray sign; {such}"
    if wanted.absolute and plain in _known()["temperature_difference"]:
        # Above 200 the kelvin were counted from absolute zero.
        value = float(number.replace("−", "-")) if number else 0.0
        degrees = f"{value - 273.15:.10g}" if value > 200 else number
        return f"{quoted} is a difference; write '{f'{degrees} °C'.strip()}'"
    degree = _DEGREES.get(plain) or _DEGREES.get(plain.casefold()) or _DEGREES.get(plain.upper())
    if degree and degree in _known()[kind]:
        return f"'{unit}' in {quoted} is not a unit of temperature; write {right(degree)}"
    if f"{plain}H2O" in _known()[kind]:
        return f"{quoted} is a length; as a head of water write {right(f'{plain}H2O')}"
    found = _kind_in_table(unit)
    if found is None:
        slips = _by_small_letters().get(plain.casefold(), [])
        own = dict.fromkeys(spelling for spelling, its in slips if its == kind)
        if own:
            return f"'{unit}' in {quoted} is not a unit; write " + " or ".join(map(right, own))
        found = slips[0][1] if slips else _pint_kind(plain)
    if found is None:
        return f"'{_short(unit)}' is not a unit that is known here; {such}"
    return f"{quoted} is {KINDS[found].title}; {such}"


def _pint_kind(unit: str) -> str | None:
    if not _is_safe(unit):
        return None
    open_kinds = (name for name, kind in KINDS.items() if not kind.closed)
    return next((name for name in open_kinds if _pint_factors(unit, name)), None)
