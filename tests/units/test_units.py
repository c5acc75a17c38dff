"""Units against pint, and every way of writing a quantity that must not be misread."""

from __future__ import annotations

import re
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checker import units
from checker.units import KINDS, UnitError, factor, from_si, kind_of, parse
from checker.units.table import ROWS

if TYPE_CHECKING:
    import pint

SPELLINGS = [
    (kind, unit, spelling) for kind, unit, _, _, spellings in ROWS for spelling in spellings
]
WITHOUT_UNIT = ("ratio", "")


@cache
def registry() -> pint.UnitRegistry[float]:
    """pint's units, which take half a second to load."""
    import pint

    return pint.UnitRegistry()


def by_pint(number: float, unit: str, kind: str) -> float:
    """The number in SI base units, or in °C for a temperature, as pint converts it."""
    quantity = registry().Quantity(number, unit)
    converted = quantity.to("degC") if kind == "temperature" else quantity.to_base_units()
    return float(converted.magnitude)


def message(text: str, kind: str, example: str = "") -> str:
    with pytest.raises(UnitError) as caught:
        parse(text, kind, example)
    return str(caught.value)


@pytest.mark.parametrize(("kind", "unit", "spelling"), SPELLINGS)
def test_spelling_converts_as_pint_does(kind: str, unit: str, spelling: str) -> None:
    for number in (1.0, 12.5, 300.0):
        converted = by_pint(number, unit, kind)
        assert parse(f"{number} {spelling}", kind) == pytest.approx(converted, rel=1e-12, abs=1e-12)
    assert factor(spelling, kind) == factor(spelling.replace("·", " "), kind)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0]}-{row[4][0]}")
def test_table_has_the_factors_of_pint(row: tuple[str, str, float, float, tuple[str, ...]]) -> None:
    kind, unit, scale, offset, _ = row
    zero, one = by_pint(0.0, unit, kind), by_pint(1.0, unit, kind)
    # Relative, but for the offsets of °F, which pint rounds at the size of 459.67.
    assert scale == pytest.approx(one - zero, rel=1e-12 if zero == 0 else 1e-11)
    assert offset == pytest.approx(zero, rel=1e-12, abs=1e-12)


def test_table_is_what_its_generator_writes() -> None:
    generator = Path(__file__).parent / "generate_unit_table.py"
    root = str(generator.parents[2])
    done = subprocess.run(
        [sys.executable, str(generator), "--check"], env={"PYTHONPATH": root}, check=False
    )
    assert done.returncode == 0


def test_every_kind_is_complete() -> None:
    assert {row[0] for row in ROWS} == KINDS.keys()
    for name, kind in KINDS.items():
        assert kind.name == name
        assert parse(kind.example, name) != 0
        if name != "fraction":  # its SI unit, 1, is refused in text
            assert factor(kind.si, name) == (1.0, 0.0)


def test_no_spelling_has_two_meanings() -> None:
    meanings: dict[str, set[str]] = {}
    for kind, _, spelling in SPELLINGS:
        meanings.setdefault(units.alike(spelling), set()).add(kind)
    both = {spelling: kinds for spelling, kinds in meanings.items() if len(kinds) > 1}
    scale_and_difference = {"temperature", "temperature_difference"}
    assert both == {"°C": scale_and_difference, "°F": scale_and_difference}


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("16 mm", "length", 0.016),
        ("16mm", "length", 0.016),
        ("  16  mm ", "length", 0.016),
        ("16\u00a0mm", "length", 0.016),
        ("16\u2009mm", "length", 0.016),
        ("16\u202fmm", "length", 0.016),
        (".5 m", "length", 0.5),
        ("+5 m", "length", 5.0),
        ("1.5e3 Pa", "pressure", 1500.0),
        ("1.5E+3Pa", "pressure", 1500.0),
        ("2e-1 bar", "pressure", 20_000.0),
        ("-3 °C", "temperature", -3.0),
        ("\u22123 °C", "temperature", -3.0),
        ("45 degC", "temperature", 45.0),
        ("45 deg C", "temperature", 45.0),
        ("45 ° C", "temperature", 45.0),
        ("45 ºC", "temperature", 45.0),
        ("45 ℃", "temperature", 45.0),
        ("113 degF", "temperature", 45.0),
        ("113 ℉", "temperature", 45.0),
        ("7 K", "temperature_difference", 7.0),
        ("7 °C", "temperature_difference", 7.0),
        ("13 °F", "temperature_difference", 13 / 1.8),
        ("13 degF", "temperature_difference", 13 / 1.8),
        ("25 %", "fraction", 0.25),
        ("25%", "fraction", 0.25),
        ("1.5", "ratio", 1.5),
        ("0.6 W/mK", "conductivity", 0.6),
        ("0.6 W/(m K)", "conductivity", 0.6),
        ("0.6 W / (m*K)", "conductivity", 0.6),
        ("0.6 W/m.K", "conductivity", 0.6),
        ("0.6 W/m⋅K", "conductivity", 0.6),
        ("0.6 W·m⁻¹·K⁻¹", "conductivity", 0.6),
        ("5 W/(m2 K)", "heat_coefficient", 5.0),
        ("5 W/m^2K", "heat_coefficient", 5.0),
        ("5 W/(m**2*K)", "heat_coefficient", 5.0),
        ("5 W/(m²·degC)", "heat_coefficient", 5.0),  # per degree of difference, no offset
        ("2 m2.K/W", "thermal_resistance", 2.0),
        ("2 m2 K/W", "thermal_resistance", 2.0),
        ("2 m2K/W", "thermal_resistance", 2.0),
        ("2 (m²·K)/W", "thermal_resistance", 2.0),
        ("18 m2", "area", 18.0),
        ("18 sq ft", "area", 18 * 0.3048**2),
        ("4.6 m H2O", "pressure", 4.6 * 9806.65),
        ("3 days", "duration", 259_200.0),
        ("12 yd", "length", 10.9728),  # not in the table: by pint
        ("1.5 kcal/h", "power", 1.5 * 4184 / 3600),  # by pint, thermochemical calorie
        ("3 mK", "temperature_difference", 0.003),  # by pint
    ],
)
def test_taken(text: str, kind: str, value: float) -> None:
    assert parse(text, kind) == pytest.approx(value, rel=1e-12)


def test_negative_zero_is_zero() -> None:
    assert str(parse("-0 m", "length")) == "0.0"


@pytest.mark.parametrize(
    ("text", "kind", "instead"),
    [
        ("16,5 mm", "length", ["16.5 mm"]),
        ("0,125 m", "length", ["0.125 m"]),
        ("-3,5 °C", "temperature", ["-3.5 °C"]),
        ("1,000 m", "length", ["1000 m", "1.000 m"]),
        ("1.000,5 m", "length", ["1000.5 m"]),
        ("1,000.5 m", "length", ["1000.5 m"]),
        ("1.000.000 mm", "length", ["1000000 mm"]),
        ("1,000,000 mm", "length", ["1000000 mm"]),
        ("1 000 m", "length", ["1000 m"]),
        ("1\u2009000 m", "length", ["1000 m"]),
        ("1 000.5 m", "length", ["1000.5 m"]),
        ("1'000 m", "length", ["1000 m"]),
        ("1_000 m", "length", ["1000 m"]),
        ("١٢ m", "length", ["12 m"]),
        ("16 x 2 mm", "length", ["16 mm", "2 mm"]),
        ("16×2mm", "length", ["16 mm", "2 mm"]),
        ("1/2 in", "length", ["0.5 in"]),
        ("1 1/2 in", "length", ["1.5 in"]),
        ("\u20133 °C", "temperature", ["-3 °C"]),
        ("12\u2033", "length", ["12 in"]),
        ('12"', "length", ["12 in"]),
        ("12'", "length", ["12 ft"]),
        ("12 \u2032", "length", ["12 ft"]),
        ("35 C", "temperature", ["35 °C"]),
        ("35 c", "temperature", ["35 °C"]),
        ("35 F", "temperature", ["35 °F"]),
        ("35 °", "temperature", ["35 °C"]),
        ("35 Celsius", "temperature", ["35 °C"]),
        ("7 C", "temperature_difference", ["7 °C"]),
        ("45 K", "temperature", ["45 °C"]),
        ("318.15 K", "temperature", ["45 °C"]),
        ("10 Min", "duration", ["10 min"]),
        ("10 M", "length", ["10 m"]),
        ("5 MM", "length", ["5 mm"]),
        ("5 kpa", "pressure", ["5 kPa"]),
        ("5 Kpa", "pressure", ["5 kPa"]),
        ("5 Mbar", "pressure", ["5 mbar"]),
        ("4.6 m", "pressure", ["4.6 mH2O"]),
        ("88", "length", ["88 m"]),
        ("0.25", "fraction", ["25 %", "0.25 %"]),
        ("25", "fraction", ["25 %"]),
        ("nan m", "length", ["88 m"]),
        ("inf m", "length", ["88 m"]),
        ("-inf m", "length", ["88 m"]),
        ("1e999 m", "length", ["88 m"]),
        ("1e307 km", "length", ["88 m"]),
        ("", "length", ["88 m"]),
        (" \u00a0", "length", ["88 m"]),
        ("mm", "length", ["88 m"]),
        ("about 5 m", "length", ["88 m"]),
        ("9" * 200 + " m", "length", ["88 m"]),
    ],
)
def test_refused_with_what_to_write(text: str, kind: str, instead: list[str]) -> None:
    said = message(text, kind).split("write", 1)[1]
    assert re.findall(r"'([^']+)'", said) == instead
    for better in instead:
        parse(better, kind)


@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        ("150 W", "length", "'150 W' is a power; a length is expected, such as '88 m'"),
        ("18 m", "area", "'18 m' is a length; an area is expected, such as '12 m²'"),
        ("1.8 l/m", "volume_flow", "is an area; a volume flow is expected"),  # by pint
        ("5 kn", "length", "is a speed; a length is expected"),  # by pint: knot
        ("5 °C", "length", "is a temperature; a length is expected"),
        ("5 K", "length", "is a temperature difference; a length is expected"),
        ("10 Min", "length", "is a duration; a length is expected"),
        ("35 C", "length", "'C' is not a unit that is known here"),
        ("5 foo", "length", "'foo' is not a unit that is known here"),
        ("2 mW/mK", "conductivity", "'mW/mK' is not a unit that is known here"),
        ("5 dBm", "power", "'dBm' is not a unit that is known here"),
        ("5 W/m²,", "heat_flux", "is not a unit that is known here"),
        ("5 nan", "length", "'nan' is not a unit that is known here"),  # a number to pint
        ("5 dB²", "area", "'dB²' is not a unit that is known here"),  # trips pint itself
        ("7 d°C", "temperature_difference", "'d°C' is not a unit that is known here"),
        ("5 mm^", "length", "'mm^' is not a unit that is known here"),
        ("5 rad", "fraction", "'rad' is not a unit that is known here"),
        ("5 ft 3 in", "length", "has more than one number or a stray sign"),
        ("5' 3\"", "length", "has signs for feet or inches"),
        ("5-10 K", "temperature_difference", "has more than one number or a stray sign"),
        ("5\u201310 K", "temperature_difference", "has more than one number or a stray sign"),
        ("16. mm", "length", "has more than one number or a stray sign"),
        ("20 ± 1 °C", "temperature", "has more than one number or a stray sign"),
        ("5 ± 1 m", "length", "has more than one number or a stray sign"),
        ("2026-03-12", "length", "has more than one number or a stray sign"),
        ("88", "length", "88 has no unit; write '88 m'"),
        ("45 K", "temperature", "'45 K' is a difference; write '45 °C'"),
    ],
)
def test_refused_saying_why(text: str, kind: str, said: str) -> None:
    assert said in message(text, kind)


def test_a_closer_example_is_shown_where_one_is_given() -> None:
    assert message("150", "length", "200 mm") == "150 has no unit; write '150 mm'"
    assert message("150 W", "length", "200 mm").endswith("a length is expected, such as '200 mm'")


def test_pressure_units_alike_but_for_capitals_are_told_apart() -> None:
    assert "write '5 MPa'" in message("5 mPa", "pressure")
    assert parse("5 MPa", "pressure") == 5e6


@pytest.mark.parametrize(
    ("value", "unit", "kind", "shown"),
    [
        (0.016, "mm", "length", 16.0),
        (45.0, "°F", "temperature", 113.0),
        (45.0, "°C", "temperature", 45.0),
        (5.0, "°F", "temperature_difference", 9.0),
        (0.25, "%", "fraction", 25.0),
        (2300.0, "1", "ratio", 2300.0),
        (3e-5, "l/min", "volume_flow", 1.8),
        (0.0254, "in", "length", 1.0),
    ],
)
def test_from_si(value: float, unit: str, kind: str, shown: float) -> None:
    assert from_si(value, unit, kind) == pytest.approx(shown, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "kind"),
    [
        ("mm", "length"),
        ("m", "length"),
        ("m²", "area"),
        ("l", "volume"),
        ("l/min", "volume_flow"),
        ("ml/h", "volume_flow"),
        ("m/s", "speed"),
        ("1", "ratio"),
        ("kPa", "pressure"),
        ("bar", "pressure"),
        ("°C", "temperature"),
        ("K", "temperature_difference"),
        ("m²·K/W", "thermal_resistance"),
        ("W/(m·K)", "conductivity"),
        ("W/(m²·K)", "heat_coefficient"),
        ("W", "power"),
        ("W/m²", "heat_flux"),
        ("%", "fraction"),
        ("min", "duration"),
        ("day", "duration"),
        ("mg/(m²·d)", "oxygen_permeation"),
        ("1/K", "thermal_expansion"),
        ("kg", "mass"),
    ],
)
def test_kind_of(unit: str, kind: str) -> None:
    assert kind_of(unit) == kind


@pytest.mark.parametrize("unit", ["foo", "kpa", "C"])
def test_kind_of_refuses_what_is_no_unit(unit: str) -> None:
    with pytest.raises(UnitError, match=f"'{unit}' is not a unit"):
        kind_of(unit)


def test_factor_refuses_a_unit_of_another_kind() -> None:
    with pytest.raises(UnitError, match="'W' is a power; a length is expected"):
        factor("W", "length")


def test_only_an_unknown_spelling_imports_pint() -> None:
    script = (
        "import sys\n"
        "from checker.units.table import ROWS\n"
        "from checker.units import UnitError, parse\n"
        "[parse(f'1 {spelling}', row[0]) for row in ROWS for spelling in row[4]]\n"
        "for text, kind in [('16,5 mm', 'length'), ('35 C', 'temperature'), ('5 W', 'length')]:\n"
        "    try: parse(text, kind)\n"
        "    except UnitError: continue\n"
        "    sys.exit(3)\n"
        "if 'pint' in sys.modules: sys.exit(1)\n"
        "parse('12 yd', 'length')\n"
        "if 'pint' not in sys.modules: sys.exit(2)\n"
    )
    root = str(Path(__file__).parents[2])
    done = subprocess.run([sys.executable, "-c", script], env={"PYTHONPATH": root}, check=False)
    assert done.returncode == 0


def test_memory_of_texts_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    remembered: dict[str, dict[str, float]] = {name: {} for name in KINDS}
    monkeypatch.setattr(units, "_remembered", remembered)
    monkeypatch.setattr(units, "_CAPACITY", 10)
    assert [parse(f"{n} m", "length") for n in range(25)] == [float(n) for n in range(25)]
    assert 0 < len(remembered["length"]) <= 10
    assert parse("24 m", "length") == 24.0


# No quantity is so small that its SI value would lose digits at the end of the doubles' range.
SIZES = st.floats(min_value=1e-9, max_value=1e9)
NUMBERS = SIZES | SIZES.map(float.__neg__) | st.just(0.0)


@given(number=NUMBERS, spelling=st.sampled_from(SPELLINGS))
def test_round_trip(number: float, spelling: tuple[str, str, str]) -> None:
    kind, _, unit = spelling
    back = from_si(parse(f"{number!r} {unit}", kind), unit, kind)
    # Absolute for a temperature near its offset of 17.8.
    assert back == pytest.approx(number, rel=1e-12, abs=1e-10 if kind == "temperature" else 0)


@settings(max_examples=400, deadline=None)
@given(
    text=st.text(max_size=12)
    | st.from_regex(r"[-+]?[0-9.,eE]{1,6} ?[A-Za-z0-9°²·/()* '%-]{0,10}", fullmatch=True),
    kind=st.sampled_from(sorted(KINDS)),
)
def test_any_text_is_a_finite_number_or_refused(text: str, kind: str) -> None:
    try:
        value = parse(text, kind)
    except UnitError:
        return
    assert abs(value) < float("inf")
    assert any(sign in "0123456789" for sign in text)


def test_the_format_and_the_rules_ask_pint_for_no_unit() -> None:
    """Importing it takes longer than a check, so what the program itself writes is in the table."""
    code = (
        "import sys, checker.quantities\n"
        "from checker.compute.meanings import Names\n"
        "from checker.rulebook.loading import load\n"
        "load(Names(), [])\n"
        "print('pint' in sys.modules)"
    )
    root = str(Path(__file__).parents[2])
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"


def test_a_difference_in_degrees_of_fahrenheit_is_told_how_to_be_written() -> None:
    with pytest.raises(UnitError, match="such as '12 °F'"):
        parse("20 delta_degF", "temperature_difference")
    with pytest.raises(UnitError, match="such as '7 K'"):
        parse("20 kelvins per day", "temperature_difference")
