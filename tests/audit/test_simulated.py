"""Planted causes are ranked first far more often than a plain ordering by severity has them."""

from __future__ import annotations

import pytest

from checker.audit.jobs import NoJob
from tests.audit.simulated import simulate
from tests.audit.simulated_troubles import PLANTS
from tests.benchmarks.complaints import Scores, job_of, score

JOBS = 100
UNSEEN = 7
"""A seed other than the one that the data file was tried on."""


@pytest.fixture(scope="module")
def scores() -> Scores:
    return score(JOBS, UNSEEN)


@pytest.mark.long
def test_the_planted_cause_is_ranked_first(scores: Scores) -> None:
    # 2,000 jobs gave 0.86 and 0.95; three standard deviations of 100 jobs are 0.10 and 0.07.
    assert scores.ranked.within(1) >= 0.75
    assert scores.ranked.within(3) >= 0.88


@pytest.mark.long
def test_evidence_beats_severity_clearly(scores: Scores) -> None:
    assert scores.ranked.within(1) >= scores.by_severity.within(1) + 0.2
    assert scores.ranked.within(3) >= scores.by_severity.within(3) + 0.08


@pytest.mark.long
def test_every_cause_that_is_planted_can_be_read() -> None:
    planted = set()
    for number in range(40):
        simulated = simulate(number)
        planted.add(simulated.complaint)
        try:
            job_of(simulated)
        except NoJob as none:
            pytest.fail(f"{simulated.name}: {none}")
    assert planted == set(PLANTS)


def test_the_same_seed_makes_the_same_job() -> None:
    assert simulate(3, 1).files == simulate(3, 1).files
    assert simulate(3, 1).files != simulate(3, 2).files
