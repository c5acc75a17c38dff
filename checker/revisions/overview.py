"""The state of a job from its register: by severity, sender and cause, and over the rounds."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import Literal

import msgspec
from msgspec import Struct

from checker import __version__
from checker.outcome.results import SEVERITIES
from checker.reading.mistakes import Unreadable
from checker.revisions.register import STATES, Point, Register
from checker.revisions.tallies import Table

VERSION = 1
STANDINGS = ("unreadable", "overdue", "on hold", "unproven", "waiting for data", "released")
"""The states of a design; the first that applies counts."""
Standing = Literal["unreadable", "overdue", "on hold", "unproven", "waiting for data", "released"]


class DesignState(Struct):
    """A design: its state, its newest revision, open points by severity, and since when."""

    contractor: str
    design: str
    revision: str
    standing: Standing
    verdict: str
    rounds: int
    received_on: str
    answer_by: str
    asked: dict[str, int]


class Sender(Struct):
    """A sender: designs by state, points by state, mean days from asking to settling."""

    contractor: str
    designs: dict[str, int]
    points: dict[str, int]
    days: float | None


class Cause(Struct):
    """A cause over all senders: how many points and places are open now."""

    about: str
    title: str
    severity: str
    contractors: int
    points: int
    places: int


class Day(Struct):
    """What was asked and settled by the end of a day on which a point changed."""

    on: str
    asked: int
    settled: int


class Overview(Struct):
    """The whole overview."""

    overview: int
    tool: dict[str, str]
    on: str
    designs: list[DesignState]
    contractors: list[Sender]
    causes: list[Cause]
    trend: list[Day]
    queries: list[str]
    unreadable: list[Unreadable]


def overview_of(register: Register, today: date, unreadable: list[Unreadable]) -> Overview:
    """The state of a job on a day.

    Args:
        register: the register of the job.
        today: the day, by which points are overdue.
        unreadable: files that could not be read.

    Returns:
        Designs and causes, the worst first; what was asked and settled, by day.
    """
    designs = sorted(_designs(register, today), key=_worst_first)
    return Overview(
        VERSION,
        {"name": "prescreed", "version": __version__},
        today.isoformat(),
        designs,
        _senders(register, designs),
        _causes(register),
        _trend(register),
        [
            f"{q.contractor}{f', {q.design}' if q.design else ''}: {q.about}"
            for q in register.queries
        ],
        unreadable,
    )


def as_json(found: Overview) -> bytes:
    """The overview in the shape of `schemas/overview.schema.json`.

    Args:
        found: the overview.

    Returns:
        The bytes of the file.
    """
    return msgspec.json.format(msgspec.json.encode(found), indent=1) + b"\n"


def _designs(register: Register, today: date) -> list[DesignState]:
    points: dict[tuple[str, str], list[Point]] = {}
    for point in register.points:
        points.setdefault((point.contractor, point.design), []).append(point)
    newest = {(one.contractor, one.design): one for one in register.submissions}
    rounds = Counter((one.contractor, one.design) for one in register.submissions)
    found = []
    for key, one in newest.items():
        waiting = [point for point in points.get(key, ()) if point.waits]
        by = min((point.answer_by for point in waiting), default="")
        asked = Counter(point.severity for point in waiting)
        standing: Standing = "released"
        # A design that is released may still be asked for what does not hold it up.
        if one.verdict != "release" and by and by < today.isoformat():
            standing = "overdue"
        elif one.verdict == "hold":
            standing = "on hold"
        elif one.verdict != "release":
            only_data = all(point.kind == "datum" for point in waiting)
            standing = "waiting for data" if only_data and waiting else "unproven"
        found.append(
            DesignState(
                *key, one.revision, standing, one.verdict, rounds[key], one.received_on, by,
                {severity: asked[severity] for severity in SEVERITIES},
            )
        )  # fmt: skip
    return found


def _worst_first(one: DesignState) -> tuple[object, ...]:
    gravity = tuple(-one.asked[severity] for severity in SEVERITIES)
    return STANDINGS.index(one.standing), gravity, one.answer_by, one.contractor, one.design


def _senders(register: Register, designs: list[DesignState]) -> list[Sender]:
    """Senders by the severity of their points, in the order of the designs."""
    found = []
    for contractor in dict.fromkeys(one.contractor for one in designs):
        own = [point for point in register.points if point.contractor == contractor]
        standing: Counter[str] = Counter(
            one.standing for one in designs if one.contractor == contractor
        )
        states: Counter[str] = Counter(point.state for point in own)
        days = [
            (date.fromisoformat(p.settled_on) - date.fromisoformat(p.asked_on)).days
            for p in own
            if p.settled_on
        ]
        found.append(
            Sender(
                contractor,
                {one: standing[one] for one in STANDINGS},
                {state: states[state] for state in STATES},
                round(sum(days) / len(days), 1) if days else None,
            )
        )
    return found


def _causes(register: Register) -> list[Cause]:
    together: dict[tuple[str, str], list[Point]] = {}
    for point in register.points:
        if point.waits:
            together.setdefault((point.kind, point.about), []).append(point)
    found = [
        Cause(
            about,
            own[0].title,
            min((point.severity for point in own), key=SEVERITIES.index),
            len({point.contractor for point in own}),
            len(own),
            sum(place.state == "asked" for point in own for place in point.places),
        )
        for (_, about), own in together.items()
    ]
    return sorted(found, key=lambda one: (SEVERITIES.index(one.severity), -one.places, one.about))


def _trend(register: Register) -> list[Day]:
    """Points asked and settled by each day on which a point changed."""
    days = sorted({step.on for point in register.points for step in point.steps})
    found = []
    for day in days:
        states = [
            [step.state for step in point.steps if step.on <= day] for point in register.points
        ]
        now = [own[-1] for own in states if own]
        asked = sum(state == "asked" for state in now)
        found.append(Day(day, asked, len(now) - asked))
    return found


def tables(found: Overview) -> list[Table]:
    """The overview as tables for a page or a workbook, the worst first.

    Args:
        found: the overview.

    Returns:
        Designs, contractors, causes, days and queries.
    """
    return [
        Table(
            "The state of each design", "Nothing was sent.",
            ("Contractor", "Design", "Revision", "Stands", "Rounds", "Answer by", *SEVERITIES),
            tuple(
                (d.contractor, d.design, d.revision or "?", d.standing, str(d.rounds), d.answer_by,
                 *(str(d.asked[severity] or "") for severity in SEVERITIES))
                for d in found.designs
            ),
        ),
        Table(
            "Each contractor", "Nobody has sent anything.",
            ("Contractor", *STANDINGS, *STATES, "Days to settle"),
            tuple(
                (one.contractor, *(str(one.designs[s] or "") for s in STANDINGS),
                 *(str(one.points[s] or "") for s in STATES),
                 "" if one.days is None else f"{one.days:g}")
                for one in found.contractors
            ),
        ),
        Table(
            "What is asked for, by cause", "Nothing is asked for.",
            ("Cause", "Severity", "Contractors", "Points", "Places"),
            tuple(
                (one.title, one.severity, str(one.contractors), str(one.points), str(one.places))
                for one in found.causes
            ),
        ),
        Table(
            "Over the rounds", "Nothing has moved.", ("Day", "Asked", "Settled"),
            tuple((one.on, str(one.asked), str(one.settled)) for one in found.trend),
        ),
        Table("To be decided", "Nothing.", ("Question",), tuple((q,) for q in found.queries)),
    ]  # fmt: skip
