"""The chances under tolerances on a terminal: no more is said than the draws show."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace

from checker.outcome.results import Measure
from checker.remedies.chances import BetweenSections, Chance, Chances
from checker.reports import chances
from checker.words.speech import PLAIN

LENGTH = Chance(
    "loop-length", "loops.L1", "Loop too long", "major", 0.9996, 0.0004,
    Measure(99.0, "m"), Measure(1.0, "m"), Measure(2.0, "m"), (),
)  # fmt: skip


def drawn(*limits: Chance, sound: float = 1.0, judged: int = 1, opened: int = 0) -> Chances:
    return Chances(
        "house.yaml", "Test House", 10_000, 0, sound, judged, opened, limits, (), (),
        BetweenSections(0, 0.0), PLAIN,
    )  # fmt: skip


def shown(one: Chances, **how: Any) -> str:
    return " ".join(chances.text([one], 80, False, **how).decode().split())


def test_a_design_that_cannot_be_judged_is_not_called_sound() -> None:
    nothing = drawn(judged=0)
    assert "Nothing could be judged in any draw, so nothing is proven." in shown(nothing)
    assert "100 %" not in shown(nothing)
    assert chances.plain(nothing)["sound"] is None


def test_what_is_open_in_some_draw_is_counted() -> None:
    words = shown(drawn(LENGTH, opened=2))
    assert "nothing critical or major that can be judged breaks." in words
    assert "Not judged in every draw, because data are missing: 2 limits." in words


@pytest.mark.parametrize(
    ("share", "words"),
    [(1.0, "100 %"), (0.9999, "99.9 %"), (0.57, "57 %"), (0.0, "0 %"), (0.1234, "12.3 %")],
)
def test_a_chance_is_never_rounded_up(share: float, words: str) -> None:
    assert f"In {words} of the draws nothing" in shown(drawn(LENGTH, sound=share))


def test_a_broken_limit_that_no_draw_moves_is_not_said_to_hold() -> None:
    assert "No limit that can be judged moves with what was drawn." in shown(drawn(sound=0.0))
    kept = replace(LENGTH, chance=1.0)
    assert "No draw breaks a limit that the draws move." in shown(drawn(kept))
