"""Decides in which units, and with which decimal mark, values are shown: the only place that does.

Everything inside the program, and every machine format, keeps the units of reports; only text for
people passes through here.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from checker.words import number, numbers

METRIC, US = "metric", "US"
SYSTEMS = (METRIC, US)
AS_WRITTEN = "as written"
"""Each design in the system of units that its author typed."""
POINT, COMMA = "point", "comma"
DECIMALS = (POINT, COMMA)

_FOOT, _INCH, _GALLON, _POUND = 0.3048, 0.0254, 3.785411784, 0.45359237
"""m, m, l, kg."""
_PSI, _FOOT_OF_HEAD = 6.894757293168362, 2.98906692
"""kPa; a foot of water of 1000 kg/m³ under 9.80665 m/s²."""
_BTU_AN_HOUR, _DEGREE = 1055.056 / 3600, 5 / 9
"""W; K in a degree Fahrenheit."""
_US: dict[str, tuple[str, float, float]] = {
    "m": ("ft", 1 / _FOOT, 0.0),
    "cm": ("in", 0.01 / _INCH, 0.0),
    "mm": ("in", 0.001 / _INCH, 0.0),
    "m²": ("ft²", 1 / _FOOT**2, 0.0),
    "m³": ("yd³", 1 / (3 * _FOOT) ** 3, 0.0),
    "kg": ("lb", 1 / _POUND, 0.0),
    "l": ("gal", 1 / _GALLON, 0.0),
    "l/min": ("gpm", 1 / _GALLON, 0.0),
    "l/h": ("gpm", 1 / 60 / _GALLON, 0.0),
    "ml/h": ("gal/day", 0.024 / _GALLON, 0.0),
    "m/s": ("ft/s", 1 / _FOOT, 0.0),
    "bar": ("psi", 100 / _PSI, 0.0),
    "MPa": ("psi", 1000 / _PSI, 0.0),
    "kPa": ("ft of head", 1 / _FOOT_OF_HEAD, 0.0),
    "°C": ("°F", 1 / _DEGREE, 32.0),
    "K": ("°F", 1 / _DEGREE, 0.0),
    "bar/K": ("psi/°F", 100 / _PSI * _DEGREE, 0.0),
    "W": ("Btu/h", 1 / _BTU_AN_HOUR, 0.0),
    "W/m²": ("Btu/(h·ft²)", _FOOT**2 / _BTU_AN_HOUR, 0.0),
    "W/(m·K)": ("Btu/(h·ft·°F)", _FOOT * _DEGREE / _BTU_AN_HOUR, 0.0),
    "W/(m²·K)": ("Btu/(h·ft²·°F)", _FOOT**2 * _DEGREE / _BTU_AN_HOUR, 0.0),
    "m²·K/W": ("ft²·°F·h/Btu", _BTU_AN_HOUR / _FOOT**2 / _DEGREE, 0.0),
}
"""For each unit of reports, the US unit, and the scale and offset to it. Tests compare these with
the table of units, whose import would slow the start.
"""


ONE_DAY = ("1", "-1")
"""Numbers of days that are written without an s."""


class Speech(NamedTuple):
    """How values are shown to a reader: system of units, and decimal mark."""

    system: str = METRIC
    decimal: str = POINT

    @property
    def plain(self) -> bool:
        """Whether everything is shown in the units of reports with a decimal point."""
        return self == PLAIN

    def unit(self, unit: str) -> str:
        """The reader's unit for a unit of reports.

        Args:
            unit: of reports, such as `kPa`.

        Returns:
            The unit that the reader sees; the same one where the system has no other.
        """
        if unit == "day":
            return "days"
        return _US[unit][0] if self.system == US and unit in _US else unit

    def converted(self, value: float, unit: str) -> float:
        """A value in a unit of reports, converted into the reader's.

        Args:
            value: in `unit`; also an array.
            unit: of reports; °C is a temperature, K a difference.

        Returns:
            The value in `self.unit(unit)`, not rounded.
        """
        if self.system != US or unit not in _US:
            return value
        _, scale, offset = _US[unit]
        return value * scale + offset

    def marked(self, text: str) -> str:
        """A number's text with the reader's decimal mark.

        Args:
            text: a number with a decimal point, and no other point.

        Returns:
            The text with the point or a comma.
        """
        return text.replace(".", ",") if self.decimal == COMMA else text

    def number(self, value: float) -> str:
        """A number for the reader, in the unit that it is already in.

        Args:
            value: in the reader's unit.

        Returns:
            The digits that are useful on site, with the reader's decimal mark, without a unit.
        """
        return self.marked(number(value))

    def numbers(self, values: Sequence[float], unit: str) -> list[str]:
        """Many values in a unit of reports, in the reader's unit.

        Args:
            values: `(n,)`, in `unit`.
            unit: of reports.

        Returns:
            `n` texts without a unit; empty where a value is not finite.
        """
        if self.system == US and unit in _US:
            values = [self.converted(value, unit) for value in values]
        texts = numbers(values)
        return texts if self.decimal == POINT else [self.marked(text) for text in texts]

    def measure(self, value: float, unit: str) -> str:
        """A value in a unit of reports, as the reader's number and unit.

        Args:
            value: in `unit`.
            unit: of reports; `1` for a plain number.

        Returns:
            Number, space and unit; a plain number where the unit is `1`.
        """
        return self.said(self.converted(value, unit), unit)

    def said(self, value: float, unit: str) -> str:
        """A value that is already in the reader's unit, with that unit.

        Args:
            value: in the reader's unit.
            unit: the unit of reports, by which the reader's is found; `1` for a plain number.

        Returns:
            Number, space and unit; a plain number where the unit is `1`.
        """
        text = self.number(value)
        if unit == "1":
            return text
        return f"{text} {unit if text in ONE_DAY and unit == 'day' else self.unit(unit)}"

    def words(self, text: str) -> str:
        """A text of the program, such as a rule's remedy, with its quantities in the reader's
        units.

        Args:
            text: with quantities in units of reports and a decimal point, such as `5 to 8 K`. A
                text of the design's author does not belong here: its numbers would be converted
                too.

        Returns:
            The text; the same one where the reader uses the units of reports and a decimal point.
        """
        return text if self == PLAIN else _quantities().sub(self._spoken, text)

    def _spoken(self, found: re.Match[str]) -> str:
        """The reader's words for one or more figures and the unit behind them."""
        figures, unit = found.groups()
        zero = self.converted(0.0, unit)

        def one(figure: re.Match[str]) -> str:
            value = self.converted(float(figure[0]), unit)
            # What follows ± is a difference, so the zero of the scale does not matter.
            spread = figures[: figure.start()].endswith("± ")
            return self.number(value - zero if spread else value)

        return f"{_FIGURE.sub(one, figures)} {self.unit(unit)}"


PLAIN = Speech()
_FIGURE = re.compile(r"[0-9]+(?:\.[0-9]+)?")


@lru_cache(maxsize=1)
def _quantities() -> re.Pattern[str]:
    """Finds `5 to 8 K`: the figures, and the unit."""
    known = "|".join(sorted(map(re.escape, _US), key=len, reverse=True))
    figure = _FIGURE.pattern
    several = rf"{figure}(?:(?: (?:to|and|or|±|×) |, ){figure})*"
    return re.compile(rf"(?<![\w.,-])({several})[ \u00a0]({known})(?![\w²³/·(])")
