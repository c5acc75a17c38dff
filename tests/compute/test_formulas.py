"""Formulas as they are written by hand, filled with numbers, and worked out again."""

from __future__ import annotations

import math

import pytest

from checker.compute import formulas

SPEED = "{flow} / (π/4 · {bore}²)"


def test_a_formula_is_written_with_symbols() -> None:
    assert formulas.written(SPEED, {"flow": "V̇", "bore": "d"}) == "V̇ / (π/4 · d²)"


def test_numbers_are_bracketed_where_they_must_be() -> None:
    filled = formulas.filled(SPEED, {"flow": "2 l/min", "bore": "12 mm"})
    assert filled == "2 l/min / (π/4 · (12 mm)²)"
    assert formulas.filled("{a} − {b}", {"a": "1 K", "b": "−2 K"}) == "1 K − (−2 K)"
    assert formulas.filled("{a} / {b}", {"a": "6 m", "b": "3"}) == "6 m / 3"


def test_many_values_are_a_sum_or_a_list() -> None:
    texts: dict[str, str | list[str]] = {"loops": ["1 m", "2 m"], "own": "3 m"}
    assert formulas.filled("Σ{loops}", texts) == "1 m + 2 m"
    assert formulas.filled("Σ{loops} / {own}", texts) == "(1 m + 2 m) / (3 m)"
    assert formulas.filled("max({loops}) + {own}", texts) == "max(1 m, 2 m) + 3 m"


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        (SPEED, 3e-5 / (math.pi / 4 * 0.012**2)),
        ("|{a} − {b}| / {b}", 0.5),
        ("{a}^(1/1.1)", 2 ** (1 / 1.1)),
        ("√{a} + ln({b}) − exp(−{a})", math.sqrt(2) + math.log(4) - math.exp(-2)),
        ("Σ{many} + max({many}) − min({many})", 8.0),
        ("min({a}, {b})", 2.0),
        ("{a} + {9 K}", 11.0),
        ("{a} + {12 mm}", 2.012),
        ("{a} · {0.17 m²·K/W}", 0.34),
    ],
)
def test_a_formula_is_worked_out(formula: str, value: float) -> None:
    values: dict[str, float | list[float]] = {
        "flow": 3e-5, "bore": 0.012, "a": 2.0, "b": 4.0, "many": [1.0, 5.0 - 3.0, 3.0 + 0.0]
    }  # fmt: skip
    assert formulas.is_arithmetic(formula)
    assert formulas.worked(formula, values) == pytest.approx(value, rel=1e-12)


def test_what_cannot_be_worked_is_missing() -> None:
    assert math.isnan(formulas.worked("1 / {a}", {"a": 0.0}))
    assert math.isnan(formulas.worked("ln({a})", {"a": -1.0}))
    assert math.isnan(formulas.worked("{a} + 1", {"a": math.nan}))


@pytest.mark.parametrize("formula", ["of the fluid, at {a}", "B · a_B", "from 1/√f = {a}"])
def test_words_are_not_arithmetic(formula: str) -> None:
    assert not formulas.is_arithmetic(formula)


def test_only_a_sentence_has_no_equals_sign() -> None:
    assert formulas.is_words("read from the pump curve at {flow}")
    assert not formulas.is_words("B · a_B")
    assert not formulas.is_words("exp({a})")
