"""Films of water: they stand where trying them gives them again, in any company."""

from __future__ import annotations

import numpy as np
import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute import settling
from checker.compute.graph import Graph
from checker.compute.registry import REGISTRY
from checker.compute.settling import STILL, next_film, settled
from checker.design.tables import Tables
from tests.benchmarks.sections import DRY, design
from tests.design.designs import generate

MANY = [
    design(DRY)
    .replace(b"area: 12 m", f"area: {area} m".encode())
    .replace(b"heat_load: 3 kW", f"heat_load: {load} kW".encode())
    .replace(b"area: 60 m", f"area: {5 * area} m".encode())
    for area, load in ((6, 1), (8, 2), (10, 2), (12, 3), (14, 2.5), (40, 6))
]
"""Laminar, turbulent and between."""


def tables(*designs: bytes) -> Tables:
    made = Tables()
    for number, content in enumerate(designs):
        made.add(f"{number}.yaml", content)
    return made


def films(graph: Graph, name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    values: np.ndarray[tuple[int], np.dtype[np.float64]] = graph.column("part", name).values
    return values


def test_the_last_film_gives_itself() -> None:
    graph = settled(tables(*MANY))
    tried, found = films(graph, "working_film"), films(graph, "loop.film")
    assert found == pytest.approx(tried, rel=2 * STILL)
    assert tried.min() < 250 < 1500 < tried.max()


def test_heat_is_as_when_each_film_found_is_tried_many_times() -> None:
    """The same worked the plain way, without a line to where they meet."""
    own = tables(*MANY)
    plain = Graph(own)
    for _ in range(30):
        film = films(plain, "loop.film")
        plain = Graph(own, earlier=plain, handed={("part", "working_film"): film})
    assert films(plain, "loop.film") == pytest.approx(films(plain, "working_film"), rel=1e-6)
    graph = settled(own)
    for name in ("working_coefficient", "output", "down_loss"):
        assert films(graph, name) == pytest.approx(films(plain, name), rel=2e-4), name


def test_a_loop_comes_out_the_same_in_any_company() -> None:
    together = settled(tables(*MANY))
    for place, content in enumerate(MANY):
        alone = settled(tables(content))
        own = slice(5 * place, 5 * place + 5)
        for name in ("working_film", "output", "loop.flow"):
            assert films(together, name)[own].tolist() == films(alone, name).tolist()


def test_few_rounds_are_worked(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def counted(*films: object) -> object:
        asked.append(films)
        return next_film(*films)  # type: ignore[arg-type]

    monkeypatch.setattr(settling, "next_film", counted)
    settled(tables(design(DRY)))
    assert len(asked) <= 3
    # Loops whose floor the tables know have a film of water too, which nothing is worked with.
    asked.clear()
    settled(tables(design(DRY), generate(5, loops=4).encode()))
    assert len(asked) <= 3
    # And where the tables know all floors, there is nothing to settle.
    asked.clear()
    settled(tables(generate(5, loops=4).encode()))
    assert not asked


@pytest.mark.parametrize("slope", [-1.8, -0.3, 0.0, 0.2, 0.45])
def test_a_straight_line_is_followed_to_its_end(slope: float) -> None:
    """1/film found is 0.002 + slope · (1/film tried − 0.002): it meets at 500."""

    def found(tried: np.ndarray[tuple[int], np.dtype[np.float64]]) -> object:
        return 1 / (0.002 + slope * (1 / tried - 0.002))

    first = np.array([np.inf])
    second = next_film(first, found(first), None)  # type: ignore[arg-type]
    before = first, found(first)
    third = next_film(second, found(second), before)  # type: ignore[arg-type]
    assert third == pytest.approx([500.0], rel=1e-9 if slope else STILL)


def test_a_line_that_would_meet_at_no_film_is_not_followed() -> None:
    """1/film: 0.0025 gave 0.0011, 0.002 gave 0.00065; at half that slope both are one below 0."""
    tried, found = np.array([500.0]), np.array([1 / 0.00065])
    before = np.array([400.0]), np.array([1 / 0.0011])
    assert next_film(tried, found, before) == pytest.approx(found)


def test_what_is_still_stays_and_what_is_never_found_is_unknown() -> None:
    tried = np.array([np.inf, np.nan, 500.0, 500.0, np.nan])
    found = np.array([np.nan, np.nan, 500.4, 510.0, 300.0])
    film = next_film(tried, found, None)
    assert film[:3].tolist() == pytest.approx([np.nan, np.nan, 500.0], nan_ok=True)
    assert film[3] == pytest.approx(510.0)
    assert np.isnan(film[4])  # no section is judged by there


@pytest.mark.parametrize("step", [1, -1])
def test_a_graph_that_continues_another_gives_what_one_of_its_own_gives(step: int) -> None:
    """Whatever was asked first: what depends on a film is worked out again, the rest is kept."""
    own, names = tables(MANY[0]), [*REGISTRY][::step]
    first = Graph(own)
    for subject, name in names:
        first.column(subject, name)
    handed = {("part", "working_film"): 0.7 * films(first, "loop.film")}
    continued = Graph(own, earlier=first, handed=handed)
    anew = Graph(own, handed=handed)
    for subject, name in names:
        found, wanted = continued.column(subject, name), anew.column(subject, name)
        np.testing.assert_array_equal(found.values, wanted.values, err_msg=name)
    assert not np.array_equal(films(continued, "loop.output"), films(first, "loop.output"))
    flows = [one.members.part("header", "loops.flow")[0].tolist() for one in (continued, first)]
    assert flows[0] != flows[1]
    assert continued.column("loop", "length") is first.column("loop", "length")
    assert continued.members.part("header", "loops.length") is first.members.part(
        "header", "loops.length"
    )
