"""What to measure next at a job: the steps that distinguish its causes best for the minutes
spent.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from msgspec import Struct

from checker.audit.complaints import WEIGHTS, Cause, Complaints, Evidence
from checker.audit.degrees import KEPT, NOT_THERE, diminishing_sum
from checker.audit.ranking import MissingEvidence, Ranked

MOST = 3
"""At most this many steps are named at once."""


class NextMeasurement(Struct, frozen=True):
    """A measurement to take next, and the causes between which it could decide.

    Attributes:
        id: of the measurement.
        what: to do, in words.
        minutes: that it takes on site.
        tells: the titles of the causes that it says something about.
        details: the missing evidence that it would give, in words.
        caution: the name of a caution; empty where nothing can hurt.
        again: whether it was done before.
        parts: by how many points its outcomes can move these causes against one another; 0 where it
            only confirms the first cause.
        tools: what it needs.
        lacking: the tools of these that are missing.
    """

    id: str
    what: str
    minutes: int
    tells: tuple[str, ...]
    details: tuple[str, ...]
    caution: str = ""
    again: bool = False
    parts: float = 0.0
    tools: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()

    @property
    def per_minute(self) -> float:
        """How many points it can decide per minute."""
        return self.parts / self.minutes


def next_measurements(
    ranked: list[Ranked], known: Complaints, tools: Collection[str] | None = None
) -> list[NextMeasurement]:
    """List the steps that could change or settle which cause is first; most points per minute
    first.

    Only causes that could still become first are considered: those that missing evidence could lift
    to the points of the first. A step must move them apart by at least one fair piece of evidence.
    Steps that can hurt someone come last. After the steps that can be done, the one that would
    decide more than any of them is listed with the tools that it lacks.

    Args:
        ranked: the causes with their points.
        known: the file of complaints.
        tools: the tools that are available; None for all.

    Returns:
        Up to MOST steps that can be done, and at most one more; where all evidence was read, what
        would confirm the first cause.
    """
    if not ranked:
        return []
    at_hand = known.tools if tools is None else tools
    steps = _telling(ranked, known, at_hand) or _confirming(ranked, known, at_hand)
    steps.sort(key=lambda one: (-one.per_minute, bool(one.caution), one.minutes))
    can = [one for one in steps if not one.lacking]
    best = steps[:1] if steps and steps[0].lacking else []
    # What can hurt is done after what cannot.
    return [*sorted(can[:MOST], key=lambda one: bool(one.caution)), *best]


def _telling(
    ranked: list[Ranked], known: Complaints, tools: Collection[str]
) -> list[NextMeasurement]:
    """The steps that move causes which could still be first against one another."""
    first = ranked[0]
    contend = [
        cause
        for cause in ranked
        if cause is first
        or cause.points + diminishing_sum(want.could for want in cause.missing) >= first.points
    ]
    wanted: dict[str, dict[str, list[MissingEvidence]]] = {}
    tells: dict[str, dict[str, None]] = {}
    for cause in contend:
        for want in cause.missing:
            if want.measure:
                wanted.setdefault(want.measure, {}).setdefault(want.what, []).append(want)
                tells.setdefault(want.measure, {})[cause.title] = None
    found = []
    for name, wants in wanted.items():
        apart = (_parted(what, [known.causes[cause.id] for cause in contend]) for what in wants)
        parts = diminishing_sum(sorted(apart, reverse=True))
        if parts >= WEIGHTS["fair"]:
            every = [want for of in wants.values() for want in of]
            found.append(_step(name, known, tools, tells[name], every, parts=parts))
    return found


def _parted(what: str, causes: Iterable[Cause]) -> float:
    """By how many points a rule or sign can move these causes against one another.

    Measured from its absence to its full presence; a cause that it says nothing about does not
    move.
    """
    moved = []
    for cause in causes:
        gain = sum(_swing(piece) for piece in cause.supporting if what in (piece.rule, piece.sign))
        loss = sum(piece.points for piece in cause.against if what in (piece.rule, piece.sign))
        moved.append(gain - loss)
    return max(moved) - min(moved) if len(moved) > 1 else abs(moved[0])


def _swing(piece: Evidence) -> float:
    return piece.points * (1 - (KEPT if piece.rule else NOT_THERE))


def _confirming(
    ranked: list[Ranked], known: Complaints, tools: Collection[str]
) -> list[NextMeasurement]:
    """Where all evidence was read: what confirms the first cause on site."""
    first = ranked[0]
    seen = {piece.what for cause in ranked for piece in (*cause.supporting, *cause.against)}
    read = {sign.measure for name, sign in known.signs.items() if name in seen} - {"papers"}
    useless = {
        known.signs[want.what].measure
        for cause in ranked
        for want in cause.missing
        if not want.measure
    }
    return [
        _step(name, known, tools, (first.title,), again=name in read)
        for name in first.next
        if name not in useless
    ]


def _step(
    name: str,
    known: Complaints,
    tools: Collection[str],
    tells: Iterable[str],
    wanted: Collection[MissingEvidence] = (),
    again: bool = False,
    parts: float = 0.0,
) -> NextMeasurement:
    """A measurement as a step, with what it would give and what it lacks."""
    one = known.measurements[name]
    partly = wanted and all(want.lacking for want in wanted)
    unread = dict.fromkeys(each for want in wanted for each in want.lacking) if partly else {}
    again = again or any(want.again for want in wanted)
    what = f"Once more: {one.what}" if again else one.what
    if unread and not again:
        what += f" (of these, only {' and '.join(unread)} was not read on the same visit)"
    return NextMeasurement(
        name,
        what,
        one.minutes,
        tuple(tells),
        tuple(dict.fromkeys(want.says for want in wanted)),
        one.caution,
        again,
        round(parts, 2),
        one.tools,
        one.lacking(tools),
    )
