"""Reminders to senders who have not answered in time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterator
from datetime import date

from checker.reports.sentences import subject_words
from checker.revisions.letters.blocks import Block, Heading, Items, Text
from checker.revisions.letters.composing import Head, heading
from checker.revisions.letters.wording import Words
from checker.revisions.points import overdue
from checker.revisions.register import Point, Register

NAMED = 6
"""At most this many places of a point are named; the letter that asked has all."""


def reminders(
    register: Register, today: date, answered: Container[str], words: Words, head: Head
) -> Iterator[tuple[str, tuple[Block, ...]]]:
    """Write to senders who are late and get no letter in this round.

    Args:
        register: the register of the job.
        today: the day of the round.
        answered: senders that get a letter in this round.
        words: the words of letters.
        head: the letterhead.

    Returns:
        Each addressee with the blocks of the letter.
    """
    late: dict[str, dict[str, list[Point]]] = defaultdict(lambda: defaultdict(list))
    for point in overdue(register, today):
        if point.contractor not in answered:
            late[point.contractor][point.design].append(point)
    for to, designs in late.items():
        yield to, tuple(_letter(to, designs, words, head))


def _letter(to: str, designs: dict[str, list[Point]], words: Words, head: Head) -> Iterator[Block]:
    yield from heading(words, "chasing_subject", to, head)
    yield Text(words("chasing_introduction"))
    for design, points in designs.items():
        yield Heading(design, 2)
        yield Items(tuple(_line(point, words) for point in points))
    yield Text(words("chasing_closing"))
    if head.signature:
        yield Text(words("signature", signature=head.signature))


def _line(point: Point, words: Words) -> str:
    places = [subject_words(one.subject) for one in point.places if one.state == "asked"]
    named = ", ".join(places[:NAMED])
    if len(places) > NAMED:
        named = f"{named} {words('more', more=f'{len(places) - NAMED:,}')}"
    return words(
        "chasing_point",
        number=point.number,
        title=point.title,
        severity=point.severity,
        asked_on=point.asked_on,
        answer_by=point.answer_by,
        places=named,
    )
