"""Converts the content of a cell into a value as a design file writes it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from functools import cache
from typing import NamedTuple

from checker import units
from checker.design.leaves import TRUE, Leaf
from checker.intake.fields import value_of
from checker.intake.sheets import Value, alike, figure, plain

Given = str | bool | list[str]
"""A value as a design file has it."""
THOUSANDS = {"space": " ", "point": ".", "comma": ","}
"""The marks that may separate thousands, by their names in a map."""


class Marks(NamedTuple):
    """The marks in numbers that are written as text; thousands: empty where there is none.

    said: whether the map states them; if not, a text such as 1.101 could be read in two ways.
    """

    decimal: str = "."
    thousands: str = ""
    said: bool = True


EITHER = re.compile(r"[-+−]?[1-9][0-9]{0,2}[.,][0-9]{3}(?![0-9.,])")
"""A number whose only mark may be decimal or separate thousands: 1.101, but not 0.101."""
PLAIN = Marks()
"""Decimal point, and no mark between thousands."""


class Way(NamedTuple):
    """How a cell is converted: its unit, date format, words and factor.

    hint: where to write a unit that is missing, for the message.
    """

    unit: str = ""
    date: str = ""
    words: Mapping[str, str] = {}
    times: int = 1
    marks: Marks = PLAIN
    hint: str = "give the column its unit in the map (unit: {})"
    words_hint: str = " Or give the map its meaning: words: {{{}: …}}"


class Doubtful(NamedTuple):
    """A value as a design file writes it, and a remark to review where it could be read otherwise.

    other: the factor by which the other reading of its mark is larger; 0 where there is none.
    """

    text: str
    doubt: str = ""
    other: float = 0.0


def text_of(raw: Value, leaf: Leaf, way: Way) -> Doubtful:
    """Convert a cell into the text of a design file.

    Args:
        raw: the cell's content.
        leaf: the field's kind, unit and bounds.
        way: how the map says to convert it.

    Returns:
        The text, which fits the field, with a remark where it could be read otherwise.

    Raises:
        ValueError: the content does not fit the field; the message is for the user.
    """
    known = way.words.get(alike(plain(raw)))
    found = _worded(raw, leaf, way) if known is None else Doubtful(known)
    try:
        value_of(leaf, found.text)
    except ValueError as error:
        hint = ""
        if leaf.kind in ("enumeration", "boolean"):
            hint = way.words_hint.format(plain(raw))
        raise ValueError(f"{error}{hint}") from None
    return found


def typed(leaf: Leaf, text: str) -> Given:
    """A value as the tree of a design holds it.

    Args:
        leaf: the field's kind.
        text: the value as a design writes it.

    Returns:
        A truth value, the words of a list, or the text itself.
    """
    if leaf.kind == "boolean":
        return text.lower() in TRUE
    if leaf.kind == "words":
        return [word for word in (part.strip() for part in text.split(",")) if word]
    return text


def _worded(raw: Value, leaf: Leaf, way: Way) -> Doubtful:
    if leaf.kind == "quantity":
        return _quantity(raw, leaf, way)
    if leaf.kind == "date":
        return Doubtful(_day(raw, way.date))
    if isinstance(raw, datetime | date):
        raise ValueError("is a date; a spreadsheet program makes one of texts such as 1-2")
    if leaf.kind == "integer" and isinstance(raw, str):
        match = re.fullmatch(r"([0-9]+)[.,]0+", raw)
        return Doubtful(match[1] if match else raw)
    if leaf.kind == "enumeration":
        word = next((o for o in leaf.options if o.casefold() == alike(plain(raw))), plain(raw))
        return Doubtful(word)
    return Doubtful(" ".join(plain(raw).split()))


_RAISED = re.compile(r"(?<=[0-9])\s*(?:[⁰¹²³⁴-⁹]+|\*{1,3}\)?|[†‡])$|\s+[¹²³⁴-⁹]\)$|\s*[¹²³⁴-⁹]\)$")
"""A footnote mark after a number, such as 84¹ or 84*."""


def _quantity(raw: Value, leaf: Leaf, way: Way) -> Doubtful:
    unit, marks = way.unit, way.marks
    other = 0.0
    if isinstance(raw, bool) or not isinstance(raw, str | float | int):
        raise ValueError(
            f"is a date or a truth value; a number is expected, such as {leaf.example}"
        )
    doubt = ""
    if not isinstance(raw, str):
        number, own = figure(raw), ""
    else:
        text = raw.replace("\u00a0", " ").replace("\u202f", " ").strip()
        note = _RAISED.search(text)
        if note:
            doubt = f"the '{note[0].strip()}' behind it is taken for the mark of a note"
            text = text[: note.start()].rstrip()
        feet = _feet_and_inches(text, unit) if leaf.quantity == "length" else ""
        if feet and unit and _sign_of(text) not in ("", unit):
            raise ValueError(
                f"has a sign of feet or inches and no unit; write '{feet}' if that is meant"
            )
        if feet:
            return Doubtful(_multiplied(feet, way.times), doubt)
        match = _number(marks.decimal, marks.thousands).fullmatch(text)
        behind = match[2] if match else ""
        if match is None or behind[:1] in (*"0123456789.,'/",):
            raise ValueError(
                "is not a number with or without its unit, such as "
                f"'{leaf.example}'{_marks_hint(text, marks)}"
            )
        number = match[1].replace(marks.thousands, "") if marks.thousands else match[1]
        if EITHER.fullmatch(match[1]):
            other = 1000.0 if marks.decimal in match[1] else 0.001
            if not marks.said:
                doubt = "the point could part thousands too; say 'decimal:' in the map"
        number = number.replace(",", ".").replace("−", "-")
        own = _unit_behind(behind, leaf.quantity, unit)
    if not own and not unit:
        if leaf.example:
            shown = leaf.example.split(" ", 1)[-1]
            raise ValueError(f"has no unit; {way.hint.format(shown)}")
        raise ValueError("has no unit; give the column its unit in the map")
    return Doubtful(_multiplied(f"{number} {own or unit}", way.times), doubt, other)


def _multiplied(text: str, times: int) -> str:
    if times == 1:
        return text
    number, _, unit = text.partition(" ")
    return f"{figure(float(number) * times)} {unit}"


def added(texts: list[str], leaf: Leaf) -> str:
    """The sum of several values of one field.

    Args:
        texts: the values, each with its unit; at least one.
        leaf: the field's kind and quantity.

    Returns:
        In the unit of the first.

    Raises:
        ValueError: they are temperatures, or one has no unit of the quantity.
    """
    unit = texts[0].partition(" ")[2]
    scale, _ = units.factor(unit, leaf.quantity)
    if leaf.quantity == "temperature":
        raise ValueError("temperatures cannot be added")
    total = sum(units.parse(text, leaf.quantity) for text in texts)
    return f"{figure(float(f'{total / scale:.12g}'))} {unit}"


def _marks_hint(text: str, marks: Marks) -> str:
    """What the map could say about decimal marks, for a text that is not a number as it reads
    them.
    """
    if re.fullmatch(r"[0-9.,]+\s*[/–-]\s*[0-9.,]+(\D*)", text):
        return "; two values in one cell want a row or a column each"
    if not re.fullmatch(r"[-+]?[0-9]+([.,'’ ][0-9]+)+(\D*)", text):
        return ""
    decimal = "comma" if marks.decimal == "," else "point"
    for name, sign in THOUSANDS.items():
        if sign not in (marks.decimal, marks.thousands) and re.match(
            rf"[-+]?[0-9]{{1,3}}({re.escape(sign)}[0-9]{{3}})+(?![0-9])", text
        ):
            other = f", or 'thousands: {name}' where the {name} only parts thousands"
            break
    else:
        other = ""
    return f" (the map says that numbers have a decimal {decimal}; correct it there{other})"


def _day(raw: Value, form: str) -> str:
    if isinstance(raw, datetime | date):
        return plain(raw)[:10]
    if isinstance(raw, str) and form:
        try:
            return datetime.strptime(raw, form).date().isoformat()
        except ValueError:
            raise ValueError(f"is not a date written as {form}") from None
    return plain(raw)


@cache
def _number(decimal: str, thousands: str) -> re.Pattern[str]:
    """A pattern for a number, then any text after it."""
    mark, apart = re.escape(decimal), re.escape(thousands)
    whole = f"[1-9][0-9]{{0,2}}(?:{apart}[0-9]{{3}})+(?![0-9])|[0-9]+" if thousands else "[0-9]+"
    return re.compile(rf"([-+−]?(?:(?:{whole})(?:{mark}[0-9]+)?|{mark}[0-9]+))\s*(.*)")


# Units.

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


def _unit_behind(behind: str, kind: str, unit: str) -> str:
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


def _sign_of(text: str) -> str:
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


def _feet_and_inches(text: str, unit: str) -> str:
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
    if _feet_and_inches(text, ""):
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
