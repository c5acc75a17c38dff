"""Fills a form for missing data into the design that it was made for, without a register."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from checker.revisions.filled_in import Returned
from checker.revisions.kept import Kept
from checker.revisions.names import plain_name
from checker.revisions.points import Call
from checker.revisions.register import Form, Register, Submission
from checker.revisions.revision import Revision
from checker.revisions.rounds import content_digest
from checker.revisions.senders import sender_of
from checker.run import batch


class Completed(NamedTuple):
    """A design with the answers of a form, the number of answers, and what could not be used."""

    design: Revision
    taken: int
    notes: tuple[str, ...]


def design_of(back: Returned, designs: Sequence[Revision], by: str = "contractor") -> int | None:
    """The design that a form was made for, by its content, else by its names.

    Args:
        back: the form that came back.
        designs: the designs of the review.
        by: the key of the project that names the sender, or `project` for the design's name.

    Returns:
        The place among the designs; None where none fits, or several have these names.
    """
    for number, one in enumerate(designs):
        if content_digest(one) == back.made_for:
            return number
    wanted = plain_name(back.contractor), plain_name(back.design)
    found = [
        number
        for number, one in enumerate(designs)
        if (plain_name(sender_of(one, by)), plain_name(one.report.name)) == wanted
    ]
    return found[0] if len(found) == 1 else None


def completed(back: Returned, design: Revision, today: date, plan: batch.Plan) -> Completed:
    """Fill the answers of a form into a design, and judge it.

    Args:
        back: the form that came back.
        design: the design that it was made for, or another revision of it.
        today: the day on which it came back.
        plan: how the design is judged.

    Returns:
        The design with the answers that fit it, and what could not be used.
    """
    name, sender, digest = back.design, back.contractor, content_digest(design)
    form = Form(back.number, sender, name, design.revision, back.made_for, "")
    sent = Submission(
        digest, sender, name, design.revision, design.report.path, "", design.report.verdict, 0
    )
    register = Register(submissions=[sent], forms=[form])
    kept = Kept(register, sender, name, Call(today, 0, "contractor"))
    _, notes = kept.take([back], design)
    made = kept.completed(design, plan)
    said = [*notes, *(query.about for query in register.queries)]
    return Completed(made, len(kept.given), tuple(dict.fromkeys(said)))
