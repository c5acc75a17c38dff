"""How readers are told values: in whose units, with which mark, and that it is decided once."""

from __future__ import annotations

from typing import Any

import pytest

from checker import units
from checker.compute import formulas
from checker.run.batch import Plan, check
from checker.units.systems import typed_system
from checker.words.speech import _US as IN_US
from checker.words.speech import METRIC, PLAIN, US, Speech
from tests.design.test_example_designs import FOLDER

FEET, COMMA = Speech(US), Speech(METRIC, "comma")
HOUSE = (FOLDER / "mill-lane-9-feet-and-fahrenheit.yaml").read_bytes()


@pytest.mark.parametrize("unit", IN_US)
def test_a_us_unit_is_the_one_that_a_design_may_be_written_in(unit: str) -> None:
    """The factors are those of the table of units, which pint writes."""
    kind = units.kind_of(unit)
    own, _, _ = IN_US[unit]
    for value in (0.0, 1.0, 12.5):
        scale, offset = units.factor(unit, kind)
        wanted = units.from_si(value * scale + offset, own, kind)
        assert FEET.converted(value, unit) == pytest.approx(wanted, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        # 12 in, 20 °F, 100 psi and 300 ft by the exact inch, degree, pound and foot of
        # NIST SP 811 (2008), appendix B.8.
        (304.8, "mm", "12 in"),
        (20 / 1.8, "K", "20 °F"),
        (6.894757293168362, "bar", "100 psi"),
        (91.44, "m", "300 ft"),
        (45.0, "°C", "113 °F"),
        (2.98906692, "kPa", "1 ft of head"),
        (20.0, "min", "20 min"),
        (25.0, "%", "25 %"),
    ],
)
def test_what_is_round_in_us_units_stays_round(value: float, unit: str, said: str) -> None:
    assert FEET.measure(value, unit) == said
    if unit not in ("K",):
        kind = units.kind_of(unit)
        assert units.parse(said, kind) == pytest.approx(units.parse(f"{value!r} {unit}", kind))


@pytest.mark.parametrize(
    ("words", "in_feet", "with_comma"),
    [
        (
            "Hold 20 to 25 °C for 3 days.",
            "Hold 68 to 77 °F for 3 days.",
            "Hold 20 to 25 °C for 3 days.",
        ),
        ("within the 0.5 K that", "within the 0.9 °F that", "within the 0,5 K that"),
        ("EN 1264-4, 4.2.3, table 4", "EN 1264-4, 4.2.3, table 4", "EN 1264-4, 4.2.3, table 4"),
        ("0.3 m to either side", "0.984 ft to either side", "0,3 m to either side"),
        ("under 2300 m² of", "under 24757 ft² of", "under 2300 m² of"),
        ("within 100 ± 10 m", "within 328.1 ± 32.8 ft", "within 100 ± 10 m"),
        ("at 20 ± 1.5 °C", "at 68 ± 2.7 °F", "at 20 ± 1,5 °C"),
        ("by 5, 10 or 25.4 mm", "by 0.197, 0.394 or 1 in", "by 5, 10 or 25,4 mm"),
        ("-5 K, x5 K and 5 Kelvin", "-5 K, x5 K and 5 Kelvin", "-5 K, x5 K and 5 Kelvin"),
    ],
)
def test_quantities_in_our_own_words_are_told_alike(
    words: str, in_feet: str, with_comma: str
) -> None:
    assert FEET.words(words) == in_feet
    assert COMMA.words(words) == with_comma
    assert PLAIN.words(words) == words


def system(text: str) -> str:
    document: Any = [part.strip() for part in text.split(",")]
    return typed_system(text.encode(), document)


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("9 in, 135 ft², 68 °F, 2 l/min", US),
        ("9 in, 135 sq ft, 68 degF", US),
        ("150 mm, 12 m², 1.5 in", METRIC),
        ("9 in, 12 m²", METRIC),  # no more of one than of the other
        ("20 min, 3 days, 25 %", METRIC),
        ("1 in the hall, 2 in the den, 3 m", METRIC),
        ("", METRIC),
    ],
)
def test_the_system_is_that_of_most_quantities(typed: str, found: str) -> None:
    assert system(typed) == found


def messages(plan: Plan, data: bytes = HOUSE) -> dict[str, str]:
    faulty = data.replace(b"pressure: 100 psi", b"pressure: 80 psi")
    faulty = faulty.replace(b"drop: 12 \xc2\xb0F", b"drop: 21 \xc2\xb0F")
    (design,), unreadable = check([("house.yaml", faulty)], plan)
    assert not unreadable
    return {one.rule: one.message for one in design.results_of("fail")}


def test_a_design_in_feet_is_told_in_feet() -> None:
    told = messages(Plan())
    assert told["test-pressure"] == "The test is made at 80 psi; at least 100 psi is wanted."
    assert "cools by 21 °F; at most 20 °F is wanted" in told["temperature-drop"]


@pytest.mark.parametrize("key", [b"units: metric", b"units: US"])
def test_a_design_may_say_which(key: bytes) -> None:
    told = messages(Plan(), HOUSE.replace(b"  stage: design", b"  stage: design\n  " + key))
    in_bar = "The test is made at 5.52 bar; at least 6.89 bar is wanted."
    assert (told["test-pressure"] == in_bar) is (key == b"units: metric")


def test_a_call_says_it_for_all() -> None:
    told = messages(Plan(units=METRIC, decimal="comma"))
    assert told["test-pressure"] == "The test is made at 5,52 bar; at least 6,89 bar is wanted."


def test_designs_of_both_systems_are_told_each_in_its_own() -> None:
    metric = (FOLDER / "orchard-row-3-eight-mistakes.yaml").read_bytes()
    feet = HOUSE.replace(b"length: 222 ft, feeds: 34 ft", b"length: 333 ft, feeds: 34 ft")
    alone = {}
    for name, data in (("a.yaml", metric), ("b.yaml", feet)):
        (design,), _ = check([(name, data)])
        alone[name] = design.results
    together, _ = check([("a.yaml", metric), ("b.yaml", feet)])
    assert {one.path: one.results for one in together} == alone
    told = {r.message for r in alone["b.yaml"] if r.rule == "loop-length" and r.kind == "fail"}
    assert told == {"The loop is 333 ft long; its pipe can feed at most 300 ft."}


def test_values_and_limits_stay_in_the_units_that_reports_are_specified_in() -> None:
    designs = [check([("house.yaml", HOUSE)], Plan(units=own))[0][0] for own in (US, METRIC)]
    values = [
        [(one.rule, one.subject, one.value, one.limit, one.margin) for one in design.results]
        for design in designs
    ]
    assert values[0] == values[1]
    assert designs[0].computed == designs[1].computed


def test_a_formula_that_was_fitted_in_si_is_known_from_one_that_holds_in_any_units() -> None:
    kinds = {"flow": "volume_flow", "bore": "length"}
    speed = {"flow": 3e-5, "bore": 0.012}
    assert formulas.holds_in_any_units("{flow} / (π/4 · {bore}²)", speed, kinds, "speed")
    # q = 8.92·Δθ^1.1 of EN 1264-2 gives W/m² only for kelvin.
    fitted = "8.92 · ({surface} − {room})^1.1"
    degrees = dict.fromkeys(("surface", "room"), "temperature")
    values = {"surface": 27.0, "room": 20.0}
    assert not formulas.holds_in_any_units(fitted, values, degrees, "heat_flux")
    assert formulas.holds_in_any_units(
        "({surface} − {room}) + {9 K}", values, degrees, "temperature_difference"
    )
    # The part that does not govern has its say too.
    assert not formulas.holds_in_any_units(
        "min({surface} − {room}, 100)", values, degrees, "temperature_difference"
    )
