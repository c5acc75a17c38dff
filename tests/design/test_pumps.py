"""Pumps of headers: curves of several speeds, one pump for several headers."""

from __future__ import annotations

import numpy as np
import pytest

from checker.design.tables import BadDesign, Tables
from tests.design.designs import generate
from tests.design.house import column, mistakes


@pytest.mark.parametrize("pump", ["['']", "[[]]", "x", "''", "7", "[a, b]"])
def test_a_pump_that_is_no_pump_is_refused(pump: str) -> None:
    text = f"design: 1\nheaders: {{H1: {{ports: 2, pump: {pump}}}}}\n"
    with pytest.raises(BadDesign, match=r"headers\.H1\.pump"):
        Tables().add("a.yaml", text.encode())


@pytest.mark.parametrize(
    ("curve", "said"),
    [
        ("[[0 l/min, 20 kPa], [5 l/min, 25 kPa]]", "2:49 headers.H.pump.curve: the head rises"),
        ("[[0 l/min, 20 kPa], [0 l/min, 15 kPa]]", "2:49 headers.H.pump.curve: two points have"),
    ],
)
def test_a_pump_curve_falls_and_has_one_head_at_each_flow(curve: str, said: str) -> None:
    (words,) = mistakes(f"design: 1\nheaders: {{H: {{pump: {{curve: {curve}}}}}}}")
    assert words.startswith(said)


SPEEDS = (
    "curves: {low: [[0 l/min, 20 kPa], [5 l/min, 8 kPa]],"
    " high: [[0 l/min, 40 kPa], [9 l/min, 10 kPa]]}"
)


def pumps(first: str, second: str) -> str:
    return f"design: 1\nheaders: {{H1: {{pump: {first}}}, H2: {{pump: {second}}}}}\n"


def test_of_several_speeds_the_curve_of_the_setting_counts() -> None:
    tables = Tables()
    tables.add("a.yaml", pumps(f"{{{SPEEDS}, setting: high}}", f"{{{SPEEDS}}}").encode())
    assert column(tables, "pump_curve", "head").tolist() == [40e3, 10e3]
    assert [*tables["pump_curve"].parents] == [0, 0]
    assert column(tables, "pump_curves", "head").tolist() == [20e3, 8e3, 40e3, 10e3] * 2


def test_headers_on_one_pump_name_the_one_that_states_it() -> None:
    tables = Tables()
    tables.add("other.yaml", generate(1).encode())
    before = len(tables["headers"])
    tables.add(
        "a.yaml", pumps("{curve: [[0 l/min, 2 kPa], [9 l/min, 0 kPa]]}", "{with: H1}").encode()
    )
    np.testing.assert_array_equal(column(tables, "headers", "pump.with")[before:], [np.nan, before])


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        (f"{{{SPEEDS}, setting: hihg}}", "{}", "there is no curve 'hihg'; did you mean 'high'?"),
        ("{setting: high}", "{}", "there are no curves to choose from"),
        (f"{{{SPEEDS}, curve: [[0 l/min, 9 kPa]]}}", "{}", "with 'curves', this is one of them"),
        ("{curves: {low: [[0 l/min, 2 kPa], [5 l/min, 8 kPa]]}}", "{}", "the head rises with the"),
        (
            "{curves: {low: [[5 l/min, 9 kPa], [5 l/min, 8 kPa]]}}",
            "{}",
            "two points have the same flow",
        ),
        ("{curves: {low: 3 kPa}}", "{}", "a list is expected here, such as [[20 l/min, 45 kPa]]"),
        ("{curves: [[0 l/min, 9 kPa]]}", "{}", "such as {low: [[20 l/min, 45 kPa]]}"),
        ("{with: H3}", "{}", "there is no 'H3' in headers"),
        ("{with: H1}", "{}", "a header is not with itself"),
        ("{with: H2}", "{with: H1}", "the pump of H2 is that of H1; name H1 here too"),
        ("{with: H2, setting: high}", "{}", "the pump is that of H2; state this there"),
    ],
)
def test_a_pump_that_cannot_be(first: str, second: str, said: str) -> None:
    assert any(said in words for words in mistakes(pumps(first, second)))
