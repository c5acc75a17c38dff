"""Numbers in bulk read as they do one by one."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checker.outcome.phrasing import figures, written
from checker.words import number


@given(st.lists(st.floats(1e-4, 1e7) | st.floats(-1e7, -1e-4) | st.just(0.0), min_size=1))
def test_figures_are_those_of_one_number(numbers: list[float]) -> None:
    for value, shown in zip(numbers, figures(numbers), strict=True):
        one = float(number(value))
        # At a tie, and only there, the last figure may differ.
        assert shown == pytest.approx(one, rel=1.01e-2 if abs(value) < 1 else 6e-3)
        assert float(number(shown)) == shown


def test_figures_of_what_a_site_meets() -> None:
    numbers = [88.0, 1.834, 0.0215, 12.36, 4190.4, 100.04, 0.0, -0.0, 0.123456]
    words = [word.decode() for word in written(figures(numbers), whole=True)]
    assert words == ["88", "1.83", "0.0215", "12.4", "4190", "100", "0", "0", "0.123"]


def test_a_missing_number_is_empty() -> None:
    assert math.isnan(figures([math.nan])[0])
    assert written([1.0, math.nan, 2.5]) == [b"1.0", b"", b"2.5"]
    assert written([]) == []
