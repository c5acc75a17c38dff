"""Sums up a ranking of causes in a few sentences that claim no more than it does."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator

from checker.audit.explanations import NOTHING
from checker.audit.on_site import Site
from checker.audit.ranking import (
    CLOSE,
    FITTED,
    SIDES,
    SOME,
    SUPPORT,
    Ranked,
    evidence_points,
    is_supported,
)
from checker.audit.readings import moment_text
from checker.audit.signs import COLD


def as_complained(site: Site, complaint: str, rooms: Collection[str]) -> Iterator[str]:
    """Say whether readings of the rooms' air confirm the complaint.

    Args:
        site: the job's readings and model.
        complaint: its id.
        rooms: the ids of the rooms that it is about.

    Returns:
        A sentence for each room; none for a complaint that a room's own temperature does not show,
        and for a room that was not read.
    """
    side = SIDES.get(complaint, 0.0)
    for room in rooms if side else ():
        values = site.job.readings.of(f"rooms.{room}", "temperature")
        asked = site.asked(room, side)
        if not values or math.isnan(asked):
            continue
        speech, off = site.speech, max(COLD, site.job.readings.accuracy.temperature)
        apart = [side * (asked - value) for value in values.values()]
        read = ", ".join(
            f"{speech.measure(value, '°C')} on {moment_text(on)}" for on, value in values.items()
        )
        designed = site.paper.value("room", "temperature", room)
        what = "designed for" if asked == designed else "set to"
        words = f"rooms.{room} is {what} {speech.measure(asked, '°C')} and was read at {read}"
        way = "colder" if side > 0 else "warmer"
        if min(apart) > off:
            yield f"The complaint is in the readings: {words}."
        elif max(apart) > off:
            yield f"The complaint is in the readings of some visits: {words}."
        else:
            yield (
                f"The complaint is not in the readings: {words}, no {way} than what thermostat and "
                f"thermometer may be off ({speech.measure(off, 'K')})."
            )


def in_words(ranked: list[Ranked]) -> str:
    """Say what a ranking comes to, and no more than it says.

    Args:
        ranked: the causes, as `ranking.rank` gives them.

    Returns:
        A few sentences; empty where nothing was ranked.
    """
    if not ranked:
        return ""
    first, second = ranked[0], ranked[1] if len(ranked) > 1 else None
    undecided = [want for want in first.missing if want.decides]
    hinted = SUPPORT[2][0]
    if undecided and evidence_points(first) >= hinted:
        return (
            f"The readings fit this best: {first.title}. It is not called supported, for without "
            f"one thing another cause reads the same ({undecided[0].says})."
        )
    if not is_supported(first):
        return (
            "Papers and readings do not explain the complaint. The order below is little more "
            "than how often each cause is met; measure next what is named there."
        )
    words = f"The evidence points to this first: {first.title} ({first.support})."
    if first.id == NOTHING:
        words = f"The complaint is not in the readings ({first.support})."
    if second is not None and is_supported(second) and _for_itself(first, second):
        words += f" Both may be at work; by other evidence, and not ruled out: {second.title}."
    elif second is not None and second.points > 0 and first.points - second.points < CLOSE:
        words += f" Close behind, and not ruled out: {second.title}."
    return f"{words} Evidence is not proof; what to measure next would confirm or refute it."


def _for_itself(first: Ranked, second: Ranked) -> bool:
    """Whether the second cause has evidence that the first does not, so that both may be at
    work.
    """
    shared = {piece.what for piece in first.supporting}
    own = [piece for piece in second.supporting if piece.what not in shared]
    # What all readings say of both is shared; what was seen of the second alone is not.
    direct = any(piece.what not in FITTED and piece.points >= SOME for piece in own)
    return direct or second.supporting[0] in own
