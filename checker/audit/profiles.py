"""The profile of each job: its traits, and what its papers show of any cause. Siblings are found by
it.

A profile is small and depends only on the design, the rules and the program, so it is kept in the
cache: a second search of an archive judges only what is new in it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from msgspec import Struct, msgpack
from msgspec.structs import replace

from checker.audit import jobs
from checker.audit.complaints import Cause, complaints
from checker.audit.degrees import degree_of, diminishing_sum, sign_degree
from checker.audit.jobs import Job
from checker.audit.needed import ON_PAPER
from checker.audit.on_site import Site
from checker.audit.papers import JudgedDesign
from checker.audit.readings import NONE_TAKEN
from checker.audit.signs import SIGNS
from checker.reading import design_files
from checker.reading.mistakes import Unreadable
from checker.run import batch, sheets
from checker.run.batch import Plan
from checker.run.cache import Cache, key_of, unpacked
from checker.run.part import basis_of, part_of
from checker.run.progress import at_once, progress_bar
from checker.run.rules_in_force import compiled_rules

Traits = dict[str, str | float]

EvidenceShown = tuple[float, str]
"""How far a piece of evidence is there (0: not at all), and in words."""


class Profile(Struct, frozen=True):
    """What the search for siblings needs from one job's papers.

    Attributes:
        path: of the design, as shown.
        name: of the job.
        stage: that the design states.
        designed_on: ISO 8601; empty where it is unknown.
        traits: what the job is made of, by name.
        rules: by id, the strongest evidence on any subject.
        signs: likewise.
    """

    path: str
    name: str
    stage: str
    designed_on: str
    designer: str
    contractor: str
    traits: Traits
    rules: dict[str, EvidenceShown]
    signs: dict[str, EvidenceShown]


def profile(paper: JudgedDesign) -> Profile:
    """Make the profile of a design.

    Args:
        paper: the design, judged.

    Returns:
        Plain data that depend on nothing but the design and the rules.
    """
    day = paper.day("project.designed_on")
    return Profile(
        paper.design.path,
        paper.report.name,
        paper.stage,
        "" if day is None else day.isoformat(),
        paper.design.text("project", "designer"),
        paper.design.text("project", "contractor"),
        traits(paper),
        _broken(paper),
        _seen(paper),
    )


def profiles(
    folder: str, plan: Plan, excluded: Callable[[str], bool]
) -> Iterator[tuple[list[Profile], list[Unreadable]]]:
    """Make the profiles of all designs under a folder, some at a time.

    Args:
        folder: where to look.
        plan: how the designs are judged.
        excluded: whether the policy excludes a path.

    Yields:
        Some profiles, in the order of their files, and what could not be read among these.
    """
    named = design_files.designs([folder])
    files = [path for path in named.files if not excluded(path)]
    if named.problems:
        yield [], named.problems
    cache = Cache()
    if not plan.compiled:  # the very rules that profiles are kept under must judge
        plan = replace(plan, rules=(), compiled=compiled_rules(plan.rules, cache))
    basis = key_of(b"profile", basis_of(plan), msgpack.encode(complaints()))
    try:
        with progress_bar(len(files)) as advance:
            for some in batch.chunks(files, min(jobs.AT_ONCE, at_once())):
                yield _profiles_of(some, plan, cache, basis)
                advance(len(some))
    finally:
        cache.close()


def _profiles_of(
    files: list[str], plan: Plan, cache: Cache, basis: bytes
) -> tuple[list[Profile], list[Unreadable]]:
    """The profiles of some files in order; those in the cache are not made again."""
    taken = sheets.take(files, frozenset())
    part = part_of(taken.files, cache, basis, plan, read=False)
    found = {
        path: msgpack.decode(unpacked(kept), type=Profile) for path, kept in part.known.items()
    }
    contents, unread = jobs.read(path for path, _ in part.to_do)
    made, refused = jobs.judged_of_search(contents, plan)
    fresh = {paper.design.path: profile(paper) for paper in made}
    found |= {path: fresh[own] for path in taken.files if (own := batch.shown(path)) in fresh}
    cache.put(
        (part.keys[path], msgpack.encode(found[path]))
        for path, _ in part.to_do
        if path in found and path in part.keys
    )
    in_order = [found[path] for path in taken.files if path in found]
    return in_order, [*taken.problems, *unread, *refused]


def traits(paper: JudgedDesign, subject: str = "") -> Traits:
    """List what a job is made of, as far as it is stated.

    Args:
        paper: the job's design.
        subject: a room, loop, header, floor or pipe ('rooms.kitchen'); empty for all loops.

    Returns:
        By name, texts of the first loop that belongs to the subject, and numbers, SI, as means over
        all that do.
    """
    about = paper.related(subject) if subject else set()
    loops = [loop for loop in paper.ids("loops") if not about or f"loops.{loop}" in about]
    found: Traits = {}
    for name, text in _texts(paper, loops[0] if loops else ""):
        if text:
            found[name] = text
    for name, number in _numbers(paper, loops):
        if not np.isnan(number):
            found[name] = number
    return found


def _texts(paper: JudgedDesign, loop: str) -> Iterator[tuple[str, str]]:
    # Of a loop in parts the first, as of a design's loops.
    """The traits that are words, empty where they are not stated."""
    floor, room = (next(iter(paper.named(loop, key)), "") for key in ("floor", "room"))
    yield "pipe material", paper.text("pipes", paper.text("loops", loop, "pipe"), "material")
    yield "screed", paper.text("floors", floor, "screed.material")
    yield "construction", paper.text("floors", floor, "construction")
    yield "covering", paper.text("rooms", room, "covering.material")
    yield "heat source", paper.design.text("plant", "source")
    yield "designer", paper.design.text("project", "designer")
    yield "contractor", paper.design.text("project", "contractor")


def _numbers(paper: JudgedDesign, loops: list[str]) -> Iterator[tuple[str, float]]:
    """The traits that are numbers, SI, NaN where they are not stated; `period` in days."""

    def mean(name: str) -> float:
        values = np.array([paper.value("loop", name, loop) for loop in loops])
        known = values[~np.isnan(values)]
        return float(known.mean()) if len(known) else float("nan")

    yield "pipe size", mean("pipe.outside")
    yield "spacing", mean("spacing")
    yield "screed cover", mean("floor.screed.cover")
    yield "insulation", mean("floor.insulation")
    yield "covering resistance", mean("room.covering.resistance")
    yield "supply", mean("supply_temperature")
    yield "header bore", mean("header.bore")
    day = paper.day("project.designed_on")
    yield "period", float("nan") if day is None else float(day.toordinal())


def exposure(job: Profile, cause: Cause) -> tuple[float, list[str]]:
    """Say how much a job's papers support a cause.

    Broken rules count, and the signs that papers and the recorded balance show without a visit.

    Args:
        job: its profile.
        cause: of a complaint.

    Returns:
        The points of what is there as a share of what could be, 0 to 1, and the findings in words.
    """
    could, points, findings = [], [], []
    for piece in cause.supporting:
        if not piece.rule and piece.sign not in ON_PAPER:
            continue
        own = job.rules.get(piece.rule) if piece.rule else job.signs.get(piece.sign)
        degree, words = own or (0.0, "")
        could.append(piece.points)
        if degree > 0:
            points.append(piece.points * degree)
            findings.append(words)
    most = diminishing_sum(sorted(could, reverse=True))
    return (diminishing_sum(sorted(points, reverse=True)) / most if most else 0.0), findings


def _broken(paper: JudgedDesign) -> dict[str, EvidenceShown]:
    """For each broken rule the finding furthest past its limit; the first where several are
    equal.
    """
    found: dict[str, EvidenceShown] = {}
    for result in paper.report.results_of("fail"):
        degree = degree_of(result) or 0.0
        if result.rule not in found or degree > found[result.rule][0]:
            found[result.rule] = degree, f"{result.subject}: {result.message}"
    return found


def _seen(paper: JudgedDesign) -> dict[str, EvidenceShown]:
    """For each sign that the papers show, the subject that shows it most."""
    site = Site(Job("", [paper], NONE_TAKEN))
    found: dict[str, EvidenceShown] = {}
    for name in sorted(ON_PAPER):
        sign = complaints().signs[name]
        for one in paper.ids(f"{sign.subject}s"):
            seen = SIGNS[name](site, one)
            if np.isnan(seen.value):
                continue
            degree = sign_degree(seen, sign.least, sign.full)
            if degree > 0 and degree > found.get(name, (0.0, ""))[0]:
                found[name] = degree, f"{sign.subject}s.{one}: {sign.title}: {seen.words}"
    return found
