"""A number in words: the digits that a site can use, rounded as by hand, one or many."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checker.words import FEW, number, numbers


def at_once(values: list[float]) -> list[str]:
    """The numbers as they are written where there are many."""
    return numbers([*values, *[1.0] * FEW, 1.0])[: len(values)]


def by_hand(value: float) -> Decimal:
    """The same worked in decimal arithmetic (General Decimal Arithmetic, round-half-up)."""
    exact = Decimal(repr(value))
    size = abs(value)
    if size >= 1 or not value:
        decimals = 0 if size >= 1000 else 1 if size >= 10 else 2
    else:
        decimals = 2 - exact.adjusted()
    return exact.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)


DECIMALS = st.decimals(-100_000, 100_000, places=4).map(float)


@given(st.lists(DECIMALS | st.floats(1e-4, 1e7) | st.floats(-1e7, -1e-4), min_size=1))
def test_many_read_as_one_does(values: list[float]) -> None:
    assert at_once(values) == [number(value) for value in values]


@given(DECIMALS)
def test_a_number_is_rounded_as_by_hand(value: float) -> None:
    assert Decimal(number(value)) == by_hand(value)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (120.65, "120.7"),
        (11.65, "11.7"),
        (17.15, "17.2"),
        (13.35, "13.4"),
        (-3.125, "-3.13"),
        (1234.5, "1235"),
        (0.0625, "0.0625"),
        (0.00012345, "0.000123"),
        (9.996, "10"),
    ],
)
def test_a_half_goes_away_from_nought(value: float, words: str) -> None:
    assert number(value) == words
    assert numbers([value]) == at_once([value]) == [words]


def test_figures_of_what_a_site_meets() -> None:
    values = [88.0, 1.834, 0.0215, 12.36, 4190.4, 100.04, 0.0, -0.0, 0.123456]
    assert (
        at_once(values)
        == numbers(values)
        == ["88", "1.83", "0.0215", "12.4", "4190", "100", "0", "0", "0.123"]
    )


def test_a_missing_number_is_empty() -> None:
    values = [1.0, math.nan, 2.5]
    assert numbers(values) == at_once(values) == ["1", "", "2.5"]
    assert numbers([math.inf]) == at_once([math.inf]) == [""]
    assert numbers([]) == []
