"""A round with senders: what came in is compared with the register, which is then updated.

Nothing is decided without saying so; each of these rules is reported as a query where it is used:

- names that differ only in capitals, spaces and punctuation are one; names that are nearly equal
are two;
- of two contents under one revision that came together the one with the graver verdict counts, of
two that came one after the other the later;
- what a sender gave by a form is kept until a revision states it, and then the revision counts; of
two forms that disagree about a datum none counts;
- a revision with less than two thirds of the loops before, and no new one, counts as a part: what
it leaves out is still asked.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from hashlib import sha256
from itertools import pairwise

from msgspec.structs import replace

from checker.revisions.comparing import pair
from checker.revisions.filled_in import Returned
from checker.revisions.kept import Kept
from checker.revisions.names import near_names, plain_name
from checker.revisions.points import Book, Call, Points, points_of
from checker.revisions.register import (
    Accepted,
    Query,
    Register,
    Submission,
)
from checker.revisions.revision import Revision, read
from checker.revisions.senders import Project, age, projects, sender_of
from checker.run import batch
from checker.run.writer import Unwritable

GRAVITY = {"hold": 2, "unproven": 1, "release": 0}


def content_digest(one: Revision) -> str:
    """The digest of a submission's bytes."""
    return "sha256:" + sha256(one.sent).hexdigest()


def accept(register: Register, numbers: Iterable[int], by: str, call: Call) -> None:
    """Accept the answers to some points from now on.

    Args:
        register: the register of the job, which is changed in place.
        numbers: the numbers of the points.
        by: who accepts.
        call: the round.

    Raises:
        Unwritable: the register has no such point, or nobody has answered it; the message is for
            the user.
    """
    for number in numbers:
        point = next((one for one in register.points if one.number == number), None)
        if point is None:
            raise Unwritable(f"--accept {number}: the register has no point {number}")
        answered = [place for place in point.places if place.state == "answered" and place.answer]
        if not answered:
            raise Unwritable(
                f"--accept {number}: nobody has answered point {number} ({point.title})"
            )
        for place in answered:
            register.accepted.append(Accepted(place.answer, number, place.subject, by, call.day))
            place.state = "accepted"
        point.settle(call.day, point.steps[-1].revision, by, "answer accepted")


def round_of(
    register: Register,
    revisions: list[Revision],
    call: Call,
    plan: batch.Plan,
    back: Iterable[Returned] = (),
) -> list[Project]:
    """Update the register with the designs that came in.

    Args:
        register: the register of the job.
        revisions: the designs that came in.
        call: the round.
        plan: how designs are judged.
        back: forms for missing data that came back, about these designs or others.

    Returns:
        The designs, each with its revisions in the register.
    """
    forms: dict[tuple[str, str], list[Returned]] = defaultdict(list)
    for one in back:
        forms[plain_name(one.contractor), plain_name(one.design)].append(one)
    came = projects(revisions, call.by)
    known = {(plain_name(one.by), plain_name(one.name)) for one in came}
    came += [
        Project(own[0].design, own[0].contractor, (), ())
        for key, own in forms.items()
        if key not in known
    ]
    found = []
    points = points_of(register)
    for project in came:
        own = forms.get((plain_name(project.by), plain_name(project.name)), [])
        chained = _chained(register, project, call, plan, own, points)
        if chained is not None:
            found.append(chained)
    _near(register, call)
    return sorted(found, key=lambda one: (one.by, one.name))


def _name_in(register: Register, project: Project) -> tuple[str, str]:
    """Sender and design as the register names them; new ones keep their own names."""
    by, name = plain_name(project.by), plain_name(project.name)
    sender = project.by
    for one in register.submissions:
        if plain_name(one.contractor) == by:
            sender = one.contractor
            if plain_name(one.design) == name:
                return one.contractor, one.design
    return sender, project.name


def _chained(
    register: Register,
    project: Project,
    call: Call,
    plan: batch.Plan,
    back: list[Returned],
    points: Points,
) -> Project | None:
    """The newest revision in the register, with what forms add to it, then the new ones; None where
    only older ones came again.
    """
    sender, name = _name_in(register, project)
    kept = Kept(register, sender, name, call)
    newest = register.newest(sender, name)
    if newest is None and not project.revisions:
        for form in back:
            kept.ask(f"'{form.file}' answers for a design that this register does not have")
        return None
    for spelling, called in sorted(
        {(sender_of(one, call.by), sender) for one in project.revisions}
        | {(one.report.name, name) for one in project.revisions}
    ):
        if spelling != called:
            kept.ask(
                f"'{spelling}' is read as '{called}': alike except for capitals, spaces and marks"
            )
    known = {
        one.content
        for one in register.submissions
        if (one.contractor, one.design) == (sender, name)
    }
    came = {content_digest(one): one for one in project.revisions}
    fresh = [one for digest, one in came.items() if digest not in known]
    fresh = _in_turn(register, fresh, sender, name, call)
    chain: list[Revision] = []
    notes: list[str] = []
    began = 0
    if newest is not None:
        sent = came.get(newest.content) or _read_again(newest, plan)
        if sent is not None:
            chain.append(kept.completed(sent, plan))
            began = 1
            answered, notes = kept.take(back, sent)
            if answered:
                chain.append(kept.completed(sent, plan, back[-1].number))
        if len(chain) < 2 and not fresh and not notes and newest.content not in came:
            return None
        for one in fresh:
            if one.revision == newest.revision:
                kept.ask(
                    f"'{one.report.path}' is not '{newest.file}', and both say revision "
                    f"{one.revision or 'nothing'}: the later counts until its sender says which"
                )
    if newest is not None and chain:
        newest.verdict = chain[-1].report.verdict
    for one in fresh:
        if chain:
            kept.follow(chain[-1], one)
        chain.append(kept.completed(one, plan))
    moves = tuple(pair(old, new, plan) for old, new in pairwise(chain))
    made = Project(name, sender, tuple(chain), moves, tuple(notes), kept.as_lists())
    if newest is not None and newest.content in came and chain:
        Book(register, made, chain[0], call, points).again()
    for number in range(began, len(chain)):
        _record(register, made, number, call, points)
    return made


def _read_again(newest: Submission, plan: batch.Plan) -> Revision | None:
    """The newest revision in the register, judged again."""
    text = "\n".join(newest.text).encode()
    judged, _ = read([(newest.file, text)], replace(plan, waivers=()))
    return judged[0] if judged else None


def _in_turn(
    register: Register, fresh: list[Revision], sender: str, name: str, call: Call
) -> list[Revision]:
    """Revisions from the oldest to the newest; of two with one revision letter the graver is
    last.
    """
    ordered = sorted(
        fresh, key=lambda o: (age(o)[:2], GRAVITY[o.report.verdict], content_digest(o))
    )
    for one, other in pairwise(ordered):
        if one.revision == other.revision:
            about = (
                f"'{one.report.path}' and '{other.report.path}' differ, and both say revision "
                f"{one.revision or 'nothing'}: the second, whose verdict is no better, counts "
                "until its sender says which"
            )
            register.ask(Query(call.day, sender, name, about))
    return ordered


def _near(register: Register, call: Call) -> None:
    """Enter a query for names that may be the same but for a typing mistake."""
    designs = defaultdict(set)
    for one in register.submissions:
        designs[one.contractor].add(one.design)
    for sender, other in near_names(designs):
        register.ask(Query(call.day, sender, "", f"is '{other}' the same sender as '{sender}'?"))
    for sender, own in designs.items():
        for design, other in near_names(own):
            about = f"is '{other}' the same design as '{design}'? They are held as two"
            register.ask(Query(call.day, sender, design, about))


# What a submission makes of the register.


def _record(register: Register, project: Project, number: int, call: Call, points: Points) -> None:
    one = project.revisions[number]
    if not one.form:
        _submitted(register, project, one, call)
    book = Book(register, project, one, call, points)
    if number:
        book.go_on(project.moves[number - 1], project.revisions[number - 1])
    else:
        book.begin()
    book.close()


def _submitted(register: Register, project: Project, one: Revision, call: Call) -> None:
    for earlier in register.submissions:
        if earlier.text and (earlier.contractor, earlier.design) == (project.by, project.name):
            earlier.text = []
    register.submissions.append(
        Submission(
            content_digest(one),
            project.by,
            project.name,
            one.revision,
            one.report.path,
            call.day,
            one.report.verdict,
            sum(section == "loops" for section, _ in one.content),
            one.sent.decode("utf-8", "replace").split("\n"),
        )
    )
