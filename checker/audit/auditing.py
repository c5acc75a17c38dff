"""Puts one audit together: all that is known about a job and a complaint, as plain frozen data."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import date

from msgspec import UNSET, Struct
from msgspec.structs import replace

from checker.audit import differences, fits, following, jobs, ranking, summary
from checker.audit.complaints import Complaints, complaints
from checker.audit.differences import Explained
from checker.audit.editions import EditionComparison, side_by_side
from checker.audit.every_reading import every_reading
from checker.audit.following import NextMeasurement
from checker.audit.jobs import Job
from checker.audit.on_site import Site
from checker.audit.papers import JudgedDesign
from checker.audit.ranking import AGAINST, Ranked
from checker.audit.readings import Readings, moment_text
from checker.audit.records import Audit, Input, Paper, gathered
from checker.audit.siblings import family
from checker.audit.timeline import Event, out_of_order, timeline
from checker.outcome.results import SEVERITIES
from checker.reading import yaml_reader
from checker.reading.package_data import data_folder
from checker.reports.sentences import cited
from checker.run import rules_in_force
from checker.run.batch import BY_THE_DESIGN, Plan
from checker.words import choices, number
from checker.words.speech import Speech

MODEL = (
    "EN 1264-2 and EN 1264-3 (2021), heat output and loss downwards, as reported",
    "IAPWS SR6-08(2011) and Melinder (2010), properties of the water",
    "Darcy and Weisbach, Colebrook, friction in the pipe",
    "JCGM 100:2008, accuracy of readings as two standard deviations, from memory",
    "Weights of evidence and how often causes are met: common practice, no source",
)
"""The sources of the audit's own method, in addition to those of single limits."""


WHOLE_JOB = "design"
"""The subject of a complaint about the whole job; leaving the subject out means the same."""
NOT_LOOKED = "No other jobs were looked for: no cause is supported."


class Asked(Struct, frozen=True):
    """What an audit is asked for.

    Attributes:
        complaint: its id, or a person's words; empty for none.
        subject: what it is about ('rooms.kitchen'); empty for the whole job.
        today: the day whose rules are compared with those of the job's own day; None to compare
            none.
        archive: a folder in which similar jobs are looked for; empty for none.
        plan: how designs are judged.
        excluded: whether the policy excludes a path.
        tools: the instruments that are available, None where nothing was said about them.
    """

    complaint: str = ""
    subject: str = ""
    today: date | None = None
    archive: str = ""
    plan: Plan = BY_THE_DESIGN
    excluded: Callable[[str], bool] = lambda path: False
    tools: tuple[str, ...] | None = None


class BadCall(Exception):
    """A call that cannot be carried out; the message is for the user."""


def audit(path: str, asked: Asked) -> Audit:
    """Audit the job in a folder.

    Args:
        path: the folder, or a design file in it.
        asked: the complaint and the options.

    Returns:
        The audit; without a complaint, causes, summary and fit are empty.

    Raises:
        NoJob: there is no job in the folder.
        BadRules: the rules cannot be used.
        BadCall: the complaint or its subject is unknown.
    """
    known = complaints()
    if asked.complaint:
        asked = replace(asked, complaint=complaint_named(asked.complaint))
    codes = rules_in_force.rulebook(asked.plan.rules, asked.plan.compiled).codes
    for code in asked.plan.codes or ():
        if code not in codes:
            raise BadCall(f"--codes: there is no code '{code}'; {choices(code, codes)}")
    for tool in asked.tools or ():
        if tool not in known.tools:
            raise BadCall(f"--tools: there is no '{tool}'; {choices(tool, known.tools)}")
    if asked.archive and not os.path.isdir(asked.archive):
        raise BadCall(f"--archive: there is no folder '{asked.archive}'")
    job = jobs.open_job(path, asked.plan)
    _check_subject(job, asked.subject)
    site = Site(job)
    ranked: list[Ranked] = []
    fit = fits.Fit()
    if asked.complaint:
        fit = ranking.fitted(site, known, asked.complaint, asked.subject)
        ranked = ranking.rank(site, known, asked.complaint, asked.subject, fit)
    titles = {name: cause.title for name, cause in known.causes.items()}
    days = [moment_text(on) for on in job.readings.visits]
    steps = following.next_measurements(ranked, known, asked.tools)
    explained = differences.explained(site)
    events = timeline(job)
    siblings, not_looked = None, ""
    if asked.archive and ranked and ranking.is_supported(ranked[0]):
        first = known.causes[ranked[0].id]
        siblings = family(
            job, first, asked.archive, asked.subject, plan=asked.plan, excluded=asked.excluded
        )
    elif asked.archive:
        not_looked = NOT_LOOKED
    return Audit(
        1,
        path,
        job.name,
        asked.complaint,
        known.trouble[asked.complaint].title if asked.complaint else "",
        asked.subject,
        summary.in_words(ranked),
        tuple(_as_complained(site, asked)),
        tuple(_paper(paper) for paper in (job.designed, job.installed) if paper is not None),
        job.readings.path,
        tuple(events),
        tuple(differences.differences(site)),
        tuple(explained),
        tuple(ranked),
        tuple(steps),
        _editions(path, job, asked),
        siblings,
        not_looked,
        _sources(job, ranked, asked.plan),
        _cautions(job, steps),
        tuple(_not_known(job, site, known, ranked, explained, events)),
        tuple(_as_read(job.readings, site.speech)),
        tuple(_spoken_against(ranked)),
        tuple(_inputs(job)),
        fit,
        tuple(fit.sentences(titles, days, site.speech)),
        tuple(every_reading(job.readings, fit.residuals)),
        *site.speech,
    )


def complaint_named(text: str) -> str:
    """Find a complaint by the user's words.

    Args:
        text: its id, or a sentence about it.

    Returns:
        The complaint's id.

    Raises:
        BadCall: no complaint is known by these words, or several are equally well.
    """
    known = complaints()
    found = known.named(text)
    if found is None:
        near = choices(text, known.trouble)
        raise BadCall(f"--complaint: there is no '{text}'; {near}")
    return found


def _check_subject(job: Job, subject: str) -> None:
    """Raise BadCall where the job has no such subject."""
    if subject in ("", WHOLE_JOB):
        return
    sections = ("rooms", "loops", "headers", "floors", "pipes")
    known = [f"{table}.{name}" for table in sections for name in job.current.ids(table)]
    known.append(WHOLE_JOB)
    if subject not in known:
        raise BadCall(f"--subject: the job has no '{subject}'; {choices(subject, known)}")


def _paper(paper: JudgedDesign) -> Paper:
    """How a design of the job was judged."""
    fails = [result.severity for result in paper.results if result.kind == "fail"]
    return Paper(
        paper.design.path,
        paper.stage,
        paper.report.verdict,
        paper.report.judged_by,
        paper.report.codes,
        {severity: fails.count(severity) for severity in SEVERITIES if severity in fails},
        sum(result.kind == "open" for result in paper.results),
        paper.report.remarks,
    )


def _editions(path: str, job: Job, asked: Asked) -> EditionComparison | None:
    if asked.today is None:
        return None
    now = jobs.open_job(path, replace(asked.plan, on=asked.today))
    return side_by_side(job.current, now.current)


def _sources(job: Job, ranked: list[Ranked], plan: Plan) -> tuple[str, ...]:
    """The sources of the model, of the causes with evidence for them, and of their findings."""
    documents = rules_in_force.rulebook(plan.rules, plan.compiled).documents
    found = dict.fromkeys(MODEL)
    likely = [cause for cause in ranked if cause.supporting]
    for cause in likely:
        document = documents.get(cause.source)
        if document is not None:
            found[cited(document.source)] = None
    rules = {piece.what for cause in likely for piece in cause.supporting}
    for result in job.current.results:
        if result.rule in rules and result.kind == "fail" and result.source is not UNSET:
            found[cited(result.source)] = None
    return tuple(found)


def _cautions(job: Job, steps: list[NextMeasurement]) -> tuple[str, ...]:
    """What can hurt someone: in the steps to take, and in what is wrong."""
    data = (data_folder("rules") / "sources.yaml").read_bytes()
    texts = yaml_reader.read(data, first="sources:")["cautions"]
    found = {texts[one.caution].strip(): None for one in steps if one.caution}
    for result in job.current.results:
        if result.kind == "fail" and result.caution is not UNSET:
            found[result.caution.strip()] = None
    found["Nothing is opened, cut or dried on the strength of this report alone."] = None
    return tuple(found)


def _as_complained(site: Site, asked: Asked) -> Iterator[str]:
    about = site.paper.related("" if asked.subject == WHOLE_JOB else asked.subject)
    rooms = [room for room in site.paper.ids("rooms") if f"rooms.{room}" in about]
    # Of a header or a house that is complained of, no one room tells.
    of_room = asked.subject.startswith(("rooms.", "loops."))
    yield from summary.as_complained(site, asked.complaint, rooms if of_room else ())


def _spoken_against(ranked: list[Ranked]) -> Iterator[str]:
    for cause in ranked:
        if cause.support == AGAINST and cause.against:
            by = "; ".join(f"{piece.subject}: {piece.says}" for piece in cause.against)
            yield f"{cause.title}, by {by}"


def _inputs(job: Job) -> Iterator[Input]:
    """The files that the audit rests on, with their digests."""
    for paper in (job.designed, job.installed):
        if paper is not None:
            yield Input(paper.design.path, paper.digest)
    # Several files of readings stand one beside the other.
    paths, digests = job.readings.path.split(", "), job.readings.digest.split()
    if len(paths) == len(digests):
        yield from map(Input, paths, digests)
    elif digests:
        yield Input(job.readings.path, job.readings.digest)


def _as_read(taken: Readings, speech: Speech) -> Iterator[str]:
    """How readings were taken, in sentences."""
    for header, rows in taken.logged.items():
        hours = (rows[-1][0] - rows[0][0]) / 3600
        yield f"A logger at headers.{header}: {len(rows)} readings over {number(hours)} h."
    if not taken.taken and not taken.notes:
        return
    off, off_declared = taken.accuracy, taken.declared
    each = (
        ("flow", off.flow * 100, "%"),
        ("temperature", off.temperature, "K"),
        ("surface", off.surface, "K"),
        ("pressure", off.pressure / 1e3, "kPa"),
        ("content", off.content * 100, "%"),
    )
    for declared, how in (
        (True, "as declared"),
        (False, "not declared; common practice, no source"),
    ):
        own = [
            f"{name} ±{speech.measure(value, unit)}"
            for name, value, unit in each
            if (name in off_declared) == declared
        ]
        if own:
            yield f"Instruments, two standard deviations, {how}: {', '.join(own)}."
    for visit in taken.visits:
        if not any(one.on == visit for one in taken.taken):
            yield f"Visit of {moment_text(visit)}: no reading at the job."
    for on, subject, note in taken.notes:
        yield f"{moment_text(on)}, {subject}: {note}"


def _not_known(
    job: Job,
    site: Site,
    known: Complaints,
    ranked: list[Ranked],
    explained: list[Explained],
    events: list[Event],
) -> list[str]:
    """What is missing, in sentences, each once."""
    found: dict[str, None] = {}
    if not job.readings.taken and not job.readings.logged:
        found["Nothing was read on site: what is said rests on papers alone."] = None
    if job.installed is None:
        found["No installed state is here: the job is treated as laid as designed."] = None
    if job.designed is None:
        found["No design is here, only the installed state."] = None
    days = [event.name for event in events if event.on is None]
    if days:
        found[f"No day is recorded for: {', '.join(days)}."] = None
    for words in out_of_order(events):
        found[words] = None
    if not job.current.report.judged_by:
        found["The day of the design is unknown; the newest editions judged it."] = None
    for loops, name, says in gathered(one for one in explained if one.value is None):
        found[f"{loops} {name}: {says}"] = None
    for cause in ranked[:3]:
        for want in cause.missing:
            found[f"{cause.title}: {want.says}."] = None
    return [*found]
