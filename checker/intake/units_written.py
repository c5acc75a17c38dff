"""Units and lengths as people write them: `lfm`, `sq ft`, 226'-6", [mm] in a heading."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from checker import units
from checker.intake.sheets import figure

_SPELLINGS: Mapping[str, Mapping[str, str]] = {
    "length": {
        "lm": "m", "lfm": "m", "lfdm": "m", "lfd. m": "m", "lfd m": "m", "ml": "m", "mtr": "m",
        "mtrs": "m", "lin m": "m", "lin. m": "m", "mts": "m", "mt": "m", "mètres": "m",
        "mètre": "m", "metri": "m", "metros": "m", "lf": "ft", "lft": "ft", "lin ft": "ft",
        "inch": "in", "'": "ft", "’": "ft", "′": "ft", '"': "in", "”": "in", "″": "in",
        "''": "in", "′′": "in", "’’": "in",
    },
    "area": {
        "sqm": "m²", "qm": "m²", "m q": "m²", "mq": "m²", "mtr2": "m²", "sm": "m²", "sq m": "m²",
        "sf": "ft²", "s.f": "ft²", "sqft": "ft²", "sq ft": "ft²", "square feet": "ft²",
        "square metres": "m²",
    },
    "volume_flow": {
        "l/mn": "l/min", "lt/min": "l/min", "ltr/min": "l/min", "lpm": "l/min", "lt/h": "l/h",
        "ltr/h": "l/h", "lph": "l/h", "l/u": "l/h", "l/std": "l/h", "usgpm": "gpm", "us gpm": "gpm",
    },
    "power": {"watt": "W", "watts": "W", "btuh": "Btu/h", "btu/h": "Btu/h", "btu/hr": "Btu/h",
              "vatios": "W"},
    "temperature": {"c": "°C", "f": "°F", "°": "°C", "grad": "°C", "grad c": "°C", "degc": "°C",
                    "degf": "°F", "° c": "°C", "° f": "°F", "celsius": "°C", "fahrenheit": "°F"},
    "temperature_difference": {"kelvin": "K", "c": "°C", "f": "°F"},
    "fraction": {"pct": "%", "prozent": "%", "vol%": "%"},
    "thermal_resistance": {"m2k/w": "m²·K/W", "m2 k/w": "m²·K/W", "m²k/w": "m²·K/W"},
}  # fmt: skip
"""Units as schedules write them, by what is measured; ordinary abbreviations of several languages,
from memory. They win over SI prefixes that nobody means (qm is not a quectometre).
"""

_ASIDE = re.compile(
    r"\s*(?:[,;]\s*)?(?:o\.?\s?c\.?|c/c|ctrs?|crs|centres|centers|h\.?o\.?h\.?|each|ea\.?|each way|"
    r"total|net|gross|approx\.?|ca\.?|netto|brutto|gesamt|je|pro|max\.?|min\.)\s*$",
    re.IGNORECASE,
)
"""Words after a unit that are not part of it: on centres, each, net."""


def known_unit(text: str, kind: str) -> str:
    """The program's name for a unit, from the many ways to write it.

    Args:
        text: the unit as it was written.
        kind: what it must measure, such as `length`.

    Returns:
        The unit; empty where the text is not a unit of this kind.
    """
    text = " ".join(text.split())
    own = _SPELLINGS.get(kind, {})
    for spelling in dict.fromkeys((text, text.rstrip("."), text.lower().rstrip("."))):
        if units.in_table(spelling, kind):
            return spelling
        if spelling.lower() in own:
            return own[spelling.lower()]
        try:
            units.factor(spelling, kind)
        except units.UnitError:
            continue
        return spelling
    return ""


def unit_behind(behind: str, kind: str, unit: str) -> str:
    """The unit after a number; as it was written where it is unknown, so that it is refused by
    name.
    """
    bare = behind.strip()
    for _ in range(3):
        if not bare:
            return ""
        named = known_unit(bare, kind)
        if named:
            return named
        shorter = _ASIDE.sub("", bare)
        if shorter == bare:
            break
        bare = shorter
    return behind if bare else ""


def sign_of(text: str) -> str:
    """The unit of a single mark for feet or inches; empty where there are both or none."""
    feet = any(sign in text for sign in "'’′") and not any(
        two in text for two in ("''", "′′", "’’")
    )
    inches = any(sign in text for sign in ('"', "”", "″", "''", "′′", "’’"))
    return "" if feet == inches else "ft" if feet else "in"


_FEET = re.compile(
    r"""(?:(?P<feet>[0-9]+(?:\.[0-9]+)?)\s*(?:'|’|′|ft\.?|feet)(?!')\s*-?\s*)?"""
    r"""(?:(?P<inches>[0-9]+(?:\.[0-9]+)?)?\s*(?P<part>[0-9]+/[0-9]+|[¼½¾⅛⅜⅝⅞])?\s*"""
    r"""(?P<sign>"|”|″|''|′′|in\.?|inch|inches))?(?P<rest>.*)"""
)
_PART = "[¼½¾⅛⅜⅝⅞]"
_PARTS = {"¼": 0.25, "½": 0.5, "¾": 0.75, "⅛": 0.125, "⅜": 0.375, "⅝": 0.625, "⅞": 0.875}


def feet_and_inches(text: str, unit: str) -> str:
    """A length in feet and inches, such as 226'-6" or 8 1/2".

    Args:
        text: the cell's text.
        unit: the column's unit; in a column of inches, 8 1/2 needs no mark.

    Returns:
        The length in inches, with its unit; empty for any other text.
    """
    bare = _ASIDE.sub("", text)
    if unit == "in" and re.fullmatch(
        r"[0-9]+[ -](?:[0-9]+/[0-9]+|[¼½¾⅛⅜⅝⅞])|[0-9]+[¼½¾⅛⅜⅝⅞]", bare
    ):
        bare += '"'
    match = _FEET.fullmatch(bare)
    if match is None or match["rest"].strip() or not (match["feet"] or match["sign"]):
        return ""
    part = match["part"] or ""
    inches = float(match["inches"] or 0)
    if "/" in part:
        above, below = (int(one) for one in part.split("/"))
        if not 0 < above < below:
            return ""
        inches += above / below
    elif part:
        inches += _PARTS[part]
    if match["feet"] and not match["sign"]:
        return f"{match['feet']} ft"
    if match["feet"]:
        if inches >= 12:
            return ""
        return f"{figure(float(match['feet']) * 12 + inches)} in"
    return f"{figure(inches)} in"


def is_length(text: str) -> bool:
    """Whether a text is a length with its unit."""
    if feet_and_inches(text, ""):
        return True
    match = re.fullmatch(r"[-+]?[0-9][0-9.,]*\s*(\D+)", text)
    return bool(match and known_unit(match[1], "length"))


_BRACKETS = re.compile(r"[\[(]((?:[^\[\]()]|\([^()]*\))*)[\])]")
NO_UNIT = frozenset(("no", "nr", "id"))
"""Last words of headings that are not units."""


def unit_in(heading: str, kind: str) -> str:
    """The unit that a heading names, as in 'Length [m]', 'Spacing, mm' or 'Tail (ft, each way)'.

    Args:
        heading: the heading as it was written.
        kind: what the unit must measure.

    Returns:
        The unit; empty where it names none of this kind, or two that differ.
    """
    for inside in _BRACKETS.findall(heading):
        named = known_unit(inside, kind) or _of_words(inside, kind)
        if named:
            return named
    bare = _BRACKETS.sub(" ", heading)
    if (named := known_unit(bare, kind)) and (len(bare.strip()) > 1 or bare.strip() in "mKW°'\""):
        return named
    for pattern in (r"\s(?:in|en)\s+(\S+)$", r"[,/;:]\s*([^,/;:]+)$", r"\s((?i:sq\.?) \S+)$",
                    r"\s(\S+)$"):  # fmt: skip
        for found in re.findall(pattern, bare.strip()):
            if found.casefold() in NO_UNIT:
                continue
            if named := known_unit(found, kind):
                return named
    return ""


def _of_words(inside: str, kind: str) -> str:
    """The unit among the words in brackets; empty where there is none, or two that differ."""
    found = [*_units_among(inside, kind)]
    # 'in' is a unit only where there is no other: (measured in m).
    found = [one for one in found if one != "in"] or found
    factors = {units.factor(one, kind) for one in found}
    return found[0] if len(factors) == 1 else ""


def _units_among(inside: str, kind: str) -> Iterator[str]:
    for part in re.split(r"[,;]", inside):
        if named := known_unit(part, kind):
            yield named
            continue
        for word in part.split():
            if (len(word) > 1 or word in "mKW'\"") and (named := known_unit(word, kind)):
                yield named
