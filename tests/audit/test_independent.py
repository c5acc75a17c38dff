"""The models that judge the audit share nothing with it, and are sound themselves."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

from tests.audit.independent import kinds, papers, vessel
from tests.audit.independent.floor import Section, star

FOLDER = Path(kinds.__file__).parent
SECTION = Section(0.15, 0.045, 1.2, 0.02, 2.5, 0.016, 0.002, 0.35)


def test_nothing_of_the_program_is_used() -> None:
    for path in FOLDER.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [one.name for one in node.names] if isinstance(node, ast.Import) else []
            assert not any(name.split(".")[0] == "checker" for name in names), path.name


def test_there_are_kinds_enough_with_no_one_and_two_causes() -> None:
    every = [*kinds.KINDS, *kinds.LEARNT, *kinds.FRESH, *kinds.LATEST]
    assert len({kind.name for kind in every}) == len(every) >= 40
    for part in (kinds.tuning(), kinds.reporting()):
        assert {len(kind.causes) for kind in part} == {0, 1, 2}
    assert not {k.name for k in kinds.tuning()} & {k.name for k in kinds.reporting()}
    tuned = {(k.building, k.instruments) for k in kinds.tuning()}
    apart = [k for k in kinds.LATEST if (k.building, k.instruments) not in tuned]
    assert len(apart) == len(kinds.LATEST) >= 15


def test_close_pipes_come_to_layers_in_series() -> None:
    # With pipes so close, the screed is heated evenly, and only covering, screed and the film of air
    # are in the way: 10.8 W/(m²·K), EN 1264-2:2021.
    close = star(SECTION._replace(spacing=0.02, wall=0.0001, pipe=400.0))
    up = close.water * close.room / (close.water + close.room)
    assert up == pytest.approx(1 / (1 / 10.8 + 0.02 + 0.045 / 1.2), rel=0.06)


def test_a_covering_that_resists_more_lets_less_through() -> None:
    flux = [star(SECTION._replace(covering=r)).room for r in (0.0, 0.05, 0.15)]
    assert flux == sorted(flux, reverse=True)


@pytest.mark.parametrize(("material", "sign"), [("copper", 1), ("PE-X", -1), ("PB", -1)])
def test_warming_lifts_the_pressure_in_metal_and_lowers_it_in_plastic(
    material: str, sign: int
) -> None:
    pipes = vessel.drawn(material, np.random.default_rng(1), 0.05, 0.0)
    at = np.array([0.0, 600.0])
    steady, warmer = (
        vessel.record(pipes, 4e5, 86400.0, at, np.array([15.0, end]))[-1] for end in (15.0, 16.0)
    )
    assert np.sign(warmer - steady) == sign


def test_a_leak_is_what_tells_two_records_apart() -> None:
    pipes = vessel.drawn("PE-RT", np.random.default_rng(2), 0.05, 0.0)
    leaking = vessel.Pipes(**{**pipes.__dict__, "leak": 40 / 3.6e9})
    at, warm = np.linspace(0, 86400, 5), np.full(5, 15.0)
    tight, lost = (vessel.record(one, 4e5, 3600.0, at, warm) for one in (pipes, leaking))
    assert (np.diff(tight) < 0).all()  # it creeps
    assert (lost[1:] < tight[1:] - 1e4).all()


@pytest.mark.long
def test_a_job_is_the_same_for_the_same_seed() -> None:
    kind = kinds.KINDS[1]
    assert papers.make(kind, 3).files == papers.make(kind, 3).files != papers.make(kind, 4).files
