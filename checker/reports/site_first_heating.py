"""The first heating on the site sheet: when each floor may be heated, and the steps."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, timedelta

from msgspec import Struct

from checker.outcome.results import Value
from checker.reports.facts import Facts
from checker.reports.sentences import (
    cited,
    magnitude,
)

MINUTES_A_DAY = 1440


class Ready(Struct):
    """How long a floor must wait before it is heated; what is not known is empty.

    Attributes:
        floor: its id.
        laid_on: the day of its screed (ISO 8601).
        wait: days, in words.
        source: of the limit.
        earliest: the first day on which it may be heated (ISO 8601).
    """

    floor: str
    laid_on: str
    wait: str
    source: str
    earliest: str


class Step(Struct):
    """A step of the first heating.

    Attributes:
        supply: in words; empty where it is beyond what the screed tolerates.
        hold: days, in words.
        start: the first day (ISO 8601); empty where it is not known.
        end: the day on which it ends, likewise.
        beyond: whether it is hotter than the screed tolerates.
    """

    supply: str
    hold: str
    start: str
    end: str
    beyond: bool = False


def floors_ready(facts: Facts, installed: Facts) -> Iterator[Ready]:
    """For each floor how long its screed must wait, by the limit that governs.

    Args:
        facts: the design as it is judged.
        installed: the same, judged as if its records were due.

    Returns:
        The floors whose screed must wait, in file order.
    """
    for floor in facts.names("floors"):
        subject = f"floors.{floor}"
        asked = installed.result("heat-up-start", subject)
        if asked is None or asked.kind == "notApplicable":
            continue
        wait = installed.limit("heat-up-start", subject)
        laid_on = facts.stated(subject, "screed.laid_on")
        earliest = ""
        if isinstance(laid_on, str) and wait is not None:
            earliest = _later(laid_on, wait)
        yield Ready(
            floor,
            laid_on if isinstance(laid_on, str) else "",
            "" if wait is None else facts.said(wait, "days"),
            cited(asked.source) if asked.source else "",
            earliest,
        )


def first_day(facts: Facts, floors: list[Ready]) -> str:
    """The day of the first heating: the planned one, but not before every floor may be heated.

    Args:
        facts: the design as it is judged.
        floors: what `floors_ready` returned.

    Returns:
        The day (ISO 8601); empty where it is not known of each floor.
    """
    if not floors or not all(floor.earliest for floor in floors):
        return ""
    planned = facts.stated("design", "heat_up.started_on")
    days = [floor.earliest for floor in floors]
    if isinstance(planned, str):
        days.append(planned)
    return max(days)  # days of ISO 8601 sort as texts


def heating_steps(facts: Facts, start: str) -> Iterator[Step]:
    """The planned steps; a step that is hotter than a floor tolerates gets no temperature.

    Args:
        facts: the design as it is judged.
        start: the first day (ISO 8601); empty where it is not known.

    Returns:
        The steps in words and in order; without days from the first on whose length is not stated.
    """
    day = 0.0
    limits = [facts.limit("heat-up-temperature", f"floors.{f}") for f in facts.names("floors")]
    hottest = min((limit for limit in limits if limit is not None), default=math.inf)
    for row in facts.rows("design", "heat_up_steps"):
        hold = magnitude(row.get("hold"))
        known = bool(start) and not math.isnan(day)
        begun = _later(start, day) if known else ""
        days = math.nan if hold is None else hold / MINUTES_A_DAY
        day += days
        until = _later(start, day) if known and not math.isnan(day) else ""
        supply = magnitude(row.get("supply"))
        beyond = supply is not None and not supply <= hottest
        yield Step(
            "" if beyond else _text(facts, row.get("supply")),
            _days(facts, days),
            begun,
            until,
            beyond,
        )


def _text(facts: Facts, value: Value | None) -> str:
    return "not stated" if value is None else facts.value_text(value)


def _days(facts: Facts, days: float) -> str:
    if math.isnan(days):
        return "not stated"
    return facts.said(days, "day" if days == 1 else "days")


def _later(day: str, days: float) -> str:
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()
