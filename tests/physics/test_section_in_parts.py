"""A floor put together of its parts is the floor worked in one piece."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from checker.physics import section_around_pipe
from checker.physics.build_up import Section, wet_section
from checker.physics.conduction import respond
from checker.physics.section_around_pipe import eliminated
from checker.physics.section_grid import mesh
from checker.physics.section_in_parts import parted, put_together
from tests.physics.test_section import DRY, EMBEDDED, JOISTS, SCREED

FLOORS = [
    SCREED,
    EMBEDDED,
    wet_section(0.05, 0.020, 2.0, 0.0, 0.025, 0.002, 0.35, 5.0),
    wet_section(0.45, 0.090, 0.8, 0.0, 0.012, 0.001, 0.22, 0.17, 0.020),
]


@pytest.mark.parametrize("section", FLOORS)
@pytest.mark.parametrize("fineness", [0.5, 1.0])
def test_the_parts_come_to_the_whole(section: Section, fineness: float) -> None:
    assert parted(section)
    below = np.array([1 / section.below])
    ((part, reduced),) = put_together([section], fineness, below)
    grid = mesh(section, fineness)
    above = np.array([1 / (1 / 10.8 + 0.1)])  # 10.8 W/(m²·K): EN 1264-2:2021, reported
    own = respond(reduced, above)
    whole = respond(eliminated([section], [grid]), above)
    assert part.angles == pytest.approx(grid.angles, abs=1e-15)
    assert part.across == pytest.approx(grid.x[0], abs=1e-15)
    # Rounding alone tells them apart.
    assert own.conductance == pytest.approx(whole.conductance, rel=1e-10, abs=1e-10)
    assert own.top == pytest.approx(whole.top, abs=1e-10)
    assert np.abs(own.conductance.sum(axis=2)).max() < 1e-10


def test_parts_are_shared_and_the_same_in_any_company() -> None:
    section_around_pipe.forget()
    floors = [
        wet_section(0.15, 0.040 + n / 1000, 0.9 + n / 10, 0.0, 0.016, 0.002, 0.35, 1.0 + n)
        for n in range(5)
    ]
    below = np.array([1 / one.below for one in floors])
    together = [reduced for _, reduced in put_together(floors, 1.0, below)]
    for number, floor in enumerate(floors):
        section_around_pipe.forget()
        ((_, alone),) = put_together([floor], 1.0, below[number : number + 1])
        for own, others in zip(alone.line, together[number].line, strict=True):
            assert (own == others).all()


@pytest.mark.parametrize("section", [DRY, JOISTS, replace(JOISTS, joist=0.0)])
def test_floors_of_several_materials_are_worked_in_one_piece(section: Section) -> None:
    assert not parted(section)
