"""Other jobs of an archive that share a cause: the same finding, or the same pattern of inputs.

Nearness is the mean likeness of the traits that both jobs state, each 0 to 1: words are alike or
not, numbers as far apart as their range allows (J. C. Gower, A General Coefficient of Similarity
and Some of Its Properties, Biometrics 27, 1971; from memory). Exposure is what the job's own
papers give the cause, as a share of what they could give it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

import numpy as np
from msgspec import Struct

from checker.audit import jobs
from checker.audit.complaints import Cause, complaints
from checker.audit.jobs import Job, Sheet
from checker.audit.needed import ON_PAPER
from checker.audit.on_site import Site
from checker.audit.ranking import degree_of, diminishing_sum, sign_degree
from checker.audit.readings import NONE_TAKEN
from checker.audit.signs import SIGNS
from checker.reading.mistakes import Unreadable
from checker.run.batch import BY_THE_DESIGN, Plan

ALIKE = 0.8
"""From this likeness on a trait, or a job with no finding, counts as alike; our convention."""
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
"""How far apart numbers (SI, days) may be before they are not alike at all; our convention."""

Traits = dict[str, str | float]


class SimilarJob(Struct, frozen=True):
    """Another job, how near it is and how exposed, each 0 to 1."""

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
    """The jobs that share a cause: with a finding of it, and with its pattern alone."""

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
    """The siblings of this job under a folder, those most exposed and nearest first."""
    own = traits(job.current, subject)
    own_files = {os.path.realpath(paper.design.path) for paper in job.sheets}
    found: dict[tuple[str, str], tuple[str, SimilarJob]] = {}
    unreadable: list[Unreadable] = []
    for sheets, refused in jobs.sheets_under(archive, plan, excluded):
        unreadable += refused
        for sheet in sheets:
            path = sheet.design.path
            if os.path.realpath(path) in own_files:
                continue
            key = (os.path.dirname(path), sheet.report.name)
            known = found.get(key)
            if known is None or known[0] == jobs.DESIGN:
                found[key] = (sheet.stage, _sibling(sheet, cause, own))
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


def traits(sheet: Sheet, subject: str = "") -> Traits:
    """What a job is made of, where it is stated: of this subject, else of its first loop."""
    about = sheet.related(subject) if subject else set()
    loops = [loop for loop in sheet.ids("loops") if not about or f"loops.{loop}" in about]
    found: Traits = {}
    for name, text in _texts(sheet, loops[0] if loops else ""):
        if text:
            found[name] = text
    for name, number in _numbers(sheet, loops):
        if not np.isnan(number):
            found[name] = number
    return found


def _texts(sheet: Sheet, loop: str) -> Iterator[tuple[str, str]]:
    # Of a loop in parts the first, as of a design's loops.
    floor, room = (next(iter(sheet.named(loop, key)), "") for key in ("floor", "room"))
    yield "pipe material", sheet.text("pipes", sheet.text("loops", loop, "pipe"), "material")
    yield "screed", sheet.text("floors", floor, "screed.material")
    yield "construction", sheet.text("floors", floor, "construction")
    yield "covering", sheet.text("rooms", room, "covering.material")
    yield "heat source", sheet.design.text("plant", "source")
    yield "designer", sheet.design.text("project", "designer")
    yield "contractor", sheet.design.text("project", "contractor")


def _numbers(sheet: Sheet, loops: list[str]) -> Iterator[tuple[str, float]]:
    def mean(name: str) -> float:
        values = np.array([sheet.value("loop", name, loop) for loop in loops])
        known = values[~np.isnan(values)]
        return float(known.mean()) if len(known) else float("nan")

    yield "pipe size", mean("pipe.outside")
    yield "spacing", mean("spacing")
    yield "screed cover", mean("floor.screed.cover")
    yield "insulation", mean("floor.insulation")
    yield "covering resistance", mean("room.covering.resistance")
    yield "supply", mean("supply_temperature")
    yield "header bore", mean("header.bore")
    day = sheet.day("project.designed_on")
    yield "period", float("nan") if day is None else float(day.toordinal())


def likeness(one: Traits, other: Traits) -> dict[str, float]:
    """How alike each trait is that both state, 0 to 1."""
    found = {}
    for name in one.keys() & other.keys():
        mine, its = one[name], other[name]
        if isinstance(mine, str) or isinstance(its, str):
            found[name] = float(mine == its)
        else:
            found[name] = max(0.0, 1 - abs(mine - its) / RANGES[name])
    return found


def exposure(sheet: Sheet, cause: Cause) -> tuple[float, list[str]]:
    """What a job's papers give the cause, as a share of what they could; and the findings.

    Broken rules count, and those signs that papers and the recorded balance show without a visit.
    """
    fails = sheet.report.results_of("fail")
    site = Site(Job("", [sheet], NONE_TAKEN))
    signs = complaints().signs
    could, points, findings = [], [], []
    for piece in cause.speaks_for:
        own: list[tuple[float, str]] = []
        if piece.rule:
            own = [
                (degree_of(result) or 0.0, f"{result.subject}: {result.message}")
                for result in fails
                if result.rule == piece.rule
            ]
        elif piece.sign in ON_PAPER:
            sign = signs[piece.sign]
            for name in sheet.ids(f"{sign.subject}s"):
                seen = SIGNS[piece.sign](site, name)
                if not np.isnan(seen.value):
                    words = f"{sign.subject}s.{name}: {sign.title}: {seen.words}"
                    own.append((sign_degree(seen, sign.least, sign.full), words))
        else:
            continue
        could.append(piece.points)
        degree, words = max(own, key=lambda pair: pair[0], default=(0.0, ""))
        if degree > 0:
            points.append(piece.points * degree)
            findings.append(words)
    most = diminishing_sum(sorted(could, reverse=True))
    return (diminishing_sum(sorted(points, reverse=True)) / most if most else 0.0), findings


def _sibling(sheet: Sheet, cause: Cause, own: Traits) -> SimilarJob:
    alike = likeness(own, traits(sheet))
    exposed, findings = exposure(sheet, cause)
    day = sheet.day("project.designed_on")
    ordered = sorted(alike, key=lambda name: (-alike[name], name))
    return SimilarJob(
        sheet.design.path,
        sheet.report.name,
        "" if day is None else day.isoformat(),
        sheet.design.text("project", "designer"),
        sheet.design.text("project", "contractor"),
        round(sum(alike.values()) / len(alike), 3) if alike else 0.0,
        round(exposed, 3),
        tuple(findings),
        tuple(name for name in ordered if alike[name] >= ALIKE),
        tuple(name for name in ordered if alike[name] < ALIKE),
    )
