"""A round with senders: what came in is held against the register, and the register goes on.

Rules by which nothing is decided in silence, each told as a query where it was used:

- names that differ only in capitals, spaces and marks are one; names that are nearly alike are two;
- of two contents under one revision that came together the one with the graver verdict counts,
  of two that came one after the other the later;
- a revision that has less than two thirds of the loops before, and no new one, is taken for a part:
  what it leaves out stays asked.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from hashlib import sha256
from itertools import pairwise
from typing import NamedTuple

from msgspec import UNSET
from msgspec.structs import replace

from checker.outcome.results import Result
from checker.reports.verdicts import asked
from checker.revisions.comparing import Change, Pair, Revision, pair, read
from checker.revisions.contents import Key
from checker.revisions.fates import is_found
from checker.revisions.names import near_names, plain_name
from checker.revisions.register import (
    Accepted,
    Kind,
    Place,
    Point,
    Query,
    Register,
    State,
    Submission,
)
from checker.revisions.reviewing import Project, age, projects, sender_of
from checker.run import batch
from checker.run.writer import Unwritable

GRAVITY = {"hold": 2, "unproven": 1, "release": 0}
PART = 2 / 3


class Call(NamedTuple):
    """A round: its day, for how many days an answer has time, and whom letters are written by."""

    today: date
    within: int
    by: str

    @property
    def day(self) -> str:
        """Its day, ISO 8601."""
        return self.today.isoformat()

    @property
    def answer_by(self) -> str:
        """The day by which an answer is asked for."""
        return (self.today + timedelta(days=self.within)).isoformat()


def content_digest(one: Revision) -> str:
    """What tells a submission from every other."""
    return "sha256:" + sha256(one.data).hexdigest()


def accept(register: Register, numbers: Iterable[int], by: str, call: Call) -> None:
    """Let the answers to these points count from now on; raises Unwritable for none such."""
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
    register: Register, revisions: list[Revision], call: Call, plan: batch.Plan
) -> list[Project]:
    """The designs that came in, each after what the register has of it; the register goes on."""
    found = []
    for project in projects(revisions, call.by):
        chained = _chained(register, project, call, plan)
        if chained is not None:
            found.append(chained)
    _near(register, call)
    return found


def _name_in(register: Register, project: Project) -> tuple[str, str]:
    """Sender and design as the register names them; a new one by its own names."""
    by, name = plain_name(project.by), plain_name(project.name)
    sender = project.by
    for one in register.submissions:
        if plain_name(one.contractor) == by:
            sender = one.contractor
            if plain_name(one.design) == name:
                return one.contractor, one.design
    return sender, project.name


def _chained(register: Register, project: Project, call: Call, plan: batch.Plan) -> Project | None:
    """The newest of the register, then what is new; None where only older ones came again."""
    sender, name = _name_in(register, project)

    def ask(about: str) -> None:
        register.ask(Query(call.day, sender, name, about))

    spellings = {(sender_of(one, call.by), sender) for one in project.revisions}
    spellings |= {(one.report.name, name) for one in project.revisions}
    for spelling, called in sorted(spellings):
        if spelling != called:
            ask(f"'{spelling}' is taken for '{called}': alike but for capitals, spaces and marks")
    known = {
        one.content: one
        for one in register.submissions
        if (one.contractor, one.design) == (sender, name)
    }
    newest = register.newest(sender, name)
    came = {content_digest(one): one for one in project.revisions}
    fresh = [one for digest, one in came.items() if digest not in known]
    fresh = _in_turn(register, fresh, sender, name, call)
    if newest is not None and not fresh and newest.content not in came:
        return None
    chain = []
    if newest is not None:
        own = came.get(newest.content)
        if own is None:
            text = "\n".join(newest.text).encode()
            judged, _ = read([(newest.file, text)], replace(plan, waivers=()))
            own = judged[0] if judged else None
        chain = [own] if own is not None else []
    for one in fresh if newest is not None else ():
        if newest is not None and one.revision == newest.revision:
            ask(
                f"'{one.report.path}' is not '{newest.file}', and both say revision "
                f"{one.revision or 'nothing'}: the later counts until its sender says which"
            )
    chain += fresh
    moves = tuple(pair(old, new, plan) for old, new in pairwise(chain))
    made = Project(name, sender, tuple(chain), moves)
    began = len(chain) - len(fresh)
    for number in range(began, len(chain)):
        _record(register, made, number, call)
    return made


def _in_turn(
    register: Register, fresh: list[Revision], sender: str, name: str, call: Call
) -> list[Revision]:
    """From the oldest to the newest; of two under one revision the graver counts, so it is last."""
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
    """Names that may be one by a slip."""
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


def _record(register: Register, project: Project, number: int, call: Call) -> None:
    one = project.revisions[number]
    for earlier in register.submissions:
        if (earlier.contractor, earlier.design) == (project.by, project.name):
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
            one.data.decode("utf-8", "replace").split("\n"),
        )
    )
    book = _Book(register, project, one, call)
    if number:
        book.go_on(project.moves[number - 1], project.revisions[number - 1])
    else:
        book.begin()
    book.close()


class _Book:
    """The points of one design, as a submission changes them."""

    def __init__(self, register: Register, project: Project, one: Revision, call: Call) -> None:
        self.register, self.project, self.one, self.call = register, project, one, call
        self.points = {
            (point.kind, point.about): point
            for point in register.points
            if (point.contractor, point.design) == (project.by, project.name)
        }

    def begin(self) -> None:
        """Everything that is found is asked for the first time."""
        for result in self.one.report.results_of("fail", "review"):
            if is_found(result):
                self.put(result)
        self.data({})

    def put(self, result: Result) -> None:
        """A place where a rule asks for something."""
        kind: Kind = "change" if result.kind == "fail" else "confirm"
        point = self.point(kind, result.rule, result.title, result.severity)
        self.place(point, result.subject, self.state_of(result))

    def state_of(self, result: Result) -> State:
        if result.waived is not UNSET and result.waived:
            return "accepted"
        return "answered" if result.answer is not UNSET and result.kind == "review" else "asked"

    def place(self, point: Point, subject: str, state: State) -> None:
        digest = self.one.answers.get((point.about, subject), "") if state == "answered" else ""
        own = next((place for place in point.places if place.subject == subject), None)
        if own is None:
            point.places.append(Place(subject, state, digest))
        else:
            own.state, own.answer = state, digest

    def point(self, kind: Kind, about: str, title: str, severity: str) -> Point:
        found = self.points.get((kind, about))
        if found is None:
            found = Point(
                self.register.number(), self.project.by, self.project.name, kind, about, title,
                severity, "asked", self.call.day, self.call.answer_by, 0, [], [],
            )  # fmt: skip
            self.points[kind, about] = found
            self.register.points.append(found)
        return found

    def go_on(self, move: Pair, before: Revision) -> None:
        """What became of every place since the revision before."""
        partial = _is_part(move, before, self.one)
        if partial:
            left = ", ".join(partial[:12]) + (" …" if len(partial) > 12 else "")
            about = (
                f"revision {self.one.revision or '?'} has no {left}: it is taken for a part of "
                "the design, and what was asked of them stays asked"
            )
            self.register.ask(Query(self.call.day, self.project.by, self.project.name, about))
        held = {
            (point.about, place.subject): (point, place)
            for point in self.points.values()
            for place in point.places
            if point.kind != "datum"
        }
        for change in move.changes:
            was = None if change.before is UNSET else held.get((change.rule, change.before.subject))
            if was is None:
                if change.after is not UNSET and change.after.kind in ("fail", "review") and (
                    is_found(change.after)
                ):  # fmt: skip
                    self.put(change.after)
                continue
            place = was[1]
            place.state = self.became(change, partial=bool(partial))
            if change.after is not UNSET:
                place.subject = change.subject
            place.answer = (
                self.one.answers.get((change.rule, change.subject), "")
                if place.state == "answered"
                else ""
            )
        names = {}
        for one in move.matched:
            before_ids = (one.before,) if isinstance(one.before, str) else one.before
            after = one.after if isinstance(one.after, str) else one.after[0]
            names.update(dict.fromkeys(before_ids, after))
        self.data(names, partial=bool(partial))

    def became(self, change: Change, *, partial: bool) -> State:
        """What a change makes of the place that it is about."""
        after = change.after
        if change.state in ("new", "worse", "better", "still", "asked"):
            return "asked" if after is UNSET else self.state_of(after)
        if change.state == "mended":
            return "accepted" if after is not UNSET and after.kind == "review" else "mended"
        return "asked" if partial and change.state == "gone" else "gone"

    def data(self, names: dict[str, str], *, partial: bool = False) -> None:
        """What is missing now, and what came in since."""
        now: dict[str, set[str]] = {}
        titles = {}
        for one in asked(self.one.report.questions):
            for subject in one.subjects or ("design",):
                now.setdefault(one.datum, set()).add(subject)
            titles[one.datum] = one
        for (kind, about), point in self.points.items():
            if kind != "datum":
                continue
            missing = now.get(about, set())
            for place in point.places:
                if place.state != "asked":
                    continue
                after = place.subject if place.subject == "design" else names.get(place.subject)
                if after is None:
                    place.state = "asked" if partial else "gone"
                elif after in missing:
                    place.subject = after
                else:
                    place.subject, place.state = after, "answered"
        for datum, subjects in now.items():
            words = datum.replace("_", " ").replace(".", ", ")
            point = self.point("datum", datum, words, titles[datum].severity)
            for subject in sorted(subjects, key=self.order):
                self.place(point, subject, "asked")

    def order(self, subject: str) -> tuple[int, str]:
        section, _, name = subject.partition(".")
        return self.places.get((section, name), -1), subject

    @property
    def places(self) -> dict[Key, int]:
        if not hasattr(self, "_places"):
            self._places = {key: number for number, key in enumerate(self.one.content)}
        return self._places

    def close(self) -> None:
        """Let every point take its state, and count the round of those that are asked."""
        gravest = {(r.rule): r for r in self.one.report.results_of("fail")}
        for (kind, about), point in self.points.items():
            if kind == "change" and about in gravest:
                point.severity = gravest[about].severity
            who, what = self.answer(point)
            asked_before = point.state == "asked" and bool(point.steps)
            point.settle(self.call.day, self.one.revision, who, what)
            if point.waits:
                point.rounds += 1
                if not asked_before and point.steps[-1].on == self.call.day:
                    point.answer_by = self.call.answer_by

    def answer(self, point: Point) -> tuple[str, str]:
        """Who answered what, of a point that has just been answered."""
        answered = [place for place in point.places if place.state == "answered"]
        if not answered or any(step.state == "answered" for step in point.steps):
            return "", ""
        if point.kind == "datum":
            section, _, name = answered[0].subject.partition(".")
            given = self.one.content.get((section, name), {}).get(point.about, "")
            return self.project.by, f"{point.about}: {given}" if given else "given"
        for result in self.one.report.results_of("review"):
            if (result.rule, result.subject) == (point.about, answered[0].subject):
                if result.answer is UNSET:
                    break
                told = f"{result.answer.result} {result.answer.what or ''}".strip()
                return result.answer.by, f"{told} ({result.answer.on})"
        return self.project.by, ""


def _is_part(move: Pair, before: Revision, after: Revision) -> list[str]:
    """The loops that a revision leaves out, where it is taken for a part; else none."""
    loops = [sum(section == "loops" for section, _ in one.content) for one in (before, after)]
    gone = [one for one in move.removed if one.startswith("loops.")]
    come = [one for one in move.added if one.startswith("loops.")]
    return gone if gone and not come and loops[1] < PART * loops[0] else []


def overdue(register: Register, today: date) -> Iterator[Point]:
    """Points that should have been answered by now."""
    for point in register.points:
        if point.waits and point.answer_by < today.isoformat():
            yield point


def numbers(register: Register, project: Project) -> dict[tuple[str, str], int]:
    """The lasting numbers of a design's points, by kind and rule or datum."""
    return {
        (point.kind, point.about): point.number
        for point in register.points
        if (point.contractor, point.design) == (project.by, project.name)
    }
