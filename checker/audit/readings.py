"""Readings taken on site after a job was handed over: files named `*.readings.yaml`.

`schemas/readings.schema.json` states the format. Units, bounds and places are read as in a design;
every mistake is reported with its line and column.
"""

from __future__ import annotations

import math
import os
from datetime import date, datetime, time
from functools import cache
from hashlib import sha256
from typing import Any, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from checker import units
from checker.audit.complaints import complaints
from checker.design.leaves import Leaf
from checker.design.schema import Collection, Record, Rows, other_format
from checker.design.wrong_kinds import severed_by_comma
from checker.reading import yaml_reader
from checker.reading.documents import Mapping, Problem, Sequence, shown
from checker.reading.package_data import data_path
from checker.words import choices, measure

FLOWS = 10.0
"""A flow above this many times the design flow is refused; our convention."""
WORDS = ("valve", "meter", "notes")
"""Properties of a subject that are kept as they were written."""
SURE = 2.0
"""Temperatures that contradict each other by this many K are refused; our convention."""


class Accuracy(Struct, frozen=True):
    """The largest error of an instrument either way, taken as two standard deviations.

    Common practice, no source: a flow setter's float, a clamp or stick thermometer, an infrared
    thermometer, a differential gauge, a water meter.

    Attributes:
        flow: share of the reading.
        temperature: K.
        surface: K.
        pressure: Pa.
        content: share of the reading.
    """

    flow: float = 0.10
    temperature: float = 0.5
    surface: float = 1.0
    pressure: float = 1000.0
    content: float = 0.03


class Reading(NamedTuple):
    """One number read on a visit; SI, °C for a temperature."""

    on: datetime
    subject: str
    name: str
    value: float
    place: Any


class Readings(Struct, frozen=True):
    """All that was read at a job.

    Attributes:
        path: of the file, as shown; of several with commas between them.
        events: days by name: laid, handed_over and complaint.
        accuracy: of the instruments.
        taken: every number that was read on visits.
        outside: air outside by visit, °C.
        visits: when each began, in order; midnight where no time of day was noted.
        notes: what was written down in words, as (visit, subject, words).
        digest: of the file as it was read; of several with spaces between them.
        declared: the names of the accuracies that the file states.
        files: for each visit, the file that has it.
    """

    path: str = ""
    events: dict[str, date] = {}
    accuracy: Accuracy = Accuracy()
    taken: tuple[Reading, ...] = ()
    outside: dict[datetime, float] = {}
    visits: tuple[datetime, ...] = ()
    notes: tuple[tuple[datetime, str, str], ...] = ()
    digest: str = ""
    logged: dict[str, tuple[tuple[float, float, float], ...]] = {}
    """What loggers wrote, by header: s since their first reading, Pa, and °C or NaN."""
    complaint: str = ""
    """What was complained of, by its id where the words are known, else in words."""
    declared: tuple[str, ...] = ()
    files: dict[datetime, str] = {}

    def of(self, subject: str, name: str) -> dict[datetime, float]:
        """Give what was read of one property of one subject.

        Args:
            subject: 'loops.L1'.
            name: of the property ('flow').

        Returns:
            SI, temperatures in °C, by visit; empty where it was never read.
        """
        return {r.on: r.value for r in self.taken if r.subject == subject and r.name == name}


NONE_TAKEN = Readings()


class BadReadings(Exception):
    """A file of readings that cannot be used; holds every mistake in it."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(problems[0].message)
        self.problems = problems


@cache
def layout() -> Record:
    """The format of files of readings."""
    return other_format(os.path.join(data_path("schemas"), "readings.schema.json"))


def read(path: str, data: bytes) -> Readings:
    """Read a file of readings.

    Args:
        path: under which the file is shown.
        data: its bytes.

    Returns:
        All that was read; whether the job has its subjects is for `misplaced` to say.

    Raises:
        BadReadings: with every mistake found, in the order of the file.
    """
    try:
        document = yaml_reader.read(data, first="readings: 1")
    except Problem as problem:
        raise BadReadings([problem]) from None
    problems: list[Problem] = []
    if "readings" not in document:
        words = "The key 'readings' is missing; the file starts with 'readings: 1'."
        problems.append(Problem(words))
    found = _record(layout(), document, "", problems)
    if problems:
        raise BadReadings(sorted(problems, key=lambda p: (p.line, p.column)))
    taken: list[Reading] = []
    outside: dict[datetime, float] = {}
    days: list[datetime] = []
    notes: list[tuple[datetime, str, str]] = []
    for visit, visit_place in found.get("visits", ()):
        clock = time.fromisoformat(visit["at"]) if "at" in visit else time()
        on = datetime.combine(_day(visit["on"]), clock)
        if on in days:
            words = f"visits: {moment_text(on)} is there twice; put the readings of one day into "
            words += "one visit, or give each its time of day ('at')."
            problems.append(Problem(words, visit_place))
        days.append(on)
        if "outside" in visit:
            outside[on] = visit["outside"]
        notes += [(on, "design", _written(k, visit[k])) for k in WORDS if k in visit]
        for table in ("rooms", "headers", "loops"):
            for name, (own, place) in visit.get(table, {}).items():
                here = f"{table}.{name}"
                notes += [(on, here, _written(k, own[k])) for k in WORDS if k in own]
                numbers = {k: v for k, v in own.items() if k not in WORDS}
                taken += [Reading(on, here, k, v, place) for k, v in numbers.items()]
                problems += [Problem(words, place) for words in _impossible(here, numbers)]
    if problems:
        raise BadReadings(sorted(problems, key=lambda p: (p.line, p.column)))
    return Readings(
        path,
        {name: _day(number) for name, number in found.get("events", {}).items()},
        replace(Accuracy(), **found.get("accuracy", {})),
        tuple(taken),
        outside,
        tuple(sorted(set(days))),
        tuple(notes),
        digest_of(data),
        complaint=_complaint(found.get("complaint", "")),
        declared=tuple(found.get("accuracy", {})),
        files=dict.fromkeys(days, path),
    )


def joined(several: list[Readings]) -> Readings:
    """Join the readings of several files of one job.

    Args:
        several: one at least; where files differ about instruments, days and the complaint, the
            first counts.

    Returns:
        All readings together.

    Raises:
        BadReadings: two files have a visit at the same time.
    """
    first, *others = several
    if not others:
        return first
    visits = [on for one in several for on in one.visits]
    for on in visits:
        if visits.count(on) > 1:
            here = [one.path for one in several if on in one.visits]
            words = (
                f"A visit of {moment_text(on)} is in {' and in '.join(here)}; keep one, or give "
            )
            raise BadReadings([Problem(f"{words}each its time of day ('at').")])
    return Readings(
        ", ".join(one.path for one in several),
        {name: day for one in reversed(several) for name, day in one.events.items()},
        first.accuracy,
        tuple(reading for one in several for reading in one.taken),
        {on: value for one in several for on, value in one.outside.items()},
        tuple(sorted(visits)),
        tuple(note for one in several for note in one.notes),
        " ".join(one.digest for one in several),
        {header: rows for one in several for header, rows in one.logged.items()},
        next((one.complaint for one in several if one.complaint), ""),
        first.declared,
        {on: path for one in several for on, path in one.files.items()},
    )


def _written(key: str, words: str) -> str:
    return words if key == "notes" else f"{key} {words}"


def _complaint(words: str) -> str:
    return complaints().named(words) or words


def digest_of(data: bytes) -> str:
    """Give a digest that identifies a file's content.

    Args:
        data: the file's bytes.

    Returns:
        'sha256:' and 64 hexadecimal digits.
    """
    return f"sha256:{sha256(data).hexdigest()}"


def moment_text(on: datetime) -> str:
    """Word when a visit was.

    Args:
        on: its day and time; midnight where no time was noted.

    Returns:
        The day (ISO 8601), with the time where it was noted.
    """
    return on.date().isoformat() + (f" {on:%H:%M}" if on.time() != time() else "")


def misplaced(readings: Readings, known: dict[str, list[str]]) -> list[Problem]:
    """Find readings of subjects that the job does not have.

    Args:
        readings: of the job.
        known: the job's ids by section.

    Returns:
        A mistake for each subject and place, with the nearest ids.
    """
    problems = [
        Problem(f"The job has no header '{name}'; {choices(name, known.get('headers', ()))}")
        for name in readings.logged
        if name not in known.get("headers", ())
    ]
    seen = set()
    for one in readings.taken:
        section, _, name = one.subject.partition(".")
        if name not in known.get(section, ()) and (one.place, name) not in seen:
            seen.add((one.place, name))
            near = choices(name, known.get(section, ()))
            words = f"visits.{section}: the job has no '{name}' in {section}; {near}"
            problems.append(Problem(words, one.place))
    return problems


def of_logger(path: str, data: bytes, header: str) -> Readings:
    """Read the file of a logger.

    Args:
        path: under which the file is shown.
        data: its bytes.
        header: the header that the logger was connected to.

    Returns:
        What it wrote, in `logged` alone: its clock counts from when it began, so it is no visit.

    Raises:
        BadReadings: the file cannot be used.
    """
    from checker.intake import logged
    from checker.intake.sheets import BadSheet

    try:
        rows, _ = logged.readings(path, data)
        kinds = (("at", "duration"), ("pressure", "pressure"), ("temperature", "temperature"))
        taken = tuple(
            tuple(units.parse(row[key], kind) if key in row else math.nan for key, kind in kinds)
            for row in rows
        )
    except (logged.BadLog, BadSheet, units.UnitError) as bad:
        raise BadReadings([Problem(f"{bad}.")]) from None
    # Its clock counts the time since it began, so it is no visit.
    return Readings(path, digest=digest_of(data), logged={header: taken})  # type: ignore[dict-item]


def beyond(readings: Readings, most: dict[str, float], designed: dict[str, float]) -> list[Problem]:
    """Find flows that no loop can have: beyond the pump's curve, or far above the design's.

    The instrument's error is allowed for.

    Args:
        readings: of the job.
        most: the largest flow on the pump's curve, m³/s by loop ('loops.L1'), NaN where it is not
            known.
        designed: the loop's computed flow, likewise.

    Returns:
        A mistake for each such reading, at its place in the file.
    """
    problems = []
    for one in readings.taken:
        if one.name != "flow":
            continue
        least = one.value * (1 - readings.accuracy.flow)
        shown = measure(one.value * 6e4, "l/min")
        limits = (
            (most.get(one.subject, math.nan), "the pump curve of its header ends at"),
            (FLOWS * designed.get(one.subject, math.nan), f"{FLOWS:g} times its design flow is"),
        )
        for limit, words in limits:
            if least > limit:
                said = f"visits.{one.subject}.flow: {shown} is an impossible reading (a convention "
                said += f"of this program): {words} {measure(limit * 6e4, 'l/min')}; look again."
                problems.append(Problem(said, one.place))
                break
    return problems


def _impossible(name: str, own: dict[str, float]) -> list[str]:
    """Contradictions between readings of one loop at one time."""
    supply, back = own.get("supply", math.inf), own.get("return", -math.inf)
    surface = max(own.get("surface", -math.inf), own.get("surface_max", -math.inf))
    found = []
    if back > supply + SURE:
        found.append(f"visits.{name}: the return is warmer than the supply; were they exchanged?")
    if surface > max(supply, back) + SURE:
        found.append(f"visits.{name}: the floor cannot be warmer than its water; look again.")
    return found


def _day(number: float) -> date:
    return date.fromordinal(int(number))


def _record(record: Record, mapping: Any, where: str, problems: list[Problem]) -> dict[str, Any]:
    """The values of a record by key; mistakes in it are added to `problems`."""
    found: dict[str, Any] = {}
    for key, raw in mapping.items():
        key_place, place = mapping.places[key]
        member = record.members.get(key)
        here = f"{where}{key}"
        if member is None:
            severed = severed_by_comma(mapping, key)
            if severed is not None:
                before, words = severed
                problem = Problem(f"{where}{before}: {words}.", mapping.places[before][1])
                at = (problem.line, problem.column)
                problems[:] = [p for p in problems if (p.line, p.column) != at]
                problems.append(problem)
                continue
            near = choices(shown(key), record.members)
            words = f"{here}: the key '{shown(key)}' is not known here; {near}"
            problems.append(Problem(words, key_place))
            continue
        try:
            found[key] = _member(member, raw, here, place, problems)
        except ValueError as error:
            problems.append(Problem(f"{here}: {error}.", place))
    for key in record.required:
        if where and key not in mapping:
            problems.append(Problem(f"{where[:-1]}: '{key}' is missing here.", mapping.place))
    return found


def _member(member: Any, raw: Any, where: str, place: Any, problems: list[Problem]) -> Any:
    """The value of one member of a record; raises ValueError with words for the user."""
    kinds: dict[type, Any] = {Leaf: str, Rows: Sequence}
    wanted: Any = kinds.get(type(member), Mapping)
    if type(raw) is not wanted:
        words = {str: "one value", Sequence: "a list", Mapping: "keys with their values"}[wanted]
        raise ValueError(f"{words} should be here; fill it in, or leave the key out")
    if isinstance(member, Leaf):
        value = member.convert(raw)
        return raw if member.kind == "text" else value
    if isinstance(member, Collection):
        own = {}
        for name, node in raw.items():
            if type(node) is not Mapping:
                words = f"{where}.{name}: keys with their values should be here."
                problems.append(Problem(words, raw.places[name][1]))
                continue
            found = _record(member.record, node, f"{where}.{name}.", problems)
            own[name] = (found, raw.places[name][0])
        return own
    if isinstance(member, Rows):
        rows = []
        for number, node in enumerate(raw):
            here = f"{where}[{number + 1}]"
            if type(node) is not Mapping:
                words = f"{here}: keys with their values should be here."
                problems.append(Problem(words, raw.places[number]))
                continue
            rows.append((_record(member.record, node, f"{here}.", problems), raw.places[number]))
        return rows
    return _record(member, raw, f"{where}.", problems)
