"""The dates in a job's life, and those that are out of order."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from msgspec import Struct

from checker.audit.jobs import Job


class Event(Struct, frozen=True):
    """A date in a job's life; None where nothing states it."""

    name: str
    on: date | None


def timeline(job: Job) -> list[Event]:
    """List the dates in the life of a job.

    Args:
        job: its papers and readings.

    Returns:
        In this order: designed, laid, tested, screeded, heated up, handed over, complaint.
    """
    paper, events = job.current, job.readings.events
    tested = paper.days("pressure_tests", "tested_on")
    screeded = paper.days("floors", "screed.laid_on")
    first = job.designed or paper
    return [
        Event("designed", first.day("project.designed_on")),
        Event("laid", events.get("laid")),
        Event("tested", tested[0] if tested else None),
        Event("screeded", screeded[0] if screeded else None),
        Event("heated up", paper.day("heat_up.started_on")),
        Event("handed over", events.get("handed_over")),
        Event("complaint", events.get("complaint")),
    ]


def out_of_order(events: Iterable[Event]) -> list[str]:
    """Find dates that are before the date of an earlier step.

    Args:
        events: in the order of the steps.

    Returns:
        A sentence for each such date.
    """
    found = []
    latest: Event | None = None
    for event in events:
        if event.on is None:
            continue
        if latest is not None and latest.on is not None and event.on < latest.on:
            found.append(
                f"The days are out of order: {event.name} {event.on} is before {latest.name} "
                f"{latest.on}; one of the two is wrong, or the steps were."
            )
        else:
            latest = event
    return found
