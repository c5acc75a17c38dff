"""Sections carried between places: held against sections of their own at places drawn at random."""

from __future__ import annotations

import numpy as np
import pytest

from checker.physics import carried
from checker.physics.build_up import Layer, Plate
from checker.physics.carried import LEAST_FILM, TOLERATED, Carried, Family, Kind, solved_at
from checker.physics.mixed_section import Layering
from checker.physics.section import TOLERANCE

SCREED = Kind(None, 0.017, 0.002, 0.4, 1.5, 0.0)
THIN = Kind(None, 0.012, 0.002, 0.35, 0.8, 0.01)
BOARDS = Kind(
    Layering(
        (Layer(0.02, 0.32), Layer(0.03, 0.035), Layer(0.022, 0.13)),
        1,
        0.008,
        Plate(0.0005, 0.12, 200.0),
    ),
    *(0.016, 0.002, 0.35, 0.17, 0.0),
)
JOISTS = BOARDS._replace(
    layering=Layering((Layer(0.022, 0.13), Layer(0.05, 0.04, 0.13)), 1, 0.01, None, 0.05, 0.6)
)
BOXES = [
    (SCREED, [0.135, 0.047, 1.05, 0.02], [0.165, 0.063, 1.42, 0.20]),
    (SCREED, [0.060, 0.030, 1.05, 0.10], [0.090, 0.045, 1.42, 0.20]),
    (THIN, [0.300, 0.022, 1.60, 0.01], [0.330, 0.037, 2.20, 0.05]),
    (BOARDS, [0.185, 0.0, 0.0, 0.04], [0.215, 0.0, 0.0, 0.06]),
    (JOISTS, [0.135, 0.0, 0.0, 0.08], [0.165, 0.0, 0.0, 0.12]),
]


@pytest.mark.parametrize(("kind", "low", "high"), BOXES)
def test_what_is_carried_is_what_is_solved(kind: Kind, low: list[float], high: list[float]) -> None:
    family = Family(kind, np.array(low), np.array(high))
    assert family.carries
    assert family.error <= TOLERATED <= TOLERANCE / 8
    chance = np.random.default_rng(5)
    places = chance.uniform(low, high, (40, 4))
    films = chance.uniform(0, LEAST_FILM, 40) * (np.arange(40) % 4 > 0)  # every fourth has none
    solved = solved_at(kind, places, films)
    assert solved is not None
    ways = family.conductances(places, films)
    # Twice what a few places showed: these are others, corners of the box among them.
    assert ways[:, :2] == pytest.approx(solved.conductances[:, :2], rel=2 * TOLERATED)
    off = np.abs(ways - solved.conductances)[:, 2] / solved.conductances[:, 0]
    assert off.max() <= 2 * TOLERATED
    assert family.surface(places, films) == pytest.approx(solved.surface, abs=2 * TOLERATED)


def test_where_no_polynomial_holds_each_is_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(carried, "TOLERATED", 0.0)
    kind, low, high = BOXES[3]
    family = Family(kind, np.array(low), np.array(high))
    assert not family.carries
    places, films = np.array([low, high]), np.array([0.0, 0.1])
    solved = solved_at(kind, places, films)
    assert solved is not None
    assert family.conductances(places, films).tolist() == solved.conductances.tolist()
    assert family.surface(places, films).tolist() == solved.surface.tolist()


def test_rows_are_told_by_the_family_of_their_kind_and_spacing() -> None:
    one = Carried()
    places = np.array([[0.1, 0, 0, 0.05], [0.2, 0, 0, 0.05], [0.104, 0, 0, 0.06]])
    kinds = [BOARDS, BOARDS._replace(below=0.5)]
    numbers = one.numbers(kinds, np.array([0, 0, 1]), places, places)
    assert numbers.tolist() == [0, 1, 2]
    films = np.full(3, 300.0)
    ways = one.conductances(numbers[[2, 0, 1]], films)
    assert len(one.families) == 3
    for row, (kind, place) in enumerate([(kinds[1], 2), (BOARDS, 0), (BOARDS, 1)]):
        bore = kind.outside - 2 * kind.wall
        solved = solved_at(kind, places[[place]], np.array([1 / (np.pi * bore * 300)]))
        assert solved is not None
        assert ways[row] == pytest.approx(solved.conductances[0], rel=TOLERATED, abs=1e-3)
    # A place beyond the box widens it: what is solved_at there is solved there, not carried on.
    wider = np.array([[0.1, 0, 0, 0.15]])
    (number,) = one.numbers([BOARDS], np.array([0]), wider, wider)
    (way,) = one.conductances(np.array([number]), np.array([300.0]))
    solved = solved_at(BOARDS, wider, np.array([1 / (np.pi * 0.012 * 300)]))
    assert solved is not None
    assert way == pytest.approx(solved.conductances[0], rel=TOLERATED, abs=1e-3)
    assert len(one.families) == 3


def test_rows_that_are_forgotten_leave_the_numbers_of_the_next_to_begin_anew() -> None:
    one = Carried()
    places = np.array([[0.1, 0, 0, 0.05], [0.104, 0, 0, 0.06]])
    which, films = np.array([0, 0]), np.full(2, 300.0)
    before = one.conductances(one.numbers([BOARDS], which, places, places), films)
    one.forget_rows()
    numbers = one.numbers([BOARDS], which, places, places)
    assert numbers.tolist() == [0, 1]
    assert one.conductances(numbers, films).tolist() == before.tolist()
    assert len(one.families) == 1
