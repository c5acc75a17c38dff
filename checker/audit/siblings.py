"""Finds other jobs in an archive that share a cause: the same finding, or similar inputs.

Nearness is the mean similarity of the traits that both jobs state, each from 0 to 1: words are
equal or not, numbers by their difference over a range (J. C. Gower, A General Coefficient of
Similarity and Some of Its Properties, Biometrics 27, 1971; from memory). Exposure is how much a
job's own papers support the cause, as a share of what they could.
"""

from __future__ import annotations

import os
from collections.abc import Callable

from msgspec import Struct

from checker.audit.complaints import Cause
from checker.audit.jobs import Job
from checker.audit.papers import DESIGN
from checker.audit.profiles import Profile, Traits, exposure, profiles, traits
from checker.reading.mistakes import Unreadable
from checker.run.batch import BY_THE_DESIGN, Plan

ALIKE = 0.8
"""Traits, and jobs without a finding, count as alike from this similarity; our convention."""
YEAR = 365.25

RANGES = {
    "pipe size": 0.010,
    "spacing": 0.150,
    "screed cover": 0.040,
    "insulation": 3.0,
    "covering resistance": 0.10,
    "supply": 15.0,
    "header bore": 0.020,
    "period": 5 * YEAR,
}
"""Numbers this far apart (SI, days) are not alike at all; our convention."""


class SimilarJob(Struct, frozen=True):
    """Another job, how near it is and how exposed, each from 0 to 1."""

    path: str
    name: str
    designed_on: str
    designer: str
    contractor: str
    nearness: float
    exposure: float
    findings: tuple[str, ...]
    alike: tuple[str, ...]
    differs: tuple[str, ...]


class SimilarJobs(Struct, frozen=True):
    """The jobs that share a cause.

    Attributes:
        cause: its title.
        archive: the folder that was searched.
        looked_at: how many other jobs there are in it.
        found_sharing: how many have a finding of the cause.
        found_pattern: how many have similar inputs only.
        sharing: the first of the former.
        pattern: the first of the latter.
        unreadable: what could not be read.
    """

    cause: str
    archive: str
    looked_at: int
    found_sharing: int
    found_pattern: int
    sharing: tuple[SimilarJob, ...]
    pattern: tuple[SimilarJob, ...]
    unreadable: tuple[Unreadable, ...] = ()


def family(
    job: Job,
    cause: Cause,
    archive: str,
    subject: str = "",
    most: int = 20,
    plan: Plan = BY_THE_DESIGN,
    excluded: Callable[[str], bool] = lambda path: False,
) -> SimilarJobs:
    """Find the jobs under a folder that share a cause with this one.

    Args:
        job: the job of the complaint.
        cause: its cause.
        archive: the folder.
        subject: what the complaint is about; empty for the whole job.
        most: how many of each kind are listed.
        plan: how the designs are judged.
        excluded: whether the policy excludes a path.

    Returns:
        Those with a finding of the cause, the most exposed and nearest first, and those that are
        alike without one, the nearest first; a job's own files are left out.
    """
    own = traits(job.current, subject)
    own_files = {os.path.realpath(paper.design.path) for paper in job.papers}
    found: dict[tuple[str, str], tuple[str, SimilarJob]] = {}
    unreadable: list[Unreadable] = []
    for others, refused in profiles(archive, plan, excluded):
        unreadable += refused
        for other in others:
            if os.path.realpath(other.path) in own_files:
                continue
            key = (os.path.dirname(other.path), other.name)
            known = found.get(key)
            if known is None or known[0] == DESIGN:
                found[key] = (other.stage, _sibling(other, cause, own))
    all_of_them = [sibling for _, sibling in found.values()]
    sharing = [sibling for sibling in all_of_them if sibling.exposure > 0]
    pattern = [s for s in all_of_them if s.exposure == 0 and s.nearness >= ALIKE]
    sharing.sort(key=lambda s: (-s.exposure * s.nearness, s.path))
    pattern.sort(key=lambda s: (-s.nearness, s.path))
    return SimilarJobs(
        cause.title,
        archive,
        len(all_of_them),
        len(sharing),
        len(pattern),
        tuple(sharing[:most]),
        tuple(pattern[:most]),
        tuple(unreadable),
    )


def likeness(one: Traits, other: Traits) -> dict[str, float]:
    """Compare the traits of two jobs.

    Args:
        one: of a job.
        other: of another job.

    Returns:
        The similarity of each trait that both state, 0 to 1.
    """
    found = {}
    for name in one.keys() & other.keys():
        mine, its = one[name], other[name]
        if isinstance(mine, str) or isinstance(its, str):
            found[name] = float(mine == its)
        else:
            found[name] = max(0.0, 1 - abs(mine - its) / RANGES[name])
    return found


def _sibling(job: Profile, cause: Cause, own: Traits) -> SimilarJob:
    """Another job beside this one: how near and how exposed it is."""
    alike = likeness(own, job.traits)
    exposed, findings = exposure(job, cause)
    ordered = sorted(alike, key=lambda name: (-alike[name], name))
    return SimilarJob(
        job.path,
        job.name,
        job.designed_on,
        job.designer,
        job.contractor,
        round(sum(alike.values()) / len(alike), 3) if alike else 0.0,
        round(exposed, 3),
        tuple(findings),
        tuple(name for name in ordered if alike[name] >= ALIKE),
        tuple(name for name in ordered if alike[name] < ALIKE),
    )
